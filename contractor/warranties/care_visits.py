"""Which visit the care clock asks for on a day: the yearly check-up ahead of time, or the way back after a gap.

Pure: terms and facts in, a wish out; ``actions.care`` turns it into a request.
"""

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

from contractor.warranties.rules.care import Care, care_on
from contractor.warranties.rules.cover import Cover
from contractor.warranties.rules.facts import Facts
from contractor.warranties.rules.standing import standing_on
from contractor.warranties.rules.terms import Terms
from contractor.warranties.rules.wording import day_in_words

# How long before its due day a check-up goes on the list, so that rounds can be planned by season and route.
AHEAD = timedelta(weeks=10)
# After a gap: a visit in two weeks, and no later than six (common practice, no source).
CATCH_UP = timedelta(weeks=2)
CATCH_UP_AT_MOST = timedelta(weeks=6)


@dataclass(frozen=True, slots=True, kw_only=True)
class WantedVisit:
    """A visit that the care clock asks for. ``due_on`` is the due day it settles; with ``kind`` it names the occasion.

    ``tell_owner``: the window is open, so the owner should hear of it.
    """

    kind: Literal["checkup", "reinstatement"]
    due_on: date
    earliest_on: date
    target_on: date
    latest_on: date
    reason: str
    tell_owner: bool


def wanted_visit(terms: Terms, facts: Facts, on: date) -> WantedVisit | None:
    """The visit to ask for on this day, or None: no care rule, nothing left to cover, days waived, or too early."""
    care = care_on(terms.care, facts, on)
    if care.due_on is None or care.opens_on is None or care.grace_through_on is None:
        return None
    is_gap = care.care is Care.GAP
    is_early = not is_gap and on < min(care.opens_on, care.due_on - AHEAD)
    if is_early or care.waived_through_on is not None or not _anything_covered(terms, facts, on):
        return None
    due, last = day_in_words(care.due_on), day_in_words(care.grace_through_on)
    if is_gap:
        return WantedVisit(
            kind="reinstatement",
            due_on=care.due_on,
            earliest_on=on,
            target_on=on + CATCH_UP,
            latest_on=on + CATCH_UP_AT_MOST,
            reason=_why_gap(facts, care.opens_on, due, last),
            tell_owner=False,
        )
    return WantedVisit(
        kind="checkup",
        due_on=care.due_on,
        earliest_on=care.opens_on,
        target_on=care.due_on,
        latest_on=care.grace_through_on,
        reason=f"The yearly check-up is due by {due}; it counts from {day_in_words(care.opens_on)} "
        f"and, with the grace, through {last}.",
        tell_owner=on >= care.opens_on,
    )


def parts_at_house(facts: Facts, on: date) -> list[str]:
    """The kinds of the parts that a check-up on this day finds."""
    return [part.part_kind for part in facts.components if part.serves(on)]


def _why_gap(facts: Facts, opens_on: date, due: str, last: str) -> str:
    waiting = [done.on for done in facts.checkups if not done.passed and done.on >= opens_on]
    if waiting:
        return (
            f"The check-up done on {day_in_words(max(waiting))} does not count yet, because something it found is "
            f"still open, and the grace ended on {last}. Put it right, or check again."
        )
    return f"The check-up due on {due} was missed, and the grace ended on {last}. A check-up now ends the gap."


def _anything_covered(terms: Terms, facts: Facts, on: date) -> bool:
    covered = {Cover.IN_FORCE, Cover.SUSPENDED}
    return any(standing_on(terms, facts, promise.part_kind, on).cover in covered for promise in terms.promises)
