"""What the register knows about the events of one request, read with a fixed number of queries."""

from collections import defaultdict
from collections.abc import Collection
from uuid import UUID

from contractor.accounts.models import Role, User
from contractor.core import clock
from contractor.core.models import AuditEntry
from contractor.tablet.errors import Unreadable
from contractor.tablet.models import OFFICE_DEVICE, UploadKey
from contractor.tablet.rules.arrival import At, flags_of
from contractor.tablet.rules.events import TabletEvent
from contractor.visits.models import Appointment


class Known:
    """The visits, people and tablets that some events name."""

    def __init__(self, events: Collection[TabletEvent]) -> None:
        visits, people = {event.visit for event in events}, {event.actor for event in events}
        self._visits = {
            row.pk: row for row in Appointment.objects.filter(pk__in=visits).select_related("checkup", "technician")
        }
        self._people = {row.pk: row for row in User.objects.filter(pk__in=people)}
        keys = UploadKey.objects.filter(person__in=people, device__in={event.device for event in events})
        self._pairs: set[tuple[UUID, int]] = set(keys.values_list("device_id", "person_id"))
        self._sent = _sent_to(visits)

    def judge(self, event: TabletEvent, *, is_vouched: bool = False) -> frozenset[str]:
        """The flags under which an event is kept. Raises Unreadable for one that the office has to look at first."""
        visit, person = self._visits.get(event.visit), self._people.get(event.actor)
        if visit is None:
            raise Unreadable("no_visit", f"There is no visit {event.visit} in this register.")
        if person is None:
            raise Unreadable("no_person", f"Nobody here has the number {event.actor} under which it was typed.")
        is_desk = person.role != Role.TECHNICIAN
        flags: set[str] = set()
        if event.device == OFFICE_DEVICE or (event.device, event.actor) not in self._pairs:
            flags.add("unproven")
        if not is_desk and person.pk not in self._sent[visit.pk] | {visit.technician_id}:
            flags.add("foreign")
        if flags and not is_vouched:
            raise Unreadable(*_unproven(flags, person, event))
        checkup = getattr(visit, "checkup", None)
        arrival = At(
            state=visit.state,
            technician=visit.technician_id,
            day=visit.on,
            is_finished=checkup is not None and checkup.finished_at is not None,
        )
        vouched = {f"vouched:{flag}" for flag in flags}
        return flags_of(event, arrival, done_on=clock.day_of(event.moment), is_desk=is_desk) | vouched


def _unproven(flags: set[str], person: User, event: TabletEvent) -> tuple[str, str]:
    if "foreign" in flags:
        return "foreign", f"Visit {event.visit} was never given to {person.name}, under whose name it was typed."
    return "unproven", f"It was typed under the name of {person.name}, who never signed in on that tablet."


def _sent_to(visits: set[int]) -> dict[int, set[int]]:
    """Who was ever given each visit, told by the trail: a visit may have been moved while a tablet was underground."""
    sent: dict[int, set[int]] = defaultdict(set)
    trail = AuditEntry.objects.filter(subject__in=[f"appointment:{visit}" for visit in visits])
    for subject, body in trail.values_list("subject", "body"):
        for side in ("before", "after"):
            technician = body.get(side, {}).get("technician_id")
            if isinstance(technician, int):
                sent[int(subject.partition(":")[2])].add(technician)
    return sent
