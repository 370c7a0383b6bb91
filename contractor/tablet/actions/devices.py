"""Writes about tablets: registering, hearing from them, ending their keys."""

import hashlib
import secrets
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from django.contrib.sessions.models import Session
from django.db import transaction

from contractor.accounts.models import User
from contractor.core import audit
from contractor.core.audit import Actor
from contractor.tablet.errors import DeviceRevoked, ReasonMissing
from contractor.tablet.models import Device, UploadKey
from contractor.tablet.rules.said import text_of

KEY_LASTS = timedelta(days=30)
# A key that is used while somebody is signed in is renewed when it has less than this left, so that a busy morning
# writes one row and not hundreds.
RENEW_BELOW = timedelta(days=29)
MOST_CHECKS = 40
# Where a session names the tablets that it was used on.
ON_TABLETS = "tablets"


@dataclass(frozen=True, slots=True, kw_only=True)
class NewKey:
    """An upload key as the device gets it, once: only its hash is kept."""

    key: str
    key_id: int
    expires_at: datetime


@transaction.atomic
def register_device(
    *, device_id: UUID, name: str, about: Mapping[str, Any], person: User, at: datetime
) -> NewKey:
    """Makes a tablet known, and gives it a key for this person's work; the key it had for them ends.

    Raises DeviceRevoked for a tablet that the office has closed.
    """
    device, is_new = Device.objects.select_for_update().get_or_create(
        pk=device_id,
        defaults={
            "name": name.strip()[:80] or "Tablet",
            "about": dict(about),
            "registered_at": at,
            "registered_by": person,
        },
    )
    if device.revoked_at is not None:
        raise DeviceRevoked
    before = audit.snapshot(device)
    device.name, device.about = name.strip()[:80] or device.name, dict(about)
    device.last_heard_at, device.last_person = at, person
    device.save()
    device.keys.filter(person=person, ended_at__isnull=True).update(ended_at=at, ended_because="A newer key was made.")
    key = secrets.token_urlsafe(32)
    made = UploadKey.objects.create(
        device=device, person=person, key_sha256=key_hash(key), made_at=at, expires_at=at + KEY_LASTS
    )
    if is_new:
        _record(device, verb="tablet registered", by=person.actor, at=at, after=_short(device))
    elif before["name"] != device.name:
        _record(device, verb="tablet renamed", by=person.actor, at=at, before=before, after=audit.snapshot(device))
    _record(device, verb="upload key made", by=person.actor, at=at, after={"key_id": made.pk, "person_id": person.pk})
    return NewKey(key=key, key_id=made.pk, expires_at=made.expires_at)


def key_hash(key: str) -> str:
    """What is kept of a key. It holds 256 random bits, so a plain hash can't be turned back."""
    return hashlib.sha256(key.encode()).hexdigest()


@transaction.atomic
def heard_from(
    *, device_id: UUID | None, person: User, at: datetime, key_id: int | None, waiting: int | None, client: str
) -> None:
    """Notes that a tablet was heard, how much it still keeps, and that its key was used.

    Where the person is signed in (``key_id`` None), the key of that device for them is renewed.
    """
    if key_id is not None:
        UploadKey.objects.filter(pk=key_id).update(last_used_at=at)
    if device_id is None:
        return
    if key_id is None:
        _renew(device_id, person, at)
    told: dict[str, Any] = {"last_heard_at": at, "last_person": person}
    if waiting is not None:
        told["waiting"] = waiting
    if client:
        told["client"] = client[:80]
    Device.objects.filter(pk=device_id).update(**told)


@transaction.atomic
def keep_ready_check(
    *, device_id: UUID, checks: Sequence[Mapping[str, Any]], person: User, at: datetime
) -> Device | None:
    """Keeps what the morning's ready check found, and renews the tablet's key; None for a tablet nobody knows."""
    device = Device.objects.select_for_update().filter(pk=device_id).first()
    if device is None:
        return None
    _renew(device_id, person, at)
    device.checks = [
        {"code": text_of(one, "code", 40), "ok": one.get("ok") is True, "sentence": text_of(one, "sentence", 300)}
        for one in checks[:MOST_CHECKS]
    ]
    device.checked_at = device.last_heard_at = at
    device.last_person = person
    device.save()
    return device


@transaction.atomic
def revoke_device(*, device_id: UUID, because: str, by_user: User, at: datetime) -> Device:
    """Closes a tablet: its keys and the sign-ins on it end at once, and it gets no new ones. What it still keeps comes
    in by a file.

    Raises ReasonMissing.
    """
    if not because.strip():
        raise ReasonMissing
    device = Device.objects.select_for_update().get(pk=device_id)
    if device.revoked_at is None:
        before = audit.snapshot(device)
        device.revoked_at, device.revoked_by, device.revoked_because = at, by_user, because.strip()[:200]
        device.save()
        device.keys.filter(ended_at__isnull=True).update(ended_at=at, ended_because="The office closed the tablet.")
        _end_sign_ins(device_id, at)
        after = audit.snapshot(device)
        _record(device, verb="tablet closed", by=by_user.actor, at=at, before=before, after=after)
    return device


@transaction.atomic
def allow_device_again(*, device_id: UUID, by_user: User, at: datetime) -> Device:
    """Lets a closed tablet be used again; it gets a key at the next sign-in."""
    device = Device.objects.select_for_update().get(pk=device_id)
    if device.revoked_at is not None:
        before = audit.snapshot(device)
        device.revoked_at, device.revoked_by, device.revoked_because = None, None, ""
        device.save()
        after = audit.snapshot(device)
        _record(device, verb="tablet allowed again", by=by_user.actor, at=at, before=before, after=after)
    return device


def _end_sign_ins(device_id: UUID, at: datetime) -> None:
    """Whoever holds a lost tablet reads no rounds with the sign-in that is still open on it."""
    begun_there = [
        session.pk
        for session in Session.objects.filter(expire_date__gt=at).iterator()
        if str(device_id) in session.get_decoded().get(ON_TABLETS, [])
    ]
    Session.objects.filter(pk__in=begun_there).delete()


def _renew(device_id: UUID, person: User, at: datetime) -> None:
    UploadKey.objects.filter(
        device_id=device_id,
        device__revoked_at__isnull=True,
        person=person,
        ended_at__isnull=True,
        expires_at__gt=at,
        expires_at__lt=at + RENEW_BELOW,
    ).update(expires_at=at + KEY_LASTS)


def _short(device: Device) -> dict[str, Any]:
    return {"name": device.name, "device": str(device.pk)}


def _record(device: Device, *, verb: str, by: Actor, at: datetime, **values: Any) -> None:
    audit.record(by=by, at=at, verb=verb, subject=device, property_id=None, **values)
