"""The book between two days as the planner sees it: what is given out, what waits, and how the days lie now."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time
from typing import Any

from django.utils import timezone

from contractor.accounts.models import User
from contractor.core import clock
from contractor.properties.positions import position_of
from contractor.visits import queries
from contractor.visits.models import Appointment, Request
from contractor.visits.routing.problem import (
    MINUTE,
    Job,
    Lock,
    Plan,
    Position,
    Problem,
    Round,
    Told,
    Travel,
    Weights,
    Window,
    days_off_target,
    seconds_after_midnight,
)
from contractor.visits.routing.reasons import day_words
from contractor.visits.routing.times import lay_out
from contractor.visits.rules import parts_carried, priority_of
from contractor.visits.shifts import Staffing, staffing_between
from contractor.visits.travel_server import travel_times

NOT_GIVEN = "Nobody has been given this visit yet."
NO_POSITION = "The house has no position. Give it one, then plan again."
NAMED = 5
DAY_ENDS = seconds_after_midnight(time(23, 59, 59))


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """The book as a problem and as the plan that it is, with what is wrong with the data, one sentence each.

    ``requests`` and ``appointments`` are the rows behind the visits, by their names, ready to show; ``staffing``
    has the technicians' names and why somebody is off.
    """

    problem: Problem
    plan: Plan
    cautions: tuple[str, ...]
    requests: dict[str, Request]
    appointments: dict[str, Appointment]
    staffing: Staffing


def standing_problem(
    first: date,
    last: date,
    *,
    technicians: Iterable[User] | None = None,
    include_unplanned: bool = True,
    travel: Travel | None = None,
    weights: Weights | None = None,
) -> Standing:
    """Everything in the book between two days, both included, as a problem of the planner.

    A visit that the owner confirmed or was promised hours for, and one that has begun, stays where it is; one that is
    only planned may be moved at a price. Standing requests that nobody has been given are wanted when their window
    meets these days, or is past. Bad data are named, never a crash. The same number of queries whatever is in the book.
    """
    people = None if technicians is None else list(technicians)
    staffing = staffing_between(first, last, technicians=people)
    given = queries.appointments_to_show().live().filter(on__gte=first, on__lte=last)
    if people is not None:
        given = given.filter(technician__in=people)
    appointments = {job_id(row.request): row for row in given}
    waiting = list(queries.requests_to_give(until=last)) if include_unplanned else []
    jobs = [_given_job(row) for row in appointments.values()]
    jobs += [_waiting_job(row, first, last) for row in waiting]
    problem = Problem(
        jobs=tuple(jobs),
        technicians=staffing.technicians,
        shifts=staffing.shifts,
        travel=travel or travel_times(),
        weights=weights or Weights(),
    )
    requests = {name: row.request for name, row in appointments.items()} | {job_id(row): row for row in waiting}
    plan = _as_it_stands(problem, appointments, staffing)
    return Standing(
        problem=problem,
        plan=plan,
        cautions=(
            *staffing.cautions,
            *_about_positions(requests.values()),
            *_about_lateness(waiting, first),
        ),
        requests=requests,
        appointments=appointments,
        staffing=staffing,
    )


def job_id(request: Request) -> str:
    """The name of a request in a problem."""
    return f"request:{request.pk}"


def _given_job(appointment: Appointment) -> Job:
    """An appointment: locked when it was confirmed, promised or begun, else only told."""
    request, technician, day = appointment.request, str(appointment.technician_id), appointment.on
    window = _promised(appointment)
    fixed = appointment.state in {Appointment.State.CONFIRMED, Appointment.State.DONE}
    if fixed or window is not None or appointment.begun_at is not None:
        locked, told = Lock(technician=technician, day=day, window=window), None
    else:
        locked, told = None, Told(technician=technician, day=day)
    return Job(
        **_work(request, minutes=_minutes_taken(appointment)),
        priority=priority_of(request.kind, target_on=request.target_on, latest_on=request.latest_on, on=day),
        # The office chose this day, inside the window or not: it is the one to keep close to.
        earliest_on=min(request.earliest_on, day),
        target_on=day,
        latest_on=max(request.latest_on, day),
        locked_to=locked,
        told=told,
    )


def _waiting_job(request: Request, first: date, last: date) -> Job:
    """A request that nobody has been given; past its last day it is to be done in this stretch."""
    priority = priority_of(request.kind, target_on=request.target_on, latest_on=request.latest_on, on=first)
    if request.latest_on < first:
        return Job(**_work(request), priority=priority, earliest_on=first, target_on=first, latest_on=last)
    target_on = request.target_on if request.best_until is None else min(request.target_on, request.best_until)
    return Job(
        **_work(request),
        priority=priority,
        earliest_on=request.earliest_on,
        target_on=max(request.earliest_on, target_on),
        latest_on=request.latest_on,
    )


def _work(request: Request, minutes: int | None = None) -> dict[str, Any]:
    """What has to be done at the house, together with the visits that go along."""
    visits: list[Request] = [request, *request.going_along]  # type: ignore[attr-defined]
    position = position_of(request.system.property)
    return {
        "id": job_id(request),
        "position": None if position is None else Position(position.latitude, position.longitude),
        "minutes": minutes or sum(visit.minutes for visit in visits),
        "skills": frozenset(skill for visit in visits for skill in visit.skills),
        "carry": sum(parts_carried(visit.carry) for visit in visits),
    }


def _promised(appointment: Appointment) -> Window | None:
    """When the visit must begin: as it did, once it has begun; else within the hours that the owner was told."""
    began = _seconds_on_day(appointment, appointment.begun_at)
    if began is not None:
        ended = _seconds_on_day(appointment, appointment.ended_at)
        return Window(opens=began, closes=max(began, DAY_ENDS if ended is None else ended))
    if appointment.arrive_from is None or appointment.arrive_until is None:
        return None
    return Window(
        opens=seconds_after_midnight(appointment.arrive_from), closes=seconds_after_midnight(appointment.arrive_until)
    )


def _minutes_taken(appointment: Appointment) -> int | None:
    began = _seconds_on_day(appointment, appointment.begun_at)
    ended = _seconds_on_day(appointment, appointment.ended_at)
    if appointment.minutes_taken is not None:
        return appointment.minutes_taken
    return None if began is None or ended is None else max(1, round((ended - began) / MINUTE))


def _seconds_on_day(appointment: Appointment, moment: datetime | None) -> int | None:
    """A moment as seconds after midnight of the appointment's day; None when it fell on another day."""
    if moment is None or clock.day_of(moment) != appointment.on:
        return None
    return seconds_after_midnight(timezone.localtime(moment).time())


def _as_it_stands(problem: Problem, appointments: dict[str, Appointment], staffing: Staffing) -> Plan:
    """The plan that the book is: every round in the order of its stops, and why a stop can't be laid out."""
    jobs = {job.id: job for job in problem.jobs}
    working = {shift.key for shift in problem.shifts}
    orders: dict[tuple[date, str], list[str]] = defaultdict(list)
    unplanned: dict[str, str] = {}
    for name, row in sorted(appointments.items(), key=lambda item: (item[1].stop_number, item[1].pk)):
        technician = str(row.technician_id)
        if jobs[name].position is None:
            unplanned[name] = NO_POSITION
        elif (technician, row.on) not in working:
            unplanned[name] = _not_working(row, staffing.off.get((technician, row.on)))
        else:
            orders[row.on, technician].append(name)
    unplanned |= {
        job.id: NOT_GIVEN if job.position is not None else NO_POSITION
        for job in problem.jobs
        if job.id not in appointments
    }
    rounds = tuple(
        lay_out(problem, technician, day, names) for (day, technician), names in sorted(orders.items())
    )
    return Plan(
        rounds=rounds,
        unplanned=unplanned,
        travel_minutes=sum(round_.driving for round_ in rounds) / MINUTE,
        late=_late(rounds, appointments),
        to_tell=(),
        cautions=problem.travel.cautions(),
    )


def _late(rounds: Sequence[Round], appointments: dict[str, Appointment]) -> dict[str, int]:
    return {
        stop.job: days_off_target(wished, round_.day)
        for round_ in rounds
        for stop in round_.stops
        if round_.day > (wished := appointments[stop.job].request.target_on)
    }


def _not_working(appointment: Appointment, why: str | None) -> str:
    name, day = appointment.technician.name, day_words(appointment.on)
    if why is None:
        return f"{name} is no longer among the technicians. Give the visit of {day} to somebody else."
    return f"{name} doesn't go out on {day}: {why}. Give the visit to somebody else."


def _about_positions(requests: Iterable[Request]) -> list[str]:
    nowhere, rough = {}, {}
    for request in requests:
        house = request.system.property
        position = position_of(house)
        if position is None:
            nowhere[house.pk] = house.street_line
        elif position.is_rough:
            rough[house.pk] = house.street_line
    said = []
    if nowhere:
        said.append(f"Without a position, so that no drive can be reckoned: {_listed(nowhere.values())}.")
    if rough:
        said.append(f"Only the middle of the ZIP code is known, so drives are a guess: {_listed(rough.values())}.")
    return said


def _about_lateness(waiting: Iterable[Request], first: date) -> list[str]:
    late = [request.system.property.street_line for request in waiting if request.latest_on < first]
    return [f"Past the last day, and not in the book yet: {_listed(late)}."] if late else []


def _listed(streets: Iterable[str]) -> str:
    every = sorted(streets)
    more = f" and {len(every) - NAMED} more" if len(every) > NAMED else ""
    return ", ".join(every[:NAMED]) + more

