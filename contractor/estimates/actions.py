"""Writes of the stored estimates, and what they ask of visits."""

import hashlib
import json
import logging
from dataclasses import asdict
from datetime import date, datetime, timedelta

from django.db import transaction

from contractor.core.audit import SYSTEM
from contractor.estimates import queries, rules
from contractor.estimates.models import LifeEstimate
from contractor.systems.models import Component, System
from contractor.visits.actions import note_parts_to_carry
from contractor.visits.models import Request, VisitKind

logger = logging.getLogger(__name__)
# What follows these words on a visit is written by the estimates, and only by them.
DUE = "Due for replacement:"


@transaction.atomic
def refresh_estimates(*, system_id: int, on: date, at: datetime) -> list[LifeEstimate]:
    """Computes the estimates of a system's batteries and pumps anew; writes only what has changed.

    Parts that won't last until a year after an open check-up visit are noted on it, to be carried along.
    """
    # The system's row is locked so that two refreshes of one house don't write over each other.
    system = System.objects.select_for_update().get(pk=system_id)
    parts = queries.parts_in_use(system=system, on=on)
    LifeEstimate.objects.filter(component__system=system).exclude(component_id__in=parts).delete()
    known = {estimate.component_id: estimate for estimate in LifeEstimate.objects.filter(component_id__in=parts)}
    current: list[LifeEstimate] = []
    for component_id, part in parts.items():
        stored = known.get(component_id) or LifeEstimate(component_id=component_id)
        computed = rules.estimate(part)
        digest = digest_of(part, computed)
        if stored.inputs_sha256 != digest:
            _fill(stored, computed, digest, on)
            stored.save()
        current.append(stored)
    _note_what_to_carry(system, current, at)
    return current


def refresh_all_estimates(*, on: date, at: datetime) -> int:
    """Refreshes every system; returns how many.

    One transaction each, so that one bad row stops nothing: it is logged, and the others are renewed.
    """
    count = 0
    for system_id in System.objects.order_by("pk").values_list("pk", flat=True):
        try:
            refresh_estimates(system_id=system_id, on=on, at=at)
        except Exception:
            logger.exception("The estimates of system %s could not be renewed.", system_id)
        else:
            count += 1
    return count


def digest_of(part: rules.PartInUse, computed: rules.Estimate) -> str:
    """The hash of what an estimate was made from and of what the rule makes of it, so a changed rule renews it too."""
    text = json.dumps([asdict(part), asdict(computed)], sort_keys=True, default=str)
    return hashlib.sha256(text.encode()).hexdigest()


def _fill(stored: LifeEstimate, computed: rules.Estimate, digest: str, on: date) -> None:
    stored.replace_by, stored.earliest, stored.latest = computed.replace_by, computed.earliest, computed.latest
    stored.governing, stored.reason = computed.governing, computed.reason
    stored.inputs = [asdict(item) for item in computed.inputs]
    stored.cautions = list(computed.cautions)
    stored.inputs_sha256, stored.made_on = digest, on


def _note_what_to_carry(system: System, estimates: list[LifeEstimate], at: datetime) -> None:
    open_visits = Request.objects.wanting().filter(system=system, kind=VisitKind.CHECKUP)
    for visit in open_visits:
        horizon = visit.target_on + timedelta(days=365)
        due = [estimate.component_id for estimate in estimates if estimate.replace_by <= horizon]
        parts = Component.objects.filter(pk__in=due).select_related("model").order_by("part_kind", "pk")
        named = "; ".join(f"{part.kind.word} ({part.model or 'model not known'})" for part in parts)
        # What the office typed stands before the mark and stays as it is.
        typed = visit.carry.partition(DUE)[0].strip()
        carry = f"{typed} {DUE} {named}" if named else typed
        note_parts_to_carry(request_id=visit.pk, carry=carry, by=SYSTEM, at=at)
