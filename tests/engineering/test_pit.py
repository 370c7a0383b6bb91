"""Pit storage, cycles and inflow against published examples and handbooks."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from contractor.engineering.errors import BadInput
from contractor.engineering.pit import (
    inflow_from_counter_m3_s,
    inflow_from_rise_m3_s,
    pit_volume_m3,
    pump_cycle,
    pump_flow_from_drawdown_m3_s,
    shortest_period_s,
    storage_m3,
)

INCH = 0.0254
FOOT = 0.3048
GALLON = 231 * INCH**3
GPM = GALLON / 60


@pytest.mark.parametrize(
    ("diameter_in", "gallons_per_inch"),
    # Computed: π/4·d²/231. The homeowner rule "18 in: 1 gal per inch" is 9 % low.
    [(14, 0.6664), (16, 0.8704), (18, 1.1016), (20, 1.3600), (24, 1.9584), (30, 3.0600), (36, 4.4064)],
)
def test_an_inch_of_a_round_pit_holds_what_geometry_says(diameter_in: float, gallons_per_inch: float) -> None:
    assert pit_volume_m3(diameter_in * INCH, INCH) / GALLON == pytest.approx(gallons_per_inch, abs=1e-4)


@pytest.mark.parametrize(
    ("inflow_gpm", "fill_min", "run_min", "period_min", "starts", "duty"),
    # Computed by hand from V/Qi and V/(Qp − Qi): 18 in pit, 8 in between floats (8.813 gal), 40 gpm pump.
    [
        (2, 4.406, 0.232, 4.638, 12.94, 0.05),
        (10, 0.881, 0.294, 1.175, 51.06, 0.25),
        (20, 0.441, 0.441, 0.881, 68.08, 0.5),
        (38, 0.232, 4.406, 4.638, 12.94, 0.95),
    ],
)
def test_a_cycle_fills_runs_and_starts_as_computed_by_hand(
    inflow_gpm: float, fill_min: float, run_min: float, period_min: float, starts: float, duty: float
) -> None:
    cycle = pump_cycle(inflow_gpm * GPM, 40 * GPM, storage_m3(18 * INCH, 13 * INCH, 5 * INCH))
    assert cycle.fill_s / 60 == pytest.approx(fill_min, abs=6e-4)
    assert cycle.run_s / 60 == pytest.approx(run_min, abs=6e-4)
    assert cycle.period_s / 60 == pytest.approx(period_min, abs=6e-4)
    assert cycle.starts_per_hour == pytest.approx(starts, abs=0.01)
    assert cycle.duty == pytest.approx(duty)


@pytest.mark.parametrize(
    ("minutes", "gallons"),
    # MIL-HDBK-1005/9A (read) and UFC 3-240-04A (read): V = T·Q/4, here for 40 gpm.
    [(10, 100), (6, 60), (4, 40)],
)
def test_the_shortest_period_is_four_volumes_over_the_pump_flow(minutes: float, gallons: float) -> None:
    assert shortest_period_s(40 * GPM, gallons * GALLON) == pytest.approx(minutes * 60)


@pytest.mark.parametrize(
    ("area_m2", "rise_in", "minutes", "gpm", "within"),
    [
        # Operators' arithmetic page (read); it uses π = 3.14 and 7.48 gal per cubic foot.
        (math.pi / 4 * (10 * FOOT) ** 2, 6, 2, 146.8, 1e-3),
        (math.pi / 4 * (20 * FOOT) ** 2, 3, 20, 29.36, 1e-3),
        (15 * 12 * FOOT**2, 36, 30, 134.64, 1e-3),
        # Computed: 18 in pit, 6 in in 5 minutes.
        (math.pi / 4 * (18 * INCH) ** 2, 6, 5, 1.322, 1e-3),
    ],
)
def test_inflow_from_a_rise_agrees_with_published_arithmetic(
    area_m2: float, rise_in: float, minutes: float, gpm: float, within: float
) -> None:
    diameter = math.sqrt(4 * area_m2 / math.pi)
    assert inflow_from_rise_m3_s(diameter, rise_in * INCH, minutes * 60) / GPM == pytest.approx(gpm, rel=within)


def test_a_cast_iron_mains_primary_that_moves_2600_gallons_an_hour_is_measured_as_such() -> None:
    """Common practice, no source: a mains primary of this trade moves about 2,600 gal/h (43 gpm)."""
    inflow = 2 * GPM
    pumped = 2600 * GALLON / 3600
    seconds = pit_volume_m3(18 * INCH, 8 * INCH) / (pumped - inflow)
    assert pump_flow_from_drawdown_m3_s(18 * INCH, 8 * INCH, seconds, inflow) == pytest.approx(pumped)


def test_displaced_volume_is_taken_off_the_rise_and_off_the_drawdown() -> None:
    full, less = inflow_from_rise_m3_s(0.45, 0.1, 60), inflow_from_rise_m3_s(0.45, 0.1, 60, displaced_m3_per_m=0.02)
    assert full - less == pytest.approx(0.02 * 0.1 / 60)
    down = pump_flow_from_drawdown_m3_s(0.45, 0.1, 60, 0.0, displaced_m3_per_m=0.02)
    assert down == pytest.approx(less)


def test_a_pump_that_does_not_keep_up_runs_without_stopping_and_says_that_the_pit_overflows() -> None:
    cycle = pump_cycle(0.003, 0.0025, 0.03)
    assert cycle.run_s == math.inf
    assert cycle.starts_per_hour == 0
    assert cycle.duty == 1
    assert "overflow" in cycle.cautions[0]


@pytest.mark.parametrize("pump_flow_m3_s", [0.0, 0.0025])
def test_without_inflow_the_pump_never_starts(pump_flow_m3_s: float) -> None:
    cycle = pump_cycle(0.0, pump_flow_m3_s, 0.03)
    assert cycle.fill_s == math.inf
    assert cycle.duty == 0
    assert cycle.cautions == ()


def test_more_than_thirty_starts_an_hour_are_cautioned_as_common_practice() -> None:
    assert "51 times an hour" in pump_cycle(10 * GPM, 40 * GPM, 8.813 * GALLON).cautions[0]
    assert pump_cycle(2 * GPM, 40 * GPM, 8.813 * GALLON).cautions == ()


@pytest.mark.parametrize(("starts_per_hour", "is_many"), [(20.0, False), (29.9, False), (30.0, False), (30.1, True)])
def test_the_limit_of_starts_is_thirty_an_hour(starts_per_hour: float, is_many: bool) -> None:
    """Common practice, no source: 20 to 30 starts an hour for a small single-phase submersible motor."""
    pump = 0.0025
    # An inflow of half the pump's flow makes Qp/(4·V) starts: choose the storage for the starts that are wanted.
    storage = pump * 3600 / (4 * starts_per_hour)
    cycle = pump_cycle(pump / 2, pump, storage)
    assert cycle.starts_per_hour == pytest.approx(starts_per_hour)
    assert bool(cycle.cautions) is is_many


def test_an_inflow_of_just_what_the_pump_moves_never_stops_it() -> None:
    cycle = pump_cycle(0.0025, 0.0025, 0.03)
    assert (cycle.fill_s, cycle.run_s, cycle.period_s) == (pytest.approx(12.0), math.inf, math.inf)
    assert (cycle.starts_per_hour, cycle.duty) == (0.0, 1.0)
    assert len(cycle.cautions) == 1


def test_a_pump_that_moves_nothing_overflows_with_any_inflow() -> None:
    cycle = pump_cycle(np.array([0.0, 0.001]), 0.0, 0.03)
    assert np.asarray(cycle.duty).tolist() == [0.0, 1.0]
    assert np.asarray(cycle.starts_per_hour).tolist() == [0.0, 0.0]
    assert "overflow" in cycle.cautions[0]


def test_no_pits_at_all_have_no_cautions() -> None:
    cycle = pump_cycle(np.array([]), 0.0025, 0.03)
    assert np.asarray(cycle.period_s).shape == (0,)
    assert cycle.cautions == ()


@pytest.mark.parametrize(
    ("given_values", "inflow"),
    # Mass balance by hand: a pit of 30 L, a day of 86 400 s.
    [
        ({"starts": 288.0}, 288 * 0.030 / 86400),  # what came in while the pump ran is left out
        ({"starts": 288.0, "run_seconds": 8640.0}, 288 * 0.030 / (86400 - 8640)),
        ({"starts": 288.0, "run_seconds": 8640.0, "pump_flow_m3_s": 0.002}, 0.002 * 0.1),
        # 288 starts a day are one in 300 s: 300·Qi·(Qp − Qi) = V·Qp has the smaller root 0.1057 L/s.
        ({"starts": 288.0, "pump_flow_m3_s": 0.002}, 0.001 - math.sqrt(0.001**2 - 0.030 * 0.002 / 300)),
        ({"starts": 0.0}, 0.0),
        ({"starts": 0.0, "pump_flow_m3_s": 0.002}, 0.0),
        ({"starts": 0.0, "run_seconds": 0.0, "pump_flow_m3_s": 0.002}, 0.0),
    ],
)
def test_each_set_of_counters_has_its_own_mass_balance(given_values: dict[str, float], inflow: float) -> None:
    assert inflow_from_counter_m3_s(storage_m3=0.030, seconds=86400.0, **given_values) == pytest.approx(
        inflow, rel=1e-12
    )


def test_as_many_starts_as_the_pump_can_make_mean_half_its_flow_and_one_more_is_refused() -> None:
    """Qi = Qp/2 gives the most starts, Qp/(4·V) (MIL-HDBK-1005/9A section 2.5.3.6)."""
    assert inflow_from_counter_m3_s(10, 1.0, 10.0, pump_flow_m3_s=4.0) == 2.0
    with pytest.raises(BadInput, match=r"starts must not exceed .* but is 10\.5"):
        inflow_from_counter_m3_s(10.5, 1.0, 10.0, pump_flow_m3_s=4.0)


@given(part=st.floats(1e-4, 0.9999), pump=st.floats(1e-6, 1e-2), storage=st.floats(1e-3, 1.0))
@settings(max_examples=80)
def test_any_cycle_keeps_the_cycle_identity(part: float, pump: float, storage: float) -> None:
    """T = (V/Qp)·[1/(1 − Qi/Qp) + 1/(Qi/Qp)] ≥ 4V/Qp (MIL-HDBK-1005/9A section 2.5.3.6, equations 1 and 2, read)."""
    cycle = pump_cycle(part * pump, pump, storage)
    assert cycle.period_s == pytest.approx(storage / pump * (1 / (1 - part) + 1 / part), rel=1e-9)
    assert cycle.period_s >= shortest_period_s(pump, storage) * (1 - 1e-12)
    assert cycle.run_s * cycle.starts_per_hour / 3600 == pytest.approx(cycle.duty)


@given(part=st.floats(0.001, 0.49), pump=st.floats(1e-4, 1e-2), storage=st.floats(1e-3, 1.0))
@settings(max_examples=60)
def test_the_counter_gives_back_the_inflow_that_made_it_turn(part: float, pump: float, storage: float) -> None:
    inflow, day = part * pump, 86400.0
    cycle = pump_cycle(inflow, pump, storage)
    starts, run = day / cycle.period_s, day * cycle.duty
    assert inflow_from_counter_m3_s(starts, storage, day, pump_flow_m3_s=pump) == pytest.approx(inflow)
    assert inflow_from_counter_m3_s(starts, storage, day, run_seconds=run) == pytest.approx(inflow)
    assert inflow_from_counter_m3_s(starts, storage, day, run, pump) == pytest.approx(inflow)
    assert inflow_from_counter_m3_s(starts, storage, day) < inflow


def test_arrays_of_pits_are_computed_at_once_and_agree_with_one_by_one() -> None:
    inflow = np.array([0.0, 0.0001, 0.002, 0.004])
    together = pump_cycle(inflow, 0.0025, 0.03)
    for position, each in enumerate(inflow):
        alone = pump_cycle(float(each), 0.0025, 0.03)
        assert np.asarray(together.period_s)[position] == alone.period_s
        assert np.asarray(together.duty)[position] == alone.duty
    assert isinstance(pit_volume_m3(0.45, 0.2), float)
    assert np.asarray(pit_volume_m3(np.array([0.45, 0.6]), 0.2)).shape == (2,)


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (lambda: pit_volume_m3(-0.45, 1.0), "diameter_m must be greater than zero, but is -0.45."),
        (lambda: pit_volume_m3(0.45, math.nan), "depth_m must be an ordinary number, but is nan."),
        (lambda: pit_volume_m3("wide", 1.0), "diameter_m must be a number or an array of numbers, but is 'wide'."),  # type: ignore[call-overload]
        (lambda: storage_m3(0.45, on_m=0.1, off_m=0.3), "on_m must be above the off-level off_m of 0.3, but is 0.1."),
        (
            lambda: storage_m3(0.45, np.array([0.4, 0.3]), 0.3),
            "on_m must be above the off-level off_m of 0.3, but is 0.3.",
        ),
        (
            lambda: storage_m3(0.45, np.array([0.4, 0.2, 0.1]), np.array([0.3, 0.25, 0.15])),
            "on_m must be above the off-level off_m of 0.25, but is 0.2.",
        ),
        (lambda: storage_m3(0.45, 0.3, 0.3), "on_m must be above the off-level off_m of 0.3, but is 0.3."),
        (
            lambda: inflow_from_rise_m3_s(0.45, 0.1, 60, displaced_m3_per_m=pit_volume_m3(0.45, 1.0)),
            f"displaced_m3_per_m must be less than the pit's own volume per metre, but is {pit_volume_m3(0.45, 1.0)}.",
        ),
        (
            lambda: inflow_from_counter_m3_s(10, 0.03, 60, run_seconds=61),
            "run_seconds must be less than seconds, the whole period, but is 61.0.",
        ),
        (lambda: inflow_from_counter_m3_s(10, 0.0, 60), "storage_m3 must be greater than zero, but is 0.0."),
        (lambda: pump_cycle(-1.0, 1.0, 1.0), "inflow_m3_s must not be negative, but is -1.0."),
        (lambda: inflow_from_rise_m3_s(0.45, 0.1, 0.0), "seconds must be greater than zero, but is 0.0."),
        (
            lambda: inflow_from_rise_m3_s(0.45, 0.1, 60, displaced_m3_per_m=0.2),
            "displaced_m3_per_m must be less than the pit's own volume per metre, but is 0.2.",
        ),
        (lambda: pump_flow_from_drawdown_m3_s(0.45, 0.0, 60, 0), "fall_m must be greater than zero, but is 0.0."),
        (
            lambda: inflow_from_counter_m3_s(10, 0.03, 60, run_seconds=60),
            "run_seconds must be less than seconds, the whole period, but is 60.0.",
        ),
        (
            lambda: inflow_from_counter_m3_s(1000, 0.03, 60, pump_flow_m3_s=0.002),
            "starts must not exceed what the pump can make, seconds / shortest_period_s, but is 1000.0.",
        ),
    ],
)
def test_bad_input_is_refused_in_one_sentence_that_names_it(call, sentence: str) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(BadInput) as refusal:
        call()
    assert str(refusal.value) == sentence
