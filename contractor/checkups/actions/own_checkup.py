"""The check-up that an action works on: locked, of this technician, with its items and parts looked up."""

from datetime import datetime
from typing import Any

from contractor.accounts.models import User
from contractor.checkups.errors import AlreadyFinished, NotOfThisHouse, NotYourVisit
from contractor.checkups.models import ChecklistItem, CheckUp
from contractor.core import audit
from contractor.core.audit import Actor
from contractor.systems.models import Component


def open_checkup(checkup_id: int, by_user: User, *, is_handed_in: bool = False) -> CheckUp:
    """The same, while it can still be changed."""
    checkup = own_checkup(checkup_id, by_user, is_handed_in=is_handed_in)
    refuse_finished(checkup)
    return checkup


def own_checkup(checkup_id: int, by_user: User, *, is_handed_in: bool = False) -> CheckUp:
    """The check-up, locked, so that finishing and answering don't pass each other.

    Somebody else's is refused, except for what a tablet hands in: there two may have worked on one visit, and the
    tablet's door has looked at who was sent.
    """
    checkup = CheckUp.objects.select_for_update(of=("self",)).select_related("system", "checklist").get(pk=checkup_id)
    if checkup.technician_id != by_user.pk and not is_handed_in:
        raise NotYourVisit
    return checkup


def refuse_finished(checkup: CheckUp) -> None:
    if checkup.finished_at is not None:
        raise AlreadyFinished


def refuse_other_kind(item: ChecklistItem | None, component: Component | None) -> None:
    """An item about batteries goes with a battery, one about the house with no part."""
    if item is not None and item.part_kind != (component.part_kind if component else ""):
        raise NotOfThisHouse


def item_of_checklist(checkup: CheckUp, item_id: int) -> ChecklistItem:
    item = ChecklistItem.objects.filter(pk=item_id, checklist_id=checkup.checklist_id).first()
    if item is None:
        raise NotOfThisHouse
    return item


def component_of_house(checkup: CheckUp, component_id: int | None, *, also_taken_out: bool = False) -> Component | None:
    if component_id is None:
        return None
    placed = Component.objects.filter(system_id=checkup.system_id)
    if not also_taken_out:
        placed = placed.filter(pk__in=Component.objects.in_place(checkup.done_on).values("pk"))
    component = placed.filter(pk=component_id).first()
    if component is None:
        raise NotOfThisHouse
    return component


def record(checkup: CheckUp, subject: Any, *, verb: str, by: Actor, at: datetime, **values: Any) -> None:
    audit.record(by=by, at=at, verb=verb, subject=subject, property_id=checkup.system.property_id, **values)
