"""Reads of the office about tablets: how today's rounds come along, devices, what was set aside, one visit's events."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from django.db.models import Count, Max, Q, QuerySet

from contractor.accounts.models import Role, User
from contractor.checkups.models import ChecklistItem
from contractor.core import clock
from contractor.systems.models import Component
from contractor.tablet.models import OFFICE_DEVICE, Device, Event, PhotoUpload, SetAside, TabletVisit
from contractor.tablet.rules.events import TabletEvent
from contractor.tablet.rules.heads import conflicts_of, heads_of
from contractor.tablet.rules.problems import WAITS
from contractor.tablet.told import read_events
from contractor.tablet.wording import Wording
from contractor.visits.models import Appointment
from contractor.visits.queries import appointments_to_show


@dataclass(frozen=True, slots=True, kw_only=True)
class StopProgress:
    """One stop of today: how far it is in one word with its tone, what has come in, and when last."""

    appointment: Appointment
    tone: str
    word: str
    answers: int
    photos: int
    last_at: datetime | None


def progress_on(*, on: date) -> list[tuple[User, list[StopProgress]]]:
    """The rounds of a day as they come along, by technician."""
    stops = list(appointments_to_show().filter(on=on).filter(Q(state__in=Appointment.LIVE) | Q(tablet__isnull=False)))
    tablets = {row.appointment_id: row for row in TabletVisit.objects.filter(appointment__in=stops)}
    counts = {
        row["appointment_id"]: row
        for row in Event.objects.filter(appointment__in=stops)
        .values("appointment_id")
        .annotate(
            answers=Count("field", filter=Q(kind="answer"), distinct=True),
            photos=Count("field", filter=Q(kind="photo"), distinct=True),
            last=Max("received_at"),
        )
    }
    rounds: dict[int, tuple[User, list[StopProgress]]] = {}
    for stop in stops:
        count: Mapping[str, Any] = counts.get(stop.pk, {})
        tone, word = _how_far(stop, tablets.get(stop.pk), bool(count))
        told = StopProgress(
            appointment=stop,
            tone=tone,
            word=word,
            answers=count.get("answers", 0),
            photos=count.get("photos", 0),
            last_at=count.get("last"),
        )
        rounds.setdefault(stop.technician_id, (stop.technician, []))[1].append(told)
    return list(rounds.values())


def _how_far(stop: Appointment, tablet: TabletVisit | None, has_events: bool) -> tuple[str, str]:
    codes = {problem["code"] for problem in tablet.problems} if tablet else set()
    if tablet is not None and tablet.needs_office:
        return "watch", "Needs you"
    if stop.state == Appointment.State.DONE:
        return "good", "Done"
    if stop.state in {Appointment.State.CANCELLED, Appointment.State.COULD_NOT}:
        return "unknown", stop.get_state_display()
    if WAITS in codes:
        return "water", "Finished, still arriving"
    return ("water", "Under way") if has_events else ("unknown", "Nothing heard yet")


def visits_to_decide() -> QuerySet[TabletVisit]:
    """Visits that stay open until somebody in the office looks at them, the longest waiting first."""
    rows = TabletVisit.objects.filter(needs_office=True).select_related(
        "appointment__request__system__property", "appointment__technician"
    )
    return rows.order_by("last_event_at", "pk")


def devices_to_show() -> QuerySet[Device]:
    """Every tablet, those in use first, with how many keys are good."""
    return Device.objects.select_related("last_person", "revoked_by").order_by("revoked_at", "name", "id")


def set_aside_to_show(*, state: str) -> QuerySet[SetAside]:
    """What was set aside, in one state or in all, alarms first, then the newest."""
    rows = SetAside.objects.select_related("uploaded_by", "decided_by").defer("raw")
    rows = rows.filter(state=state) if state else rows
    return rows.order_by("-is_alarm", "-received_at", "-pk")


@dataclass(frozen=True, slots=True, kw_only=True)
class Side:
    """One side of a conflict, or one line of a visit's story."""

    event: TabletEvent
    about: str
    words: str
    person: User
    device: str
    received_at: datetime
    clock: str
    flags: tuple[str, ...]
    stands: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Conflict:
    """Two or more answers to one field, the one that is shown first in front."""

    field: str
    about: str
    sides: tuple[Side, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitStory:
    """Everything that came in about a visit."""

    appointment: Appointment
    tablet: TabletVisit
    problems: Sequence[Mapping[str, Any]]
    conflicts: tuple[Conflict, ...]
    sides: tuple[Side, ...]
    photos_wanted: int

    @property
    def codes(self) -> set[str]:
        return {str(problem["code"]) for problem in self.problems}


def visit_story(*, appointment: Appointment, tablet: TabletVisit) -> VisitStory:
    """A visit's events in the order in which they came, its conflicts, and why it stays open."""
    rows = {row.pk: row for row in Event.objects.filter(appointment=appointment).order_by("received_at", "id")}
    events = read_events(list(rows.values()))
    people = {user.pk: user for user in User.objects.filter(pk__in={row.actor_id for row in rows.values()})}
    desk = frozenset(pk for pk, user in people.items() if user.role != Role.TECHNICIAN)
    heads = heads_of(events, desk=desk)
    devices = dict(Device.objects.filter(pk__in={row.device_id for row in rows.values()}).values_list("pk", "name"))
    devices[OFFICE_DEVICE] = "the office"
    wording = Wording(
        items=dict(_items(appointment)),
        parts={row.pk: row for row in Component.objects.filter(system_id=appointment.request.system_id)},
    )
    standing = {event.id for found in heads.values() for event in found}
    sides = {
        event.id: Side(
            event=event,
            about=wording.about(event.field),
            words=wording.value(event),
            person=people[event.actor],
            device=devices.get(event.device, "an unknown tablet"),
            received_at=rows[event.id].received_at,
            clock=_clock(event),
            flags=tuple(wording.flag(flag) for flag in rows[event.id].flags),
            stands=event.id in standing,
        )
        for event in events
    }
    conflicts = tuple(
        Conflict(field=field, about=wording.about(field), sides=tuple(sides[event.id] for event in found))
        for field, found in conflicts_of(heads).items()
    )
    problems = [{**problem, "about": wording.about(problem["field"])} for problem in tablet.problems]
    return VisitStory(
        appointment=appointment,
        tablet=tablet,
        problems=problems,
        conflicts=conflicts,
        sides=tuple(sorted(sides.values(), key=lambda side: (side.event.moment, side.event.id))),
        photos_wanted=_photos_wanted(events),
    )


def _photos_wanted(events: Sequence[TabletEvent]) -> int:
    """How many photos were taken and have not come in whole."""
    taken = {event.field.partition(":")[2] for event in events if event.kind == "photo" and event.value is not None}
    return len(taken) - PhotoUpload.objects.filter(pk__in=taken, done_at__isnull=False).count()


def _items(appointment: Appointment) -> list[tuple[str, str]]:
    """Codes and prompts, those of the visit's own edition before all others."""
    checkup = getattr(appointment, "checkup", None)
    rows = ChecklistItem.objects.order_by("checklist__edition").values_list("code", "prompt", "checklist_id")
    found = {code: prompt for code, prompt, _ in rows}
    if checkup is not None:
        found |= {code: prompt for code, prompt, pk in rows if pk == checkup.checklist_id}
    return list(found.items())


def _clock(event: TabletEvent) -> str:
    """What is to be said of the tablet's clock: nothing below two minutes."""
    off = event.clock_off_ms
    if off is None or abs(off) < timedelta(minutes=2).total_seconds() * 1000:
        return ""
    minutes = round(abs(off) / 60_000)
    return f"clock {minutes} min {'fast' if off > 0 else 'slow'}"


def office_counts() -> dict[str, int]:
    """What waits for the office: set aside, and visits to decide."""
    return {"set_aside": SetAside.objects.waiting().count(), "to_decide": visits_to_decide().count()}


def late_devices(*, at: datetime) -> list[Device]:
    """Tablets in use that still keep work and were not heard for a day."""
    quiet = at - timedelta(days=1)
    return list(Device.objects.filter(revoked_at__isnull=True, waiting__gt=0, last_heard_at__lt=quiet))


def grouped_by_day(sides: Sequence[Side]) -> list[tuple[date, list[Side]]]:
    """The lines of a story under the days on which they came."""
    days: dict[date, list[Side]] = defaultdict(list)
    for side in sides:
        days[clock.day_of(side.received_at)].append(side)
    return sorted(days.items())
