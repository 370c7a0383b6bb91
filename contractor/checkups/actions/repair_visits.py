"""A repair or claim call that was done, with the findings that it put right."""

from collections.abc import Collection
from datetime import datetime
from uuid import UUID

from django.db import transaction

from contractor.accounts.models import User
from contractor.checkups.actions.evidence import close_finding
from contractor.checkups.models import Finding
from contractor.visits.actions.finishing import finish_by_hand
from contractor.visits.models import Appointment


@transaction.atomic
def finish_repair(
    *,
    appointment_id: int,
    minutes_taken: int,
    work_done: str,
    office_note: str = "",
    put_right: Collection[UUID] = (),
    left_ids: Collection[int] = (),
    by_user: User,
    at: datetime,
) -> Appointment:
    """Notes a visit as done and closes the findings of its system that it put right, with the same words.

    A finding that stays open asks for another visit by itself. Raises what ``finish_by_hand`` raises.
    """
    done = finish_by_hand(
        appointment_id=appointment_id,
        minutes_taken=minutes_taken,
        work_done=work_done,
        office_note=office_note,
        left_ids=left_ids,
        by=by_user.actor,
        at=at,
    )
    standing = Finding.objects.still_open().filter(checkup__system=done.request.system_id, pk__in=list(put_right))
    for finding_id in standing.order_by("pk").values_list("pk", flat=True):
        close_finding(finding_id=finding_id, note=work_done, by=by_user.actor, at=at, done_by=done.technician)
    return done
