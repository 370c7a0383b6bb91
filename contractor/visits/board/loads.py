"""What a van must carry for a day, and a round as it is printed and as its technician sees it for a week."""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from contractor.accounts.models import User
from contractor.properties.models import Person
from contractor.visits.board.faults import clock_words, span_words
from contractor.visits.board.queries import Book, read_book
from contractor.visits.models import Appointment, Request
from contractor.visits.routing.problem import Round, Stop
from contractor.visits.stretch import job_id

WEEK_DAYS = 7


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One thing to load: how often, and for the stops with these numbers."""

    name: str
    times: int
    stops: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintedStop:
    """One stop as it stands on paper. ``arrives`` is empty when no drive there can be reckoned."""

    number: int
    appointment: Appointment
    owner: Person | None
    visits: tuple[Request, ...]
    parts: tuple[str, ...]
    arrives: str
    driving_minutes: int


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintedRound:
    """One technician's day on paper: the load, then the stops in order."""

    technician: User
    day: date
    leaves: str
    back: str
    driving: str
    load: tuple[Part, ...]
    stops: tuple[PrintedStop, ...]


def parts_of(carry: str) -> tuple[str, ...]:
    """The things that a note of what to bring along names, as ``visits.rules.parts_carried`` counts them."""
    listed = re.split(r"[;\n]", carry)
    return tuple(part[0].upper() + part[1:] for each in listed if (part := " ".join(each.split()).rstrip(".")))


def load_of(parts_by_stop: Iterable[tuple[int, Sequence[str]]]) -> tuple[Part, ...]:
    """The load of a day: the same thing once with its count, however it is capitalised, in the order of the stops."""
    found: dict[str, tuple[str, list[int]]] = {}
    for number, parts in parts_by_stop:
        for part in parts:
            found.setdefault(part.casefold(), (part, []))[1].append(number)
    return tuple(
        Part(name=name, times=len(numbers), stops=tuple(sorted(set(numbers)))) for name, numbers in found.values()
    )


def printed_rounds(first_on: date, last_on: date, *, technician: User | None = None) -> list[PrintedRound]:
    """Every round of some days in order of day and technician, from the book; of one technician if one is given."""
    book = read_book(first_on, last_on, include_unplanned=False)
    laid_out = {(round_.technician, round_.day): round_ for round_ in book.plan.rounds}
    stops: dict[tuple[date, str, int], list[Appointment]] = {}
    for appointment in book.standing.appointments.values():
        who = appointment.technician
        if technician is None or who.pk == technician.pk:
            stops.setdefault((appointment.on, who.name, who.pk), []).append(appointment)
    return [
        _printed(book, sorted(each, key=lambda stop: (stop.stop_number, stop.pk)), laid_out.get((str(pk), day)))
        for (day, _, pk), each in sorted(stops.items(), key=lambda item: item[0])
    ]


def week_from(day: date) -> tuple[date, date]:
    """Monday to Sunday of the week around a day."""
    monday = day - timedelta(days=day.weekday())
    return monday, monday + timedelta(days=WEEK_DAYS - 1)


def _printed(book: Book, appointments: Sequence[Appointment], round_: Round | None) -> PrintedRound:
    reckoned = {stop.job: stop for stop in round_.stops} if round_ is not None else {}
    stops = tuple(
        _stop(number, appointment, reckoned.get(job_id(appointment.request)))
        for number, appointment in enumerate(appointments, start=1)
    )
    return PrintedRound(
        technician=appointments[0].technician,
        day=appointments[0].on,
        leaves=clock_words(round_.leaves) if round_ is not None else "",
        back=clock_words(round_.back) if round_ is not None else "",
        driving=span_words(round_.driving) if round_ is not None else "",
        load=load_of((stop.number, stop.parts) for stop in stops),
        stops=stops,
    )


def _stop(number: int, appointment: Appointment, reckoned: Stop | None) -> PrintedStop:
    request = appointment.request
    visits: tuple[Request, ...] = (request, *request.going_along)  # type: ignore[attr-defined]
    ownerships = request.system.property.present_ownerships  # type: ignore[attr-defined]
    return PrintedStop(
        number=number,
        appointment=appointment,
        owner=ownerships[0].person if ownerships else None,
        visits=visits,
        parts=tuple(part for visit in visits for part in parts_of(visit.carry)),
        arrives=clock_words(reckoned.arrival) if reckoned is not None else "",
        driving_minutes=-(-reckoned.driving // 60) if reckoned is not None else 0,
    )
