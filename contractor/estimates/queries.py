"""Reads about estimates, and the section drawing's parts with everything that is known of them."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import replace
from datetime import date

from django.db.models import Prefetch, QuerySet

from contractor.checkups.lines import units_in_use
from contractor.checkups.queries import drawn_parts as found_parts
from contractor.estimates.known_facts import facts_of
from contractor.estimates.models import LifeEstimate, SystemEstimate
from contractor.estimates.rules.fleet import estimate_fleet
from contractor.estimates.stored_rows import Content, digest, life_content, stored_content, system_content
from contractor.properties.models import Ownership
from contractor.systems.drawing import DrawnPart
from contractor.systems.models import System

__all__ = ["drawn_parts", "estimates_of", "facts_of", "to_replace", "wrong_estimates"]


def estimates_of(*, system: System) -> list[LifeEstimate]:
    """The stored estimates of a system, the most pressing first."""
    return list(
        LifeEstimate.objects.filter(component__system=system).select_related("component__model", "component__system")
    )


def to_replace(*, by: date) -> QuerySet[LifeEstimate]:
    """Batteries and pumps whose date falls on or before a day, with house and owner.

    The most pressing first: by the probability of a failure before the next check-up times what would be lost then.
    """
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
        .order_by("-urgency", "replace_by", "pk")
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


def wrong_estimates(*, after: int = 0, most: int = 500) -> tuple[list[str], int | None]:
    """Compares the stored estimates of a chunk of systems with new ones of the day on which they were made last.

    Returns a sentence for each difference, and the id to go on after (None at the end).
    """
    ids = list(System.objects.filter(pk__gt=after).order_by("pk").values_list("pk", flat=True)[:most])
    parts: dict[int, list[LifeEstimate]] = defaultdict(list)
    for row in LifeEstimate.objects.filter(component__system__in=ids).select_related("component"):
        parts[row.component.system_id].append(row)
    whole = {row.system_id: row for row in SystemEstimate.objects.filter(system__in=ids)}
    problems = [f"System {system_id}: no estimate is stored." for system_id in ids if system_id not in whole]
    made_on: dict[date, list[int]] = defaultdict(list)
    for system_id, row_of_system in whole.items():
        # What a later renewal left as it was, it had found right: the latest day holds for all of a system's rows.
        made_on[max([row_of_system.made_on, *(row.made_on for row in parts[system_id])])].append(system_id)
    for on, system_ids in made_on.items():
        problems += _differences(system_ids, parts, whole, on)
    return problems, ids[-1] if len(ids) == most else None


def _differences(
    system_ids: list[int], parts: dict[int, list[LifeEstimate]], whole: dict[int, SystemEstimate], on: date
) -> Iterable[str]:
    facts = facts_of(system_ids, on=on)
    for made in estimate_fleet(list(facts.values()), on=on, units=units_in_use()):
        name = f"System {made.system_id}"
        if not _says(whole[made.system_id], system_content(made)):
            yield f"{name}: the stored estimate of the whole system is not the one computed again."
        wanted = {part.component_id: life_content(part) for part in made.parts}
        for row in parts[made.system_id]:
            content = wanted.pop(row.component_id, None)
            if content is None:
                yield f"{name}, component {row.component_id}: an estimate is stored for a part that is not in place."
            elif not _says(row, content):
                yield f"{name}, component {row.component_id}: the stored estimate is not the one computed again."
        for component_id in wanted:
            yield f"{name}, component {component_id}: no estimate is stored."


def _says(row: LifeEstimate | SystemEstimate, content: Content) -> bool:
    return stored_content(row) == content and row.inputs_sha256 == digest(content)


def _words(on: date) -> str:
    return f"{on:%B} {on.day}, {on.year}"
