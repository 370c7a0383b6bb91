"""When a technician works on a day: usual week, leave, days of their own, holidays and the company's days. Pure."""

from calendar import day_name
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, time
from functools import cache
from itertools import groupby

import holidays

from contractor.visits.arrival import clock_in_words
from contractor.visits.routing.problem import seconds_after_midnight

NO_HOURS = "No working hours given"
NOT_THAT_DAY = "Doesn't work that day of the week"
ON_LEAVE = "On leave"
Hours = tuple[time, time]


@dataclass(frozen=True, slots=True, kw_only=True)
class Week:
    """A usual week from a day on: hours by weekday, Monday 0."""

    valid_from: date
    hours: Mapping[int, Hours]


@dataclass(frozen=True, slots=True, kw_only=True)
class Away:
    """Leave; ``part`` is whole, morning or afternoon."""

    first_on: date
    last_on: date
    part: str = "whole"


@dataclass(frozen=True, slots=True, kw_only=True)
class Own:
    """A day with hours of its own; without hours nobody goes out. ``because`` is what the office typed."""

    hours: Hours | None
    because: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CompanyRule:
    """What the company decided about one day."""

    is_closed: bool
    name: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Rest:
    """A break and the span in which it must begin."""

    minutes: int
    earliest: time
    latest: time


@dataclass(frozen=True, slots=True, kw_only=True)
class Depot:
    """Where a day begins or ends: the company's yard, or a place with a position in degrees."""

    at: str = "company"
    name: str = ""
    latitude: float | None = None
    longitude: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """The hours of a day in seconds after midnight; ``is_half`` when leave takes the other half."""

    begins: int
    ends: int
    is_half: bool = False


def hours_on(
    day: date, *, weeks: Iterable[Week], away: Iterable[Away], own: Own | None, closed_because: str
) -> Span | str:
    """The hours of one technician on a day, or why there are none, in a few words.

    Leave comes first; then a day of their own, which may lie on a holiday; then the days on which the company is
    closed; then the usual week. Half a day off ends or begins in the middle of the hours (common practice, no source).
    """
    parts = {one.part for one in away if one.first_on <= day <= one.last_on}
    if "whole" in parts or {"morning", "afternoon"} <= parts:
        return ON_LEAVE
    hours = _before_leave(day, weeks, own, closed_because)
    if isinstance(hours, str):
        return hours
    begins, ends = (seconds_after_midnight(at) for at in hours)
    if not parts:
        return Span(begins=begins, ends=ends)
    middle = (begins + ends) // 2
    if "morning" in parts:
        return Span(begins=middle, ends=ends, is_half=True)
    return Span(begins=begins, ends=middle, is_half=True)


def _before_leave(day: date, weeks: Iterable[Week], own: Own | None, closed_because: str) -> Hours | str:
    if own is not None:
        return own.hours or own.because
    week = week_on(day, weeks)
    if week is None:
        return NO_HOURS
    if closed_because:
        return closed_because
    return week.hours.get(day.weekday()) or NOT_THAT_DAY


def week_in_words(hours: Mapping[int, Hours]) -> list[str]:
    """A usual week, days in a row with the same hours said together: "Monday to Friday, 7:30 AM to 4 PM"."""
    words = []
    # Days in a row are as far from their place in the list as the first of them.
    for _, row in groupby(enumerate(sorted(hours)), key=lambda place: (place[1] - place[0], hours[place[1]])):
        days = [day for _, day in row]
        begins, ends = (clock_in_words(at) for at in hours[days[0]])
        join = " and " if len(days) == 2 else " to "
        words.append(f"{join.join(day_name[day] for day in sorted({days[0], days[-1]}))}, {begins} to {ends}")
    return words


def week_on(day: date, weeks: Iterable[Week]) -> Week | None:
    """The usual week in force on a day: the latest that has begun."""
    begun = [week for week in weeks if week.valid_from <= day]
    return max(begun, key=lambda week: week.valid_from, default=None)


def closed_because(day: date, *, company_days: Mapping[date, CompanyRule], public: Mapping[date, str]) -> str:
    """Why the company is closed on a day: what it decided for itself, else the holiday; empty when it is open."""
    rule = company_days.get(day)
    if rule is not None:
        return (rule.name or public.get(day) or "Closed") if rule.is_closed else ""
    return public.get(day, "")


@cache
def public_holidays(country: str, state: str, year: int) -> Mapping[date, str]:
    """The public holidays of a year where the company is, by the package ``holidays``; of the whole country when the
    state or province is not one of its own. ``state`` may be the postal code or the name."""
    known = holidays.country_holidays(country)
    names = {name.casefold(): code for name, code in known.subdivisions_aliases.items()}
    wanted = state.strip()
    code = wanted.upper() if wanted.upper() in known.subdivisions else names.get(wanted.casefold())
    return dict(holidays.country_holidays(country, subdiv=code, years=year).items())


def public_between(country: str, state: str, first: date, last: date) -> dict[date, str]:
    """The public holidays of every year that two days touch."""
    return {
        day: name
        for year in range(first.year, last.year + 1)
        for day, name in public_holidays(country, state, year).items()
    }
