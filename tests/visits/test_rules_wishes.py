"""The days that a repair is wished for. Common practice, no source, for every span of days."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from contractor.visits.wishes import Days, days_for_finding, days_for_part, is_to_replace

FOUND = date(2026, 5, 4)


@pytest.mark.parametrize(
    ("severity", "expected"),
    [
        ("urgent", (FOUND, date(2026, 5, 6), date(2026, 5, 11))),
        ("bad", (FOUND, date(2026, 5, 18), date(2026, 6, 15))),
        ("watch", None),
    ],
)
def test_a_finding_waits_as_long_as_it_is_bad(severity: str, expected: tuple[date, date, date] | None) -> None:
    days = days_for_finding(severity, found_on=FOUND)
    assert (None if days is None else (days.earliest_on, days.target_on, days.latest_on)) == expected


@pytest.mark.parametrize(
    ("replace_by", "expected"),
    [
        pytest.param("2026-07-01", ("2026-05-04", "2026-06-17", "2026-07-01"), id="two weeks ahead of its day"),
        pytest.param("2026-05-10", ("2026-05-04", "2026-05-04", "2026-06-01"), id="near: within four weeks"),
        pytest.param("2025-05-10", ("2026-05-04", "2026-05-04", "2026-06-01"), id="past: within four weeks"),
    ],
)
def test_a_part_is_replaced_before_its_day(replace_by: str, expected: tuple[str, str, str]) -> None:
    first, wished, last = (date.fromisoformat(day) for day in expected)
    days = days_for_part(date.fromisoformat(replace_by), asked_on=FOUND)
    assert days == Days(earliest_on=first, target_on=wished, latest_on=last)


@given(st.dates(date(2000, 1, 1), date(2100, 1, 1)), st.dates(date(2000, 1, 1), date(2100, 1, 1)))
def test_the_days_of_a_part_are_always_in_order(replace_by: date, asked_on: date) -> None:
    days = days_for_part(replace_by, asked_on=asked_on)
    assert days.earliest_on <= days.target_on <= days.latest_on
    assert days.latest_on >= asked_on + timedelta(days=28)


@pytest.mark.parametrize(
    ("replace_by", "checkup_on", "expected"),
    [
        pytest.param("2026-07-13", None, True, id="within ten weeks, no check-up in sight"),
        pytest.param("2026-07-14", None, False, id="later, no check-up in sight: it waits for one"),
        pytest.param("2027-05-14", "2026-05-14", True, id="not a year beyond the check-up in sight"),
        pytest.param("2027-05-15", "2026-05-14", False, id="lasts beyond that year"),
        pytest.param("2026-06-01", "2027-05-14", True, id="before the check-up"),
    ],
)
def test_when_a_part_asks(replace_by: str, checkup_on: str | None, expected: bool) -> None:
    checkup = None if checkup_on is None else date.fromisoformat(checkup_on)
    assert is_to_replace(date.fromisoformat(replace_by), checkup_on=checkup, on=FOUND) is expected
