"""Writes about checklists: an edition is a draft until it is published, and stays as it is from then on."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.db import transaction
from django.db.models import Max

from contractor.accounts.models import User
from contractor.checkups.errors import ChecklistPublished
from contractor.checkups.models import Checklist, ChecklistItem
from contractor.checkups.rules.items import Item, read_checklist, read_item
from contractor.checkups.sheet import ITEM_COLUMNS
from contractor.core import audit
from contractor.core.audit import Actor


@transaction.atomic
def add_checklist(*, data: Mapping[str, Any], by: Actor, at: datetime) -> Checklist:
    """Adds a draft from plain data (``name`` and ``items``); it gets the next edition's number.

    Raises UnreadableChecklist.
    """
    items = read_checklist(data)
    last = Checklist.objects.select_for_update().aggregate(last=Max("edition"))["last"] or 0
    name = str(data.get("name") or "Yearly check-up")[:80]
    checklist = Checklist.objects.create(name=name, edition=last + 1, created_at=at)
    ChecklistItem.objects.bulk_create(ChecklistItem(checklist=checklist, **columns(item)) for item in items)
    audit.record(
        by=by,
        at=at,
        verb="checklist added",
        subject=checklist,
        property_id=None,
        after={**audit.snapshot(checklist), "items": len(items)},
    )
    return checklist


@transaction.atomic
def copy_checklist(*, checklist_id: int, by: Actor, at: datetime) -> Checklist:
    """A new draft with the items of an edition, to be changed and published."""
    original = Checklist.objects.get(pk=checklist_id)
    return add_checklist(data={"name": original.name, "items": plain_items(original)}, by=by, at=at)


@transaction.atomic
def publish_checklist(
    *, checklist_id: int, by: Actor, at: datetime, published_by: User | None = None
) -> Checklist:
    """Publishes a draft: check-ups that start from now on are made from it. Raises ChecklistPublished."""
    checklist = _draft(checklist_id)
    read_checklist({"items": plain_items(checklist)})
    before = audit.snapshot(checklist)
    checklist.published_at, checklist.published_by = at, published_by
    checklist.save()
    audit.record(
        by=by,
        at=at,
        verb="checklist published",
        subject=checklist,
        property_id=None,
        before=before,
        after=audit.snapshot(checklist),
    )
    return checklist


@transaction.atomic
def change_item(*, item_id: int, changes: Mapping[str, Any], by: Actor, at: datetime) -> ChecklistItem:
    """Changes fields of one item of a draft. Raises ChecklistPublished or UnreadableChecklist."""
    row = ChecklistItem.objects.select_for_update().get(pk=item_id)
    checklist = _draft(row.checklist_id)
    before = audit.snapshot(row)
    changed = read_item({**_plain(row), **changes})
    for name, value in columns(changed).items():
        setattr(row, name, value)
    row.save()
    _record(checklist, "checklist item changed", by=by, at=at, before=before, after=audit.snapshot(row))
    return row


@transaction.atomic
def leave_out_item(*, item_id: int, by: Actor, at: datetime) -> Checklist:
    """Takes one item out of a draft. Raises ChecklistPublished."""
    row = ChecklistItem.objects.select_for_update().get(pk=item_id)
    checklist = _draft(row.checklist_id)
    before = audit.snapshot(row)
    row.delete()
    _record(checklist, "checklist item left out", by=by, at=at, before=before)
    return checklist


def plain_items(checklist: Checklist) -> list[dict[str, Any]]:
    """The items of an edition as plain data, as ``read_checklist`` takes them."""
    return [_plain(row) for row in checklist.items.all()]


def columns(item: Item) -> dict[str, Any]:
    """The columns of the table for an item of the rules; what may be empty is empty text there."""
    values = {name: getattr(item, name) for name in ITEM_COLUMNS}
    for name in ("quantity", "unit_us", "unit_metric", "formula", "feeds"):
        values[name] = values[name] or ""
    values["applies_to"] = {key: list(accepted) for key, accepted in item.applies_to} or None
    return values


def _plain(row: ChecklistItem) -> dict[str, Any]:
    return {name: getattr(row, name) for name in ITEM_COLUMNS}


def _draft(checklist_id: int) -> Checklist:
    checklist = Checklist.objects.select_for_update().get(pk=checklist_id)
    if checklist.published_at is not None:
        raise ChecklistPublished(str(checklist))
    return checklist


def _record(checklist: Checklist, verb: str, *, by: Actor, at: datetime, **values: Any) -> None:
    audit.record(by=by, at=at, verb=verb, subject=checklist, property_id=None, **values)
