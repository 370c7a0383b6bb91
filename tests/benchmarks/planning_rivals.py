"""Other ways to the same plan, to measure the planner beside: by hand, PyVRP called directly, OR-Tools.

OR-Tools (Apache 2.0) is the other living open-source library for routing with time windows; it is needed for the
benchmarks alone: ``pip install .[benchmark]``. Both libraries get the planner's own driving times, prices and windows.
"""

from math import ceil

import pyvrp
from ortools.constraint_solver import pywrapcp, routing_enums_pb2
from pyvrp.stop import MaxRuntime

from contractor.visits.routing.ground import Ground, ground_of
from contractor.visits.routing.insertion import Orders, best_in_shift, put
from contractor.visits.routing.problem import MINUTE, Job, Plan, Problem, Shift
from contractor.visits.routing.reasons import chances
from contractor.visits.routing.times import fitted

DAY = 86_400
FAR = 10**9


def in_due_date_order(asked: Problem) -> Plan:
    """As it is done by hand: promises first, then whoever is due next goes to the first technician-day with room."""
    ground = ground_of(asked)
    orders: Orders = {}
    for job in sorted(asked.jobs, key=lambda job: (job.locked_to is None, job.latest_on or DAY, job.id)):
        for shift in chances(ground, job):
            way = best_in_shift(ground, orders.get(shift.key, []), job, shift)
            if way is not None:
                put(orders, way)
                break
    return written(ground, orders)


def by_pyvrp(asked: Problem, seconds: float, seed: int) -> Plan:
    """A published instance given to PyVRP as its manual does it: one day, one depot, all vehicles alike."""
    ground = ground_of(asked)
    model = pyvrp.Model()
    shift = asked.shifts[0]
    depot_place = model.add_location(0, 0)
    depot = model.add_depot(depot_place)
    places = {shift.start_place: depot_place}
    for job in asked.jobs:
        assert job.position is not None
        places[job.position] = model.add_location(0, 0)
        (window,) = job.windows
        model.add_client(
            places[job.position],
            delivery=[job.carry],
            service_duration=job.minutes * MINUTE,
            tw_early=window.opens,
            tw_late=window.closes,
            name=job.id,
        )
    model.add_vehicle_type(
        len(asked.shifts), [shift.room or 0], depot, depot, tw_early=shift.start, tw_late=shift.end
    )
    for one, here in places.items():
        for other, there in places.items():
            drive = ground.drive(one, other)
            model.add_edge(here, there, drive, drive)
    best = model.solve(MaxRuntime(seconds), seed=seed, display=False).best
    names = [job.id for job in asked.jobs]
    keys = list(ground.shifts)
    return written(
        ground,
        {
            keys[number]: [names[each.idx] for each in route if each.is_client()]
            for number, route in enumerate(best.routes())
        },
    )


def by_ortools(asked: Problem, seconds: float) -> Plan:
    """OR-Tools' routing library: cheapest insertion, then guided local search, a vehicle for each technician-day."""
    ground = ground_of(asked)
    shifts = list(ground.shifts.values())
    place_of = {shift.key: vehicle for vehicle, shift in enumerate(shifts)}
    able = {job.id: [place_of[shift.key] for shift in chances(ground, job)] for job in asked.jobs}
    jobs = [job for job in asked.jobs if able[job.id]]
    starts, ends = list(range(len(shifts))), list(range(len(shifts), 2 * len(shifts)))
    first = 2 * len(shifts)
    numbers = [ground.number[place] for place in [shift.start_place for shift in shifts]]
    numbers += [ground.number[shift.end_place] for shift in shifts]
    numbers += [ground.number[job.position] for job in jobs if job.position is not None]
    index = pywrapcp.RoutingIndexManager(len(numbers), len(shifts), starts, ends)
    routing = pywrapcp.RoutingModel(index)
    work = [0] * first + [job.minutes * MINUTE for job in jobs]

    def lasts(origin: int, destination: int) -> int:
        here, there = index.IndexToNode(origin), index.IndexToNode(destination)
        return work[here] + ground.seconds[numbers[here]][numbers[there]]

    routing.AddDimension(routing.RegisterTransitCallback(lasts), DAY, DAY, False, "clock")
    clock = routing.GetDimensionOrDie("clock")
    for vehicle, shift in enumerate(shifts):
        prices = [0] * first + [asked.day_price(job, shift.technician, shift.day) for job in jobs]
        routing.SetArcCostEvaluatorOfVehicle(
            routing.RegisterTransitCallback(_cost(index, ground, numbers, prices)), vehicle
        )
        clock.CumulVar(routing.Start(vehicle)).SetRange(shift.start, shift.end)
        clock.CumulVar(routing.End(vehicle)).SetRange(shift.start, shift.end)
        if shift.rest is not None:
            rest = routing.solver().FixedDurationIntervalVar(
                shift.rest.earliest, shift.rest.latest, shift.rest.minutes * MINUTE, False, f"rest {vehicle}"
            )
            clock.SetBreakIntervalsOfVehicle(
                [rest], vehicle, [work[index.IndexToNode(node)] for node in range(routing.Size())]
            )
    _add_rooms(routing, index, shifts, [0] * first + [job.carry for job in jobs])
    for number, job in enumerate(jobs):
        node = index.NodeToIndex(first + number)
        routing.VehicleVar(node).SetValues([-1, *able[job.id]])
        routing.AddDisjunction([node], asked.prize(job))
        windows = job.windows_on(shifts[able[job.id][0]].day) or ()
        if windows:
            clock.CumulVar(node).SetRange(windows[0].opens, windows[-1].closes)
    how = pywrapcp.DefaultRoutingSearchParameters()
    how.first_solution_strategy = routing_enums_pb2.FirstSolutionStrategy.PARALLEL_CHEAPEST_INSERTION
    how.local_search_metaheuristic = routing_enums_pb2.LocalSearchMetaheuristic.GUIDED_LOCAL_SEARCH
    how.time_limit.seconds = ceil(seconds)
    found = routing.SolveWithParameters(how)
    orders: Orders = {}
    for vehicle, shift in enumerate(shifts):
        node = found.Value(routing.NextVar(routing.Start(vehicle))) if found else routing.End(vehicle)
        while not routing.IsEnd(node):
            orders.setdefault(shift.key, []).append(jobs[index.IndexToNode(node) - first].id)
            node = found.Value(routing.NextVar(node))
    return written(ground, orders)


def _cost(index, ground: Ground, numbers: list[int], prices: list[int]):
    def cost(origin: int, destination: int) -> int:
        here, there = index.IndexToNode(origin), index.IndexToNode(destination)
        return ground.problem.weights.driving * ground.seconds[numbers[here]][numbers[there]] + prices[there]

    return cost


def _add_rooms(routing, index, shifts: list[Shift], carried: list[int]) -> None:
    if any(shift.room is not None for shift in shifts):
        load = routing.RegisterUnaryTransitCallback(lambda origin: carried[index.IndexToNode(origin)])
        rooms = [FAR if shift.room is None else shift.room for shift in shifts]
        routing.AddDimensionWithVehicleCapacity(load, 0, rooms, True, "load")


def written(ground: Ground, orders: Orders) -> Plan:
    """Rounds laid out in time; a round that can't be kept loses its visits, as the independent checker would say."""
    rounds = []
    for key, order in orders.items():
        round_ = fitted(ground, ground.shifts[key], [ground.jobs[name] for name in order]) if order else None
        if round_ is not None:
            rounds.append(round_)
    there = {stop.job for round_ in rounds for stop in round_.stops}
    gone: list[Job] = [job for job in ground.problem.jobs if job.id not in there]
    return Plan(
        rounds=tuple(rounds),
        unplanned={job.id: "left out" for job in gone},
        travel_minutes=sum(round_.driving for round_ in rounds) / MINUTE,
        late={},
        to_tell=(),
    )
