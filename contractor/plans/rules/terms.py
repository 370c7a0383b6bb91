"""What a plan's year is, and how it stands on a day. Pure: dates come in as arguments.

A year is half-open: it begins on ``from_on`` and ends before ``until_on``; people read its last day, the day before.
"""

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from enum import Enum

from dateutil.relativedelta import relativedelta

# From this many days before its end a plan reads as ending (common practice, no source).
ENDING_DAYS = 60
# Words under which a paid plan may not go (15 U.S.C. 2303, 16 CFR 700.11: a warranty costs nothing beyond the price).
NOT_IN_A_TITLE = ("warranty", "warranties", "guarantee", "guaranty", "insurance")
MOST_TAX_PERCENT = Decimal(30)
# Any sale at the house may be called off until midnight of the third business day (16 CFR 429.1). Seven calendar days
# always hold three business days, whatever holidays fall among them.
LEAST_FULL_REFUND_DAYS = 7


class State(Enum):
    """How one year of a plan stands."""

    COMING = "coming"
    ACTIVE = "active"
    ENDING = "ending"
    RENEWED = "renewed"
    LAPSED = "lapsed"
    CANCELLED = "cancelled"


@dataclass(frozen=True, slots=True, kw_only=True)
class Year:
    """One paid year: from a day until (excluding) another, perhaps cancelled as of a day, perhaps renewed."""

    from_on: date
    until_on: date
    cancelled_on: date | None = None
    is_renewed: bool = False

    @property
    def days(self) -> int:
        """Days paid for."""
        return (self.until_on - self.from_on).days

    @property
    def ends_on(self) -> date:
        """The first day on which the plan does not hold any more."""
        return self.until_on if self.cancelled_on is None else min(self.cancelled_on, self.until_on)


def a_year_from(from_on: date) -> date:
    """The day before which a year from ``from_on`` ends: February 29 is followed by February 28."""
    return from_on + relativedelta(years=1)


def state_on(year: Year, on: date) -> State:
    """How a year stands on a day. A cancelled plan reads so from the day on which the cancellation takes hold."""
    if year.cancelled_on is not None and year.cancelled_on <= on:
        return State.CANCELLED
    if on < year.from_on:
        return State.COMING
    if on >= year.until_on:
        return State.RENEWED if year.is_renewed else State.LAPSED
    if not year.is_renewed and on >= year.until_on - timedelta(days=ENDING_DAYS):
        return State.ENDING
    return State.ACTIVE


def overlaps(from_on: date, until_on: date, years: Iterable[Year]) -> Year | None:
    """The first of the years that shares a day with the span; None when all keep clear of it."""
    return next((year for year in years if from_on < year.ends_on and year.from_on < until_on), None)


def word_of_a_warranty(title: str) -> str:
    """The word in a title that would pass the plan off as something else; empty when there is none."""
    said = title.casefold()
    return next((word for word in NOT_IN_A_TITLE if word in said), "")


def lacking(*, included: Collection[str], cancellation: str, disclosures: str, full_refund_days: int) -> list[str]:
    """What a plan does not say yet and has to (15 U.S.C. 2306(b), 8403: fully, clearly, before anything is paid)."""
    missing = []
    if not included:
        missing.append("what is included")
    if not cancellation.strip():
        missing.append("how it is cancelled and what is refunded")
    if not disclosures.strip():
        missing.append("what it does not include and how it renews")
    if full_refund_days < LEAST_FULL_REFUND_DAYS:
        missing.append(
            f"a full refund within at least {LEAST_FULL_REFUND_DAYS} days, so that the third business day after a "
            "sale at the house (16 CFR 429) is always among them"
        )
    return missing
