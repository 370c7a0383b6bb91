"""What the pages of the estimates show, put together from stored estimates, facts and charts."""

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from django.db.models import QuerySet

from contractor.estimates import queries
from contractor.estimates.charts import Chart
from contractor.estimates.models import LifeEstimate, SystemEstimate
from contractor.estimates.pump_chart import Drawn, pump_chart, state
from contractor.estimates.rules.facts import BATTERY, ESTIMATED_KINDS, PRIMARY, STANDBY, SystemFacts
from contractor.estimates.rules.fleet import workings_of
from contractor.estimates.rules.standing_by import outages_h
from contractor.estimates.rules.workings import Workings
from contractor.estimates.system_charts import (
    chart_of_battery,
    chart_of_pit,
    chart_of_pump,
    chart_of_reserve,
    chart_of_reserves,
    chart_of_year,
)
from contractor.estimates.what_if import Question, first_of
from contractor.estimates.what_if_answer import Answer, Compared, answer
from contractor.properties.queries import present_ownership
from contractor.systems.models import System
from contractor.systems.part_kinds import part_kind

KINDS = ESTIMATED_KINDS
# What an owner is told of a what-if; the rest is for the trade.
TOLD_TO_OWNERS = frozenset({"working_point", "reserve", "cover", "replace_primary_pump", "replace_battery", "freeze"})
A_YEAR = timedelta(days=365)
# The order in which one asks, and the words of the headings.
TOPICS = {
    "standby": "Does the standby cover?",
    "reserve": "How long does the battery carry it?",
    "pit_cycle": "How does the pit work?",
    "line_speed": "How fast does the water move in the line?",
    "freeze": "Can the line freeze?",
    "season": "When is a check-up best?",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Topic:
    """One thing computed of the whole system: its heading, the stored result and the charts that go with it."""

    word: str
    result: dict[str, Any]
    charts: tuple[Chart, ...]


def to_replace(*, on: date, kind: str) -> QuerySet[LifeEstimate]:
    """What falls due within a year, the most urgent first; ``kind`` a part kind's code, or "" for all."""
    wanted = queries.to_replace(by=on + A_YEAR)
    return wanted.filter(component__part_kind=kind) if kind else wanted


def facts_now(*, system: System, today: date) -> SystemFacts:
    """What is known of the system today."""
    return queries.facts_of([system.pk], on=today)[system.pk]


def charts_of_part(*, estimate: LifeEstimate, system: System, today: date, units: str) -> list[Chart]:
    """The charts of one battery or pump: capacity and reserve, or the curve in its line."""
    facts = facts_now(system=system, today=today)
    workings = workings_of(facts, on=today)
    if estimate.component.part_kind == BATTERY:
        batteries = [one for one in facts.batteries if one.component_id == estimate.component_id]
        drawn = [chart_of_battery(one, replace_by=estimate.replace_by, today=today) for one in batteries]
        return [chart for chart in (*drawn, chart_of_reserve(workings)) if chart is not None]
    pumps = [one for one in facts.pumps if one.component_id == estimate.component_id]
    return [chart for chart in (chart_of_pump(workings, one, units=units) for one in pumps) if chart is not None]


def topics_of(*, system: System, today: date, units: str) -> list[Topic]:
    """The stored results of a system with their charts, in reading order; none before they were first worked out."""
    stored = SystemEstimate.objects.filter(system=system).first()
    if stored is None:
        return []
    results = {result["code"]: result for result in stored.results}
    workings = workings_of(facts_now(system=system, today=today), on=today)
    return [
        Topic(word=word, result=results[code], charts=_charts_of_topic(code, workings, units))
        for code, word in TOPICS.items()
        if code in results
    ]


def _charts_of_topic(code: str, workings: Workings, units: str) -> tuple[Chart, ...]:
    chart = None
    if code == "reserve":
        chart = chart_of_reserve(workings)
    elif code == "pit_cycle":
        chart = chart_of_pit(workings, units=units)
    elif code == "line_speed" and workings.facts.primary is not None:
        chart = chart_of_pump(workings, workings.facts.primary, units=units)
    elif code == "season":
        chart = chart_of_year(workings)
    return () if chart is None else (chart,)


def storm_h(facts: SystemFacts, *, today: date) -> float:
    """How long a power cut lasts in a storm where the house stands."""
    return outages_h(workings_of(facts, on=today))[1].value


def ask(facts: SystemFacts, question: Question, *, today: date, units: str) -> Answer:
    """The answer to a what-if."""
    return answer(facts, question, on=today, units=units)


def replacements_in_words(question: Question) -> list[str]:
    """What would go in, one sentence each, as it is recommended too."""
    parts = (
        ("primary pump", question.primary),
        ("standby pump", question.standby),
        ("battery", question.battery),
        ("discharge line", question.line),
    )
    return [f"Replace the {word} with a {part.name}." for word, part in parts if part is not None]


def asked_in_words(question: Question) -> list[str]:
    """Everything that is asked, one sentence each."""
    sentences = replacements_in_words(question)
    if question.inflow_times != 1.0:
        sentences.append(f"Suppose {question.inflow_times:g} times as much water comes in as today.")
    return sentences


def charts_of_answer(asked: Answer, *, units: str) -> list[Chart]:
    """The primary pump in its line and the reserve, today and then."""
    charts = []
    drawn = [_state(word, side.workings) for word, side in (("today", asked.today), ("then", asked.then))]
    if drawn[0] is not None and drawn[1] is not None:
        same = (drawn[0].curve, drawn[0].line) == (drawn[1].curve, drawn[1].line)
        now = None if same else drawn[1]
        charts.append(pump_chart(drawn[0], now, system=units, prefix="what-if", title="Primary pump in its line"))
    reserves = chart_of_reserves(asked.today.workings, asked.then.workings, asked.question.outage_h)
    return [*charts, *([reserves] if reserves is not None else [])]


def _state(word: str, workings: Workings) -> Drawn | None:
    working = workings.of(workings.facts.primary)
    if working is None or working.curve_now is None or workings.discharge is None:
        return None
    return state(word, working.curve_now, workings.discharge)


def letter_of(asked: Answer, *, system: System) -> dict[str, Any]:
    """What the recommendation says to the owner: what was found, what is advised, what would change."""
    ownership = present_ownership(property_id=system.property_id)
    question = asked.question
    replaced = [kind for kind, part in ((PRIMARY, question.primary), (STANDBY, question.standby)) if part is not None]
    replaced += [BATTERY] if question.battery is not None else []
    worn = [(kind, first_of(asked.today, kind)) for kind in replaced]
    found = [f"Your {part_kind(kind).word}: {estimate.reason}" for kind, estimate in worn if estimate is not None]
    told = [line for line in asked.lines if line.code in TOLD_TO_OWNERS]
    return {
        "owner": None if ownership is None else ownership.person,
        "found": [*found, asked.today.estimates.result("standby").sentence],
        "advised": replacements_in_words(question),
        "supposed": "" if question.inflow_times == 1.0 else f"{question.inflow_times:g}",
        "lines": [line for line in told if line.today != line.then],
        "means": [line.sentence for line in told if line.code == "cover" or _is_told(line)],
    }


def _is_told(line: Compared) -> bool:
    """Whether the meaning of a line is said to the owner: what changes of the pump's and the battery's work."""
    return line.code in {"working_point", "reserve"} and line.today != line.then
