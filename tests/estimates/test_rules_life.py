"""By when a part should be replaced: from its age, and from what was found."""

from datetime import date, timedelta

import pytest
from dateutil.relativedelta import relativedelta
from hypothesis import given
from hypothesis import strategies as st

from contractor.estimates import rules
from contractor.estimates.rules import Found, PartInUse, declared_years, estimate
from contractor.systems.part_kinds import BY_CODE

IN = date(2020, 5, 14)

# ASHRAE Handbook, HVAC Applications, chapter "Owning and Operating Costs", table of median service lives (Akalin
# 1978 data), "Pumps, sump and well": 10 years. From memory.
ASHRAE_MEDIAN_YEARS = 10
# Marshall & Swift, life expectancy guidelines (October 2012), sump and well pumps: low 8, average 10, good 12 years.
# From memory.
MARSHALL_SWIFT_YEARS = (8, 10, 12)
# Sealed lead-acid battery on float at 25 °C: five years, 3.5 to 6.5 in practice. Common practice, no source.
BATTERY_MONTHS = (42, 60, 78)


def part(kind: str = "battery", **changes: object) -> PartInUse:
    return PartInUse(**{"part_kind": kind, "word": BY_CODE[kind].word, "installed_on": IN, **changes})  # type: ignore[arg-type]


@pytest.mark.parametrize("kind", ["primary_pump", "standby_pump"])
def test_a_pump_without_a_declared_life_lasts_the_ashrae_median_within_the_marshall_and_swift_range(kind: str) -> None:
    low, average, good = MARSHALL_SWIFT_YEARS
    assert average == ASHRAE_MEDIAN_YEARS
    found = estimate(part(kind))
    assert found.replace_by == IN + relativedelta(years=ASHRAE_MEDIAN_YEARS) == date(2030, 5, 14)
    assert (found.earliest, found.latest) == (IN + relativedelta(years=low), IN + relativedelta(years=good))
    assert found.governing == "age"


def test_a_battery_without_a_declared_life_lasts_five_years_give_or_take_thirty_percent() -> None:
    found = estimate(part("battery"))
    days = [IN + relativedelta(months=months) for months in BATTERY_MONTHS]
    assert found.replace_by == days[1] == date(2025, 5, 14)
    # Half a year is counted in days of the mean year: at most two days from the same day six months on.
    assert abs(found.earliest - days[0]) <= timedelta(days=2)
    assert abs(found.latest - days[2]) <= timedelta(days=2)


@given(
    installed_on=st.dates(date(1980, 1, 1), date(2080, 12, 31)),
    years=st.integers(1, 50),
    kind=st.sampled_from(rules.estimated_kinds()),
)
def test_whole_years_end_on_the_same_day_of_the_calendar_as_in_python_dateutil(
    installed_on: date, years: int, kind: str
) -> None:
    found = estimate(part(kind, installed_on=installed_on, declared_years=float(years)))
    assert found.replace_by == installed_on + relativedelta(years=years)


@given(
    installed_on=st.dates(date(1980, 1, 1), date(2080, 12, 31)),
    years=st.floats(0.1, 50),
    kind=st.sampled_from(rules.estimated_kinds()),
)
def test_the_date_lies_in_its_range_and_parts_of_years_are_counted_in_days(
    installed_on: date, years: float, kind: str
) -> None:
    found = estimate(part(kind, installed_on=installed_on, declared_years=years))
    assert installed_on <= found.earliest <= found.replace_by <= found.latest
    by_days = installed_on + timedelta(days=years * 365.2425)
    assert abs(found.replace_by - by_days) <= timedelta(days=2)


def test_a_part_put_in_on_a_leap_day_is_due_on_the_28th() -> None:
    leap_day = date(2024, 2, 29)
    assert estimate(part(installed_on=leap_day, declared_years=5.0)).replace_by == date(2029, 2, 28)
    assert estimate(part(installed_on=leap_day, declared_years=4.0)).replace_by == date(2028, 2, 29)


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


@pytest.mark.parametrize(("declared", "years"), DECLARED, ids=str)
def test_the_makers_figure_is_taken_when_it_is_a_life_in_years(
    declared: dict[str, object], years: float | None
) -> None:
    assert declared_years(declared) == years


def test_the_makers_figure_takes_the_place_of_the_assumed_one_and_says_so() -> None:
    own, assumed = estimate(part(declared_years=8.0)), estimate(part())
    assert own.replace_by == date(2028, 5, 14)
    assert "8 years by the maker's figure" in own.reason
    assert "5 years as parts of this kind usually do" in assumed.reason
    origins = {item.name: item.origin for item in own.inputs}
    assert origins["Expected life"] == "declared by the maker"
    assert {item.name: item.origin for item in assumed.inputs}["Expected life"] == "assumed"
    assert not any("assumed" in caution for caution in own.cautions)
    assert "The expected life of 5 years is assumed; the maker's figure is not on record." in assumed.cautions


def test_every_estimate_from_age_says_in_one_sentence_why() -> None:
    assert estimate(part("primary_pump")).reason == (
        "In since May 14, 2020; a primary pump lasts about 10 years as parts of this kind usually do, "
        "so replace it by May 14, 2030."
    )


FOUND_ON = date(2024, 5, 10)
A_YEAR_ON = FOUND_ON + relativedelta(years=1)
CASES: tuple[tuple[str, float | None, str, str, date], ...] = (
    # kind, declared years, found, what governs, replace by
    ("battery", None, "good", "age", date(2025, 5, 14)),
    ("battery", None, "unknown", "age", date(2025, 5, 14)),
    ("battery", None, "watch", "found weak", A_YEAR_ON),
    ("battery", 4.0, "watch", "age", date(2024, 5, 14)),
    ("battery", None, "bad", "found bad", FOUND_ON),
    ("battery", 4.0, "bad", "found bad", FOUND_ON),
    ("battery", 2.0, "bad", "found bad", FOUND_ON),
    ("primary_pump", None, "watch", "found weak", A_YEAR_ON),
    ("primary_pump", None, "bad", "found bad", FOUND_ON),
    ("standby_pump", None, "good", "age", date(2030, 5, 14)),
)


@pytest.mark.parametrize(("kind", "years", "condition", "governing", "replace_by"), CASES)
def test_what_was_found_moves_the_date_forward_and_never_back(
    kind: str, years: float | None, condition: str, governing: str, replace_by: date
) -> None:
    found = Found(condition=condition, sentence="Reads 11.8 V", on=FOUND_ON)
    result = estimate(part(kind, declared_years=years, found=found))
    assert (result.governing, result.replace_by) == (governing, replace_by)
    assert result.earliest <= result.replace_by <= result.latest


def test_a_bad_part_is_replaced_now_and_age_has_no_say_in_it() -> None:
    result = estimate(part(found=Found(condition="bad", sentence="Reads 11.8 V", on=FOUND_ON)))
    assert result.reason == "The battery was found bad on May 10, 2024: Reads 11.8 V. Replace it now."
    assert (result.earliest, result.latest) == (FOUND_ON, FOUND_ON)
    assert result.cautions == ()


def test_a_weak_part_is_replaced_within_a_year_and_the_year_is_named_as_practice() -> None:
    result = estimate(part(found=Found(condition="watch", sentence="Reads 12.1 V.", on=FOUND_ON)))
    assert result.reason == (
        "The battery was found weak on May 10, 2024: Reads 12.1 V. "
        "Replace it by May 10, 2025, at the next yearly check-up at the latest."
    )
    assert (result.earliest, result.latest) == (FOUND_ON, date(2025, 5, 14))
    assert "One year for a part found weak is common practice; no source gives a figure." in result.cautions
    assert not any("age alone" in caution for caution in result.cautions)
    assert result.inputs[-1].origin == "measured"


def test_a_finding_without_words_still_makes_a_sentence() -> None:
    result = estimate(part(found=Found(condition="bad", sentence=" ", on=FOUND_ON)))
    assert result.reason == "The battery was found bad on May 10, 2024. Replace it now."


def test_a_kind_whose_life_is_not_estimated_has_no_date() -> None:
    with pytest.raises(ValueError, match="'liner' is not estimated"):
        estimate(part("liner"))
