"""What is computed of a system as a whole: standby, reserve, frost, the pit's cycle, the line's speed, the season."""

from dataclasses import replace

import pytest

from contractor.engineering.battery_checks import Chemistry
from contractor.engineering.standby import StandbyBattery, standby_adequacy
from contractor.estimates.rules.facts import Given, LineFacts, Reading, SystemFacts
from contractor.estimates.rules.fleet import estimate_system, workings_of
from contractor.estimates.rules.results import SystemResult
from tests.estimates.made import (
    CLIMATE,
    LARGE_POINTS,
    LINE,
    ON,
    PIT,
    bare,
    battery,
    by_hand,
    declared,
    leading,
    measured,
    primary,
    readings,
    standby,
    system,
)

GPM = 6.30902e-5
CODES = ("standby", "reserve", "freeze", "pit_cycle", "line_speed", "season")


def result(code: str, facts: SystemFacts, units: str = "US") -> SystemResult:
    return estimate_system(facts, on=ON, units=units).result(code)


def with_inflow(mean_m3_s: float, **changes: object) -> SystemFacts:
    supposed = Given(value=mean_m3_s, unit="m3/s", origin="supposed")
    return system(pit=replace(PIT, mean_inflow_m3_s=supposed), **changes)


def test_every_system_has_the_six_results_in_the_same_order() -> None:
    for facts in (system(), bare(), system(pumps=(), batteries=())):
        assert tuple(one.code for one in estimate_system(facts, on=ON, units="US").results) == CODES
        assert all(one.sentence.endswith(".") for one in estimate_system(facts, on=ON, units="US").results)
    with pytest.raises(KeyError):
        estimate_system(bare(), on=ON, units="US").result("radon")


# 75 Ah AGM, full, at 15 °C; 18 A; the standby moves some 27 gpm up this line.
# Peukert by hand, k = 1.15 (sellers' range 1.05 to 1.15, the careful end): capacity in the cold 0.896·75 = 67.2 Ah;
# t = 20·(67.2 ÷ (18·20))^1.15 = 2.90 h running all the time.
COVER: tuple[tuple[float, str, str], ...] = (
    # mean inflow (m³/s), standby, reserve
    (0.00001, "good", "good"),
    (0.00007, "watch", "watch"),
    (0.00020, "watch", "watch"),
    (0.00030, "bad", "bad"),
)


@pytest.mark.parametrize(("mean", "cover", "reserve"), COVER)
def test_the_standby_covers_while_it_lifts_the_storm_and_the_battery_lasts(
    mean: float, cover: str, reserve: str
) -> None:
    facts = with_inflow(mean, batteries=(battery(capacities=readings(75.0)),), temperatures=readings(15.0))
    assert result("standby", facts).level == cover
    assert result("reserve", facts).level == reserve


def test_the_reserve_is_peukerts_as_by_hand() -> None:
    facts = with_inflow(0.00005, batteries=(battery(capacities=readings(75.0)),), temperatures=readings(15.0))
    reserve = workings_of(facts, on=ON).reserve
    assert reserve is not None
    # IEEE 485, table 1 (from memory): sizing factor 1.11 or so at 60 °F, so about 0.9 of the capacity.
    assert reserve.full_load_hours == pytest.approx(20 * (0.896 * 75 / (18 * 20)) ** 1.15, rel=5e-3)
    assert reserve.hours == pytest.approx(reserve.full_load_hours / reserve.duty)


def test_the_array_pass_agrees_with_the_engineering_cores_own_answer_for_one_system() -> None:
    worked = workings_of(system(batteries=(battery(capacities=readings(70.0)),)), on=ON)
    first, second = (worked.of(worked.facts.primary), worked.of(worked.facts.standby))
    assert first is not None
    assert first.curve is not None
    assert second is not None
    assert second.curve is not None
    assert worked.discharge is not None
    assert worked.reserve is not None
    alone = standby_adequacy(
        worked.inflow.design_m3_s.value,
        first.curve,
        second.curve,
        worked.discharge,
        StandbyBattery(
            capacity_ah=75.0,
            current_a=18.0,
            chemistry=Chemistry.AGM,
            health=70.0 / 75.0,
            temperature_c=worked.reserve.temperature_c.value,
            loaded_volts=11.5,
        ),
        outage_h=12.0,
    )
    assert worked.reserve.hours == pytest.approx(alone.reserve_h, rel=1e-6)
    assert second.now_flow_m3_s == pytest.approx(alone.standby_flow_m3_s, rel=1e-6)
    assert (result("standby", worked.facts).level == "good") is alone.covers


def test_the_reserve_is_said_in_hours_against_the_power_cuts_of_the_region() -> None:
    facts = with_inflow(0.00005, batteries=(battery(capacities=readings(75.0)),), temperatures=readings(15.0))
    hours = round(workings_of(facts, on=ON).reserve.hours)  # type: ignore[union-attr]
    assert result("reserve", facts).sentence.endswith(
        f"for about {hours} hours; storm power cuts here have averaged 12 hours, ordinary ones 2 hours."
    )
    elsewhere = result("reserve", replace(facts, climate=None)).sentence
    # Mean cuts in the United States, 2014 to 2023, in major events: EIA Electric Power Annual, table 11.1.
    assert elsewhere.endswith("storm power cuts in the country have averaged 12 hours, ordinary ones 2 hours.")


TROUBLES: tuple[tuple[dict[str, object], str], ...] = (
    ({"batteries": ()}, "No battery is on record"),
    ({"batteries": (battery(capacity_ah=None),)}, "choose its model"),
    ({"pumps": (primary(), standby(curve=None))}, "curve is not known"),
    ({"pumps": (primary(), standby(current_a=None))}, "read the current"),
    ({"line": replace(LINE, bore_m=measured(-1.0))}, "line's measures can't be used"),
)


@pytest.mark.parametrize(("changes", "sentence"), TROUBLES, ids=[words for _, words in TROUBLES])
def test_what_is_missing_for_a_reserve_is_said_with_what_to_enter(changes: dict[str, object], sentence: str) -> None:
    for code in ("standby", "reserve"):
        found = result(code, system(**changes))
        assert found.level == "unknown"
        assert sentence in found.sentence


def test_a_house_without_a_standby_pump_is_told_so() -> None:
    found = result("standby", system(pumps=(primary(),)))
    assert (found.level, found.sentence) == (
        "watch",
        "No standby pump is on record: in a power cut nothing lifts the water.",
    )


def test_by_an_assumed_inflow_nothing_is_called_good() -> None:
    facts = system(pit=replace(PIT, inflows=()))
    for code in ("standby", "reserve", "pit_cycle"):
        found = result(code, facts)
        assert found.level == "unknown"
        assert "how fast the water rises in the pit at the next check-up." in found.sentence


def test_a_measured_current_and_voltage_go_before_the_makers() -> None:
    facts = system(
        pumps=(primary(), standby(currents=readings(14.0, 15.0))), batteries=(battery(running_v=readings(12.1)),)
    )
    reserve = workings_of(facts, on=ON).reserve
    assert reserve is not None
    assert (reserve.current_a.value, reserve.current_a.origin) == (15.0, "measured")
    assert (reserve.loaded_v.value, reserve.loaded_v.origin) == (12.1, "measured")


def test_two_batteries_stand_side_by_side() -> None:
    one = battery(capacities=readings(60.0))
    both = system(batteries=(one, replace(one, component_id=4, capacities=readings(75.0))))
    reserve = workings_of(both, on=ON).reserve
    assert reserve is not None
    assert (reserve.capacity_ah, reserve.health.value) == (150.0, pytest.approx(0.9))
    assert "several batteries" in " ".join(reserve.cautions)


def test_a_battery_nobody_has_measured_is_reckoned_with_less_every_year() -> None:
    # Full when new, 80 % at the end of six years: after three years 90 %. Assumed.
    fresh, older = (
        workings_of(system(batteries=(battery(installed_on=day),)), on=ON).reserve
        for day in (ON, ON.replace(year=2023))
    )
    assert fresh is not None
    assert older is not None
    assert fresh.health.value == 1.0
    assert older.health.value == pytest.approx(0.9, abs=1e-3)
    assert older.health.origin == "assumed"


FREEZE: tuple[tuple[dict[str, object], str, str], ...] = (
    ({}, "good", ""),
    ({"cover_m": measured(0.3)}, "good", "It lies 1 ft deep; frost goes down to about 3 ft."),
    ({"sags": measured(1.0, "count"), "cover_m": measured(0.3)}, "bad", "It has 1 low point where water stands."),
    ({"outlet_above_ground_m": measured(0.1)}, "watch", "Snow can bury the outlet."),
    ({"relief_fitting": False}, "good", "No freeze-relief fitting lets the water out"),
    ({"relief_tested": None}, "good", "The freeze-relief fitting has not been tested."),
    ({"falls_to_outlet": None, "relief_tested": None}, "watch", "It is not known whether it falls to its outlet."),
)


@pytest.mark.parametrize(("changes", "level", "reason"), FREEZE, ids=[f"{level} {why}" for _, level, why in FREEZE])
def test_the_line_freezes_for_reasons_that_are_named(changes: dict[str, object], level: str, reason: str) -> None:
    found = result("freeze", system(line=replace(LINE, **changes)))  # type: ignore[arg-type]
    assert found.level == level
    assert reason in " ".join(found.reasons)


def test_frost_is_not_judged_without_normals_or_without_the_line() -> None:
    assert "enter the region's climate normals" in result("freeze", system(climate=None)).sentence
    assert "as-built form" in result("freeze", system(line=LineFacts(bore_m=measured(0.04)))).sentence
    wrong = result("freeze", system(line=replace(LINE, cover_m=measured(-1.0))))
    assert (wrong.level, "cover must not be negative" in wrong.sentence) == ("unknown", True)
    for facts in (system(climate=None), system(line=LineFacts())):
        assert result("freeze", facts).level == "unknown"


# Wettest month's inflow (gpm) with a 40 gpm pump and 8.8 gal: starts an hour 60·Qi·(Qp − Qi)/(V·Qp). 20 to 30 an hour
# are hard on a small motor: common practice, no source.
CYCLES = ((1.0, "good"), (3.3, "watch"), (10.0, "bad"))


@pytest.mark.parametrize(("inflow_gpm", "level"), CYCLES)
def test_a_pit_that_cycles_too_fast_is_told(inflow_gpm: float, level: str) -> None:
    facts = with_inflow(inflow_gpm * GPM / 2.5, pumps=(primary(flows=readings(40 * GPM)),), climate=None)
    found = result("pit_cycle", facts)
    assert found.level == level
    expected = 60 * inflow_gpm * (40 - inflow_gpm) / (8.813 * 40)
    starts = workings_of(facts, on=ON).cycle_wettest
    assert starts is not None
    assert starts.starts_per_hour == pytest.approx(expected, rel=2e-3)


def test_a_pump_that_a_storm_overwhelms_is_told() -> None:
    found = result("pit_cycle", with_inflow(0.0006))
    assert (found.level, "the pit would overflow" in found.sentence) == ("bad", True)
    dry = result("pit_cycle", system(pit=replace(PIT, inflows=readings(0.0, 0.0))))
    assert (dry.level, dry.sentence) == ("good", "No water came in when it was timed: the pump hardly starts.")


# Silt settles below about 2 ft/s, lines hammer above about 10 ft/s: design guides, from memory.
SPEEDS = ((0.040386, "good", "slow enough not to hammer"), (0.0902, "watch", "silt"), (0.0351, "watch", "hammer"))


@pytest.mark.parametrize(("bore_m", "level", "word"), SPEEDS)
def test_a_line_too_wide_or_too_narrow_is_told(bore_m: float, level: str, word: str) -> None:
    strong = primary(curve=LARGE_POINTS) if bore_m < 0.04 else primary()
    line = replace(LINE, bore_m=measured(bore_m), length_m=measured(1.0), static_lift_m=measured(2.0))
    found = result("line_speed", system(pumps=(strong,), line=line))
    assert found.level == level
    assert word in found.sentence
    assert "ft/s" in found.sentence


def test_a_line_higher_than_the_pump_can_lift_moves_nothing() -> None:
    found = result("line_speed", system(line=replace(LINE, static_lift_m=measured(8.0))))
    assert (found.level, "nothing moves" in found.sentence) == ("bad", True)
    assert result("line_speed", system(pumps=())).level == "unknown"


def test_the_season_names_the_months_before_water_and_frost() -> None:
    assert result("season", system()).sentence == (
        "Best months for a check-up: February, before the wettest months, March to May; "
        "or October, before the frost of November."
    )
    assert result("season", system(climate=None)).level == "unknown"
    broken = result("season", system(climate=replace(CLIMATE, temperature_c=(1.0,) * 3)))
    assert "can't be used" in broken.sentence
    south = replace(CLIMATE, temperature_c=(18.0,) * 12)
    assert "frost" not in result("season", system(climate=south)).sentence


def test_a_voltage_read_under_load_moves_the_standbys_flow() -> None:
    weak, strong = (
        workings_of(system(batteries=(battery(running_v=readings(volts)),)), on=ON).pumps[1] for volts in (10.5, 12.0)
    )
    assert (weak.now_flow_m3_s or 0.0) < (strong.now_flow_m3_s or 0.0)


def test_results_speak_the_companys_units() -> None:
    us, metric = (result("standby", system(), units).sentence for units in ("US", "metric"))
    assert "gal/min" in us
    assert "L/min" in metric


def test_a_declared_capacity_is_what_is_shown_and_what_was_measured_beside_it() -> None:
    found = result("reserve", system(batteries=(battery(capacities=readings(60.0), capacity_ah=declared(80.0, "Ah")),)))
    shown = {one.name: (one.value, one.origin) for one in found.inputs}
    assert shown["Rated capacity"] == ("80 Ah over 20 h", "declared by the maker")
    assert shown["Part of the rating that is there"] == ("75%", "measured")


def test_a_rise_found_once_says_so() -> None:
    once = system(pit=replace(PIT, inflows=(Reading(on=ON.replace(year=2025), value=0.00003),)))
    assert any("timed once only" in one for one in result("reserve", once).cautions)


BY_HAND = (
    ("standby", "Speed of the standby pump on the battery"),
    ("reserve", "Inflow of the wettest month"),
    ("reserve", "Design inflow"),
    ("reserve", "Part of the capacity that the cold leaves"),
    ("reserve", "Capacity that is there"),
    ("reserve", "Running all the time (Peukert)"),
    ("reserve", "Part of the time it runs"),
    ("reserve", "Reserve"),
    ("pit_cycle", "Water between the levels"),
    ("pit_cycle", "Filling"),
    ("pit_cycle", "Running"),
    ("pit_cycle", "Starts an hour"),
    ("line_speed", "Speed of the water"),
)


@pytest.mark.parametrize(("code", "name"), BY_HAND)
def test_every_step_can_be_done_by_hand_with_the_figures_that_stand_there(code: str, name: str) -> None:
    found = result(code, system(batteries=(battery(capacities=readings(70.0)),)))
    (step,) = [one for one in found.steps if one.name == name]
    assert by_hand(step.with_numbers) == pytest.approx(leading(step.result), rel=2e-3)


def test_the_standbys_head_can_be_done_by_hand() -> None:
    (step,) = [one for one in result("standby", system()).steps if one.name.startswith("Where the standby pump works")]
    assert by_hand(step.with_numbers) == pytest.approx(leading(step.result), rel=1e-3)
