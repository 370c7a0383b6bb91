"""Writes of the stored estimates, what they ask of visits, and the climate that they reckon with."""

import logging
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from datetime import date, datetime, timedelta

from django.db import transaction

from contractor.celery import start_after_commit
from contractor.checkups.lines import units_in_use
from contractor.core import audit
from contractor.core.audit import SYSTEM, Actor
from contractor.estimates import queries
from contractor.estimates.known_facts import facts_of
from contractor.estimates.known_lives import fits_known_on
from contractor.estimates.models import ClimateNormals, FleetLife, LifeEstimate, SystemEstimate
from contractor.estimates.rules.facts import SystemFacts
from contractor.estimates.rules.fleet import estimate_fleet
from contractor.estimates.rules.normals import Normals, OtherRegion, check_normals
from contractor.estimates.rules.results import Estimates
from contractor.estimates.stored_rows import (
    LIFE_FIELDS,
    SYSTEM_FIELDS,
    digest,
    life_content,
    life_row,
    system_content,
    system_row,
)
from contractor.systems.models import System
from contractor.visits.actions.appointments import note_parts_to_carry
from contractor.visits.models import Request, VisitKind
from contractor.visits.rules import DUE_FOR_REPLACEMENT

logger = logging.getLogger(__name__)
# Systems renewed at once: one pass through arrays and a handful of queries for all of them.
BATCH = 1000


def refresh_estimates(*, system_id: int, on: date, at: datetime) -> list[LifeEstimate]:
    """Computes the estimates of a system and its batteries and pumps anew; writes only what has changed.

    Parts that won't last until a year after an open check-up visit are noted on it, to be carried along. Raises
    System.DoesNotExist.
    """
    if not _renew([system_id], on=on, at=at):
        raise System.DoesNotExist
    return queries.estimates_of(system=System(pk=system_id))


def refresh_all_estimates(*, on: date, at: datetime) -> int:
    """Renews how long the company's own parts last, and with it every system; returns how many systems.

    Many at a time; where that fails each of them by itself, so that one bad row stops nothing: it is logged, and the
    others are renewed.
    """
    try:
        refresh_fleet_lives(on=on)
    except Exception:
        logger.exception("How long the company's own parts last could not be fitted anew: the former fits stay.")
    after, count = 0, 0
    while ids := list(System.objects.filter(pk__gt=after).order_by("pk").values_list("pk", flat=True)[:BATCH]):
        count += _renew_or_each(ids, on=on, at=at)
        after = ids[-1]
    return count


def _renew_or_each(ids: Sequence[int], *, on: date, at: datetime) -> int:
    try:
        return _renew(ids, on=on, at=at)
    except Exception:
        logger.exception("The estimates of systems %s to %s are renewed one by one.", ids[0], ids[-1])
    count = 0
    for system_id in ids:
        try:
            count += _renew([system_id], on=on, at=at)
        except Exception:
            logger.exception("The estimates of system %s could not be renewed.", system_id)
    return count


@transaction.atomic
def _renew(ids: Sequence[int], *, on: date, at: datetime) -> int:
    # The systems' rows are locked before their facts are read: of two renewals at once, the later one reads later
    # facts and so is the one that stays.
    locked = System.objects.select_for_update().filter(pk__in=ids).order_by("pk")
    ids = list(locked.values_list("pk", flat=True))
    facts = facts_of(ids, on=on)
    estimates = estimate_fleet(list(facts.values()), on=on, units=units_in_use())
    _store_parts(ids, estimates, on)
    _store_systems(estimates, on)
    _note_what_to_carry(facts, estimates, at)
    return len(ids)


def _store_parts(ids: Sequence[int], estimates: Sequence[Estimates], on: date) -> None:
    wanted = {part.component_id: life_content(part) for one in estimates for part in one.parts}
    known = dict(
        LifeEstimate.objects.filter(component__system__in=ids).order_by().values_list("component_id", "inputs_sha256")
    )
    gone = [component_id for component_id in known if component_id not in wanted]
    if gone:
        LifeEstimate.objects.filter(component__in=gone).delete()
    changed = [
        life_row(component_id, content, on=on)
        for component_id, content in wanted.items()
        if known.get(component_id) != digest(content)
    ]
    LifeEstimate.objects.bulk_create(
        changed,
        update_conflicts=True,
        unique_fields=["component"],
        update_fields=[*LIFE_FIELDS, "inputs_sha256", "made_on"],
        batch_size=500,
    )


def _store_systems(estimates: Sequence[Estimates], on: date) -> None:
    wanted = {one.system_id: system_content(one) for one in estimates}
    known = dict(
        SystemEstimate.objects.filter(system__in=list(wanted)).order_by().values_list("system_id", "inputs_sha256")
    )
    changed = [
        system_row(system_id, content, on=on)
        for system_id, content in wanted.items()
        if known.get(system_id) != digest(content)
    ]
    SystemEstimate.objects.bulk_create(
        changed,
        update_conflicts=True,
        unique_fields=["system"],
        update_fields=[*SYSTEM_FIELDS, "inputs_sha256", "made_on"],
        batch_size=500,
    )


def _note_what_to_carry(facts: Mapping[int, SystemFacts], estimates: Sequence[Estimates], at: datetime) -> None:
    by_system = {one.system_id: one for one in estimates}
    open_visits = Request.objects.wanting().filter(system__in=list(facts), kind=VisitKind.CHECKUP)
    for visit in open_visits.order_by("pk"):
        horizon = visit.target_on + timedelta(days=365)
        due = [part.component_id for part in by_system[visit.system_id].parts if part.replace_by <= horizon]
        named = "; ".join(_named(facts[visit.system_id], due))
        # What the office typed stands before the mark and stays as it is.
        typed = visit.carry.partition(DUE_FOR_REPLACEMENT)[0].strip()
        carry = f"{typed} {DUE_FOR_REPLACEMENT} {named}".strip() if named else typed
        if carry != visit.carry:
            note_parts_to_carry(request_id=visit.pk, carry=carry, by=SYSTEM, at=at)


def _named(facts: SystemFacts, due: Sequence[int]) -> list[str]:
    parts = [("battery", one.component_id, one.word, one.model) for one in facts.batteries]
    parts += [(one.part_kind, one.component_id, one.word, one.model) for one in facts.pumps]
    return [f"{word} ({model or 'model not known'})" for _, part, word, model in sorted(parts) if part in due]


@transaction.atomic
def refresh_fleet_lives(*, on: date) -> int:
    """Fits anew how long this company's own parts last, as known on the first of the month; returns how many fits.

    Only what has changed is written.
    """
    stored = {(row.part_kind, row.model_id): row for row in FleetLife.objects.select_for_update().order_by("pk")}
    wanted = {(fit.part_kind, fit.model_id): fit for fit in fits_known_on(on=on)}
    for key, row in stored.items():
        if key not in wanted:
            row.delete()
    for key, fit in wanted.items():
        row = stored.get(key) or FleetLife()
        values = {**asdict(fit), "known_on": on.replace(day=1)}
        if any(getattr(row, name) != value for name, value in values.items()):
            for name, value in values.items():
                setattr(row, name, value)
            row.save()
    return len(wanted)


@transaction.atomic
def describe_climate(*, normals: Normals, by: Actor, at: datetime, climate_id: int | None = None) -> ClimateNormals:
    """Records a region's climate, a new one or one that is known, and begins to renew every estimate.

    The same figures again change nothing. Raises ClimateNormals.DoesNotExist, or what ``check_normals`` raises.
    """
    # All regions are locked: that no two speak of the same houses can only be told from all of them together.
    regions = {region.pk: region for region in ClimateNormals.objects.select_for_update().order_by("pk")}
    if climate_id is not None and climate_id not in regions:
        raise ClimateNormals.DoesNotExist
    region = ClimateNormals() if climate_id is None else regions.pop(climate_id)
    check_normals(
        normals,
        [OtherRegion(name=one.name, postcode_prefixes=tuple(one.postcode_prefixes)) for one in regions.values()],
    )
    before = audit.snapshot(region) if region.pk else None
    for name, value in asdict(normals).items():
        setattr(region, name, list(value) if isinstance(value, tuple) else value)
    if before is not None and before == audit.snapshot(region):
        return region
    region.save()
    audit.record(
        by=by,
        at=at,
        verb="climate described",
        subject=region,
        property_id=None,
        before=before,
        after=audit.snapshot(region),
    )
    start_after_commit("contractor.estimates.tasks.refresh_all_estimates")
    return region
