"""By when a pump should be replaced: its wear, its flow and its age compete; the earliest governs."""

from dataclasses import dataclass
from datetime import date
from math import log

from contractor.engineering.errors import BadInput
from contractor.engineering.outlook import Governing, Outlook, day_after
from contractor.engineering.pump_life import LEAST_FLOW_RATIO, pump_outlook
from contractor.engineering.seasons import season_years
from contractor.estimates.rules import assumed
from contractor.estimates.rules.facts import ASSUMED, PRIMARY, Given, PumpFacts
from contractor.estimates.rules.found import is_at_its_end, with_what_was_found
from contractor.estimates.rules.hydraulics import settled
from contractor.estimates.rules.inflow import counter
from contractor.estimates.rules.pump_steps import (
    EVEN,
    hydraulic_steps,
    pump_inputs,
    trend_steps,
    wear_steps,
    year_steps,
)
from contractor.estimates.rules.results import Dated, Step
from contractor.estimates.rules.wording import Wording, number, plain, step, words
from contractor.estimates.rules.workings import PumpWorking, Workings

# Where the inflow leaves less room the least flow is higher, up to this part of the new flow.
_HIGHEST_LEAST_RATIO = 0.90
COMPUTED = "Run hours and starts are computed from the inflow; no counter of this pump was read."
RESET = "The pump's counter reads less than the year before, so it was reset or misread: its reading is not used."
ASSUMED_INFLOW = (
    "Nobody has timed how fast the water rises, so run hours and starts are not reckoned into the date: time it."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Counts:
    """Running hours and starts since a pump went in, and whether they were read from a counter."""

    run_hours: float | None = None
    starts: float | None = None
    on: date | None = None
    is_counter: bool = False
    cautions: tuple[str, ...] = ()


def pump_estimate(pump: PumpFacts, worked: Workings, say: Wording) -> Dated:
    """The date for one pump of a system, with everything that it was made from."""
    working = worked.of(pump) or PumpWorking(component_id=pump.component_id)
    counts = counts_of(pump, worked)
    years, shape = assumed.expected_years(pump)
    least = least_flow_ratio(working, worked)
    outlook, troubles = _outlook(pump, worked, working, counts, least)
    dated = Dated(
        component_id=pump.component_id,
        installed_on=pump.installed_on,
        replace_by=outlook.replace_by,
        earliest=outlook.earliest,
        latest=outlook.latest,
        governing=outlook.governing.value,
        reason=say.sentence(_reason(outlook, counts)),
        inputs=pump_inputs(pump, worked, working, years, say),
        steps=(
            *hydraulic_steps(pump, worked, working, say),
            *year_steps(pump, worked, working, say),
            *(() if troubles else _measured_steps(pump, worked, working, counts, least)),
            *_age_steps(pump, years, shape),
            _date_step(outlook),
        ),
        cautions=say.sentences((*_cautions(pump, outlook), *working.cautions, *counts.cautions, *troubles)),
        shape=shape,
        has_failed=is_at_its_end(outlook),
    )
    return with_what_was_found(dated, pump.found, word=pump.word)


def _reason(outlook: Outlook, counts: Counts) -> str:
    """The outlook's reason; wear that was reckoned and not counted says so."""
    if counts.is_counter or outlook.governing not in {Governing.STARTS, Governing.RUN_HOURS}:
        return outlook.reason
    return f"Reckoned from the inflow that was measured: {outlook.reason[0].lower()}{outlook.reason[1:]}"


def _cautions(pump: PumpFacts, outlook: Outlook) -> tuple[str, ...]:
    """The outlook's cautions; a standby pump has no counters that could have been read."""
    if pump.part_kind == PRIMARY:
        return outlook.cautions
    return tuple(caution for caution in outlook.cautions if not caution.startswith("No counter of"))


def counts_of(pump: PumpFacts, worked: Workings) -> Counts:
    """Hours and starts as counted; else computed from the inflow that was timed, for the primary pump."""
    hours, starts = counter(pump.run_hours), counter(pump.starts)
    reset = (RESET,) if (pump.run_hours and hours is None) or (pump.starts and starts is None) else ()
    on = max((reading.on for reading in (hours, starts) if reading is not None), default=None)
    if on is not None:
        return Counts(
            run_hours=hours.value if hours and hours.on == on else None,
            starts=starts.value if starts and starts.on == on else None,
            on=on,
            is_counter=True,
            cautions=reset,
        )
    if pump.part_kind != PRIMARY or worked.year is None or pump is not worked.facts.primary:
        return Counts(cautions=reset)
    if worked.inflow.mean_m3_s.origin == ASSUMED:
        return Counts(cautions=(*reset, ASSUMED_INFLOW))
    passed = season_years(pump.installed_on, worked.on, worked.weights or EVEN)
    return Counts(
        run_hours=settled(worked.year.run_hours * passed),
        starts=settled(worked.year.starts * passed),
        on=worked.on,
        cautions=(*reset, COMPUTED),
    )


def least_flow_ratio(working: PumpWorking, worked: Workings) -> float:
    """The part of its new flow at which a pump is replaced: 70 %, or more where the design inflow needs it."""
    if not working.new_flow_m3_s or worked.inflow.mean_m3_s.origin == ASSUMED:
        return LEAST_FLOW_RATIO
    needed = worked.inflow.design_m3_s.value / working.new_flow_m3_s
    return settled(min(max(LEAST_FLOW_RATIO, needed), _HIGHEST_LEAST_RATIO))


def _outlook(
    pump: PumpFacts, worked: Workings, working: PumpWorking, counts: Counts, least: float
) -> tuple[Outlook, tuple[str, ...]]:
    """The outlook from everything known; where some of it can't be used, from age alone, and says so."""
    years, shape = assumed.expected_years(pump)
    expected = None if years.origin == ASSUMED else years.value
    try:
        outlook = pump_outlook(
            installed_on=pump.installed_on,
            on=worked.on,
            run_hours=counts.run_hours,
            starts=counts.starts,
            rated_hours=pump.rated_hours.value if pump.rated_hours else None,
            rated_starts=pump.rated_starts.value if pump.rated_starts else None,
            counted_on=counts.on,
            flow_visits=working.ratios,
            least_flow_ratio=least,
            expected_years=expected,
            shape=shape,
            month_weights=worked.weights,
        )
    except BadInput as trouble:
        outlook = pump_outlook(installed_on=pump.installed_on, on=worked.on, expected_years=expected, shape=shape)
        return outlook, (f"What was measured can't be used, so only its age counts: {plain(trouble)}",)
    return outlook, ()


def _measured_steps(
    pump: PumpFacts, worked: Workings, working: PumpWorking, counts: Counts, least: float
) -> tuple[Step, ...]:
    weights = worked.weights or EVEN
    return (
        *wear_steps(pump, counts.run_hours, counts.starts, counts.on or worked.on, weights),
        *trend_steps(pump, working, least),
    )


def _age_steps(pump: PumpFacts, years: Given[float], shape: float) -> tuple[Step, ...]:
    scale = years.value / log(2.0) ** (1.0 / shape)
    quarter, three = (scale * log(odds) ** (1.0 / shape) for odds in (4.0 / 3.0, 4.0))
    into = words(pump.installed_on)
    return (
        step(
            "Scale of the life (Weibull)",
            "η = median ÷ (ln 2)^(1/β)",
            f"{number(years.value)} ÷ 0.69315^(1/{number(shape)})",
            f"{number(scale)} years",
        ),
        step(
            "Age at which a quarter and three quarters have failed",
            "η · (ln 4/3)^(1/β) and η · (ln 4)^(1/β)",
            f"{number(scale)} · 0.28768^(1/{number(shape)}) and {number(scale)} · 1.38629^(1/{number(shape)})",
            f"{number(quarter)} and {number(three)} years",
        ),
        step(
            "By age",
            "day it went in + median · 365.25 days",
            f"{into} + {number(years.value)} · 365.25 days",
            words(day_after(pump.installed_on, years.value)),
        ),
    )


def _date_step(outlook: Outlook) -> Step:
    return step(
        "The earliest governs",
        "the first of the days by wear, by flow and by age, before the wettest months",
        outlook.governing.value,
        words(outlook.replace_by),
    )
