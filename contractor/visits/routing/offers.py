"""Days that fit: where one more visit, or one to be moved, goes into a plan that stands."""

from dataclasses import dataclass
from datetime import date

from contractor.visits.routing.ground import ground_of
from contractor.visits.routing.insertion import Insertion, Orders, best_in_shift
from contractor.visits.routing.problem import MINUTE, Plan, Problem
from contractor.visits.routing.reasons import chances


@dataclass(frozen=True, slots=True, kw_only=True)
class Offer:
    """A day and time at which a visit fits, in seconds after midnight, and the driving it adds, in minutes."""

    technician: str
    day: date
    start: int
    end: int
    added_driving_minutes: float


def offers(problem: Problem, plan: Plan, job: str, *, most: int = 5) -> list[Offer]:
    """The days on which a visit of the problem fits, the cheapest first, the best technician of each day.

    Everybody else keeps day, technician and order; hours and breaks stay possible. A visit that is in the plan is taken
    out first, so its own day is offered too. Nothing when it fits nowhere or is unknown.
    """
    ground = ground_of(problem)
    wanted = ground.jobs.get(job)
    if wanted is None:
        return []
    orders: Orders = {
        (round_.technician, round_.day): [stop.job for stop in round_.stops if stop.job != job]
        for round_ in plan.rounds
    }
    best: dict[date, Insertion] = {}
    for shift in chances(ground, wanted):
        way = best_in_shift(ground, orders.get(shift.key, []), wanted, shift)
        if way is not None and (shift.day not in best or way.cost < best[shift.day].cost):
            best[shift.day] = way
    cheapest = sorted(best.values(), key=lambda way: (way.cost, way.key[1]))[:most]
    return [
        Offer(
            technician=way.key[0],
            day=way.key[1],
            start=stop.start,
            end=stop.end,
            added_driving_minutes=way.detour / MINUTE,
        )
        for way in cheapest
        for stop in way.round_.stops
        if stop.job == job
    ]
