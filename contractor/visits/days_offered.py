"""Other days for a visit that has an appointment: those on which it fits into the rounds as they stand."""

from dataclasses import dataclass, replace
from datetime import date, time, timedelta

from contractor.properties.positions import position_of
from contractor.visits.arrival import promised
from contractor.visits.invitations import minutes_of
from contractor.visits.models import Appointment
from contractor.visits.routing.offers import Offer, offers
from contractor.visits.routing.problem import Job, Position, Problem
from contractor.visits.rules import parts_carried
from contractor.visits.stretch import job_id, standing_problem

# An owner needs a day to read the message, and nobody plans further than some weeks ahead (common practice, no source).
SOONEST, FURTHEST = timedelta(days=2), timedelta(days=28)
MOST = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class DayOffered:
    """A day with the hours of arrival that would be promised; ``code`` names the day in a form."""

    technician_id: int
    on: date
    arrive_from: time
    arrive_until: time

    @property
    def code(self) -> str:
        """The day as a form sends it."""
        return self.on.isoformat()


def days_offered(appointment: Appointment, *, on: date) -> tuple[DayOffered, ...]:
    """The days that fit, soonest first; not the day that it has now, and none when the rounds are full.

    The days lie in the visit's own window; once that is over, in the next weeks.
    """
    request = appointment.request
    first, furthest = on + SOONEST, on + FURTHEST
    last = min(max(request.latest_on, first), furthest) if request.latest_on >= first else furthest
    first = min(max(first, request.earliest_on), last)
    standing = standing_problem(first, last, include_unplanned=False)
    name = job_id(request)
    problem = _with(standing.problem, _free(appointment, name, first, last))
    day_begins = {shift.key: shift.start for shift in problem.shifts}
    found = [
        _offered(offer, day_begins[offer.technician, offer.day])
        for offer in offers(problem, standing.plan, name, most=MOST + 1)
        if offer.day != appointment.on
    ]
    return tuple(sorted(found[:MOST], key=lambda day: day.on))


def _offered(offer: Offer, day_begins: int) -> DayOffered:
    arrive_from, arrive_until = promised(offer.start, day_begins)
    return DayOffered(
        technician_id=int(offer.technician), on=offer.day, arrive_from=arrive_from, arrive_until=arrive_until
    )


def _with(problem: Problem, job: Job) -> Problem:
    others = [other for other in problem.jobs if other.id != job.id]
    return replace(problem, jobs=(*others, job))


def _free(appointment: Appointment, name: str, first: date, last: date) -> Job:
    """The visit without its promise, so that it may go anywhere in its window, but close to the day that it has."""
    request = appointment.request
    visits = [request, *request.along.filter(withdrawn_at__isnull=True)]
    position = position_of(request.system.property)
    return Job(
        id=name,
        position=None if position is None else Position(position.latitude, position.longitude),
        minutes=minutes_of(appointment),
        skills=frozenset(skill for visit in visits for skill in visit.skills),
        carry=sum(parts_carried(visit.carry) for visit in visits),
        earliest_on=first,
        target_on=min(max(appointment.on, first), last),
        latest_on=last,
    )
