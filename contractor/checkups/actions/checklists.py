"""Writes about checklists: a draft may change, a published edition never."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.db import transaction

from contractor.accounts.models import User
from contractor.checkups.errors import ChecklistFrozen, EditionTaken
from contractor.checkups.lines import ITEM_FIELDS, check_item
from contractor.checkups.models import Checklist, ChecklistItem
from contractor.checkups.rules.items import Item, read_checklist
from contractor.core import audit
from contractor.core.audit import Actor


@transaction.atomic
def add_checklist(*, data: Mapping[str, Any], by: Actor, at: datetime) -> Checklist:
    """Keeps a checklist as a draft. Raises UnreadableChecklist (which names item and field) or EditionTaken."""
    items = read_checklist(data)
    edition = int(data["edition"])
    if Checklist.objects.filter(edition=edition).exists():
        raise EditionTaken(edition)
    checklist = Checklist.objects.create(name=data["name"], edition=edition, created_at=at)
    ChecklistItem.objects.bulk_create(_row(checklist, item) for item in items)
    _record(checklist, verb="checklist added", by=by, at=at)
    return checklist


@transaction.atomic
def copy_checklist(*, checklist_id: int, by: Actor, at: datetime) -> Checklist:
    """A draft with the next edition number and the same items, to be changed and published."""
    source = Checklist.objects.get(pk=checklist_id)
    newest = Checklist.objects.select_for_update().order_by("-edition").first() or source
    checklist = Checklist.objects.create(name=source.name, edition=newest.edition + 1, created_at=at)
    for row in source.items.all():
        row.pk, row.checklist = None, checklist
        row.save(force_insert=True)
    _record(checklist, verb="checklist copied", by=by, at=at)
    return checklist


@transaction.atomic
def change_item(*, item_id: int, values: Mapping[str, Any], by: Actor, at: datetime) -> ChecklistItem:
    """Changes words and limits of one item of a draft.

    Raises ChecklistFrozen for a published edition, UnreadableChecklist for values that don't make an item.
    """
    item = ChecklistItem.objects.select_related("checklist").get(pk=item_id)
    checklist = Checklist.objects.select_for_update().get(pk=item.checklist_id)
    if checklist.published_at is not None:
        raise ChecklistFrozen(checklist.edition)
    before = audit.snapshot(item)
    for name, value in values.items():
        if name in ITEM_FIELDS and name not in {"code", "part_kind", "kind"}:
            setattr(item, name, value)
    check_item(item)
    item.save()
    audit.record(
        by=by,
        at=at,
        verb="checklist item changed",
        subject=item,
        property_id=None,
        before=before,
        after=audit.snapshot(item),
    )
    return item


@transaction.atomic
def publish_checklist(*, checklist_id: int, by: Actor, at: datetime, published_by: User | None = None) -> Checklist:
    """Publishes an edition; from now on it is frozen and new check-ups are made from it. Raises ChecklistFrozen."""
    checklist = Checklist.objects.select_for_update().get(pk=checklist_id)
    if checklist.published_at is not None:
        raise ChecklistFrozen(checklist.edition)
    checklist.published_at, checklist.published_by = at, published_by
    checklist.save()
    _record(checklist, verb="checklist published", by=by, at=at)
    return checklist


def _row(checklist: Checklist, item: Item) -> ChecklistItem:
    values = {name: getattr(item, name) for name in ITEM_FIELDS}
    values["applies_to"] = {key: list(accepted) for key, accepted in item.applies_to} or None
    return ChecklistItem(
        checklist=checklist,
        **{name: "" if value is None and _is_text(name) else value for name, value in values.items()},
    )


def _is_text(name: str) -> bool:
    return name in {"quantity", "unit_us", "unit_metric", "formula", "feeds"}


def _record(checklist: Checklist, *, verb: str, by: Actor, at: datetime) -> None:
    audit.record(by=by, at=at, verb=verb, subject=checklist, property_id=None, after=audit.snapshot(checklist))
