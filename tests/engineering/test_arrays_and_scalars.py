"""Every computation takes numbers or arrays that broadcast, gives a number for numbers, and refuses what is none.

One table holds a good call of every computation that takes quantities; the tests go through the table.
"""

import importlib
import inspect
import math
import pkgutil
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
import pytest

import contractor.engineering
from contractor.engineering import (
    battery_checks,
    battery_life,
    battery_reserve,
    frost,
    pipe_losses,
    pit,
    pump_curves,
    pump_life,
    seasons,
    water,
)
from contractor.engineering.errors import BadInput

pytestmark = pytest.mark.filterwarnings("ignore::contractor.engineering.errors.Caution")

CURVE = pump_curves.PumpCurve((0.0, 0.001, 0.002, 0.003), (7.0, 6.2, 4.6, 2.0))
LINE = pump_curves.DischargeLine(2.7, 0.0404, 9.0, 5.6)


@dataclass(frozen=True, kw_only=True)
class Case:
    """A call that has an answer; ``parts`` are the numbers of a result that holds several."""

    function: Callable[..., Any]
    values: dict[str, float]
    parts: tuple[str, ...] = ()
    fixed: dict[str, Any] = field(default_factory=dict)

    def numbers(self, **changed: object) -> list[Any]:
        result = self.function(**{**self.values, **changed}, **self.fixed)
        return [getattr(result, part) for part in self.parts] if self.parts else [result]

    @property
    def name(self) -> str:
        return self.function.__qualname__


SOIL = {"freezing_index_c_day": 555.6, "n_factor": 0.7, "conductivity_w_mk": 1.3} | {
    "dry_density_kg_m3": 1602.0,
    "water_part": 0.15,
}
CYCLE = ("fill_s", "run_s", "period_s", "starts_per_hour", "duty")
PEUKERT = {"capacity_ah": 75.0, "rate_h": 20.0, "current_a": 15.0, "peukert": 1.2}
RESERVE = PEUKERT | {"duty": 0.25, "health": 0.9, "temperature_c": 12.0, "idle_a": 0.1, "pump_flow_m3_s": 0.001}
CASES = [
    Case(
        function=battery_checks.state_of_charge_from_rest_v,
        values={"volts": 12.3},
        parts=("fraction",),
        fixed={"chemistry": battery_checks.Chemistry.FLOODED},
    ),
    Case(function=battery_checks.gravity_at_27c, values={"gravity": 1.25, "temperature_c": 12.0}),
    Case(function=battery_checks.load_test_minimum_v, values={"temperature_c": 12.0}),
    Case(
        function=battery_checks.float_voltage_v,
        values={"temperature_c": 12.0, "cells": 6, "at_25c_per_cell": 2.25},
    ),
    Case(
        function=battery_checks.hydrogen_m3_h,
        values={"current_a": 10.0, "cells": 6, "temperature_c": 12.0},
    ),
    Case(function=battery_life.life_factor, values={"temperature_c": 30.0}),
    Case(function=battery_reserve.capacity_factor, values={"temperature_c": 12.0}),
    Case(function=battery_reserve.runtime_h, values=PEUKERT),
    Case(
        function=battery_reserve.peukert_exponent,
        values={"current_1_a": 5.0, "hours_1": 20.0, "current_2_a": 25.0, "hours_2": 3.0},
    ),
    Case(
        function=battery_reserve.capacity_from_reserve_minutes_ah,
        values={"minutes": 120.0, "peukert": 1.2},
    ),
    Case(function=battery_reserve.reserve_h, values=RESERVE, parts=("hours", "pumped_m3")),
    Case(function=frost.stefan_depth_m, values=SOIL),
    Case(function=frost.berggren_coefficient, values={"alpha": 1.0, "mu": 0.2}),
    Case(function=frost.berggren_depth_m, values=SOIL | {"mean_annual_c": 7.2, "freezing_days": 100.0}),
    Case(
        function=frost.time_to_freezing_h,
        values={"bore_m": 0.05, "insulation_inner_m": 0.06, "insulation_outer_m": 0.12}
        | {"conductivity_w_mk": 0.04, "water_c": 8.0, "air_c": -5.0},
    ),
    Case(function=pipe_losses.velocity_m_s, values={"flow_m3_s": 0.001, "diameter_m": 0.05}),
    Case(
        function=pipe_losses.hazen_williams_head_m,
        values={"flow_m3_s": 0.002, "diameter_m": 0.05, "length_m": 9.0, "c": 140.0},
    ),
    Case(function=pipe_losses.friction_factor, values={"reynolds": 5e4, "relative_roughness": 1e-4}),
    Case(
        function=pipe_losses.darcy_head_m,
        values={"flow_m3_s": 0.002, "diameter_m": 0.05, "length_m": 9.0}
        | {"roughness_m": 1.5e-6, "temperature_c": 10.0},
    ),
    Case(
        function=pipe_losses.minor_head_m,
        values={"flow_m3_s": 0.002, "diameter_m": 0.05, "k_sum": 5.6},
    ),
    Case(function=pit.pit_volume_m3, values={"diameter_m": 0.45, "depth_m": 0.2}),
    Case(function=pit.storage_m3, values={"diameter_m": 0.45, "on_m": 0.33, "off_m": 0.12}),
    Case(
        function=pit.pump_cycle,
        values={"inflow_m3_s": 0.0005, "pump_flow_m3_s": 0.0025, "storage_m3": 0.03},
        parts=CYCLE,
    ),
    Case(function=pit.shortest_period_s, values={"pump_flow_m3_s": 0.0025, "storage_m3": 0.03}),
    Case(
        function=pit.inflow_from_rise_m3_s,
        values={"diameter_m": 0.45, "rise_m": 0.15, "seconds": 300.0, "displaced_m3_per_m": 0.01},
    ),
    Case(
        function=pit.pump_flow_from_drawdown_m3_s,
        values={"diameter_m": 0.45, "fall_m": 0.2, "seconds": 14.0}
        | {"inflow_m3_s": 0.0001, "displaced_m3_per_m": 0.01},
    ),
    Case(
        function=pit.inflow_from_counter_m3_s,
        values={"starts": 310.0, "storage_m3": 0.03, "seconds": 86400.0}
        | {"run_seconds": 5000.0, "pump_flow_m3_s": 0.0025},
    ),
    Case(
        function=pump_life.wear,
        values={"run_hours": 650.0, "starts": 58e3, "rated_hours": 1e4, "rated_starts": 1e5},
        parts=("fraction",),
    ),
    Case(
        function=pump_life.failure_probability,
        values={"age_years": 5.0, "horizon_years": 1.0, "shape": 2.0, "scale_years": 10.0},
    ),
    Case(function=CURVE.head_m, values={"flow_m3_s": 0.0015}),
    Case(function=CURVE.flow_m3_s, values={"head_m": 4.6}),
    Case(function=LINE.head_m, values={"flow_m3_s": 0.0015}),
    Case(
        function=seasons.melt_mm,
        values={"temperature_c": 4.0, "snow_water_mm": 100.0, "days": 2.0, "factor_mm_per_c_day": 2.74},
    ),
    Case(function=water.density_kg_m3, values={"temperature_c": 12.0}),
    Case(function=water.kinematic_viscosity_m2_s, values={"temperature_c": 12.0}),
]
ARGUMENTS = [pytest.param(case, argument, id=f"{case.name}-{argument}") for case in CASES for argument in case.values]
by_case = pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
# Where 2 % more is not a good value of the same argument, this is.
OTHER_VALUE = {"current_1_a": 5.1, "hours_2": 3.0, "peukert": 1.25, "cells": 12}


def other(argument: str, value: float) -> float:
    return OTHER_VALUE.get(argument, value * 1.02)


def test_the_table_names_every_computation_that_takes_quantities() -> None:
    """Sentences about doubtful flows are left out: they are tuples of sentences, one for all."""
    tabled = {case.function.__qualname__ for case in CASES}
    missing = []
    for module in pkgutil.iter_modules(contractor.engineering.__path__):
        for name, member in vars(importlib.import_module(f"contractor.engineering.{module.name}")).items():
            if not inspect.isfunction(member) or name.startswith(("_", "unchecked_")) or name.endswith("_cautions"):
                continue
            takes = [str(parameter.annotation) for parameter in inspect.signature(member).parameters.values()]
            if any("float | numpy.ndarray" in annotation for annotation in takes) and name not in tabled:
                missing.append(name)
    assert set(missing) == {"fleet_operating_points"}  # many pumps by nature; tested with the pump curves


@by_case
def test_numbers_give_plain_numbers(case: Case) -> None:
    for number in case.numbers():
        assert type(number) is float
        assert math.isfinite(number)


@by_case
def test_a_whole_number_is_as_good_as_one_with_a_point(case: Case) -> None:
    whole = {name: int(value) for name, value in case.values.items() if value == int(value)}
    assert case.numbers(**whole) == case.numbers()


@pytest.mark.parametrize(("case", "argument"), ARGUMENTS)
def test_an_array_in_any_argument_gives_an_array_of_the_single_answers(case: Case, argument: str) -> None:
    values = [case.values[argument], other(argument, case.values[argument])]
    together = case.numbers(**{argument: np.array(values)})
    for position, value in enumerate(values):
        for many, single in zip(together, case.numbers(**{argument: value}), strict=True):
            assert isinstance(many, np.ndarray)
            assert many.shape == (2,)
            assert many[position] == pytest.approx(single, rel=1e-12)


@by_case
def test_arrays_of_all_arguments_broadcast_together(case: Case) -> None:
    """A column of one argument and rows of the others make a table."""
    first, *rest = case.values
    column = np.array([[case.values[first]], [other(first, case.values[first])]])
    rows = {name: np.full(3, case.values[name]) for name in rest}
    shape = (2, 3) if rest else (2, 1)
    for table in case.numbers(**{first: column}, **rows):
        assert table.shape == shape
    for row, value in enumerate(column[:, 0]):
        for table, single in zip(
            case.numbers(**{first: column}, **rows), case.numbers(**{first: float(value)}), strict=True
        ):
            assert table[row].tolist() == pytest.approx([single] * shape[1], rel=1e-12)


@by_case
def test_the_arrays_that_were_given_are_left_as_they_were(case: Case) -> None:
    arrays = {name: np.full(2, value) for name, value in case.values.items()}
    before = {name: array.copy() for name, array in arrays.items()}
    case.numbers(**arrays)
    assert all((arrays[name] == before[name]).all() for name in arrays)


@pytest.mark.parametrize(("case", "argument"), ARGUMENTS)
def test_what_is_no_ordinary_number_is_refused_by_name_and_value(case: Case, argument: str) -> None:
    good = case.values[argument]
    for given, words in (
        (math.nan, "an ordinary number, but is nan."),
        (math.inf, "an ordinary number, but is inf."),
        (np.array([good, -math.inf]), "an ordinary number, but is -inf."),
        ("wide", "a number or an array of numbers, but is 'wide'."),
    ):
        with pytest.raises(BadInput) as refusal:
            case.numbers(**{argument: given})
        assert str(refusal.value) == f"{argument} must be {words}"
        assert refusal.value.argument == argument


# What may be negative: temperatures.
POSITIVE = [
    pytest.param(case, argument, id=f"{case.name}-{argument}")
    for case in CASES
    for argument in case.values
    if not argument.endswith("_c")
]


@pytest.mark.parametrize(("case", "argument"), POSITIVE)
def test_a_negative_length_flow_time_or_count_is_refused_in_one_sentence_by_name_and_value(
    case: Case, argument: str
) -> None:
    for given in (-0.5, np.array([case.values[argument], -0.5, case.values[argument]])):
        with pytest.raises(BadInput) as refusal:
            case.numbers(**{argument: given})
        sentence = str(refusal.value)
        assert sentence.startswith(f"{argument} must ")
        assert sentence.endswith(", but is -0.5.")


def test_the_words_of_what_governs_wear_follow_the_arrays() -> None:
    many = pump_life.wear(np.array([[900.0], [100.0]]), np.array([9e3, 9e4]), 1e3, 1e5)
    assert np.asarray(many.governing).tolist() == [["run hours", "starts"], ["run hours", "starts"]]
    case = next(case for case in CASES if case.function is pump_life.wear)
    assert replace(case, parts=("governing",)).numbers() == ["starts"]
