"""Does the standby pump save the basement in a power cut: can it lift a storm's inflow, and for how long."""

from typing import Final

from contractor.engineering.battery_reserve import capacity_factor
from contractor.engineering.standby import ORDINARY_OUTAGE_H, STORM_OUTAGE_H
from contractor.estimates.rules.facts import ASSUMED, ON_RECORD, Given
from contractor.estimates.rules.pump_steps import head_step, inflow_inputs, inflow_steps, line_inputs
from contractor.estimates.rules.results import BAD, GOOD, UNKNOWN, WATCH, Input, Step, SystemResult
from contractor.estimates.rules.wording import Wording, entry, hours, number, step
from contractor.estimates.rules.workings import PumpWorking, Reserve, Workings

# Little water to spare: less than a quarter more than comes in. Common practice, no source.
_NARROW: Final = 1.25
NARROW: Final = "The standby pump moves less than a quarter more than comes in."
NOT_TIMED: Final = "time how fast the water rises in the pit at the next check-up."
NO_STANDBY: Final = "No standby pump is on record: in a power cut nothing lifts the water."
_EIA: Final = "mean power cuts in the United States, 2014 to 2023, EIA Electric Power Annual table 11.1"


def outages_h(worked: Workings) -> tuple[Given[float], Given[float]]:
    """How long ordinary and storm power cuts last: in this region, else in the country."""
    climate = worked.facts.climate
    if climate is None:
        return (
            Given(value=ORDINARY_OUTAGE_H, unit="h", origin=ASSUMED, note=_EIA),
            Given(value=STORM_OUTAGE_H, unit="h", origin=ASSUMED, note=_EIA),
        )
    note = f"{climate.name}: {climate.source}"
    return (
        Given(value=climate.ordinary_outage_h, unit="h", origin=ON_RECORD, note=note),
        Given(value=climate.storm_outage_h, unit="h", origin=ON_RECORD, note=note),
    )


def standby_result(worked: Workings, say: Wording) -> SystemResult:
    """Whether the standby pump covers a power cut in a storm."""
    standby, reserve = worked.of(worked.facts.standby), worked.reserve
    if worked.facts.standby is None:
        return SystemResult(code="standby", level=WATCH, sentence=NO_STANDBY)
    if reserve is None or standby is None or standby.now_flow_m3_s is None:
        sentence = f"Whether the standby pump would cover a power cut is not known. {worked.reserve_trouble}"
        return SystemResult(code="standby", level=UNKNOWN, sentence=sentence)
    level, sentence = _with_doubt(worked, *_cover(worked, standby.now_flow_m3_s, reserve, say))
    cautions = [*standby.cautions, *worked.inflow.cautions, *reserve.cautions]
    if level != BAD and standby.now_flow_m3_s < _NARROW * worked.inflow.design_m3_s.value:
        cautions.append(NARROW)
    return SystemResult(
        code="standby",
        level=level,
        sentence=sentence,
        inputs=(*line_inputs(worked, say), *_inputs(worked, reserve, say)),
        steps=(
            *_flow_steps(worked, standby, reserve.loaded_v.value, say),
            *design_steps(worked, say),
            *_reserve_steps(worked, reserve),
        ),
        cautions=say.sentences(cautions),
    )


def _cover(worked: Workings, flow_m3_s: float, reserve: Reserve, say: Wording) -> tuple[str, str]:
    inflow = worked.inflow.design_m3_s.value
    moves, brings = say.flow(flow_m3_s), say.flow(inflow)
    ordinary, storm = outages_h(worked)
    if flow_m3_s <= inflow:
        return BAD, (
            f"The standby pump moves {moves} up this line, no more than the {brings} a storm may bring: "
            "the pit would overflow at once."
        )
    covers = f"The standby pump moves {moves} up this line, and a storm may bring {brings};"
    if reserve.hours >= storm.value:
        return GOOD, f"{covers} it covers a storm's power cut of about {hours(storm.value)}."
    if reserve.hours >= ordinary.value:
        return WATCH, (
            f"{covers} its battery covers an ordinary power cut of about {hours(ordinary.value)}, "
            f"but not a storm's of about {hours(storm.value)}."
        )
    return BAD, f"{covers} but its battery does not even cover an ordinary power cut of {hours(ordinary.value)}."


def _with_doubt(worked: Workings, level: str, sentence: str) -> tuple[str, str]:
    """Where the inflow is assumed nothing is called good or doubtful by it; what is bad even so stays bad."""
    if worked.inflow.mean_m3_s.origin != ASSUMED:
        return level, sentence
    doubt = f"The inflow is assumed: {NOT_TIMED}"
    return (level if level == BAD else UNKNOWN), f"{sentence} {doubt}"


def reserve_result(worked: Workings, say: Wording) -> SystemResult:
    """How long the battery carries the design inflow, against ordinary and storm power cuts."""
    reserve = worked.reserve
    if reserve is None:
        sentence = f"How long a battery would last is not known. {worked.reserve_trouble}"
        return SystemResult(code="reserve", level=UNKNOWN, sentence=sentence)
    ordinary, storm = outages_h(worked)
    where = "here" if worked.facts.climate else "in the country"
    level = GOOD if reserve.hours >= storm.value else WATCH if reserve.hours >= ordinary.value else BAD
    sentence = (
        f"The battery carries the design inflow of {say.flow(worked.inflow.design_m3_s.value)} for about "
        f"{hours(reserve.hours)}; storm power cuts {where} have averaged {hours(storm.value)}, "
        f"ordinary ones {hours(ordinary.value)}."
    )
    if reserve.duty >= 1.0:
        level = BAD
        sentence = (
            "The standby pump can't keep up with the design inflow of "
            f"{say.flow(worked.inflow.design_m3_s.value)}; running all the time, the battery lasts about "
            f"{hours(reserve.full_load_hours)}."
        )
    level, sentence = _with_doubt(worked, level, sentence)
    return SystemResult(
        code="reserve",
        level=level,
        sentence=sentence,
        inputs=_inputs(worked, reserve, say),
        steps=(*design_steps(worked, say), *_reserve_steps(worked, reserve)),
        cautions=say.sentences((*reserve.cautions, *worked.inflow.cautions)),
    )


def _inputs(worked: Workings, reserve: Reserve, say: Wording) -> tuple[Input, ...]:
    battery = worked.facts.batteries[0]
    ordinary, storm = outages_h(worked)
    capacity = battery.capacity_ah or Given(value=reserve.capacity_ah, unit="Ah", origin=ON_RECORD)
    return (
        *inflow_inputs(worked, say),
        entry("Design inflow", worked.inflow.design_m3_s, say),
        entry(
            "Rated capacity", capacity, say, word=f"{number(reserve.capacity_ah)} Ah over {number(reserve.rate_h)} h"
        ),
        entry("Part of the rating that is there", reserve.health, say, word=f"{reserve.health.value:.0%}"),
        entry("Current of the standby pump", reserve.current_a, say),
        entry("Voltage under load", reserve.loaded_v, say),
        entry("Basement's temperature", reserve.temperature_c, say),
        entry("Ordinary power cut", ordinary, say),
        entry("Storm's power cut", storm, say),
    )


def _flow_steps(worked: Workings, standby: PumpWorking, volts: float, say: Wording) -> tuple[Step, ...]:
    flow, head = standby.now_flow_m3_s, standby.now_head_m
    if not flow or head is None:
        return ()
    speed = step(
        "Speed of the standby pump on the battery",
        "r = volts under load ÷ volts of the curve; flow · r, head · r²",
        f"{number(volts)} ÷ {number(volts / standby.speed_ratio)}",
        number(standby.speed_ratio),
    )
    named = f"Where the standby pump works now: {say.flow(flow)} ({number(flow, 5)} m³/s)"
    return speed, head_step(named, worked, flow, head, say)


def design_steps(worked: Workings, say: Wording) -> tuple[Step, ...]:
    """How the design inflow follows from the mean."""
    inflow = worked.inflow
    mean, wettest = inflow.mean_m3_s.value, inflow.wettest_m3_s
    times = wettest / mean if mean > 0 else 0.0
    return (
        *inflow_steps(worked, say),
        step(
            "Inflow of the wettest month",
            "mean · the wettest month's share of an even one",
            f"{number(mean, 5)} · {number(times)}",
            f"{number(wettest, 5)} m³/s ({say.flow(wettest)})",
        ),
        step(
            "Design inflow",
            "2 · the wettest month's, or the largest timed",
            f"2 · {number(wettest, 5)}",
            f"{number(inflow.design_m3_s.value, 5)} m³/s ({say.flow(inflow.design_m3_s.value)})",
        ),
    )


def _reserve_steps(worked: Workings, reserve: Reserve) -> tuple[Step, ...]:
    cold = float(capacity_factor(reserve.temperature_c.value))
    x = number(reserve.temperature_c.value / 100.0, 5)
    available = reserve.capacity_ah * reserve.health.value * cold
    flow = reserve.duty and worked.inflow.design_m3_s.value / reserve.duty
    return (
        step(
            "Part of the capacity that the cold leaves",
            "0.99952 ÷ (−2.8117 · x³ + 4.1916 · x² − 2.4941 · x + 1.405), x = T ÷ 100 °C",
            f"0.99952 ÷ (−2.8117 · {x}³ + 4.1916 · {x}² − 2.4941 · {x} + 1.405)",
            number(cold),
        ),
        step(
            "Capacity that is there",
            "rated · part that is there · part in the cold",
            f"{number(reserve.capacity_ah)} · {number(reserve.health.value)} · {number(cold)}",
            f"{number(available)} Ah",
        ),
        step(
            "Running all the time (Peukert)",
            "t = H · (C ÷ (I · H))^k",
            f"{number(reserve.rate_h)} · ({number(available)} ÷ ({number(reserve.current_a.value)} · "
            f"{number(reserve.rate_h)}))^{number(reserve.peukert)}",
            f"{number(reserve.full_load_hours)} h",
        ),
        step(
            "Part of the time it runs",
            "design inflow ÷ flow of the standby pump, at most 1",
            f"{number(worked.inflow.design_m3_s.value, 5)} ÷ {number(flow, 5)}" if flow else "no inflow",
            number(reserve.duty),
        ),
        step(
            "Reserve",
            "running all the time ÷ part of the time",
            f"{number(reserve.full_load_hours)} ÷ {number(reserve.duty)}",
            f"{number(reserve.hours)} h" if reserve.duty else "any number of hours",
        ),
    )
