"""The problem as the solver sees it: one clock axis, a vehicle and a cost table for each kind of technician-day.

Every day begins anew on the same axis, so a visit needs one client and not one for each day. What a day costs, or that
it is forbidden, stands in the cost of every arc into the visit. The break is cut out of the axis: afternoons are moved
earlier by its length, and ``times`` lays the true times out again. A visit with hours that differ from day to day, or
with two windows on one day, becomes a group of clients of which one is visited.
"""

from collections import Counter
from dataclasses import dataclass
from typing import Any

import numpy as np
import pyvrp
from numpy.typing import NDArray

from contractor.visits.routing.ground import Ground, Key
from contractor.visits.routing.insertion import Orders
from contractor.visits.routing.problem import MINUTE, Break, Job, Place, Shift

FORBIDDEN = 10_000_000  # seconds: far above every prize, so that leaving a visit out is always better
LOAD_SCALE = 100  # an overload of one unit must weigh like minutes, not like seconds
DAY = 86_400
_Kind = tuple[int, int, int, int, int, int]  # depots of start and end, folded hours, room or -1, profile
NEIGHBOURS = 50


@dataclass(frozen=True, slots=True)
class Formulation:
    """The solver's data, whose visit each client is, and which technician-days each vehicle type stands for."""

    data: pyvrp.ProblemData
    owners: list[str]
    keys: list[list[Key]]
    neighbours: dict[pyvrp.Activity, list[pyvrp.Activity]]

    def orders(self, solution: pyvrp.Solution) -> Orders:
        """The solver's rounds by technician and day."""
        left = [iter(keys) for keys in self.keys]
        return {
            next(left[route.vehicle_type()]): [self.owners[each.idx] for each in route if each.is_client()]
            for route in solution.routes()
        }

    def solution(self, orders: Orders) -> pyvrp.Solution:
        """Rounds as the solver's; visits that it doesn't know are left out."""
        first: dict[str, int] = {}
        for client, owner in enumerate(self.owners):
            first.setdefault(owner, client)
        routes = [
            pyvrp.Route(self.data, clients, kind)
            for kind, keys in enumerate(self.keys)
            for key in keys
            if (clients := [first[name] for name in orders.get(key, []) if name in first])
        ]
        return pyvrp.Solution(self.data, routes)


def formulate(ground: Ground, shifts_of: dict[str, list[Shift]]) -> Formulation:
    """States the problem for the visits that have a chance; there must be at least one."""
    fold = _Fold(ground)
    clients = [
        (ground.jobs[name], window, {shift.key for shift in shifts if window in _windows(ground.jobs[name], shift)})
        for name, shifts in shifts_of.items()
        for window in sorted({window for shift in shifts for window in _windows(ground.jobs[name], shift)})
    ]
    depots = list(
        dict.fromkeys(place for shift in ground.shifts.values() for place in (shift.start_place, shift.end_place))
    )
    places: list[Place] = depots + [job.position for job, _, _ in clients if job.position is not None]
    numbers = [ground.number[place] for place in places]
    driving = np.array(ground.seconds, dtype=np.int64)[np.ix_(numbers, numbers)]

    kinds, rows = _kinds(ground, fold, depots, clients)
    windows = [(fold(opens), fold(closes)) for _, (opens, closes), _ in clients]
    groups, group_of = _groups(clients)
    most = sum(job.carry for job, _, _ in clients) if any(kind[4] >= 0 for kind in kinds) else None
    # Any: the solver's stubs ask for a kind of array that numpy's own stubs don't know.
    costs: list[Any] = [_costs(ground, driving, len(depots), row) for row in rows]
    durations: Any = driving
    data = pyvrp.ProblemData(
        locations=[pyvrp.Location(0, 0) for _ in places],  # the tables say all; coordinates aren't used
        depots=[pyvrp.Depot(index) for index in range(len(depots))],
        clients=[
            _client(ground, job, len(depots) + index, windows[index], group_of.get(job.id), loaded=most is not None)
            for index, (job, _, _) in enumerate(clients)
        ],
        groups=groups,
        vehicle_types=[_vehicles(kind, len(keys), most) for kind, keys in kinds.items()],
        distance_matrices=costs,
        duration_matrices=[durations] * len(rows),
    )
    service = np.array([job.minutes * MINUTE for job, _, _ in clients], dtype=np.int64)
    near = _nearness(driving[len(depots) :, len(depots) :], np.array(windows, dtype=np.int64), service, np.array(rows))
    return Formulation(
        data=data,
        owners=[job.id for job, _, _ in clients],
        keys=list(kinds.values()),
        neighbours=_neighbours(near, [job.id for job, _, _ in clients]),
    )


def _client(
    ground: Ground, job: Job, location: int, window: tuple[int, int], group: int | None, *, loaded: bool
) -> pyvrp.Client:
    return pyvrp.Client(
        location=location,
        delivery=[job.carry * LOAD_SCALE] if loaded else [],
        service_duration=job.minutes * MINUTE,
        tw_early=window[0],
        tw_late=window[1],
        prize=ground.problem.prize(job),
        required=False,
        group=group,
    )


def _kinds(
    ground: Ground, fold: "_Fold", depots: list[Place], clients: list[tuple[Job, tuple[int, int], set[Key]]]
) -> tuple[dict[_Kind, list[Key]], list[NDArray[np.int64]]]:
    """Technician-days that the solver can't tell apart, and the price rows of their profiles."""
    prices: dict[bytes, tuple[int, NDArray[np.int64]]] = {}
    kinds: dict[_Kind, list[Key]] = {}
    for shift in ground.shifts.values():
        row = _price_row(ground, shift, clients)
        profile = prices.setdefault(row.tobytes(), (len(prices), row))[0]
        hours = (fold(shift.start), fold(shift.end))
        ends = (depots.index(shift.start_place), depots.index(shift.end_place))
        room = -1 if shift.room is None else shift.room
        kinds.setdefault((*ends, *hours, room, profile), []).append(shift.key)
    return kinds, [row for _, row in prices.values()]


def _vehicles(kind: _Kind, number: int, most: int | None) -> pyvrp.VehicleType:
    """Technician-days of one kind; ``most`` is all there is to carry, None where no van's room is limited."""
    start_depot, end_depot, start, end, room, profile = kind
    return pyvrp.VehicleType(
        num_available=number,
        capacity=[] if most is None else [(most if room < 0 else room) * LOAD_SCALE],
        start_depot=start_depot,
        end_depot=end_depot,
        tw_early=start,
        tw_late=end,
        profile=profile,
    )


class _Fold:
    """Cuts the commonest break out of the axis. Whoever has no such break merely idles through it in the search."""

    def __init__(self, ground: Ground) -> None:
        rests: Counter[Break] = Counter(shift.rest for shift in ground.shifts.values() if shift.rest is not None)
        rest = rests.most_common(1)[0][0] if rests else None
        self.at = DAY if rest is None else (rest.earliest + rest.latest) // 2
        self.length = 0 if rest is None else rest.minutes * MINUTE

    def __call__(self, at: int) -> int:
        return at if at <= self.at else max(self.at, at - self.length)


def _windows(job: Job, shift: Shift) -> list[tuple[int, int]]:
    """When the visit may begin in a shift, seconds after midnight; the whole day where any time will do."""
    windows = job.windows_on(shift.day)
    if windows is None:
        return []
    return [(window.opens, window.closes) for window in windows] or [(0, DAY)]


def _price_row(
    ground: Ground, shift: Shift, clients: list[tuple[Job, tuple[int, int], set[Key]]]
) -> NDArray[np.int64]:
    return np.array(
        [
            ground.problem.day_price(job, shift.technician, shift.day) if shift.key in keys else FORBIDDEN
            for job, _, keys in clients
        ],
        dtype=np.int64,
    )


def _costs(ground: Ground, driving: NDArray[np.int64], depots: int, row: NDArray[np.int64]) -> NDArray[np.int64]:
    costs = driving * ground.problem.weights.driving
    costs[:, depots:] += row
    np.fill_diagonal(costs, 0)
    return costs


def _groups(clients: list[tuple[Job, tuple[int, int], set[Key]]]) -> tuple[list[pyvrp.ClientGroup], dict[str, int]]:
    members: dict[str, list[int]] = {}
    for index, (job, _, _) in enumerate(clients):
        members.setdefault(job.id, []).append(index)
    several = {name: indices for name, indices in members.items() if len(indices) > 1}
    groups = [pyvrp.ClientGroup(indices, required=False) for indices in several.values()]
    return groups, {name: number for number, name in enumerate(several)}


def _nearness(
    driving: NDArray[np.int64], windows: NDArray[np.int64], service: NDArray[np.int64], prices: NDArray[np.int64]
) -> NDArray[np.int64]:
    """How little it costs to have one visit next to another in the best technician-day that both can share, (n, n)."""
    opens, closes = windows[:, 0], windows[:, 1]
    waiting = np.maximum(0, opens[None, :] - (closes + service)[:, None] - driving)
    too_late = np.maximum(0, (opens + service)[:, None] + driving - closes[None, :])
    leg = driving + waiting // 5 + too_late
    own = prices.min(axis=0)
    shared = np.full(driving.shape, 4 * FORBIDDEN, dtype=np.int64)
    for row in prices - own:
        np.minimum(shared, row[:, None] + row[None, :], out=shared)
    result: NDArray[np.int64] = np.minimum(leg, leg.T) + shared
    return result


def _neighbours(near: NDArray[np.int64], owners: list[str]) -> dict[pyvrp.Activity, list[pyvrp.Activity]]:
    activities = [pyvrp.Activity(pyvrp.ActivityType.CLIENT, index) for index in range(len(owners))]
    order = np.argsort(near, axis=1, kind="stable")
    return {
        activities[index]: [activities[other] for other in order[index] if owners[other] != owners[index]][:NEIGHBOURS]
        for index in range(len(owners))
    }
