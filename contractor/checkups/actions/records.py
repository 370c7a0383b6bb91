"""Writes about check-ups documented outside this register."""

import hashlib
from datetime import date, datetime
from pathlib import PurePath
from typing import Protocol
from uuid import uuid4

from django.core.files.base import ContentFile
from django.db import transaction

from contractor.accounts.models import User
from contractor.checkups.errors import AlreadyDecided, BeforeInstallation, DayAhead, ReasonMissing
from contractor.checkups.models import OutsideRecord
from contractor.checkups.photos import document_suffix
from contractor.core import audit, clock, renewal
from contractor.core.audit import Actor
from contractor.systems.models import System


class Readable(Protocol):
    """Something with bytes in it, such as an uploaded file."""

    def read(self) -> bytes: ...


@transaction.atomic
def send_outside_record(
    *,
    system_id: int,
    provider: str,
    done_on: date,
    what: str,
    sent_by: Actor,
    at: datetime,
    document: Readable | None = None,
    by_us: bool = False,
) -> OutsideRecord:
    """Keeps a record that waits for the office to accept it. The document is kept exactly as it came.

    Raises DayAhead, BeforeInstallation or UnreadableDocument.
    """
    system = System.objects.select_for_update().get(pk=system_id)
    if done_on > clock.day_of(at):
        raise DayAhead(done_on)
    if done_on < system.installed_on:
        raise BeforeInstallation(system.installed_on)
    record = OutsideRecord(
        system=system,
        by_us=by_us,
        provider=provider.strip(),
        done_on=done_on,
        what=what.strip(),
        sent_by=sent_by.ref,
        received_at=at,
    )
    if document is not None:
        content = document.read()
        name = PurePath(f"{uuid4()}.{document_suffix(content)}")
        record.document.save(str(name), ContentFile(content), save=False)
        record.document_sha256 = hashlib.sha256(content).hexdigest()
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


@transaction.atomic
def decide_outside_record(
    *, record_id: int, accepted: bool, because: str, by_user: User, at: datetime
) -> OutsideRecord:
    """Accepts a record, so that it counts like our own check-up, or refuses it with a reason.

    Raises AlreadyDecided or ReasonMissing.
    """
    record = OutsideRecord.objects.select_for_update(of=("self",)).select_related("system").get(pk=record_id)
    if record.accepted is not None:
        raise AlreadyDecided
    if not because.strip():
        raise ReasonMissing
    before = audit.snapshot(record)
    record.accepted, record.decided_at, record.decided_by = accepted, at, by_user
    record.decided_because = because.strip()
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
