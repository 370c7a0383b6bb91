"""Visits without a checklist, noted as done by whoever was there or by the office."""

from collections.abc import Collection
from datetime import datetime

from django.db import transaction

from contractor.core import audit, clock
from contractor.core.audit import Actor
from contractor.visits import rules
from contractor.visits.actions.appointments import give_own_trip, mark_done
from contractor.visits.errors import HasChecklist, NotYet, WorkMissing
from contractor.visits.models import Appointment


@transaction.atomic
def finish_by_hand(
    *,
    appointment_id: int,
    minutes_taken: int,
    work_done: str,
    office_note: str = "",
    left_ids: Collection[int] = (),
    by: Actor,
    at: datetime,
) -> Appointment:
    """Notes that a repair or a claim call was done: how long it took and what was done.

    What went along with it is done too, but for ``left_ids``: those requests get a trip of their own and wait for
    another day. Done already, nothing is written. Raises HasChecklist, NotYet, WorkMissing, or NotLive when it was
    called off meanwhile.
    """
    appointment = (
        Appointment.objects.select_for_update(of=("self",)).select_related("request__system").get(pk=appointment_id)
    )
    if appointment.state == Appointment.State.DONE:
        return appointment
    request = appointment.request
    possible = rules.finishing(kind=request.kind, planned_on=appointment.on, on=clock.day_of(at))
    if possible == rules.Finishing.HAS_CHECKLIST:
        raise HasChecklist(request.get_kind_display())
    if possible == rules.Finishing.NOT_YET:
        raise NotYet(appointment.on)
    if not work_done.strip():
        raise WorkMissing
    for left in request.along.filter(pk__in=list(left_ids), withdrawn_at__isnull=True).order_by("pk"):
        give_own_trip(request_id=left.pk, by=by, at=at)
    done = mark_done(appointment_id=appointment_id, by=by, at=at)
    before = audit.snapshot(done)
    done.minutes_taken, done.work_done, done.office_note = minutes_taken, work_done.strip(), office_note.strip()
    done.save()
    audit.record(
        by=by,
        at=at,
        verb="what was done noted",
        subject=done,
        property_id=request.system.property_id,
        before=before,
        after=audit.snapshot(done),
    )
    return done
