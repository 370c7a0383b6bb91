"""Writes about who works when: usual weeks, leave, days of one's own, and the company's days."""

from collections.abc import Mapping, Sequence
from datetime import date, datetime

from django.db import models, transaction

from contractor.accounts.models import Role, User
from contractor.core import audit
from contractor.core.audit import Actor
from contractor.visits.errors import (
    BreakBackwards,
    HalfOfManyDays,
    HoursBackwards,
    LeaveBackwards,
    LeaveTakenBack,
    LeaveTwice,
    NameMissing,
    NotATechnician,
    NoWorkingDay,
    PlaceWithoutPosition,
    ReasonMissing,
)
from contractor.visits.models import CompanyDay, Leave, OwnDay, WorkingHours, WorkingPattern
from contractor.visits.skills import in_order
from contractor.visits.working import Depot, Hours, Rest

YARD = Depot()


@transaction.atomic
def set_working_pattern(
    *,
    technician_id: int,
    valid_from: date,
    hours: Mapping[int, Hours],
    by: Actor,
    at: datetime,
    rest: Rest | None = None,
    skills: Sequence[str] = (),
    room: int | None = None,
    start: Depot = YARD,
    end: Depot = YARD,
) -> WorkingPattern:
    """Gives a technician a usual week from a day on; one that began on the same day is replaced.

    Raises NotATechnician, NoWorkingDay, HoursBackwards, BreakBackwards or PlaceWithoutPosition.
    """
    technician = _technician(technician_id)
    _check_hours(hours, rest)
    pattern = WorkingPattern.objects.filter(technician=technician, valid_from=valid_from).first()
    before = _shown(pattern) if pattern is not None else None
    pattern = pattern or WorkingPattern(technician=technician, valid_from=valid_from, made_at=at)
    pattern.skills, pattern.room = list(in_order(skills)), room
    pattern.rest_minutes = rest.minutes if rest else None
    pattern.rest_from, pattern.rest_until = (rest.earliest, rest.latest) if rest else (None, None)
    pattern.start_at, pattern.start_name, pattern.start_latitude, pattern.start_longitude = _depot(start, "start")
    pattern.end_at, pattern.end_name, pattern.end_latitude, pattern.end_longitude = _depot(end, "end")
    pattern.save()
    pattern.hours.all().delete()
    WorkingHours.objects.bulk_create(
        WorkingHours(pattern=pattern, weekday=weekday, begins=begins, ends=ends)
        for weekday, (begins, ends) in sorted(hours.items())
    )
    _record(pattern, by=by, at=at, verb="usual week given", before=before, after=_shown(pattern))
    return pattern


@transaction.atomic
def grant_leave(
    *,
    technician_id: int,
    first_on: date,
    last_on: date,
    by: Actor,
    at: datetime,
    part: str = Leave.Part.WHOLE,
    reason: str = "",
) -> Leave:
    """Notes that a technician is away. Appointments in these days stay until somebody moves them.

    Raises NotATechnician, LeaveBackwards, HalfOfManyDays, or LeaveTwice when leave is noted there already.
    """
    technician = _technician(technician_id)
    if first_on > last_on:
        raise LeaveBackwards
    if part != Leave.Part.WHOLE and first_on != last_on:
        raise HalfOfManyDays
    for other in Leave.objects.standing().between(first_on, last_on).filter(technician=technician):
        if Leave.Part.WHOLE in {part, other.part} or part == other.part:
            raise LeaveTwice(other.first_on, other.last_on)
    leave = Leave.objects.create(
        technician=technician, first_on=first_on, last_on=last_on, part=part, reason=reason.strip(), made_at=at
    )
    _record(leave, by=by, at=at, verb="leave noted", after=audit.snapshot(leave))
    return leave


@transaction.atomic
def take_back_leave(*, leave_id: int, by: Actor, at: datetime) -> Leave:
    """Takes leave back: the technician works after all. Raises LeaveTakenBack."""
    leave = Leave.objects.select_for_update().get(pk=leave_id)
    if leave.withdrawn_at is not None:
        raise LeaveTakenBack
    before = audit.snapshot(leave)
    leave.withdrawn_at = at
    leave.save()
    _record(leave, by=by, at=at, verb="leave taken back", before=before, after=audit.snapshot(leave))
    return leave


@transaction.atomic
def set_own_day(
    *, technician_id: int, on: date, hours: Hours | None, because: str, by: Actor, at: datetime
) -> OwnDay:
    """Gives one day hours of its own, or none when nobody can go out; the last word about a day counts.

    Raises NotATechnician, ReasonMissing or HoursBackwards.
    """
    technician = _technician(technician_id)
    if not because.strip():
        raise ReasonMissing
    if hours is not None and hours[0] >= hours[1]:
        raise HoursBackwards
    day = OwnDay.objects.filter(technician=technician, on=on).first()
    before = audit.snapshot(day) if day is not None else None
    day = day or OwnDay(technician=technician, on=on)
    day.begins, day.ends = hours or (None, None)
    day.because, day.made_at = because.strip(), at
    day.save()
    _record(day, by=by, at=at, verb="hours of one day set", before=before, after=audit.snapshot(day))
    return day


@transaction.atomic
def clear_own_day(*, own_day_id: int, by: Actor, at: datetime) -> None:
    """Lets the usual week hold again on a day; nothing happens when it does already."""
    day = OwnDay.objects.select_for_update().filter(pk=own_day_id).first()
    if day is not None:
        _record(day, by=by, at=at, verb="hours of one day taken back", before=audit.snapshot(day), after={})
        day.delete()


@transaction.atomic
def set_company_day(*, on: date, is_closed: bool, name: str, by: Actor, at: datetime) -> CompanyDay:
    """Closes the company on a day, or opens it on a holiday; the last word about a day counts. Raises NameMissing."""
    if not name.strip():
        raise NameMissing
    day = CompanyDay.objects.select_for_update().filter(on=on).first()
    before = audit.snapshot(day) if day is not None else None
    day = day or CompanyDay(on=on)
    day.is_closed, day.name, day.made_at = is_closed, name.strip(), at
    day.save()
    _record(day, by=by, at=at, verb="company day set", before=before, after=audit.snapshot(day))
    return day


@transaction.atomic
def clear_company_day(*, on: date, by: Actor, at: datetime) -> None:
    """Lets the calendar of holidays decide about a day again; nothing happens when it does already."""
    day = CompanyDay.objects.select_for_update().filter(on=on).first()
    if day is not None:
        _record(day, by=by, at=at, verb="company day taken back", before=audit.snapshot(day), after={})
        day.delete()


def _technician(technician_id: int) -> User:
    # The row is locked, so that two people at the desk see each other's leave and weeks.
    people = User.objects.select_for_update()
    technician = people.filter(pk=technician_id, role=Role.TECHNICIAN, is_active=True).first()
    if technician is None:
        raise NotATechnician
    return technician


def _check_hours(hours: Mapping[int, Hours], rest: Rest | None) -> None:
    if not hours:
        raise NoWorkingDay
    if any(begins >= ends for begins, ends in hours.values()):
        raise HoursBackwards
    if rest is not None and (rest.minutes <= 0 or rest.earliest > rest.latest):
        raise BreakBackwards


def _depot(depot: Depot, which: str) -> tuple[str, str, float | None, float | None]:
    if depot.at == WorkingPattern.Place.COMPANY:
        return depot.at, "", None, None
    if depot.latitude is None or depot.longitude is None:
        raise PlaceWithoutPosition(field=f"{which}_position")
    return depot.at, depot.name.strip(), depot.latitude, depot.longitude


def _shown(pattern: WorkingPattern) -> dict[str, object]:
    hours = {str(row.weekday): f"{row.begins:%H:%M}-{row.ends:%H:%M}" for row in pattern.hours.all()}
    return {**audit.snapshot(pattern), "hours": hours}


def _record(
    subject: models.Model,
    *,
    by: Actor,
    at: datetime,
    verb: str,
    after: Mapping[str, object],
    before: Mapping[str, object] | None = None,
) -> None:
    audit.record(by=by, at=at, verb=verb, subject=subject, property_id=None, before=before, after=after)
