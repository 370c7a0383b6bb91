"""Writes of letters about claims: freeze what the letter says, and keep its file once it is made."""

import hashlib
from datetime import date, datetime

from django.core.files.base import ContentFile
from django.db import transaction
from django.db.models.fields.files import FieldFile

from contractor.accounts.models import User
from contractor.celery import start_after_commit
from contractor.core import audit, clock
from contractor.warranties.claim_errors import LetterLost
from contractor.warranties.claim_letters import letter_facts, letter_pdf
from contractor.warranties.claim_money import Goodwill
from contractor.warranties.claim_tables import ClaimAppeal, ClaimLetter
from contractor.warranties.frozen_facts import freeze
from contractor.warranties.goodwill_letters import goodwill_facts, goodwill_pdf
from contractor.warranties.models import Claim
from contractor.warranties.rules.appeals import last_day_to_appeal
from contractor.warranties.rules.claims import Decision, Judgement


def issue_letter(
    *,
    claim: Claim,
    decision: Decision,
    judgement: Judgement | None,
    by_user: User,
    at: datetime,
    appeal: ClaimAppeal | None = None,
) -> ClaimLetter:
    """Freezes what the owner is told; part of the transaction that decides the claim or its appeal.

    For an appeal the claim still says what was decided first.
    """
    appeal_by = last_day_to_appeal(clock.day_of(at)) if appeal is None else None
    facts = letter_facts(
        claim, decision, judgement, decided_by=by_user.name, at=at, appeal_by=appeal_by, appeal=appeal
    )
    return _issued(ClaimLetter(claim=claim, appeal=appeal, facts=facts, appeal_by=appeal_by), by_user=by_user, at=at)


def issue_goodwill_letter(*, claim: Claim, given: Goodwill, by_user: User, at: datetime) -> ClaimLetter:
    """Freezes what the owner is told of goodwill; part of the transaction that gives it."""
    appeal_by = _still_to_appeal(claim, on=clock.day_of(at))
    facts = goodwill_facts(claim, given, at=at, appeal_by=appeal_by)
    return _issued(ClaimLetter(claim=claim, goodwill=given, facts=facts, appeal_by=appeal_by), by_user=by_user, at=at)


def _still_to_appeal(claim: Claim, *, on: date) -> date | None:
    """The last day for an appeal of the decision, while there is none and it isn't over."""
    if claim.decided_at is None or ClaimAppeal.objects.filter(claim=claim).exists():
        return None
    last_on = last_day_to_appeal(clock.day_of(claim.decided_at))
    return last_on if on <= last_on else None


def _issued(letter: ClaimLetter, *, by_user: User, at: datetime) -> ClaimLetter:
    claim = letter.claim
    letter.facts_sha256 = freeze(letter.facts).sha256
    letter.issued_at, letter.issued_by = at, by_user
    letter.save(force_insert=True)
    # The facts name the owner, so the trail keeps their hash and not the facts.
    audit.record(
        by=by_user.actor,
        at=at,
        verb="claim letter issued",
        subject=letter,
        property_id=claim.warranty.system.property_id,
        after={"claim_id": claim.pk, "facts_sha256": letter.facts_sha256, "appeal_by": letter.appeal_by},
    )
    start_after_commit("contractor.warranties.tasks.render_claim_letter", letter_id=letter.pk)
    return letter


def letter_file(*, letter_id: int) -> FieldFile:
    """The letter's PDF, made from its frozen facts when first asked for, and kept with its SHA-256.

    Made outside a transaction, because that takes a second; of two who ask at once the row keeps the first. A lost
    file is made again only if that gives the same bytes. Raises LetterLost.
    """
    letter = ClaimLetter.objects.get(pk=letter_id)
    if _is_kept(letter.file):
        return letter.file
    make = letter_pdf if letter.goodwill_id is None else goodwill_pdf
    body = make(letter.facts, letter.facts_sha256)
    sha256 = hashlib.sha256(body).hexdigest()
    with transaction.atomic():
        locked = ClaimLetter.objects.select_for_update().get(pk=letter_id)
        if not _is_kept(locked.file):
            if locked.file_sha256 not in {"", sha256}:
                raise LetterLost
            locked.file.save(f"claim-{locked.claim_id}-letter-{locked.pk}.pdf", ContentFile(body), save=False)
            locked.file_sha256 = sha256
            locked.save(update_fields=["file", "file_sha256"])
    return locked.file


def _is_kept(file: FieldFile) -> bool:
    return bool(file.name) and file.storage.exists(file.name or "")
