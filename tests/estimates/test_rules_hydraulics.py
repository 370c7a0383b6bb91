"""Where pumps work on their own lines, what comes in, how the pit cycles, and how a year of it adds up."""

from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from scipy.optimize import brentq

from contractor.estimates.rules import assumed
from contractor.estimates.rules.facts import ASSUMED, MEASURED, SUPPOSED, Counted, Given, LineFacts, PitFacts, Reading
from contractor.estimates.rules.fleet import workings_of
from contractor.estimates.rules.hydraulics import NOT_ALL_KNOWN, TOO_MUCH_HEAD
from contractor.estimates.rules.inflow import weights_of
from contractor.estimates.rules.supposing import on_another_line
from tests.estimates.made import (
    CLIMATE,
    IN_ON,
    LINE,
    ON,
    PIT,
    PRIMARY_POINTS,
    bare,
    declared,
    measured,
    primary,
    readings,
    standby,
    system,
)

GPM, FOOT, INCH = 6.30902e-5, 0.3048, 0.0254
SECONDS_A_YEAR = 365.25 * 86400.0


def line_head_ft(flow_gpm: float, *, lift_ft: float, length_ft: float, bore_in: float, k: float) -> float:
    """Head by the formulas in US units, C = 140.

    Hazen–Williams 10.44·L·Q^1.852/(C^1.852·d^4.8704), in state plumbing codes; fittings 0.00259·K·Q²/d⁴, Crane TP-410.
    """
    friction = 10.44 * length_ft * flow_gpm**1.852 / (140.0**1.852 * bore_in**4.8704)
    return lift_ft + friction + 0.00259 * k * flow_gpm**2 / bore_in**4


def test_a_new_pump_works_where_its_curve_meets_its_own_line_as_the_us_formulas_find_it() -> None:
    # 9 ft of lift, 30 ft of 1.59 in pipe, four elbows: ΣK = 4·0.63 + 2 + 1 = 5.52.
    working = workings_of(system(), on=ON).of(primary())
    assert working is not None
    assert working.new_flow_m3_s is not None
    assert working.new_head_m is not None
    gpm = working.new_flow_m3_s / GPM
    head_ft = line_head_ft(gpm, lift_ft=9.0, length_ft=30.0, bore_in=1.59, k=5.52)
    assert working.new_head_m / FOOT == pytest.approx(head_ft, rel=2e-3)
    # Between 2.1 and 2.73 L/s the curve runs nearly straight from 15 to 10 ft.
    flows, heads = (np.array(each) for each in zip(*PRIMARY_POINTS, strict=True))
    straight = brentq(
        lambda q: (
            np.interp(q * GPM, flows, heads) / FOOT - line_head_ft(q, lift_ft=9.0, length_ft=30.0, bore_in=1.59, k=5.52)
        ),
        1.0,
        49.0,
    )
    assert gpm == pytest.approx(straight, rel=0.01)
    assert (working.now_flow_m3_s, working.now_is_measured, working.flow_ratio) == (working.new_flow_m3_s, False, 1.0)


def test_a_measured_flow_is_the_flow_now_and_its_wear_is_against_the_new_pump_at_the_same_head() -> None:
    pump = primary(flows=readings(0.0021, 0.0018))
    working = workings_of(system(pumps=(pump, standby())), on=ON).of(pump)
    assert working is not None
    assert working.now_flow_m3_s == pytest.approx(0.0018, rel=1e-6)
    # At 1.8 L/s (28.5 gpm) the line asks for 12.83 ft; the new pump's curve gives about 2.4 L/s there, read
    # off between its points (2.103 L/s at 15 ft, 2.734 L/s at 10 ft).
    asked = line_head_ft(0.0018 / GPM, lift_ft=9.0, length_ft=30.0, bore_in=1.59, k=5.52)
    read_off = np.interp(-asked * FOOT, [-4.572, -3.048], [0.002103, 0.0027339])
    assert working.flow_ratio == pytest.approx(0.0018 / read_off, rel=0.02)
    assert [day for day, _ in working.ratios] == [date(2021, 5, 10), date(2022, 5, 10)]
    assert working.ratios[0][1] > working.ratios[1][1] == working.flow_ratio
    assert working.curve_now is not None
    assert working.curve_now.flow_m3_s(working.now_head_m or 0.0) == pytest.approx(0.0018, rel=1e-6)


def test_where_the_line_was_not_measured_wear_is_judged_by_the_pumps_own_first_flow() -> None:
    pump = primary(flows=readings(0.0024, 0.0018))
    working = workings_of(system(pumps=(pump,), line=LineFacts()), on=ON).of(pump)
    assert working is not None
    assert [ratio for _, ratio in working.ratios] == [1.0, 0.75]
    assert (working.ratios_are_to_curve, NOT_ALL_KNOWN in working.cautions) == (False, True)
    assert working.now_flow_m3_s == pytest.approx(0.0018, rel=1e-6)
    one = primary(flows=readings(0.0018))
    alone = workings_of(system(pumps=(one,), line=LineFacts()), on=ON).of(one)
    assert alone is not None
    assert alone.ratios == ()


def test_a_flow_that_the_pump_cannot_have_moved_is_left_out_with_a_caution() -> None:
    pump = primary(flows=readings(0.0055))
    working = workings_of(system(pumps=(pump,), line=replace(LINE, static_lift_m=measured(6.5))), on=ON).of(pump)
    assert working is not None
    assert (working.ratios, working.flow_ratio) == ((), 1.0)
    assert TOO_MUCH_HEAD in working.cautions


def test_a_standby_pump_turns_as_fast_as_its_battery_lets_it() -> None:
    # 11.5 V under load on a curve of 12 V: affinity, flow · r and head · r² (Crane TP-410, example 7-33).
    working = workings_of(system(), on=ON).of(standby())
    assert working is not None
    assert working.speed_ratio == pytest.approx(11.5 / 12.0)
    assert working.curve_new is not None
    assert working.curve_new.shutoff_head_m == pytest.approx(6.096 * (11.5 / 12.0) ** 2)
    head = working.new_head_m or 0.0
    assert working.curve_new.head_m(working.new_flow_m3_s or 0.0) == pytest.approx(head, rel=1e-6)


@pytest.mark.parametrize(
    ("pump", "known", "caution"),
    [
        (primary(curve=None), False, "not on record"),
        (primary(curve=PRIMARY_POINTS[:2]), False, "at least 3 points"),
        (standby(curve=None), True, ""),
        (standby(curve=PRIMARY_POINTS[::-1]), True, "must rise"),
    ],
)
def test_an_unusable_curve_is_said_and_only_a_primarys_is_assumed(pump: object, known: bool, caution: str) -> None:
    working = workings_of(system(pumps=(pump,)), on=ON).pumps[0]
    assert working.curve_is_assumed is not known
    assert (working.curve is None) is known
    assert caution in " ".join(working.cautions)


def test_values_of_a_line_that_cannot_be_make_a_sentence_and_no_number() -> None:
    worked = workings_of(system(line=replace(LINE, bore_m=measured(0.0))), on=ON)
    assert (
        worked.line_trouble
        == "The discharge line's measures can't be used: diameter must be greater than zero, but is 0.0."
    )
    assert (worked.discharge, worked.velocity_m_s, worked.cycle_mean) == (None, None, None)
    assert [pump.new_flow_m3_s for pump in worked.pumps] == [None, None]
    upside_down = workings_of(system(pit=replace(PIT, on_m=measured(0.1))), on=ON)
    assert "must be above the off-level" in upside_down.pit_trouble
    assert (upside_down.storage_m3, upside_down.cycle_mean) == (None, None)


def test_everything_that_is_not_known_is_assumed_and_marked_so() -> None:
    worked = workings_of(bare(), on=ON)
    given = [worked.line.static_lift_m, worked.line.length_m, worked.line.bore_m, worked.pit.diameter_m]
    given += [worked.pit.on_m, worked.pit.off_m, worked.inflow.mean_m3_s, worked.inflow.design_m3_s]
    assert {one.origin for one in given} == {ASSUMED}
    assert all(one.note for one in given)
    # The least pit of IRC 2021 P3303.1.2 is 18 in wide; the mid-tolerance bore of 1½ in Schedule 40 pipe is 1.59 in
    # (ASTM D1785). Common practice, no source: 9 ft of lift, 30 ft of pipe, 8 in between the levels.
    assert worked.pit.diameter_m.value == pytest.approx(18 * INCH)
    assert worked.line.bore_m.value == pytest.approx(1.59 * INCH)
    assert worked.line.static_lift_m.value == pytest.approx(9 * FOOT)
    assert worked.line.length_m.value == pytest.approx(30 * FOOT)
    assert worked.pit.on_m.value - worked.pit.off_m.value == pytest.approx(8 * INCH)
    # Trade: a cast-iron mains primary moves about 2,600 gallons an hour (at 10 ft). Common practice, no source.
    assert np.interp(-10 * FOOT, [-h for _, h in assumed.PRIMARY_CURVE], [q for q, _ in assumed.PRIMARY_CURVE]) / (
        GPM / 60
    ) == pytest.approx(2600, rel=0.01)


def test_one_known_float_level_keeps_the_usual_distance_to_the_other() -> None:
    low = workings_of(system(pit=PitFacts(off_m=measured(0.2))), on=ON).pit
    assert low.on_m.value == pytest.approx(0.2 + 8 * INCH)
    high = workings_of(system(pit=PitFacts(on_m=measured(0.3))), on=ON).pit
    assert high.off_m.value == pytest.approx(max(0.3 - 8 * INCH, 0.15))


def test_the_pit_cycles_as_the_published_table_says() -> None:
    # 18 in pit, 8 in range, 40 gpm pump: at 2 gpm 4.406 min to fill, 0.232 min to run, 12.94 starts an hour, duty 0.05.
    # Computed from MIL-HDBK-1005/9A, equations 1 and 2.
    flow = 40 * GPM
    pump = primary(flows=readings(flow))
    supposed = Given(value=2 * GPM, unit="m3/s", origin=SUPPOSED)
    worked = workings_of(system(pumps=(pump,), pit=replace(PIT, mean_inflow_m3_s=supposed), climate=None), on=ON)
    assert worked.storage_m3 == pytest.approx(8.813 * 0.003785412, rel=1e-4)
    cycle = worked.cycle_mean
    assert cycle is not None
    assert cycle.fill_s / 60 == pytest.approx(4.406, abs=2e-3)
    assert cycle.run_s / 60 == pytest.approx(0.232, abs=2e-3)
    assert cycle.starts_per_hour == pytest.approx(12.94, abs=0.02)
    assert cycle.duty == pytest.approx(0.05, abs=1e-3)


@pytest.mark.parametrize(
    ("inflow_gpm", "hours", "starts"),
    # Hours and starts of a year at constant inflow, V = 8.8 gal, 40 gpm: 8766·Qi/Qp and 8766·60·Qi(Qp − Qi)/(V·Qp).
    [(0.5, 109.6, 29_511), (1.0, 219.2, 58_274), (2.0, 438.3, 113_560), (5.0, 1095.8, 261_486)],
)
def test_a_year_of_even_inflow_adds_up_to_the_published_hours_and_starts(
    inflow_gpm: float, hours: float, starts: float
) -> None:
    pump = primary(flows=readings(40 * GPM))
    supposed = Given(value=inflow_gpm * GPM, unit="m3/s", origin=SUPPOSED)
    pit = replace(PIT, on_m=measured(0.1524 + 8.8 / 8.813 * 8 * INCH), mean_inflow_m3_s=supposed)
    year = workings_of(system(pumps=(pump,), pit=pit, climate=None), on=ON).year
    assert year is not None
    assert year.run_hours == pytest.approx(hours, rel=2e-3)
    assert year.starts == pytest.approx(starts, rel=2e-3)


def test_the_months_weigh_half_by_rain_and_melt_and_half_evenly() -> None:
    weights, doubts = weights_of(CLIMATE)
    assert weights is not None
    assert sum(weights) == pytest.approx(1.0, abs=1e-6)
    assert min(weights) == pytest.approx(0.5 / 12, abs=1e-6)  # a frozen or a dried-out month still brings its base flow
    assert weights.index(max(weights)) == 2  # the snow melts in March
    assert doubts == ()
    assert weights_of(None) == (None, ())
    wrong = replace(CLIMATE, rain_mm=(70.0,) * 11)
    assert weights_of(wrong)[0] is None
    assert "Tamarack County can't be used" in weights_of(wrong)[1][0]


def test_a_rise_is_scaled_from_its_month_to_the_year_and_the_median_counts() -> None:
    weights, _ = weights_of(CLIMATE)
    assert weights is not None
    worked = workings_of(system(), on=ON)
    may = 12 * weights[4]
    assert worked.inflow.mean_m3_s.value == pytest.approx(0.00003 / may)
    assert worked.inflow.mean_m3_s.origin == MEASURED
    assert worked.inflow.wettest_m3_s == pytest.approx(worked.inflow.mean_m3_s.value * 12 * max(weights))
    assert worked.inflow.design_m3_s.value == pytest.approx(2 * worked.inflow.wettest_m3_s)
    assert sum(worked.inflow.months_m3_s) / 12 == pytest.approx(worked.inflow.mean_m3_s.value, rel=1e-6)


def test_a_larger_inflow_that_was_timed_is_the_design_inflow() -> None:
    rises = (*readings(*[0.00003] * 4), Reading(on=date(2025, 5, 10), value=0.001))
    worked = workings_of(system(pit=replace(PIT, inflows=rises)), on=ON)
    assert worked.inflow.design_m3_s.value == 0.001
    assert worked.inflow.design_m3_s.note == "the largest inflow that was timed"


def test_counters_of_a_year_or_more_tell_the_mean_inflow_and_shorter_ones_only_where_no_rise_was_timed() -> None:
    # 200 h in 4 years at 2.4 L/s: 0.0024 · 200 ÷ (1461 · 24) = 1.369e-5 m³/s.
    pump = primary(flows=readings(0.0024), run_hours=(Reading(on=date(2024, 5, 14), value=200.0),))
    worked = workings_of(system(pumps=(pump,)), on=ON)
    assert worked.inflow.mean_m3_s.value == pytest.approx(0.0024 * 200 / (1461 * 24), rel=1e-6)
    assert worked.inflow.how == "From the counters of this pump since it went in."
    # Starts alone, 8,000 a year: the smaller root of n/t = Q·(Qp − Q)/(V·Qp), a little more than n·V/t.
    by_starts = primary(flows=readings(0.0024), starts=(Reading(on=date(2024, 5, 14), value=32_000.0),))
    volume, least = 0.4572**2 * np.pi / 4 * 0.2032, 32_000 / (1461 * 86400)
    found = workings_of(system(pumps=(by_starts,)), on=ON).inflow.mean_m3_s.value
    assert found * (0.0024 - found) / (volume * 0.0024) == pytest.approx(least, rel=1e-6)
    young = primary(run_hours=(Reading(on=date(2020, 8, 14), value=20.0),))
    assert workings_of(system(pumps=(young,)), on=ON).inflow.how.startswith("Timed 5 times")
    no_rise = system(pumps=(young,), pit=replace(PIT, inflows=()))
    assert workings_of(no_rise, on=ON).inflow.how.startswith("From the counters of this pump")


def test_a_new_pumps_house_is_known_by_the_counters_of_the_pump_before_it() -> None:
    """200 h in 4 years at the 2.0 L/s which that pump moved: 0.0020 · 200 ÷ (1461 · 24)."""
    before = Counted(since=IN_ON, on=date(2024, 5, 14), run_hours=200.0, flow_m3_s=0.0020)
    new = primary(installed_on=date(2025, 5, 1), run_hours=(Reading(on=date(2025, 6, 1), value=900.0),))
    worked = workings_of(system(pumps=(new,), pit=replace(PIT, counted_before=before)), on=ON)
    assert worked.inflow.mean_m3_s.value == pytest.approx(0.0020 * 200 / (1461 * 24), rel=1e-6)
    assert worked.inflow.how == "From the counters of the pump before this one since it went in."
    unmeasured = replace(before, flow_m3_s=None)
    by_this = workings_of(system(pumps=(new,), pit=replace(PIT, counted_before=unmeasured)), on=ON)
    assert by_this.inflow.mean_m3_s.value == pytest.approx(
        (by_this.pumps[0].now_flow_m3_s or 0.0) * 200 / (1461 * 24), rel=1e-6
    )
    own = primary(run_hours=(Reading(on=date(2025, 5, 14), value=100.0),))
    assert workings_of(system(pumps=(own,), pit=replace(PIT, counted_before=before)), on=ON).inflow.how.startswith(
        "From the counters of this pump"
    )


def test_a_counter_that_has_fallen_was_reset_and_tells_nothing() -> None:
    pump = primary(run_hours=readings(100.0, 200.0, 40.0))
    assert workings_of(system(pumps=(pump,)), on=ON).inflow.how.startswith("Timed")


def test_counters_that_no_pump_can_reach_are_said() -> None:
    pump = primary(starts=(Reading(on=date(2022, 5, 14), value=90_000_000.0),))
    worked = workings_of(system(pumps=(pump,), pit=replace(PIT, inflows=())), on=ON)
    assert worked.inflow.mean_m3_s.origin == ASSUMED
    assert "counters of this pump tell no inflow" in worked.inflow.cautions[0]


def test_on_another_line_the_pump_keeps_its_wear() -> None:
    pump = primary(flows=readings(0.0021, 0.0019, 0.0018))
    there = system(pumps=(pump, standby()))
    wider = on_another_line(there, replace(LINE, bore_m=declared(0.0519938, "m")), on=ON)
    before, after = workings_of(there, on=ON).pumps[0], workings_of(wider, on=ON).pumps[0]
    assert (after.flow_ratio, after.ratios) == (before.flow_ratio, before.ratios)
    assert (after.now_flow_m3_s or 0.0) > (before.now_flow_m3_s or 0.0)
    same = on_another_line(there, LINE, on=ON)
    assert workings_of(same, on=ON).pumps[0].now_flow_m3_s == pytest.approx(before.now_flow_m3_s, rel=1e-6)
    assert there.pumps[0].flows == pump.flows
