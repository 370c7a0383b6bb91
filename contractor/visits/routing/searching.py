"""The solver's search for the best rounds of one stretch that fits into memory as a whole."""

import warnings

import pyvrp
from pyvrp.search import OPERATORS, LocalSearch, PerturbationManager, PerturbationParams
from pyvrp.stop import MaxIterations, MaxRuntime, MultipleCriteria, NoImprovement

from contractor.visits.routing.formulation import Formulation, formulate
from contractor.visits.routing.ground import Ground
from contractor.visits.routing.insertion import Orders
from contractor.visits.routing.problem import Shift

# With seconds as the unit of cost a high ceiling makes the search wander among plans that can't be kept; the ceiling
# and the number of updates were measured on the published instances in tests/visits/instances.
PENALTIES = pyvrp.PenaltyParams(solutions_between_updates=50, min_penalty=0.1, max_penalty=30.0)
# A plan of weeks gets some thousand steps, where the solver's defaults count on a hundred thousand and more: a worse
# plan is soon given up, and a step upsets few visits until that has found nothing better for a while; then it upsets
# more. Chosen among a dozen on seeds 11 to 26 of the county of tests/benchmarks and 11 to 18 of RC101. There the two
# kinds of steps serve weeks about as well as the short ones alone, which never got RC101 to its best known distance.
REMEMBERED = 100
AT_FIRST, LATER = 10, 25
STEPS_A_VISIT = 10

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
    penalties = pyvrp.PenaltyManager(PENALTIES.midpoint_penalties(data), PENALTIES)
    near, far = (_steps(formulation, random, most_upset) for most_upset in (AT_FIRST, LATER))
    first = formulation.solution(start or {})  # the first descent puts in what pays; a start at random ended up worse
    first = near(first, penalties.max_cost_evaluator(), exhaustive=True)
    memory = pyvrp.IteratedLocalSearchParams(history_length=REMEMBERED)
    stuck = NoImprovement(STEPS_A_VISIT * data.num_clients)
    with warnings.catch_warnings():
        # Full days make the search reach the ceiling; what that costs is told of each visit that is left out.
        warnings.simplefilter("ignore", pyvrp.exceptions.PenaltyBoundWarning)
        for steps, stop in ((near, MultipleCriteria([budget, stuck])), (far, budget)):
            found = pyvrp.IteratedLocalSearch(data, penalties, steps, first, memory).run(stop, collect_stats=False)
            first = found.best
    return formulation.orders(first)


def _steps(formulation: Formulation, random: pyvrp.RandomNumberGenerator, most_upset: int) -> LocalSearch:
    """The solver's step: it upsets so many visits at most, and puts right what that made worse."""
    local = LocalSearch(
        formulation.data, random, formulation.neighbours, PerturbationManager(PerturbationParams(1, most_upset))
    )
    for operator in OPERATORS:
        if operator.supports(formulation.data):
            local.add_operator(operator(formulation.data))
    return local
