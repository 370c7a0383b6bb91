"""How long a battery runs a pump, against worked examples; and errors found in public that must not come back."""

import math
import warnings
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from contractor.engineering.battery_life import (
    capacity_factor,
    capacity_from_reserve_minutes_ah,
    peukert_exponent,
    reserve_h,
    runtime_h,
)
from contractor.engineering.errors import BadInput, Caution

quiet = pytest.mark.filterwarnings("ignore::contractor.engineering.errors.Caution")


@pytest.mark.parametrize(
    ("capacity_ah", "current_a", "exponent", "hours"),
    # 8.7 h for 100 Ah, k 1.2, 10 A: an encyclopedia (from memory); the rest computed by hand.
    [
        (100, 10, 1.2, 8.706),
        (100, 5, 1.2, 20.0),
        (75, 15, 1.25, 3.536),
        (75, 15, 1.20, 3.789),
        (75, 15, 1.05, 4.665),
        (75, 15, 1.00, 5.0),
    ],
)
def test_peukert_agrees_with_worked_examples(
    capacity_ah: float, current_a: float, exponent: float, hours: float
) -> None:
    assert runtime_h(capacity_ah, 20, current_a, exponent) == pytest.approx(hours, abs=1e-3)


def test_a_twenty_hour_rating_lasts_twenty_hours_at_its_own_current() -> None:
    """Pages in public compute 14.5 h for 100 Ah, k 1.2, 5 A with t = C/I^k, and print 89 Ah at 10 A for k = 1.1."""
    assert runtime_h(100, 20, 5, 1.2) == 20.0
    assert runtime_h(100, 20, 5, 1.2) != pytest.approx(100 / 5**1.2, abs=1)
    assert 10 * runtime_h(100, 20, 10, 1.1) == pytest.approx(93.3, abs=0.05)


def test_a_peukert_exponent_is_fitted_through_two_discharges() -> None:
    """Computed: 5 A for 20 h and 25 A for 3 h give 1.1787."""
    assert peukert_exponent(5, 20, 25, 3) == pytest.approx(1.1787, abs=1e-4)
    assert peukert_exponent(25, 3, 5, 20) == pytest.approx(1.1787, abs=1e-4)
    with pytest.warns(Caution, match=r"above 1\.6"):
        peukert_exponent(5, 20, 25, 1)


@given(exponent=st.floats(1.0, 1.6), first=st.floats(1, 10), second=st.floats(11, 60))
@settings(max_examples=60)
@quiet
def test_the_fitted_exponent_is_the_one_that_made_the_times(exponent: float, first: float, second: float) -> None:
    times = [runtime_h(100, 20, current, exponent) for current in (first, second)]
    assert peukert_exponent(first, times[0], second, times[1]) == pytest.approx(exponent, abs=1e-9)


@pytest.mark.parametrize(
    ("minutes", "by_exponent"),
    # Computed: C20 = 500·(RC/1200)^(1/k).
    [
        (120, {1.10: 61.6, 1.15: 67.5, 1.20: 73.4, 1.25: 79.2}),
        (90, {1.10: 47.5, 1.15: 52.6, 1.20: 57.7, 1.25: 63.0}),
        (180, {1.10: 89.1, 1.15: 96.1, 1.20: 102.9, 1.25: 109.6}),
    ],
)
def test_reserve_minutes_become_twenty_hour_capacity(minutes: float, by_exponent: dict[float, float]) -> None:
    for exponent, capacity in by_exponent.items():
        converted = capacity_from_reserve_minutes_ah(minutes, exponent)
        assert converted == pytest.approx(capacity, abs=0.06)
        assert runtime_h(converted, 20, 25, exponent) * 60 == pytest.approx(minutes)


@pytest.mark.parametrize(
    ("minutes", "printed_ah"),
    # Printed conversions at 25 A (read): without Peukert's effect the capacity is RC·25/60.
    [(45, 18.75), (90, 37.5), (120, 50.0), (160, 66.7)],
)
def test_without_peukerts_effect_reserve_minutes_are_plain_ampere_hours(minutes: float, printed_ah: float) -> None:
    assert capacity_from_reserve_minutes_ah(minutes, 1.0) == pytest.approx(printed_ah, abs=0.05)


def test_an_absurd_reserve_is_cautioned() -> None:
    with pytest.warns(Caution, match="1200 minutes"):
        capacity_from_reserve_minutes_ah(1500, 1.2)


@pytest.mark.parametrize(
    ("fahrenheit", "factor"),
    # Table 1 of IEEE 485 (from memory), reproduced within 0.015 by a battery-sizing program's polynomial (read).
    [
        *[(25, 1.52), (30, 1.43), (35, 1.35), (40, 1.30), (45, 1.25), (50, 1.19), (55, 1.15), (60, 1.11)],
        *[(65, 1.08), (70, 1.04), (77, 1.00), (80, 0.98), (90, 0.94), (100, 0.91), (110, 0.88), (120, 0.86)],
    ],
)
def test_the_effect_of_cold_is_that_of_the_sizing_standard(fahrenheit: float, factor: float) -> None:
    assert 1 / capacity_factor((fahrenheit - 32) / 1.8) == pytest.approx(factor, abs=0.0155)


@pytest.mark.parametrize(
    ("fahrenheit", "factor"),
    # The polynomial itself (a battery-sizing program's documentation, read), three decimals; 0.9995 at 25 °C.
    [
        *[(25, 1.508), (30, 1.433), (35, 1.365), (40, 1.302), (45, 1.246), (50, 1.195), (55, 1.149), (60, 1.108)],
        *[(65, 1.071), (70, 1.039), (77, 1.000), (80, 0.985), (90, 0.942), (100, 0.909), (110, 0.883), (120, 0.859)],
    ],
)
def test_the_effect_of_cold_is_that_of_the_programs_polynomial(fahrenheit: float, factor: float) -> None:
    assert 1 / capacity_factor((fahrenheit - 32) / 1.8) == pytest.approx(factor, abs=1.3e-3)


def test_an_old_web_table_of_multipliers_at_the_twenty_hour_rate_is_near() -> None:
    """Correction factors of a book on standby power, 5 h and 8 h columns (read): capacity left at 30 to 60 °F.

    They hold for other batteries and rates, so within a few hundredths only.
    """
    for fahrenheit, five_hours, eight_hours in ((30, 0.765, 0.790), (40, 0.830, 0.845), (50, 0.880, 0.895)):
        ours = capacity_factor((fahrenheit - 32) / 1.8)
        assert five_hours - 0.08 < ours < eight_hours + 0.02


@pytest.mark.parametrize(
    ("call", "is_doubtful"),
    [
        (lambda: capacity_factor(-3.9), False),
        (lambda: capacity_factor(-4.0), True),
        (lambda: capacity_factor(51.7), False),
        (lambda: capacity_factor(51.8), True),
        (lambda: runtime_h(100, 20, 5, 1.2), False),
        (lambda: runtime_h(100, 20, 4.9, 1.2), True),
        (lambda: runtime_h(100, 20, 100, 1.2), False),
        (lambda: runtime_h(100, 20, 100.5, 1.2), True),
        (lambda: runtime_h(100, 20, 10, 1.6), False),
        (lambda: runtime_h(100, 20, 10, 1.61), True),
        (lambda: runtime_h(np.array([100, 100]), 20, np.array([10, 1]), 1.2), True),
        (lambda: capacity_from_reserve_minutes_ah(120, 1.2), False),
        (lambda: capacity_from_reserve_minutes_ah(1200, 1.2), False),
        (lambda: capacity_from_reserve_minutes_ah(1201, 1.2), True),
        (lambda: peukert_exponent(5, 20, 10, 20 / 2**1.59), False),
        (lambda: peukert_exponent(5, 20, 10, 20 / 2**1.61), True),
    ],
)
def test_a_formula_is_doubted_only_outside_its_range(call: Callable[[], object], is_doubtful: bool) -> None:
    with warnings.catch_warnings(record=True) as said:
        warnings.simplefilter("always")
        call()
    assert bool(said) is is_doubtful


@pytest.mark.parametrize(
    ("given_values", "count"),
    [
        ({}, 0),
        ({"duty": 0.999}, 0),
        ({"duty": 1.0}, 1),
        ({"health": 0.8}, 0),
        ({"health": 0.79}, 1),
        ({"temperature_c": -3.9}, 0),
        ({"temperature_c": -4.0}, 1),
        ({"duty": np.array([0.1, 1.2])}, 1),
        ({"health": np.array([1.0, 0.5])}, 1),
    ],
)
def test_a_reserve_is_doubted_only_outside_its_range(given_values: dict[str, object], count: int) -> None:
    usual: dict[str, object] = {"duty": 0.5}
    assert len(reserve_h(75, 20, 15, 1.2, **(usual | given_values)).cautions) == count  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("duty", "idle_a", "hours"),
    # Charge balance by hand with k = 1: 75 Ah over 15·D + I0·(1 − D) ampere.
    [(0.25, 0.2, 75 / (3.75 + 0.15)), (0.5, 1.0, 75 / 8.0), (1.0, 1.0, 5.0), (0.0, 0.5, 150.0)],
)
def test_the_mean_current_is_that_of_pumping_and_standing(duty: float, idle_a: float, hours: float) -> None:
    assert reserve_h(75, 20, 15, 1.0, duty, idle_a=idle_a).hours == pytest.approx(hours, rel=1e-9)


def test_equal_ampere_hours_at_both_currents_are_an_exponent_of_one() -> None:
    assert peukert_exponent(5, 20, 10, 10) == 1.0


def test_each_of_many_flows_has_its_hours_and_its_water() -> None:
    many = reserve_h(75, 20, 15, 1.2, 0.25, pump_flow_m3_s=np.array([0.001, 0.002]))
    one = reserve_h(75, 20, 15, 1.2, 0.25)
    assert np.asarray(many.hours).tolist() == [one.hours, one.hours]
    assert np.asarray(many.pumped_m3)[1] == pytest.approx(2 * np.asarray(many.pumped_m3)[0])


def test_the_factor_for_ten_degrees_is_not_given_to_freezing() -> None:
    """A web table puts 1.19 at 0 °C; it belongs to 10 °C (50 °F)."""
    assert 1 / capacity_factor(10.0) == pytest.approx(1.19, abs=0.01)
    assert 1 / capacity_factor(0.0) > 1.35
    assert capacity_factor(25.0) == 1.0


def test_a_full_battery_delivers_about_three_quarters_at_freezing() -> None:
    """Army TM 10-6140-200-14 (read): 75 % at 32 °F; a starting battery, so only roughly."""
    assert capacity_factor(0.0) == pytest.approx(0.75, abs=0.05)
    with pytest.warns(Caution, match="outside −4 to 52"):
        capacity_factor(-17.8)


@pytest.mark.parametrize(
    ("duty", "hours"),
    # Computed: 75 Ah over 20 h, k 1.2, 15 A; run time ÷ duty.
    [(0.25, 15.16), (0.5, 7.58), (1.0, 3.79)],
)
def test_reserve_is_the_run_time_over_the_duty(duty: float, hours: float) -> None:
    assert reserve_h(75, 20, 15, 1.2, duty).hours == pytest.approx(hours, abs=6e-3)


def test_an_old_cold_battery_keeps_up_for_less_than_half_as_long() -> None:
    """Computed: 80 % health at 50 °F (÷1.19) leaves 50.42 Ah, 2.353 h of running, 9.41 h at a quarter duty."""
    reserve = reserve_h(75, 20, 15, 1.2, 0.25, health=0.8, temperature_c=10.0)
    assert reserve.hours == pytest.approx(9.41, rel=1e-2)
    assert reserve_h(75, 20, 15, 1.2, 1.0, health=0.8 / 1.19).hours == pytest.approx(2.353, abs=1e-3)


def test_reserve_is_not_peukert_on_the_mean_current() -> None:
    """That would promise 20 h at a quarter duty where the careful answer is 15.2 h."""
    assert reserve_h(75, 20, 15, 1.2, 0.25).hours < 0.8 * runtime_h(75, 20, 15 * 0.25, 1.2) * 1.01


def test_idle_current_runs_down_the_battery_while_the_pump_stands() -> None:
    assert reserve_h(75, 20, 15, 1.0, 0.0, idle_a=0.1).hours == pytest.approx(750)
    assert reserve_h(75, 20, 15, 1.0, 0.0).hours == math.inf
    assert reserve_h(75, 20, 15, 1.2, 0.25, idle_a=0.2).hours < reserve_h(75, 20, 15, 1.2, 0.25).hours


def test_the_water_lifted_is_the_flow_over_the_hours_that_the_pump_runs() -> None:
    reserve = reserve_h(75, 20, 15, 1.2, 0.25, pump_flow_m3_s=0.001)
    assert reserve.pumped_m3 == pytest.approx(3.789 * 3.6, rel=1e-3)
    assert reserve.pumped_m3 == pytest.approx(0.001 * 3600 * 0.25 * float(reserve.hours), rel=1e-12)
    assert reserve_h(75, 20, 15, 1.2, 0.0, pump_flow_m3_s=0.001).pumped_m3 == 0
    assert reserve_h(75, 20, 15, 1.2, 0.25).pumped_m3 is None


def test_more_inflow_than_flow_overflows_whatever_the_battery() -> None:
    reserve = reserve_h(75, 20, 15, 1.2, 1.5)
    assert reserve.hours == pytest.approx(3.789, abs=1e-3)
    assert any("overflows" in caution for caution in reserve.cautions)


def test_doubts_about_the_battery_are_said() -> None:
    worn = reserve_h(75, 20, 15, 1.7, 0.5, health=0.7, temperature_c=-10)
    text = " ".join(worn.cautions)
    assert "less than 80%" in text
    assert "outside −4 to 52" in text
    assert "above 1.6" in text
    assert reserve_h(75, 20, 15, 1.6, 0.5, health=0.81).cautions == ()
    assert "less than an hour" in " ".join(reserve_h(10, 20, 15, 1.2, 0.5).cautions)
    with pytest.warns(Caution, match="optimistic"):
        runtime_h(100, 20, 1, 1.2)


@given(
    capacity=st.floats(20, 200),
    current=st.floats(5, 30),
    more=st.floats(0, 20),
    exponent=st.floats(1, 1.5),
    duty=st.floats(0.01, 1),
    health=st.floats(0.3, 1),
)
@settings(max_examples=80)
@quiet
def test_more_current_more_duty_or_a_worse_battery_never_lasts_longer(
    capacity: float, current: float, more: float, exponent: float, duty: float, health: float
) -> None:
    base = reserve_h(capacity, 20, current, exponent, duty).hours
    assert reserve_h(capacity, 20, current + more, exponent, duty).hours <= base
    assert reserve_h(capacity, 20, current, exponent, min(1.0, duty * 1.5)).hours <= base
    assert reserve_h(capacity, 20, current, exponent, duty, health=health).hours <= base
    assert reserve_h(capacity, 20, current, exponent, duty, temperature_c=5).hours <= base


def test_many_batteries_are_computed_at_once() -> None:
    duty = np.array([0.25, 0.5, 1.0])
    together = reserve_h(75, 20, 15, 1.2, duty, pump_flow_m3_s=0.001)
    assert np.asarray(together.hours) == pytest.approx([reserve_h(75, 20, 15, 1.2, float(d)).hours for d in duty])
    assert np.asarray(together.pumped_m3).shape == (3,)


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (lambda: runtime_h(0, 20, 5, 1.2), "capacity_ah must be greater than zero, but is 0.0."),
        (lambda: runtime_h(100, 20, 5, 0.9), "peukert must be 1 or more, but is 0.9."),
        (lambda: peukert_exponent(5, 20, 5, 3), "current_2_a must differ from current_1_a, but is 5.0."),
        (
            lambda: peukert_exponent(5, 20, 25, 10),
            "hours_2 must give a Peukert exponent of 1 or more together with the other test, but is 10.0.",
        ),
        (lambda: reserve_h(75, 20, 15, 1.2, -0.1), "duty must not be negative, but is -0.1."),
        (lambda: reserve_h(75, 20, 15, 1.2, 0.5, health=0), "health must be greater than zero, but is 0.0."),
        (lambda: capacity_factor(60.5), "temperature_c must lie from -40 to 60, but is 60.5."),
        (lambda: capacity_factor(-40.5), "temperature_c must lie from -40 to 60, but is -40.5."),
        (
            lambda: reserve_h(75, 20, 15, 1.2, 0.5, temperature_c=60.5),
            "temperature_c must lie from -40 to 60, but is 60.5.",
        ),
        (
            lambda: reserve_h(75, 20, 15, 1.2, 0.5, temperature_c=-40.5),
            "temperature_c must lie from -40 to 60, but is -40.5.",
        ),
        (lambda: reserve_h(75, 20, 15, 1.2, 0.5, idle_a=-1), "idle_a must not be negative, but is -1.0."),
        (
            lambda: reserve_h(75, 20, 15, 1.2, 0.5, pump_flow_m3_s=-1),
            "pump_flow_m3_s must not be negative, but is -1.0.",
        ),
        (lambda: capacity_from_reserve_minutes_ah(0, 1.2), "minutes must be greater than zero, but is 0.0."),
        (lambda: capacity_factor(99), "temperature_c must lie from -40 to 60, but is 99.0."),
    ],
)
def test_bad_input_is_refused_in_one_sentence_that_names_it(call, sentence: str) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(BadInput) as refusal:
        call()
    assert str(refusal.value) == sentence
