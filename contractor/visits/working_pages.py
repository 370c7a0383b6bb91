"""Reads for the pages about who works when."""

from calendar import Calendar
from collections import defaultdict
from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import Prefetch

from contractor.accounts.models import User
from contractor.accounts.queries import the_company
from contractor.visits.models import Appointment, CompanyDay, Leave, OwnDay, WorkingHours, WorkingPattern
from contractor.visits.queries import appointments_to_show
from contractor.visits.skills import in_words
from contractor.visits.working import CompanyRule, closed_because, public_between

OPEN = (Appointment.State.PLANNED, Appointment.State.CONFIRMED)
SATURDAY = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class LeaveAhead:
    """Leave that is not over, with the appointments that stand in it."""

    leave: Leave
    appointments: tuple[Appointment, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkingDays:
    """Everything that the page of one technician's working days shows."""

    pattern: WorkingPattern | None
    coming: tuple[WorkingPattern, ...]
    skills: tuple[str, ...]
    leaves: tuple[LeaveAhead, ...]
    own_days: tuple[OwnDay, ...]


def patterns_with_hours() -> "Prefetch[str]":
    """Usual weeks of people, the latest first, with their hours."""
    hours = Prefetch("hours", queryset=WorkingHours.objects.order_by("weekday"))
    return Prefetch(
        "working_patterns", queryset=WorkingPattern.objects.order_by("-valid_from").prefetch_related(hours)
    )


def technicians_at_work(*, on: date) -> list[User]:
    """Active technicians with their usual week on a day (``week``) and the leave that is ahead (``ahead``)."""
    leaves = Leave.objects.standing().filter(last_on__gte=on).order_by("first_on")
    people = list(
        User.objects.technicians().prefetch_related(
            patterns_with_hours(), Prefetch("leaves", queryset=leaves, to_attr="ahead")
        )
    )
    for person in people:
        person.week = _in_force(list(person.working_patterns.all()), on)  # type: ignore[attr-defined]
    return people


def working_days(*, technician: User, on: date) -> WorkingDays:
    """The working days of one technician as of a day. Six queries."""
    hours = Prefetch("hours", queryset=WorkingHours.objects.order_by("weekday"))
    patterns = list(technician.working_patterns.order_by("-valid_from").prefetch_related(hours))
    pattern = _in_force(patterns, on)
    leaves = list(Leave.objects.standing().filter(technician=technician, last_on__gte=on).order_by("first_on", "pk"))
    given = [
        row
        for row in appointments_to_show().filter(technician=technician, state__in=OPEN, on__gte=on)
        if any(leave.first_on <= row.on <= leave.last_on for leave in leaves)
    ]
    return WorkingDays(
        pattern=pattern,
        coming=tuple(reversed([one for one in patterns if one.valid_from > on])),
        skills=tuple(in_words(pattern.skills)) if pattern is not None else (),
        leaves=tuple(
            LeaveAhead(
                leave=leave,
                appointments=tuple(row for row in given if leave.first_on <= row.on <= leave.last_on),
            )
            for leave in leaves
        ),
        own_days=tuple(OwnDay.objects.filter(technician=technician, on__gte=on).order_by("on")),
    )


def _in_force(patterns: list[WorkingPattern], on: date) -> WorkingPattern | None:
    return next((one for one in patterns if one.valid_from <= on), None)


@dataclass(frozen=True, slots=True, kw_only=True)
class CalendarDay:
    """A day of the year: why the company is closed (empty when it is not), and what makes it a day of its own."""

    on: date
    closed: str
    holiday: str
    rule: CompanyDay | None

    @property
    def is_weekend(self) -> bool:
        return self.on.weekday() >= SATURDAY


@dataclass(frozen=True, slots=True, kw_only=True)
class Month:
    """A month as weeks of days; None stands for a day of another month."""

    first: date
    weeks: tuple[tuple[CalendarDay | None, ...], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class CompanyYear:
    """The year of the company: months to look at, and the days to decide about."""

    months: tuple[Month, ...]
    special: tuple[CalendarDay, ...]
    region: str


def company_year(*, year: int) -> CompanyYear:
    """Holidays of the company's region and its own days in a year. Two queries."""
    company = the_company()
    first, last = date(year, 1, 1), date(year, 12, 31)
    public = public_between(company.country, company.state, first, last)
    rows = {row.on: row for row in CompanyDay.objects.filter(on__gte=first, on__lte=last)}
    rules = {on: CompanyRule(is_closed=row.is_closed, name=row.name) for on, row in rows.items()}
    days: dict[int, list[CalendarDay]] = defaultdict(list)
    for number in range((last - first).days + 1):
        on = first + timedelta(days=number)
        days[on.month].append(
            CalendarDay(
                on=on,
                closed=closed_because(on, company_days=rules, public=public),
                holiday=public.get(on, ""),
                rule=rows.get(on),
            )
        )
    return CompanyYear(
        months=tuple(_month(year, month, days[month]) for month in range(1, 13)),
        special=tuple(day for month in range(1, 13) for day in days[month] if day.holiday or day.rule),
        region=f"{company.state}, {company.get_country_display()}" if company.state else company.get_country_display(),
    )


def _month(year: int, month: int, days: list[CalendarDay]) -> Month:
    weeks = Calendar().monthdayscalendar(year, month)
    return Month(
        first=date(year, month, 1),
        weeks=tuple(tuple(days[number - 1] if number else None for number in week) for week in weeks),
    )
