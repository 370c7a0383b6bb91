"""Writes and proves the audit trail. Actions call ``record`` in the transaction of the write itself."""

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.db import models, transaction

from contractor.core.models import AuditEntry

FIRST_HASH = "0" * 64


@dataclass(frozen=True, slots=True)
class Actor:
    """Who writes: a reference that survives a change of name ("staff:3", "owner:12", "system") and a name to show."""

    ref: str
    name: str = ""


SYSTEM = Actor("system", "The system")


def reference(instance: models.Model) -> str:
    """The name under which a row stands in the trail, such as ``component:41``."""
    return f"{instance._meta.model_name}:{instance.pk}"


def snapshot(instance: models.Model) -> dict[str, Any]:
    """Every column of a row as plain values, for ``before`` and ``after``."""
    return {field.attname: _plain(field.value_from_object(instance)) for field in instance._meta.concrete_fields}


def record(
    *,
    by: Actor,
    at: datetime,
    verb: str,
    subject: models.Model,
    property_id: int | None,
    before: Mapping[str, Any] | None = None,
    after: Mapping[str, Any] | None = None,
) -> AuditEntry:
    """Adds one entry to the house's stream, in the caller's transaction.

    Only the values that differ are kept when both ``before`` and ``after`` are given. Fields that the subject's
    model names in ``PERSONAL_FIELDS`` go beside the chain instead of into it.
    """
    before_kept, after_kept = _differences(before, after)
    personal_fields: tuple[str, ...] = getattr(type(subject), "PERSONAL_FIELDS", ())
    stream = f"property:{property_id}" if property_id is not None else reference(subject)
    body = {
        "before": {name: value for name, value in before_kept.items() if name not in personal_fields},
        "after": {name: value for name, value in after_kept.items() if name not in personal_fields},
    }
    personal = {
        "actor_name": by.name,
        "before": {name: value for name, value in before_kept.items() if name in personal_fields},
        "after": {name: value for name, value in after_kept.items() if name in personal_fields},
    }
    with transaction.atomic():
        # The row of the highest number is locked, so two writers on one house queue up; the unique constraint
        # on (stream, number) stands behind it for a stream's very first entry.
        last = AuditEntry.objects.select_for_update().filter(stream=stream).order_by("-number").first()
        entry = AuditEntry(
            stream=stream,
            number=last.number + 1 if last else 1,
            at=at,
            actor=by.ref,
            verb=verb,
            subject=reference(subject),
            body=body,
            personal=personal,
            previous_hash=last.own_hash if last else FIRST_HASH,
        )
        entry.own_hash = entry_hash(entry)
        entry.save(force_insert=True)
    return entry


def entry_hash(entry: AuditEntry) -> str:
    """SHA-256 over the entry before it and everything in this entry but the personal half."""
    text = json.dumps(
        [
            entry.previous_hash,
            entry.stream,
            entry.number,
            entry.at.astimezone(UTC).isoformat(),
            entry.actor,
            entry.verb,
            entry.subject,
            entry.body,
        ],
        sort_keys=True,
        separators=(",", ":"),
        ensure_ascii=True,
    )
    return hashlib.sha256(text.encode()).hexdigest()


def breaks(stream: str) -> list[int]:
    """Numbers of the entries of a stream that don't follow from the one before them; empty when it holds."""
    broken: list[int] = []
    expected_number, previous_hash = 1, FIRST_HASH
    for entry in AuditEntry.objects.filter(stream=stream).order_by("number"):
        whole = entry.number == expected_number and entry.previous_hash == previous_hash
        if not whole or entry.own_hash != entry_hash(entry):
            broken.append(entry.number)
        expected_number, previous_hash = entry.number + 1, entry.own_hash
    return broken


def head(property_id: int) -> str:
    """The latest hash of a house's stream: printed on certificates, it pins the history up to that day."""
    last = AuditEntry.objects.filter(stream=f"property:{property_id}").order_by("-number").first()
    return last.own_hash if last else FIRST_HASH


def _differences(
    before: Mapping[str, Any] | None, after: Mapping[str, Any] | None
) -> tuple[dict[str, Any], dict[str, Any]]:
    left = {name: _plain(value) for name, value in (before or {}).items()}
    right = {name: _plain(value) for name, value in (after or {}).items()}
    if before is None or after is None:
        return left, right
    names = {name for name in left.keys() | right.keys() if left.get(name) != right.get(name)}
    return (
        {name: left[name] for name in sorted(names & left.keys())},
        {name: right[name] for name in sorted(names & right.keys())},
    )


def _plain(value: Any) -> Any:
    if isinstance(value, datetime | date):
        return value.isoformat()
    if isinstance(value, Decimal | UUID):
        return str(value)
    if isinstance(value, models.Model):
        return reference(value)
    if isinstance(value, Mapping):
        return {str(key): _plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple | set):
        return [_plain(item) for item in value]
    if value is None or isinstance(value, bool | int | float | str):
        return value
    return str(value)
