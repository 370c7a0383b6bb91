"""Reads about requests, appointments and rounds."""

import hashlib
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from django.db.models import Exists, OuterRef, Prefetch, Q, QuerySet, Subquery
from django.db.models.functions import Coalesce

from contractor.accounts.models import Role, User
from contractor.properties.models import Ownership, Property
from contractor.systems.models import System
from contractor.visits.durations import Duration, duration, parts_key
from contractor.visits.errors import AlreadyDone, NotWantedAnyMore
from contractor.visits.models import Appointment, AppointmentQuerySet, Request, VisitKind
from contractor.visits.owner_tables import CalendarFeed, OwnerWish

SUNDAY = 6
# Visits on which the whole checklist is walked; the newest of them say how long it takes.
WALKED = (VisitKind.CHECKUP, VisitKind.TRANSFER, VisitKind.REINSTATEMENT)
NEWEST = 50


def requests_wanting() -> QuerySet[Request]:
    """Standing requests with house, owner and appointment ready to show, most pressing first."""
    return _ready_to_show(Request.objects.wanting())


def requests_to_give(*, until: date) -> QuerySet[Request]:
    """Standing requests that nobody has been given yet and whose window opens by a day, most pressing first."""
    return _ready_to_show(Request.objects.without_appointment().filter(earliest_on__lte=until))


def systems_to_visit(*, typed: str) -> list[System]:
    """At most twenty systems whose house, owner or telephone holds every word typed, by street; none for no words.

    Each has ``present_ownerships`` on its house.
    """
    words = typed.split()
    if not words:
        return []
    wanted = Q()
    for word in words:
        wanted &= (
            Q(street__icontains=word)
            | Q(city__icontains=word)
            | Q(postcode__istartswith=word)
            | Q(ownerships__person__name__icontains=word, ownerships__until_on__isnull=True)
            | Q(ownerships__person__phone__icontains=word, ownerships__until_on__isnull=True)
        )
    houses = Property.objects.filter(wanted).values("pk")
    owners = Ownership.objects.open_ended().select_related("person")
    systems = System.objects.filter(property__in=houses).select_related("property")
    present = Prefetch("property__ownerships", queryset=owners, to_attr="present_ownerships")
    return list(systems.prefetch_related(present).order_by("property__by_street", "pk")[:20])


def request_to_give(*, request_id: int) -> Request:
    """One standing request, ready to show.

    Raises Request.DoesNotExist, NotWantedAnyMore, or AlreadyDone.
    """
    request = _ready_to_show(Request.objects.all()).get(pk=request_id)
    if request.withdrawn_at is not None:
        raise NotWantedAnyMore(request.withdrawn_because)
    if any(appointment.state == Appointment.State.DONE for appointment in request.live_appointments):  # type: ignore[attr-defined]
        raise AlreadyDone
    return request


def _ready_to_show(requests: QuerySet[Request]) -> QuerySet[Request]:
    return (
        requests.select_related("system__property")
        .prefetch_related(
            Prefetch(
                "system__property__ownerships",
                queryset=Ownership.objects.open_ended().select_related("person"),
                to_attr="present_ownerships",
            ),
            Prefetch(
                "appointments",
                queryset=Appointment.objects.live().select_related("technician"),
                to_attr="live_appointments",
            ),
            _going_along("along"),
        )
        .order_by("latest_on", "pk")
    )


def _going_along(path: str) -> Any:
    """What goes along on a trip, as ``going_along`` of the request that is given out."""
    return Prefetch(path, queryset=Request.objects.filter(withdrawn_at__isnull=True), to_attr="going_along")


def raised_before(*, prefix: str, systems: Iterable[int]) -> dict[str, list[Request]]:
    """Requests of these systems whose occasion begins so, by occasion without its number, the oldest first.

    Each has ``done_on``, the day on which it was done by its own appointment or by the one it went along with, and
    ``live_on``, the day it is given out for.
    """
    done = Appointment.objects.filter(state=Appointment.State.DONE)
    live = Appointment.objects.filter(state__in=(Appointment.State.PLANNED, Appointment.State.CONFIRMED))
    rows = Request.objects.filter(system__in=systems, occasion__startswith=prefix).annotate(
        done_on=Coalesce(
            Subquery(done.filter(request=OuterRef("pk")).values("on")[:1]),
            Subquery(done.filter(request=OuterRef("goes_with")).values("on")[:1]),
        ),
        live_on=Subquery(live.filter(request=OuterRef("pk")).values("on")[:1]),
    )
    found: dict[str, list[Request]] = defaultdict(list)
    for row in rows.order_by("pk"):
        found[row.occasion.partition("#")[0]].append(row)
    return found


def checkup_durations(parts: Iterable[Sequence[str]]) -> dict[str, Duration]:
    """How long a check-up takes for each of these sets of part kinds, by ``parts_key``; one query for all of them.

    Only the newest visits of each set count, so that the figure follows how people work now.
    """
    sets = {parts_key(kinds): kinds for kinds in parts}
    past: dict[str, list[tuple[datetime, datetime]]] = defaultdict(list)
    done = Appointment.objects.filter(
        parts_key__in=sets,
        state=Appointment.State.DONE,
        request__kind__in=WALKED,
    )
    for key, begun_at, ended_at in done.order_by("-on", "-pk").values_list("parts_key", "begun_at", "ended_at"):
        if begun_at is not None and ended_at is not None and len(past[key]) < NEWEST:
            past[key].append((begun_at, ended_at))
    return {key: duration(kinds, past[key]) for key, kinds in sets.items()}


def round_of(*, technician: User, on: date) -> list[Appointment]:
    """The live stops of one technician on one day, in order, with house and present owner."""
    return list(appointments_to_show().live().filter(technician=technician, on=on))


def next_visit(*, property_id: int, on: date) -> Appointment | None:
    """The next appointment at a house that is not done yet."""
    return (
        Appointment.objects.filter(
            request__system__property_id=property_id,
            on__gte=on,
            state__in=(Appointment.State.PLANNED, Appointment.State.CONFIRMED),
        )
        .select_related("request__system", "technician")
        .order_by("on", "stop_number")
        .first()
    )


def has_a_visit(*, technician: User, property_id: int) -> bool:
    """Whether this technician was given a visit at a house that is still to be done, or has begun one."""
    return Appointment.objects.filter(
        technician=technician,
        request__system__property_id=property_id,
        state__in=(Appointment.State.PLANNED, Appointment.State.CONFIRMED),
    ).exists()


@dataclass(frozen=True, slots=True, kw_only=True)
class RoundDay:
    """One technician's stops on one day, as a cell of the week."""

    technician: User
    on: date
    stops: tuple[Appointment, ...]

    @property
    def minutes(self) -> int:
        """Minutes at the houses; driving is not counted."""
        return sum(stop.request.minutes for stop in self.stops)


@dataclass(frozen=True, slots=True, kw_only=True)
class Week:
    """A week: its days, and a row of cells for each technician."""

    days: tuple[date, ...]
    rows: tuple[tuple[User, tuple[RoundDay, ...]], ...]


def week_of(*, on: date) -> Week:
    """The week around a day, from Monday: to Saturday, and to Sunday when somebody has a stop on it.

    A row for every active technician, and for whoever else has a stop in it, so that no visit is out of sight.
    """
    monday = on - timedelta(days=on.weekday())
    by_cell: dict[tuple[int, date], list[Appointment]] = defaultdict(list)
    for stop in appointments_to_show().live().filter(on__gte=monday, on__lt=monday + timedelta(days=7)):
        by_cell[stop.technician_id, stop.on].append(stop)
    works_sunday = any(day.weekday() == SUNDAY for _, day in by_cell)
    days = tuple(monday + timedelta(days=offset) for offset in range(7 if works_sunday else 6))
    technicians = list(
        people_with_rounds().filter(Q(is_active=True, role=Role.TECHNICIAN) | Q(pk__in={pk for pk, _ in by_cell}))
    )
    rows = tuple(
        (
            technician,
            tuple(RoundDay(technician=technician, on=day, stops=tuple(by_cell[technician.pk, day])) for day in days),
        )
        for technician in technicians
    )
    return Week(days=days, rows=rows)


def people_with_rounds() -> QuerySet[User]:
    """Whoever has a round to look at: active technicians, and those who have left or changed with stops of theirs."""
    has_stops = Exists(Appointment.objects.filter(technician=OuterRef("pk")))
    return User.objects.filter(Q(is_active=True, role=Role.TECHNICIAN) | has_stops).order_by("name", "pk")


def loads_near(*, on: date, days: int = 10) -> list[RoundDay]:
    """What each technician has already on the working days from a day on, for choosing one."""
    last = on + timedelta(days=days)
    by_cell: dict[tuple[int, date], list[Appointment]] = defaultdict(list)
    for stop in appointments_to_show().live().filter(on__gte=on, on__lte=last):
        by_cell[stop.technician_id, stop.on].append(stop)
    technicians = list(User.objects.technicians())
    return [
        RoundDay(technician=technician, on=day, stops=tuple(by_cell[technician.pk, day]))
        for day in (on + timedelta(days=offset) for offset in range(days + 1))
        for technician in technicians
        if by_cell.get((technician.pk, day))
    ]


def appointments_to_show() -> AppointmentQuerySet:
    """Appointments in any state with house, present owner and technician ready to show, in the order of the rounds."""
    return (
        Appointment.objects.select_related("request__system__property", "technician")
        .prefetch_related(
            Prefetch(
                "request__system__property__ownerships",
                queryset=Ownership.objects.open_ended().select_related("person"),
                to_attr="present_ownerships",
            ),
            _going_along("request__along"),
        )
        .order_by("on", "technician__name", "stop_number", "pk")
    )


def wishes_waiting() -> QuerySet[OwnerWish]:
    """What owners ask and nobody has dealt with yet, the one who has waited longest first."""
    waiting = OwnerWish.objects.filter(settled_at__isnull=True)
    return waiting.select_related("ownership__person", "appointment__request__system__property").order_by(
        "said_at", "pk"
    )


# What a calendar shows: what was, for a fortnight, and what will be as far as anybody plans.
FEED_BACK, FEED_AHEAD = timedelta(days=14), timedelta(days=120)


def reader_of_feed(token: str) -> User | None:
    """Whose calendar address this is; None when it is unknown or shut, or its reader has left."""
    known = CalendarFeed.objects.filter(
        token_sha256=hashlib.sha256(token.encode()).hexdigest(), revoked_at__isnull=True, user__is_active=True
    )
    feed = known.select_related("user").first()
    return feed.user if feed is not None else None


def sees_own_only(user: User) -> bool:
    """Whether somebody sees their own visits and nobody else's."""
    return user.role == Role.TECHNICIAN


def stops_for_feed(user: User, *, on: date) -> list[Appointment]:
    """The visits that somebody may see, around a day, ready for a calendar; those called off are simply gone."""
    stops = Appointment.objects.live().visible_to(user).filter(on__gte=on - FEED_BACK, on__lte=on + FEED_AHEAD)
    return list(
        stops.select_related("request__system__property", "technician")
        .prefetch_related(_going_along("request__along"))
        .order_by("on", "stop_number", "pk")
    )
