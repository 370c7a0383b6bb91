"""Who works when between two days, as the planner of visits takes it."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from contractor.accounts.models import User
from contractor.accounts.queries import the_company
from contractor.properties.positions import KnownPosition, position_of_yard
from contractor.visits.models import CompanyDay, Leave, OwnDay, WorkingPattern
from contractor.visits.routing.problem import Break, Position, Shift, Technician, seconds_after_midnight
from contractor.visits.working import (
    NO_HOURS,
    Away,
    CompanyRule,
    Own,
    Span,
    Week,
    closed_because,
    hours_on,
    public_between,
)

ROUGH_YARD = (
    "The company's yard has no position of its own; rounds begin at the middle of its ZIP code. Set it on the company "
    "page."
)
NO_YARD = "The company's yard has no position"
Cell = tuple[str, date]


@dataclass(frozen=True, slots=True, kw_only=True)
class Staffing:
    """Technicians and their shifts in order of day and technician, why the others are off, and what to know."""

    technicians: tuple[Technician, ...]
    shifts: tuple[Shift, ...]
    off: dict[Cell, str]
    cautions: tuple[str, ...]
    names: dict[str, str]


def shifts_between(first: date, last: date, technicians: Iterable[User] | None = None) -> list[Shift]:
    """The shifts between two days, both included; of all active technicians unless some are given."""
    return list(staffing_between(first, last, technicians=technicians).shifts)


def staffing_between(first: date, last: date, technicians: Iterable[User] | None = None) -> Staffing:
    """Who works when between two days, both included, and in a few words why somebody does not.

    A technician's skills are those that hold on all the days. Seven queries, however many technicians and days; six
    when the technicians are given.
    """
    people = list(User.objects.technicians() if technicians is None else technicians)
    company = the_company()
    yard = position_of_yard(company)
    known = _Known.read(people, first, last)
    company_days = {
        row.on: CompanyRule(is_closed=row.is_closed, name=row.name)
        for row in CompanyDay.objects.filter(on__gte=first, on__lte=last)
    }
    public = public_between(company.country, company.state, first, last)
    shifts: list[Shift] = []
    off: dict[Cell, str] = {}
    for day in days_between(first, last):
        closed = closed_because(day, company_days=company_days, public=public)
        for person in people:
            found = known.shift(person, day, closed, yard)
            if isinstance(found, Shift):
                shifts.append(found)
            else:
                off[str(person.pk), day] = found
    return Staffing(
        technicians=tuple(
            Technician(id=str(person.pk), skills=known.skills(person, first, last), name=person.name)
            for person in people
        ),
        shifts=tuple(shifts),
        off=off,
        cautions=_cautions(people, known, shifts, off, yard),
        names={str(person.pk): person.name for person in people},
    )


def days_between(first: date, last: date) -> list[date]:
    """Every day from the first to the last, both included."""
    return [first + timedelta(days=number) for number in range((last - first).days + 1)]


@dataclass(frozen=True, slots=True)
class _Known:
    """Everything on record about these people's days."""

    patterns: dict[int, list[WorkingPattern]]
    weeks: dict[int, list[Week]]
    away: dict[int, list[Away]]
    own: dict[tuple[int, date], Own]

    @classmethod
    def read(cls, people: Sequence[User], first: date, last: date) -> "_Known":
        patterns: dict[int, list[WorkingPattern]] = defaultdict(list)
        weeks: dict[int, list[Week]] = defaultdict(list)
        away: dict[int, list[Away]] = defaultdict(list)
        begun = WorkingPattern.objects.filter(technician__in=people, valid_from__lte=last)
        for pattern in begun.prefetch_related("hours").order_by("valid_from"):
            patterns[pattern.technician_id].append(pattern)
            hours = {row.weekday: (row.begins, row.ends) for row in pattern.hours.all()}
            weeks[pattern.technician_id].append(Week(valid_from=pattern.valid_from, hours=hours))
        for leave in Leave.objects.standing().between(first, last).filter(technician__in=people):
            one = Away(first_on=leave.first_on, last_on=leave.last_on, part=leave.part)
            away[leave.technician_id].append(one)
        own = {
            (row.technician_id, row.on): Own(
                hours=(row.begins, row.ends) if row.begins is not None and row.ends is not None else None,
                because=row.because,
            )
            for row in OwnDay.objects.filter(technician__in=people, on__gte=first, on__lte=last)
        }
        return cls(patterns, weeks, away, own)

    def shift(self, person: User, day: date, closed: str, yard: KnownPosition | None) -> Shift | str:
        """The shift of one person on a day, or why there is none."""
        span = hours_on(
            day,
            weeks=self.weeks[person.pk],
            away=self.away[person.pk],
            own=self.own.get((person.pk, day)),
            closed_because=closed,
        )
        if isinstance(span, str):
            return span
        pattern = self._pattern_on(person, day)
        if pattern is None:
            return NO_HOURS
        return _as_shift(pattern, day, span, yard)

    def skills(self, person: User, first: date, last: date) -> frozenset[str]:
        """What somebody can do on every one of these days."""
        in_force = [one for one in (self._pattern_on(person, day) for day in (first, last)) if one is not None]
        in_force += [one for one in self.patterns[person.pk] if first < one.valid_from < last]
        sets = [frozenset(one.skills) for one in in_force]
        return frozenset.intersection(*sets) if sets else frozenset()

    def _pattern_on(self, person: User, day: date) -> WorkingPattern | None:
        return next((one for one in reversed(self.patterns[person.pk]) if one.valid_from <= day), None)


def _as_shift(pattern: WorkingPattern, day: date, span: Span, yard: KnownPosition | None) -> Shift | str:
    start = _place(pattern.start_at, pattern.start_latitude, pattern.start_longitude, yard)
    end = _place(pattern.end_at, pattern.end_latitude, pattern.end_longitude, yard)
    if start is None or end is None:
        return NO_YARD
    return Shift(
        technician=str(pattern.technician_id),
        day=day,
        start=span.begins,
        end=span.ends,
        start_place=start,
        end_place=end,
        rest=_rest(pattern, span),
        room=pattern.room,
    )


def _rest(pattern: WorkingPattern, span: Span) -> Break | None:
    """The break of a day. Half a day has none, for the other half is off; nor has a day that begins after it."""
    if not (pattern.rest_minutes and pattern.rest_from and pattern.rest_until) or span.is_half:
        return None
    latest = seconds_after_midnight(pattern.rest_until)
    if span.begins > latest:
        return None
    return Break(minutes=pattern.rest_minutes, earliest=seconds_after_midnight(pattern.rest_from), latest=latest)


def _place(
    where: str, latitude: float | None, longitude: float | None, yard: KnownPosition | None
) -> Position | None:
    if where == WorkingPattern.Place.COMPANY:
        return Position(yard.latitude, yard.longitude) if yard is not None else None
    return Position(latitude, longitude) if latitude is not None and longitude is not None else None


def _cautions(
    people: Sequence[User],
    known: _Known,
    shifts: Sequence[Shift],
    off: dict[Cell, str],
    yard: KnownPosition | None,
) -> tuple[str, ...]:
    said = [
        f"{person.name}: no working hours given. Give them a usual week on the page of working days."
        for person in people
        if any(key == str(person.pk) and why == NO_HOURS for (key, _), why in off.items())
    ]
    if NO_YARD in off.values():
        said.append("The company's yard has no position, so nobody can begin there. Set it on the company page.")
    uses_yard = any(
        WorkingPattern.Place.COMPANY in {pattern.start_at, pattern.end_at}
        for person in people
        for pattern in known.patterns[person.pk]
    )
    if yard is not None and yard.is_rough and shifts and uses_yard:
        said.append(ROUGH_YARD)
    return tuple(said)
