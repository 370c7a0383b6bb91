"""Writes about claims: report, decide, withdraw."""

from collections.abc import Sequence
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.db import transaction

from contractor.accounts.models import User
from contractor.core import audit, clock
from contractor.core.audit import Actor
from contractor.systems.models import Component
from contractor.warranties.actions.claim_letters import issue_letter
from contractor.warranties.actions.claim_messages import tell_decided
from contractor.warranties.actions.claim_photos import keep_photos
from contractor.warranties.actions.claim_visits import withdraw_visits
from contractor.warranties.claim_errors import RecordWaits
from contractor.warranties.claim_record import rests_on_gap, waiting_records, worked_out
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
from contractor.warranties.rules.claims import Decision, Judgement, Outcome
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
    record_claim(claim, verb="claim reported", by=by, at=at, after=kept_in_trail(claim))
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
    """Decides a claim from the record and keeps the arithmetic with the facts that it rests on.

    The owner gets a letter, and a message that it is there. ``component_id`` and ``cause`` correct what was reported,
    once somebody has looked. Raises ClaimSettled, NotOfThisSystem, RecordWaits while a record that may close a gap is
    undecided, or QuestionOpen when a person has to answer something first.
    """
    claim = locked_claim(claim_id)
    if claim.state != Claim.State.REPORTED:
        raise ClaimSettled
    before = kept_in_trail(claim)
    decision = weigh(claim, cost=cost, judgement=judgement, component_id=component_id, cause=cause)
    hold(claim, decision, judgement)
    claim.state, claim.decided_at, claim.decided_by = Claim.State.DECIDED, at, by_user
    claim.save()
    after = {**kept_in_trail(claim), "decision_sha256": freeze(claim.decision or {}).sha256}
    record_claim(claim, verb="claim decided", by=by_user.actor, at=at, before=before, after=after)
    letter = issue_letter(claim=claim, decision=decision, judgement=judgement, by_user=by_user, at=at)
    tell_decided(claim, letter, by=by_user.actor, at=at)
    return claim


@transaction.atomic
def withdraw_claim(*, claim_id: int, because: str, by: Actor, at: datetime) -> Claim:
    """Takes a claim back that is not decided yet, with its visits. Raises ClaimSettled or ReasonNeeded."""
    claim = locked_claim(claim_id)
    if claim.state != Claim.State.REPORTED:
        raise ClaimSettled
    if not because.strip():
        raise ReasonNeeded
    before = kept_in_trail(claim)
    claim.state, claim.withdrawn_at, claim.withdrawn_because = Claim.State.WITHDRAWN, at, because.strip()
    claim.save()
    record_claim(claim, verb="claim withdrawn", by=by, at=at, before=before, after=kept_in_trail(claim))
    withdraw_visits(claim, because=because, by=by, at=at)
    return claim


def locked_claim(claim_id: int) -> Claim:
    """The claim with its row locked, and what a decision reads of it."""
    claims = Claim.objects.select_for_update(of=("self",)).select_related(
        "warranty__terms", "warranty__system__property", "component__model", "decided_by"
    )
    return claims.get(pk=claim_id)


def weigh(
    claim: Claim, *, cost: Decimal, judgement: Judgement | None, component_id: int | None, cause: str | None
) -> Decision:
    """What the record and the terms lead to, with part and cause corrected; part of a transaction that decides.

    Raises NotOfThisSystem, RecordWaits or QuestionOpen.
    """
    if component_id is not None:
        claim.component = _component(claim.warranty, claim.part_kind, component_id)
    if cause is not None:
        claim.cause = cause.strip()
    claim.cost = cost
    decision = worked_out(claim, cost=cost, judgement=judgement)
    waits = waiting_records(claim)
    if waits and rests_on_gap(claim, decision):
        raise RecordWaits(waits[0].provider, waits[0].done_on)
    if decision.outcome is Outcome.NEEDS_JUDGEMENT:
        raise QuestionOpen(decision.question)
    return decision


def hold(claim: Claim, decision: Decision, judgement: Judgement | None) -> None:
    """Makes a decision the one that holds, with the facts that it rests on."""
    facts = facts_to_data(facts_of(claim.warranty))
    claim.decision = {
        **to_data(decision),
        "edition": claim.warranty.terms.edition,
        "facts": facts,
        "facts_sha256": freeze(facts).sha256,
    }
    claim.judgement = to_data(judgement) if judgement is not None else None
    claim.outcome = decision.outcome.value
    claim.owner_pays, claim.contractor_pays = decision.owner_pays, decision.contractor_pays


def _component(warranty: Warranty, part_kind: str, component_id: int | None) -> Component | None:
    if component_id is None:
        return None
    component = Component.objects.filter(pk=component_id, system_id=warranty.system_id, part_kind=part_kind).first()
    if component is None:
        raise NotOfThisSystem
    return component


def kept_in_trail(claim: Claim) -> dict[str, Any]:
    """What of a claim the trail keeps."""
    return {name: value for name, value in audit.snapshot(claim).items() if name not in NOT_IN_TRAIL}


def record_claim(claim: Claim, **entry: Any) -> None:
    """An entry about a claim in the trail of its house."""
    audit.record(subject=claim, property_id=claim.warranty.system.property_id, **entry)
