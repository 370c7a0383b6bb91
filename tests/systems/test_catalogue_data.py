"""The invented catalogue: every kind, figures that hang together, and the minimums of the codes."""

import json
from collections import Counter
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from contractor.systems import declared
from contractor.systems.part_kinds import BY_CODE

FILE = Path(__file__).resolve().parents[2] / "fixtures" / "catalogue" / "models.json"
MODELS: list[dict[str, Any]] = json.loads(FILE.read_text(encoding="utf-8"))["models"]
INCH = 0.0254
GALLON_PER_HOUR = 231 * INCH**3 / 3600


def of(*kinds: str) -> list[dict[str, Any]]:
    return [model["data"] for model in MODELS if model["part_kind"] in kinds]


def test_every_part_kind_has_two_to_five_models() -> None:
    counts = Counter(model["part_kind"] for model in MODELS)
    assert set(counts) == set(BY_CODE)
    assert all(2 <= count <= 5 for count in counts.values())
    assert 30 <= len(MODELS) <= 40


def test_no_model_stands_twice() -> None:
    names = Counter((model["part_kind"], model["maker"], model["name"]) for model in MODELS)
    assert set(names.values()) == {1}
    assert all(set(model) == {"part_kind", "maker", "name", "data"} for model in MODELS)


@pytest.mark.parametrize("model", MODELS, ids=lambda model: model["name"])
def test_what_computations_and_pages_take_is_declared_and_nothing_else(model: dict[str, Any]) -> None:
    known = {field.name for field in declared.fields_of(model["part_kind"])}
    optional = {"cca_a"} if model["data"].get("capacity_test") == "timed_discharge" else set()
    assert known - optional <= set(model["data"]) <= known
    for is_us in (True, False):
        words = declared.in_words(model["part_kind"], model["data"], is_us=is_us)
        assert len(words) == len(model["data"])


def test_pump_curves_start_at_shut_off_and_fall() -> None:
    for data in of("primary_pump", "standby_pump"):
        flow, head = np.array(data["curve"]).T
        assert flow[0] == 0
        assert (np.diff(flow) > 0).all()
        assert (np.diff(head) < 0).all()
        assert head[-1] > 0
        assert len(flow) >= 5


def test_a_cast_iron_mains_pump_moves_about_2600_gallons_an_hour_at_ten_feet() -> None:
    # Common practice, no source: what a one-third horsepower cast-iron pump is expected to move at about 10 ft.
    cast_iron = [data for data in of("primary_pump") if data["material"] == "cast iron"]
    flows = []
    for data in cast_iron:
        flow, head = np.array(data["curve"]).T
        flows.append(float(np.interp(10 * 0.3048, head[::-1], flow[::-1])) / GALLON_PER_HOUR)
    assert min(abs(flow - 2600) for flow in flows) < 30


def test_pumps_lift_no_more_water_than_their_motors_can() -> None:
    # Water power ρ·g·Q·H is at most a good half of the motor's rating (common practice, no source).
    for data in of("primary_pump"):
        flow, head = np.array(data["curve"]).T
        assert (1000 * 9.80665 * flow * head).max() < 0.6 * data["power_w"]
    for data in of("standby_pump"):
        flow, head = np.array(data["curve"]).T
        assert (1000 * 9.80665 * flow * head).max() < 0.6 * data["voltage_v"] * data["current_a"]


def test_mains_pumps_run_on_a_household_circuit() -> None:
    # 80 % of a 15 A circuit: NFPA 70 (NEC), from memory.
    assert all(data["current_a"] <= 12.0 for data in of("primary_pump"))
    assert all(data["voltage_v"] == 115.0 for data in of("primary_pump"))


def test_standby_pumps_run_on_twelve_volts() -> None:
    assert all(data["voltage_v"] == data["curve_at_v"] == 12.0 for data in of("standby_pump"))


def test_machines_declare_hours_and_starts_and_switches_starts() -> None:
    for data in of("primary_pump", "standby_pump"):
        assert data["rated_hours"] > 500
        assert data["rated_starts"] > 10_000
    # 100,000 automatic cycles are a usual declared step (from memory); more is the maker's own word.
    assert all(data["rated_starts"] >= 100_000 for data in of("float_switch"))


def test_batteries_are_rated_over_twenty_hours_and_cover_every_chemistry() -> None:
    batteries = of("battery")
    (chemistry,) = (field for field in declared.fields_of("battery") if field.name == "chemistry")
    assert {data["chemistry"] for data in batteries} == dict(chemistry.words).keys()
    for data in batteries:
        assert data["rate_h"] == 20.0
        assert 30 <= data["capacity_ah"] <= 200
        assert data["expected_years_at_25c"] > 0
        assert data["voltage_v"] == (12.8 if data["chemistry"] == "lifepo4" else 12.0)


def test_only_a_battery_with_a_cold_cranking_rating_is_tested_by_half_of_it() -> None:
    for data in of("battery"):
        assert data["capacity_test"] in {"half_cca", "timed_discharge"}
        assert (data["capacity_test"] == "half_cca") == ("cca_a" in data)


def test_chargers_hold_what_their_chemistry_stands() -> None:
    # Lead-acid 2.25 to 2.30 V a cell on float (makers' notes); LiFePO4 at most 3.65 V a cell (from memory).
    for data in of("charger"):
        low, high = {"lead_acid": (6 * 2.25, 6 * 2.30), "lifepo4": (13.3, 4 * 3.65)}[data["profile"]]
        assert low <= data["float_v"] <= high
        assert 0 < data["current_a"] <= 20


def test_pits_are_at_least_eighteen_inches_wide_and_twenty_four_deep() -> None:
    # IRC 2021, P3303.1.2.
    pits = of("pit")
    assert all(data["diameter_m"] >= 18 * INCH - 1e-9 and data["depth_m"] >= 24 * INCH - 1e-9 for data in pits)
    assert {data["is_sealed"] for data in pits} == {True, False}


def test_lines_and_valves_are_not_smaller_than_the_smallest_pumps_outlet() -> None:
    # IRC P3303.1.4 (from memory): discharge pipe and fittings are not smaller than the pump's tapping.
    smallest = min(data["discharge_m"] for data in of("primary_pump", "standby_pump"))
    assert all(data["bore_m"] >= smallest for data in of("check_valve", "discharge_line", "freeze_relief"))
    for tapping in {data["discharge_m"] for data in of("primary_pump", "standby_pump")}:
        assert any(data["bore_m"] >= tapping for data in of("discharge_line"))
        assert any(data["bore_m"] >= tapping for data in of("check_valve"))


def test_schedule_40_bores_lie_within_the_standards_tolerance() -> None:
    # ASTM D1785 (a copy): outside and wall, 1½ in 1.900 and 0.145 to 0.165 in; 2 in 2.375 in and 3.91 to 4.42 mm.
    bores = {data["bore_m"] for data in of("discharge_line") if "Schedule 40" in data["material"]}
    small, large = sorted(bores)
    assert (1.900 - 2 * 0.165) * INCH <= small <= (1.900 - 2 * 0.145) * INCH
    assert 2.375 * INCH - 2 * 0.00442 <= large <= 2.375 * INCH - 2 * 0.00391


def test_one_liner_is_about_a_sixteenth_of_an_inch_thick() -> None:
    assert any(abs(data["thickness_m"] - INCH / 16) < 1e-6 for data in of("liner"))


def test_containment_rings_meet_the_code_for_pans() -> None:
    # IRC P2801.6.1 (2015): at least 1½ in deep, drained by ¾ in or more; P2801.6: no plastic under a gas-fired heater.
    for data in of("containment_ring"):
        assert data["height_m"] >= 1.5 * INCH
        assert data["drain_bore_m"] >= 0.75 * INCH - 1e-9
        assert data["material"] in {"aluminium", "galvanized steel"}


def test_freeze_relief_fittings_open_wider_than_the_pipe_they_relieve() -> None:
    for data in of("freeze_relief"):
        assert data["opening_m2"] >= np.pi / 4 * data["bore_m"] ** 2


def test_alarms_say_whether_they_send_messages() -> None:
    assert {data["sends_messages"] for data in of("high_water_alarm")} == {True, False}
