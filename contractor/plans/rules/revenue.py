"""Deferred and recognised revenue of plans, by day.

A plan is a promise to stand ready through its year, and the owner benefits evenly, so its price is recognised in equal
parts day by day (ASC 606-10-25-27(a) and 606-10-55-184 to 186, Example 18, a yearly membership; citations from memory).
A refund is a change of the transaction price: from its day on, what was kept is what the used days earned. The figures
are for an accountant to read before they go into any statement.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from contractor.plans.rules.amounts import NOTHING, to_the_cent
from contractor.plans.rules.terms import Year


@dataclass(frozen=True, slots=True, kw_only=True)
class Billed:
    """One invoiced year, net of tax: tax is owed to the state and no revenue."""

    key: int
    year: Year
    billed_on: date
    net: Decimal
    credited_on: date | None = None
    credited: Decimal = NOTHING


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """What a period did to one year's deferred revenue: opening + billed - credited - recognised = closing."""

    key: int
    opening: Decimal
    billed: Decimal
    credited: Decimal
    recognised: Decimal

    @property
    def closing(self) -> Decimal:
        return self.opening + self.billed - self.credited - self.recognised


def recognised_through(one: Billed, on: date) -> Decimal:
    """Revenue recognised up to and including a day."""
    if one.credited_on is not None and on >= one.credited_on:
        kept = one.net - one.credited
        return min(kept, _by_days(one, on)) if one.credited_on < one.year.ends_on else kept
    return _by_days(one, on)


def _by_days(one: Billed, on: date) -> Decimal:
    used = min(max(0, (on - one.year.from_on).days + 1), one.year.days)
    return to_the_cent(one.net * used / one.year.days)


def deferred_on(one: Billed, on: date) -> Decimal:
    """Billed and not credited, less what is recognised, at the end of a day."""
    billed = one.net if one.billed_on <= on else NOTHING
    credited = one.credited if one.credited_on is not None and one.credited_on <= on else NOTHING
    return billed - credited - recognised_through(one, on)


def movement(one: Billed, *, from_on: date, until_on: date) -> Line:
    """The line of one year for a period; both days are included."""
    before = from_on - timedelta(days=1)
    in_period = from_on <= one.billed_on <= until_on
    is_credited = one.credited_on is not None and from_on <= one.credited_on <= until_on
    return Line(
        key=one.key,
        opening=deferred_on(one, before),
        billed=one.net if in_period else NOTHING,
        credited=one.credited if is_credited else NOTHING,
        recognised=recognised_through(one, until_on) - recognised_through(one, before),
    )


def roll(billed: Iterable[Billed], *, from_on: date, until_on: date) -> list[Line]:
    """The lines of a period that say anything."""
    lines = [movement(one, from_on=from_on, until_on=until_on) for one in billed]
    return [line for line in lines if any((line.opening, line.billed, line.credited, line.recognised))]
