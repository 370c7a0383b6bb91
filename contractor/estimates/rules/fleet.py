"""Estimates of many systems in one pass, and of one system in the same way.

The numbers (operating points, wear, cycles, a year of pumping, reserves) are computed as arrays over all systems; dates
and sentences are then made from each system's own.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from math import inf

import numpy as np

from contractor.engineering.errors import BadInput
from contractor.engineering.inputs import FloatArray
from contractor.engineering.pit import pump_cycle, storage_m3
from contractor.estimates.rules.assumed import FullLine, FullPit, full_line, full_pit
from contractor.estimates.rules.batteries import battery_estimate
from contractor.estimates.rules.facts import STANDBY, PumpFacts, SystemFacts, reckoned_on
from contractor.estimates.rules.hydraulics import PumpJob, pump_workings, settled
from contractor.estimates.rules.inflow import HOURS_A_MONTH, WINTER, inflow_of, weights_of
from contractor.estimates.rules.pumps import pump_estimate
from contractor.estimates.rules.reserves import job_of, reserves, speed_ratio, trouble_of
from contractor.estimates.rules.results import Estimates
from contractor.estimates.rules.systems import system_results
from contractor.estimates.rules.urgency import with_urgency
from contractor.estimates.rules.wording import Wording, plain
from contractor.estimates.rules.workings import Cycle, Inflow, PumpWorking, Reserve, Workings, YearOfPumping

_QUARTER_CIRCLE = np.pi / 4.0


@dataclass(frozen=True, slots=True, kw_only=True)
class _Draft:
    """One system with its gaps filled and its values tried."""

    facts: SystemFacts
    on: date
    line: FullLine
    pit: FullPit
    line_trouble: str
    pit_trouble: str


@dataclass(frozen=True, slots=True, kw_only=True)
class _Pumping:
    """The primary pump's cycles at three inflows and its year; None where there is no pump or no pit to reckon with."""

    mean: Cycle | None = None
    wettest: Cycle | None = None
    design: Cycle | None = None
    year: YearOfPumping | None = None
    velocity_m_s: float | None = None


def estimate_fleet(many: Sequence[SystemFacts], *, on: date, units: str) -> list[Estimates]:
    """The estimates of many systems on a day, in their order; ``units`` ("US" or "metric") is what sentences speak."""
    say = Wording(units)
    return [estimates_from(worked, say) for worked in work_out(many, on=on)]


def estimate_system(facts: SystemFacts, *, on: date, units: str) -> Estimates:
    """The estimates of one system on a day: the same pass with one system in it."""
    return estimate_fleet([facts], on=on, units=units)[0]


def workings_of(facts: SystemFacts, *, on: date) -> Workings:
    """The numbers of one system on a day, for its charts."""
    return work_out([facts], on=on)[0]


def estimates_from(worked: Workings, say: Wording) -> Estimates:
    """Dates and sentences of one system from its numbers."""
    facts = worked.facts
    results = system_results(worked, say)
    parts = [pump_estimate(pump, worked, say) for pump in facts.pumps]
    parts += [battery_estimate(battery, worked, say) for battery in facts.batteries]
    return Estimates(system_id=facts.system_id, parts=with_urgency(parts, worked, results, say), results=tuple(results))


def work_out(many: Sequence[SystemFacts], *, on: date) -> list[Workings]:
    """The numbers of many systems on a day, from arrays; in their order."""
    drafts = [_draft(facts, reckoned_on(facts, on=on)) for facts in many]
    pumps, storages = _pumps(drafts), _storages(drafts)
    inflows = [_inflow(draft, of, storage) for draft, of, storage in zip(drafts, pumps, storages, strict=True)]
    pumping = _pumping(drafts, pumps, inflows, storages)
    kept, troubles = _reserves(drafts, pumps, inflows)
    return [
        Workings(
            facts=draft.facts,
            on=draft.on,
            line=draft.line,
            pit=draft.pit,
            line_trouble=draft.line_trouble,
            storage_m3=storage,
            pit_trouble=draft.pit_trouble,
            weights=weights_of(draft.facts.climate)[0],
            inflow=inflow,
            pumps=tuple(of.values()),
            cycle_mean=moved.mean,
            cycle_wettest=moved.wettest,
            cycle_design=moved.design,
            year=moved.year,
            velocity_m_s=moved.velocity_m_s,
            reserve=reserve,
            reserve_trouble=trouble,
        )
        for draft, of, storage, inflow, moved, reserve, trouble in zip(
            drafts, pumps, storages, inflows, pumping, kept, troubles, strict=True
        )
    ]


def _draft(facts: SystemFacts, on: date) -> _Draft:
    line, pit = full_line(facts.line), full_pit(facts.pit)
    return _Draft(
        facts=facts, on=on, line=line, pit=pit, line_trouble=_line_trouble(line), pit_trouble=_pit_trouble(pit)
    )


def _line_trouble(line: FullLine) -> str:
    """Why a line can't be reckoned with. The engineering core is asked only where something looks wrong."""
    values = (line.static_lift_m.value, line.length_m.value, line.k_sum, line.bore_m.value)
    if all(0.0 <= value < inf for value in values) and line.bore_m.value > 0.0:
        return ""
    try:
        line.as_discharge()
    except BadInput as trouble:
        return f"The discharge line's measures can't be used: {plain(trouble)}"
    return ""


def _pit_trouble(pit: FullPit) -> str:
    if 0.0 < pit.diameter_m.value < inf and 0.0 <= pit.off_m.value < pit.on_m.value < inf:
        return ""
    try:
        storage_m3(pit.diameter_m.value, pit.on_m.value, pit.off_m.value)
    except BadInput as trouble:
        return f"The pit's measures can't be used: {plain(trouble)}"
    return ""


def _storages(drafts: Sequence[_Draft]) -> list[float | None]:
    """What every pit holds between its levels; None where its measures can't be used."""
    results: list[float | None] = [None] * len(drafts)
    places = [at for at, draft in enumerate(drafts) if not draft.pit_trouble]
    if places:
        pits = [drafts[at].pit for at in places]
        diameter, on, off = (
            np.array(values)
            for values in zip(*((pit.diameter_m.value, pit.on_m.value, pit.off_m.value) for pit in pits), strict=True)
        )
        for at, volume in zip(places, np.asarray(storage_m3(diameter, on, off)).tolist(), strict=True):
            results[at] = settled(volume)
    return results


def _pumps(drafts: Sequence[_Draft]) -> list[dict[int, PumpWorking]]:
    """The workings of each system's pumps, by component."""
    jobs = [
        PumpJob(
            pump=pump,
            line=None if draft.line_trouble else draft.line,
            speed_ratio=speed_ratio(draft.facts, pump) if pump.part_kind == STANDBY else 1.0,
        )
        for draft in drafts
        for pump in draft.facts.pumps
    ]
    worked = iter(pump_workings(jobs))
    return [{pump.component_id: next(worked) for pump in draft.facts.pumps} for draft in drafts]


def _of(pumps: dict[int, PumpWorking], pump: PumpFacts | None) -> PumpWorking | None:
    return None if pump is None else pumps.get(pump.component_id)


def _inflow(draft: _Draft, pumps: dict[int, PumpWorking], storage: float | None) -> Inflow:
    primary = _of(pumps, draft.facts.primary)
    weights, doubts = weights_of(draft.facts.climate)
    inflow = inflow_of(
        pit=draft.facts.pit,
        pump=draft.facts.primary,
        pump_flow_m3_s=primary.now_flow_m3_s if primary else None,
        storage_m3=storage,
        weights=weights,
    )
    if not doubts:
        return inflow
    return replace(inflow, cautions=(*inflow.cautions, *doubts))


def _pumping(
    drafts: Sequence[_Draft],
    pumps: Sequence[dict[int, PumpWorking]],
    inflows: Sequence[Inflow],
    storages: Sequence[float | None],
) -> list[_Pumping]:
    """Cycles and years of every primary pump at once: three inflows and twelve months for each."""
    results = [_Pumping() for _ in drafts]
    flows = [
        working.now_flow_m3_s if (working := _of(of, d.facts.primary)) else None
        for d, of in zip(drafts, pumps, strict=True)
    ]
    places = [at for at in range(len(drafts)) if flows[at] is not None and storages[at] is not None]
    if not places:
        return results
    flow = np.array([flows[at] for at in places], dtype=np.float64)
    storage = np.array([storages[at] for at in places], dtype=np.float64)
    asked = np.array([_asked(inflows[at]) for at in places])
    cycle = pump_cycle(asked, flow[:, None], storage[:, None])
    fill, run, starts, duty = (
        np.asarray(each) for each in (cycle.fill_s, cycle.run_s, cycle.starts_per_hour, cycle.duty)
    )
    bore = np.array([drafts[at].line.bore_m.value for at in places])
    velocity = flow / (_QUARTER_CIRCLE * bore**2)
    for row, at in enumerate(places):
        mean, wettest, design = (
            _cycle(asked[row, column], fill[row, column], run[row, column], starts[row, column], duty[row, column])
            for column in range(3)
        )
        results[at] = _Pumping(
            mean=mean,
            wettest=wettest,
            design=design,
            year=_year(starts[row, 3:], duty[row, 3:]),
            velocity_m_s=None if drafts[at].line_trouble else settled(float(velocity[row])),
        )
    return results


def _asked(inflow: Inflow) -> list[float]:
    return [inflow.mean_m3_s.value, inflow.wettest_m3_s, inflow.design_m3_s.value, *inflow.months_m3_s]


def _cycle(inflow: float, fill: float, run: float, starts: float, duty: float) -> Cycle:
    return Cycle(
        inflow_m3_s=settled(inflow),
        fill_s=settled(fill),
        run_s=settled(run),
        starts_per_hour=settled(starts),
        duty=settled(duty),
    )


def _year(starts_per_hour: FloatArray, duty: FloatArray) -> YearOfPumping:
    return YearOfPumping(
        run_hours=settled(float(duty.sum()) * HOURS_A_MONTH),
        starts=settled(float(starts_per_hour.sum()) * HOURS_A_MONTH),
        winter_duty=settled(float(duty[list(WINTER)].mean())),
    )


def _reserves(
    drafts: Sequence[_Draft], pumps: Sequence[dict[int, PumpWorking]], inflows: Sequence[Inflow]
) -> tuple[list[Reserve | None], list[str]]:
    troubles, jobs, places = [], [], []
    for at, draft in enumerate(drafts):
        standby = _of(pumps[at], draft.facts.standby)
        trouble = trouble_of(draft.facts, standby)
        troubles.append(trouble)
        if not trouble and standby is not None:
            jobs.append(job_of(draft.facts, standby, inflows[at].design_m3_s.value, on=draft.on))
            places.append(at)
    kept: list[Reserve | None] = [None] * len(drafts)
    for at, reserve in zip(places, reserves(jobs), strict=True):
        kept[at] = reserve
    return kept, troubles
