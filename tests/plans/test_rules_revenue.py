"""Deferred and recognised revenue: equal parts day by day, and always the same sum."""

import itertools
from datetime import date, timedelta
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from contractor.plans.rules.revenue import Billed, deferred_on, movement, recognised_through, roll
from contractor.plans.rules.terms import Year


def D(text: str) -> Decimal:
    return Decimal(text)


# ASC 606-10-55-184 to 186 (IFRS 15 example 18), from memory: a yearly membership, open every day, is recognised in
# equal parts through the year. The standard's figures are words only; the amounts are a textbook's usual ones, by hand:
# $1,200 for the year 2026, billed on its first day.
MEMBERSHIP = Billed(
    key=1,
    year=Year(from_on=date(2026, 1, 1), until_on=date(2027, 1, 1)),
    billed_on=date(2026, 1, 1),
    net=D("1200.00"),
)


@pytest.mark.parametrize(
    ("through", "recognised"),
    [
        (date(2025, 12, 31), "0.00"),
        (date(2026, 1, 1), "3.29"),  # 1200 × 1 / 365 = 3.2877
        (date(2026, 3, 31), "295.89"),  # 90 days: 295.8904
        (date(2026, 6, 30), "595.07"),  # 181 days: 595.0685
        (date(2026, 12, 31), "1200.00"),
        (date(2030, 1, 1), "1200.00"),
    ],
)
def test_a_yearly_membership_is_recognised_in_equal_parts_through_the_year(through: date, recognised: str) -> None:
    assert recognised_through(MEMBERSHIP, through) == D(recognised)
    assert deferred_on(MEMBERSHIP, date(2026, 6, 30)) == D("604.93")


def test_a_year_billed_before_it_begins_is_all_deferred_until_it_does() -> None:
    early = Billed(
        key=1,
        year=Year(from_on=date(2026, 3, 1), until_on=date(2027, 3, 1)),
        billed_on=date(2026, 2, 1),
        net=D("365.00"),
    )
    assert deferred_on(early, date(2026, 2, 28)) == D("365.00")
    assert deferred_on(early, date(2026, 3, 1)) == D("364.00")


@pytest.mark.parametrize(
    ("credited", "recognised_in_september"),
    [
        ("182.00", "0.00"),  # 183 days used and kept: August's end had earned them
        ("365.00", "-183.00"),  # all money back: what was recognised is taken back
    ],
)
def test_a_credit_note_leaves_what_was_kept_as_revenue(credited: str, recognised_in_september: str) -> None:
    cancelled = Billed(
        key=1,
        year=Year(from_on=date(2026, 3, 1), until_on=date(2027, 3, 1), cancelled_on=date(2026, 8, 31)),
        billed_on=date(2026, 3, 1),
        net=D("365.00"),
        credited_on=date(2026, 9, 1),
        credited=D(credited),
    )
    # Credited a day after it took hold: that day was recognised meanwhile, and goes back with the credit note.
    line = movement(cancelled, from_on=date(2026, 9, 1), until_on=date(2026, 9, 30))
    assert line.recognised == D(recognised_in_september) - D("1.00")
    assert line.closing == D("0.00")


DAYS = st.dates(date(2025, 12, 1), date(2028, 1, 1))


@given(
    net=st.decimals(D("0.01"), D("9999.99"), places=2),
    billed_on=st.dates(date(2025, 12, 1), date(2026, 2, 1)),
    cancelled_after=st.none() | st.integers(0, 364),
    cuts=st.lists(DAYS, min_size=1, max_size=6),
)
def test_periods_chain_and_nothing_is_lost_or_made_up(
    net: Decimal, billed_on: date, cancelled_after: int | None, cuts: list[date]
) -> None:
    from_on = date(2026, 1, 1)
    cancelled_on = None if cancelled_after is None else from_on + timedelta(days=cancelled_after)
    credited = D("0.00") if cancelled_after is None else (net * (365 - cancelled_after) / 365).quantize(D("0.01"))
    one = Billed(
        key=1,
        year=Year(from_on=from_on, until_on=date(2027, 1, 1), cancelled_on=cancelled_on),
        billed_on=billed_on,
        net=net,
        credited_on=None if cancelled_on is None else max(cancelled_on, billed_on),
        credited=credited,
    )
    edges = [date(2025, 11, 30), *sorted(set(cuts)), date(2028, 1, 2)]
    lines = [
        movement(one, from_on=first + timedelta(days=1), until_on=last)
        for first, last in itertools.pairwise(edges)
    ]
    assert lines[0].opening == 0
    for before, after in itertools.pairwise(lines):
        assert after.opening == before.closing
    assert lines[-1].closing == 0
    assert sum(line.recognised for line in lines) == net - credited
    assert sum(line.billed for line in lines) == net


def test_years_that_say_nothing_in_a_period_are_left_out() -> None:
    assert roll([MEMBERSHIP], from_on=date(2028, 1, 1), until_on=date(2028, 12, 31)) == []
