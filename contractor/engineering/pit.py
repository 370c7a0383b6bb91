"""The pit: what it stores between two float levels, how often the pump starts, how much water comes in.

Levels are heights above the pit's floor. Rates are taken as constant over one cycle. A house's pit holds too
little to meet the cycle times that municipal pump stations are designed for, so a pit is judged by the cycle at
the inflow that was measured; the shortest possible period is information only.
"""

from dataclasses import dataclass
from typing import overload

import numpy as np

from contractor.engineering.errors import BadInput
from contractor.engineering.inputs import FloatArray, Quantity, as_given, not_negative, positive, refuse_where

# Common practice, no source: 20 to 30 starts an hour for a small single-phase submersible motor.
MANY_STARTS_PER_HOUR = 30.0


@dataclass(frozen=True, slots=True, kw_only=True)
class PumpCycle:
    """One cycle of a pump between its off-level and its on-level.

    ``fill_s`` filling time, ``run_s`` running time and ``period_s`` their sum, all in seconds and infinite where
    the pump never starts or never stops; ``starts_per_hour``; ``duty`` the part of the time the pump runs, 0 to 1.
    Each is a float, or an array when an input was one.
    """

    fill_s: Quantity
    run_s: Quantity
    period_s: Quantity
    starts_per_hour: Quantity
    duty: Quantity
    cautions: tuple[str, ...] = ()


def _area_m2(diameter_m: Quantity) -> FloatArray:
    area: FloatArray = np.pi / 4 * positive("diameter_m", diameter_m) ** 2
    return area


@overload
def pit_volume_m3(diameter_m: float, depth_m: float) -> float: ...
@overload
def pit_volume_m3(diameter_m: Quantity, depth_m: Quantity) -> Quantity: ...
def pit_volume_m3(diameter_m: Quantity, depth_m: Quantity) -> Quantity:
    """Volume of a round pit filled to a depth.

    V = π/4 · D² · h, in m³ from m. Valid for a straight-sided round pit; water in the stone around a perforated
    pit is extra. Source: geometry.

    One inch of an 18 in pit holds 1.10 gal (4.17 L):

    >>> round(pit_volume_m3(0.4572, 0.0254) * 1000, 3)
    4.17
    """
    return as_given(_area_m2(diameter_m) * not_negative("depth_m", depth_m))


@overload
def storage_m3(diameter_m: float, on_m: float, off_m: float) -> float: ...
@overload
def storage_m3(diameter_m: Quantity, on_m: Quantity, off_m: Quantity) -> Quantity: ...
def storage_m3(diameter_m: Quantity, on_m: Quantity, off_m: Quantity) -> Quantity:
    """Volume between the level that starts the pump and the level that stops it.

    V = π/4 · D² · (on − off), in m³ from m above the pit's floor. BadInput unless the on-level is above the
    off-level. Source: geometry.

    >>> round(storage_m3(0.4572, on_m=0.33, off_m=0.127) * 1000, 1)
    33.3
    """
    on, off = not_negative("on_m", on_m), not_negative("off_m", off_m)
    not_above = np.broadcast_to(on <= off, np.broadcast_shapes(on.shape, off.shape))
    if not_above.any():
        bad_on = float(np.broadcast_to(on, not_above.shape)[not_above].flat[0])
        bad_off = float(np.broadcast_to(off, not_above.shape)[not_above].flat[0])
        raise BadInput("on_m", bad_on, f"must be above the off-level off_m of {bad_off:g}")
    return as_given(_area_m2(diameter_m) * (on - off))


def pump_cycle(inflow_m3_s: Quantity, pump_flow_m3_s: Quantity, storage_m3: Quantity) -> PumpCycle:
    """Filling time, running time, starts per hour and duty of a pump that works between two float levels.

    fill = V/Qi, run = V/(Qp − Qi), period = V·Qp / (Qi·(Qp − Qi)), starts/h = 3600/period, duty = Qi/Qp; seconds,
    from m³/s and m³. Valid for constant rates. An inflow at or above the pump's flow runs it without stopping (a
    caution says that the pit will overflow); no inflow never starts it.
    Source: MIL-HDBK-1005/9A section 2.5.3.6, equations 1 and 2.

    >>> cycle = pump_cycle(0.000126, 0.00252, 0.0334)  # 2 gpm into a pit with a 40 gpm pump
    >>> round(cycle.period_s), round(cycle.starts_per_hour, 1), round(cycle.duty, 2)
    (279, 12.9, 0.05)
    """
    inflow = not_negative("inflow_m3_s", inflow_m3_s)
    pump = not_negative("pump_flow_m3_s", pump_flow_m3_s)
    inflow, pump, storage = np.broadcast_arrays(inflow, pump, positive("storage_m3", storage_m3))
    overflows = (inflow >= pump) & (inflow > 0)
    with np.errstate(divide="ignore", invalid="ignore"):
        fill = np.where(inflow > 0, storage / inflow, np.inf)
        run = np.where(pump > inflow, storage / (pump - inflow), np.inf)
        duty = np.where(overflows, 1.0, np.where(inflow > 0, inflow / pump, 0.0))
    starts = 3600.0 / (fill + run)
    return PumpCycle(
        fill_s=as_given(fill),
        run_s=as_given(run),
        period_s=as_given(fill + run),
        starts_per_hour=as_given(starts),
        duty=as_given(duty),
        cautions=_cycle_cautions(bool(overflows.any()), float(starts.max(initial=0.0))),
    )


def _cycle_cautions(overflows: bool, starts_per_hour: float) -> tuple[str, ...]:
    cautions = []
    if overflows:
        cautions.append(
            "More water comes in than the pump can lift: it runs without stopping and the pit will overflow."
        )
    if starts_per_hour > MANY_STARTS_PER_HOUR:
        cautions.append(
            f"The pump starts about {starts_per_hour:.0f} times an hour; more than 20 to 30 is hard on a small "
            "motor and its switch (common practice): check the float levels and the check valve."
        )
    return tuple(cautions)


@overload
def shortest_period_s(pump_flow_m3_s: float, storage_m3: float) -> float: ...
@overload
def shortest_period_s(pump_flow_m3_s: Quantity, storage_m3: Quantity) -> Quantity: ...
def shortest_period_s(pump_flow_m3_s: Quantity, storage_m3: Quantity) -> Quantity:
    """Shortest time between two starts that any inflow can cause.

    T = 4·V/Qp, reached when the inflow is half the pump's flow; seconds, from m³/s and m³. Valid for constant
    rates. Source: MIL-HDBK-1005/9A section 2.5.3.6; UFC 3-240-04A chapter 7 (V = T·Q/4).

    >>> round(shortest_period_s(0.00252, 0.0334))
    53
    """
    return as_given(4.0 * positive("storage_m3", storage_m3) / positive("pump_flow_m3_s", pump_flow_m3_s))


def _free_area_m2(diameter_m: Quantity, displaced_m3_per_m: Quantity) -> FloatArray:
    """Area that the water surface really has, less what pumps and pipes take up."""
    area = _area_m2(diameter_m)
    displaced = not_negative("displaced_m3_per_m", displaced_m3_per_m)
    free: FloatArray = area - displaced
    refuse_where(free <= 0, "displaced_m3_per_m", displaced, "must be less than the pit's own volume per metre")
    return free


@overload
def inflow_from_rise_m3_s(
    diameter_m: float, rise_m: float, seconds: float, displaced_m3_per_m: float = ...
) -> float: ...
@overload
def inflow_from_rise_m3_s(
    diameter_m: Quantity, rise_m: Quantity, seconds: Quantity, displaced_m3_per_m: Quantity = ...
) -> Quantity: ...
def inflow_from_rise_m3_s(
    diameter_m: Quantity, rise_m: Quantity, seconds: Quantity, displaced_m3_per_m: Quantity = 0.0
) -> Quantity:
    """Inflow from how fast the water rises in the pit while no pump runs.

    Qi = (π/4 · D² − displaced) · rise / time, in m³/s from m, s and m³ displaced per m of height by pumps and
    pipes. Valid while the water stands below the drain tile; above it the stone stores water too and the inflow is
    understated. A leaking check valve adds to it: time two rises. Source: mass balance.

    An 18 in pit that rises 6 in in 5 minutes takes in 1.32 gpm (0.0834 L/s):

    >>> round(inflow_from_rise_m3_s(0.4572, 0.1524, 300) * 1000, 4)
    0.0834
    """
    rise, time = not_negative("rise_m", rise_m), positive("seconds", seconds)
    return as_given(_free_area_m2(diameter_m, displaced_m3_per_m) * rise / time)


@overload
def pump_flow_from_drawdown_m3_s(
    diameter_m: float, fall_m: float, seconds: float, inflow_m3_s: float, displaced_m3_per_m: float = ...
) -> float: ...
@overload
def pump_flow_from_drawdown_m3_s(
    diameter_m: Quantity,
    fall_m: Quantity,
    seconds: Quantity,
    inflow_m3_s: Quantity,
    displaced_m3_per_m: Quantity = ...,
) -> Quantity: ...
def pump_flow_from_drawdown_m3_s(
    diameter_m: Quantity,
    fall_m: Quantity,
    seconds: Quantity,
    inflow_m3_s: Quantity,
    displaced_m3_per_m: Quantity = 0.0,
) -> Quantity:
    """What a pump moves, from how fast it draws the pit down while water keeps coming in.

    Qp = (π/4 · D² − displaced) · fall / time + Qi, in m³/s from m, s, m³/s and m³ per m. Valid below the drain
    tile, with the inflow measured just before or after. Source: mass balance.

    >>> round(pump_flow_from_drawdown_m3_s(0.4572, 0.2032, 14.0, inflow_m3_s=0.0000834) * 1000, 2)
    2.47
    """
    fall, time = positive("fall_m", fall_m), positive("seconds", seconds)
    inflow = not_negative("inflow_m3_s", inflow_m3_s)
    return as_given(_free_area_m2(diameter_m, displaced_m3_per_m) * fall / time + inflow)


@overload
def inflow_from_counter_m3_s(
    starts: float,
    storage_m3: float,
    seconds: float,
    run_seconds: float | None = ...,
    pump_flow_m3_s: float | None = ...,
) -> float: ...
@overload
def inflow_from_counter_m3_s(
    starts: Quantity,
    storage_m3: Quantity,
    seconds: Quantity,
    run_seconds: Quantity | None = ...,
    pump_flow_m3_s: Quantity | None = ...,
) -> Quantity: ...
def inflow_from_counter_m3_s(
    starts: Quantity,
    storage_m3: Quantity,
    seconds: Quantity,
    run_seconds: Quantity | None = None,
    pump_flow_m3_s: Quantity | None = None,
) -> Quantity:
    """Mean inflow over a period from the pump's counters.

    With the hours run and the pump's flow, Qi = Qp · run / time. With the hours run only, Qi = starts · V /
    (time − run), the filling time alone. With the pump's flow only, the smaller root of starts/time =
    Qi·(Qp − Qi)/(V·Qp). With starts only, starts · V / time, which leaves out what came in while the pump ran and
    so is too low. m³/s from m³, s and m³/s. BadInput for more running time than time, or more starts than the pump
    can make (4·V·starts > Qp·time). Source: mass balance over whole cycles.

    >>> round(inflow_from_counter_m3_s(starts=310, storage_m3=0.0334, seconds=86400) * 1000, 4)
    0.1198
    >>> round(inflow_from_counter_m3_s(310, 0.0334, 86400, pump_flow_m3_s=0.00252) * 1000, 4)
    0.1262
    """
    count, volume, time = np.broadcast_arrays(
        not_negative("starts", starts), positive("storage_m3", storage_m3), positive("seconds", seconds)
    )
    run = None if run_seconds is None else not_negative("run_seconds", run_seconds)
    pump = None if pump_flow_m3_s is None else positive("pump_flow_m3_s", pump_flow_m3_s)
    if run is not None:
        refuse_where(run >= time, "run_seconds", run, "must be less than seconds, the whole period")
        return as_given(count * volume / (time - run) if pump is None else pump * run / time)
    if pump is None:
        return as_given(count * volume / time)
    under_root = 1.0 - 4.0 * count * volume / (pump * time)
    refuse_where(under_root < 0, "starts", count, "must not exceed what the pump can make, seconds / shortest_period_s")
    return as_given(pump / 2.0 * (1.0 - np.sqrt(under_root)))
