"""Writes of the stored estimates, what they ask of visits, and the climate that they reckon with."""

import logging
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from datetime import date, datetime

from django.db import transaction

from contractor.celery import start_after_commit
from contractor.checkups.lines import units_in_use
from contractor.core import audit
from contractor.core.audit import Actor
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
from contractor.visits.actions.keeping import Wanted, asked_on, is_given, keep_asking, stop_asking
from contractor.visits.models import Request, VisitKind
from contractor.visits.queries import raised_before
from contractor.visits.skills import BY_PART_KIND
from contractor.visits.wishes import SWAP_MINUTES, days_for_part, is_to_replace

logger = logging.getLogger(__name__)
# The occasion of a visit that replaces a part: this, and the part's number.
REPLACE = "replace:"
# Systems renewed at once: one pass through arrays and a handful of queries for all of them.
BATCH = 1000


def refresh_estimates(*, system_id: int, on: date, at: datetime) -> list[LifeEstimate]:
    """Computes the estimates of a system and its batteries and pumps anew; writes only what has changed.

    Parts that won't last until a year after an open check-up visit ask for a visit, which goes along with it where the
    days meet. Raises System.DoesNotExist.
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
    ask_for_replacements(facts, estimates, on=on, at=at)
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


def ask_for_replacements(
    facts: Mapping[int, SystemFacts], estimates: Sequence[Estimates], *, on: date, at: datetime
) -> None:
    """Keeps the visits true that batteries and pumps ask for: one for each part that won't last, with the part to bring
    along; taken back once the part is out of the house or lasts longer after all.

    It goes along with the check-up where the days meet (``visits.trips``). What is given to somebody already stays.
    """
    raised = raised_before(prefix=REPLACE, systems=list(facts))
    checkup_on: dict[int, date] = {}
    checkups = Request.objects.wanting().filter(system__in=list(facts), kind=VisitKind.CHECKUP)
    for system_id, target_on in checkups.order_by("-target_on", "-pk").values_list("system", "target_on"):
        checkup_on[system_id] = target_on
    for one in estimates:
        named = _named(facts[one.system_id])
        for part in one.parts:
            occasion = f"{REPLACE}{part.component_id}"
            earlier = raised.pop(occasion, [])
            if is_to_replace(part.replace_by, checkup_on=checkup_on.get(one.system_id), on=on) or is_given(earlier):
                kind, words = named[part.component_id]
                asked = asked_on(earlier, on=on)
                wanted = _replacement(one.system_id, occasion, kind, words, part.replace_by, asked, on)
                keep_asking(wanted=wanted, earlier=earlier, on=on, at=at)
            elif earlier:
                stop_asking(earlier=earlier, because="it lasts longer than was reckoned before.", on=on, at=at)
    for earlier in raised.values():
        stop_asking(earlier=earlier, because="the part was replaced or taken out.", on=on, at=at)


def _replacement(
    system_id: int, occasion: str, kind: str, words: str, replace_by: date, asked: date, on: date
) -> Wanted:
    days = days_for_part(replace_by, asked_on=asked)
    return Wanted(
        occasion=occasion,
        system_id=system_id,
        kind=VisitKind.REPAIR,
        earliest_on=days.earliest_on,
        target_on=days.target_on,
        latest_on=days.latest_on,
        minutes=SWAP_MINUTES[kind],
        minutes_because="The usual minutes for swapping this part.",
        reason=_why_replace(words.partition(" (")[0], replace_by, on),
        carry=words,
        skills=(BY_PART_KIND[kind],),
    )


def _why_replace(part: str, replace_by: date, on: date) -> str:
    day = f"{replace_by:%B} {replace_by.day}, {replace_by.year}"
    if replace_by < on:
        return f"The {part} should have been replaced by {day}; it may fail any day."
    return f"The {part} should be replaced by {day}, before it fails."


def _named(facts: SystemFacts) -> dict[int, tuple[str, str]]:
    """Kind and words of each part by its component."""
    parts = [(one.component_id, "battery", one.word, one.model) for one in facts.batteries]
    parts += [(one.component_id, one.part_kind, one.word, one.model) for one in facts.pumps]
    return {component: (kind, f"{word} ({model or 'model not known'})") for component, kind, word, model in parts}


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
