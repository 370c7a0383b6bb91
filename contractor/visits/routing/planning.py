"""Plans a stretch of days: who visits whom, on which day and in which order."""

from collections.abc import Iterator
from datetime import date

from pyvrp.stop import MaxIterations, MaxRuntime

from contractor.visits.routing.errors import NotAPlan
from contractor.visits.routing.ground import Ground, ground_of
from contractor.visits.routing.insertion import Insertion, Orders, best_anywhere, settled
from contractor.visits.routing.pieces import ShiftsOf, cut, is_too_large, part_of
from contractor.visits.routing.problem import MINUTE, Change, Job, Plan, Problem, Shift, days_off_target
from contractor.visits.routing.reasons import chances, day_words, why_never
from contractor.visits.routing.searching import Budget, search
from contractor.visits.routing.times import fitted

# Each run of days is searched in so many parts when somebody waits for it.
PARTS = 4


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
    _refuse_budget(iterations, seconds)
    ground = ground_of(problem)
    shifts_of = _all_chances(ground)
    orders: Orders = {}
    if shifts_of:
        orders = _found(ground, shifts_of, _Budget(iterations, seconds), seed, start)
        orders = settled(ground, orders, shifts_of)
    return _written(ground, orders, shifts_of)


def plan_in_runs(
    problem: Problem,
    *,
    iterations: int | None = None,
    seconds: float | None = None,
    seed: int = 1,
    start: Plan | None = None,
) -> Iterator[tuple[float, Plan]]:
    """The same as ``plan`` for a stretch that is cut into runs of days, told while it goes: the share of the work done,
    from 0 to 1, and the plan so far, without reasons. The last one is whole, with its reasons.

    Between two of them no more than a part of one run is searched, so that whoever waits hears of it and can stop it.
    Raises ``NotAPlan`` as ``plan`` does.
    """
    _refuse_budget(iterations, seconds)
    ground = ground_of(problem)
    shifts_of = _all_chances(ground)
    orders: Orders = {}
    for share, orders in _by_runs(ground, shifts_of, _Budget(iterations, seconds), seed, start, parts=PARTS):
        yield share, _written(ground, orders, shifts_of, with_reasons=False)
    yield 1.0, _written(ground, settled(ground, orders, shifts_of), shifts_of)


def is_planned_in_runs(problem: Problem) -> bool:
    """Whether a stretch is so large that it is cut into runs of days."""
    ground = ground_of(problem)
    return is_too_large(ground, _all_chances(ground))


def put_right(problem: Problem, start: Plan) -> Plan:
    """An earlier plan made to hold again without a search: everything that can keeps technician, day and order, what
    can't is put where it costs least, and what was waiting takes the room that is left."""
    ground = ground_of(problem)
    shifts_of = _all_chances(ground)
    orders = {key: [name for name in order if name in shifts_of] for key, order in _orders_of(start).items()}
    return _written(ground, settled(ground, orders, shifts_of), shifts_of)


def _refuse_budget(iterations: int | None, seconds: float | None) -> None:
    if (iterations is None) == (seconds is None) or (iterations or seconds or 0) < 0:
        raise NotAPlan("Give either how many steps or how many seconds to search, not below nothing.")


def _all_chances(ground: Ground) -> ShiftsOf:
    return {job.id: shifts for job in ground.problem.jobs if (shifts := chances(ground, job))}


def _found(ground: Ground, shifts_of: ShiftsOf, budget: "_Budget", seed: int, start: Plan | None) -> Orders:
    """The rounds that the search found, the whole stretch at once or one run of days after the other."""
    if not is_too_large(ground, shifts_of):
        return search(ground, shifts_of, budget.of(1.0), seed, None if start is None else _orders_of(start))
    # Only the last is whole.
    return [orders for _, orders in _by_runs(ground, shifts_of, budget, seed, start, parts=1)][-1]


def _by_runs(
    ground: Ground, shifts_of: ShiftsOf, budget: "_Budget", seed: int, start: Plan | None, *, parts: int
) -> Iterator[tuple[float, Orders]]:
    """The share of the visits whose run was searched, and the rounds so far; each run is searched in so many parts."""
    before = None if start is None else _orders_of(start)
    orders: Orders = {}
    pieces = cut(ground, shifts_of) if shifts_of else []
    meant = {name for piece in pieces for name in piece.visits}
    waiting = [name for name in shifts_of if name not in meant]
    for index, piece in enumerate(pieces):
        left = sum(len(later.visits) for later in pieces[index:])
        names = [name for name in shifts_of if name in piece.visits] + waiting
        part, chances_here = part_of(ground, shifts_of, piece.days, names)
        if chances_here:
            share, done = (len(piece.visits) or 1) / max(left, 1), 1 - left / max(len(meant), 1)
            budgets, found = budget.parts_of(share, parts), before
            for number, each in enumerate(budgets, start=1):
                found = search(part, chances_here, each, seed, found)
                yield done + (number - 1) / parts * len(piece.visits) / max(len(meant), 1), {**orders, **found}
            orders.update(settled(part, found or {}, chances_here))
        placed = {name for order in orders.values() for name in order}
        waiting = [name for name in names if name not in placed]
        yield 1 - (left - len(piece.visits)) / max(len(meant), 1), dict(orders)


def _orders_of(start: Plan) -> Orders:
    return {(round_.technician, round_.day): [stop.job for stop in round_.stops] for round_ in start.rounds}


class _Budget:
    """Steps or seconds of searching, of which each run of days takes its share of what is left."""

    def __init__(self, iterations: int | None, seconds: float | None) -> None:
        self.iterations = iterations
        self.seconds = seconds

    def of(self, share: float) -> Budget:
        [whole] = self.parts_of(share, 1)
        return whole

    def parts_of(self, share: float, parts: int) -> list[Budget]:
        """The same in so many equal parts; the last takes what is left of the steps."""
        if self.iterations is not None:
            steps = round(self.iterations * share)
            self.iterations -= steps
            each = steps // parts
            return [*(MaxIterations(each) for _ in range(parts - 1)), MaxIterations(steps - each * (parts - 1))]
        seconds = (self.seconds or 0.0) * share
        self.seconds = (self.seconds or 0.0) - seconds
        return [MaxRuntime(seconds / parts) for _ in range(parts)]


def _written(ground: Ground, orders: Orders, shifts_of: ShiftsOf, *, with_reasons: bool = True) -> Plan:
    rounds = [
        round_
        for key, shift in ground.shifts.items()
        if orders.get(key)
        and (round_ := fitted(ground, shift, [ground.jobs[name] for name in orders[key]])) is not None
    ]
    where = {stop.job: (round_.technician, round_.day) for round_ in rounds for stop in round_.stops}
    unplanned = {
        job.id: _why_not(ground, orders, job, shifts_of.get(job.id, [])) if with_reasons else ""
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
        cautions=ground.problem.travel.cautions(),
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
