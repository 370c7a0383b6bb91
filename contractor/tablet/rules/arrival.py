"""What is said about an event when it arrives: that its visit was called off, moved, given to another or done."""

from dataclasses import dataclass
from datetime import date
from typing import Final

from contractor.tablet.rules.events import TabletEvent


@dataclass(frozen=True, slots=True, kw_only=True)
class At:
    """The visit as it stands when an event arrives. ``state`` is that of the appointment."""

    state: str
    technician: int
    day: date
    is_finished: bool


STATES: Final = {"cancelled": "late:cancelled", "could_not": "late:could_not", "done": "late:done"}


def flags_of(event: TabletEvent, at: At, *, done_on: date, is_desk: bool) -> frozenset[str]:
    """What the office should know. ``done_on`` is the day on which it was typed, as far as the tablet knew."""
    flags = set()
    if at.is_finished:
        flags.add("late:finished")
    elif at.state in STATES:
        flags.add(STATES[at.state])
    if is_desk:
        return frozenset(flags)
    if event.actor != at.technician:
        flags.add("late:reassigned")
    if at.day > done_on and at.state in {"planned", "confirmed"}:
        flags.add("late:moved")
    return frozenset(flags)


def word_of(at: At, *, person: int) -> str:
    """The visit's state in one word for the tablet of a person: open, finished, cancelled or reassigned."""
    if at.is_finished:
        return "finished"
    if at.state == "cancelled":
        return "cancelled"
    return "reassigned" if at.technician != person else "open"
