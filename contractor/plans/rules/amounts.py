"""Money of a plan to the cent, half-even: tax, refund by days, what is owed. Everything adds up exactly."""

from dataclasses import dataclass
from datetime import date, timedelta
from decimal import ROUND_HALF_EVEN, Decimal

from contractor.plans.rules.terms import Year

CENT = Decimal("0.01")
NOTHING = Decimal("0.00")


@dataclass(frozen=True, slots=True, kw_only=True)
class Amount:
    """Net and tax; the total is their sum, never rounded by itself."""

    net: Decimal
    tax: Decimal

    @property
    def total(self) -> Decimal:
        return self.net + self.tax


def to_the_cent(amount: Decimal) -> Decimal:
    """Half-even to the cent."""
    return amount.quantize(CENT, rounding=ROUND_HALF_EVEN)


def with_tax(net: Decimal, tax_percent: Decimal) -> Amount:
    """A price with its tax."""
    return Amount(net=to_the_cent(net), tax=to_the_cent(net * tax_percent / 100))


def share_of(net: Decimal, tax_percent: Decimal, *, days: int, of_days: int) -> Amount:
    """The price of some days of a year, with tax."""
    return with_tax(to_the_cent(net * days / of_days), tax_percent)


def unused_days(year: Year, on: date) -> int:
    """Days paid for that a cancellation as of ``on`` leaves unused; the day itself is one of them."""
    return max(0, min(year.days, (year.until_on - on).days))


def refund(paid_for: Amount, year: Year, *, on: date, agreed_on: date, full_refund_days: int) -> Amount:
    """What a cancellation as of ``on`` takes off the invoice.

    All of it through ``full_refund_days`` after the day of agreement, or before the year begins; after that the share
    of the days not used. Total and net are each rounded, and the tax is what lies between: kept and refunded add up.
    """
    unused = unused_days(year, on)
    if unused == year.days or on <= agreed_on + timedelta(days=full_refund_days):
        return paid_for
    total = to_the_cent(paid_for.total * unused / year.days)
    net = to_the_cent(paid_for.net * unused / year.days)
    return Amount(net=net, tax=total - net)


@dataclass(frozen=True, slots=True, kw_only=True)
class Balance:
    """An invoice, what was taken off it, and what was paid less what was given back."""

    total: Decimal
    credited: Decimal
    paid: Decimal

    @property
    def owed(self) -> Decimal:
        """What the owner still owes."""
        return max(NOTHING, self.total - self.credited - self.paid)

    @property
    def to_refund(self) -> Decimal:
        """What the company has to give back."""
        return max(NOTHING, self.paid + self.credited - self.total)
