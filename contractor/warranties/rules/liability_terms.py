"""The terms of many parts at once: what ``cover.component_terms`` says of one, for a hundred thousand in one go.

A table of cases and a property test hold the two together.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from contractor.warranties.rules.terms import Promise, Terms

Days = NDArray[np.datetime64]
_DAY = np.timedelta64(1, "D")
_MONTH = np.timedelta64(1, "M")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PartTerms:
    """One place in each array for each part: the day from which its months count, and its first and last day.

    ``through_on`` is no day (NaT) where the promise is for a life.
    """

    counted_from_on: Days
    from_on: Days
    through_on: Days

    def holds(self, on: np.datetime64) -> NDArray[np.bool_]:
        """Which terms have begun and are not over on a day."""
        return (self.from_on <= on) & (np.isnat(self.through_on) | (on <= self.through_on))


def add_months_to(days: Days, months: int) -> Days:
    """``counting.add_months`` for an array of days; no day stays no day."""
    first = days.astype("datetime64[M]")
    target = first + months * _MONTH
    start = target.astype("datetime64[D]")
    last = (target + _MONTH).astype("datetime64[D]") - _DAY
    pinned: Days = np.minimum(start + (days - first.astype("datetime64[D]")), last)
    return pinned


def part_terms(terms: Terms, promise: Promise, *, issued_on: Days, in_on: Days, transferred_on: Days) -> PartTerms:
    """The terms of parts under one promise: of parts put in on ``in_on``, under warranties issued on ``issued_on``.

    ``transferred_on`` is the day of the warranty's first transfer, as far as it lies in the past; else no day.
    """
    counted_from_on = issued_on if promise.starts == "issue" else in_on
    nothing = np.full(issued_on.shape, np.datetime64("NaT"), dtype="datetime64[D]")
    through_on = nothing if promise.months is None else add_months_to(counted_from_on, promise.months)
    moved, rule = ~np.isnat(transferred_on), terms.transfer_limits
    last_before = transferred_on - _DAY
    if rule is not None and not rule.allowed:
        is_shorter = moved & (np.isnat(through_on) | (last_before < through_on))
        through_on = np.where(is_shorter, last_before, through_on)
    elif promise.months is None and rule is not None and rule.months_after is not None:
        through_on = np.where(moved, add_months_to(transferred_on, rule.months_after), through_on)
    elif promise.life_of == "ownership":
        through_on = np.where(moved, last_before, through_on)
    return PartTerms(
        counted_from_on=counted_from_on, from_on=np.maximum(issued_on, in_on), through_on=through_on
    )
