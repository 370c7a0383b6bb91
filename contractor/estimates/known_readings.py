"""What check-ups measured and found, of many systems in a number of queries that doesn't grow with them."""

import warnings
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from django.db.models import Max

from contractor.checkups.models import Answer, Finding
from contractor.checkups.queries import conditions_of
from contractor.engineering.errors import BadInput, Caution
from contractor.engineering.pit import inflow_from_rise_m3_s, pump_flow_from_drawdown_m3_s
from contractor.estimates.rules.facts import Found, PitFacts, Reading
from contractor.systems.models import ComponentQuerySet

WORD_OF_SEVERITY = {"watch": "watch", "bad": "bad", "urgent": "bad"}
WEAK_WORDS = frozenset(WORD_OF_SEVERITY.values())
SECONDS_AN_HOUR = 3600.0

# Series of readings by component (None for the house) and feed.
Series = dict[tuple[int | None, str], tuple[Reading, ...]]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Row:
    """One answer that feeds an estimate."""

    checkup_id: int
    on: date
    component_id: int | None
    feed: str
    formula: str
    kind: str
    number_si: float | None
    seconds: float | None
    verdict: str


def readings_of(system_ids: list[int], pits: Mapping[int, PitFacts], on: date) -> dict[int, Series]:
    """What check-ups measured, by system. The flow of a timed test needs the pit and that visit's inflow."""
    rows: dict[int, list[_Row]] = defaultdict(list)
    answers = (
        Answer.objects.standing()
        .filter(checkup__system__in=system_ids, checkup__finished_at__isnull=False, checkup__done_on__lte=on)
        .exclude(item__feeds="")
        .exclude(verdict="not possible", item__formula="")
        .exclude(condition="not_possible")
        .order_by("checkup__done_on", "checkup_id", "recorded_at")
        .values_list(
            "checkup__system_id",
            "checkup_id",
            "checkup__done_on",
            "component_id",
            "item__feeds",
            "item__formula",
            "item__kind",
            "number_si",
            "seconds",
            "verdict",
        )
    )
    for system_id, checkup_id, done_on, component_id, feed, formula, kind, number_si, seconds, verdict in answers:
        rows[system_id].append(
            _Row(
                checkup_id=checkup_id,
                on=done_on,
                component_id=component_id,
                feed=feed,
                formula=formula,
                kind=kind,
                number_si=number_si,
                seconds=seconds,
                verdict=verdict,
            )
        )
    return defaultdict(dict, {system_id: _series(given, pits[system_id]) for system_id, given in rows.items()})


def _series(rows: list[_Row], pit: PitFacts) -> Series:
    diameter_m = pit.diameter_m.value if pit.diameter_m else None
    inflow_at: dict[int, float] = {}
    for row in rows:
        if row.formula == "pit_rise_inflow":
            value = _flow(row, diameter_m, 0.0)
            if value is not None:
                inflow_at[row.checkup_id] = value
    by_day: dict[tuple[int | None, str], dict[date, Reading]] = defaultdict(dict)
    for row in rows:
        value = _value(row, diameter_m, inflow_at.get(row.checkup_id, 0.0))
        if value is not None:
            good = {"good": True, "watch": False, "bad": False}.get(row.verdict)
            # Where a day has two, the later recorded one stands.
            by_day[row.component_id, row.feed][row.on] = Reading(on=row.on, value=value, good=good)
    return {key: tuple(readings[day] for day in sorted(readings)) for key, readings in by_day.items()}


def _value(row: _Row, diameter_m: float | None, inflow_m3_s: float) -> float | None:
    if row.kind == "check":
        return float(row.verdict == "good")
    if row.kind == "timed_test":
        return _flow(row, diameter_m, inflow_m3_s) if row.formula else row.seconds
    if row.number_si is not None and row.feed == "pump.run_hours":
        return row.number_si / SECONDS_AN_HOUR
    return row.number_si


def _flow(row: _Row, diameter_m: float | None, inflow_m3_s: float) -> float | None:
    """The flow of a timed test in the pit; None where it was timed wrongly or the pit isn't known."""
    if diameter_m is None or row.number_si is None or not row.seconds:
        return None
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", Caution)
        try:
            if row.formula == "pit_rise_inflow":
                return inflow_from_rise_m3_s(diameter_m, row.number_si, row.seconds)
            if row.number_si == 0:  # the level stood still: the pump lifted just what ran in
                return inflow_m3_s
            return pump_flow_from_drawdown_m3_s(diameter_m, row.number_si, row.seconds, inflow_m3_s)
        except BadInput:
            return None


def found_of(parts: ComponentQuerySet, on: date) -> dict[int, Found]:
    """What was found of the parts that are weak or bad."""
    conditions = conditions_of(parts=parts, on=on)
    weak = {pk: (word, sentence) for pk, (word, sentence) in conditions.items() if word in WEAK_WORDS}
    days = _days_found({pk: word for pk, (word, _) in weak.items()}, on)
    return {
        pk: Found(condition=word, sentence=sentence, on=days[pk]) for pk, (word, sentence) in weak.items() if pk in days
    }


def _days_found(words: dict[int, str], on: date) -> dict[int, date]:
    """On which day each weak part was first found so: a later visit that didn't look at it moves nothing.

    The findings that are still open say it; for a weak answer without one, the last check-up that looked at the part.
    """
    days: dict[int, set[date]] = defaultdict(set)
    findings = Finding.objects.still_open().filter(component_id__in=words, raised_at__date__lte=on)
    for component_id, severity, day in findings.values_list("component_id", "severity", "checkup__done_on"):
        if component_id is not None and WORD_OF_SEVERITY[severity] == words[component_id]:
            days[component_id].add(day)
    answers = Answer.objects.standing().filter(
        component_id__in=words, checkup__finished_at__isnull=False, checkup__done_on__lte=on
    )
    last_looked_at = answers.values_list("component_id").annotate(day=Max("checkup__done_on"))
    for component_id, day in last_looked_at:
        if component_id is not None and not days[component_id]:
            days[component_id].add(day)
    return {component_id: min(found) for component_id, found in days.items() if found}
