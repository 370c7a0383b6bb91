"""What the office decides about a tablet's work: what was set aside, two answers, a visit that stays open."""

import hashlib
import json
from collections.abc import Collection
from datetime import datetime
from uuid import UUID, uuid4

from django.db import transaction

from contractor.accounts.models import User
from contractor.checkups.actions.reopening import reopen_checkup
from contractor.core import audit
from contractor.tablet.actions.apply import apply_visit
from contractor.tablet.actions.door import QUARANTINED, Sender, note_events, take_items
from contractor.tablet.actions.visit_facts import Facts
from contractor.tablet.errors import AlreadyDecided, NoConflict, NothingToDecide, ReasonMissing, StillUnreadable
from contractor.tablet.models import OFFICE_DEVICE, Event, SetAside, TabletVisit
from contractor.tablet.rules.events import TabletEvent, claimed_id
from contractor.visits.actions.appointments import take_up_again


def hand_in_again(*, aside_id: int, because: str, by_user: User, at: datetime) -> SetAside:
    """Takes what was set aside as an event after all; the office vouches for whom it names.

    Raises ReasonMissing, AlreadyDecided, or StillUnreadable with what still speaks against it.
    """
    if not because.strip():
        raise ReasonMissing
    found = SetAside.objects.select_related("uploaded_by").get(pk=aside_id)
    if found.state != SetAside.State.WAITING:
        raise AlreadyDecided
    raw = bytes(found.raw).decode("utf-8", "surrogatepass")
    sender = Sender(person=found.uploaded_by or by_user, device_id=found.device_id, is_office=True)
    item = {"id": claimed_id(raw), "raw": raw, "sha256": hashlib.sha256(bytes(found.raw)).hexdigest()}
    [receipt] = take_items(items=[item], sender=sender, at=at, is_vouched=True)
    if receipt.status == QUARANTINED:
        raise StillUnreadable(receipt.sentence)
    return _decide(aside_id, SetAside.State.TAKEN, because, by_user, at)


def close_set_aside(*, aside_id: int, because: str, by_user: User, at: datetime) -> SetAside:
    """Leaves something set aside for good, with the reason; it is kept. Raises ReasonMissing or AlreadyDecided."""
    if not because.strip():
        raise ReasonMissing
    if SetAside.objects.get(pk=aside_id).state != SetAside.State.WAITING:
        raise AlreadyDecided
    return _decide(aside_id, SetAside.State.CLOSED, because, by_user, at)


@transaction.atomic
def _decide(aside_id: int, state: str, because: str, by_user: User, at: datetime) -> SetAside:
    found = SetAside.objects.select_for_update().get(pk=aside_id)
    before = {"state": found.state}
    found.state, found.decided_at, found.decided_by = state, at, by_user
    found.decided_because = because.strip()
    found.save()
    after = {"state": state, "because": because.strip(), "sha256": found.sha256}
    audit.record(
        by=by_user.actor,
        at=at,
        verb="set aside: decided",
        subject=found,
        property_id=None,
        before=before,
        after=after,
    )
    return found


def choose(
    *, appointment_id: int, field: str, event_id: UUID, seen: Collection[UUID], by_user: User, at: datetime
) -> Event:
    """Ends a conflict: one of the answers holds. It is said as an event that takes the place of all that were seen.

    Raises NoConflict when other answers stand there by now, or none of them is the chosen one.
    """
    event = _say_choice(appointment_id, field, event_id, seen, by_user, at)
    return event


@transaction.atomic
def _say_choice(
    appointment_id: int, field: str, event_id: UUID, seen: Collection[UUID], by_user: User, at: datetime
) -> Event:
    TabletVisit.objects.select_for_update().filter(appointment_id=appointment_id).first()
    facts = Facts.read(appointment_id)
    heads = facts.heads.get(field, ()) if facts else ()
    chosen = next((one for one in heads if one.id == event_id), None)
    if facts is None or chosen is None or len(heads) < 2 or {one.id for one in heads} != set(seen):
        raise NoConflict
    raw = _office_text(appointment_id, chosen, [one.id for one in heads], by_user, at)
    said = json.loads(raw)
    event = Event.objects.create(
        id=said["id"],
        raw=raw,
        sha256=hashlib.sha256(raw.encode()).hexdigest(),
        version=said["v"],
        appointment_id=appointment_id,
        device_id=OFFICE_DEVICE,
        actor=by_user,
        uploaded_by=by_user,
        kind=chosen.kind,
        field=field,
        received_at=at,
    )
    house = facts.appointment.request.system.property_id
    after = {"field": field, "chosen": str(event_id), "instead_of": sorted(str(one.id) for one in heads)}
    audit.record(
        by=by_user.actor, at=at, verb="tablet's answers: one chosen", subject=event, property_id=house, after=after
    )
    note_events(appointment_id, at)
    return event


def _office_text(appointment_id: int, chosen: TabletEvent, bases: list[UUID], by_user: User, at: datetime) -> str:
    return json.dumps(
        {
            "v": 1,
            "id": str(uuid4()),
            "visit": str(appointment_id),
            "device": str(OFFICE_DEVICE),
            "actor": by_user.pk,
            "kind": chosen.kind,
            "field": chosen.field,
            "value": chosen.value,
            "bases": sorted(str(base) for base in bases),
            "at": at.isoformat(),
            "zone": "",
            "mono": 0,
            "clock_off": 0,
        }
    )


def finish_unsigned(*, appointment_id: int, because: str, by_user: User, at: datetime) -> None:
    """Lets a visit be finished without the owner signing what changed afterwards; what they signed stays on record.

    Raises ReasonMissing, or NothingToDecide when that is not what keeps it open.
    """
    _let_be_unsigned(appointment_id, because, by_user, at)
    apply_visit(appointment_id=appointment_id, at=at)


@transaction.atomic
def _let_be_unsigned(appointment_id: int, because: str, by_user: User, at: datetime) -> None:
    if not because.strip():
        raise ReasonMissing
    tablet = TabletVisit.objects.select_for_update().filter(appointment_id=appointment_id).first()
    codes = {problem["code"] for problem in tablet.problems} if tablet else set()
    if tablet is None or not codes & {"changed_since_signed", "not_signed"}:
        raise NothingToDecide
    tablet.placed["unsigned"] = {"because": because.strip(), "by": by_user.pk}
    tablet.save()
    house = tablet.appointment.request.system.property_id
    after = {"because": because.strip()}
    audit.record(
        by=by_user.actor, at=at, verb="finished without a signature", subject=tablet, property_id=house, after=after
    )


def take_late_work(*, appointment_id: int, because: str, by_user: User, at: datetime) -> None:
    """Takes work on a visit that was called off as done: the appointment holds again, and the check-up is made.

    Raises what taking an appointment up again may refuse.
    """
    take_up_again(appointment_id=appointment_id, because=because, by=by_user.actor, at=at)
    apply_visit(appointment_id=appointment_id, at=at)


def reopen(*, appointment_id: int, because: str, by_user: User, at: datetime) -> None:
    """Opens a finished check-up again for what came in afterwards, and writes that into it.

    Raises NothingToDecide when no check-up was made, and what opening one may refuse.
    """
    tablet = TabletVisit.objects.filter(appointment_id=appointment_id).first()
    if tablet is None or tablet.checkup_id is None:
        raise NothingToDecide
    reopen_checkup(checkup_id=tablet.checkup_id, because=because, by=by_user.actor, at=at)
    apply_visit(appointment_id=appointment_id, at=at)
