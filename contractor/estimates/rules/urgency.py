"""How pressing a replacement is: the probability of a failure before the next check-up, and what would be lost then."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from math import log
from typing import Final

from contractor.engineering.outlook import years_between
from contractor.engineering.pump_life import failure_probability
from contractor.estimates.rules.facts import BATTERY, PRIMARY, STANDBY, SystemFacts, next_checkup_on
from contractor.estimates.rules.found import FOUND_WEAK
from contractor.estimates.rules.results import BAD, GOOD, UNKNOWN, WATCH, Dated, PartEstimate, Step, SystemResult
from contractor.estimates.rules.wording import Wording, hours, number, step, words
from contractor.estimates.rules.workings import Workings

# What failed a test hardly lasts till the next visit; what was found weak fails as likely as not. Common practice.
AFTER_FAILED_TEST: Final = 0.95
LEAST_WHEN_WEAK: Final = 0.50
# A date so near the day it went in would make the scale vanish.
_LEAST_LIFE_YEARS: Final = 0.05
FINISHED_UNKNOWN: Final = "Whether the basement is finished is not on record."


@dataclass(frozen=True, slots=True, kw_only=True)
class _Chance:
    """The probability of one part and how it was found."""

    probability: float
    step: Step


def with_urgency(
    parts: Sequence[Dated], worked: Workings, results: Sequence[SystemResult], say: Wording
) -> tuple[PartEstimate, ...]:
    """The parts of one system with probability, consequence and their product."""
    until = next_checkup_on(worked.facts, on=worked.on)
    chances = [chance(part, on=worked.on, until=until) for part in parts]
    primary = worked.facts.primary
    primary_is_due = any(
        primary is not None and part.component_id == primary.component_id and part.replace_by <= until for part in parts
    )
    estimates = []
    for part, found in zip(parts, chances, strict=True):
        weight, because = consequence(part.component_id, worked, results, primary_is_due=primary_is_due)
        estimates.append(
            PartEstimate(
                component_id=part.component_id,
                replace_by=part.replace_by,
                earliest=part.earliest,
                latest=part.latest,
                governing=part.governing,
                reason=part.reason,
                inputs=part.inputs,
                steps=(*part.steps, found.step),
                cautions=part.cautions,
                probability=found.probability,
                consequence=weight,
                consequence_reason=because,
                urgency=round(found.probability * weight, 4),
            )
        )
    return tuple(estimates)


def chance(part: Dated, *, on: date, until: date) -> _Chance:
    """The probability that a part which works on one day has failed by another.

    Conditional Weibull: half of such parts have failed on the replace-by date, whatever sets it.
    """
    name = f"Probability of a failure before the next check-up, {words(until)}"
    if part.has_failed:
        given = step(name, "near certain, because a test has found it at its end", "common practice, no source", "95 %")
        return _Chance(probability=AFTER_FAILED_TEST, step=given)
    age, horizon = years_between(part.installed_on, on), years_between(on, until)
    life = max(years_between(part.installed_on, part.replace_by), _LEAST_LIFE_YEARS)
    scale = life / log(2.0) ** (1.0 / part.shape)
    found = round(failure_probability(age, horizon, part.shape, scale), 4)
    shape, size = number(part.shape), number(scale)
    line = step(
        name,
        "P = 1 − e^((a ÷ η)^β − ((a + Δ) ÷ η)^β) with η = life to the replace-by date ÷ (ln 2)^(1/β)",
        f"1 − e^(({number(age)} ÷ {size})^{shape} − (({number(age)} + {number(horizon)}) ÷ {size})^{shape}), "
        f"η = {number(life)} ÷ 0.69315^(1/{shape})",
        f"{found:.1%}",
    )
    if part.governing == FOUND_WEAK and found < LEAST_WHEN_WEAK:
        weak = step(name, "found weak: at least even odds (common practice)", f"more than {found:.1%}", "50 %")
        return _Chance(probability=LEAST_WHEN_WEAK, step=weak)
    return _Chance(probability=found, step=line)


def consequence(
    component_id: int, worked: Workings, results: Sequence[SystemResult], *, primary_is_due: bool
) -> tuple[int, str]:
    """How much would be lost if this part failed now, from 1 to 5, and why in a sentence."""
    facts = worked.facts
    kind = _kind(facts, component_id)
    weight, because = {PRIMARY: _of_primary, STANDBY: _of_standby, BATTERY: _of_battery}[kind](
        facts, worked, results, primary_is_due
    )
    return weight, f"{because} {FINISHED_UNKNOWN}"


def _kind(facts: SystemFacts, component_id: int) -> str:
    for pump in facts.pumps:
        if pump.component_id == component_id:
            return pump.part_kind
    return BATTERY


def _of_primary(
    facts: SystemFacts, worked: Workings, results: Sequence[SystemResult], primary_is_due: bool
) -> tuple[int, str]:
    if sum(pump.part_kind == PRIMARY for pump in facts.pumps) > 1:
        return 2, "Another mains pump stands in the house."
    if facts.standby is None:
        return 5, "Nothing else lifts the water: no standby pump is on record."
    level = next((result.level for result in results if result.code == "standby"), UNKNOWN)
    lasts = hours(worked.reserve.hours) if worked.reserve else ""
    if level == GOOD:
        return 2, f"The standby pump would take over, for about {lasts} of a storm."
    if level == WATCH:
        return 3, f"The standby pump would take over, but only for about {lasts} of a storm."
    if level == BAD:
        return 5, "The standby pump would not keep up with a storm."
    return 4, "Whether the standby pump would keep up is not known."


def _of_standby(
    facts: SystemFacts, worked: Workings, results: Sequence[SystemResult], primary_is_due: bool
) -> tuple[int, str]:
    if sum(pump.part_kind == STANDBY for pump in facts.pumps) > 1:
        return 2, "Another standby pump stands in the house."
    if primary_is_due:
        return 5, "The primary pump is due itself, so the house relies on the standby pump."
    return 4, "In a power cut nothing else lifts the water."


def _of_battery(
    facts: SystemFacts, worked: Workings, results: Sequence[SystemResult], primary_is_due: bool
) -> tuple[int, str]:
    if facts.standby is None:
        return 1, "No standby pump is on record that this battery would run."
    if len(facts.batteries) > 1:
        return 2, "Another battery shares the load."
    if primary_is_due:
        return 5, "The primary pump is due itself, so the house relies on the battery."
    return 4, "In a power cut nothing else runs the standby pump."
