"""Pump curves and working points against worked examples of a handbook and published data."""

import time

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.interpolate import PchipInterpolator

from contractor.engineering.errors import BadInput, Caution
from contractor.engineering.pump_curves import (
    DischargeLine,
    PumpCurve,
    fleet_operating_points,
    operating_point,
)

INCH = 0.0254
FOOT = 0.3048
GPM = 231 * INCH**3 / 60
TABLE = PumpCurve(np.array([0, 10, 20, 30, 40, 50, 60]) * GPM, np.array([25, 23.6, 21.4, 18.3, 14.2, 9.0, 2.5]) * FOOT)


def line(
    *, lift_ft: float = 9.0, bore_in: float = 1.590, length_ft: float = 30.0, c: float | None = 150
) -> DischargeLine:
    """Three elbows and a check of Crane: K = 2.1 + 4·0.63 + 1.0."""
    return DischargeLine(lift_ft * FOOT, bore_in * INCH, length_ft * FOOT, 5.62, c=c)


@pytest.mark.parametrize(
    ("gpm", "head_ft"),
    # Computed by hand: lift 9 ft, 30 ft of 1.610 in pipe, C = 150, K = 5.62.
    [(20, 10.605), (30, 12.515), (40, 15.133)],
)
def test_system_head_agrees_with_a_hand_computation(gpm: float, head_ft: float) -> None:
    assert line(bore_in=1.610).head_m(gpm * GPM) / FOOT == pytest.approx(head_ft, abs=6e-3)


@pytest.mark.parametrize(
    ("speed_ratio", "gpm"),
    # Computed with SciPy's PCHIP and the affinity laws.
    [(1.0, 38.315), (0.95, 35.117), (0.9, 31.802), (0.85, None), (0.8, 24.621)],
)
def test_working_point_of_a_tabulated_pump_agrees_with_a_separate_computation(
    speed_ratio: float, gpm: float | None
) -> None:
    point = operating_point(TABLE.at_speed(speed_ratio), line())
    assert point.head_m == pytest.approx(line().head_m(point.flow_m3_s))
    if gpm is not None:
        assert point.flow_m3_s / GPM == pytest.approx(gpm, abs=5e-3)
    if speed_ratio == 1.0:
        assert point.head_m / FOOT == pytest.approx(14.961, abs=2e-3)


def test_an_analytic_working_point_is_found() -> None:
    """H = 25 − 0.00625·Q² against 9 + 0.004·Q² meet at √(16/0.01025) = 39.509 gpm (computed by hand)."""
    gpm = np.linspace(0, 60, 241)
    curve = PumpCurve(gpm * GPM, (25 - 0.00625 * gpm**2) * FOOT)
    k_sum = 0.004 * FOOT / GPM**2 * 2 * 9.80665 * (np.pi / 4 * 0.05**2) ** 2
    point = operating_point(curve, DischargeLine(9 * FOOT, 0.05, 0.0, float(k_sum)))
    assert point.flow_m3_s / GPM == pytest.approx(39.509, abs=2e-3)


def test_affinity_agrees_with_crane_example_7_33() -> None:
    """400 gpm and 126 ft at 3500 rpm are 194.29 gpm and 29.73 ft at 1700 rpm (Crane TP-410, second hand)."""
    curve = PumpCurve([0, 400 * GPM, 600 * GPM], [150 * FOOT, 126 * FOOT, 90 * FOOT]).at_speed(1700 / 3500)
    assert curve.flows_m3_s[1] / GPM == pytest.approx(194.29, abs=5e-3)
    assert curve.heads_m[1] / FOOT == pytest.approx(29.73, abs=5e-3)


def test_power_of_crane_example_7_34_follows_from_flow_and_head() -> None:
    """700 gpm against 428 ft at 70.7 % need 107.06 hp (Crane TP-410, second hand): hp = Q·H/(3960·η)."""
    water_power_w = 700 * GPM * 428 * FOOT * 9.80665 * 998.9
    assert water_power_w / 0.707 / 745.7 == pytest.approx(107.06, rel=1e-3)


def test_the_interpolation_neither_overshoots_nor_leaves_the_published_values() -> None:
    """Data of Fritsch and Carlson's paper (RPN 15A, from memory), mirrored into a falling curve.

    SciPy's PCHIP gives 0.1166326, 0.6852179, 0.9860434, 0.9993618 at 8.5, 9.5, 11 and 13 (computed); an ordinary cubic
    spline overshoots to 1.169.
    """
    x = [7.99, 8.09, 8.19, 8.7, 9.2, 10, 12, 15, 20]
    y = np.array([0, 2.76429e-5, 4.37498e-2, 0.169183, 0.469428, 0.943740, 0.998636, 0.999919, 0.999994])
    head = PumpCurve(x, 1.0 - y).head_m(np.array([8.5, 9.5, 11, 13]))
    assert 1.0 - np.asarray(head) == pytest.approx([0.1166326, 0.6852179, 0.9860434, 0.9993618], abs=1e-6)
    assert np.asarray(head).max() <= 1


def test_falling_voltage_costs_more_flow_than_speed() -> None:
    """Computed: at r = 0.875 (11.0 V of 12.6 V) the flow ratio is 0.785, because the lift stays."""
    weak = operating_point(TABLE.at_speed(0.875), line()).flow_m3_s
    assert weak / operating_point(TABLE, line()).flow_m3_s == pytest.approx(0.785, abs=2e-3)


def test_the_flow_stops_when_the_speed_falls_to_the_root_of_lift_over_shutoff() -> None:
    """Derived: r = √(9/25) = 0.6."""
    assert operating_point(TABLE.at_speed(0.599), line()).flow_m3_s == 0
    assert operating_point(TABLE.at_speed(0.602), line()).flow_m3_s > 0


def test_a_mains_primary_of_this_trade_moves_about_2600_gallons_an_hour() -> None:
    """Common practice, no source: a cast-iron primary moves about 2,600 gal/h (43 gpm) up 10 ft."""
    gal_h = np.array([0, 1500, 2600, 3600])
    curve = PumpCurve(gal_h / 60 * GPM, np.array([22, 17, 10, 2]) * FOOT)
    assert curve.flow_m3_s(10 * FOOT) / GPM * 60 == pytest.approx(2600, rel=1e-6)


def test_a_pump_that_cannot_lift_the_water_gives_no_flow_and_a_caution() -> None:
    point = operating_point(TABLE, line(lift_ft=25))
    assert point.flow_m3_s == 0
    assert point.head_m == pytest.approx(25 * FOOT)
    assert "cannot lift" in point.cautions[0]


def test_a_point_past_the_end_of_the_curve_is_held_there_with_a_caution() -> None:
    short = PumpCurve(TABLE.flows_m3_s[:3], TABLE.heads_m[:3])
    point = operating_point(short, line())
    assert point.flow_m3_s == short.flows_m3_s[-1]
    assert any("past the end" in caution for caution in point.cautions)


def test_a_curve_that_starts_above_no_flow_is_not_drawn_back_to_it() -> None:
    late = PumpCurve(TABLE.flows_m3_s[3:], TABLE.heads_m[3:])
    high = operating_point(late, line(lift_ft=16, c=None))
    assert 0 < high.flow_m3_s < late.flows_m3_s[0]
    assert any("before the first point" in caution for caution in high.cautions)
    with pytest.warns(Caution, match="before the first point"):
        assert late.head_m(0.0) == late.shutoff_head_m


def test_a_curve_asked_past_its_end_cautions_and_holds_its_last_point() -> None:
    with pytest.warns(Caution, match="past the end"):
        assert TABLE.head_m(0.01) == pytest.approx(TABLE.heads_m[-1])
    with pytest.warns(Caution, match="past the end"):
        assert TABLE.flow_m3_s(0.1) == TABLE.flows_m3_s[-1]
    assert TABLE.flow_m3_s(TABLE.shutoff_head_m) == 0
    assert TABLE.flow_m3_s(100.0) == 0


@given(head_ft=st.floats(2.6, 24.9))
@settings(max_examples=50)
def test_flow_and_head_of_a_curve_are_inverse(head_ft: float) -> None:
    assert TABLE.head_m(TABLE.flow_m3_s(head_ft * FOOT)) == pytest.approx(head_ft * FOOT)


@given(
    lift=st.floats(0, 8),
    more_lift=st.floats(0, 3),
    length=st.floats(0, 60),
    more_length=st.floats(0, 60),
    wear=st.floats(0.3, 1.0),
)
@settings(max_examples=80)
def test_more_head_or_more_wear_never_gives_more_flow(
    lift: float, more_lift: float, length: float, more_length: float, wear: float
) -> None:
    new = operating_point(TABLE, DischargeLine(lift, 0.0404, length, 5.62)).flow_m3_s
    harder = operating_point(TABLE, DischargeLine(lift + more_lift, 0.0404, length + more_length, 5.62)).flow_m3_s
    worn = operating_point(TABLE.at_wear(wear), DischargeLine(lift, 0.0404, length, 5.62)).flow_m3_s
    assert harder <= new * (1 + 1e-9)
    assert worn <= new * (1 + 1e-9)


def test_a_worn_pump_moves_its_part_of_the_flow_at_the_same_head() -> None:
    assert TABLE.at_wear(0.8).flow_m3_s(4.0) == pytest.approx(0.8 * TABLE.flow_m3_s(4.0))


def test_a_fleet_agrees_with_its_pumps_one_by_one() -> None:
    curves = [TABLE, PumpCurve((0.0, 0.001, 0.002, 0.003), (7.0, 6.2, 4.6, 2.0)), TABLE.at_wear(0.7)]
    lines = DischargeLine(np.array([2.0, 6.0, 9.0]), 0.0404, np.array([5.0, 20.0, 30.0]), 5.6)
    fleet = fleet_operating_points(curves, lines, speed_ratio=0.9, flow_ratio=np.array([1.0, 0.8, 1.0]))
    for position, (curve, wear) in enumerate(zip(curves, (1.0, 0.8, 1.0), strict=True)):
        alone = operating_point(
            curve.at_wear(wear).at_speed(0.9),
            DischargeLine(
                float(np.asarray(lines.static_lift_m)[position]),
                0.0404,
                float(np.asarray(lines.length_m)[position]),
                5.6,
            ),
        )
        assert fleet.flow_m3_s[position] == pytest.approx(alone.flow_m3_s, rel=1e-9)
        assert fleet.head_m[position] == pytest.approx(alone.head_m)
    assert fleet.lifts.tolist() == [True, False, False]
    assert fleet.cautions == ("2 of 3 pumps cannot lift the water and move nothing.",)


def test_a_fleet_counts_the_pumps_past_the_end_of_their_curves() -> None:
    fleet = fleet_operating_points([TABLE], DischargeLine(np.array([0.0, 3.0]), 0.1, 1.0, 0.0, c=150))
    assert fleet.on_curve.tolist() == [False, True]
    assert fleet.cautions == ("1 of 2 pumps work outside the points of their makers' curves.",)


def test_a_hundred_thousand_pumps_take_seconds_not_minutes() -> None:
    rng = np.random.default_rng(1)
    lines = DischargeLine(rng.uniform(1, 6, 100_000), 0.0404, rng.uniform(5, 30, 100_000), 5.6)
    started = time.perf_counter()
    points = fleet_operating_points([TABLE], lines, flow_ratio=rng.uniform(0.6, 1.0, 100_000))
    assert time.perf_counter() - started < 20  # a fifth of a second here; the rest is for a busy machine
    assert np.isfinite(points.flow_m3_s).all()


def test_a_curve_is_drawn_as_scipy_draws_it() -> None:
    drawn = PchipInterpolator(TABLE.flows_m3_s, TABLE.heads_m)
    flow = np.linspace(0, TABLE.flows_m3_s[-1], 50)
    assert TABLE.head_m(flow) == pytest.approx(drawn(flow))


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (lambda: PumpCurve([0, 1], [2, 1]), "flow_m3_s must list at least 3 points of the curve, but is [0.0, 1.0]."),
        (lambda: PumpCurve([0, 1, 2], [2, 1]), "head_m must have as many points as flow_m3_s, 3, but is [2.0, 1.0]."),
        (lambda: PumpCurve([0, 2, 1], [3, 2, 1]), "flow_m3_s must rise from point to point, but is [0.0, 2.0, 1.0]."),
        (lambda: PumpCurve([0, 1, 2], [3, 4, 1]), "head_m must fall as the flow rises, but is [3.0, 4.0, 1.0]."),
        (lambda: PumpCurve([0, 1, 2], [3, 3, 1]), "head_m must fall as the flow rises, but is [3.0, 3.0, 1.0]."),
        (lambda: PumpCurve([0, 1, 2], [3, float("nan"), 1]), "head_m must be an ordinary number, but is nan."),
        (lambda: PumpCurve([-1, 1, 2], [3, 2, 1]), "flow_m3_s must not be negative, but is -1.0."),
        (lambda: TABLE.at_speed(0), "ratio must be greater than zero, but is 0.0."),
        (lambda: TABLE.at_wear(-0.1), "flow_ratio must be greater than zero, but is -0.1."),
        (lambda: DischargeLine(2.0, 0.04, -1.0, 5.0), "length_m must not be negative, but is -1.0."),
        (lambda: DischargeLine(-2.0, 0.04, 1.0, 5.0), "static_lift_m must not be negative, but is -2.0."),
        (lambda: DischargeLine(2.0, 0.04, 1.0, 5.0, c=-1), "c must be greater than zero, but is -1.0."),
        (
            lambda: fleet_operating_points([TABLE, TABLE], DischargeLine(np.array([1.0, 2, 3]), 0.04, 1.0, 5.0)),
            "curves must be one, or one for each entry of the lines and ratios, but is 2.",
        ),
        (
            lambda: fleet_operating_points([], DischargeLine(1.0, 0.04, 1.0, 5.0)),
            "curves must be one, or one for each entry of the lines and ratios, but is 0.",
        ),
    ],
)
def test_bad_input_is_refused_in_one_sentence_that_names_it(call, sentence: str) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(BadInput) as refusal:
        call()
    assert str(refusal.value) == sentence
