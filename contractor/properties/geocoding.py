"""Asks a geocoder where an address is. Which one, the setting GEOCODER says by its dotted path; none is the default."""

import json
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

from django.conf import settings
from django.utils.module_loading import import_string

from contractor.properties.addresses import address_key


class GeocoderFailed(Exception):
    """The geocoder could not be asked; whether it knows the address is open. The message names what happened."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Address:
    """An address as it is asked for."""

    street: str
    city: str
    state: str
    postcode: str
    country: str


class Geocoder(Protocol):
    """Finds addresses. It is made without arguments and reads its own settings."""

    def find(self, address: Address) -> tuple[float, float] | None:
        """Latitude and longitude in degrees (WGS 84), or None for an address that it doesn't know.

        Raises GeocoderFailed when it can't be asked.
        """


def geocoder() -> Geocoder | None:
    """The geocoder of this installation, or None."""
    if not settings.GEOCODER:
        return None
    made: Geocoder = import_string(settings.GEOCODER)()
    return made


class StreetFile:
    """A geocoder for development: streets in a file, house numbers spread evenly from one end to the other.

    The file, ``GEOCODER_FILE``, is JSON: ``{"streets": [{"street", "postcode", "numbers": [first, last], "from":
    [latitude, longitude], "to": [latitude, longitude]}]}``.
    """

    def __init__(self) -> None:
        try:
            data = json.loads(Path(settings.GEOCODER_FILE).read_text(encoding="utf-8"))
            self._streets = {address_key(row["street"], row["postcode"]): row for row in data["streets"]}
        except (OSError, ValueError, KeyError, TypeError) as problem:
            raise GeocoderFailed(f"The file of streets {settings.GEOCODER_FILE} can't be read: {problem}") from problem

    def find(self, address: Address) -> tuple[float, float] | None:
        match = re.match(r"\s*(\d+)\S*\s+(.+)", address.street)
        street = self._streets.get(address_key(match[2], address.postcode)) if match else None
        if match is None or street is None:
            return None
        first, last = street["numbers"]
        number = int(match[1])
        if not first <= number <= last:
            return None
        share = (number - first) / max(1, last - first)
        (latitude, longitude), (to_latitude, to_longitude) = street["from"], street["to"]
        return latitude + share * (to_latitude - latitude), longitude + share * (to_longitude - longitude)
