"""What is to be planned: visits, who works when, and what is worth how much.

Clock times are whole seconds after midnight; amounts of work are minutes; days are dates. Contradictions are refused at
once with a sentence. What is merely missing (a position, a duration, a shift) is accepted here and named in the plan.
"""

from collections import Counter
from dataclasses import dataclass, field
from datetime import date, time
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from contractor.visits.routing.errors import NotAPlan

MINUTE = 60
PRIORITIES = 3


def seconds_after_midnight(at: time) -> int:
    """A time of day as the planner counts it."""
    return at.hour * 3600 + at.minute * 60 + at.second


@dataclass(frozen=True, slots=True)
class Position:
    """A point on the earth in degrees (WGS 84)."""

    latitude: float
    longitude: float

    def __post_init__(self) -> None:
        if not (-90 <= self.latitude <= 90 and -180 <= self.longitude <= 180):
            raise NotAPlan(
                f"The position {self.latitude}, {self.longitude} is not on the earth. Give degrees of latitude from "
                "-90 to 90 and of longitude from -180 to 180."
            )


@dataclass(frozen=True, slots=True)
class PlanePoint:
    """A point of a published instance, in the instance's own units of length."""

    x: float
    y: float


Place = Position | PlanePoint


class Travel(Protocol):
    """Tells how long the drive from each place to each takes."""

    def seconds(self, places: list[Place]) -> NDArray[np.int64]:
        """A square table: from the row's place to the column's, in whole seconds."""

    def cautions(self) -> tuple[str, ...]:
        """What somebody who reads the plan should know about these times, one sentence each."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """When work may begin: between two times of day, on these days only (on any day when ``days`` is None)."""

    opens: int
    closes: int
    days: frozenset[date] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Lock:
    """A visit that stays with one technician on one day, and within ``window`` when one was promised."""

    technician: str
    day: date
    window: Window | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """What the owner was told already: another technician or day may be chosen, at a price."""

    technician: str
    day: date


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """A visit wanted. ``priority`` is 0 (ordinary), 1 (soon) or 2 (urgent); ``carry`` is room taken in the van."""

    id: str
    position: Place | None
    minutes: int
    windows: tuple[Window, ...] = ()
    skills: frozenset[str] = frozenset()
    priority: int = 0
    earliest_on: date | None = None
    target_on: date | None = None
    latest_on: date | None = None
    locked_to: Lock | None = None
    told: Told | None = None
    carry: int = 0

    def __post_init__(self) -> None:
        days = [day for day in (self.earliest_on, self.target_on, self.latest_on) if day is not None]
        if days != sorted(days):
            raise NotAPlan(f"Visit {self.id}: its first, wished and last day are out of order. Correct one of them.")
        if not 0 <= self.priority < PRIORITIES:
            raise NotAPlan(f"Visit {self.id}: the priority {self.priority} is unknown. Give 0, 1 or 2.")
        if self.minutes < 0 or self.carry < 0:
            raise NotAPlan(f"Visit {self.id}: neither its minutes nor what is carried can be below nothing.")
        promised = () if self.locked_to is None or self.locked_to.window is None else (self.locked_to.window,)
        for window in (*self.windows, *promised):
            if window.opens > window.closes:
                raise NotAPlan(f"Visit {self.id}: a window closes before it opens. Exchange its two times.")

    def may_be_on(self, day: date) -> bool:
        """Whether a day lies within the first and last day, and is the promised one if one was promised."""
        if self.locked_to is not None:
            return day == self.locked_to.day
        return (self.earliest_on is None or self.earliest_on <= day) and (
            self.latest_on is None or day <= self.latest_on
        )

    def windows_on(self, day: date) -> tuple[Window, ...] | None:
        """When work may begin on a day: windows in order, none of them for any time, or None for not at all."""
        if self.locked_to is not None and self.locked_to.window is not None:
            return (self.locked_to.window,)
        if not self.windows:
            return ()
        fitting = [window for window in self.windows if window.days is None or day in window.days]
        return tuple(sorted(fitting, key=lambda window: (window.opens, window.closes))) or None


@dataclass(frozen=True, slots=True, kw_only=True)
class Break:
    """A rest that must begin between two times of day, when the round is still under way at the later one."""

    minutes: int
    earliest: int
    latest: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Technician:
    """Somebody who can be sent, what they are able to do, and how people call them (by ``id`` without a name)."""

    id: str
    skills: frozenset[str] = frozenset()
    name: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Shift:
    """One technician's working day: from leaving ``start_place`` to being back at ``end_place``.

    ``room`` is how much the van carries, in the unit of ``Job.carry``; None where it never runs out.
    """

    technician: str
    day: date
    start: int
    end: int
    start_place: Place
    end_place: Place
    rest: Break | None = None
    room: int | None = None

    def __post_init__(self) -> None:
        whose = f"The working day of {self.technician} on {self.day:%B} {self.day.day}, {self.day.year}"
        if self.start >= self.end:
            raise NotAPlan(f"{whose} ends before it begins. Correct its hours.")
        if self.rest is not None and (self.rest.minutes <= 0 or self.rest.earliest > self.rest.latest):
            raise NotAPlan(f"{whose}: the break takes no time, or ends its span before it begins. Correct the break.")
        if self.room is not None and self.room < 0:
            raise NotAPlan(f"{whose}: the van can't have room below nothing. Correct it.")

    @property
    def key(self) -> tuple[str, date]:
        return (self.technician, self.day)


@dataclass(frozen=True, slots=True, kw_only=True)
class Weights:
    """What everything is worth, in seconds of driving, so that the office can see and change it.

    ``prizes`` (by priority) and ``prize_due`` (when the last day lies inside the stretch) are what leaving a visit out
    costs. Common practice, no source.
    """

    driving: int = 1
    day_off_target: int = 180
    change_of_day: int = 600
    change_of_technician: int = 300
    prizes: tuple[int, ...] = (3_600, 6_000, 9_000)
    prize_due: int = 36_000
    prize_locked: int = 360_000

    def __post_init__(self) -> None:
        values = (self.driving, self.day_off_target, self.change_of_day, self.change_of_technician)
        if min(*values, *self.prizes, self.prize_due, self.prize_locked) < 0 or len(self.prizes) != PRIORITIES:
            raise NotAPlan("No weight can be below nothing, and each of the three priorities needs its prize.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """A stretch of days to plan. ``working_days`` are the days on which anybody works, in order."""

    jobs: tuple[Job, ...]
    technicians: tuple[Technician, ...]
    shifts: tuple[Shift, ...]
    travel: Travel
    weights: Weights = field(default_factory=Weights)

    def __post_init__(self) -> None:
        for kind, keys in (
            ("visit", [job.id for job in self.jobs]),
            ("technician", [technician.id for technician in self.technicians]),
            ("working day", [f"{shift.technician} on {shift.day.isoformat()}" for shift in self.shifts]),
        ):
            if twice := [key for key, times in Counter(keys).items() if times > 1]:
                raise NotAPlan(f"The {kind} {twice[0]} is given twice. Give it once.")
        known = {technician.id for technician in self.technicians}
        if stranger := next((shift.technician for shift in self.shifts if shift.technician not in known), None):
            raise NotAPlan(f"{stranger} has a working day but is not among the technicians. Add them, or take it out.")

    @property
    def working_days(self) -> tuple[date, ...]:
        return tuple(sorted({shift.day for shift in self.shifts}))

    def is_due(self, job: Job) -> bool:
        """Whether the last day for a visit lies inside this stretch, so that leaving it out is too late."""
        days = self.working_days
        return bool(days) and job.latest_on is not None and job.latest_on <= days[-1]

    def prize(self, job: Job) -> int:
        """What leaving this visit out costs, in seconds of driving."""
        if job.locked_to is not None:
            return self.weights.prize_locked
        return self.weights.prizes[job.priority] + (self.weights.prize_due if self.is_due(job) else 0)

    def day_price(self, job: Job, technician: str, day: date) -> int:
        """What this day and technician cost for a visit beyond the driving, in seconds of driving."""
        price = 0
        if job.target_on is not None:
            price += self.weights.day_off_target * days_off_target(job.target_on, day)
        if job.told is not None:
            price += self.weights.change_of_day * (job.told.day != day)
            price += self.weights.change_of_technician * (job.told.technician != technician)
        return price


def days_off_target(target_on: date, day: date) -> int:
    """How many days from Monday to Friday lie between two days, whichever is the earlier."""
    first, last = sorted((target_on, day))
    return int(np.busday_count(first, last))


@dataclass(frozen=True, slots=True, kw_only=True)
class Stop:
    """One visit in a round, in seconds after midnight. ``driving`` is how long the drive to it takes."""

    job: str
    driving: int
    arrival: int
    start: int
    end: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Round:
    """One technician's day as laid out. ``break_at`` is None when no break is owed or none could be had."""

    technician: str
    day: date
    leaves: int
    stops: tuple[Stop, ...]
    driving_back: int
    back: int
    break_at: int | None = None

    @property
    def driving(self) -> int:
        """All driving of the day, in seconds."""
        return sum(stop.driving for stop in self.stops) + self.driving_back


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """An owner who was told otherwise and must be told again."""

    job: str
    told: Told
    technician: str | None
    day: date | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """Rounds in order of day and technician. ``unplanned`` gives each visit left out its reason, a sentence;
    ``late`` those after their wished day, with the number of working days; ``to_tell`` who must be told."""

    rounds: tuple[Round, ...]
    unplanned: dict[str, str]
    travel_minutes: float
    late: dict[str, int]
    to_tell: tuple[Change, ...]
    cautions: tuple[str, ...] = ()

    def where(self) -> dict[str, tuple[str, date]]:
        """The technician and day of each visit that is planned."""
        return {stop.job: (round_.technician, round_.day) for round_ in self.rounds for stop in round_.stops}
