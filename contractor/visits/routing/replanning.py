"""A plan anew after something broke: a technician is ill, a van stands still, a day is closed by snow."""

from dataclasses import replace

from contractor.visits.routing.ground import ground_of
from contractor.visits.routing.planning import plan
from contractor.visits.routing.problem import Plan, Problem, Told
from contractor.visits.routing.reasons import chances

URGENT = 2
# Times the ordinary price of another day or technician: measured to move 7 to 16 of 300 owners for a sick day of three
# to five visits, where the ordinary price moves up to 48 for a few minutes of driving.
STEADINESS = 6


def steadied(problem: Problem) -> Problem:
    """The stretch as it is now, in which every owner who was told a day is to be moved only where it can't be helped.

    A promise that can't be kept any more is released: its visit becomes urgent, and may go to another day or technician
    at the price of moving its owner. A plan is to be checked against this, not against promises that nobody can keep.
    """
    ground = ground_of(problem)
    jobs = tuple(
        job
        if job.locked_to is None or chances(ground, job)
        else replace(
            job,
            locked_to=None,
            told=Told(technician=job.locked_to.technician, day=job.locked_to.day),
            priority=URGENT,
        )
        for job in problem.jobs
    )
    weights = replace(
        problem.weights,
        change_of_day=STEADINESS * problem.weights.change_of_day,
        change_of_technician=STEADINESS * problem.weights.change_of_technician,
    )
    return replace(problem, jobs=jobs, weights=weights)


def replan(
    problem: Problem, before: Plan, *, iterations: int | None = None, seconds: float | None = None, seed: int = 1
) -> Plan:
    """A plan that sets out from ``before`` and moves as few owners as it can; budgets and refusals as of ``plan``."""
    return plan(steadied(problem), iterations=iterations, seconds=seconds, seed=seed, start=before)
