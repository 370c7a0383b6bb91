"""What a tablet is told about the visits that it sent events of."""

from collections import defaultdict
from collections.abc import Sequence
from typing import Any
from uuid import UUID

from contractor.accounts.models import Role, User
from contractor.tablet.errors import Unreadable
from contractor.tablet.models import Event
from contractor.tablet.rules.arrival import At, word_of
from contractor.tablet.rules.events import TabletEvent, read_event
from contractor.tablet.rules.finish import wanted_by
from contractor.tablet.rules.heads import heads_of, standing
from contractor.tablet.stored import photos_here
from contractor.visits.models import Appointment


def visits_told(*, event_ids: Sequence[str], person: User, device_id: UUID | None) -> dict[str, Any]:
    """For each visit of these events: its heads, what others said at it, its state, and what it still lacks.

    What others said is told only to whoever the visit is given to now, and to the desk: a key reads nothing else.
    """
    ids = set(Event.objects.filter(pk__in=event_ids).values_list("appointment_id", flat=True))
    if not ids:
        return {}
    rows: dict[int, list[Event]] = defaultdict(list)
    for row in Event.objects.filter(appointment__in=ids).order_by("received_at", "id"):
        rows[row.appointment_id].append(row)
    desk = frozenset(User.objects.exclude(role=Role.TECHNICIAN).values_list("pk", flat=True))
    told = {}
    for visit in Appointment.objects.filter(pk__in=ids).select_related("checkup").order_by("pk"):
        may_read = person.role != Role.TECHNICIAN or visit.technician_id == person.pk
        others = [row.raw for row in rows[visit.pk] if row.device_id != device_id] if may_read else []
        told[str(visit.pk)] = {**_told(visit, rows[visit.pk], desk, person.pk), "events": others}
    return told


def _told(visit: Appointment, rows: Sequence[Event], desk: frozenset[int], person: int) -> dict[str, Any]:
    heads = heads_of(read_events(rows), desk=desk)
    finish = standing(heads, "finish")
    checkup = getattr(visit, "checkup", None)
    at = At(
        state=visit.state,
        technician=visit.technician_id,
        day=visit.on,
        is_finished=checkup is not None and checkup.finished_at is not None,
    )
    wanted = wanted_by(finish, {row.pk for row in rows}, photos_here(finish)) if finish else ()
    return {
        "heads": {field: [str(one.id) for one in found] for field, found in heads.items()},
        "state": word_of(at, person=person),
        "day": at.day.isoformat(),
        "missing": list(wanted),
    }


def read_events(rows: Sequence[Event]) -> list[TabletEvent]:
    """Stored rows as the rules read them; every row was read once before it was kept."""
    read = []
    for row in rows:
        try:
            read.append(read_event(row.raw))
        except Unreadable:  # pragma: no cover - a version that an upcaster was forgotten for
            continue
    return read
