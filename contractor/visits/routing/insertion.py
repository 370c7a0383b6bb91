"""Where a visit goes into rounds that stand already, at the least cost, and who makes way for one that matters more."""

from collections.abc import Iterable
from dataclasses import dataclass

from contractor.visits.routing.ground import Ground, Key
from contractor.visits.routing.problem import Job, Round, Shift
from contractor.visits.routing.times import fitted

Orders = dict[Key, list[str]]


@dataclass(frozen=True, slots=True)
class Insertion:
    """A visit put into a round: the day as it would be, and the cost in seconds of driving."""

    key: Key
    round_: Round
    cost: int
    detour: int


def best_in_shift(ground: Ground, order: list[str], job: Job, shift: Shift) -> Insertion | None:
    """The cheapest place in one round, or None where it fits nowhere."""
    weights = ground.problem.weights
    before = _driving(ground, shift, order)
    price = ground.problem.day_price(job, shift.technician, shift.day)
    ways = []
    for index in range(len(order) + 1):
        longer = [*order[:index], job.id, *order[index:]]
        detour = _driving(ground, shift, longer) - before
        ways.append((weights.driving * detour + price, index, detour, longer))
    for cost, _, detour, longer in sorted(ways):
        round_ = fitted(ground, shift, [ground.jobs[name] for name in longer])
        if round_ is not None:
            return Insertion((shift.technician, shift.day), round_, cost, detour)
    return None


def best_anywhere(ground: Ground, orders: Orders, job: Job, shifts: Iterable[Shift]) -> Insertion | None:
    """The cheapest place among some shifts, or None where it fits nowhere."""
    found = [best_in_shift(ground, orders.get(shift.key, []), job, shift) for shift in shifts]
    return min((each for each in found if each is not None), key=lambda each: each.cost, default=None)


def put(orders: Orders, insertion: Insertion) -> None:
    """Takes an insertion into the orders."""
    orders[insertion.key] = [stop.job for stop in insertion.round_.stops]


def mend(ground: Ground, orders: Orders, shifts_of: dict[str, list[Shift]]) -> Orders:
    """Rounds that can all be kept: what doesn't fit is taken out and put where it costs least, dearest visit first.

    Folding and rounding leave a handful of rounds a little too long, so this runs after every search. A visit that fits
    nowhere may push out visits that matter less, together; a visit whose detour costs more than it's worth stays out.
    """
    mended: Orders = {}
    for key in ground.shifts:
        order = [name for name in orders.get(key, []) if ground.shifts[key] in shifts_of[name]]
        if order and fitted(ground, ground.shifts[key], [ground.jobs[name] for name in order]) is None:
            order = _rebuilt(ground, ground.shifts[key], order)
        mended[key] = order
    placed = {name for order in mended.values() for name in order}
    waiting = sorted(
        (name for name in shifts_of if name not in placed),
        key=lambda name: (-ground.problem.prize(ground.jobs[name]), name),
    )
    for name in waiting:
        for pushed in _place(ground, mended, ground.jobs[name], shifts_of):
            _place(ground, mended, ground.jobs[pushed], shifts_of, may_push=False)
    return mended


def settled(ground: Ground, orders: Orders, shifts_of: dict[str, list[Shift]]) -> Orders:
    """Mended until nothing changes: room made for one visit can be room for another."""
    for _ in range(len(shifts_of)):
        mended = mend(ground, orders, shifts_of)
        if mended == orders:
            break
        orders = mended
    return orders


def _place(
    ground: Ground, orders: Orders, job: Job, shifts_of: dict[str, list[Shift]], *, may_push: bool = True
) -> list[str]:
    """Puts a visit where it pays; the names of those that had to make way for it."""
    prize = ground.problem.prize(job)
    way = best_anywhere(ground, orders, job, shifts_of[job.id])
    if way is not None:
        if way.cost < prize:
            put(orders, way)
        return []
    if not may_push:
        return []
    ways = _pushing_one(ground, orders, job, shifts_of[job.id]) or _pushing_several(
        ground, orders, job, shifts_of[job.id]
    )
    if not ways:
        return []
    _, names, instead = min(ways, key=lambda way: way[:2])
    put(orders, instead)
    return names


_Push = tuple[int, list[str], Insertion]


def _pushing_one(ground: Ground, orders: Orders, job: Job, shifts: list[Shift]) -> list[_Push]:
    """Where the visit would fit if one that matters less were gone, with what both cost, where it pays."""
    prize = ground.problem.prize(job)
    ways: list[_Push] = []
    for shift in shifts:
        order = orders[shift.key]
        for name in order:
            lost = ground.problem.prize(ground.jobs[name])
            if lost >= prize:
                continue
            instead = best_in_shift(ground, [each for each in order if each != name], job, shift)
            if instead is not None and instead.cost + lost < prize:
                ways.append((instead.cost + lost, [name], instead))
    return ways


def _pushing_several(ground: Ground, orders: Orders, job: Job, shifts: list[Shift]) -> list[_Push]:
    """The same with rounds put together anew around the visit, dropping whatever then finds no place."""
    prize = ground.problem.prize(job)
    ways: list[_Push] = []
    for shift in shifts:
        order = orders[shift.key]
        kept = _rebuilt(ground, shift, [*order, job.id])
        gone = [name for name in order if name not in kept]
        lost = sum(ground.problem.prize(ground.jobs[name]) for name in gone)
        if job.id not in kept or lost >= prize:
            continue
        instead = best_in_shift(ground, [name for name in kept if name != job.id], job, shift)
        if instead is not None and instead.cost + lost < prize:
            ways.append((instead.cost + lost, gone, instead))
    return ways


def _rebuilt(ground: Ground, shift: Shift, order: list[str]) -> list[str]:
    """The round put together anew, the visits that matter most first; what finds no place is left out of it."""
    kept: list[str] = []
    for name in sorted(order, key=lambda name: (-ground.problem.prize(ground.jobs[name]), order.index(name))):
        way = best_in_shift(ground, kept, ground.jobs[name], shift)
        if way is not None:
            kept = [stop.job for stop in way.round_.stops]
    return kept


def _driving(ground: Ground, shift: Shift, order: list[str]) -> int:
    if not order:
        return 0
    positions = [position for name in order if (position := ground.jobs[name].position) is not None]
    places = [shift.start_place, *positions, shift.end_place]
    return sum(ground.drive(places[index], places[index + 1]) for index in range(len(places) - 1))
