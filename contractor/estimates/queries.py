"""Reads about estimates, and the section drawing's parts with everything that is known of them."""

from collections import defaultdict
from dataclasses import replace
from datetime import date

from django.db.models import Max, Prefetch, QuerySet

from contractor.checkups.models import Answer, Finding
from contractor.checkups.queries import component_conditions
from contractor.checkups.queries import drawn_parts as found_parts
from contractor.estimates import rules
from contractor.estimates.models import LifeEstimate
from contractor.properties.models import Ownership
from contractor.systems.drawing import DrawnPart
from contractor.systems.models import Component, System

WORD_OF_SEVERITY = {"watch": "watch", "bad": "bad", "urgent": "bad"}
WEAK_WORDS = frozenset(WORD_OF_SEVERITY.values())


def parts_in_use(*, system: System, on: date) -> dict[int, rules.PartInUse]:
    """The batteries and pumps of a system as the rule wants them, by component id."""
    components = Component.objects.in_place(on).filter(system=system, part_kind__in=rules.estimated_kinds())
    conditions = component_conditions(system=system, on=on)
    found_on = _days_found({pk: word for pk, (word, _) in conditions.items() if word in WEAK_WORDS}, on)
    parts: dict[int, rules.PartInUse] = {}
    for component in components.select_related("model"):
        word, sentence = conditions.get(component.pk, ("unknown", ""))
        found = None
        if component.pk in found_on:
            found = rules.Found(condition=word, sentence=sentence, on=found_on[component.pk])
        parts[component.pk] = rules.PartInUse(
            part_kind=component.part_kind,
            word=component.kind.word,
            installed_on=component.in_on,
            declared_years=rules.declared_years(component.declared),
            found=found,
        )
    return parts


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


def estimates_of(*, system: System) -> list[LifeEstimate]:
    """The stored estimates of a system, the most pressing first."""
    return list(
        LifeEstimate.objects.filter(component__system=system).select_related("component__model", "component__system")
    )


def to_replace(*, by: date) -> QuerySet[LifeEstimate]:
    """Batteries and pumps whose date falls on or before a day, the most pressing first, with house and owner."""
    return (
        LifeEstimate.objects.filter(replace_by__lte=by, component__out_on__isnull=True)
        .select_related("component__model", "component__system__property")
        .prefetch_related(
            Prefetch(
                "component__system__property__ownerships",
                queryset=Ownership.objects.open_ended().select_related("person"),
                to_attr="present_ownerships",
            )
        )
        .order_by("replace_by", "pk")
    )


def drawn_parts(*, system: System, on: date) -> tuple[DrawnPart, ...]:
    """The parts of the section drawing: as found, or "watch" where the replace-by date has come."""
    due = {
        str(estimate.component_id): estimate
        for estimate in LifeEstimate.objects.filter(component__system=system, replace_by__lte=on)
    }
    return tuple(
        replace(part, condition="watch", note=f"Past its replace-by date, {_words(due[part.key].replace_by)}")
        if part.key in due and part.condition in {"good", "unknown"}
        else part
        for part in found_parts(system=system, on=on)
    )


def _words(on: date) -> str:
    return f"{on:%B} {on.day}, {on.year}"
