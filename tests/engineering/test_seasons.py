"""Melt, monthly inflow and the months for a check-up."""

import math
from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from contractor.engineering.errors import BadInput, Caution
from contractor.engineering.seasons import (
    best_checkup_months,
    inflow_weights,
    melt_mm,
    monthly_evapotranspiration_mm,
    quarter_start_before,
    season_day_after,
    season_years,
    wettest_quarter,
)

INCH_MM = 25.4
# An invented town of the northern United States: wet all year, snow from December to February.
RAIN = [80, 70, 90, 95, 100, 105, 100, 95, 90, 85, 85, 85]
TEMPERATURE = [-4, -3, 3, 9, 15, 20, 22, 21, 17, 11, 5, -1]
EVEN = [1 / 12] * 12
WET_SPRING = [0.10, 0.12, 0.18, 0.16, 0.10, 0.06, 0.04, 0.03, 0.04, 0.05, 0.06, 0.06]


@pytest.mark.parametrize(
    ("inches_per_f_day", "fahrenheit", "inches_a_day"),
    # Degree-day method, M = C·(Ta − 32 °F): computed; C = 0.06 is NEH 630's (from memory).
    [(0.06, 40, 0.48), (0.06, 50, 1.08), (0.10, 45, 1.30), (0.06, 30, 0.0)],
)
def test_melt_is_that_of_the_degree_day_method(inches_per_f_day: float, fahrenheit: float, inches_a_day: float) -> None:
    factor = inches_per_f_day * INCH_MM * 1.8
    melted = melt_mm((fahrenheit - 32) / 1.8, 1000.0, factor_mm_per_c_day=factor)
    assert melted / INCH_MM == pytest.approx(inches_a_day, abs=1e-9)


def test_the_default_melt_factor_lies_between_forest_and_open_field() -> None:
    """Kuusisto (1980), abstract read: 2.42 mm per °C and day in forest, 3.51 in the open."""
    assert 2.42 < melt_mm(1.0, 100.0) < 3.51


def test_no_more_melts_than_lies_there() -> None:
    assert melt_mm(10.0, 5.0, days=30) == 5.0
    with pytest.warns(Caution, match="above 6 mm"):
        melt_mm(1.0, 100.0, factor_mm_per_c_day=8.0)


def test_evapotranspiration_is_that_of_thornthwaite_by_hand() -> None:
    """Thornthwaite (1948), from memory: every month 26.5 °C at the equator gives I = 12·5.3^1.514 and 12 h days."""
    index = 12 * (26.5 / 5) ** 1.514
    power = 6.75e-7 * index**3 - 7.71e-5 * index**2 + 0.01792 * index + 0.49239
    expected = 16 * (265 / index) ** power * 31 / 30
    assert monthly_evapotranspiration_mm([26.5] * 12, 0.0)[0] == pytest.approx(expected, rel=1e-6)


def test_long_summer_days_take_more_water_and_the_other_hemisphere_mirrors_them() -> None:
    steady = monthly_evapotranspiration_mm([15] * 12, 41.0)
    assert steady.argmax() in {5, 6}
    assert steady[5] / steady[11] == pytest.approx(15.1 / 9.2, rel=0.05)  # day lengths at 41° (almanac, from memory)
    assert monthly_evapotranspiration_mm([15] * 12, -41.0).argmax() in {0, 11}
    assert monthly_evapotranspiration_mm([-5] * 12).tolist() == [0.0] * 12
    with pytest.warns(Caution, match=r"26\.5"):
        monthly_evapotranspiration_mm([28] * 12)


def test_snow_waits_for_the_thaw_and_the_year_adds_up() -> None:
    weights = inflow_weights(RAIN, TEMPERATURE, evapotranspiration_mm=[0] * 12)
    assert weights.sum() == pytest.approx(1.0)
    assert weights[0] == weights[1] == weights[11] == 0
    winter_snow = 80 + 70 + 85
    assert weights[2] == pytest.approx((90 + winter_snow) / sum(RAIN))  # 3 °C for 31 days melts 255 mm: all of it
    assert weights[5] == pytest.approx(105 / sum(RAIN))


def test_snow_that_does_not_all_melt_in_a_month_melts_in_the_next() -> None:
    weights = inflow_weights(
        [100] * 12, [-8, -6, 1.5, 9, 15, 20, 22, 21, 17, 11, 5, -1], evapotranspiration_mm=[0] * 12
    )
    melted_in_march = 2.74 * 1.5 * 31
    assert weights[2] == pytest.approx((100 + melted_in_march) / 1200)
    assert weights[3] == pytest.approx((100 + 300 - melted_in_march) / 1200)


def test_a_dry_summer_gets_little_weight_and_early_spring_much() -> None:
    weights = inflow_weights(RAIN, TEMPERATURE)
    assert wettest_quarter(weights) in {(2, 3, 4), (3, 4, 5)}
    assert weights[6] < weights[9] < weights[2]


def test_where_nothing_is_left_over_every_month_counts_the_same() -> None:
    with pytest.warns(Caution, match="No month has water left over"):
        weights = inflow_weights([10] * 12, [25] * 12)
    assert weights.tolist() == EVEN


def test_many_houses_are_weighted_at_once() -> None:
    both = inflow_weights([RAIN, RAIN[::-1]], TEMPERATURE)
    assert both.shape == (2, 12)
    assert both[0].tolist() == pytest.approx(inflow_weights(RAIN, TEMPERATURE).tolist())


@given(
    rain=st.lists(st.floats(0, 300), min_size=12, max_size=12),
    temperature=st.lists(st.floats(-20, 26), min_size=12, max_size=12),
)
@settings(max_examples=60)
@pytest.mark.filterwarnings("ignore::contractor.engineering.errors.Caution")
def test_weights_are_parts_of_a_year(rain: list[float], temperature: list[float]) -> None:
    weights = inflow_weights(rain, temperature)
    assert (weights >= 0).all()
    assert weights.sum() == pytest.approx(1.0)


def test_a_wettest_quarter_may_run_over_new_year() -> None:
    weights = np.array(EVEN)
    weights[[11, 0, 1]] += 0.1
    assert wettest_quarter(weights / weights.sum()) == (12, 1, 2)


def test_a_check_up_comes_before_the_wettest_quarter_and_before_first_frost() -> None:
    """A state university's extension (read): test before snowmelt. The frost limit is common practice, no source."""
    season = best_checkup_months(WET_SPRING, TEMPERATURE)
    assert season.wettest_quarter == (2, 3, 4)
    assert season.first_frost_month == 11
    assert season.months == (1, 10)
    assert season.cautions == ()


@pytest.mark.parametrize(
    ("temperature", "frost", "months"),
    [
        ([15] * 12, None, (1,)),
        ([-10] * 12, None, (1,)),
        ([3, 8, 9, 12, 15, 20, 22, 21, 17, 12, 9, 8], 1, (1, 12)),
        ([3, 2, 3, 9, 15, 20, 22, 21, 17, 11, 8, 7], 1, (1, 12)),
        ([3, 2, 3, 9, 15, 20, 22, 21, 17, 11, 8, 6.9], 12, (1, 11)),
        ([-8, -6, 0, 5, 10, 15, 17, 16, 11, 6, 0, -5], 10, (1, 9)),
        ([9, 8, 6, 9, 15, 20, 22, 21, 17, 13, 11, 10], 3, (1, 2)),
    ],
)
def test_the_first_frost_is_the_first_cold_month_after_summer(
    temperature: list[float], frost: int | None, months: tuple[int, ...]
) -> None:
    season = best_checkup_months(WET_SPRING, temperature)
    assert season.first_frost_month == frost
    assert season.months == months


def test_a_month_that_serves_both_is_named_once_and_an_even_year_is_cautioned() -> None:
    late = np.roll(WET_SPRING, -3)  # wettest November to January
    assert best_checkup_months(late, TEMPERATURE).months == (10,)
    assert "arbitrary" in best_checkup_months(EVEN, TEMPERATURE).cautions[0]


@given(
    start_days=st.integers(0, 4000),
    length_days=st.integers(0, 8000),
    weights=st.sampled_from([EVEN, WET_SPRING]),
)
@settings(max_examples=80)
def test_the_day_after_some_season_years_is_their_inverse(
    start_days: int, length_days: int, weights: list[float]
) -> None:
    start = date(2015, 1, 1) + timedelta(days=start_days)
    end = start + timedelta(days=length_days)
    assert season_day_after(start, season_years(start, end, weights), weights) == end


def test_a_whole_year_counts_one_from_any_day_and_a_wet_month_its_weight() -> None:
    for month in range(1, 13):
        assert season_years(date(2025, month, 15), date(2026, month, 15), WET_SPRING) == pytest.approx(1.0)
    assert season_years(date(2025, 3, 1), date(2025, 4, 1), WET_SPRING) == pytest.approx(0.18)
    assert season_day_after(date(2025, 1, 1), 1000.0, EVEN) == date(2085, 1, 1)


def test_the_start_of_the_quarter_that_a_day_falls_into() -> None:
    assert quarter_start_before(date(2026, 3, 20), (2, 3, 4)) == date(2026, 2, 1)
    assert quarter_start_before(date(2026, 12, 20), (12, 1, 2)) == date(2026, 12, 1)
    assert quarter_start_before(date(2026, 5, 1), (2, 3, 4)) is None


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (
            lambda: inflow_weights([1, 2], TEMPERATURE),
            "rain_mm must have twelve months, January first, along its last axis, but is [1.0, 2.0].",
        ),
        (lambda: inflow_weights([-1] * 12, TEMPERATURE), "rain_mm must not be negative, but is -1.0."),
        (lambda: melt_mm(math.inf, 1), "temperature_c must be an ordinary number, but is inf."),
        (
            lambda: wettest_quarter([0.1] * 12),
            f"weights must be twelve parts of a year that add up to 1, but is {[0.1] * 12}.",
        ),
        (
            lambda: monthly_evapotranspiration_mm(15.0),
            "temperature_c must have twelve months, January first, along its last axis, but is 15.0.",
        ),
        (lambda: monthly_evapotranspiration_mm([15] * 12, 75), "latitude_deg must lie from -60 to 60, but is 75.0."),
        (
            lambda: season_years(date(2026, 1, 2), date(2026, 1, 1), EVEN),
            "end must not be before the start, 2026-01-02, but is 2026-01-01.",
        ),
        (lambda: season_day_after(date(2026, 1, 2), -1, EVEN), "years must not be negative, but is -1.0."),
    ],
)
def test_bad_input_is_refused_in_one_sentence_that_names_it(call, sentence: str) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(BadInput) as refusal:
        call()
    assert str(refusal.value) == sentence
