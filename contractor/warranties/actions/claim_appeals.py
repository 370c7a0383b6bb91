"""Writes about appeals: one comes in, and somebody else decides it.

The appeal belongs to whoever owned the house when the loss was reported. After a sale that is still the seller: the
loss and its cost were theirs, so they may appeal within the same days. Their link to the house ended with the sale,
so they write or call and the office records it; the buyer neither sees the claim nor may appeal it.
"""

from collections.abc import Sequence
from datetime import date, datetime
from decimal import Decimal

from django.db import transaction

from contractor.accounts.models import User
from contractor.core import audit, clock
from contractor.core.audit import Actor
from contractor.warranties.actions.claim_letters import issue_letter
from contractor.warranties.actions.claim_messages import tell_appeal_decided, tell_appeal_received
from contractor.warranties.actions.claim_photos import keep_photos
from contractor.warranties.actions.claims import hold, kept_in_trail, locked_claim, record_claim, weigh
from contractor.warranties.claim_errors import (
    AppealBeforeDecision,
    AppealThere,
    AppealTooLate,
    AppealWordsNeeded,
    AppealWorse,
    NoAppeal,
    NotDecidedYet,
    SameDecider,
)
from contractor.warranties.claim_tables import ClaimAppeal
from contractor.warranties.errors import DayAhead, ReasonNeeded
from contractor.warranties.frozen_facts import freeze
from contractor.warranties.models import Claim
from contractor.warranties.rules.appeals import is_in_time, last_day_to_appeal, leaves_worse_off
from contractor.warranties.rules.claims import Judgement
from contractor.warranties.sent_photos import SentPhoto


@transaction.atomic
def appeal_claim(
    *,
    claim_id: int,
    way: ClaimAppeal.Way,
    words: str,
    received_on: date,
    by: Actor,
    at: datetime,
    photos: Sequence[SentPhoto] = (),
) -> ClaimAppeal:
    """Takes an appeal in, with the photos sent along; the owner hears that it came and that somebody else decides.

    ``received_on`` is the day on which the letter or the call came, so that what waited at the desk is still in time.
    Raises NotDecidedYet, AppealThere, AppealWordsNeeded, DayAhead, AppealBeforeDecision or AppealTooLate.
    """
    claim = locked_claim(claim_id)
    if claim.state != Claim.State.DECIDED or claim.decided_at is None:
        raise NotDecidedYet
    if ClaimAppeal.objects.filter(claim=claim).exists():
        raise AppealThere
    if not words.strip():
        raise AppealWordsNeeded
    told_on = clock.day_of(claim.decided_at)
    if received_on > clock.day_of(at):
        raise DayAhead("received_on")
    if received_on < told_on:
        raise AppealBeforeDecision(told_on)
    if not is_in_time(told_on=told_on, received_on=received_on):
        raise AppealTooLate(last_day_to_appeal(told_on))
    appeal = ClaimAppeal.objects.create(
        claim=claim, way=way, words=words.strip(), received_on=received_on, made_at=at, made_by=by.ref
    )
    _record(appeal, claim, verb="claim appealed", by=by, at=at)
    keep_photos(claim=claim, photos=photos, by=by, at=at, appeal=appeal)
    tell_appeal_received(claim, appeal, by=by, at=at)
    return appeal


@transaction.atomic
def decide_appeal(
    *,
    claim_id: int,
    cost: Decimal,
    because: str,
    by_user: User,
    at: datetime,
    judgement: Judgement | None = None,
    component_id: int | None = None,
    cause: str | None = None,
) -> ClaimAppeal:
    """Decides an appeal by the same record and rules, by another person; the owner gets the second letter.

    What is decided now holds for the claim; the first decision stays in the first letter. Raises NoAppeal,
    SameDecider, ReasonNeeded, AppealWorse, and what deciding a claim raises.
    """
    claim = locked_claim(claim_id)
    appeal = ClaimAppeal.objects.select_for_update().filter(claim=claim, decided_at__isnull=True).first()
    if appeal is None or claim.decision is None:
        raise NoAppeal
    if claim.decided_by is not None and claim.decided_by_id == by_user.pk:
        raise SameDecider(claim.decided_by.name)
    if not because.strip():
        raise ReasonNeeded
    before = kept_in_trail(claim)
    decision = weigh(claim, cost=cost, judgement=judgement, component_id=component_id, cause=cause)
    first_share = Decimal(claim.decision["contractor_share"])
    if leaves_worse_off(first_share=first_share, second_share=decision.contractor_share):
        raise AppealWorse
    appeal.because = because.strip()
    letter = issue_letter(
        claim=claim, decision=decision, judgement=judgement, by_user=by_user, at=at, appeal=appeal
    )
    hold(claim, decision, judgement)
    claim.save()
    appeal.decision, appeal.judgement, appeal.outcome = claim.decision, claim.judgement, claim.outcome
    appeal.decided_at, appeal.decided_by = at, by_user
    appeal.save()
    after = {**kept_in_trail(claim), "decision_sha256": freeze(claim.decision).sha256}
    record_claim(claim, verb="claim decided again", by=by_user.actor, at=at, before=before, after=after)
    _record(appeal, claim, verb="appeal decided", by=by_user.actor, at=at)
    tell_appeal_decided(claim, letter, by=by_user.actor, at=at)
    return appeal


def _record(appeal: ClaimAppeal, claim: Claim, *, verb: str, by: Actor, at: datetime) -> None:
    kept = {name: value for name, value in audit.snapshot(appeal).items() if name not in {"decision", "judgement"}}
    audit.record(
        subject=appeal, property_id=claim.warranty.system.property_id, verb=verb, by=by, at=at, after=kept
    )
