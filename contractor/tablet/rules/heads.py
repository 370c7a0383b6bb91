"""Which answer stands: the heads of each field, conflicts, and in which order two are shown.

The heads of a field are its events that no other event takes the place of. Order, doubling and delay of arrival
change nothing about them, and no clock is asked.
"""

from collections.abc import Iterable, Mapping
from typing import Final
from uuid import UUID

from contractor.tablet.rules.events import TabletEvent

Heads = Mapping[str, tuple[TabletEvent, ...]]
# What somebody saw, and so goes before what the office says about it; the rest is the office's to plan.
OBSERVED: Final = ("begun", "answer", "timer", "photo", "finding", "swap", "signature", "note", "finish")
# What a technician's finishing and the owner's signature are about: everything but themselves and the stop watch.
SAID: Final = ("answer", "photo", "finding", "swap", "note", "could_not")


def heads_of(
    events: Iterable[TabletEvent], *, desk: frozenset[int] = frozenset()
) -> dict[str, tuple[TabletEvent, ...]]:
    """The standing events of each field, those first that are shown first (see ``shown_first``).

    ``desk`` holds the numbers of those who work in the office. An event counts as replaced only by one of its own
    field, so that no field can silence another.
    """
    known = {event.id: event for event in events}
    replaced = {
        (event.field, base) for event in known.values() for base in event.bases if base != event.id
    }
    found: dict[str, list[TabletEvent]] = {}
    for event in known.values():
        if (event.field, event.id) not in replaced:
            found.setdefault(event.field, []).append(event)
    return {field: tuple(sorted(found[field], key=lambda one: shown_first(one, desk))) for field in sorted(found)}


def shown_first(event: TabletEvent, desk: frozenset[int]) -> tuple[bool, UUID]:
    """Sorts two heads: the technician's first for what was observed, the office's for what was planned, then by id."""
    by_desk = event.actor in desk
    return (by_desk if event.kind in OBSERVED else not by_desk), event.id


def conflicts_of(heads: Heads) -> dict[str, tuple[TabletEvent, ...]]:
    """The fields in which two or more stand side by side. Two that say the very same are no conflict."""
    return {field: found for field, found in heads.items() if len(found) > 1 and not _agree(found)}


def _agree(found: tuple[TabletEvent, ...]) -> bool:
    return all(one.value == found[0].value for one in found[1:])


def standing(heads: Heads, field: str) -> TabletEvent | None:
    """The one event that holds for a field; None when there is none, when it was taken back, or while two disagree."""
    found = heads.get(field, ())
    if not found or (len(found) > 1 and not _agree(found)):
        return None
    return found[0] if found[0].value is not None else None


def of_kind(heads: Heads, kind: str) -> list[TabletEvent]:
    """What holds of one kind, ordered by id."""
    found = [standing(heads, field) for field in heads]
    return sorted((one for one in found if one is not None and one.kind == kind), key=lambda one: one.id)


def head_ids(heads: Heads, *, kinds: Iterable[str] = SAID) -> frozenset[UUID]:
    """The ids of all heads of these kinds, those that take something back among them."""
    wanted = frozenset(kinds)
    return frozenset(one.id for found in heads.values() for one in found if one.kind in wanted)
