"""What a draft says: which visits stand in which rounds in which order, and what is locked or released. Pure."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from contractor.visits.routing.ground import Ground, Key
from contractor.visits.routing.problem import MINUTE, Job, Lock, Plan, Problem, Round, Told, Weights, Window
from contractor.visits.routing.times import laid_out

WHOLE_DAY = (0, 86_400)
# A change costs six times as much as usual when as few as can be are to move: an hour's drive for another day, half
# an hour's for another technician; and leaving one out costs more than that. Common practice, no source.
STEADY = 6


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrangement:
    """Visits by technician and day, in order.

    ``locked`` were fixed on the board where they stand; ``released`` were promised to their owners, and the office
    decided to move them all the same.
    """

    orders: Mapping[Key, tuple[str, ...]]
    locked: frozenset[str] = frozenset()
    released: frozenset[str] = frozenset()

    def where(self, job: str) -> Key | None:
        """The technician and day that a visit stands with."""
        return next((key for key, order in self.orders.items() if job in order), None)

    def without(self, job: str) -> "Arrangement":
        """The same with one visit taken off."""
        orders = {key: tuple(name for name in order if name != job) for key, order in self.orders.items()}
        return replace(self, orders=orders, locked=self.locked - {job})

    def with_job(self, job: str, key: Key, place: int) -> "Arrangement":
        """The same with one visit put into a round before the stop numbered ``place`` (from 0)."""
        out = self.without(job)
        order = list(out.orders.get(key, ()))
        order.insert(place, job)
        return replace(out, orders={**out.orders, key: tuple(order)}, locked=self.locked)

    def as_json(self) -> dict[str, Any]:
        """Plain values to keep in the database, the same for the same arrangement."""
        return {
            "rounds": [
                {"technician": technician, "day": day.isoformat(), "jobs": list(order)}
                for (technician, day), order in sorted(self.orders.items(), key=lambda each: (each[0][1], each[0][0]))
                if order
            ],
            "locked": sorted(self.locked),
            "released": sorted(self.released),
        }

    @classmethod
    def from_json(cls, values: Mapping[str, Any]) -> "Arrangement":
        """An arrangement as it was kept."""
        return cls(
            orders={
                (row["technician"], date.fromisoformat(row["day"])): tuple(row["jobs"]) for row in values["rounds"]
            },
            locked=frozenset(values["locked"]),
            released=frozenset(values["released"]),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Upset:
    """What came up on a day: promises of ``technician`` may be moved; or ``city`` can't be reached, and with neither
    no town at all."""

    day: date
    city: str = ""
    technician: str = ""

    def as_json(self) -> dict[str, str]:
        return {"day": self.day.isoformat(), "city": self.city, "technician": self.technician}

    @classmethod
    def from_json(cls, values: Mapping[str, str]) -> "Upset":
        return cls(day=date.fromisoformat(values["day"]), city=values["city"], technician=values["technician"])


def arrangement_of(
    plan: Plan, *, locked: frozenset[str] = frozenset(), released: frozenset[str] = frozenset()
) -> Arrangement:
    """A plan's rounds as an arrangement."""
    return Arrangement(
        orders={
            (round_.technician, round_.day): tuple(stop.job for stop in round_.stops) for round_ in plan.rounds
        },
        locked=locked,
        released=released,
    )


def steady(problem: Problem) -> Problem:
    """The same problem where moving a visit that an owner knows of costs much more than usual."""
    weights = problem.weights
    return replace(
        problem,
        weights=replace(
            weights,
            change_of_day=weights.change_of_day * STEADY,
            change_of_technician=weights.change_of_technician * STEADY,
            prizes=tuple(prize * STEADY for prize in weights.prizes),
        ),
    )


def upset(problem: Problem, upsets: Iterable[Upset], cities: Mapping[str, str]) -> Problem:
    """The problem after something came up; ``cities`` by visit. What was promised where nobody comes may be moved."""
    away = {(one.technician, one.day) for one in upsets if one.technician}
    shut: dict[str, set[date]] = {}
    for one in upsets:
        for job in problem.jobs:
            if not one.technician and (not one.city or cities.get(job.id) == one.city):
                shut.setdefault(job.id, set()).add(one.day)
    ends = {shift.key: shift.end for shift in problem.shifts}
    days = problem.working_days
    jobs = []
    for job in problem.jobs:
        lock = job.locked_to
        key = None if lock is None else (lock.technician, lock.day)
        freed = let_go(job) if key in away and not _can_be_kept(job, ends.get(key)) else job
        jobs.append(_kept_off(freed, shut[job.id], days) if job.id in shut else freed)
    return replace(problem, jobs=tuple(jobs))


def _can_be_kept(job: Job, day_ends: int | None) -> bool:
    """Whether a promise falls into what is left of a day that ends early."""
    window = None if job.locked_to is None else job.locked_to.window
    return day_ends is not None and window is not None and window.closes + job.minutes * MINUTE <= day_ends


def from_moment(problem: Problem, day: date, second: int, upsets: Iterable[Upset] = ()) -> Problem:
    """The problem where nothing begins on a day before a second after midnight, but for what stands there undisturbed
    and may be under way."""
    days = problem.working_days
    if day not in days:
        return problem
    away = {one.technician for one in upsets if one.day == day and one.technician}
    return replace(
        problem,
        jobs=tuple(
            job if _stands_on(job, day, away) else _later_on(job, day, second, days) for job in problem.jobs
        ),
    )


def _stands_on(job: Job, day: date, away: set[str]) -> bool:
    if job.locked_to is not None:
        return True
    return job.told is not None and job.told.day == day and job.told.technician not in away


def _later_on(job: Job, day: date, second: int, days: Iterable[date]) -> Job:
    others = frozenset(each for each in days if each != day)
    windows = []
    for window in job.windows or (Window(opens=WHOLE_DAY[0], closes=WHOLE_DAY[1]),):
        windows.append(replace(window, days=others if window.days is None else window.days & others))
        if (window.days is None or day in window.days) and window.closes >= second:
            windows.append(replace(window, opens=max(window.opens, second), days=frozenset({day})))
    return replace(job, windows=tuple(windows))


def _kept_off(job: Job, shut: set[date], days: Iterable[date]) -> Job:
    open_days = frozenset(day for day in days if day not in shut)
    windows = job.windows or (Window(opens=WHOLE_DAY[0], closes=WHOLE_DAY[1]),)
    kept = tuple(
        replace(window, days=open_days if window.days is None else window.days & open_days) for window in windows
    )
    lost = job.locked_to is not None and job.locked_to.day in shut
    return replace(let_go(job) if lost else job, windows=kept)


def let_go(job: Job) -> Job:
    """A promised visit that may be moved after all: its owner was told, and must be told again if it is."""
    lock = job.locked_to
    if lock is None:
        return job
    return replace(job, locked_to=None, told=job.told or Told(technician=lock.technician, day=lock.day))


def as_arranged(problem: Problem, arrangement: Arrangement) -> Problem:
    """The problem as the board's user left it: released promises may move, locked visits may not."""
    jobs = []
    for job in problem.jobs:
        changed = let_go(job) if job.id in arrangement.released else job
        key = arrangement.where(job.id) if job.id in arrangement.locked else None
        if key is not None:
            promised = job.locked_to.window if job.locked_to and job.id not in arrangement.released else None
            changed = replace(changed, locked_to=Lock(technician=key[0], day=key[1], window=promised))
        jobs.append(changed)
    return replace(problem, jobs=tuple(jobs))


def rounds_of(ground: Ground, arrangement: Arrangement) -> dict[Key, Round]:
    """Every round of an arrangement laid out in time; a round of somebody who doesn't work that day is left away."""
    return {
        key: laid_out(ground, *key, known)
        for key, order in sorted(arrangement.orders.items(), key=lambda each: (each[0][1], each[0][0]))
        if key in ground.shifts and (known := [name for name in order if _drivable(ground, name)])
    }


def plan_of(ground: Ground, arrangement: Arrangement, left_out: Mapping[str, str]) -> Plan:
    """The arrangement as a plan: what stands in no round is left out, with the reason that is known."""
    rounds = tuple(rounds_of(ground, arrangement).values())
    planned = {stop.job for round_ in rounds for stop in round_.stops}
    return Plan(
        rounds=rounds,
        unplanned={
            job.id: left_out.get(job.id, "") for job in ground.problem.jobs if job.id not in planned
        },
        travel_minutes=sum(round_.driving for round_ in rounds) / MINUTE,
        late={},
        to_tell=(),
    )


def still_there(problem: Problem, arrangement: Arrangement) -> Arrangement:
    """The arrangement without what is no longer to be planned: visits that are gone, days that nobody works."""
    known = {job.id for job in problem.jobs if job.position is not None}
    days = {shift.key for shift in problem.shifts}
    orders = {
        key: tuple(name for name in order if name in known)
        for key, order in arrangement.orders.items()
        if key in days
    }
    placed = {name for order in orders.values() for name in order}
    return Arrangement(
        orders=orders, locked=arrangement.locked & placed, released=arrangement.released & known
    )


def cost_of(problem: Problem, plan: Plan) -> int:
    """What a plan costs by the office's weights, in seconds of driving: for telling the better of two."""
    weights: Weights = problem.weights
    where = plan.where()
    cost = sum(round_.driving for round_ in plan.rounds) * weights.driving
    for job in problem.jobs:
        cost += problem.day_price(job, *where[job.id]) if job.id in where else problem.prize(job)
    return cost


def _drivable(ground: Ground, name: str) -> bool:
    return name in ground.jobs and ground.jobs[name].position is not None
