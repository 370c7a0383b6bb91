"""How a paid year stands on a day, and what a plan has to say before anybody can agree to it."""

from datetime import date, timedelta

import holidays
import pytest
from hypothesis import given
from hypothesis import strategies as st

from contractor.plans.rules.terms import (
    ENDING_DAYS,
    LEAST_FULL_REFUND_DAYS,
    State,
    Year,
    a_year_from,
    lacking,
    overlaps,
    state_on,
    word_of_a_warranty,
)

FROM, UNTIL = date(2026, 3, 1), date(2027, 3, 1)
PLAIN = Year(from_on=FROM, until_on=UNTIL)
RENEWED = Year(from_on=FROM, until_on=UNTIL, is_renewed=True)
CANCELLED = Year(from_on=FROM, until_on=UNTIL, cancelled_on=date(2026, 9, 1))


@pytest.mark.parametrize(
    ("year", "on", "state"),
    [
        (PLAIN, date(2026, 2, 28), State.COMING),
        (PLAIN, date(2026, 3, 1), State.ACTIVE),
        (PLAIN, UNTIL - timedelta(days=ENDING_DAYS + 1), State.ACTIVE),
        (PLAIN, UNTIL - timedelta(days=ENDING_DAYS), State.ENDING),
        (PLAIN, date(2027, 2, 28), State.ENDING),
        (PLAIN, date(2027, 3, 1), State.LAPSED),
        (RENEWED, date(2027, 2, 28), State.ACTIVE),
        (RENEWED, date(2027, 3, 1), State.RENEWED),
        (CANCELLED, date(2026, 8, 31), State.ACTIVE),
        (CANCELLED, date(2026, 9, 1), State.CANCELLED),
        (CANCELLED, date(2030, 1, 1), State.CANCELLED),
    ],
)
def test_a_year_stands_so_on_a_day(year: Year, on: date, state: State) -> None:
    assert state_on(year, on) is state


@pytest.mark.parametrize(
    ("from_on", "until_on", "days"),
    [
        (date(2026, 3, 1), date(2027, 3, 1), 365),
        (date(2027, 3, 1), date(2028, 3, 1), 366),
        (date(2028, 2, 29), date(2029, 2, 28), 365),
    ],
)
def test_a_year_ends_before_the_same_day_of_the_next(from_on: date, until_on: date, days: int) -> None:
    assert a_year_from(from_on) == until_on
    assert Year(from_on=from_on, until_on=until_on).days == days


def test_a_year_that_begins_where_another_ends_does_not_overlap_it() -> None:
    assert overlaps(UNTIL, date(2028, 3, 1), [PLAIN]) is None
    assert overlaps(UNTIL - timedelta(days=1), date(2028, 3, 1), [PLAIN]) is PLAIN


def test_the_days_after_a_cancellation_are_free_for_another_plan() -> None:
    assert overlaps(date(2026, 9, 1), date(2027, 9, 1), [CANCELLED]) is None
    assert overlaps(date(2026, 8, 31), date(2027, 9, 1), [CANCELLED]) is CANCELLED


@pytest.mark.parametrize(
    ("title", "word"),
    [
        ("Yearly care", ""),
        ("Extended Warranty", "warranty"),
        ("Peace of mind GUARANTEE", "guarantee"),
        ("Basement insurance", "insurance"),
    ],
)
def test_a_paid_plan_may_not_go_by_the_name_of_a_warranty(title: str, word: str) -> None:
    """15 U.S.C. 2301(8) and 16 CFR 700.11 keep a service contract apart from a warranty."""
    assert word_of_a_warranty(title) == word


def test_a_plan_says_what_it_includes_how_it_is_cancelled_and_what_it_does_not_do() -> None:
    """15 U.S.C. 2306(b): terms fully, clearly and conspicuously disclosed; 8403(1): before billing."""
    assert lacking(included=["A visit"], cancellation="By a call.", disclosures="No pumps.", full_refund_days=30) == []
    assert len(lacking(included=[], cancellation=" ", disclosures="", full_refund_days=6)) == 4


@given(sold_on=st.dates(date(2020, 1, 1), date(2040, 12, 31)))
def test_the_least_time_for_all_money_back_holds_the_third_business_day_after_any_sale(sold_on: date) -> None:
    """16 CFR 429.0(f), 429.1: all but Sundays and federal holidays are business days; those from ``holidays``."""
    federal = holidays.country_holidays("US")
    days = (sold_on + timedelta(days=n) for n in range(1, LEAST_FULL_REFUND_DAYS + 1))
    assert sum(day.weekday() != 6 and day not in federal for day in days) >= 3
