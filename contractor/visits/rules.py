"""Decisions about visits: how long one takes, and how a day lies to its window."""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

# Minutes at the house by part kind, on top of arriving and talking: common practice, no source. A later learning
# from past visits takes the place of this table.
ARRIVE_AND_TALK_MINUTES = 20
MINUTES_BY_PART_KIND: dict[str, int] = {
    "channel": 5,
    "liner": 5,
    "pit": 8,
    "primary_pump": 10,
    "float_switch": 3,
    "standby_pump": 10,
    "battery": 12,
    "charger": 3,
    "high_water_alarm": 3,
    "check_valve": 3,
    "discharge_line": 6,
    "freeze_relief": 4,
    "containment_ring": 5,
}


def checkup_minutes(part_kinds: Iterable[str]) -> int:
    """How long a check-up of these parts takes, rounded up to five minutes."""
    minutes = ARRIVE_AND_TALK_MINUTES + sum(MINUTES_BY_PART_KIND.get(kind, 5) for kind in part_kinds)
    return -(-minutes // 5) * 5


# Visits that are no walk through a checklist: whoever was there says what was done.
BY_HAND = frozenset({"repair", "claim"})


class Finishing(StrEnum):
    """Whether a visit can be noted as done by hand, and if not, why."""

    POSSIBLE = "possible"
    NOT_YET = "not yet"
    HAS_CHECKLIST = "has a checklist"


def finishing(*, kind: str, planned_on: date, on: date) -> Finishing:
    """A visit is done on its day or noted afterwards, never before; one with a checklist is finished through that."""
    if kind not in BY_HAND:
        return Finishing.HAS_CHECKLIST
    return Finishing.NOT_YET if planned_on > on else Finishing.POSSIBLE


class Fit(StrEnum):
    """How a day lies to a request's window."""

    EARLY = "early"
    INSIDE = "inside"
    GRACE = "grace"
    LATE = "late"


@dataclass(frozen=True, slots=True, kw_only=True)
class DayFit:
    """How a day fits, and a sentence for whoever chooses it; the sentence is empty when nothing speaks against it."""

    fit: Fit
    sentence: str


def day_fit(*, on: date, earliest_on: date, target_on: date, latest_on: date, is_checkup: bool) -> DayFit:
    """Whether a visit on this day counts: before the window, inside, in the days of grace, or too late.

    Only the yearly check-up has grace: its wished day is the day by which it is due. Every other visit is inside
    until its last day.
    """
    if not is_checkup:
        return _plain_fit(on, earliest_on, latest_on)
    if on < earliest_on:
        return DayFit(
            fit=Fit.EARLY,
            sentence=f"This is before the window opens on {_words(earliest_on)}: the next one will be due a year from "
            "the visit at the latest.",
        )
    if on > latest_on:
        return DayFit(
            fit=Fit.LATE,
            sentence=f"This is after the last day, {_words(latest_on)}: the record will show a gap in care.",
        )
    if on > target_on:
        return DayFit(fit=Fit.GRACE, sentence=f"This is in the days of grace, which end on {_words(latest_on)}.")
    return DayFit(fit=Fit.INSIDE, sentence="")


def _plain_fit(on: date, earliest_on: date, latest_on: date) -> DayFit:
    if on < earliest_on:
        return DayFit(
            fit=Fit.EARLY, sentence=f"This is before the first day that was asked for, {_words(earliest_on)}."
        )
    if on > latest_on:
        return DayFit(fit=Fit.LATE, sentence=f"This is after the last day that was asked for, {_words(latest_on)}.")
    return DayFit(fit=Fit.INSIDE, sentence="")


def moved_by_one(stops: list[int], *, moved: str, up: bool) -> list[int]:
    """The stops with one of them a place earlier or later; unchanged when it is not there or at the end already."""
    numbers = [str(stop) for stop in stops]
    if moved not in numbers:
        return stops
    here = numbers.index(moved)
    there = here - 1 if up else here + 1
    if not 0 <= there < len(stops):
        return stops
    order = list(stops)
    order[here], order[there] = order[there], order[here]
    return order


def _words(on: date) -> str:
    return f"{on:%B} {on.day}, {on.year}"


URGENT, SOON, ORDINARY = 2, 1, 0
# A pump that failed can flood a house tonight; a repair or a closing can't wait for the season. Common practice, no
# source.
PRIORITY_BY_KIND: dict[str, int] = {"claim": URGENT, "repair": SOON, "transfer": SOON, "reinstatement": SOON}


def priority_of(kind: str, *, target_on: date, latest_on: date, on: date) -> int:
    """How pressing a visit is on a day: by its kind, one more once its wished day is past, urgent after its last."""
    if on > latest_on:
        return URGENT
    return min(URGENT, PRIORITY_BY_KIND.get(kind, ORDINARY) + (on > target_on))


def is_the_same_wish(kind: str, reason: str, other_reason: str) -> bool:
    """Whether two visits of a kind at one system, whose days meet, are one: a repair or claim call only when it is for
    the same in the same words; of the others, which walk the whole system, nobody wants two at once.
    """
    if kind not in {"repair", "claim"}:
        return True
    return " ".join(reason.split()).casefold() == " ".join(other_reason.split()).casefold()


def parts_carried(carry: str) -> int:
    """How many parts a note of what to bring along names: they stand apart by semicolons or lines."""
    return sum(1 for part in re.split(r"[;\n]", carry) if part.strip())
