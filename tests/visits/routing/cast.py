"""A small county for the planner's tests: one road along which minutes are easy to count."""

from datetime import date, timedelta

import numpy as np

from contractor.visits.routing.problem import (
    MINUTE,
    Break,
    Job,
    Place,
    Plan,
    PlanePoint,
    Problem,
    Shift,
    Technician,
    Weights,
    Window,
)

HOUR = 3600
MONDAY = date(2031, 3, 3)
TUESDAY = MONDAY + timedelta(days=1)
WEDNESDAY = MONDAY + timedelta(days=2)
HOME = PlanePoint(0, 0)
LUNCH = Break(minutes=30, earliest=11 * HOUR + 1800, latest=13 * HOUR + 1800)


class CityBlocks:
    """One unit along either street takes a minute."""

    def seconds(self, places: list[Place]) -> np.ndarray:
        points = np.array([(place.x, place.y) for place in places])
        return (np.abs(points[:, None] - points[None, :]).sum(axis=2) * MINUTE).astype(np.int64)

    def cautions(self) -> tuple[str, ...]:
        return ()


def job(name: str, x: float | None = 10, *, minutes: int = 60, **more) -> Job:
    return Job(id=name, position=None if x is None else PlanePoint(x, 0), minutes=minutes, **more)


def window(opens: float, closes: float, *days: date) -> Window:
    return Window(opens=int(opens * HOUR), closes=int(closes * HOUR), days=frozenset(days) or None)


def shift(who: str = "theo", day: date = MONDAY, start: float = 8, end: float = 17, **more) -> Shift:
    return Shift(
        technician=who, day=day, start=int(start * HOUR), end=int(end * HOUR), start_place=HOME, end_place=HOME, **more
    )


def problem(*jobs: Job, shifts: tuple[Shift, ...] | None = None, skills: dict | None = None, **weights) -> Problem:
    shifts = (shift(),) if shifts is None else shifts
    skills = skills or {}
    names = dict.fromkeys([*(each.technician for each in shifts), *skills])
    return Problem(
        jobs=jobs,
        technicians=tuple(Technician(id=name, skills=frozenset(skills.get(name, ()))) for name in names),
        shifts=shifts,
        travel=CityBlocks(),
        weights=Weights(**weights),
    )


def objective(asked: Problem, plan: Plan) -> int:
    """What the plan costs, in seconds of driving, by the weights' own words."""
    where = plan.where()
    cost = sum(round_.driving for round_ in plan.rounds) * asked.weights.driving
    for each in asked.jobs:
        cost += asked.day_price(each, *where[each.id]) if each.id in where else asked.prize(each)
    return cost
