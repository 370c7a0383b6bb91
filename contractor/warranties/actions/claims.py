"""Writes about claims: report, decide, withdraw."""

from collections.abc import Sequence
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.db import transaction

from contractor.accounts.models import User
from contractor.core import audit, clock
from contractor.core.audit import Actor
from contractor.notices.actions import queue_notice
from contractor.properties.models import Ownership
from contractor.systems.models import Component
from contractor.warranties.actions.claim_photos import keep_photos
from contractor.warranties.claim_record import worked_out
from contractor.warranties.errors import (
    ClaimSettled,
    DayAhead,
    NotOfThisSystem,
    QuestionOpen,
    ReasonNeeded,
    ReportedBeforeLoss,
)
from contractor.warranties.frozen_facts import freeze
from contractor.warranties.models import Claim, Warranty
from contractor.warranties.queries import facts_of
from contractor.warranties.rules.claims import Judgement, Outcome
from contractor.warranties.rules.plain_data import facts_to_data, to_data
from contractor.warranties.sent_photos import SentPhoto

# Free text and what names people stay beside the trail, in the claim itself.
NOT_IN_TRAIL = {"what", "judgement", "decision"}


@transaction.atomic
def report_claim(
    *,
    warranty_id: int,
    part_kind: str,
    lost_on: date,
    reported_on: date,
    what: str,
    cause: str,
    by: Actor,
    at: datetime,
    component_id: int | None = None,
    cost: Decimal | None = None,
    photos: Sequence[SentPhoto] = (),
) -> Claim:
    """Records what an owner reports, with the photos sent along, each once.

    Raises DayAhead, ReportedBeforeLoss or NotOfThisSystem.
    """
    warranty = Warranty.objects.select_related("system").get(pk=warranty_id)
    if reported_on > clock.day_of(at):
        raise DayAhead("reported_on")
    if reported_on < lost_on:
        raise ReportedBeforeLoss
    claim = Claim(
        warranty=warranty,
        component=_component(warranty, part_kind, component_id),
        part_kind=part_kind,
        lost_on=lost_on,
        reported_on=reported_on,
        what=what.strip(),
        cause=cause.strip(),
        cost=cost,
    )
    claim.save()
    _record(claim, verb="claim reported", by=by, at=at, after=_kept(claim))
    keep_photos(claim=claim, photos=photos, by=by, at=at)
    return claim


@transaction.atomic
def decide_claim(
    *,
    claim_id: int,
    cost: Decimal,
    by_user: User,
    at: datetime,
    judgement: Judgement | None = None,
    component_id: int | None = None,
    cause: str | None = None,
) -> Claim:
    """Decides a claim from the record and keeps the arithmetic with the facts that it rests on; the owner is told.

    ``component_id`` and ``cause`` correct what was reported, once somebody has looked. Raises ClaimSettled,
    NotOfThisSystem, or QuestionOpen when a person has to answer something first.
    """
    claim = (
        Claim.objects.select_for_update(of=("self",))
        .select_related("warranty__terms", "warranty__system__property", "component")
        .get(pk=claim_id)
    )
    if claim.state != Claim.State.REPORTED:
        raise ClaimSettled
    before = _kept(claim)
    if component_id is not None:
        claim.component = _component(claim.warranty, claim.part_kind, component_id)
    if cause is not None:
        claim.cause = cause.strip()
    decision = worked_out(claim, cost=cost, judgement=judgement)
    if decision.outcome is Outcome.NEEDS_JUDGEMENT:
        raise QuestionOpen(decision.question)
    facts = facts_to_data(facts_of(claim.warranty))
    claim.decision = {
        **to_data(decision),
        "edition": claim.warranty.terms.edition,
        "facts": facts,
        "facts_sha256": freeze(facts).sha256,
    }
    claim.judgement = to_data(judgement) if judgement is not None else None
    claim.cost, claim.outcome = cost, decision.outcome.value
    claim.owner_pays, claim.contractor_pays = decision.owner_pays, decision.contractor_pays
    claim.state, claim.decided_at, claim.decided_by = Claim.State.DECIDED, at, by_user
    claim.save()
    after = {**_kept(claim), "decision_sha256": freeze(claim.decision).sha256}
    _record(claim, verb="claim decided", by=by_user.actor, at=at, before=before, after=after)
    _tell_owner(claim, by=by_user.actor, at=at)
    return claim


@transaction.atomic
def withdraw_claim(*, claim_id: int, because: str, by: Actor, at: datetime) -> Claim:
    """Takes a claim back that is not decided yet. Raises ClaimSettled or ReasonNeeded."""
    claim = Claim.objects.select_for_update(of=("self",)).select_related("warranty__system").get(pk=claim_id)
    if claim.state != Claim.State.REPORTED:
        raise ClaimSettled
    if not because.strip():
        raise ReasonNeeded
    before = _kept(claim)
    claim.state = Claim.State.WITHDRAWN
    claim.save()
    after = {**_kept(claim), "because": because.strip()}
    _record(claim, verb="claim withdrawn", by=by, at=at, before=before, after=after)
    return claim


def _component(warranty: Warranty, part_kind: str, component_id: int | None) -> Component | None:
    if component_id is None:
        return None
    component = Component.objects.filter(pk=component_id, system_id=warranty.system_id, part_kind=part_kind).first()
    if component is None:
        raise NotOfThisSystem
    return component


def _kept(claim: Claim) -> dict[str, Any]:
    return {name: value for name, value in audit.snapshot(claim).items() if name not in NOT_IN_TRAIL}


def _record(claim: Claim, **entry: Any) -> None:
    audit.record(subject=claim, property_id=claim.warranty.system.property_id, **entry)


def _tell_owner(claim: Claim, *, by: Actor, at: datetime) -> None:
    """Whoever owned the house when the loss was reported; a later owner has nothing to do with it."""
    house = claim.warranty.system.property
    owner = Ownership.objects.current(claim.reported_on).filter(property=house).select_related("person").first()
    if owner is None:
        return
    queue_notice(
        occasion=f"claim decided:{claim.pk}",
        template="claim_decided",
        person=owner.person,
        property=house,
        context={
            "claim": claim,
            "part": claim.get_part_kind_display(),
            "is_covered": claim.outcome == Outcome.COVERED.value,
            "lines": claim.decision["lines"] if claim.decision else [],
        },
        by=by,
        at=at,
    )
