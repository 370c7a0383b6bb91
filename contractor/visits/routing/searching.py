"""The solver's search for the best rounds of one stretch that fits into memory as a whole."""

import warnings

import pyvrp
from pyvrp.search import OPERATORS, LocalSearch, PerturbationManager, PerturbationParams
from pyvrp.stop import MaxIterations, MaxRuntime

from contractor.visits.routing.formulation import formulate
from contractor.visits.routing.ground import Ground
from contractor.visits.routing.insertion import Orders
from contractor.visits.routing.problem import Shift

# With seconds as the unit of cost a high ceiling makes the search wander among plans that can't be kept; the ceiling
# and the number of updates were measured on the published instances in tests/visits/instances.
PENALTIES = pyvrp.PenaltyParams(solutions_between_updates=50, min_penalty=0.1, max_penalty=30.0)
# A plan of weeks gets some thousand steps, where the solver's defaults count on a hundred thousand and more: a step
# upsets few visits, and a worse plan is soon given up. Measured on the county of tests/benchmarks, against 25 and 300.
MOST_UPSET = 10
REMEMBERED = 100

Budget = MaxIterations | MaxRuntime


def search(
    ground: Ground, shifts_of: dict[str, list[Shift]], budget: Budget, seed: int, start: Orders | None
) -> Orders:
    """The solver's best rounds; a few may be too long by the minutes that folding and rounding take.

    ``shifts_of`` names the visits that have a chance, at least one, with their shifts; ``start`` is what to set out
    from, empty rounds where there is nothing.
    """
    formulation = formulate(ground, shifts_of)
    data = formulation.data
    random = pyvrp.RandomNumberGenerator(seed=seed)
    upset = PerturbationManager(PerturbationParams(1, MOST_UPSET))
    local = LocalSearch(data, random, formulation.neighbours, upset)
    for operator in OPERATORS:
        if operator.supports(data):
            local.add_operator(operator(data))
    penalties = pyvrp.PenaltyManager(PENALTIES.midpoint_penalties(data), PENALTIES)
    first = formulation.solution(start or {})  # the first descent puts in what pays; a start at random ended up worse
    first = local(first, penalties.max_cost_evaluator(), exhaustive=True)
    with warnings.catch_warnings():
        # Full days make the search reach the ceiling; what that costs is told of each visit that is left out.
        warnings.simplefilter("ignore", pyvrp.exceptions.PenaltyBoundWarning)
        patience = pyvrp.IteratedLocalSearchParams(history_length=REMEMBERED)
        result = pyvrp.IteratedLocalSearch(data, penalties, local, first, patience).run(budget, collect_stats=False)
    return formulation.orders(result.best)
