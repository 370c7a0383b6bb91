"""Everything that one run over a visit's events reads, and what it was when it was read."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any
from uuid import UUID

from contractor.accounts.models import Role, User
from contractor.checkups.models import Answer, ChecklistItem, CheckUp
from contractor.tablet.models import Event, TabletVisit
from contractor.tablet.rules.events import TabletEvent
from contractor.tablet.rules.heads import Heads, heads_of, standing
from contractor.tablet.rules.moments import moment_of
from contractor.tablet.stored import photos_here
from contractor.tablet.told import read_events
from contractor.visits.models import Appointment


class Changed(Exception):
    """Events came in since they were read: read again."""


@dataclass(slots=True, kw_only=True)
class Facts:
    """A visit, its events and what stands of them, as of ``revision``."""

    appointment: Appointment
    revision: int
    events: Mapping[UUID, TabletEvent]
    received: Mapping[UUID, datetime]
    heads: Heads
    photos: Mapping[str, str]
    people: Mapping[int, User]
    placed: Mapping[str, Any]
    checkup: CheckUp | None
    is_finished: bool
    _items: dict[str, ChecklistItem] = field(default_factory=dict)

    @classmethod
    def read(cls, appointment_id: int) -> "Facts | None":
        """The facts of a visit; None while it has no events."""
        # The revision first: what comes in while the rest is read is then known to be missing from it.
        tablet = TabletVisit.objects.filter(appointment_id=appointment_id).first()
        if tablet is None:
            return None
        rows = list(Event.objects.filter(appointment_id=appointment_id).order_by("received_at", "id"))
        if not rows:
            return None
        events = read_events(rows)
        people = {user.pk: user for user in User.objects.filter(pk__in={row.actor_id for row in rows})}
        desk = frozenset(pk for pk, user in people.items() if user.role != Role.TECHNICIAN)
        heads = heads_of(events, desk=desk)
        appointment = Appointment.objects.select_related("request__system", "technician").get(pk=appointment_id)
        checkup = CheckUp.objects.filter(appointment=appointment).select_related("technician").first()
        return cls(
            appointment=appointment,
            revision=tablet.revision,
            events={event.id: event for event in events},
            received={row.pk: row.received_at for row in rows},
            heads=heads,
            photos=photos_here(standing(heads, "finish")),
            people=people,
            placed=tablet.placed,
            checkup=checkup,
            is_finished=checkup is not None and checkup.finished_at is not None,
        )

    @property
    def first(self) -> TabletEvent:
        """The event with the earliest moment on record."""
        return min(self.events.values(), key=lambda event: (self.moment(event), event.id))

    def moment(self, event: TabletEvent) -> datetime:
        """When an event happened, as it goes on record."""
        return moment_of(event, received_at=self.received[event.id])

    def person(self, event: TabletEvent) -> User:
        """Who typed it."""
        return self.people[event.actor]

    def items(self, checkup: CheckUp) -> Mapping[str, ChecklistItem]:
        """The items of the check-up's list by code."""
        if not self._items:
            self._items = {row.code: row for row in ChecklistItem.objects.filter(checklist_id=checkup.checklist_id)}
        return self._items

    def unwritten(self, events: Iterable[TabletEvent]) -> list[TabletEvent]:
        """Those that are no answers of the check-up."""
        found = list(events)
        written = set(Answer.objects.filter(pk__in=[event.id for event in found]).values_list("pk", flat=True))
        return [event for event in found if event.id not in written]
