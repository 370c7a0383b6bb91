"""Driving times from a routing server that speaks the table service of the Open Source Routing Machine (HTTP API v1).

The settings name its address; without one, times are reckoned from straight distances. A drive once asked for is kept
for a month. A server that fails never stops a plan: times fall back to straight distances, and the plan says so.
"""

import json
import urllib.error
import urllib.request
from collections.abc import Iterable
from hashlib import sha256
from http.client import HTTPException
from typing import Any
from urllib.parse import urlsplit

import numpy as np
from django.conf import settings
from django.core.cache import caches
from django.core.checks import CheckMessage, Error, register
from numpy.typing import NDArray

from contractor.visits.routing.errors import NotAPlan
from contractor.visits.routing.problem import MINUTE, Place, Position, Travel
from contractor.visits.routing.travel import ByDistance

BLOCK = 50  # origins and as many destinations in one question: a server takes 100 places unless it is told otherwise
ANSWER_SECONDS = 10.0
KEPT_SECONDS = 30 * 86_400
DECIMALS = 5  # of a degree: about a metre
NO_ROAD = "Between some places the routing server knows no road. There, times are reckoned from straight distances."

Row = dict[str, float | None]


class NoAnswer(Exception):
    """Why the server's table can't be had; its text ends a sentence."""


def travel_times() -> Travel:
    """The provider of driving times that this installation has."""
    return ByServer(settings.TRAVEL_SERVER) if settings.TRAVEL_SERVER else ByDistance()


@register()
def check_address(app_configs: object, **kwargs: object) -> list[CheckMessage]:
    """Names a routing server's address that nobody could ask."""
    address = settings.TRAVEL_SERVER
    if not address or (urlsplit(address).scheme in {"http", "https"} and urlsplit(address).netloc):
        return []
    return [
        Error(
            f"TRAVEL_SERVER is {address!r}, which is no address.",
            hint="Give it as http://routes.example.com:5000, or leave it empty.",
            id="visits.E001",
        )
    ]


class ByServer:
    """Driving times along roads; parking and walking to the door comes on top, as for straight distances."""

    def __init__(self, address: str) -> None:
        self.address = address.rstrip("/")
        self.fallback = ByDistance()
        self._cautions: tuple[str, ...] = ()

    def seconds(self, places: list[Place]) -> NDArray[np.int64]:
        """Whole seconds from each place to each, rounded up."""
        by_distance = self.fallback.seconds(places)
        spots = {_spot(place): None for place in places if isinstance(place, Position)}
        try:
            rows = self._rows(list(spots))
        except NoAnswer as reason:
            self._cautions = (
                f"The routing server gave no driving times: {reason}. They are reckoned from straight distances.",
            )
            return by_distance
        names = [_spot(place) for place in places if isinstance(place, Position)]
        table = np.array([[np.nan if (s := rows[a].get(b)) is None else s for b in names] for a in names], dtype=float)
        table = table.reshape(len(names), len(names))
        elsewhere = by_distance > 0
        unknown = np.isnan(table) & elsewhere
        seconds = np.ceil(np.nan_to_num(table)) + self.fallback.parking_minutes * MINUTE
        self._cautions = (NO_ROAD,) if unknown.any() else ()
        return np.where(unknown, by_distance, np.where(elsewhere, seconds, 0)).astype(np.int64)

    def cautions(self) -> tuple[str, ...]:
        """What the last table lacked, if it lacked anything."""
        return self._cautions

    def _rows(self, spots: list[str]) -> dict[str, Row]:
        """By origin and destination, seconds of the drive, None where there is no road; asks for what isn't kept."""
        kept = caches["travel"]
        keys = {spot: sha256(f"{self.address} {spot}".encode()).hexdigest() for spot in spots}
        found = kept.get_many(keys.values())
        rows: dict[str, Row] = {spot: dict(found.get(keys[spot], {})) for spot in spots}
        lacking = [origin for origin in spots if any(spot not in rows[origin] for spot in spots)]
        wanted = [spot for spot in spots if any(spot not in rows[origin] for origin in lacking)]
        for origins in _blocks(lacking):
            for destinations in _blocks(wanted):
                table = self._ask(origins, destinations)
                for origin, row in zip(origins, table, strict=True):
                    rows[origin].update(zip(destinations, row, strict=True))
        kept.set_many({keys[origin]: rows[origin] for origin in lacking}, timeout=KEPT_SECONDS)
        return rows

    def _ask(self, origins: list[str], destinations: list[str]) -> list[list[float | None]]:
        """One question; raises ``NoAnswer`` for anything but a whole table."""
        spots = [*origins, *destinations]
        sources = ";".join(str(index) for index in range(len(origins)))
        targets = ";".join(str(index) for index in range(len(origins), len(spots)))
        address = (
            f"{self.address}/table/v1/driving/{';'.join(spots)}"
            f"?sources={sources}&destinations={targets}&annotations=duration"
        )
        try:
            # The address comes from the settings and was looked at by the check above.
            with urllib.request.urlopen(address, timeout=ANSWER_SECONDS) as answer:  # noqa: S310
                said = json.load(answer)
        except urllib.error.HTTPError as refused:
            raise NoAnswer(f"it answered with code {refused.code}") from refused
        except (OSError, HTTPException) as silent:
            raise NoAnswer("it can't be reached") from silent
        except ValueError as unreadable:
            raise NoAnswer("its answer can't be read") from unreadable
        return _table_of(said, len(origins), len(destinations))


def _table_of(said: Any, rows: int, columns: int) -> list[list[float | None]]:
    if not isinstance(said, dict) or said.get("code") != "Ok":
        raise NoAnswer("its answer holds no table")
    table = said.get("durations")
    if not isinstance(table, list) or len(table) != rows:
        raise NoAnswer("its table has another size than was asked for")
    for row in table:
        if not isinstance(row, list) or len(row) != columns:
            raise NoAnswer("its table has another size than was asked for")
        if any(one is not None and not (isinstance(one, (int, float)) and 0 <= one < float("inf")) for one in row):
            raise NoAnswer("its table holds something that is no time")
    return table


def _spot(place: Place) -> str:
    """A place as the service writes it: longitude first."""
    if not isinstance(place, Position):
        raise NotAPlan("Points of a plane have no roads between them. Give positions in degrees.")
    return f"{place.longitude:.{DECIMALS}f},{place.latitude:.{DECIMALS}f}"


def _blocks(spots: list[str]) -> Iterable[list[str]]:
    return (spots[start : start + BLOCK] for start in range(0, len(spots), BLOCK))
