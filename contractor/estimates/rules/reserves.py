"""How long the batteries of many systems keep up with a storm's inflow, from arrays over all of them."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from contractor.engineering.battery_checks import Chemistry
from contractor.engineering.battery_life import END_OF_LIFE_CAPACITY
from contractor.engineering.battery_reserve import reserve_h
from contractor.engineering.outlook import years_between
from contractor.engineering.standby import TYPICAL_PEUKERT
from contractor.estimates.rules import assumed
from contractor.estimates.rules.facts import (
    ASSUMED,
    MEASURED,
    BatteryFacts,
    Given,
    PumpFacts,
    Reading,
    SystemFacts,
    latest,
)
from contractor.estimates.rules.hydraulics import settled
from contractor.estimates.rules.inflow import mean_of
from contractor.estimates.rules.workings import PumpWorking, Reserve

_SEVERAL = "There are several batteries: they are reckoned as connected side by side."
_COLD_LITHIUM = "The effect of cold is that of lead-acid; a LiFePO4 battery may also switch itself off."
_OVERFLOWS = "More water comes in than the standby pump lifts: the pit overflows whatever the battery."


@dataclass(frozen=True, slots=True, kw_only=True)
class ReserveJob:
    """One system's batteries with what its standby pump draws and moves; all that the reserve is made from."""

    capacity_ah: float
    rate_h: float
    health: Given[float]
    current_a: Given[float]
    temperature_c: Given[float]
    peukert: float
    loaded_v: Given[float]
    duty: float
    cautions: tuple[str, ...]


def basement_c(facts: SystemFacts) -> Given[float]:
    """The basement's temperature: the mean of what check-ups read, else assumed."""
    mean = mean_of(facts.temperatures)
    if mean is None:
        return Given(value=assumed.BASEMENT_C, unit="degC", origin=ASSUMED, note=assumed.PRACTICE)
    return Given(value=mean.value, unit="degC", origin=MEASURED, on=mean.on, note="mean of the check-ups")


def loaded_v(facts: SystemFacts) -> Given[float]:
    """The voltage that the standby pump gets: as measured while it ran, else typical of the chemistry."""
    read = [reading for battery in facts.batteries if (reading := latest(battery.running_v)) is not None]
    if read:
        newest = max(read, key=lambda reading: reading.on)
        return Given(value=newest.value, unit="V", origin=MEASURED, on=newest.on)
    battery = facts.batteries[0] if facts.batteries else None
    chemistry = Chemistry(assumed.chemistry_of(battery).value) if battery else Chemistry.FLOODED
    return Given(value=assumed.LOADED_V[chemistry], unit="V", origin=ASSUMED, note=assumed.PRACTICE)


def speed_ratio(facts: SystemFacts, standby: PumpFacts) -> float:
    """Speed of the standby's motor as a part of that of its curve: about the ratio of the voltages."""
    rated = standby.curve_at_v.value if standby.curve_at_v else assumed.PUMP_SUPPLY_V
    return loaded_v(facts).value / rated


def health_of(battery: BatteryFacts, *, on: date) -> Given[float]:
    """The part of its rating that a battery holds: as measured last, else by its age."""
    measured: Reading | None = latest(battery.capacities)
    if measured is not None and battery.capacity_ah is not None:
        share = min(max(measured.value / battery.capacity_ah.value, 0.05), 1.0)
        return Given(value=share, origin=MEASURED, on=measured.on, note="timed discharge")
    years, _ = assumed.expected_years(battery)
    lost = (1.0 - END_OF_LIFE_CAPACITY) * years_between(battery.installed_on, on) / years.value
    note = "full when new, 80 % at the end of its expected life"
    return Given(value=max(1.0 - lost, assumed.LEAST_HEALTH), origin=ASSUMED, note=note)


def trouble_of(facts: SystemFacts, standby: PumpWorking | None) -> str:
    """Why no reserve can be reckoned, with what to enter; empty when it can."""
    pump = facts.standby
    if pump is None or standby is None:
        return "No standby pump is on record."
    if not facts.batteries:
        return "No battery is on record for the standby pump."
    if any(battery.capacity_ah is None for battery in facts.batteries):
        return "The battery's capacity is not known: choose its model on the house file."
    if standby.curve is None:
        return "The standby pump's curve is not known: choose its model on the house file."
    if standby.now_flow_m3_s is None:
        return "The discharge line's measures can't be used: correct them on the house file."
    if latest(pump.currents) is None and pump.current_a is None:
        return "What the standby pump draws is not known: choose its model, or read the current at the next check-up."
    return ""


def job_of(facts: SystemFacts, standby: PumpWorking, inflow_m3_s: float, *, on: date) -> ReserveJob:
    """What one system's reserve is made from; only where ``trouble_of`` finds nothing."""
    pump, batteries = facts.standby, facts.batteries
    flow = standby.now_flow_m3_s or 0.0
    chemistry = assumed.chemistry_of(batteries[0])
    cautions = [_SEVERAL] if len(batteries) > 1 else []
    if chemistry.origin == ASSUMED:
        cautions.append("The battery's chemistry is not known; flooded lead-acid is assumed.")
    if chemistry.value == Chemistry.LIFEPO4:
        cautions.append(_COLD_LITHIUM)
    duty = inflow_m3_s / flow if flow > 0 else 1.0
    if duty >= 1.0:
        cautions.append(_OVERFLOWS)
    return ReserveJob(
        capacity_ah=sum(battery.capacity_ah.value for battery in batteries if battery.capacity_ah),
        rate_h=batteries[0].rate_h.value if batteries[0].rate_h else assumed.BATTERY_RATE_H,
        health=_health(batteries, on),
        current_a=_current(pump),
        temperature_c=basement_c(facts),
        peukert=TYPICAL_PEUKERT[Chemistry(chemistry.value)],
        loaded_v=loaded_v(facts),
        duty=settled(min(duty, 1.0)),
        cautions=tuple(cautions),
    )


def _health(batteries: Sequence[BatteryFacts], on: date) -> Given[float]:
    each = [(battery.capacity_ah.value, health_of(battery, on=on)) for battery in batteries if battery.capacity_ah]
    share = sum(capacity * health.value for capacity, health in each) / sum(capacity for capacity, _ in each)
    first = each[0][1]
    return Given(value=settled(share), origin=first.origin, on=first.on, note=first.note)


def _current(pump: PumpFacts | None) -> Given[float]:
    measured = latest(pump.currents) if pump else None
    if measured is not None and measured.value > 0:
        return Given(value=measured.value, unit="A", origin=MEASURED, on=measured.on)
    if pump is None or pump.current_a is None:
        raise ValueError("The standby pump's current is not known.")
    return pump.current_a


def reserves(jobs: Sequence[ReserveJob]) -> list[Reserve]:
    """The reserve of every job, in their order."""
    if not jobs:
        return []
    duty = np.array([job.duty for job in jobs])
    found = reserve_h(
        np.array([job.capacity_ah for job in jobs]),
        np.array([job.rate_h for job in jobs]),
        np.array([job.current_a.value for job in jobs]),
        np.array([job.peukert for job in jobs]),
        np.ones(len(jobs)),
        health=np.array([job.health.value for job in jobs]),
        temperature_c=np.array([job.temperature_c.value for job in jobs]),
    )
    full_load = np.asarray(found.hours)
    with np.errstate(divide="ignore"):
        hours = np.where(duty > 0, full_load / duty, np.inf)
    return [
        Reserve(
            capacity_ah=job.capacity_ah,
            rate_h=job.rate_h,
            health=job.health,
            current_a=job.current_a,
            temperature_c=job.temperature_c,
            peukert=job.peukert,
            loaded_v=job.loaded_v,
            duty=job.duty,
            full_load_hours=settled(float(full)),
            hours=settled(float(lasts)),
            cautions=job.cautions,
        )
        for job, full, lasts in zip(jobs, full_load.tolist(), hours.tolist(), strict=True)
    ]
