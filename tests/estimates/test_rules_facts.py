"""The day for which a system is estimated, the next check-up, and what makers declare."""

from dataclasses import replace
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from contractor.estimates.rules.declared import declared_number, declared_years
from contractor.estimates.rules.facts import next_checkup_on, reckoned_on
from contractor.estimates.rules.found import a_year_after
from tests.estimates.made import ON, battery, primary, readings, standby, system

DECLARED: tuple[tuple[dict[str, object], float | None], ...] = (
    ({}, None),
    ({"expected_years": 7}, 7.0),
    ({"expected_years": 7.5}, 7.5),
    ({"expected_years_at_25c": 6}, 6.0),
    ({"capacity_ah": 75.0}, None),
    # What can't be a life in years counts as not declared.
    ({"expected_years": 0}, None),
    ({"expected_years": -3}, None),
    ({"expected_years": None}, None),
    ({"expected_years": "7"}, None),
    ({"expected_years": True}, None),
    ({"expected_years": float("inf")}, None),
    ({"expected_years": float("nan")}, None),
    ({"expected_years": 87_600}, None),
    ({"expected_years": 50}, 50.0),
    ({"expected_years": 0, "expected_years_at_25c": 4}, 4.0),
)


@pytest.mark.parametrize(("data", "years"), DECLARED, ids=str)
def test_the_makers_figure_is_taken_when_it_is_a_life_in_years(data: dict[str, object], years: float | None) -> None:
    assert declared_years(data) == years


@pytest.mark.parametrize(
    ("value", "number"), [(75, 75.0), (0.0, None), (-1, None), ("75", None), (True, None), (None, None)]
)
def test_a_declared_figure_is_a_number_above_zero(value: object, number: float | None) -> None:
    assert declared_number({"capacity_ah": value}, "capacity_ah") == number


@pytest.mark.parametrize(
    ("on", "reckoned"),
    [
        (date(2026, 5, 1), date(2026, 5, 1)),
        (date(2026, 5, 31), date(2026, 5, 1)),
        (date(2026, 6, 1), date(2026, 6, 1)),
        # The last check-up was on May 10, 2025: nothing is reckoned for a day on which it wasn't known.
        (date(2025, 5, 20), date(2025, 5, 10)),
    ],
)
def test_a_system_is_reckoned_for_the_first_of_the_month_or_the_day_of_its_last_fact(on: date, reckoned: date) -> None:
    assert reckoned_on(system(), on=on) == reckoned


@pytest.mark.parametrize(
    "late",
    [
        system(pumps=(primary(installed_on=date(2026, 5, 20)),)),
        system(pumps=(primary(flows=readings(0.002, first=date(2026, 5, 20))),)),
        system(pumps=(standby(currents=readings(15.0, first=date(2026, 5, 20))),)),
        system(pumps=(primary(starts=readings(9.0, first=date(2026, 5, 20))),)),
        system(batteries=(battery(installed_on=date(2026, 5, 20)),)),
        system(batteries=(battery(capacities=readings(70.0, first=date(2026, 5, 20))),)),
        system(temperatures=readings(14.0, first=date(2026, 5, 20))),
        system(checked_on=date(2026, 5, 20)),
        system(installed_on=date(2026, 5, 20)),
    ],
)
def test_every_kind_of_fact_moves_the_day(late: object) -> None:
    assert reckoned_on(late, on=date(2026, 5, 25)) == date(2026, 5, 20)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("checked_on", "next_on"),
    [
        (date(2025, 5, 10), date(2026, 5, 10)),
        # Overdue or due today: nobody knows when it will be, so a whole year is reckoned.
        (date(2025, 5, 1), date(2027, 5, 1)),
        (date(2023, 5, 1), date(2027, 5, 1)),
        (None, date(2027, 5, 1)),
    ],
)
def test_the_next_check_up_is_a_year_after_the_last(checked_on: date | None, next_on: date) -> None:
    assert next_checkup_on(replace(system(), checked_on=checked_on), on=ON) == next_on


def test_the_newest_pump_of_a_kind_is_the_one_that_works() -> None:
    newer = primary(component_id=9, installed_on=date(2024, 1, 1))
    both = system(pumps=(newer, primary(), standby()))
    assert both.primary is newer
    assert both.standby == standby()
    assert system(pumps=()).primary is None


@given(st.dates(date(1990, 1, 1), date(2090, 1, 1)))
def test_a_year_after_is_the_same_day_or_the_28th(day: date) -> None:
    after = a_year_after(day)
    assert after.year == day.year + 1
    assert (after.month, after.day) == ((2, 28) if (day.month, day.day) == (2, 29) else (day.month, day.day))
