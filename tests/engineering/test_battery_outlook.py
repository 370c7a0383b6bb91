"""When a standby battery should be replaced, and the sentence that says why."""

from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from contractor.engineering.battery_life import Chemistry, Outlook, battery_outlook, life_factor
from contractor.engineering.errors import BadInput, Caution
from contractor.engineering.outlook import Governing

INSTALLED = date(2023, 5, 1)
TODAY = date(2026, 5, 1)


def outlook(**given_values: object) -> Outlook:
    usual: dict[str, object] = {
        "installed_on": INSTALLED,
        "on": TODAY,
        "chemistry": Chemistry.AGM,
        "temperature_c": 18.0,
        "expected_years": 5.0,
    }
    return battery_outlook(**(usual | given_values))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("fahrenheit", "years"),
    # Halving per 15 °F above 77 °F (read, second hand): 10 years become 5.00, 2.50 and 1.25.
    [(77, 10.0), (92, 5.0), (107, 2.5), (122, 1.25), (60, 10.0)],
)
def test_heat_halves_life_every_fifteen_fahrenheit(fahrenheit: float, years: float) -> None:
    assert 10 * life_factor((fahrenheit - 32) / 1.8) == pytest.approx(years, abs=1e-9)


def test_the_halving_rule_gives_more_than_the_printed_year_and_a_half_at_106_fahrenheit() -> None:
    """A page prints 1.5 years for 10 years at 106 °F; the rule it cites gives 2.6."""
    assert 10 * life_factor((106 - 32) / 1.8) == pytest.approx(2.6, abs=0.03)
    with pytest.warns(Caution, match="outside 0 to 50"):
        life_factor(60.0)
    with pytest.warns(Caution, match="outside 0 to 50"):
        assert life_factor(-30.0) == 1.0  # a shed in winter: cold earns nothing, and is refused below −40 °C only
    for too_far in (-40.5, 80.5):
        with pytest.raises(BadInput, match=f"temperature_c must lie from -40 to 80, but is {too_far}"):
            life_factor(too_far)


def test_with_nothing_measured_the_age_rule_decides_and_says_so() -> None:
    result = battery_outlook(installed_on=INSTALLED, on=TODAY, chemistry=Chemistry.AGM)
    assert result.governing is Governing.AGE
    assert result.replace_by == date(2028, 4, 30)
    assert result.reason == (
        "Nothing has been measured, so the age rule decides: an AGM battery in a basement at 20 °C is expected to last "
        "5 years; this one is 3 years old."
    )
    assert result.cautions == (
        "The basement's temperature was not measured; 20 °C is assumed.",
        "The maker's expected life is not known; 5 years at 25 °C is assumed (common practice).",
        "Nothing has been measured on this battery: a load test or a timed discharge tells more.",
    )
    assert (result.earliest, result.latest) == (date(2026, 5, 1), date(2030, 5, 1))


def test_a_warm_basement_shortens_the_age_rule_and_says_by_how_much() -> None:
    result = outlook(temperature_c=33.3333)
    assert result.replace_by == INSTALLED + timedelta(days=913)
    assert "at 33 °C is expected to last 2.5 years (5 years at 25 °C)" in result.reason


def test_heat_on_a_lithium_battery_is_cautioned_and_so_is_an_absurd_temperature() -> None:
    result = outlook(chemistry=Chemistry.LIFEPO4, temperature_c=55.0, expected_years=None)
    assert any("LiFePO4 may differ" in caution for caution in result.cautions)
    assert any("outside 0 to 50" in caution for caution in result.cautions)
    assert outlook(chemistry=Chemistry.LIFEPO4, expected_years=None).replace_by == date(2033, 4, 30)


@pytest.mark.parametrize(
    ("chemistry", "years", "discharges", "words"),
    # Years on float: common practice, no source. Deep discharges: sellers' pages of low authority, the low end.
    [
        (Chemistry.FLOODED, 5, 300, "a flooded lead-acid battery"),
        (Chemistry.AGM, 5, 500, "an AGM battery"),
        (Chemistry.GEL, 5, 500, "a gel battery"),
        (Chemistry.LIFEPO4, 10, 1500, "a LiFePO4 battery"),
    ],
)
def test_each_chemistry_has_its_own_age_rule_and_its_own_number_of_discharges(
    chemistry: Chemistry, years: int, discharges: int, words: str
) -> None:
    by_age = battery_outlook(installed_on=INSTALLED, on=TODAY, chemistry=chemistry)
    assert by_age.replace_by == INSTALLED + timedelta(days=round(years * 365.25))
    assert f"{words} in a basement" in by_age.reason
    by_use = outlook(chemistry=chemistry, deep_discharges=discharges)
    assert by_use.governing is Governing.DISCHARGES
    assert by_use.replace_by == TODAY
    assert f"{discharges} is assumed (sellers' figures)" in by_use.cautions[-1]
    assert outlook(chemistry=chemistry, deep_discharges=discharges - 1).replace_by > TODAY


@pytest.mark.parametrize(
    ("chemistry", "temperature_c", "is_warm"),
    [
        (Chemistry.LIFEPO4, 18.0, False),
        (Chemistry.LIFEPO4, 25.0, False),
        (Chemistry.LIFEPO4, 25.4, True),
        (Chemistry.AGM, 25.0, False),
        (Chemistry.AGM, 25.4, True),
    ],
)
def test_heat_is_spoken_of_only_above_twenty_five_degrees(
    chemistry: Chemistry, temperature_c: float, is_warm: bool
) -> None:
    result = outlook(chemistry=chemistry, temperature_c=temperature_c)
    assert ("(5 years at 25 °C)" in result.reason) is is_warm
    doubted = any("LiFePO4 may differ" in caution for caution in result.cautions)
    assert doubted is (is_warm and chemistry is Chemistry.LIFEPO4)


@pytest.mark.parametrize("temperature_c", [0.0, 50.0])
def test_the_range_of_the_heat_rule_includes_its_ends(temperature_c: float) -> None:
    assert not any("outside 0 to 50" in caution for caution in outlook(temperature_c=temperature_c).cautions)
    assert any("outside 0 to 50" in caution for caution in outlook(temperature_c=temperature_c * 1.02 - 0.5).cautions)


def test_a_capacity_of_eighty_per_cent_is_worn_out_and_one_above_it_is_not_yet() -> None:
    on_the_line = outlook(capacities=[(date(2026, 4, 20), 0.80)])
    assert (on_the_line.governing, on_the_line.replace_by) == (Governing.CAPACITY, date(2026, 4, 20))
    assert on_the_line.reason.startswith("Its capacity was measured at 80% of the rating on April 20, 2026;")
    assert on_the_line.latest == on_the_line.earliest == date(2026, 4, 20)
    assert outlook(capacities=[(date(2026, 4, 20), 0.801)]).replace_by > date(2026, 4, 20)


def test_the_range_of_a_single_capacity_is_five_points_either_way() -> None:
    """Common practice, no source: a timed discharge in a basement is good to five points in a hundred.

    By hand: 90 % after two years falls to 80 % at 4 years, 85 % at 2.667 and 95 % at 8. The maker's 50 years keep age
    out of the way.
    """
    two_years = INSTALLED + timedelta(days=731)
    result = outlook(capacities=[(two_years, 0.90)], expected_years=50.0)
    for found, years in ((result.earliest, 2 * 20 / 15), (result.replace_by, 4.0), (result.latest, 8.0)):
        assert abs((found - INSTALLED).days - years * 365.5) <= 1
    # 83 % less five points is below 80 %: the earliest day is the day of the measurement, not one before it.
    worn = outlook(capacities=[(two_years, 0.83)], expected_years=50.0)
    assert worn.earliest == two_years
    # 95 % and five points more is as new: that end is held at sixty years, like any day.
    good = outlook(capacities=[(two_years, 0.95)], expected_years=55.0)
    assert good.latest == INSTALLED + timedelta(days=round(60 * 365.25))


def test_a_capacity_as_new_or_better_sets_no_date_even_for_a_battery_without_an_age_limit() -> None:
    two_years = INSTALLED + timedelta(days=731)
    for capacity in (1.0, 1.02):
        result = outlook(capacities=[(two_years, capacity)], expected_years=50.0)
        assert result.governing is Governing.AGE
        assert result.earliest == INSTALLED + timedelta(days=round(50 * 0.6 * 365.25))


def test_the_range_of_a_trend_is_sens_interval() -> None:
    """The day, its earliest and latest are those of SciPy's Theil–Sen slope and interval through the medians."""
    days = [300, 600, 900, 1200, 1500, 1800]
    capacity = [0.985, 0.968, 0.957, 0.938, 0.925, 0.906]
    fit = stats.theilslopes(capacity, days)
    middle_day, middle = float(np.median(days)), float(np.median(capacity))
    installed = date(2020, 5, 1)
    result = outlook(
        installed_on=installed,
        capacities=[(installed + timedelta(days=d), c) for d, c in zip(days, capacity, strict=True)],
        expected_years=50.0,
    )
    assert result.governing is Governing.CAPACITY
    for found, slope in (
        (result.earliest, fit.low_slope),
        (result.replace_by, fit.slope),
        (result.latest, fit.high_slope),
    ):
        assert abs((found - installed).days - (middle_day + (0.80 - middle) / slope)) <= 1


def test_a_battery_put_in_today_tells_no_pace_of_discharges() -> None:
    new = outlook(installed_on=TODAY, deep_discharges=3, rated_deep_discharges=100)
    assert new.governing is Governing.AGE
    assert new.replace_by > TODAY


def test_a_test_may_have_failed_on_any_day_from_the_installation_on() -> None:
    for day in (INSTALLED, date(2025, 11, 3), TODAY):
        assert outlook(failed_test_on=day).replace_by == day


def test_the_earliest_of_all_that_is_known_governs() -> None:
    """Capacity worn out in 2027, discharges in 2026, age in 2028: the discharges decide; a failed test before all."""
    known: dict[str, object] = {"capacities": [(date(2025, 5, 1), 0.90)], "deep_discharges": 120}
    result = outlook(**known, rated_deep_discharges=130)
    assert result.governing is Governing.DISCHARGES
    assert TODAY < result.replace_by < outlook(capacities=known["capacities"]).replace_by
    assert outlook(**known, rated_deep_discharges=130, failed_test_on=TODAY).governing is Governing.TEST


def test_a_capacity_at_or_below_eighty_per_cent_means_now() -> None:
    """Replace below 80 % of the rating: Bureau of Reclamation storage-battery manual (a copy, read)."""
    result = outlook(capacities=[(date(2026, 4, 20), 0.78)])
    assert result.governing is Governing.CAPACITY
    assert result.replace_by == result.earliest == result.latest == date(2026, 4, 20)
    assert (
        result.reason == "Its capacity was measured at 78% of the rating on April 20, 2026; below 80% it is worn out."
    )


def test_one_capacity_is_drawn_straight_from_new_with_a_caution() -> None:
    result = outlook(capacities=[(date(2025, 5, 1), 0.90)])
    assert result.replace_by == date(2027, 5, 2)  # 10 points in 2 years: 20 points in 4
    assert result.earliest < result.replace_by < result.latest
    assert any("Fewer than three capacity measurements" in caution for caution in result.cautions)
    assert result.reason == (
        "Its capacity was 90% of the rating on May 1, 2025; at that pace it reaches 80% about May 2027."
    )


def test_a_good_capacity_leaves_the_age_in_charge() -> None:
    for capacities in ([(TODAY, 1.02)], [(TODAY, 0.98)], [(INSTALLED, 0.95)]):
        result = outlook(capacities=capacities)
        assert result.governing is Governing.AGE
        assert result.reason == (
            "An AGM battery in a basement at 18 °C is expected to last 5 years; this one is 3 years old."
        )


def test_a_capacity_measured_within_the_first_year_counts() -> None:
    """By hand: ten points lost in half a year, twenty in a whole one."""
    result = outlook(installed_on=date(2025, 11, 1), capacities=[(date(2026, 5, 1), 0.90)])
    assert (result.governing, result.replace_by) == (Governing.CAPACITY, date(2026, 10, 29))


def test_three_capacities_make_a_trend() -> None:
    yearly = [
        (INSTALLED + timedelta(days=days), capacity) for days, capacity in ((365, 0.97), (730, 0.93), (1096, 0.87))
    ]
    result = outlook(capacities=list(reversed(yearly)))
    assert result.governing is Governing.CAPACITY
    assert date(2027, 6, 1) < result.replace_by < date(2028, 3, 1)
    assert result.earliest <= result.replace_by <= result.latest
    assert "falls by 5% of the rating a year, 87% on May 1, 2026, and reaches 80% about" in result.reason
    assert any("falls faster near the end" in caution for caution in result.cautions)


def test_three_capacities_that_do_not_fall_set_no_date() -> None:
    flat = [(INSTALLED + timedelta(days=days), 0.95) for days in (365, 730, 1000)]
    assert outlook(capacities=flat).governing is Governing.AGE


def test_a_trend_whose_flat_end_never_falls_keeps_an_end_to_its_range() -> None:
    ragged = [
        (INSTALLED + timedelta(days=days), c) for days, c in ((300, 0.90), (600, 0.95), (900, 0.84), (1000, 0.83))
    ]
    result = outlook(capacities=ragged)
    assert result.governing is Governing.CAPACITY
    assert result.latest == date(2030, 5, 1)  # the age rule's


def test_deep_discharges_used_up_at_the_past_pace_can_govern() -> None:
    result = outlook(deep_discharges=120, rated_deep_discharges=150)
    assert result.governing is Governing.DISCHARGES
    assert result.replace_by == INSTALLED + timedelta(days=round(1096 * 150 / 120))
    assert result.earliest == INSTALLED + timedelta(days=round(1096 * 150 / 120 * 0.6))
    assert result.latest == INSTALLED + timedelta(days=round(1096 * 150 / 120 * 1.4))
    assert result.reason.startswith("It has been run down 120 times in 3 years; at that pace the 150 deep discharges")


def test_an_assumed_number_of_deep_discharges_is_said() -> None:
    result = outlook(deep_discharges=0)
    assert result.governing is Governing.AGE
    assert any("500 is assumed (sellers' figures)" in caution for caution in result.cautions)
    assert result.reason.startswith("An AGM battery")  # a count of none is something known, too
    assert len(result.cautions) == 1


def test_a_failed_test_means_now_whatever_the_age() -> None:
    result = outlook(failed_test_on=TODAY)
    assert result.governing is Governing.TEST
    assert result.replace_by == TODAY
    assert result.reason == "It failed its test on May 1, 2026: replace it now."


def test_a_date_beyond_any_planning_is_held_at_sixty_years() -> None:
    assert outlook(expected_years=500.0).replace_by == INSTALLED + timedelta(days=round(60 * 365.25))


@given(
    age_days=st.integers(0, 4000),
    older_days=st.integers(0, 2000),
    temperature=st.floats(0, 45),
    hotter=st.floats(0, 5),
    chemistry=st.sampled_from(list(Chemistry)),
)
@settings(max_examples=80)
def test_a_hotter_or_older_battery_never_lasts_longer(
    age_days: int, older_days: int, temperature: float, hotter: float, chemistry: Chemistry
) -> None:
    installed = TODAY - timedelta(days=age_days)
    base = outlook(installed_on=installed, temperature_c=temperature, chemistry=chemistry)
    hot = outlook(installed_on=installed, temperature_c=temperature + hotter, chemistry=chemistry)
    old = outlook(installed_on=installed - timedelta(days=older_days), temperature_c=temperature, chemistry=chemistry)
    assert hot.replace_by <= base.replace_by
    assert old.replace_by <= base.replace_by
    assert base.earliest <= base.replace_by <= base.latest


@given(
    capacity=st.floats(0.3, 1.1),
    worse=st.floats(0, 0.3),
    discharges=st.integers(0, 400),
)
@settings(max_examples=80)
def test_a_worse_measurement_never_gives_a_later_date(capacity: float, worse: float, discharges: int) -> None:
    better = outlook(capacities=[(date(2026, 4, 1), capacity)], deep_discharges=discharges)
    poorer = outlook(capacities=[(date(2026, 4, 1), max(capacity - worse, 0.0))], deep_discharges=discharges + 10)
    assert poorer.replace_by <= better.replace_by
    assert better.earliest <= better.replace_by <= better.latest


@pytest.mark.parametrize(
    ("given_values", "sentence"),
    [
        (
            {"installed_on": date(2027, 1, 1)},
            "installed_on must not be after the day of the estimate, 2026-05-01, but is 2027-01-01.",
        ),
        (
            {"capacities": [(date(2020, 1, 1), 0.9)]},
            "capacities must be read from 2023-05-01, the installation, to 2026-05-01, but is 2020-01-01.",
        ),
        ({"capacities": [(TODAY, -0.9)]}, "capacities must not be negative, but is -0.9."),
        (
            {"failed_test_on": date(2026, 5, 2)},
            "failed_test_on must lie from 2023-05-01, the installation, to 2026-05-01, but is 2026-05-02.",
        ),
        (
            {"failed_test_on": date(2023, 4, 30)},
            "failed_test_on must lie from 2023-05-01, the installation, to 2026-05-01, but is 2023-04-30.",
        ),
        ({"temperature_c": 80.5}, "temperature_c must lie from -40 to 80, but is 80.5."),
        ({"temperature_c": -40.5}, "temperature_c must lie from -40 to 80, but is -40.5."),
        (
            {"deep_discharges": 1, "rated_deep_discharges": 0},
            "rated_deep_discharges must be greater than zero, but is 0.0.",
        ),
        ({"expected_years": 0.0}, "expected_years must be greater than zero, but is 0.0."),
        ({"temperature_c": float("nan")}, "temperature_c must be an ordinary number, but is nan."),
        ({"deep_discharges": -1}, "deep_discharges must not be negative, but is -1.0."),
    ],
)
def test_bad_input_is_refused_in_one_sentence_that_names_it(given_values: dict[str, object], sentence: str) -> None:
    with pytest.raises(BadInput) as refusal:
        outlook(**given_values)
    assert str(refusal.value) == sentence


def test_a_trend_never_says_that_a_battery_had_fallen_below_before_its_last_reading_above() -> None:
    """1.00, 0.78, 0.82: the median slope of −0.09 a year would reach 80% before the last reading, still of 82%."""
    readings = [(date(2023, 5, 1), 1.0), (date(2024, 5, 1), 0.78), (date(2025, 5, 1), 0.82)]
    found = battery_outlook(
        installed_on=date(2022, 5, 1), on=date(2025, 6, 1), chemistry=Chemistry.AGM, capacities=readings
    )
    assert (found.replace_by, found.governing.value) == (date(2025, 5, 1), "capacity")
    assert found.earliest == date(2025, 5, 1) <= found.latest
