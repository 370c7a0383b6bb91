"""Reads about requests, appointments and rounds."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import Prefetch, QuerySet

from contractor.accounts.models import User
from contractor.properties.models import Ownership
from contractor.visits.models import Appointment, Request


def requests_wanting() -> QuerySet[Request]:
    """Standing requests with house, owner and appointment ready to show, most pressing first."""
    return (
        Request.objects.wanting()
        .select_related("system__property")
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
        )
        .order_by("latest_on", "pk")
    )


def round_of(*, technician: User, on: date) -> list[Appointment]:
    """The live stops of one technician on one day, in order, with house and present owner."""
    return list(_stops().filter(technician=technician, on=on))


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
    """A working week: the days, and a row of cells for each technician."""

    days: tuple[date, ...]
    rows: tuple[tuple[User, tuple[RoundDay, ...]], ...]


def week_of(*, on: date) -> Week:
    """The Monday-to-Saturday week around a day, for every active technician."""
    monday = on - timedelta(days=on.weekday())
    days = tuple(monday + timedelta(days=offset) for offset in range(6))
    by_cell: dict[tuple[int, date], list[Appointment]] = defaultdict(list)
    for stop in _stops().filter(on__gte=days[0], on__lte=days[-1]):
        by_cell[stop.technician_id, stop.on].append(stop)
    technicians = list(User.objects.technicians())
    rows = tuple(
        (
            technician,
            tuple(RoundDay(technician=technician, on=day, stops=tuple(by_cell[technician.pk, day])) for day in days),
        )
        for technician in technicians
    )
    return Week(days=days, rows=rows)


def loads_near(*, on: date, days: int = 10) -> list[RoundDay]:
    """What each technician has already on the working days from a day on, for choosing one."""
    last = on + timedelta(days=days)
    by_cell: dict[tuple[int, date], list[Appointment]] = defaultdict(list)
    for stop in _stops().filter(on__gte=on, on__lte=last):
        by_cell[stop.technician_id, stop.on].append(stop)
    technicians = list(User.objects.technicians())
    return [
        RoundDay(technician=technician, on=day, stops=tuple(by_cell[technician.pk, day]))
        for day in (on + timedelta(days=offset) for offset in range(days + 1))
        for technician in technicians
        if by_cell.get((technician.pk, day))
    ]


def _stops() -> QuerySet[Appointment]:
    return (
        Appointment.objects.live()
        .select_related("request__system__property", "technician")
        .prefetch_related(
            Prefetch(
                "request__system__property__ownerships",
                queryset=Ownership.objects.open_ended().select_related("person"),
                to_attr="present_ownerships",
            )
        )
        .order_by("on", "technician__name", "stop_number", "pk")
    )
