"""Weeks planned by other engines: the solver alone on the planner's own formulation, VROOM, and VROOM improved by it.

All get the planner's own driving times, prices, windows and promises.
"""

from unittest.mock import patch

import pyvrp
from pyvrp.search import OPERATORS, LocalSearch, PerturbationManager
from pyvrp.stop import MaxRuntime

from contractor.visits.routing import first_rounds
from contractor.visits.routing.formulation import formulate
from contractor.visits.routing.ground import Ground, ground_of
from contractor.visits.routing.insertion import Orders, settled
from contractor.visits.routing.pieces import ShiftsOf, cut, is_too_large, part_of
from contractor.visits.routing.problem import Plan, Problem
from contractor.visits.routing.reasons import chances
from tests.benchmarks.planning_rivals import written

# What did best for one cost table a technician-day: a low ceiling with frequent updates. Measured on other counties.
PENALTIES = pyvrp.PenaltyParams(solutions_between_updates=50, min_penalty=0.1, max_penalty=10.0)


def by_solver_alone(asked: Problem, seconds: float, *, start: Plan | None = None) -> Plan:
    """PyVRP's own search, once, with one cost table a technician-day. A month is cut by a mixed-integer programme first
    (two stages): each run of days by itself, and what finds no room rolls on."""
    ground, shifts_of = _grounds(asked)
    first: Orders = {}
    if start is not None:
        first = {(each.technician, each.day): [stop.job for stop in each.stops] for each in start.rounds}
    if not is_too_large(ground, shifts_of):
        return written(ground, settled(ground, _solved(ground, shifts_of, seconds, first), shifts_of))
    orders: Orders = {}
    waiting: list[str] = []
    pieces = cut(ground, shifts_of)
    for piece in pieces:
        names = [*piece.visits, *waiting]
        part, chances_here = part_of(ground, shifts_of, piece.days, names)
        orders |= settled(part, _solved(part, chances_here, seconds / len(pieces), first), chances_here)
        waiting = [name for name in names if all(name not in order for order in orders.values())]
    return written(ground, settled(ground, orders, shifts_of))


def by_vroom(asked: Problem) -> Plan:
    """VROOM's rounds, as thorough as it goes."""
    ground, shifts_of = _grounds(asked)
    with patch.object(first_rounds, "LEVEL", 5):
        orders = first_rounds.first_rounds(ground, shifts_of)
    return written(ground, settled(ground, orders, shifts_of))


def _grounds(asked: Problem) -> tuple[Ground, ShiftsOf]:
    ground = ground_of(asked)
    return ground, {job.id: shifts for job in asked.jobs if (shifts := chances(ground, job))}


def _solved(ground: Ground, shifts_of: ShiftsOf, seconds: float, start: Orders) -> Orders:
    formulation = formulate(ground, shifts_of)
    data, random = formulation.data, pyvrp.RandomNumberGenerator(seed=1)
    local = LocalSearch(data, random, formulation.neighbours, PerturbationManager())
    for operator in OPERATORS:
        if operator.supports(data):
            local.add_operator(operator(data))
    penalties = pyvrp.PenaltyManager(PENALTIES.midpoint_penalties(data), PENALTIES)
    first = local(formulation.solution(start), penalties.max_cost_evaluator(), exhaustive=True)
    search = pyvrp.IteratedLocalSearch(data, penalties, local, first, pyvrp.IteratedLocalSearchParams())
    return formulation.orders(search.run(MaxRuntime(seconds), collect_stats=False, display=False).best)
