"""Writes about check-ups that were documented outside this register."""

import hashlib
from datetime import date, datetime
from uuid import uuid4

from django.core.files.base import ContentFile, File
from django.db import transaction

from contractor.accounts.models import User
from contractor.checkups.documents import MOST_MEGABYTES, check_document
from contractor.checkups.errors import (
    AlreadyDecided,
    DecisionReasonMissing,
    DocumentTooLarge,
    DoneBeforeSystem,
    DoneInFuture,
    ProviderMissing,
    WhatMissing,
)
from contractor.checkups.models import OutsideRecord
from contractor.core import audit, clock, renewal
from contractor.core.audit import Actor
from contractor.systems.models import System


def send_outside_record(
    *,
    system_id: int,
    provider: str,
    done_on: date,
    what: str,
    sent_by: Actor,
    at: datetime,
    document: File | None = None,  # type: ignore[type-arg]
    by_us: bool = False,
) -> OutsideRecord:
    """Takes in the record of a check-up that another provider did, or we before this register; the office decides.

    The document, a PDF or a picture of at most 10 MB, is kept byte for byte. Raises ProviderMissing, WhatMissing,
    DoneInFuture, DoneBeforeSystem, or a refusal of the document.
    """
    content, suffix = b"", ""
    if document:
        if document.size > MOST_MEGABYTES * 1024 * 1024:
            raise DocumentTooLarge(MOST_MEGABYTES)
        content = document.read()
        suffix = check_document(content)
    with transaction.atomic():
        system = System.objects.get(pk=system_id)
        _check(system, provider, done_on, what, at)
        record = OutsideRecord(
            system=system,
            by_us=by_us,
            provider=provider.strip(),
            done_on=done_on,
            what=what.strip(),
            sent_by=sent_by.ref,
            received_at=at,
        )
        if content:
            record.document_sha256 = hashlib.sha256(content).hexdigest()
            record.document.save(f"{uuid4()}{suffix}", ContentFile(content), save=False)
        record.save(force_insert=True)
        audit.record(
            by=sent_by,
            at=at,
            verb="outside record received",
            subject=record,
            property_id=system.property_id,
            after=audit.snapshot(record),
        )
    return record


def _check(system: System, provider: str, done_on: date, what: str, at: datetime) -> None:
    if not provider.strip():
        raise ProviderMissing
    if not what.strip():
        raise WhatMissing
    if done_on > clock.day_of(at):
        raise DoneInFuture
    if done_on < system.installed_on:
        raise DoneBeforeSystem(system.installed_on)


@transaction.atomic
def decide_outside_record(
    *, record_id: int, accepted: bool, because: str, by_user: User, at: datetime
) -> OutsideRecord:
    """Accepts a record, so that it counts like a check-up of ours, or refuses it; the reason stays with it.

    Raises AlreadyDecided or DecisionReasonMissing.
    """
    record = OutsideRecord.objects.select_for_update(of=("self",)).select_related("system").get(pk=record_id)
    if record.accepted is not None:
        raise AlreadyDecided(record.accepted)
    if not because.strip():
        raise DecisionReasonMissing
    before = audit.snapshot(record)
    record.accepted, record.decided_because = accepted, because.strip()
    record.decided_at, record.decided_by = at, by_user
    record.save()
    audit.record(
        by=by_user.actor,
        at=at,
        verb="outside record accepted" if accepted else "outside record refused",
        subject=record,
        property_id=record.system.property_id,
        before=before,
        after=audit.snapshot(record),
    )
    renewal.facts_changed(property_id=record.system.property_id)
    return record
