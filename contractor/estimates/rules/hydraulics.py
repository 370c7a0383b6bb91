"""Where every pump works on its own discharge line, when new and as worn, for many pumps at once."""

import warnings
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from contractor.engineering.errors import BadInput, Caution
from contractor.engineering.inputs import FloatArray
from contractor.engineering.pump_curves import (
    BEYOND_CURVE,
    NO_FLOW,
    DischargeLine,
    FleetPoints,
    PumpCurve,
    fleet_operating_points,
)
from contractor.estimates.rules import assumed
from contractor.estimates.rules.assumed import FullLine
from contractor.estimates.rules.facts import PRIMARY, PumpFacts, Reading
from contractor.estimates.rules.wording import plain
from contractor.estimates.rules.workings import PumpWorking

# A test that gives less or more of the new flow than this was made or written down wrongly.
_LEAST_RATIO, _MOST_RATIO = 0.02, 3.0
# Above this the line's measures or the test must be doubted. Common practice, no source.
_DOUBTFUL_RATIO: Final = 1.25
TOO_MUCH_HEAD: Final = (
    "The flow that was measured would need more head than the pump has: check the line's measures and the test."
)
TOO_MUCH_FLOW: Final = (
    "The flow that was measured is far above the maker's curve: check the line's measures, the test and the model."
)
NOT_ALL_KNOWN: Final = (
    "The line's lift, length or bore is not measured: wear is judged against the pump's own first measured flow."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class PumpJob:
    """One pump to be worked out: its line, None where the line's values can't be used, and its supply.

    ``speed_ratio`` is the part of the speed at which its curve was measured.
    """

    pump: PumpFacts
    line: FullLine | None
    speed_ratio: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class _Ready:
    """A job whose curve and line can be used."""

    place: int
    job: PumpJob
    curve: PumpCurve
    line: FullLine


@dataclass(slots=True, kw_only=True)
class _Wear:
    """The ratios of one pump: to its curve, and what speaks against them."""

    to_curve: list[tuple[date, float]]
    cautions: list[str]


def settled(value: float) -> float:
    """Nine significant digits: one pump and a whole fleet then reckon with the very same figure.

    Vectorised arithmetic may differ in the last of sixteen digits with the length of an array.
    """
    return float(f"{value:.9g}")


@lru_cache(maxsize=4096)
def curve_of(points: tuple[tuple[float, float], ...]) -> tuple[PumpCurve | None, str]:
    """The curve through declared points; none, and why, where they can't be used."""
    try:
        return PumpCurve([flow for flow, _ in points], [head for _, head in points]), ""
    except BadInput as trouble:
        return None, f"The pump curve on record can't be used: {plain(trouble)}"


def pump_workings(jobs: Sequence[PumpJob]) -> list[PumpWorking]:
    """The working of every pump, in the order of the jobs, from arrays over all of them."""
    results = [_unknown(job) for job in jobs]
    ready = list(_ready(jobs))
    if not ready:
        return results
    line, speed = _lines(ready), np.array([one.job.speed_ratio for one in ready])
    curves = [one.curve for one in ready]
    new = fleet_operating_points(curves, line, speed_ratio=speed)
    worn = _wear(ready)
    ratio = np.array([_flow_ratio(one.job.pump, wear) for one, wear in zip(ready, worn, strict=True)])
    now = fleet_operating_points(curves, line, speed_ratio=speed, flow_ratio=ratio)
    for index, (one, wear) in enumerate(zip(ready, worn, strict=True)):
        results[one.place] = _working(one, wear, float(ratio[index]), new, now, index)
    return results


def _unknown(job: PumpJob) -> PumpWorking:
    curve, assumed_curve, cautions = _curve(job.pump)
    return PumpWorking(
        component_id=job.pump.component_id,
        curve=curve,
        curve_is_assumed=assumed_curve,
        speed_ratio=job.speed_ratio,
        cautions=cautions,
    )


def _curve(pump: PumpFacts) -> tuple[PumpCurve | None, bool, tuple[str, ...]]:
    """The curve, whether it is assumed, and what is doubtful about it. A standby pump's curve is never assumed."""
    curve, trouble = curve_of(pump.curve) if pump.curve else (None, "")
    if curve is not None or pump.part_kind != PRIMARY:
        return curve, False, (trouble,) if trouble else ()
    stand_in, _ = curve_of(assumed.PRIMARY_CURVE)
    doubt = "The pump's curve is not on record: that of an ordinary cast-iron pump is assumed (common practice)."
    return stand_in, True, (trouble, doubt) if trouble else (doubt,)


def _ready(jobs: Sequence[PumpJob]) -> Iterable[_Ready]:
    for place, job in enumerate(jobs):
        curve, _, _ = _curve(job.pump)
        if curve is not None and job.line is not None:
            yield _Ready(place=place, job=job, curve=curve, line=job.line)


def _lines(ready: Sequence[_Ready]) -> DischargeLine:
    lift, bore, length, k_sum = (
        np.array(values)
        for values in zip(
            *(
                (one.line.static_lift_m.value, one.line.bore_m.value, one.line.length_m.value, one.line.k_sum)
                for one in ready
            ),
            strict=True,
        )
    )
    return DischargeLine(lift, bore, length, k_sum, c=assumed.HAZEN_WILLIAMS_C)


def _wear(ready: Sequence[_Ready]) -> list[_Wear]:
    """The flows measured as parts of what the new pump moves against the same head, for all readings at once."""
    worn = [_Wear(to_curve=[], cautions=[]) for _ in ready]
    tests = [(index, reading) for index, one in enumerate(ready) for reading in one.job.pump.flows]
    if not tests:
        return worn
    which = np.array([index for index, _ in tests], dtype=np.intp)
    flow = np.array([reading.value for _, reading in tests])
    offered = _new_flow_at_same_head(ready, which, flow)
    for (index, reading), new_flow in zip(tests, offered.tolist(), strict=True):
        _note(worn[index], reading, new_flow)
    return worn


def _new_flow_at_same_head(ready: Sequence[_Ready], which: NDArray[np.intp], flow: FloatArray) -> FloatArray:
    each = _lines([ready[index] for index in which.tolist()])
    speed = np.array([ready[index].job.speed_ratio for index in which.tolist()])
    head = np.asarray(each.head_m(flow)) / speed**2
    offered = np.zeros_like(flow)
    by_curve: dict[PumpCurve, list[int]] = defaultdict(list)
    for place, index in enumerate(which.tolist()):
        by_curve[ready[index].curve].append(place)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", Caution)
        for curve, places in by_curve.items():
            offered[places] = np.asarray(curve.flow_m3_s(head[places])) * speed[places]
    return offered


def _note(wear: _Wear, reading: Reading, new_flow: float) -> None:
    ratio = reading.value / new_flow if new_flow > 0 else np.inf
    if ratio > _MOST_RATIO:
        wear.cautions.append(TOO_MUCH_HEAD)
        return
    if ratio > _DOUBTFUL_RATIO:
        wear.cautions.append(TOO_MUCH_FLOW)
    wear.to_curve.append((reading.on, settled(ratio)))


def _flow_ratio(pump: PumpFacts, wear: _Wear) -> float:
    if pump.wear_ratio is not None:
        return max(pump.wear_ratio.value, _LEAST_RATIO)
    return max(wear.to_curve[-1][1], _LEAST_RATIO) if wear.to_curve else 1.0


def _working(one: _Ready, wear: _Wear, ratio: float, new: FleetPoints, now: FleetPoints, index: int) -> PumpWorking:
    pump = one.job.pump
    curve, curve_is_assumed, cautions = _curve(pump)
    known = one.line.is_known and not curve_is_assumed
    ratios, doubts = _judged(pump, wear, known)
    if not new.lifts[index]:
        doubts = (*doubts, NO_FLOW)
    elif not new.on_curve[index]:
        doubts = (*doubts, BEYOND_CURVE)
    return PumpWorking(
        component_id=pump.component_id,
        curve=curve,
        curve_is_assumed=curve_is_assumed,
        speed_ratio=one.job.speed_ratio,
        ratios=ratios,
        ratios_are_to_curve=known,
        flow_ratio=settled(ratio),
        new_flow_m3_s=settled(float(new.flow_m3_s[index])),
        new_head_m=settled(float(new.head_m[index])),
        now_flow_m3_s=settled(float(now.flow_m3_s[index])),
        now_head_m=settled(float(now.head_m[index])),
        now_is_measured=bool(wear.to_curve) or pump.wear_ratio is not None,
        cautions=tuple(dict.fromkeys((*cautions, *doubts))),
    )


def _judged(pump: PumpFacts, wear: _Wear, known: bool) -> tuple[tuple[tuple[date, float], ...], tuple[str, ...]]:
    """The ratios by which wear is judged: only a measured line allows a comparison with the maker's curve."""
    if pump.wear_ratio is not None:
        return pump.wear_ratios, ()
    if known:
        return tuple(wear.to_curve), tuple(wear.cautions)
    first = pump.flows[0].value if pump.flows else 0.0
    if len(pump.flows) < 2 or first <= 0:
        return (), tuple(wear.cautions)
    return tuple((one.on, settled(one.value / first)) for one in pump.flows), (*wear.cautions, NOT_ALL_KNOWN)
