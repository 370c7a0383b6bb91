"""Money to the cent: tax, refund by days, what is owed and what is to be given back."""

from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from contractor.plans.rules.amounts import Amount, Balance, refund, share_of, to_the_cent, unused_days, with_tax
from contractor.plans.rules.terms import Year

FROM, UNTIL = date(2026, 3, 1), date(2027, 3, 1)
YEAR = Year(from_on=FROM, until_on=UNTIL)
PAID_FOR = Amount(net=Decimal("365.00"), tax=Decimal("21.90"))
CENTS = st.decimals(Decimal("0.01"), Decimal("9999.99"), places=2)


def D(text: str) -> Decimal:
    return Decimal(text)


@pytest.mark.parametrize(
    ("exact", "rounded"), [("0.005", "0.00"), ("0.015", "0.02"), ("0.025", "0.02"), ("0.0251", "0.03")]
)
def test_a_half_cent_goes_to_the_even_one(exact: str, rounded: str) -> None:
    assert to_the_cent(D(exact)) == D(rounded)


def test_tax_is_reckoned_from_the_price() -> None:
    """6 % of $249.00 is $14.94, by hand."""
    assert with_tax(D("249.00"), D("6")) == Amount(net=D("249.00"), tax=D("14.94"))


@pytest.mark.parametrize(
    ("cancelled_on", "agreed_on", "total"),
    [
        (date(2026, 2, 1), date(2026, 1, 1), "386.90"),  # before it begins: all of it
        (FROM, date(2026, 1, 1), "386.90"),
        (date(2026, 3, 31), FROM, "386.90"),  # the thirtieth day after the agreement
        (date(2026, 4, 1), FROM, "354.04"),  # 334 of 365 days: 386.90 × 334 / 365 = 354.0400
        (date(2026, 8, 31), FROM, "192.92"),  # 182 of 365 days: 192.9200
        (date(2027, 2, 28), FROM, "1.06"),  # the last day: 1.0600
        (UNTIL, FROM, "0.00"),
    ],
)
def test_a_cancellation_gives_back_the_days_not_used(cancelled_on: date, agreed_on: date, total: str) -> None:
    """Worked by hand from $386.90 over 365 days."""
    off = refund(PAID_FOR, YEAR, on=cancelled_on, agreed_on=agreed_on, full_refund_days=30)
    assert off.total == D(total)


@given(net=CENTS, percent=st.decimals(0, 30, places=3), days=st.integers(31, 366), length=st.integers(365, 366))
def test_kept_and_refunded_add_up_to_the_cent(net: Decimal, percent: Decimal, days: int, length: int) -> None:
    year = Year(from_on=FROM, until_on=FROM + timedelta(days=length))
    paid_for = with_tax(net, percent)
    off = refund(paid_for, year, on=FROM + timedelta(days=days), agreed_on=FROM, full_refund_days=30)
    assert 0 <= off.net <= paid_for.net
    assert 0 <= off.total <= paid_for.total
    assert (paid_for.net - off.net) + (paid_for.tax - off.tax) + off.total == paid_for.total
    unused = unused_days(year, FROM + timedelta(days=days))
    exact = Fraction(paid_for.total) * unused / length
    assert abs(Fraction(off.total) - exact) <= Fraction(1, 200)


@given(days=st.integers(31, 364))
def test_a_later_cancellation_never_gives_back_more(days: int) -> None:
    def off(day: int) -> Decimal:
        on = FROM + timedelta(days=day)
        return refund(PAID_FOR, YEAR, on=on, agreed_on=FROM, full_refund_days=30).total

    assert off(days + 1) <= off(days)


def test_the_buyer_pays_for_the_days_that_the_seller_was_credited() -> None:
    """100 of 365 days of $365.00 are $100.00."""
    assert share_of(D("365.00"), D("6"), days=100, of_days=365) == Amount(net=D("100.00"), tax=D("6.00"))


@pytest.mark.parametrize(
    ("total", "credited", "paid", "owed", "to_refund"),
    [
        ("100.00", "0.00", "0.00", "100.00", "0.00"),
        ("100.00", "0.00", "40.00", "60.00", "0.00"),
        ("100.00", "30.00", "40.00", "30.00", "0.00"),
        ("100.00", "30.00", "100.00", "0.00", "30.00"),
        ("100.00", "100.00", "0.00", "0.00", "0.00"),
    ],
)
def test_what_is_owed_and_what_is_given_back(total: str, credited: str, paid: str, owed: str, to_refund: str) -> None:
    balance = Balance(total=D(total), credited=D(credited), paid=D(paid))
    assert (balance.owed, balance.to_refund) == (D(owed), D(to_refund))
