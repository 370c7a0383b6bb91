"""Pump curves, discharge lines, and the point at which a pump really works.

A pump's curve is drawn through its maker's points and never beyond them. One implementation finds the working point
of one pump or of a hundred thousand.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Final, overload

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import PchipInterpolator
from scipy.optimize import elementwise

from contractor.engineering.errors import BadInput
from contractor.engineering.inputs import FloatArray, Quantity, as_given, finite, not_negative, positive, warn
from contractor.engineering.pipe_losses import (
    darcy_head_m,
    hazen_williams_cautions,
    hazen_williams_head_m,
    minor_head_m,
    velocity_cautions,
)

FEWEST_POINTS: Final = 3
PLASTIC_ROUGHNESS_M: Final = 1.5e-6
BEYOND_CURVE: Final = "The point lies beyond the end of the maker's curve; the curve's last point is given instead."
BEFORE_CURVE: Final = "The point lies before the first point of the maker's curve; the first head is given instead."
NO_FLOW: Final = "The pump cannot lift the water: its head at no flow does not exceed the lift, so it moves nothing."


@dataclass(frozen=True, slots=True)
class PumpCurve:
    """A pump's head against its flow, as its maker measured it.

    ``flow_m3_s`` and ``head_m`` are at least three points with rising flow and falling head, at new condition and rated
    speed or voltage. Between the points the curve is monotone (PCHIP); past the last point it does not exist. BadInput
    for fewer than three points, lengths that differ, negative values, flows that do not rise, heads that do not fall.
    Source: Fritsch and Carlson (1980), through SciPy.

    >>> curve = PumpCurve((0.0, 0.001, 0.002, 0.003), (7.0, 6.2, 4.6, 2.0))
    >>> round(curve.head_m(0.0015), 3), round(curve.flow_m3_s(4.6), 6)
    (5.475, 0.002)
    """

    flow_m3_s_points: tuple[float, ...]
    head_m_points: tuple[float, ...]

    def __init__(self, flow_m3_s: Sequence[float] | FloatArray, head_m: Sequence[float] | FloatArray) -> None:
        flow, head = not_negative("flow_m3_s", flow_m3_s), not_negative("head_m", head_m)
        if flow.ndim != 1 or flow.size < FEWEST_POINTS:
            raise BadInput("flow_m3_s", flow.tolist(), f"must be a list of at least {FEWEST_POINTS} points of the curve")
        if flow.shape != head.shape:
            raise BadInput("head_m", head.tolist(), f"must have as many points as flow_m3_s, {flow.size}")
        if bool(np.any(np.diff(flow) <= 0)):
            raise BadInput("flow_m3_s", flow.tolist(), "must rise from point to point")
        if bool(np.any(np.diff(head) >= 0)):
            raise BadInput("head_m", head.tolist(), "must fall as the flow rises")
        object.__setattr__(self, "flow_m3_s_points", tuple(flow.tolist()))
        object.__setattr__(self, "head_m_points", tuple(head.tolist()))

    @property
    def shutoff_head_m(self) -> float:
        """Head at the curve's first point: at no flow, when the maker gave it."""
        return self.head_m_points[0]

    @overload
    def head_m(self, flow_m3_s: float) -> float: ...
    @overload
    def head_m(self, flow_m3_s: Quantity) -> Quantity: ...
    def head_m(self, flow_m3_s: Quantity) -> Quantity:
        """Head at a flow; outside the points the nearest point's head, with a caution."""
        flow = not_negative("flow_m3_s", flow_m3_s)
        outside = (BEYOND_CURVE,) if bool(np.any(flow > self.flow_m3_s_points[-1])) else ()
        if bool(np.any(flow < self.flow_m3_s_points[0])):
            outside += (BEFORE_CURVE,)
        warn(outside)
        inside = np.clip(flow, self.flow_m3_s_points[0], self.flow_m3_s_points[-1])
        return as_given(_head_of(self)(inside))

    @overload
    def flow_m3_s(self, head_m: float) -> float: ...
    @overload
    def flow_m3_s(self, head_m: Quantity) -> Quantity: ...
    def flow_m3_s(self, head_m: Quantity) -> Quantity:
        """Flow against a head; 0 at and above the first point's head, the last point's flow (and a caution) below its head."""
        head = not_negative("head_m", head_m)
        warn((BEYOND_CURVE,) if bool(np.any(head < self.head_m_points[-1])) else ())
        flow, _ = _solve(_Base.of([self]), lambda tried: head + 0.0 * tried, np.ones_like(head), np.ones_like(head))
        return as_given(flow)

    def at_speed(self, ratio: float) -> "PumpCurve":
        """The curve at another speed: flow × r, head × r² (affinity laws; Crane TP-410 example 7-33).

        For a permanent-magnet motor the speed ratio is about the voltage ratio. Use the maker's curve at that voltage
        when there is one.
        """
        speed = float(positive("ratio", ratio))
        return PumpCurve(
            np.multiply(self.flow_m3_s_points, speed),
            np.multiply(self.head_m_points, speed**2),
        )

    def at_wear(self, flow_ratio: float) -> "PumpCurve":
        """The curve of a worn pump that moves ``flow_ratio`` of the new pump's flow against the same head."""
        return PumpCurve(
            np.multiply(self.flow_m3_s_points, float(positive("flow_ratio", flow_ratio))), np.array(self.head_m_points)
        )


@lru_cache(maxsize=512)
def _head_of(curve: PumpCurve) -> PchipInterpolator:
    return PchipInterpolator(curve.flow_m3_s_points, curve.head_m_points, extrapolate=False)


@dataclass(frozen=True, slots=True)
class DischargeLine:
    """The line from the pit to the outlet.

    ``static_lift_m`` from the water at the pump's off-level to the highest point; ``diameter_m`` the bore; ``length_m``
    of pipe; ``k_sum`` of all fittings and the exit. With ``c`` friction is by Hazen and Williams, without it by Darcy
    and Weisbach at ``temperature_c``. Each may be an array with one entry per pump.

    20 gpm up 9 ft through 30 ft of 1.61 in pipe: 10.6 ft (3.23 m).

    >>> line = DischargeLine(2.7432, 0.040894, 9.144, k_sum=5.62, c=150)
    >>> round(line.head_m(0.0012618), 2)
    3.23
    """

    static_lift_m: Quantity
    diameter_m: Quantity
    length_m: Quantity
    k_sum: Quantity
    c: Quantity | None = None
    temperature_c: Quantity = 10.0

    def __post_init__(self) -> None:
        finite("static_lift_m", self.static_lift_m)
        self.head_m(0.0)  # every other argument is checked where it is used

    @overload
    def head_m(self, flow_m3_s: float) -> float: ...
    @overload
    def head_m(self, flow_m3_s: Quantity) -> Quantity: ...
    def head_m(self, flow_m3_s: Quantity) -> Quantity:
        """Total head the line asks for at a flow: lift, friction and fittings. See ``cautions``."""
        minor = minor_head_m(flow_m3_s, self.diameter_m, self.k_sum)
        return as_given(self.static_lift_m + self._friction_m(flow_m3_s) + minor)

    def cautions(self, flow_m3_s: Quantity) -> tuple[str, ...]:
        """What is doubtful about the line at a flow: speeds too slow or too fast, formula out of its range."""
        doubts = velocity_cautions(flow_m3_s, self.diameter_m)
        return doubts if self.c is None else doubts + hazen_williams_cautions(flow_m3_s, self.diameter_m)

    def _friction_m(self, flow_m3_s: Quantity) -> Quantity:
        if self.c is None:
            return darcy_head_m(flow_m3_s, self.diameter_m, self.length_m, PLASTIC_ROUGHNESS_M, self.temperature_c)
        return hazen_williams_head_m(flow_m3_s, self.diameter_m, self.length_m, self.c)
