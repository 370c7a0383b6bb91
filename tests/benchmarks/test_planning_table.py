"""The planner beside PyVRP called directly, VROOM, OR-Tools and due-date order by hand: the table in DEVELOPERS.md.

Run alone: ``pip install .[benchmark]``, then ``pytest tests/benchmarks/test_planning_table.py -n0 -s``. Every plan is
judged by the independent checker. They measure and never fail for being slow.
"""

import resource
from collections.abc import Callable
from functools import partial
from pathlib import Path
from time import perf_counter

import pytest

from contractor.visits.routing.checking import check
from contractor.visits.routing.instances import gap_per_cent, read_instance
from contractor.visits.routing.planning import plan
from contractor.visits.routing.problem import MINUTE, Plan, Problem
from tests.benchmarks.planning_county import county
from tests.benchmarks.planning_engines import by_solver_alone, by_vroom
from tests.benchmarks.planning_rivals import by_ortools, by_pyvrp, in_due_date_order

INSTANCES = Path(__file__).parent.parent / "visits" / "instances"
BEST_KNOWN = {"C101": 827.3, "R101": 1637.7, "RC101": 1619.8}  # DIMACS 2022 challenge, distances cut to one decimal
SEEDS = (1, 2, 3)


@pytest.mark.parametrize("seconds", [2, 10, 30])
@pytest.mark.parametrize("name", list(BEST_KNOWN))
def test_gap_to_the_best_known_distance(name: str, seconds: int) -> None:
    asked = read_instance(INSTANCES / f"{name}.txt")
    found = {
        "planner": [plan(asked, seconds=seconds, seed=seed) for seed in SEEDS],
        "PyVRP": [by_pyvrp(asked, seconds, seed) for seed in SEEDS],
        "OR-Tools": [by_ortools(asked, seconds)],
    }
    for who, plans in found.items():
        gaps = [gap_per_cent(each.travel_minutes, BEST_KNOWN[name]) for each in plans]
        print(f"\n| {name} | {seconds} s | {who} | {sum(gaps) / len(gaps):.2f} | {max(gaps):.2f} |", end="")
        assert all(check(asked, each) == [] and not each.unplanned for each in plans)


@pytest.mark.parametrize(
    "who", ["planner", "PyVRP alone", "VROOM", "VROOM improved by PyVRP", "OR-Tools", "due-date order"]
)
@pytest.mark.parametrize(
    ("visits", "technicians", "days", "seconds", "seed"),
    [(300, 6, 10, 30, 1), (300, 6, 10, 30, 2), (300, 6, 10, 30, 3), (2000, 18, 22, 300, 1)],
)
def test_two_weeks_and_a_month(who: str, visits: int, technicians: int, days: int, seconds: int, seed: int) -> None:
    asked = county(visits=visits, technicians=technicians, days=days, seed=seed)
    ways: dict[str, Callable[[], Plan]] = {
        "planner": partial(plan, asked, seconds=seconds),
        "PyVRP alone": partial(by_solver_alone, asked, seconds),
        "VROOM": partial(by_vroom, asked),
        "VROOM improved by PyVRP": lambda: by_solver_alone(asked, seconds, start=by_vroom(asked)),
        "OR-Tools": partial(by_ortools, asked, seconds),
        "due-date order": partial(in_due_date_order, asked),
    }
    began = perf_counter()
    found = ways[who]()
    took = perf_counter() - began
    assert check(asked, found) == []
    print(f"\n| {visits} visits, seed {seed} | {who} | {took:.0f} | {_figures(asked, found)} |", end="")


def _figures(asked: Problem, found: Plan) -> str:
    """Objective, planned, due and left out, minutes of driving a visit, visits a technician-day, days off, peak MB.

    The objective is what the planner's weights make of it: seconds of driving, prices of days, prizes of what is left.
    """
    where = found.where()
    due = sum(asked.is_due(job) for job in asked.jobs if job.id in found.unplanned)
    prices = sum(asked.day_price(job, *where[job.id]) for job in asked.jobs if job.id in where)
    lost = sum(asked.prize(job) for job in asked.jobs if job.id in found.unplanned)
    objective = round(found.travel_minutes * MINUTE * asked.weights.driving) + prices + lost
    off = prices / asked.weights.day_off_target / len(where)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    return (
        f"{objective:,} | {len(where)} | {due} | {found.travel_minutes / len(where):.1f} | "
        f"{len(where) / len(found.rounds):.1f} | {off:.2f} | {peak:.0f}"
    )
