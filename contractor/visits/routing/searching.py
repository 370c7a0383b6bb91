"""The solver's search for the best rounds of one stretch that fits into memory as a whole."""

import math
import warnings
from dataclasses import dataclass
from itertools import chain, repeat

import pyvrp
from pyvrp.search import OPERATORS, LocalSearch, PerturbationManager, PerturbationParams
from pyvrp.stop import MaxIterations, MaxRuntime, MultipleCriteria, NoImprovement

from contractor.visits.routing.first_rounds import first_rounds
from contractor.visits.routing.formulation import Formulation, formulate
from contractor.visits.routing.ground import Ground
from contractor.visits.routing.insertion import Orders
from contractor.visits.routing.problem import Shift

# With seconds as the unit of cost a high ceiling makes the search wander among plans that can't be kept; the ceiling
# and the number of updates were measured on the published instances in tests/visits/instances.
PENALTIES = pyvrp.PenaltyParams(solutions_between_updates=50, min_penalty=0.1, max_penalty=30.0)
# How much of what was found is remembered when a worse plan is judged. A plan of weeks gets some thousand steps, where
# the solver's default of 300 counts on a hundred thousand and more.
MEMORY = pyvrp.IteratedLocalSearchParams(history_length=100)


@dataclass(frozen=True, slots=True)
class Way:
    """One way to go: how many visits a step upsets at most, whether it sets out from the best plan so far or from the
    beginning, and after how many steps a visit that found nothing better it is given up."""

    most_upset: int
    from_best: bool
    steps_a_visit: int


# One after the other, the last again and again. Weeks spend most of their time on the first; a hundred visits are stuck
# after a second of it, and a new beginning with larger steps gets them on. Chosen among some twenty on seeds 11 to 26
# of the county of tests/benchmarks and 11 to 18 of the published instances.
WAYS = (Way(10, from_best=False, steps_a_visit=10), Way(25, from_best=True, steps_a_visit=10))
LAST_WAY = Way(25, from_best=False, steps_a_visit=30)

Budget = MaxIterations | MaxRuntime


def search(
    ground: Ground, shifts_of: dict[str, list[Shift]], budget: Budget, seed: int, start: Orders | None
) -> Orders:
    """The solver's best rounds; a few may be too long by the minutes that folding and rounding take.

    ``shifts_of`` names the visits that have a chance, at least one, with their shifts; ``start`` is what to set out
    from where it has at least half of them on these days.
    """
    if isinstance(budget, MaxRuntime):
        budget(0)  # what is made before the first step takes its part of the time
    start = start or {}
    held = [name for key in ground.shifts for name in start.get(key, ()) if name in shifts_of]
    if 2 * len(held) < len(shifts_of):
        start = first_rounds(ground, shifts_of)
    formulation = formulate(ground, shifts_of)
    data = formulation.data
    random = pyvrp.RandomNumberGenerator(seed=seed)
    penalties = pyvrp.PenaltyManager(PENALTIES.midpoint_penalties(data), PENALTIES)
    first = formulation.solution(start)  # the first descent puts in what pays; a start at random ended up worse
    first = _steps(formulation, random, 1)(first, penalties.max_cost_evaluator(), exhaustive=True)
    best, cost = first, math.inf
    with warnings.catch_warnings():
        # Full days make the search reach the ceiling; what that costs is told of each visit that is left out.
        warnings.simplefilter("ignore", pyvrp.exceptions.PenaltyBoundWarning)
        for way in chain(WAYS, repeat(LAST_WAY)):
            stop = MultipleCriteria([budget, NoImprovement(way.steps_a_visit * data.num_clients)])
            steps = _steps(formulation, random, way.most_upset)
            outset = best if way.from_best else first
            found = pyvrp.IteratedLocalSearch(data, penalties, steps, outset, MEMORY).run(stop, collect_stats=False)
            if found.cost() <= cost:  # what can't be driven costs without end
                best, cost = found.best, found.cost()
            if found.num_iterations == 0:
                break
    return formulation.orders(best)


def _steps(formulation: Formulation, random: pyvrp.RandomNumberGenerator, most_upset: int) -> LocalSearch:
    """The solver's step: it upsets so many visits at most, and puts right what that made worse."""
    local = LocalSearch(
        formulation.data, random, formulation.neighbours, PerturbationManager(PerturbationParams(1, most_upset))
    )
    for operator in OPERATORS:
        if operator.supports(formulation.data):
            local.add_operator(operator(formulation.data))
    return local
