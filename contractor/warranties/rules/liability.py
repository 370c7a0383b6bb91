"""The roll-forward of the warranty liability over a period, warranty by warranty, exact to the cent.

The five lines are those that ASC 460-10-50-8(c) asks to disclose: the balance at the beginning, payments made in cash
or in kind, accruals for warranties issued in the period, changes to those issued before (changes of estimate among
them), and the balance at the end. Not accounting advice: an accountant must look at method and figures.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from contractor.warranties.errors import PeriodAhead, PeriodBackwards, PeriodTooLong
from contractor.warranties.rules.counting import ONE_DAY, add_months

NOTHING = Decimal("0.00")
MONTHS = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class Payment:
    """What was booked on one claim, on its own day; a counter-entry is negative.

    ``paid_in`` is "cash" or "kind", and empty for what was counted by its decision, before costs were booked.
    """

    claim_id: int
    warranty_id: int
    part_kind: str
    paid_on: date
    amount: Decimal
    paid_in: str = ""
    is_goodwill: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class PaymentsApart:
    """What payments come to in cash, in kind, and where nobody wrote down which; how much of all is goodwill."""

    in_cash: Decimal
    in_kind: Decimal
    untold: Decimal
    goodwill: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class Issued:
    """A warranty and the day it was issued."""

    warranty_id: int
    number: str
    issued_on: date


@dataclass(frozen=True, slots=True, kw_only=True)
class Movement:
    """One warranty's way through the period. ``is_new``: it was issued in it."""

    warranty_id: int
    number: str
    issued_on: date
    is_new: bool
    opening: Decimal
    payments: Decimal
    closing: Decimal

    @property
    def accrued(self) -> Decimal:
        """What had to be added to the opening balance (or taken off) to end at the closing one after the payments."""
        return self.closing + self.payments - self.opening

    @property
    def issued(self) -> Decimal:
        """The accrual, when the warranty was issued in the period."""
        return self.accrued if self.is_new else NOTHING

    @property
    def changes(self) -> Decimal:
        """The accrual, when the warranty was issued before the period."""
        return NOTHING if self.is_new else self.accrued


@dataclass(frozen=True, slots=True, kw_only=True)
class LiabilityTable:
    """The five lines in dollars: opening - payments + issued + changes = closing, exactly."""

    opening: Decimal
    payments: Decimal
    issued: Decimal
    changes: Decimal
    closing: Decimal

    def __post_init__(self) -> None:
        if self.opening - self.payments + self.issued + self.changes != self.closing:
            raise ValueError("The lines of the table do not add up to the closing balance.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Roll:
    """The table of a period with the movement of every warranty that has a part in it, the earliest issued first."""

    from_on: date
    until_on: date
    table: LiabilityTable
    movements: tuple[Movement, ...]


def liability_roll(
    from_on: date,
    until_on: date,
    *,
    warranties: Iterable[Issued],
    opening: Mapping[int, Decimal],
    closing: Mapping[int, Decimal],
    payments: Sequence[Payment],
) -> Roll:
    """Roll the liability from the evening before ``from_on`` to the evening of ``until_on``.

    ``opening`` and ``closing`` are the reserves of each warranty at these two moments. The accrual of a warranty is
    what its balances and payments leave over, so that every line is the sum of its rows. Raises ValueError for a
    period that ends before it begins, a payment outside it, and a balance or payment of a warranty not named.
    """
    if until_on < from_on:
        raise ValueError(f"A period can't end on {until_on}, before it begins on {from_on}.")
    named = {one.warranty_id: one for one in warranties}
    paid = _paid(payments, from_on, until_on)
    unknown = (opening.keys() | closing.keys() | paid.keys()) - named.keys()
    if unknown:
        raise ValueError(f"Amounts of warranties that are not named: {sorted(unknown)}.")
    moved = [
        Movement(
            warranty_id=one.warranty_id,
            number=one.number,
            issued_on=one.issued_on,
            is_new=from_on <= one.issued_on <= until_on,
            opening=opening.get(one.warranty_id, NOTHING),
            payments=paid.get(one.warranty_id, NOTHING),
            closing=closing.get(one.warranty_id, NOTHING),
        )
        for one in sorted(named.values(), key=lambda one: (one.issued_on, one.warranty_id))
    ]
    # A warranty whose payments undid each other stays: its rows are there.
    movements = tuple(one for one in moved if one.opening or one.closing or one.warranty_id in paid)
    return Roll(from_on=from_on, until_on=until_on, table=table_of(movements), movements=movements)


def payments_apart(payments: Iterable[Payment]) -> PaymentsApart:
    """Payments in cash and in kind, as ASC 460-10-50-8(c) names them; the three parts add up to all of them."""
    every = tuple(payments)

    def paid_in(how: str) -> Decimal:
        return sum((one.amount for one in every if one.paid_in == how), NOTHING)

    return PaymentsApart(
        in_cash=paid_in("cash"),
        in_kind=paid_in("kind"),
        untold=paid_in(""),
        goodwill=sum((one.amount for one in every if one.is_goodwill), NOTHING),
    )


def year_through(from_on: date) -> date:
    """The last day of the year that begins on a day."""
    return add_months(from_on, MONTHS) - ONE_DAY


def refuse_bad_period(from_on: date, until_on: date, on: date) -> None:
    """Raise PeriodBackwards, PeriodTooLong or PeriodAhead unless the days are a year, or part of one, up to today."""
    if until_on < from_on:
        raise PeriodBackwards
    if until_on > year_through(from_on):
        raise PeriodTooLong(year_through(from_on))
    if until_on > on:
        raise PeriodAhead


def table_of(movements: Sequence[Movement]) -> LiabilityTable:
    """The five lines as sums of their rows."""
    return LiabilityTable(
        opening=sum((one.opening for one in movements), NOTHING),
        payments=sum((one.payments for one in movements), NOTHING),
        issued=sum((one.issued for one in movements), NOTHING),
        changes=sum((one.changes for one in movements), NOTHING),
        closing=sum((one.closing for one in movements), NOTHING),
    )


def _paid(payments: Sequence[Payment], from_on: date, until_on: date) -> dict[int, Decimal]:
    paid: dict[int, Decimal] = {}
    for payment in payments:
        if not from_on <= payment.paid_on <= until_on:
            raise ValueError(f"Claim {payment.claim_id} was paid on {payment.paid_on}, outside the period.")
        paid[payment.warranty_id] = paid.get(payment.warranty_id, NOTHING) + payment.amount
    return paid
