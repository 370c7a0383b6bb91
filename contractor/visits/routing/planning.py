"""Plans a stretch of days: who visits whom, on which day and in which order."""

import warnings
from datetime import date

import pyvrp
from pyvrp.search import OPERATORS, LocalSearch
from pyvrp.stop import MaxIterations, MaxRuntime

from contractor.visits.routing.errors import NotAPlan
from contractor.visits.routing.formulation import Formulation, formulate
from contractor.visits.routing.ground import Ground, ground_of
from contractor.visits.routing.insertion import Insertion, Orders, best_anywhere, mend
from contractor.visits.routing.problem import MINUTE, Change, Job, Plan, Problem, Shift, days_off_target
from contractor.visits.routing.reasons import chances, day_words, why_never
from contractor.visits.routing.times import fitted

# With seconds as the unit of cost a high ceiling makes the search wander among plans that can't be kept; the ceiling
# and the number of updates were measured on the published instances in tests/visits/instances.
PENALTIES = pyvrp.PenaltyParams(solutions_between_updates=50, min_penalty=0.1, max_penalty=30.0)


def plan(
    problem: Problem,
    *,
    iterations: int | None = None,
    seconds: float | None = None,
    seed: int = 1,
    start: Plan | None = None,
) -> Plan:
    """A plan that breaks no hard rule, with a reason for every visit left out.

    Give either ``iterations`` (the same seed and iterations give the same plan) or ``seconds`` of searching. ``start``
    is an earlier plan to set out from; what owners were told is kept by ``Job.told`` and the weights, not by ``start``.
    Raises ``NotAPlan`` when neither or both budgets are given, or one below nothing.
    """
    if (iterations is None) == (seconds is None) or (iterations or seconds or 0) < 0:
        raise NotAPlan("Give either how many steps or how many seconds to search, not below nothing.")
    ground = ground_of(problem)
    shifts_of = {job.id: shifts for job in problem.jobs if (shifts := chances(ground, job))}
    orders: Orders = {}
    cautions = problem.travel.cautions()
    if shifts_of:
        formulation = formulate(ground, shifts_of)
        stop = MaxIterations(iterations) if iterations is not None else MaxRuntime(seconds or 0)
        orders, hard = _search(formulation, stop, seed, start)
        if hard:
            cautions = (*cautions, "The search found few plans that keep everybody's hours. Look at the fullest days.")
        orders = _settled(ground, orders, shifts_of)
    return _written(ground, orders, shifts_of, cautions)


def put_right(problem: Problem, start: Plan) -> Plan:
    """An earlier plan made to hold again without a search: everything that can keeps technician, day and order, what
    can't is put where it costs least, and what was waiting takes the room that is left."""
    ground = ground_of(problem)
    shifts_of = {job.id: shifts for job in problem.jobs if (shifts := chances(ground, job))}
    orders: Orders = {
        (round_.technician, round_.day): [stop.job for stop in round_.stops if stop.job in shifts_of]
        for round_ in start.rounds
    }
    return _written(ground, _settled(ground, orders, shifts_of), shifts_of, problem.travel.cautions())


def _search(
    formulation: Formulation, stop: MaxIterations | MaxRuntime, seed: int, start: Plan | None
) -> tuple[Orders, bool]:
    """The solver's best rounds, and whether it says that it had trouble keeping to the hours."""
    data = formulation.data
    random = pyvrp.RandomNumberGenerator(seed=seed)
    local = LocalSearch(data, random, formulation.neighbours)
    for operator in OPERATORS:
        if operator.supports(data):
            local.add_operator(operator(data))
    penalties = pyvrp.PenaltyManager(PENALTIES.midpoint_penalties(data), PENALTIES)
    if start is None:
        first = pyvrp.Solution.make_random(data, random)
    else:
        first = formulation.solution(
            {(round_.technician, round_.day): [stop.job for stop in round_.stops] for round_ in start.rounds}
        )
    first = local(first, penalties.max_cost_evaluator(), exhaustive=True)
    with warnings.catch_warnings(record=True) as said:
        warnings.simplefilter("always", pyvrp.exceptions.PenaltyBoundWarning)
        result = pyvrp.IteratedLocalSearch(data, penalties, local, first).run(stop, collect_stats=False)
    return formulation.orders(result.best), bool(said)


def _settled(ground: Ground, orders: Orders, shifts_of: dict[str, list[Shift]]) -> Orders:
    """Mended until nothing changes: room made for one visit can be room for another."""
    for _ in range(len(shifts_of)):
        mended = mend(ground, orders, shifts_of)
        if mended == orders:
            break
        orders = mended
    return orders


def _written(ground: Ground, orders: Orders, shifts_of: dict[str, list[Shift]], cautions: tuple[str, ...]) -> Plan:
    rounds = [
        round_
        for key, shift in ground.shifts.items()
        if orders.get(key)
        and (round_ := fitted(ground, shift, [ground.jobs[name] for name in orders[key]])) is not None
    ]
    where = {stop.job: (round_.technician, round_.day) for round_ in rounds for stop in round_.stops}
    unplanned = {
        job.id: _why_not(ground, orders, job, shifts_of.get(job.id, []))
        for job in ground.problem.jobs
        if job.id not in where
    }
    return Plan(
        rounds=tuple(rounds),
        unplanned=unplanned,
        travel_minutes=sum(round_.driving for round_ in rounds) / MINUTE,
        late={
            job.id: days_off_target(job.target_on, where[job.id][1])
            for job in ground.problem.jobs
            if job.id in where and job.target_on is not None and where[job.id][1] > job.target_on
        },
        to_tell=tuple(_changes(ground, where)),
        cautions=cautions,
    )


def _why_not(ground: Ground, orders: Orders, job: Job, shifts: list[Shift]) -> str:
    """The true reason of a visit left out: what rules it out, or that the days are full, or what it would cost."""
    if not shifts:
        return why_never(ground, job)
    way: Insertion | None = best_anywhere(ground, orders, job, shifts)
    if way is not None:
        where = f"{day_words(way.key[1])} with {ground.called[way.key[0]]}"
        return (
            f"It would fit on {where}, but {round(way.detour / MINUTE)} minutes more of driving and the price of that "
            "day weigh more than this visit does. Make it more urgent, or lock it."
        )
    days = sorted({shift.day for shift in shifts})
    if job.locked_to is not None:
        who = ground.called.get(job.locked_to.technician, job.locked_to.technician)
        return (
            f"It is promised with {who} on {day_words(job.locked_to.day)}, but what else is promised there leaves no "
            "room for it. Release one of them, and tell the owner."
        )
    if len(days) == 1:
        return f"There is no room left on {day_words(days[0])}, the only day it could be. Widen its days or its hours."
    return f"There is no room left on any of the {len(days)} days it could be. Widen its days or its hours."


def _changes(ground: Ground, planned: dict[str, tuple[str, date]]) -> list[Change]:
    """Owners who were told another day or technician than the plan has, in the order of the visits."""
    changes = []
    for job in ground.problem.jobs:
        if job.told is not None:
            technician, day = planned.get(job.id, (None, None))
            if (technician, day) != (job.told.technician, job.told.day):
                changes.append(Change(job=job.id, told=job.told, technician=technician, day=day))
    return changes
