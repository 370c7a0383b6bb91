"""Writes about questions that the office asks an owner back before it decides a claim."""

from collections.abc import Sequence
from datetime import datetime

from django.db import transaction

from contractor.accounts.models import User
from contractor.core import audit
from contractor.core.audit import Actor
from contractor.warranties.actions.claim_messages import tell_asked
from contractor.warranties.actions.claim_photos import keep_photos
from contractor.warranties.claim_errors import AlreadyAnswered, AnswerNeeded, QuestionNeeded, QuestionWaits
from contractor.warranties.claim_tables import ClaimQuestion
from contractor.warranties.errors import ClaimSettled
from contractor.warranties.models import Claim
from contractor.warranties.sent_photos import SentPhoto


@transaction.atomic
def ask_owner(*, claim_id: int, words: str, by_user: User, at: datetime) -> ClaimQuestion:
    """Asks the owner something, by message and on their page. One question at a time.

    Raises ClaimSettled, QuestionNeeded or QuestionWaits.
    """
    claim = _locked(claim_id)
    if claim.state != Claim.State.REPORTED:
        raise ClaimSettled
    if not words.strip():
        raise QuestionNeeded
    if claim.questions.filter(answered_at__isnull=True).exists():
        raise QuestionWaits
    question = ClaimQuestion.objects.create(claim=claim, words=words.strip(), asked_at=at, asked_by=by_user)
    _record(question, verb="question asked about a claim", by=by_user.actor, at=at)
    tell_asked(claim, question, by=by_user.actor, at=at)
    return question


@transaction.atomic
def answer_question(
    *, question_id: int, answer: str, by: Actor, at: datetime, photos: Sequence[SentPhoto] = ()
) -> ClaimQuestion:
    """Keeps an answer with the photos sent along: from the owner's page, or written down at the desk.

    Raises ClaimSettled, AlreadyAnswered or AnswerNeeded.
    """
    claim = _locked(ClaimQuestion.objects.get(pk=question_id).claim_id)
    question = ClaimQuestion.objects.select_for_update().get(pk=question_id)
    question.claim = claim
    if question.answered_at is not None:
        raise AlreadyAnswered
    if claim.state != Claim.State.REPORTED:
        raise ClaimSettled
    if not answer.strip():
        raise AnswerNeeded
    question.answer, question.answered_at, question.answered_by = answer.strip(), at, by.ref
    question.save()
    _record(question, verb="question about a claim answered", by=by, at=at)
    keep_photos(claim=claim, photos=photos, by=by, at=at, question=question)
    return question


def _locked(claim_id: int) -> Claim:
    return (
        Claim.objects.select_for_update(of=("self",)).select_related("warranty__system__property").get(pk=claim_id)
    )


def _record(question: ClaimQuestion, *, verb: str, by: Actor, at: datetime) -> None:
    property_id = question.claim.warranty.system.property_id
    audit.record(subject=question, property_id=property_id, verb=verb, by=by, at=at, after=audit.snapshot(question))
