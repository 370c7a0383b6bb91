"""Counting time: check values from statutes, published examples and general libraries."""

from datetime import date, timedelta

import holidays
import pytest
from dateutil.relativedelta import relativedelta
from hypothesis import given
from hypothesis import strategies as st

from contractor.warranties.rules.counting import (
    add_months,
    business_days_after,
    completed_months,
    deadline,
    is_federal_holiday,
)
from tests.warranties.rule_builders import day

DAYS = st.dates(min_value=date(1990, 1, 1), max_value=date(2090, 12, 31))
MONTHS = st.integers(min_value=0, max_value=600)

# Source: Canada Interpretation Act s. 28 (same number, else the last day of the month); XML Schema Part 2,
# appendix E ("April 31 turns into April 30"). The two March days are a published example for s. 28.
ADDED = [
    ("2024-01-31", 1, "2024-02-29"),
    ("2023-01-31", 1, "2023-02-28"),
    ("2026-03-30", 1, "2026-04-30"),
    ("2026-03-31", 1, "2026-04-30"),
    ("2024-02-29", 12, "2025-02-28"),
    ("2024-02-29", 48, "2028-02-29"),
    ("2024-01-31", 3, "2024-04-30"),
    ("2024-01-31", 2, "2024-03-31"),
    ("2026-05-31", 300, "2051-05-31"),
    ("2026-12-31", 2, "2027-02-28"),
    ("2026-05-14", 0, "2026-05-14"),
    ("2026-05-14", 12, "2027-05-14"),
    ("2026-11-30", 3, "2027-02-28"),
    ("2100-02-28", 12, "2101-02-28"),  # 2100 is no leap year
    ("2096-02-29", 48, "2100-02-28"),
    ("2026-03-31", -1, "2026-02-28"),
    ("2026-01-15", -13, "2024-12-15"),
]


@pytest.mark.parametrize(("start", "months", "end"), ADDED)
def test_months_are_added_to_the_same_day_or_the_last_of_the_month(start: str, months: int, end: str) -> None:
    assert add_months(day(start), months) == day(end)


def test_a_chained_series_would_lose_days_that_the_anchored_one_keeps() -> None:
    leap = day("2024-02-29")
    chained = leap
    for _ in range(4):
        chained = add_months(chained, 12)
    assert (add_months(leap, 48), chained) == (day("2028-02-29"), day("2028-02-28"))
    january = day("2024-01-31")
    assert add_months(add_months(add_months(january, 1), 1), 1) == day("2024-04-29")
    assert add_months(january, 3) == day("2024-04-30")


@given(start=DAYS, months=MONTHS)
def test_months_agree_with_dateutil(start: date, months: int) -> None:
    assert add_months(start, months) == start + relativedelta(months=months)


@given(start=DAYS, months=MONTHS)
def test_more_months_end_later(start: date, months: int) -> None:
    assert add_months(start, months) < add_months(start, months + 1)


@given(start=DAYS, later=st.integers(min_value=0, max_value=800), months=MONTHS)
def test_a_later_start_never_ends_earlier(start: date, later: int, months: int) -> None:
    assert add_months(start, months) <= add_months(start + timedelta(days=later), months)


@given(start=DAYS, months=MONTHS)
def test_a_term_has_its_months_completed_on_the_anniversary_and_not_the_day_before(start: date, months: int) -> None:
    end = add_months(start, months)
    assert completed_months(start, end) == months
    assert completed_months(start, end - timedelta(days=1)) == months - 1
    assert end.day <= start.day


@given(start=DAYS, on=DAYS)
def test_completed_months_is_the_largest_count_that_fits(start: date, on: date) -> None:
    months = completed_months(start, on)
    assert add_months(start, months) <= on < add_months(start, months + 1)


COMPLETED = [
    ("2026-05-14", "2026-05-14", 0),
    ("2026-05-14", "2026-06-13", 0),
    ("2026-05-14", "2026-06-14", 1),
    ("2026-05-14", "2031-05-13", 59),
    ("2026-05-14", "2031-05-14", 60),
    ("2026-01-31", "2026-02-27", 0),
    ("2026-01-31", "2026-02-28", 1),
    ("2024-02-29", "2025-02-28", 12),
    ("2026-05-14", "2026-05-13", -1),
]


@pytest.mark.parametrize(("start", "on", "months"), COMPLETED)
def test_only_whole_months_count(start: str, on: str, months: int) -> None:
    assert completed_months(day(start), day(on)) == months


def test_months_beyond_the_calendar_are_refused() -> None:
    with pytest.raises(OverflowError, match="outside the years"):
        add_months(day("9999-06-01"), 12)


# The rule: N.Y. General Construction Law 25-a (Saturday, Sunday or holiday: the next business day). The first three
# are a closing on June 30, 2026 with 30, 60 and 90 days; the holidays from 5 U.S.C. 6103.
DEADLINES = [
    ("2026-06-30", 30, "2026-07-30"),
    ("2026-06-30", 60, "2026-08-31"),  # August 29 is a Saturday
    ("2026-06-30", 90, "2026-09-28"),
    ("2026-08-31", 6, "2026-09-08"),  # Sunday, then Labor Day
    ("2026-11-25", 1, "2026-11-27"),  # Thanksgiving
    ("2026-12-24", 1, "2026-12-28"),  # Christmas on a Friday, then the weekend
    ("2026-07-02", 1, "2026-07-06"),  # July 3 is the day on which July 4, a Saturday, is observed
    ("2026-11-20", 0, "2026-11-20"),
    ("2027-12-30", 1, "2028-01-03"),  # January 1, 2028 is a Saturday, observed on December 31
]


@pytest.mark.parametrize(("start", "days", "last"), DEADLINES)
def test_a_deadline_excludes_its_first_day_and_runs_on_to_a_business_day(start: str, days: int, last: str) -> None:
    assert deadline(day(start), days) == day(last)


@given(start=DAYS, days=st.integers(min_value=0, max_value=400))
def test_a_deadline_is_the_first_business_day_not_before_the_count(start: date, days: int) -> None:
    federal = holidays.country_holidays("US")
    last = deadline(start, days)
    assert last.weekday() < 5
    assert last not in federal
    skipped = [start + timedelta(days=n) for n in range(days, (last - start).days)]
    assert all(one.weekday() > 4 or one in federal for one in skipped)


# 16 CFR 429.0: every day but Sundays and federal holidays is a business day, so Saturdays count.
BUSINESS_DAYS = [
    ("2026-11-20", 3, "2026-11-24"),  # Friday: Saturday, Monday, Tuesday
    ("2026-11-25", 3, "2026-11-30"),  # the day before Thanksgiving: Friday, Saturday, Monday
    ("2026-11-23", 3, "2026-11-27"),  # over Thanksgiving
    ("2026-11-20", 0, "2026-11-20"),
]


@pytest.mark.parametrize(("sale", "count", "last"), BUSINESS_DAYS)
def test_business_days_count_saturdays_but_no_sundays_or_holidays(sale: str, count: int, last: str) -> None:
    assert business_days_after(day(sale), count) == day(last)


@pytest.mark.parametrize(
    "holiday", ["2026-01-19", "2026-02-16", "2026-05-25", "2026-06-19", "2026-10-12", "2026-11-11"]
)
def test_the_federal_holidays_of_2026_are_known(holiday: str) -> None:
    """Source: 5 U.S.C. 6103(a), the third Monday of January and so on."""
    assert is_federal_holiday(day(holiday))


@pytest.mark.parametrize("workday", ["2026-02-12", "2026-11-27", "2026-12-24", "2026-04-03"])
def test_days_that_only_some_states_keep_are_no_federal_holidays(workday: str) -> None:
    assert not is_federal_holiday(day(workday))
