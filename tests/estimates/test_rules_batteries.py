"""By when a battery should be replaced: age in its basement, capacity, discharges, a failed test."""

from dataclasses import replace
from datetime import date, timedelta

import pytest

from contractor.estimates.rules.batteries import NO_CHEMISTRY, NO_RATING, NO_TEMPERATURE, VOLTAGE_TELLS_NOTHING
from contractor.estimates.rules.facts import BatteryFacts, Found, Given, OwnLife, Reading
from contractor.estimates.rules.fleet import estimate_system
from contractor.estimates.rules.results import PartEstimate
from tests.estimates.made import ON, battery, by_hand, declared, leading, readings, system

IN_ON = date(2023, 5, 14)
FLOODED, LITHIUM = (Given(value=word, origin="declared by the maker") for word in ("flooded", "lifepo4"))


def estimate(cell: BatteryFacts, units: str = "US", **changes: object) -> PartEstimate:
    facts = system(pumps=(), batteries=(cell,), **changes)
    return estimate_system(facts, on=ON, units=units).parts[0]


def years_after(day: date, years: float) -> date:
    return day + timedelta(days=round(years * 365.25))


# Basement °C, expected years at 25 °C, years. Life halves for every 15 °F (8.33 °C) above 77 °F (25 °C); a cool
# basement earns nothing. Secondary copies of a battery makers' rule.
BASEMENTS = ((14.0, 6.0, 6.0), (25.0, 6.0, 6.0), (25.0 + 15 / 1.8, 6.0, 3.0), (25.0 + 30 / 1.8, 4.0, 1.0))


@pytest.mark.parametrize(("temperature_c", "declared_years", "years"), BASEMENTS)
def test_heat_halves_a_batterys_life_every_fifteen_degrees_fahrenheit(
    temperature_c: float, declared_years: float, years: float
) -> None:
    part = estimate(battery(expected_years=declared(declared_years)), temperatures=readings(temperature_c))
    assert abs(part.replace_by - years_after(IN_ON, years)) <= timedelta(days=1)
    assert part.governing == "age"


def test_the_mean_of_the_temperatures_read_at_check_ups_counts() -> None:
    part = estimate(battery(), temperatures=readings(20.0, 30.0, 40.0), units="metric")
    (given,) = [one for one in part.inputs if one.name == "Basement's temperature"]
    assert (given.value, given.origin, given.on) == ("30 °C", "measured", "2023-05-10")


def test_a_battery_of_which_nothing_is_known_is_taken_for_a_flooded_one_and_says_so() -> None:
    # Five years on float at 25 °C, from three to seven: common practice, no source.
    unknown = BatteryFacts(component_id=3, word="battery", installed_on=IN_ON)
    part = estimate(unknown, temperatures=())
    assert part.replace_by == years_after(IN_ON, 5.0)
    assert (part.earliest, part.latest) == (years_after(IN_ON, 3.0), years_after(IN_ON, 7.0))
    assert {NO_CHEMISTRY, NO_TEMPERATURE} <= set(part.cautions)
    assert {one.origin for one in part.inputs[1:]} == {"assumed"}


def test_capacity_measured_below_eighty_percent_is_the_end() -> None:
    # Replace below 80 % of the rating: Bureau of Reclamation, storage battery manual (a copy).
    part = estimate(battery(capacities=readings(59.0, first=date(2025, 5, 10))))
    assert (part.replace_by, part.governing, part.probability) == (date(2025, 5, 10), "capacity", 0.95)


def test_one_capacity_draws_a_straight_line_from_full() -> None:
    # 90 % after two years: 80 % after four.
    part = estimate(battery(capacities=readings(67.5, first=date(2025, 5, 13))))
    assert abs(part.replace_by - years_after(IN_ON, 4.0)) <= timedelta(days=1)
    assert part.governing == "capacity"


def test_a_capacity_without_a_rating_cannot_be_judged_and_says_so() -> None:
    part = estimate(battery(capacity_ah=None, capacities=readings(20.0, first=date(2025, 5, 10))))
    assert (part.governing, NO_RATING in part.cautions) == ("age", True)


def test_deep_discharges_of_all_check_ups_add_up() -> None:
    # AGM: 500 deep discharges (sellers' figures, the low end). 300 in about three years: used up after about five.
    part = estimate(
        battery(deep_discharges=readings(100.0, 200.0, first=date(2024, 5, 10)), expected_years=declared(9.0))
    )
    used_up = years_after(IN_ON, (ON - IN_ON).days / 365.25 * 500 / 300)
    assert part.governing == "discharges"
    assert abs(part.replace_by - used_up) <= timedelta(days=1)
    none = estimate(battery(deep_discharges=readings(0.0, 0.0, first=date(2024, 5, 10))))
    assert none.governing == "age"


def test_a_failed_load_test_is_the_end_for_lead_acid_and_tells_nothing_of_lithium() -> None:
    failed = (Reading(on=date(2026, 4, 20), value=9.0, good=False),)
    found = Found(condition="bad", sentence="9 V under load is below the 9.5 V needed.", on=date(2026, 4, 20))
    lead = estimate(battery(load_tests=failed, found=found))
    assert (lead.replace_by, lead.governing, lead.probability) == (date(2026, 4, 20), "found bad", 0.95)
    # What was put right since is no longer found: the old test has no say.
    assert estimate(battery(load_tests=failed)).governing == "age"
    lithium = estimate(battery(chemistry=LITHIUM, load_tests=failed, found=replace(found, condition="watch")))
    assert lithium.governing == "found weak"
    assert VOLTAGE_TELLS_NOTHING in lithium.cautions
    assert not any(one.name == "Load test" for one in lithium.inputs)


def test_a_watched_battery_whose_test_failed_is_replaced_from_the_test() -> None:
    failed = (Reading(on=date(2026, 4, 20), value=9.0, good=False),)
    found = Found(condition="watch", sentence="Terminals corroded.", on=date(2026, 4, 20))
    part = estimate(battery(load_tests=failed, found=found))
    assert (part.replace_by, part.governing, part.probability) == (date(2026, 4, 20), "test", 0.95)


def test_the_companys_own_batteries_have_felt_the_heat_already() -> None:
    own = OwnLife(of="model", shape=4.0, scale_years=5.0, failures=6, units=30, known_on=ON)
    cool, hot = (estimate(battery(own_life=own), temperatures=readings(degrees)) for degrees in (14.0, 35.0))
    assert cool.replace_by == hot.replace_by == years_after(IN_ON, round(5.0 * 0.6931471805599453**0.25, 3))


def test_what_cannot_be_used_is_left_out_and_said() -> None:
    part = estimate(battery(capacities=readings(70.0, first=date(2020, 1, 1))))
    assert part.governing == "age"
    assert any("only its age counts" in one for one in part.cautions)


def test_sentences_speak_the_companys_units() -> None:
    us, metric = (estimate(battery(), units, temperatures=readings(10.0)) for units in ("US", "metric"))
    assert "in a basement at 50 °F" in us.reason
    assert "in a basement at 10 °C" in metric.reason
    assert any(one.name == "Expected life at 77 °F" for one in us.inputs)


@pytest.mark.parametrize("chemistry", [FLOODED, LITHIUM])
def test_a_hotter_basement_never_makes_a_battery_last_longer(chemistry: Given[str]) -> None:
    days = [
        estimate(battery(chemistry=chemistry), temperatures=readings(degrees)).replace_by
        for degrees in (5.0, 15.0, 25.0, 26.0, 30.0, 40.0)
    ]
    assert days == sorted(days, reverse=True)


BY_HAND = (
    "Part of its life that heat leaves (1 up to 77 °F)",
    "Capacity as a part of the rating",
    "When it falls to 80 % of the rating, straight from full when new",
    "When its deep discharges are used up",
)


@pytest.mark.parametrize("name", BY_HAND)
def test_every_step_can_be_done_by_hand_with_the_figures_that_stand_there(name: str) -> None:
    cell = battery(
        capacities=readings(67.5, first=date(2025, 5, 13)), deep_discharges=readings(60.0, first=date(2025, 5, 13))
    )
    part = estimate(cell, temperatures=readings(31.0))
    (step,) = [one for one in part.steps if one.name == name]
    assert by_hand(step.with_numbers) == pytest.approx(leading(step.result), rel=2e-3)


def test_a_fall_of_capacity_through_three_readings_can_be_done_by_hand() -> None:
    part = estimate(battery(capacities=readings(72.0, 69.0, 66.0, first=date(2023, 6, 10))))
    (step,) = [one for one in part.steps if one.name == "When the capacity reaches 80%"]
    assert by_hand(step.with_numbers) == pytest.approx(leading(step.result), rel=2e-3)
    assert abs(part.replace_by - years_after(date(2023, 6, 10), by_hand(step.with_numbers))) <= timedelta(days=3)
