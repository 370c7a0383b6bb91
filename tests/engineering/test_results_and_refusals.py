"""What every computation hands back, and how it says that an input is bad or an answer doubtful."""

import dataclasses
import importlib
import pkgutil
import warnings
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

import contractor.engineering
from contractor.engineering.battery_reserve import peukert_exponent
from contractor.engineering.errors import BadInput, Caution
from contractor.engineering.frost import time_to_freezing_h
from contractor.engineering.inputs import as_given, finite, not_negative, positive, within
from contractor.engineering.pipe_losses import velocity_m_s
from contractor.engineering.pit import inflow_from_counter_m3_s, inflow_from_rise_m3_s

MODULES = sorted(module.name for module in pkgutil.iter_modules(contractor.engineering.__path__))
# Built by hand from a maker's points and a house's measures, so by position too; the underscored never leave a module.
BY_POSITION = {"PumpCurve", "DischargeLine", "_Lives", "_Solved"}


def results() -> list[type]:
    found = []
    for name in MODULES:
        module = importlib.import_module(f"contractor.engineering.{name}")
        found += [
            member
            for member in vars(module).values()
            if isinstance(member, type) and dataclasses.is_dataclass(member) and member.__module__ == module.__name__
        ]
    return found


@pytest.mark.parametrize("result", results(), ids=lambda result: result.__name__)
def test_a_result_cannot_be_changed_takes_no_stray_names_and_is_built_by_name(result: type) -> None:
    parameters = result.__dataclass_params__  # type: ignore[attr-defined]
    assert parameters.frozen
    assert "__slots__" in vars(result)
    fields = dataclasses.fields(result)
    assert all(field.kw_only for field in fields) or result.__name__ in BY_POSITION


@pytest.mark.parametrize(
    ("check", "good", "bad"),
    [
        (finite, [-1.0, 0.0, 1.0], {"nan": "must be an ordinary number", "inf": "must be an ordinary number"}),
        (not_negative, [0.0, 1e-300, 5.0], {"-1e-300": "must not be negative"}),
        (positive, [1e-300, 5.0], {"0.0": "must be greater than zero", "-2.0": "must be greater than zero"}),
    ],
)
def test_a_check_lets_good_values_through_and_names_the_first_bad_one(check, good, bad) -> None:  # type: ignore[no-untyped-def]
    assert check("length_m", good).tolist() == good
    for value, rule in bad.items():
        with pytest.raises(BadInput) as refusal:
            check("length_m", [*good, float(value), float("nan") if rule.startswith("must be an") else -9.0])
        assert str(refusal.value) == f"length_m {rule}, but is {float(value)}."
        assert (refusal.value.argument, refusal.value.value) == ("length_m", pytest.approx(float(value), nan_ok=True))


def test_a_range_includes_both_of_its_ends() -> None:
    assert within("duty", [0.0, 0.5, 1.0], 0.0, 1.0).tolist() == [0.0, 0.5, 1.0]
    for outside in (-0.001, 1.001):
        with pytest.raises(BadInput, match=f"duty must lie from 0 to 1, but is {outside}"):
            within("duty", [0.5, outside], 0.0, 1.0)


@pytest.mark.parametrize("value", ["wide", None, "", [[1], [1, 2]], {"a": 1}, object])
def test_what_is_no_number_at_all_is_refused_with_its_own_words(value: object) -> None:
    with pytest.raises(BadInput) as refusal:
        finite("length_m", value)
    sentence = str(refusal.value)
    assert sentence.startswith("length_m must be ")
    assert sentence.endswith(".")


def test_bad_input_is_a_value_error_so_that_any_caller_may_catch_it() -> None:
    assert issubclass(BadInput, ValueError)
    assert issubclass(Caution, UserWarning)


def test_a_number_comes_back_as_a_number_and_an_array_as_an_array() -> None:
    assert type(as_given(np.float64(2.0))) is float
    assert type(as_given(3)) is float
    one = as_given(np.array([2.0]))
    assert isinstance(one, np.ndarray)
    assert one.shape == (1,)


def test_a_caution_points_at_the_line_that_asked() -> None:
    """So that a warning in a log can be found."""
    with warnings.catch_warnings(record=True) as said:
        warnings.simplefilter("always")
        velocity_m_s(0.005, 0.0404)
    assert [Path(each.filename).name for each in said] == [Path(__file__).name]
    assert issubclass(said[0].category, Caution)


def test_one_call_may_say_several_things() -> None:
    with warnings.catch_warnings(record=True) as said:
        warnings.simplefilter("always")
        velocity_m_s(np.array([0.0001, 0.005]), 0.0404)
    assert len(said) == 2


@pytest.mark.parametrize(
    ("call", "sentence"),
    # Rules between two arguments: of many entries the first that breaks the rule is named, as for one.
    [
        (
            lambda: peukert_exponent(5, 20, np.array([25.0, 5.0]), 3),
            "current_2_a must differ from current_1_a, but is 5.0.",
        ),
        (
            lambda: peukert_exponent(np.array([4.0, 5.0]), 20, 5.0, 3),
            "current_2_a must differ from current_1_a, but is 5.0.",
        ),
        (
            lambda: peukert_exponent(5, 20, 25, np.array([3.0, 12.0, 14.0])),
            "hours_2 must give a Peukert exponent of 1 or more together with the other test, but is 12.0.",
        ),
        (
            lambda: time_to_freezing_h(0.05, 0.06, np.array([0.12, 0.06, 0.04]), 0.04, 8, -5),
            "insulation_outer_m must be greater than insulation_inner_m, but is 0.06.",
        ),
        (
            lambda: time_to_freezing_h(np.array([0.05, 0.07]), 0.06, 0.12, 0.04, 8, -5),
            "insulation_inner_m must not be less than bore_m, but is 0.06.",
        ),
        (
            lambda: inflow_from_rise_m3_s(np.array([0.6, 0.3]), 0.1, 60, displaced_m3_per_m=0.1),
            "displaced_m3_per_m must be less than the pit's own volume per metre, but is 0.1.",
        ),
        (
            lambda: inflow_from_counter_m3_s(10, 0.03, np.array([3600.0, 60.0]), run_seconds=70.0),
            "run_seconds must be less than seconds, the whole period, but is 70.0.",
        ),
        (
            lambda: inflow_from_counter_m3_s(np.array([1.0, 900.0, 990.0]), 0.03, 60, pump_flow_m3_s=0.002),
            "starts must not exceed what the pump can make, seconds / shortest_period_s, but is 900.0.",
        ),
    ],
)
def test_of_many_entries_the_first_that_breaks_a_rule_is_named(call: Callable[[], object], sentence: str) -> None:
    with pytest.raises(BadInput) as refusal:
        call()
    assert str(refusal.value) == sentence
