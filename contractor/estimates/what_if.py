"""What if: a system with another pump, a larger line, another battery or more water, beside the system as it is.

Pure: nothing is written, and both sides are worked out by the same functions. What is new goes in on the day that is
asked about and has never been measured; everything else stays as it is on record.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Any

from contractor.estimates.rules.declared import declared_number
from contractor.estimates.rules.facts import (
    BATTERY,
    DECLARED,
    PRIMARY,
    STANDBY,
    SUPPOSED,
    BatteryFacts,
    Given,
    PumpFacts,
    SystemFacts,
)
from contractor.estimates.rules.fleet import estimates_from, workings_of
from contractor.estimates.rules.reserves import job_of, reserves
from contractor.estimates.rules.results import Estimates, PartEstimate
from contractor.estimates.rules.supposing import on_another_line
from contractor.estimates.rules.wording import Wording
from contractor.estimates.rules.workings import Workings

# Numbers that no part in a house has, for what would be the first of its kind there.
_FIRST_OF_KIND = {PRIMARY: -1, STANDBY: -2, BATTERY: -3}


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """A model from the catalogue that might go in: its number, its name, and what its maker declares."""

    model_id: int
    name: str
    declared: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """What is asked; None and 1 mean "as it is today". ``outage_h`` is the power cut that should be carried."""

    primary: Part | None = None
    standby: Part | None = None
    battery: Part | None = None
    line: Part | None = None
    inflow_times: float = 1.0
    outage_h: float

    @property
    def changes(self) -> bool:
        """Whether anything would be changed or supposed; another outage only asks."""
        return any((self.primary, self.standby, self.battery, self.line)) or self.inflow_times != 1.0

    @property
    def is_work(self) -> bool:
        """Whether there is something to do in the house, and so something to recommend."""
        return any((self.primary, self.standby, self.battery, self.line))


@dataclass(frozen=True, slots=True, kw_only=True)
class Side:
    """One of the two sides: facts, the numbers worked out of them, and the estimates made of those."""

    facts: SystemFacts
    workings: Workings
    estimates: Estimates


def side_of(facts: SystemFacts, *, on: date, units: str) -> Side:
    """One side: the facts worked out for a day; ``units`` ("US" or "metric") is what its sentences speak."""
    worked = _with_timed_storm(workings_of(facts, on=on))
    return Side(facts=facts, workings=worked, estimates=estimates_from(worked, Wording(units)))


def _with_timed_storm(worked: Workings) -> Workings:
    """A storm brings at least the largest inflow that was timed, even where the mean is supposed."""
    storm = max((reading.value for reading in worked.facts.pit.inflows), default=0.0)
    if storm <= worked.inflow.design_m3_s.value:
        return worked
    design = replace(worked.inflow.design_m3_s, value=storm, note="the largest inflow that was timed")
    standby = worked.of(worked.facts.standby)
    reserve = worked.reserve
    if reserve is not None and standby is not None:
        (reserve,) = reserves([job_of(worked.facts, standby, storm, on=worked.on)])
    return replace(worked, inflow=replace(worked.inflow, design_m3_s=design), reserve=reserve)


def supposed(facts: SystemFacts, question: Question, *, on: date) -> SystemFacts:
    """The facts of the system with what is asked about put in."""
    changed = _with_water(facts, question.inflow_times, on)
    if question.line is not None:
        bore = Given(value=float(question.line.declared["bore_m"]), unit="m", origin=SUPPOSED)
        changed = on_another_line(changed, replace(changed.line, bore_m=bore), on=on)
    for part, kind in ((question.primary, PRIMARY), (question.standby, STANDBY)):
        if part is not None:
            changed = _with_pump(changed, part, kind, on)
    if question.battery is not None:
        changed = _with_battery(changed, question.battery, on)
    return changed


def _with_water(facts: SystemFacts, times: float, on: date) -> SystemFacts:
    """The same house with its inflow multiplied.

    The mean is held even at 1: another pump brings no counters from which it could be told.
    """
    mean = workings_of(facts, on=on).inflow.mean_m3_s
    held = Given(value=mean.value * times, unit="m3/s", origin=SUPPOSED, note=f"{times:g} × today’s")
    more = tuple(replace(reading, value=reading.value * times) for reading in facts.pit.inflows)
    return replace(facts, pit=replace(facts.pit, inflows=more, mean_inflow_m3_s=held))


def _with_pump(facts: SystemFacts, part: Part, kind: str, on: date) -> SystemFacts:
    old = facts.primary if kind == PRIMARY else facts.standby
    declared = part.declared
    curve = declared.get("curve")
    new = PumpFacts(
        component_id=_FIRST_OF_KIND[kind] if old is None else old.component_id,
        part_kind=kind,
        word="primary pump" if kind == PRIMARY else "standby pump",
        model_id=part.model_id,
        model=part.name,
        installed_on=on,
        curve=None if not curve else tuple((float(flow), float(head)) for flow, head in curve),
        curve_at_v=_declared(declared, "curve_at_v", "V"),
        current_a=_declared(declared, "current_a", "A"),
        rated_hours=_declared(declared, "rated_hours", ""),
        rated_starts=_declared(declared, "rated_starts", "count"),
        expected_years=_declared(declared, "expected_years", ""),
    )
    others = tuple(pump for pump in facts.pumps if pump is not old)
    return replace(facts, pumps=(*others, new))


def _with_battery(facts: SystemFacts, part: Part, on: date) -> SystemFacts:
    """Every battery replaced by the model; one where there is none."""
    chemistry = part.declared.get("chemistry")
    new = BatteryFacts(
        component_id=_FIRST_OF_KIND[BATTERY],
        word="battery",
        model_id=part.model_id,
        model=part.name,
        installed_on=on,
        chemistry=Given(value=str(chemistry), origin=DECLARED) if chemistry else None,
        capacity_ah=_declared(part.declared, "capacity_ah", "Ah"),
        rate_h=_declared(part.declared, "rate_h", "h"),
        expected_years=_declared(part.declared, "expected_years_at_25c", ""),
    )
    ids = [battery.component_id for battery in facts.batteries] or [new.component_id]
    return replace(facts, batteries=tuple(replace(new, component_id=component_id) for component_id in ids))


def _declared(declared: Mapping[str, Any], name: str, unit: str) -> Given[float] | None:
    value = declared_number(declared, name)
    return None if value is None else Given(value=value, unit=unit, origin=DECLARED)


def covers(workings: Workings, outage_h: float) -> bool | None:
    """Whether standby pump and battery carry a storm's inflow through a power cut; None where it can't be told."""
    standby = workings.of(workings.facts.standby)
    if workings.reserve is None or standby is None or standby.now_flow_m3_s is None:
        return None
    return standby.now_flow_m3_s > workings.inflow.design_m3_s.value and workings.reserve.hours >= outage_h


def first_of(side: Side, kind: str) -> PartEstimate | None:
    """The estimate of a side's part of this kind; of several, the one due first."""
    parts: tuple[PumpFacts | BatteryFacts, ...] = side.facts.batteries
    if kind != BATTERY:
        parts = tuple(pump for pump in side.facts.pumps if pump.part_kind == kind)
    ids = {part.component_id for part in parts}
    found = [estimate for estimate in side.estimates.parts if estimate.component_id in ids]
    return min(found, key=lambda estimate: estimate.replace_by, default=None)
