"""Pump curves, discharge lines, and the point at which a pump really works.

A pump's curve is drawn through its maker's points and never beyond them. One implementation finds the working point
of one pump or of a hundred thousand.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Final, overload

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import PchipInterpolator
from scipy.optimize import elementwise

from contractor.engineering.errors import BadInput
from contractor.engineering.inputs import FloatArray, Quantity, as_given, not_negative, positive, warn
from contractor.engineering.pipe_losses import (
    hazen_williams_cautions,
    unchecked_darcy_head_m,
    unchecked_hazen_williams_head_m,
    unchecked_minor_head_m,
    velocity_cautions,
)
from contractor.engineering.water import kinematic_viscosity_m2_s

FEWEST_POINTS: Final = 3
PLASTIC_ROUGHNESS_M: Final = 1.5e-6
BEYOND_CURVE: Final = "The pump works past the end of its maker's curve; the curve's last point is given instead."
BEFORE_CURVE: Final = "The pump works before the first point of its maker's curve; the first head is given instead."
NO_FLOW: Final = "The pump cannot lift the water: its head at no flow does not exceed the lift, so it moves nothing."


@dataclass(frozen=True, slots=True, init=False)
class PumpCurve:
    """A pump's head against its flow, as its maker measured it.

    ``PumpCurve(flow_m3_s, head_m)`` takes at least three points with rising flow and falling head, at new condition
    and rated speed or voltage. Between the points the curve is monotone (PCHIP); past the last one it does not exist.
    BadInput for fewer than three points, lengths that differ, negative values, flows that do not rise, heads that do
    not fall. Source: Fritsch and Carlson (1980), through SciPy.

    >>> curve = PumpCurve((0.0, 0.001, 0.002, 0.003), (7.0, 6.2, 4.6, 2.0))
    >>> round(curve.head_m(0.0015), 3), round(curve.flow_m3_s(4.6), 6)
    (5.514, 0.002)
    """

    flows_m3_s: tuple[float, ...]
    heads_m: tuple[float, ...]

    def __init__(self, flow_m3_s: Sequence[float] | FloatArray, head_m: Sequence[float] | FloatArray) -> None:
        flow, head = not_negative("flow_m3_s", flow_m3_s), not_negative("head_m", head_m)
        if flow.ndim != 1 or flow.size < FEWEST_POINTS:
            raise BadInput("flow_m3_s", flow.tolist(), f"must list at least {FEWEST_POINTS} points of the curve")
        if flow.shape != head.shape:
            raise BadInput("head_m", head.tolist(), f"must have as many points as flow_m3_s, {flow.size}")
        if bool(np.any(np.diff(flow) <= 0)):
            raise BadInput("flow_m3_s", flow.tolist(), "must rise from point to point")
        if bool(np.any(np.diff(head) >= 0)):
            raise BadInput("head_m", head.tolist(), "must fall as the flow rises")
        object.__setattr__(self, "flows_m3_s", tuple(flow.tolist()))
        object.__setattr__(self, "heads_m", tuple(head.tolist()))

    @property
    def shutoff_head_m(self) -> float:
        """Head of the curve's first point: at no flow, when the maker gave it."""
        return self.heads_m[0]

    @overload
    def head_m(self, flow_m3_s: float) -> float: ...
    @overload
    def head_m(self, flow_m3_s: Quantity) -> Quantity: ...
    def head_m(self, flow_m3_s: Quantity) -> Quantity:
        """Head at a flow; outside the points that of the nearest one, with a caution."""
        flow = not_negative("flow_m3_s", flow_m3_s)
        first, last = self.flows_m3_s[0], self.flows_m3_s[-1]
        warn([BEYOND_CURVE] if bool(np.any(flow > last)) else [])
        warn([BEFORE_CURVE] if bool(np.any(flow < first)) else [])
        return as_given(_interpolator(self)(np.clip(flow, first, last)))

    @overload
    def flow_m3_s(self, head_m: float) -> float: ...
    @overload
    def flow_m3_s(self, head_m: Quantity) -> Quantity: ...
    def flow_m3_s(self, head_m: Quantity) -> Quantity:
        """Flow against a head: 0 at and above the first point's; below the last point's its flow, with a caution."""
        head = not_negative("head_m", head_m)
        level = np.ravel(head)
        warn([BEYOND_CURVE] if bool(np.any(level < self.heads_m[-1])) else [])
        scale = np.ones_like(level)
        solved = _solve(_CurveTable((self,), level.size), scale, scale, lambda _flow, which: level[which])
        return as_given(solved.flow.reshape(head.shape))

    def at_speed(self, ratio: float) -> "PumpCurve":
        """The curve at another speed: flow × r, head × r² (affinity laws; Crane TP-410 example 7-33).

        For a permanent-magnet motor the speed ratio is about the voltage ratio. The maker's own curve at that voltage
        is better where there is one.
        """
        speed = float(positive("ratio", ratio))
        return PumpCurve(np.multiply(self.flows_m3_s, speed), np.multiply(self.heads_m, speed**2))

    def at_wear(self, flow_ratio: float) -> "PumpCurve":
        """The curve of a worn pump that moves this part of the new pump's flow against the same head."""
        kept = float(positive("flow_ratio", flow_ratio))
        return PumpCurve(np.multiply(self.flows_m3_s, kept), self.heads_m)


@lru_cache(maxsize=512)
def _interpolator(curve: PumpCurve) -> PchipInterpolator:
    return PchipInterpolator(curve.flows_m3_s, curve.heads_m)


@dataclass(frozen=True, slots=True)
class DischargeLine:
    """The line from the pit to the outlet.

    ``static_lift_m`` from the water at the pump's off-level to the line's highest point; ``diameter_m`` the bore;
    ``length_m`` of pipe; ``k_sum`` of all fittings and the exit. With ``c`` friction is by Hazen and Williams, without
    it by Darcy and Weisbach at ``temperature_c``. Each may be an array with one entry per pump.

    20 gpm up 9 ft through 30 ft of 1.61 in pipe take 10.6 ft (3.23 m):

    >>> round(DischargeLine(2.7432, 0.040894, 9.144, 5.62, c=150).head_m(0.0012618), 2)
    3.23
    """

    static_lift_m: Quantity
    diameter_m: Quantity
    length_m: Quantity
    k_sum: Quantity
    c: Quantity | None = None
    temperature_c: Quantity = 10.0

    def __post_init__(self) -> None:
        self._checked()

    @overload
    def head_m(self, flow_m3_s: float) -> float: ...
    @overload
    def head_m(self, flow_m3_s: Quantity) -> Quantity: ...
    def head_m(self, flow_m3_s: Quantity) -> Quantity:
        """Total head that the line asks for at a flow: lift, friction and fittings; doubts are in ``cautions``."""
        return as_given(self._checked().head(not_negative("flow_m3_s", flow_m3_s)))

    def cautions(self, flow_m3_s: Quantity) -> tuple[str, ...]:
        """What is doubtful about the line at a flow: too slow, too fast, or a formula out of its range."""
        doubts = velocity_cautions(flow_m3_s, self.diameter_m)
        return doubts if self.c is None else doubts + hazen_williams_cautions(flow_m3_s, self.diameter_m)

    def _checked(self) -> "_CheckedLine":
        temperature = self.temperature_c
        return _CheckedLine(
            lift=not_negative("static_lift_m", self.static_lift_m),
            diameter=positive("diameter_m", self.diameter_m),
            length=not_negative("length_m", self.length_m),
            k_sum=not_negative("k_sum", self.k_sum),
            c=None if self.c is None else positive("c", self.c),
            viscosity=np.asarray(kinematic_viscosity_m2_s(temperature)),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class _CheckedLine:
    """A line whose values have been checked and turned into arrays, once, before many evaluations."""

    lift: FloatArray
    diameter: FloatArray
    length: FloatArray
    k_sum: FloatArray
    c: FloatArray | None
    viscosity: FloatArray

    @property
    def shape(self) -> tuple[int, ...]:
        return np.broadcast_shapes(*(value.shape for value in self._arrays()))

    def _arrays(self) -> tuple[FloatArray, ...]:
        arrays = (self.lift, self.diameter, self.length, self.k_sum, self.viscosity)
        return arrays if self.c is None else (*arrays, self.c)

    def spread(self, shape: tuple[int, ...]) -> "_CheckedLine":
        """The line with one entry for each pump."""
        lift, diameter, length, k_sum, viscosity, *c = (np.broadcast_to(each, shape) for each in self._arrays())
        return _CheckedLine(
            lift=lift, diameter=diameter, length=length, k_sum=k_sum, viscosity=viscosity, c=c[0] if c else None
        )

    def of(self, pumps: NDArray[np.intp]) -> "_CheckedLine":
        """The entries of some of the pumps."""
        lift, diameter, length, k_sum, viscosity, *c = (each[pumps] for each in self._arrays())
        return _CheckedLine(
            lift=lift, diameter=diameter, length=length, k_sum=k_sum, viscosity=viscosity, c=c[0] if c else None
        )

    def head(self, flow: FloatArray) -> FloatArray:
        """Total head at a flow for each entry."""
        fittings = unchecked_minor_head_m(flow, self.diameter, self.k_sum)
        if self.c is not None:
            return self.lift + unchecked_hazen_williams_head_m(flow, self.diameter, self.length, self.c) + fittings
        roughness = np.asarray(PLASTIC_ROUGHNESS_M)
        return (
            self.lift + unchecked_darcy_head_m(flow, self.diameter, self.length, roughness, self.viscosity) + fittings
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class OperatingPoint:
    """Where a pump works on its line: the flow it moves and the head that the line asks for at that flow."""

    flow_m3_s: float
    head_m: float
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class FleetPoints:
    """Where many pumps work, one entry per pump.

    ``lifts`` is False where the pump moves nothing; ``on_curve`` is False where it works outside its maker's points.
    ``cautions`` are about the whole fleet.
    """

    flow_m3_s: FloatArray
    head_m: FloatArray
    lifts: NDArray[np.bool_]
    on_curve: NDArray[np.bool_]
    cautions: tuple[str, ...] = ()


def operating_point(curve: PumpCurve, line: DischargeLine) -> OperatingPoint:
    """Flow and head at which a pump works on a line.

    The root of H_pump(Q) − H_line(Q), in m³/s and m; unique because one falls and the other rises. A head at no flow
    at or below the lift gives flow 0 and a caution; a root beyond the curve's points gives the last point and a
    caution. Source: textbook; Crane TP-410.

    >>> curve = PumpCurve((0.0, 0.001, 0.002, 0.003), (7.0, 6.2, 4.6, 2.0))
    >>> point = operating_point(curve, DischargeLine(2.7, 0.0404, 9.0, 5.6))
    >>> round(point.flow_m3_s * 1000, 2), round(point.head_m, 2)
    (2.18, 4.21)
    """
    points = fleet_operating_points([curve], line)
    flow, head = float(points.flow_m3_s[0]), float(points.head_m[0])
    cautions = line.cautions(flow) if points.lifts[0] else (NO_FLOW,)
    if points.lifts[0] and not points.on_curve[0]:
        cautions += (BEFORE_CURVE if flow < curve.flows_m3_s[0] else BEYOND_CURVE,)
    return OperatingPoint(flow_m3_s=flow, head_m=head, cautions=cautions)


def fleet_operating_points(
    curves: Sequence[PumpCurve],
    lines: DischargeLine,
    *,
    speed_ratio: Quantity = 1.0,
    flow_ratio: Quantity = 1.0,
) -> FleetPoints:
    """``operating_point`` of many pumps at once.

    ``curves`` one per pump, or a single one for all; ``lines`` a line whose values are arrays with one entry per pump
    (or single values); ``speed_ratio`` and ``flow_ratio`` as in ``PumpCurve.at_speed`` and ``at_wear``. BadInput when
    the numbers of pumps do not agree. Source: as ``operating_point``; roots by Chandrupatla, in SciPy.

    >>> curve = PumpCurve((0.0, 0.001, 0.002, 0.003), (7.0, 6.2, 4.6, 2.0))
    >>> lines = DischargeLine(np.array([2.7, 7.5]), 0.0404, 9.0, 5.6)
    >>> points = fleet_operating_points([curve], lines)
    >>> (points.flow_m3_s * 1000).round(2).tolist(), points.lifts.tolist()
    ([2.18, 0.0], [True, False])
    """
    speed, wear = np.atleast_1d(positive("speed_ratio", speed_ratio)), np.atleast_1d(positive("flow_ratio", flow_ratio))
    checked = lines._checked()
    try:
        shape = np.broadcast_shapes((len(curves),), speed.shape, wear.shape, checked.shape)
    except ValueError:
        shape = ()
    if len(shape) != 1 or not curves:
        raise BadInput("curves", len(curves), "must be one, or one for each entry of the lines and ratios")
    speed, wear = np.broadcast_to(speed, shape), np.broadcast_to(wear, shape)
    each = checked.spread(shape)
    solved = _solve(
        _CurveTable(curves, shape[0]), speed**2, speed * wear, lambda flow, which: each.of(which).head(flow)
    )
    return FleetPoints(
        flow_m3_s=solved.flow,
        head_m=each.head(solved.flow),
        lifts=solved.lifts,
        on_curve=solved.on_curve,
        cautions=_fleet_cautions(solved),
    )


def _fleet_cautions(solved: "_Solved") -> tuple[str, ...]:
    dry, outside = int((~solved.lifts).sum()), int((solved.lifts & ~solved.on_curve).sum())
    cautions = []
    if dry:
        cautions.append(f"{dry} of {solved.lifts.size} pumps cannot lift the water and move nothing.")
    if outside:
        cautions.append(f"{outside} of {solved.lifts.size} pumps work outside the points of their makers' curves.")
    return tuple(cautions)


class _CurveTable:
    """The pieces of the different curves in one array, so that all pumps are evaluated together."""

    def __init__(self, curves: Sequence[PumpCurve], pumps: int) -> None:
        rows: dict[PumpCurve, int] = {}
        row_of = [rows.setdefault(curve, len(rows)) for curve in curves]
        self.row: NDArray[np.intp] = np.broadcast_to(np.array(row_of, dtype=np.intp), (pumps,))
        most = max(len(curve.flows_m3_s) for curve in rows)
        self.starts = np.full((len(rows), most - 1), np.inf)
        self.pieces = np.zeros((4, len(rows), most - 1))
        for curve, row in rows.items():
            drawn = _interpolator(curve)
            self.starts[row, : drawn.x.size - 1] = drawn.x[:-1]
            self.pieces[:, row, : drawn.x.size - 1] = drawn.c
        self.first = np.array([curve.flows_m3_s[0] for curve in rows])[self.row]
        self.last = np.array([curve.flows_m3_s[-1] for curve in rows])[self.row]

    def head(self, flow: FloatArray, which: NDArray[np.intp]) -> FloatArray:
        """Head of each of the pumps ``which`` at its flow; before the first point that point's head."""
        row = self.row[which]
        inside = np.maximum(flow, self.first[which])
        piece = (inside[:, None] >= self.starts[row]).sum(axis=1) - 1
        a, b, c, d = self.pieces[:, row, piece]
        along = inside - self.starts[row, piece]
        head: FloatArray = ((a * along + b) * along + c) * along + d
        return head


_HeadOfPumps = Callable[[FloatArray, NDArray[np.intp]], FloatArray]


@dataclass(frozen=True, slots=True)
class _Solved:
    flow: FloatArray
    lifts: NDArray[np.bool_]
    on_curve: NDArray[np.bool_]


def _solve(table: _CurveTable, head_scale: FloatArray, flow_scale: FloatArray, asked: _HeadOfPumps) -> _Solved:
    """Flow of every pump where its scaled curve meets its line, held to the points of the curve."""

    def surplus(new_flow: FloatArray, pump: FloatArray) -> FloatArray:
        which = pump.astype(np.intp)
        offered: FloatArray = table.head(new_flow, which) * head_scale[which]
        return offered - asked(new_flow * flow_scale[which], which)

    pumps = np.arange(table.row.size, dtype=np.float64)
    lifts = surplus(np.zeros_like(pumps), pumps) > 0
    beyond = surplus(table.last, pumps) > 0
    new_flow = np.where(beyond, table.last, 0.0)
    meets = lifts & ~beyond
    if meets.any():
        found = elementwise.find_root(surplus, (np.zeros(meets.sum()), table.last[meets]), args=(pumps[meets],))
        new_flow[meets] = found.x
    on_curve = lifts & ~beyond & (new_flow >= table.first)
    return _Solved(new_flow * flow_scale, lifts, on_curve)
