"""How good a plan of two weeks for six technicians is after a few seconds, and how little a sick call changes.

Run by themselves: ``pytest tests/benchmarks/test_planning.py -n0 -s``. They measure and never fail for being slow.
"""

import resource
from dataclasses import replace
from time import perf_counter

import pytest

from contractor.visits.board.arrangement import steady
from contractor.visits.routing.checking import check
from contractor.visits.routing.offers import offers
from contractor.visits.routing.planning import plan, put_right
from contractor.visits.routing.problem import Plan, Problem, Told
from tests.benchmarks.planning_county import county

SECONDS = 10


def tell(what: str, asked: Problem, found: Plan, took: float) -> None:
    """One line: how long, what was left out, driving and days off the wished day a visit, memory."""
    where = found.where()
    days = sum(asked.day_price(job, *where[job.id]) for job in asked.jobs if job.id in where and job.told is None)
    due = sum(asked.is_due(job) for job in asked.jobs if job.id in found.unplanned)
    megabytes = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(
        f"\n{what}: {took:.1f} s, {len(where)} planned, {len(found.unplanned)} left out ({due} due), "
        f"{found.travel_minutes / len(where):.1f} minutes of driving and "
        f"{days / asked.weights.day_off_target / len(where):.1f} days off target a visit, {megabytes:.0f} MB"
    )


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_two_weeks_of_three_hundred_visits(seed: int) -> None:
    asked = county(visits=300, technicians=6, days=10, seed=seed)
    began = perf_counter()
    found = plan(asked, seconds=SECONDS)
    tell(f"300 visits, 6 technicians, 10 days, seed {seed}", asked, found, perf_counter() - began)
    assert check(asked, found) == []

    began = perf_counter()
    slots = offers(asked, found, asked.jobs[0].id)
    print(f"other days that fit one visit: {1000 * (perf_counter() - began):.0f} ms, {len(slots)} days")

    where = found.where()
    ill = found.rounds[0].technician, found.rounds[0].day
    # As the board does it: only what stands is planned; it is put right first, and the search sets out from that with
    # steady prices.
    told = tuple(
        replace(job, told=Told(technician=where[job.id][0], day=where[job.id][1]))
        for job in asked.jobs
        if job.id in where
    )
    left = tuple(shift for shift in asked.shifts if shift.key != ill)
    after_call = steady(replace(asked, jobs=told, shifts=left))
    again = plan(after_call, seconds=SECONDS, start=put_right(after_call, found))
    assert check(after_call, again) == []
    print(
        f"a sick call: {len(found.rounds[0].stops)} visits without a technician, {len(again.to_tell)} owners to tell, "
        f"{len(again.unplanned)} left out"
    )
