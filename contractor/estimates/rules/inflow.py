"""How much water comes in: from the pump's counters, else from timed rises, else assumed; spread over the year."""

import warnings
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import lru_cache
from statistics import median

from contractor.engineering.errors import BadInput, Caution
from contractor.engineering.outlook import DAYS_PER_YEAR
from contractor.engineering.pit import inflow_from_counter_m3_s
from contractor.engineering.seasons import inflow_weights
from contractor.estimates.rules import assumed
from contractor.estimates.rules.facts import (
    ASSUMED,
    MEASURED,
    ClimateFacts,
    Counted,
    Given,
    PitFacts,
    PumpFacts,
    Reading,
)
from contractor.estimates.rules.wording import number, plain
from contractor.estimates.rules.workings import Inflow

SECONDS_A_DAY = 86400.0
HOURS_A_MONTH = 8766.0 / 12.0
WINTER = (11, 0, 1)
_EVEN = (1.0 / 12.0,) * 12
# Counters of eleven months or so have seen every season.
_WHOLE_YEAR = 0.9


@lru_cache(maxsize=512)
def weights_of(climate: ClimateFacts | None) -> tuple[tuple[float, ...] | None, tuple[str, ...]]:
    """The twelve parts of a year's inflow under these normals, and what is doubtful about them.

    Half of the water follows rain and melting snow, half comes evenly: the ground stores water and evens the year out.
    """
    if climate is None:
        return None, ()
    with warnings.catch_warnings(record=True) as heard:
        warnings.simplefilter("always", Caution)
        try:
            found = inflow_weights(climate.rain_mm, climate.temperature_c, latitude_deg=climate.latitude_deg)
        except BadInput as trouble:
            return None, (f"The climate normals of {climate.name} can't be used: {plain(trouble)}",)
    even = assumed.BASE_FLOW / 12.0
    # Nine decimals, so that one house and a whole fleet reckon with the very same figures.
    evened = tuple(round((1.0 - assumed.BASE_FLOW) * float(weight) + even, 9) for weight in found)
    return evened, tuple(str(one.message) for one in heard)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Mean:
    """The mean inflow of the year and how it was found; ``years`` that counters cover."""

    given: Given[float]
    how: str
    formula: str = ""
    with_numbers: str = ""
    years: float = 0.0
    cautions: tuple[str, ...] = ()


def inflow_of(
    *,
    pit: PitFacts,
    pump: PumpFacts | None,
    pump_flow_m3_s: float | None,
    storage_m3: float | None,
    weights: tuple[float, ...] | None,
) -> Inflow:
    """The mean inflow of a year, the wettest month's, and the design inflow, which a storm in that month brings.

    A rise timed in a month is scaled to the year by that month's weight; the median of all rises counts.
    """
    found = _mean(pit, pump, pump_flow_m3_s, storage_m3, weights)
    mean = found.given
    shares = [12.0 * weight for weight in weights or _EVEN]
    times = max(shares) if weights else assumed.WETTEST_MONTH_TIMES
    wettest = mean.value * times
    most = 0.0 if pit.mean_inflow_m3_s else max((rise.value for rise in pit.inflows), default=0.0)
    storm = assumed.STORM_TIMES * wettest
    note = f"{assumed.STORM_TIMES:g} × the wettest month's inflow; {assumed.PRACTICE}"
    if most > storm:
        storm, note = most, "the largest inflow that was timed"
    return Inflow(
        mean_m3_s=mean,
        months_m3_s=tuple(mean.value * share for share in shares),
        wettest_m3_s=wettest,
        design_m3_s=Given(value=storm, unit="m3/s", origin=mean.origin, on=mean.on, note=note),
        how=found.how,
        formula=found.formula,
        with_numbers=found.with_numbers,
        cautions=found.cautions,
    )


def _mean(
    pit: PitFacts,
    pump: PumpFacts | None,
    pump_flow_m3_s: float | None,
    storage_m3: float | None,
    weights: tuple[float, ...] | None,
) -> _Mean:
    """Counters of a year or more, of this pump or the one before it, for they leave no season out; else timed rises;
    else shorter counters; else assumed.
    """
    if pit.mean_inflow_m3_s is not None:
        return _Mean(given=pit.mean_inflow_m3_s, how="Supposed.")
    troubles: list[str] = []
    found = []
    for counted, how in ((_counted(pump), "this pump"), (pit.counted_before, "the pump before this one")):
        if counted is not None and storage_m3 is not None and pump_flow_m3_s:
            mean, trouble = _from_counters(counted, how, pump_flow_m3_s, storage_m3)
            troubles += trouble
            found += [mean] if mean is not None else []
    longest = max(found, key=lambda mean: min(mean.years, _WHOLE_YEAR), default=None)
    if pit.inflows and (longest is None or longest.years < _WHOLE_YEAR):
        timed = _from_rises(pit.inflows, weights)
        return replace(timed, cautions=(*troubles, *timed.cautions))
    if longest is not None:
        return longest
    given = Given(value=assumed.MEAN_INFLOW_M3_S, unit="m3/s", origin=ASSUMED, note=assumed.PRACTICE)
    caution = "Nobody has timed how fast the water rises in the pit: the inflow is assumed."
    return _Mean(given=given, how="Assumed, because nothing was measured.", cautions=(*troubles, caution))


def _from_rises(rises: Sequence[Reading], weights: tuple[float, ...] | None) -> _Mean:
    parts = [(rise.value, weights[rise.on.month - 1] if weights else 1.0 / 12.0) for rise in rises]
    cautions = []
    if len(rises) == 1:
        cautions.append("The rise was timed once only: timed again at another season, it tells more of the year.")
    if weights is None:
        cautions.append("Without the region's climate normals, the inflow timed is taken for that of the whole year.")
    times = "once" if len(rises) == 1 else f"{len(rises)} times"
    mean = median(value / (12.0 * weight) for value, weight in parts)
    return _Mean(
        given=Given(value=mean, unit="m3/s", origin=MEASURED, on=rises[-1].on, note="rises timed in the pit"),
        how=f"Timed {times} in the pit, scaled from its month to the year."
        if weights
        else f"Timed {times} in the pit.",
        formula="median of: inflow timed ÷ (12 · its month's part of the year's water)",
        with_numbers="; ".join(f"{number(value)} ÷ (12 · {number(weight)})" for value, weight in parts),
        cautions=tuple(cautions),
    )


def _counted(pump: PumpFacts | None) -> Counted | None:
    """What the counters of the present pump say, as read on one day."""
    if pump is None:
        return None
    starts, hours = counter(pump.starts), counter(pump.run_hours)
    on = max((reading.on for reading in (starts, hours) if reading is not None), default=None)
    if on is None:
        return None
    return Counted(
        since=pump.installed_on,
        on=on,
        run_hours=hours.value if hours is not None and hours.on == on else None,
        starts=starts.value if starts is not None and starts.on == on else None,
    )


def _from_counters(
    counted: Counted, whose: str, pump_flow_m3_s: float, storage_m3: float
) -> tuple[_Mean | None, list[str]]:
    """The mean inflow while a pump was counted; none, and why, where its counters tell nothing."""
    days = (counted.on - counted.since).days
    if days <= 0:
        return None, []
    flow_m3_s = counted.flow_m3_s or pump_flow_m3_s
    try:
        value = inflow_from_counter_m3_s(
            counted.starts or 0.0,
            storage_m3,
            days * SECONDS_A_DAY,
            run_seconds=None if counted.run_hours is None else counted.run_hours * 3600.0,
            pump_flow_m3_s=flow_m3_s,
        )
    except BadInput as trouble:
        return None, [f"The counters of {whose} tell no inflow: {plain(trouble)}"]
    flow, volume, years = number(flow_m3_s, 5), number(storage_m3, 5), days / DAYS_PER_YEAR
    if counted.run_hours is not None:
        formula = "pump flow · hours run ÷ hours since it went in"
        numbers = f"{flow} · {number(counted.run_hours, 6)} ÷ ({days} · 24)"
    else:
        formula = "Qp ÷ 2 · (1 − √(1 − 4 · starts · V ÷ (Qp · seconds)))"
        count = number(counted.starts or 0.0, 6)
        numbers = f"{flow} ÷ 2 · (1 − √(1 − 4 · {count} · {volume} ÷ ({flow} · {days} · 86400)))"
    found = _Mean(
        given=Given(value=value, unit="m3/s", origin=MEASURED, on=counted.on, note=f"the counters of {whose}"),
        how=f"From the counters of {whose} since it went in.",
        formula=formula,
        with_numbers=numbers,
        years=years,
        cautions=() if years >= _WHOLE_YEAR else ("The counters cover less than a year: seasons are left out.",),
    )
    return found, []


def counter(readings: Sequence[Reading]) -> Reading | None:
    """The last reading of a counter; None without one, or when it has fallen since the one before: it was reset."""
    if not readings or (len(readings) > 1 and readings[-1].value < readings[-2].value):
        return None
    return readings[-1]


def mean_of(readings: Sequence[Reading], since: date | None = None) -> Given[float] | None:
    """The mean of readings, dated by the last."""
    used = [reading for reading in readings if since is None or reading.on >= since]
    if not used:
        return None
    return Given(value=sum(one.value for one in used) / len(used), origin=MEASURED, on=used[-1].on)
