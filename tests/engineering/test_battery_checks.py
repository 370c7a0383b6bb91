"""What may be read from a battery: voltage at rest, acid, load test, float charge and gas, against published tables."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from contractor.engineering.battery_life import (
    Chemistry,
    LoadTestVerdict,
    float_voltage_v,
    gravity_at_27c,
    hydrogen_m3_h,
    judge_load_test,
    load_test_minimum_v,
    state_of_charge_from_rest_v,
)
from contractor.engineering.errors import BadInput, Caution

CUBIC_FOOT = 0.3048**3


def celsius(fahrenheit: float) -> float:
    return (fahrenheit - 32) / 1.8


@pytest.mark.parametrize(
    ("fahrenheit", "volts"),
    # Several vehicle makers' service manuals (read).
    [(80, 9.6), (70, 9.6), (60, 9.5), (50, 9.4), (40, 9.3), (30, 9.1), (20, 8.9), (10, 8.7), (0, 8.5)],
)
def test_the_load_tests_minimum_is_that_of_the_service_manuals(fahrenheit: float, volts: float) -> None:
    assert load_test_minimum_v(celsius(fahrenheit)) == volts


def test_the_load_tests_minimum_is_interpolated_and_held_with_a_caution_in_deep_cold() -> None:
    assert load_test_minimum_v(celsius(35)) == pytest.approx(9.2)
    with pytest.warns(Caution, match="colder than −18"):
        assert load_test_minimum_v(-25.0) == 8.5
    assert np.asarray(load_test_minimum_v(np.array([21.2, 10.0]))).tolist() == [9.6, 9.4]


@pytest.mark.parametrize(
    ("case", "verdict", "words"),
    [
        ({"volts": 9.5}, LoadTestVerdict.PASSED, "held 9.50 V"),
        ({"volts": 9.4}, LoadTestVerdict.PASSED, "held 9.40 V"),
        ({"volts": 9.39}, LoadTestVerdict.FAILED, "fell to 9.39 V"),
        ({"volts": 9.1, "load_a": 300.0}, LoadTestVerdict.FAILED, "fell to 9.10 V"),
        ({"volts": 9.1, "state_of_charge": 0.8}, LoadTestVerdict.FAILED, "fell"),
        # A load within a twentieth of half the rating is the test's load.
        ({"volts": 9.5, "load_a": 290.0}, LoadTestVerdict.PASSED, "held"),
        ({"volts": 9.1, "load_a": 310.0}, LoadTestVerdict.FAILED, "fell"),
        # A pass proves nothing when the load was short, light, or has no rating to be half of.
        ({"volts": 9.5, "seconds": 10.0}, LoadTestVerdict.INCONCLUSIVE, "held for 10 s only"),
        ({"volts": 9.5, "load_a": 200.0}, LoadTestVerdict.INCONCLUSIVE, "less than half"),
        ({"volts": 9.5, "cold_cranking_a": None}, LoadTestVerdict.INCONCLUSIVE, "no cold-cranking rating"),
        # A fail proves nothing when the battery was not charged or the load too heavy.
        ({"volts": 9.1, "state_of_charge": 0.6}, LoadTestVerdict.INCONCLUSIVE, "only 60% charged"),
        ({"volts": 9.1, "load_a": 400.0}, LoadTestVerdict.INCONCLUSIVE, "more than half"),
        # ... but a battery that fails a short or light load has failed.
        ({"volts": 9.1, "seconds": 10.0}, LoadTestVerdict.FAILED, "fell"),
        ({"volts": 9.1, "load_a": 200.0}, LoadTestVerdict.FAILED, "fell"),
        ({"volts": 13.0, "chemistry": Chemistry.LIFEPO4}, LoadTestVerdict.INCONCLUSIVE, "not judged by its voltage"),
    ],
)
def test_a_load_test_is_judged_only_when_it_proves_something(
    case: dict[str, object], verdict: LoadTestVerdict, words: str
) -> None:
    usual: dict[str, object] = {"temperature_c": 10.0, "chemistry": Chemistry.AGM, "cold_cranking_a": 600.0}
    judged = judge_load_test(**(usual | case))  # type: ignore[arg-type]
    assert judged.verdict is verdict
    assert words in judged.reason


def test_a_judged_load_test_says_how_much_was_to_spare_and_keeps_its_doubts() -> None:
    judged = judge_load_test(volts=9.1, temperature_c=10, chemistry=Chemistry.AGM, seconds=12, cold_cranking_a=600)
    assert (judged.minimum_v, judged.margin_v) == (9.4, -0.3)
    assert judged.cautions == ("The load was held for 12 s only; the test needs 15 s.",)


@given(volts=st.floats(8, 11), lower=st.floats(0, 2), temperature=st.floats(-18, 40), charge=st.floats(0.75, 1.0))
@settings(max_examples=60)
def test_a_lower_voltage_never_passes_where_a_higher_one_failed(
    volts: float, lower: float, temperature: float, charge: float
) -> None:
    def verdict(measured: float) -> LoadTestVerdict:
        return judge_load_test(
            volts=measured,
            temperature_c=temperature,
            chemistry=Chemistry.FLOODED,
            cold_cranking_a=500,
            state_of_charge=charge,
        ).verdict

    assert not (verdict(volts) is LoadTestVerdict.FAILED and verdict(volts - lower) is LoadTestVerdict.PASSED)


@pytest.mark.parametrize(
    ("volts", "fraction"),
    # Table credited to the battery makers' council, 80 °F (read).
    [(12.65, 1.0), (12.45, 0.75), (12.24, 0.5), (12.06, 0.25), (11.89, 0.0)],
)
def test_charge_of_a_rested_flooded_battery_is_that_of_the_makers_table(volts: float, fraction: float) -> None:
    charge = state_of_charge_from_rest_v(volts, Chemistry.FLOODED)
    assert charge.fraction == pytest.approx(fraction)
    assert charge.cautions == ()


@pytest.mark.parametrize("chemistry", [Chemistry.AGM, Chemistry.GEL])
def test_sealed_batteries_stand_higher_for_the_same_charge_and_say_so(chemistry: Chemistry) -> None:
    """AGM reads 12.8 to 12.9 V when full (from memory)."""
    charge = state_of_charge_from_rest_v(12.85, chemistry)
    assert charge.fraction == pytest.approx(1.0)
    assert "0.2 V higher" in charge.cautions[0]
    assert state_of_charge_from_rest_v(12.65, chemistry).fraction == pytest.approx(0.75)


def test_lithium_iron_phosphate_tells_nothing_by_voltage() -> None:
    charge = state_of_charge_from_rest_v(13.2, Chemistry.LIFEPO4)
    assert charge.fraction is None
    assert "capacity" in charge.cautions[0]


@pytest.mark.parametrize(("volts", "words"), [(13.4, "let it rest"), (11.2, "a cell may be dead")])
def test_a_voltage_that_no_rested_battery_shows_is_cautioned(volts: float, words: str) -> None:
    assert words in state_of_charge_from_rest_v(volts, Chemistry.FLOODED).cautions[0]


@pytest.mark.parametrize(
    ("gravity", "fahrenheit", "corrected"),
    # Vehicle makers' service manuals (read): printed 1.254 and 1.246; −0.020 at 30 °F and −0.032 at 0 °F.
    [(1.250, 90, 1.254), (1.250, 70, 1.246), (1.250, 30, 1.230), (1.250, 0, 1.218), (1.265, 80, 1.265)],
)
def test_gravity_is_corrected_as_the_service_manuals_print_it(
    gravity: float, fahrenheit: float, corrected: float
) -> None:
    assert gravity_at_27c(gravity, celsius(fahrenheit)) == pytest.approx(corrected, abs=1e-6)


def test_gravity_is_not_corrected_by_the_wrong_figure_found_in_public() -> None:
    """A page prints 0.0003 per 10 °F; the manuals' figure is 0.004. The warm reading also goes up, not down."""
    moved = gravity_at_27c(1.250, celsius(90)) - 1.250
    assert moved == pytest.approx(0.004, abs=1e-6)
    assert moved > 10 * 0.0003
    with pytest.warns(Caution, match="outside −30 to 60"):
        gravity_at_27c(1.2, 70.0)


@pytest.mark.parametrize(
    ("celsius_", "per_cell", "cells", "volts"),
    [
        # Makers' notes, second hand: 2.30 V at 25 °C is 2.27 at 35 °C and 2.33 at 15 °C.
        (35, 2.30, 1, 2.27),
        (15, 2.30, 1, 2.33),
        # Computed: a 12 V battery at 2.25 V per cell.
        (25, 2.25, 6, 13.50),
        (10, 2.25, 6, 13.77),
        (0, 2.25, 6, 13.95),
        (35, 2.25, 6, 13.32),
    ],
)
def test_float_voltage_falls_with_heat_as_makers_print_it(
    celsius_: float, per_cell: float, cells: int, volts: float
) -> None:
    assert float_voltage_v(celsius_, cells, per_cell) == pytest.approx(volts, abs=1e-9)


def test_float_voltage_is_cautioned_outside_its_range() -> None:
    with pytest.warns(Caution, match="0 to 40"):
        float_voltage_v(-5.0)


@pytest.mark.parametrize(
    ("current_a", "cells", "temperature_c", "cubic_feet_h", "relative"),
    [
        # Note on ventilating industrial batteries (read): 24 cells, 450 Ah, 20 % overcharge in 4 h, 0.01474 ft³/Ah.
        (450 * 0.2 / 4, 24, 0.0, 7.9596, 3e-3),
        # Computed: 0.01477 ft³ per Ah at 0 °C, 0.01612 at 25 °C; 0.000269 cfm per A: IEEE 484 (second hand).
        (1.0, 1, 0.0, 0.01477, 1e-3),
        (1.0, 1, 25.0, 0.01612, 1e-3),
        (1.0, 1, 25.0, 0.000269 * 60, 2e-3),
        (10.0, 6, 0.0, 0.884, 5e-3),
    ],
)
def test_hydrogen_agrees_with_handbook_constants(
    current_a: float, cells: int, temperature_c: float, cubic_feet_h: float, relative: float
) -> None:
    assert hydrogen_m3_h(current_a, cells, temperature_c) / CUBIC_FOOT == pytest.approx(cubic_feet_h, rel=relative)


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (lambda: load_test_minimum_v(math.nan), "temperature_c must be an ordinary number, but is nan."),
        (lambda: state_of_charge_from_rest_v(-1, Chemistry.AGM), "volts must be greater than zero, but is -1.0."),
        (lambda: gravity_at_27c(12.5, 20), "gravity must lie from 1 to 1.4, but is 12.5."),
        (lambda: hydrogen_m3_h(-1, 6), "current_a must not be negative, but is -1.0."),
        (
            lambda: judge_load_test(volts=9, temperature_c=10, chemistry=Chemistry.AGM, state_of_charge=60),
            "state_of_charge must lie from 0 to 1, but is 60.0.",
        ),
    ],
)
def test_bad_input_is_refused_in_one_sentence_that_names_it(call, sentence: str) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(BadInput) as refusal:
        call()
    assert str(refusal.value) == sentence
