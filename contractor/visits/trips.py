"""When one trip serves two visits: which request goes along with which. Pure."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

CHECKUP, REPAIR, CLAIM, TRANSFER, REINSTATEMENT = "checkup", "repair", "claim", "transfer", "reinstatement"
# What goes along with what. A check-up is begun from its own appointment, so it takes others along and never the other
# way round; a claim call may be done by whoever comes for another repair, and the other way round.
TAKES_ALONG: dict[str, frozenset[str]] = {
    CHECKUP: frozenset({REPAIR, CLAIM}),
    TRANSFER: frozenset({REPAIR, CLAIM}),
    REINSTATEMENT: frozenset({REPAIR, CLAIM}),
    CLAIM: frozenset({REPAIR, CLAIM}),
    REPAIR: frozenset({REPAIR, CLAIM}),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish:
    """One request at a house: its window, and the day it was given, if it was."""

    request_id: int
    kind: str
    earliest_on: date
    latest_on: date
    given_on: date | None = None


def taken_along_by(wish: Wish, standing: Iterable[Wish]) -> int | None:
    """The request that this one goes along with, or None: an appointment inside its window first, else the longest
    stretch of days that both windows share, the earlier request when there are two.
    """
    hosts = [
        one
        for one in standing
        if one.request_id != wish.request_id and wish.kind in TAKES_ALONG[one.kind] and _meet(one, wish)
    ]
    if not hosts:
        return None
    return min(hosts, key=lambda one: (one.given_on is None, -_shared_days(one, wish), one.request_id)).request_id


def takes_along(host: Wish, standing: Iterable[Wish]) -> list[int]:
    """Which requests, asked for before and given to nobody, go along with this one."""
    return [
        one.request_id
        for one in standing
        if one.request_id != host.request_id
        and one.given_on is None
        and one.kind in TAKES_ALONG[host.kind]
        and _meet(host, one)
    ]


def _meet(host: Wish, other: Wish) -> bool:
    if host.given_on is not None:
        return other.earliest_on <= host.given_on <= other.latest_on
    return _shared_days(host, other) > 0


def _shared_days(one: Wish, other: Wish) -> int:
    return (min(one.latest_on, other.latest_on) - max(one.earliest_on, other.earliest_on)).days + 1
