"""Wear, age and flow of a pump against handbook values, and the outlook with its sentence."""

import math
from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from contractor.engineering.errors import BadInput
from contractor.engineering.outlook import Governing
from contractor.engineering.pit import pump_cycle
from contractor.engineering.pump_life import Outlook, failure_probability, flow_trend, pump_outlook, wear

GALLON = 231 * 0.0254**3
GPM = GALLON / 60
YEAR_H = 8766.0
INSTALLED = date(2020, 4, 1)
TODAY = date(2026, 4, 1)
WET_SPRING = [0.10, 0.12, 0.18, 0.16, 0.10, 0.06, 0.04, 0.03, 0.04, 0.05, 0.06, 0.06]


def outlook(**given_values: object) -> Outlook:
    usual: dict[str, object] = {"installed_on": INSTALLED, "on": TODAY}
    return pump_outlook(**(usual | given_values))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("inflow_gpm", "hours", "starts"),
    # Computed by hand: a year at constant inflow, 8.8 gal between floats, 40 gpm pump.
    [(0.5, 109.6, 29_511), (1, 219.2, 58_274), (2, 438.3, 113_560), (5, 1_095.8, 261_486), (10, 2_191.5, 448_261)],
)
def test_a_year_of_inflow_makes_many_starts_and_few_hours(inflow_gpm: float, hours: float, starts: float) -> None:
    cycle = pump_cycle(inflow_gpm * GPM, 40 * GPM, 8.8 * GALLON)
    assert cycle.duty * YEAR_H == pytest.approx(hours, rel=1e-3)
    assert cycle.starts_per_hour * YEAR_H == pytest.approx(starts, rel=1e-3)


def test_a_hundred_thousand_cycle_switch_lasts_under_two_years_at_one_gallon_a_minute() -> None:
    """Computed: 58 274 starts a year use up 100 000 in 1.7 years while the pump runs 219 h a year."""
    used = wear(run_hours=219.2, starts=58_274, rated_hours=10_000, rated_starts=100_000)
    assert used.governing == "starts"
    assert used.fraction == pytest.approx(219.2 / 10_000 + 0.58274)
    assert 1.7 * used.fraction == pytest.approx(1.0, abs=0.04)


@pytest.mark.parametrize(
    ("load_kn", "million_turns", "hours"),
    # ISO 281 worked example (second hand): C = 30 kN at 1500 rpm.
    [(5.0, 216, 2_400), (3.0, 1_000, 11_111)],
)
def test_wear_reaches_one_at_the_rated_life_of_a_bearing(load_kn: float, million_turns: float, hours: float) -> None:
    rated_hours = (30 / load_kn) ** 3 * 1e6 / (60 * 1500)
    assert (rated_hours * 60 * 1500 / 1e6, rated_hours) == (pytest.approx(million_turns), pytest.approx(hours, abs=1))
    assert wear(hours, 0, rated_hours, 1).fraction == pytest.approx(1.0, abs=1e-4)


@given(hours=st.floats(0, 1e4), starts=st.floats(0, 1e6), more_hours=st.floats(0, 1e4), more_starts=st.floats(0, 1e6))
@settings(max_examples=60)
def test_wear_never_falls(hours: float, starts: float, more_hours: float, more_starts: float) -> None:
    before = wear(hours, starts, 8_000, 100_000).fraction
    assert wear(hours + more_hours, starts + more_starts, 8_000, 100_000).fraction >= before


def test_a_count_or_rating_that_is_missing_is_left_out_and_said() -> None:
    used = wear(None, 50_000, 8_000, None)
    assert used.fraction == 0
    assert used.governing == "nothing counted"
    assert used.cautions == (
        "No counter of run hours was read: that wear is left out.",
        "The maker's rating in starts is not known: that wear is left out.",
    )


def test_the_wear_of_many_pumps_is_computed_at_once() -> None:
    used = wear(np.array([4_000.0, 100.0, 0.0]), np.array([10_000.0, 50_000.0, 0.0]), 8_000, 100_000)
    assert np.asarray(used.fraction).tolist() == pytest.approx([0.6, 0.5125, 0.0])
    assert np.asarray(used.governing).tolist() == ["run hours", "starts", "nothing counted"]


@pytest.mark.parametrize(
    ("age", "horizon", "shape", "scale", "probability"),
    [
        # Computed: scale 10 years.
        (5, 0.5, 2, 10, 0.0511),
        (5, 1, 2, 10, 0.1042),
        (0, 0.5, 1.2, 10, 0.0271),
        (5, 0.5, 1.2, 10, 0.0514),
        # NIST/SEMATECH e-Handbook 8.4.1.3 fit (shape 1.7208, scale 606.528 h); the probabilities are computed.
        (100, 50, 1.7207967, 606.5276, 0.04436),
        (300, 100, 1.7207967, 606.5276, 0.17366),
        (500, 100, 1.7207967, 606.5276, 0.23227),
    ],
)
def test_the_chance_of_failing_soon_agrees_with_separate_computations(
    age: float, horizon: float, shape: float, scale: float, probability: float
) -> None:
    ours = failure_probability(age, horizon, shape, scale)
    assert ours == pytest.approx(probability, abs=6e-5)
    life = stats.weibull_min(shape, scale=scale)
    assert ours == pytest.approx(1 - life.sf(age + horizon) / life.sf(age), rel=1e-9)


@pytest.mark.parametrize(
    ("scale_h", "mean", "tenth", "median"),
    # A published database of industrial running hours, shape 1.2 (second hand); the last two are computed.
    [(35_000, 32_923, 5_366, 25_788), (100_000, 94_066, 15_331, None), (50_000, 47_033, 7_665, None)],
)
def test_the_same_weibull_law_gives_the_published_means(
    scale_h: float, mean: float, tenth: float, median: float | None
) -> None:
    ages = np.linspace(0, 12 * scale_h, 400_001)
    survival = 1 - np.asarray(failure_probability(0, ages, 1.2, scale_h))
    assert np.trapezoid(survival, ages) == pytest.approx(mean, rel=1e-3)
    assert failure_probability(0, tenth, 1.2, scale_h) == pytest.approx(0.1, abs=1e-4)
    if median is not None:
        assert failure_probability(0, median, 1.2, scale_h) == pytest.approx(0.5, abs=1e-4)


@given(
    age=st.floats(0, 40),
    horizon=st.floats(0, 20),
    more=st.floats(0, 20),
    shape=st.floats(0.5, 5),
    scale=st.floats(1, 40),
)
@settings(max_examples=80)
def test_the_chance_of_failing_lies_between_0_and_1_and_grows_with_the_horizon(
    age: float, horizon: float, more: float, shape: float, scale: float
) -> None:
    sooner = failure_probability(age, horizon, shape, scale)
    later = failure_probability(age, horizon + more, shape, scale)
    assert 0 <= sooner <= later <= 1


def test_a_flow_trend_is_scipys_theil_sen_and_one_bad_reading_does_not_turn_it() -> None:
    days = np.array([0, 365, 731, 1096, 1461])
    ratio = np.array([1.0, 0.97, 0.94, 0.91, 0.88])
    trend = flow_trend(days, ratio)
    reference = stats.theilslopes(ratio, days)
    assert trend.slope_per_year == pytest.approx(reference.slope * 365.25)
    assert (trend.low, trend.high) == (
        pytest.approx(reference.low_slope * 365.25),
        pytest.approx(reference.high_slope * 365.25),
    )
    spoilt = flow_trend(days, [1.0, 0.97, 0.55, 0.91, 0.88])
    assert spoilt.slope_per_year == pytest.approx(-0.03, abs=0.01)
    assert trend.at(0) == pytest.approx(1.0, abs=2e-3)
    assert trend.cautions == ()


def test_a_trend_reaches_a_level_and_gives_the_range() -> None:
    trend = flow_trend([0, 365.25, 730.5, 1095.75], [1.0, 0.95, 0.92, 0.85])
    crossing = trend.reaches(0.7)
    assert crossing is not None
    assert trend.at(crossing.day) == pytest.approx(0.7)
    assert crossing.latest_day is not None
    assert crossing.earliest_day < crossing.day < crossing.latest_day


@pytest.mark.parametrize(
    ("days", "ratio", "slope", "words"),
    [([0], [0.9], 0.0, "there is one only"), ([0, 365.25], [1.0, 0.9], -0.1, "there are two only")],
)
def test_fewer_than_three_visits_give_a_caution_and_no_interval(
    days: list[float], ratio: list[float], slope: float, words: str
) -> None:
    trend = flow_trend(days, ratio)
    assert trend.slope_per_year == pytest.approx(slope)
    assert (trend.low, trend.high) == (None, None)
    assert words in trend.cautions[0]
    crossing = trend.reaches(0.7)
    if slope == 0:
        assert crossing is None
    else:
        assert crossing is not None
        assert crossing.earliest_day == crossing.day == crossing.latest_day == pytest.approx(3 * 365.25)


def test_with_nothing_measured_the_age_rule_decides_and_says_so() -> None:
    """Median 10 years: ASHRAE, a home builders' list and an appraisal table agree (second hand)."""
    result = outlook()
    assert result.governing is Governing.AGE
    assert result.replace_by == INSTALLED + timedelta(days=3652)
    assert result.reason == (
        "Nothing has been measured, so the age rule decides: half of such pumps have failed at 10 years, a quarter at "
        "6.4 years; this one is 6 years old."
    )
    assert result.cautions == (
        "The model's own life is not known; the age rule of 10 years for sump pumps is assumed.",
        "Nothing has been measured on this pump: its flow, run hours and starts tell more than its age.",
    )
    scale = 10 / math.sqrt(math.log(2))
    for day, part in ((result.earliest, 0.25), (result.replace_by, 0.5), (result.latest, 0.75)):
        years = (day - INSTALLED).days / 365.25
        assert failure_probability(0, years, 2.0, scale) == pytest.approx(part, abs=2e-3)


def test_starts_can_govern_and_the_reason_counts_them() -> None:
    result = outlook(starts=75_000, rated_starts=100_000, run_hours=500, rated_hours=100_000)
    assert result.governing is Governing.STARTS
    assert result.replace_by == date(2028, 4, 1) - timedelta(days=19)  # 0.755 in 6 years: used up after 7.947 years
    assert result.reason == (
        "It has used 76% of its rated life, mostly by starts, in 6 years; at that pace it is used up about March 2028."
    )
    assert result.earliest < result.replace_by < result.latest


def test_run_hours_can_govern() -> None:
    result = outlook(run_hours=7_000, rated_hours=8_000, expected_years=12.0)
    assert result.governing is Governing.RUN_HOURS
    assert result.replace_by == date(2027, 2, 9)  # 0.875 in 6 years: used up after 6 years and 10.29 months
    assert result.cautions == ("No counter of starts was read: that wear is left out.",)


def test_counts_without_ratings_do_not_set_a_date_but_say_so() -> None:
    result = outlook(starts=300_000)
    assert result.governing is Governing.AGE
    assert "The maker's rating in starts is not known: that wear is left out." in result.cautions
    assert not result.reason.startswith("Nothing has been measured")


def test_counters_that_cover_a_short_or_dry_time_are_cautioned() -> None:
    soon = outlook(installed_on=date(2026, 3, 1), starts=5_000, rated_starts=100_000)
    assert any("less than a quarter of a year" in caution for caution in soon.cautions)
    today = outlook(installed_on=TODAY, starts=50, rated_starts=100_000)
    assert any("on the day of installation" in caution for caution in today.cautions)
    dry = outlook(
        installed_on=date(2025, 7, 1),
        counted_on=date(2025, 8, 1),
        starts=2_000,
        rated_starts=100_000,
        month_weights=[1 / 11] * 6 + [0.0] + [1 / 11] * 5,
    )
    assert dry.replace_by == date(2029, 9, 1)  # 2 % a month: 50 months, counted evenly


def test_the_range_of_wear_is_a_fifth_either_way() -> None:
    """Common practice, no source: a maker's hours and starts are good to a fifth.

    By hand: half used up in five years, so all in ten; four fifths of it in eight and six fifths in twelve.
    """
    result = outlook(on=date(2025, 4, 1), starts=50_000, rated_starts=100_000, expected_years=40.0)
    assert (result.earliest, result.replace_by, result.latest) == (
        date(2028, 4, 1),
        date(2030, 4, 1),
        date(2032, 4, 1),
    )


def test_wear_is_paced_by_the_months_that_were_counted() -> None:
    """By hand: April to June bring 0.32 of a year's water and used 0.128, so all lasts 2.5 years of water: two years
    from April, 0.48 by October and a third of November's 0.06.
    """
    result = outlook(
        installed_on=date(2025, 4, 1),
        on=date(2025, 7, 1),
        starts=12_800,
        rated_starts=100_000,
        month_weights=WET_SPRING,
    )
    assert result.governing is Governing.STARTS
    assert result.replace_by == date(2027, 11, 11)
    assert not any("less than a quarter" in caution for caution in result.cautions)
    evenly = outlook(installed_on=date(2025, 4, 1), on=date(2025, 7, 1), starts=12_800, rated_starts=100_000)
    assert evenly.replace_by < date(2027, 4, 1)  # taken evenly, three months are a quarter: used up in 1.95 years


@pytest.mark.parametrize(("counted_on", "is_short"), [(date(2025, 3, 30), True), (date(2025, 4, 2), False)])
def test_counters_of_less_than_a_quarter_of_a_year_are_cautioned(counted_on: date, is_short: bool) -> None:
    result = outlook(installed_on=date(2025, 1, 1), counted_on=counted_on, starts=5_000, rated_starts=100_000)
    assert any("less than a quarter of a year's pumping" in caution for caution in result.cautions) is is_short


def test_counters_read_earlier_give_the_pace_of_the_time_until_then() -> None:
    """By hand: half used up in the first two years of six, so all in four, which were over two years ago."""
    result = outlook(counted_on=date(2022, 4, 1), starts=50_000, rated_starts=100_000)
    assert result.replace_by == date(2024, 4, 1)
    assert "used 50% of its rated life, mostly by starts, in 2 years" in result.reason


def test_counters_read_on_the_day_of_installation_do_not_mean_now() -> None:
    new = outlook(installed_on=date(2026, 4, 1), on=date(2026, 4, 1), starts=50, rated_starts=100_000)
    assert (new.governing, new.replace_by) == (Governing.AGE, date(2026, 4, 1) + timedelta(days=3652))


def test_counters_of_nothing_at_all_set_no_date() -> None:
    result = outlook(starts=0, rated_starts=100_000, run_hours=0, rated_hours=8_000)
    assert (result.governing, result.cautions[1:]) == (Governing.AGE, ())


def test_equal_shares_of_hours_and_starts_are_put_to_the_starts() -> None:
    used = wear(4_000, 50_000, 8_000, 100_000)
    assert (used.governing, type(used.governing)) == ("starts", str)
    assert wear(4_001, 50_000, 8_000, 100_000).governing == "run hours"


def test_a_maker_s_life_and_shape_replace_the_age_rule() -> None:
    """By hand for shape 1 (no wear-out): a quarter of 12 years' median fail by 12·ln(4/3)/ln 2 = 4.98 years."""
    result = outlook(expected_years=12.0, shape=1.0)
    assert result.replace_by == INSTALLED + timedelta(days=round(12 * 365.25))
    assert result.earliest == INSTALLED + timedelta(days=round(12 * math.log(4 / 3) / math.log(2) * 365.25))
    assert result.latest == INSTALLED + timedelta(days=round(24 * 365.25))  # three quarters: twice the median
    assert len(result.cautions) == 1


def test_a_flow_of_the_least_ratio_is_replaced_now_and_one_above_is_not() -> None:
    """Common practice, no source: a pump below seven tenths of its new flow is replaced."""
    on_the_line = outlook(flow_visits=[(date(2026, 3, 20), 0.70)])
    assert (on_the_line.governing, on_the_line.replace_by) == (Governing.FLOW, date(2026, 3, 20))
    assert outlook(flow_visits=[(date(2026, 3, 20), 0.701)]).governing is Governing.AGE
    assert outlook(flow_visits=[(date(2026, 3, 20), 0.701)], least_flow_ratio=0.75).governing is Governing.FLOW


def test_the_range_of_a_falling_flow_is_sens_interval() -> None:
    """The day, its earliest and latest are those of SciPy's Theil–Sen slope and interval through the medians."""
    days = [300, 600, 900, 1200, 1500, 1800]
    ratio = [0.985, 0.968, 0.957, 0.938, 0.925, 0.906]
    fit = stats.theilslopes(ratio, days)
    middle_day, middle = float(np.median(days)), float(np.median(ratio))
    visits = [(INSTALLED + timedelta(days=d), r) for d, r in zip(days, ratio, strict=True)]
    result = outlook(flow_visits=visits, expected_years=55.0)
    assert result.governing is Governing.FLOW
    for found, slope in (
        (result.earliest, fit.low_slope),
        (result.replace_by, fit.slope),
        (result.latest, fit.high_slope),
    ):
        assert abs((found - INSTALLED).days - (middle_day + (0.70 - middle) / slope)) <= 1


def test_a_date_that_moves_before_the_wet_season_takes_its_earliest_with_it() -> None:
    """Three visits in a straight line leave no range: 0.90, 0.84, 0.78 reach 0.70 on about August 1, 2027."""
    visits = [(date(2024, 4, 1), 0.90), (date(2025, 4, 1), 0.84), (date(2026, 4, 1), 0.78)]
    dry = outlook(flow_visits=visits, expected_years=55.0)
    august_is_wet = np.roll(WET_SPRING, 5)  # wettest July to September
    wet = outlook(flow_visits=visits, month_weights=august_is_wet, expected_years=55.0)
    assert (dry.earliest, dry.replace_by) == (date(2027, 8, 1), date(2027, 8, 1))
    assert (wet.earliest, wet.replace_by) == (date(2027, 6, 30), date(2027, 6, 30))
    assert wet.reason == f"{dry.reason} Replace it before the wettest months, July to September."
    assert (wet.latest, wet.governing, wet.cautions) == (dry.latest, dry.governing, dry.cautions)


def test_a_date_of_today_in_the_wet_season_stays_without_a_word() -> None:
    today = outlook(installed_on=date(2016, 4, 1), month_weights=WET_SPRING)
    assert today.replace_by == TODAY
    assert "wettest" not in today.reason


def test_a_date_two_days_into_the_future_of_a_wet_season_becomes_today() -> None:
    soon = outlook(installed_on=date(2016, 4, 3), month_weights=WET_SPRING)
    assert soon.replace_by == TODAY
    assert soon.reason.endswith("February to April.")


def test_a_wet_season_moves_the_date_before_itself_and_says_so() -> None:
    even = outlook(starts=75_000, rated_starts=100_000)
    wet = outlook(starts=75_000, rated_starts=100_000, month_weights=WET_SPRING)
    assert even.replace_by == date(2028, 4, 1)
    assert wet.replace_by == date(2028, 1, 31)
    assert wet.reason.endswith("Replace it before the wettest months, February to April.")
    assert wet.earliest <= wet.replace_by <= wet.latest


def test_within_the_wet_season_the_date_is_today_and_a_past_date_is_not_moved() -> None:
    during = outlook(installed_on=date(2016, 4, 20), on=date(2026, 4, 1), month_weights=WET_SPRING)
    assert during.replace_by == date(2026, 4, 1)
    past = outlook(installed_on=date(2014, 3, 15), month_weights=WET_SPRING)
    assert past.replace_by == date(2024, 3, 14)
    dry = outlook(installed_on=date(2016, 8, 1), month_weights=WET_SPRING)
    assert "wettest" not in dry.reason


def test_a_flow_measured_below_the_least_means_now() -> None:
    result = outlook(flow_visits=[(date(2026, 3, 20), 0.66)])
    assert result.governing is Governing.FLOW
    assert result.replace_by == date(2026, 3, 20)
    assert result.reason == "On March 20, 2026 it moved 66% of its new flow; at 70% or less it is replaced."


def test_a_falling_flow_of_three_visits_governs_and_names_its_pace() -> None:
    visits = [(date(2024, 4, 1), 0.90), (date(2025, 4, 1), 0.84), (date(2026, 4, 1), 0.78)]
    result = outlook(flow_visits=visits)
    assert result.governing is Governing.FLOW
    assert result.replace_by == date(2027, 8, 1)
    assert result.reason == (
        "Its measured flow falls by 6% of the new flow a year, 78% on April 1, 2026, and reaches 70% about August 2027."
    )
    stricter = outlook(flow_visits=visits, least_flow_ratio=0.75)
    assert stricter.replace_by < result.replace_by


def test_two_visits_or_a_steady_flow_leave_the_age_in_charge() -> None:
    two = outlook(flow_visits=[(date(2025, 4, 1), 0.95), (date(2026, 4, 1), 0.80)])
    assert two.governing is Governing.AGE
    assert any("three visits or more" in caution for caution in two.cautions)
    steady = outlook(flow_visits=[(date(2024 + year, 4, 1), 0.95) for year in range(3)])
    assert steady.governing is Governing.AGE


def test_a_ragged_flow_whose_flat_end_never_falls_has_the_age_rules_end() -> None:
    visits = [(date(2023, 4, 1), 0.80), (date(2024, 4, 1), 0.90), (date(2025, 4, 1), 0.74), (date(2026, 4, 1), 0.72)]
    result = outlook(flow_visits=visits)
    assert result.governing is Governing.FLOW
    assert result.latest == outlook().latest


@given(
    age_days=st.integers(0, 6000),
    older_days=st.integers(0, 3000),
    starts=st.integers(0, 300_000),
    more=st.integers(0, 300_000),
    weights=st.sampled_from([None, WET_SPRING]),
)
@settings(max_examples=60)
def test_an_older_or_busier_pump_is_never_replaced_later(
    age_days: int, older_days: int, starts: int, more: int, weights: list[float] | None
) -> None:
    installed = TODAY - timedelta(days=age_days)
    plain = outlook(installed_on=installed, month_weights=weights)
    assert (
        outlook(installed_on=installed - timedelta(days=older_days), month_weights=weights).replace_by
        <= plain.replace_by
    )
    counted = outlook(installed_on=installed, starts=starts, rated_starts=100_000, month_weights=weights)
    busier = outlook(installed_on=installed, starts=starts + more, rated_starts=100_000, month_weights=weights)
    assert busier.replace_by <= counted.replace_by <= plain.replace_by
    assert counted.earliest <= counted.replace_by <= counted.latest


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (lambda: wear(-1, 0, 1, 1), "run_hours must not be negative, but is -1.0."),
        (lambda: wear(1, 0, 0, 1), "rated_hours must be greater than zero, but is 0.0."),
        (lambda: failure_probability(-1, 1, 2, 10), "age_years must not be negative, but is -1.0."),
        (lambda: flow_trend([0, 1], [1.0]), "days must be as many as flow_ratio (1) and at least one, but is 2."),
        (lambda: flow_trend([], []), "days must be as many as flow_ratio (0) and at least one, but is 0."),
        (lambda: flow_trend([0, 0], [1.0, 0.9]), "days must not name a day twice, but is [0.0, 0.0]."),
        (lambda: flow_trend([0, 1, 2], [1.0, math.nan, 1]), "flow_ratio must be an ordinary number, but is nan."),
        (
            lambda: outlook(counted_on=date(2026, 4, 2)),
            "counted_on must lie from 2020-04-01, the installation, to 2026-04-01, but is 2026-04-02.",
        ),
        (
            lambda: outlook(counted_on=date(2020, 3, 31)),
            "counted_on must lie from 2020-04-01, the installation, to 2026-04-01, but is 2020-03-31.",
        ),
        (lambda: wear(1, -1, 1, 1), "starts must not be negative, but is -1.0."),
        (lambda: wear(1, 1, 1, 0), "rated_starts must be greater than zero, but is 0.0."),
        (lambda: wear(None, 1, -1, 1), "rated_hours must be greater than zero, but is -1.0."),
        (lambda: failure_probability(1, 1, 0, 10), "shape must be greater than zero, but is 0.0."),
        (lambda: failure_probability(1, 1, 2, 0), "scale_years must be greater than zero, but is 0.0."),
        (lambda: failure_probability(1, -1, 2, 10), "horizon_years must not be negative, but is -1.0."),
        (lambda: flow_trend([0, 1, 2], [1.0, -0.2, 1]), "flow_ratio must not be negative, but is -0.2."),
        (lambda: outlook(expected_years=0), "expected_years must be greater than zero, but is 0.0."),
        (lambda: outlook(shape=-2), "shape must be greater than zero, but is -2.0."),
        (
            lambda: outlook(installed_on=date(2026, 4, 2)),
            "installed_on must not be after the day of the estimate, 2026-04-01, but is 2026-04-02.",
        ),
        (
            lambda: outlook(flow_visits=[(date(2019, 1, 1), 0.9)]),
            "flow_visits must be read from 2020-04-01, the installation, to 2026-04-01, but is 2019-01-01.",
        ),
        (lambda: outlook(flow_visits=[(TODAY, -0.1)]), "flow_visits must not be negative, but is -0.1."),
        (lambda: outlook(least_flow_ratio=0), "least_flow_ratio must be greater than zero, but is 0.0."),
        (
            lambda: outlook(month_weights=[0.5] * 12),
            f"weights must be twelve parts of a year that add up to 1, but is {[0.5] * 12}.",
        ),
    ],
)
def test_bad_input_is_refused_in_one_sentence_that_names_it(call, sentence: str) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(BadInput) as refusal:
        call()
    assert str(refusal.value) == sentence


def test_a_trend_never_says_that_a_pump_had_sunk_below_before_its_last_visit_above() -> None:
    """1.00, 0.75, 0.80: the median slope of −0.10 a year would reach 0.79 before the last visit, still of 0.80."""
    installed = date(2022, 4, 1)
    visits = [(date(2023, 4, 1), 1.0), (date(2024, 4, 1), 0.75), (date(2025, 4, 1), 0.80)]
    found = pump_outlook(installed_on=installed, on=TODAY, flow_visits=visits, least_flow_ratio=0.79)
    assert (found.replace_by, found.governing.value) == (date(2025, 4, 1), "flow")
    assert found.earliest == date(2025, 4, 1) <= found.latest
