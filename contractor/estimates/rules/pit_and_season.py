"""How often the pit makes its pump start, and which months of the region suit a check-up."""

from calendar import month_name
from typing import Final

from contractor.engineering.pit import MANY_STARTS_PER_HOUR
from contractor.engineering.seasons import best_checkup_months
from contractor.estimates.rules.facts import ASSUMED, ON_RECORD, ClimateFacts
from contractor.estimates.rules.inflow import weights_of
from contractor.estimates.rules.pump_steps import inflow_inputs, inflow_steps, pit_inputs, storage_step
from contractor.estimates.rules.results import BAD, GOOD, UNKNOWN, WATCH, Input, Step, SystemResult
from contractor.estimates.rules.wording import Wording, number, step
from contractor.estimates.rules.workings import Cycle, PumpWorking, Workings

# Twenty to thirty starts an hour are hard on a small motor and its switch. Common practice, no source.
MANY: Final = 20.0
NO_NORMALS: Final = (
    "The best months for a check-up are not known: enter the region's climate normals, with its rain and temperature."
)
NOT_TIMED: Final = "Time how fast the water rises in the pit at the next check-up."


def pit_cycle_result(worked: Workings, say: Wording) -> SystemResult:
    """How often the primary pump starts in the wettest month, and whether it keeps up with a storm."""
    working, cycle, storm = worked.of(worked.facts.primary), worked.cycle_wettest, worked.cycle_design
    if working is None or cycle is None or storm is None:
        trouble = worked.pit_trouble or worked.line_trouble or "No primary pump is on record."
        sentence = f"How often the pump starts is not known. {trouble}"
        return SystemResult(code="pit_cycle", level=UNKNOWN, sentence=sentence)
    level, sentence = _judged(cycle, storm, working, say)
    if worked.inflow.mean_m3_s.origin == ASSUMED:
        level, sentence = UNKNOWN, f"How often the pump starts is not known. {NOT_TIMED}"
    elif worked.inflow.mean_m3_s.value == 0:
        level, sentence = GOOD, "No water came in when it was timed: the pump hardly starts."
    return SystemResult(
        code="pit_cycle",
        level=level,
        sentence=sentence,
        inputs=(*pit_inputs(worked, say), *inflow_inputs(worked, say)),
        steps=_cycle_steps(worked, working, cycle, say),
        cautions=say.sentences((*worked.inflow.cautions, *working.cautions)),
    )


def _judged(cycle: Cycle, storm: Cycle, working: PumpWorking, say: Wording) -> tuple[str, str]:
    inflow, brings = say.flow(cycle.inflow_m3_s), say.flow(storm.inflow_m3_s)
    moves = say.flow(working.now_flow_m3_s or 0.0)
    if storm.duty >= 1.0:
        return BAD, f"The primary pump moves {moves}, less than the {brings} a storm may bring: the pit would overflow."
    often = f"In the wettest month, at {inflow}, the pump starts about {number(cycle.starts_per_hour, 2)} times an hour"
    if cycle.starts_per_hour > MANY_STARTS_PER_HOUR:
        return BAD, f"{often}: short cycles wear it out. Set the float further apart, and look at the check valve."
    if cycle.starts_per_hour > MANY:
        return WATCH, f"{often}, which is hard on a small motor: look at the float's range and at the check valve."
    return GOOD, f"{often} and runs {cycle.duty:.0%} of the time."


def _cycle_steps(worked: Workings, working: PumpWorking, cycle: Cycle, say: Wording) -> tuple[Step, ...]:
    flow, storage = working.now_flow_m3_s or 0.0, worked.storage_m3 or 0.0
    if not flow or not storage or not cycle.inflow_m3_s or cycle.duty >= 1.0:
        return (storage_step(worked),)
    q, p, v = number(cycle.inflow_m3_s, 5), number(flow, 5), number(storage, 5)
    return (
        storage_step(worked),
        *inflow_steps(worked, say),
        step(
            "Inflow of the wettest month",
            "mean · the wettest month's share of an even one",
            f"{number(worked.inflow.mean_m3_s.value, 5)} · {number(cycle.inflow_m3_s / worked.inflow.mean_m3_s.value)}",
            f"{q} m³/s ({say.flow(cycle.inflow_m3_s)})",
        ),
        step("Filling", "V ÷ Qi", f"{v} ÷ {q}", f"{number(cycle.fill_s)} s"),
        step("Running", "V ÷ (Qp − Qi)", f"{v} ÷ ({p} − {q})", f"{number(cycle.run_s)} s"),
        step(
            "Starts an hour",
            "3600 ÷ (filling + running)",
            f"3600 ÷ ({number(cycle.fill_s)} + {number(cycle.run_s)})",
            number(cycle.starts_per_hour),
        ),
    )


def season_result(worked: Workings, say: Wording) -> SystemResult:
    """The months in which a check-up does most good in this region."""
    climate, weights = worked.facts.climate, worked.weights
    if climate is None or weights is None:
        _, doubts = weights_of(climate)
        sentence = " ".join(doubts) if doubts else NO_NORMALS
        return SystemResult(code="season", level=UNKNOWN, sentence=sentence)
    season = best_checkup_months(weights, climate.temperature_c)
    first, _, last = season.wettest_quarter
    before = [f"{month_name[season.months[0]]}, before the wettest months, {month_name[first]} to {month_name[last]}"]
    if len(season.months) > 1 and season.first_frost_month is not None:
        before.append(f"{month_name[season.months[1]]}, before the frost of {month_name[season.first_frost_month]}")
    return SystemResult(
        code="season",
        level=GOOD,
        sentence=f"Best months for a check-up: {'; or '.join(before)}.",
        inputs=_season_inputs(climate, say),
        steps=(
            step(
                "Each month's part of the year's water, January first",
                "(rain + melted snow − evaporation) ÷ sum of the year, nothing below 0",
                f"rain and temperature of {climate.name}",
                ", ".join(f"{weight:.1%}" for weight in weights),
            ),
        ),
        cautions=say.sentences((*season.cautions, *weights_of(climate)[1])),
    )


def _season_inputs(climate: ClimateFacts, say: Wording) -> tuple[Input, ...]:
    rain = ", ".join(say.size(month / 1000.0) for month in climate.rain_mm)
    temperature = ", ".join(say.temperature(month) for month in climate.temperature_c)
    return tuple(
        Input(name=name, value=value, unit="", origin=ON_RECORD, note=f"{climate.name}: {climate.source}")
        for name, value in (("Rain of each month", rain), ("Mean temperature of each month", temperature))
    )
