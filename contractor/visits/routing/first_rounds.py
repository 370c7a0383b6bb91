"""The rounds that a search sets out from, made within a second or two by VROOM's construction and local search.

VROOM (BSD, ``pyvroom``) builds whole plans fast, where PyVRP improves one for as long as it is let: with its rounds to
set out from, thirty seconds of search end 1 to 3 % lower. They need not hold to the minute; the search puts them right.
"""

import numpy as np
import vroom

from contractor.visits.routing.ground import Ground, Key
from contractor.visits.routing.insertion import Orders
from contractor.visits.routing.problem import MINUTE, Job, Place, Shift

DAY = 86_400
MOST_PRIORITY = 100  # of the library's priorities
PLENTY = 1_000_000_000  # room in a van that never runs out
LEVEL = 0  # of 5: the others take many times as long and end within 2 % of it


def first_rounds(ground: Ground, shifts_of: dict[str, list[Shift]]) -> Orders:
    """Rounds by technician and day of the visits that have a chance, at least one; always the same for the same ask.

    Every technician-day is a vehicle of its own on one clock; the price of a day stands in each arc into a visit.
    """
    shifts, jobs = list(ground.shifts.values()), [ground.jobs[name] for name in shifts_of]
    places = list(dict.fromkeys(place for shift in shifts for place in (shift.start_place, shift.end_place)))
    # The library knows skills only, so each set of technician-days that may take a visit is a skill of its own.
    able = [frozenset(shift.key for shift in shifts_of[job.id]) for job in jobs]
    skills = {keys: number for number, keys in enumerate(dict.fromkeys(able))}
    asking = vroom.Input()
    tables = _add_tables(asking, ground, jobs, places)
    for number, shift in enumerate(shifts):
        asking.add_vehicle(
            vroom.Vehicle(
                number,
                start=places.index(shift.start_place),
                end=places.index(shift.end_place),
                profile=tables[shift.key],
                capacity=[PLENTY if shift.room is None else shift.room],
                skills={skill for keys, skill in skills.items() if shift.key in keys},
                time_window=vroom.TimeWindow(shift.start, shift.end),
                breaks=_breaks(number, shift),
            )
        )
    most = max(ground.problem.prize(job) for job in jobs)
    for number, job in enumerate(jobs):
        opens, closes = _hours(job, shifts_of[job.id])
        asking.add_job(
            vroom.Job(
                number,
                location=len(places) + number,
                default_service=job.minutes * MINUTE,
                delivery=vroom.Amount([job.carry]),
                skills={skills[able[number]]},
                priority=MOST_PRIORITY * ground.problem.prize(job) // max(most, 1),
                time_windows=[vroom.TimeWindow(opens, closes)],
            )
        )
    found = asking.solve(exploration_level=LEVEL, nb_threads=1).routes
    orders: Orders = {}
    for vehicle, number in found[found["type"] == "job"][["vehicle_id", "id"]].itertuples(index=False):
        orders.setdefault(shifts[vehicle].key, []).append(jobs[number].id)
    return orders


def _add_tables(asking: vroom.Input, ground: Ground, jobs: list[Job], places: list[Place]) -> dict[Key, str]:
    """Driving times, and costs with the price of the day in each arc into a visit; the table of each technician-day."""
    numbers = [ground.number[place] for place in [*places, *(job.position for job in jobs if job.position is not None)]]
    # A place that can't be reached is a day away, which no day holds.
    driving = np.minimum(np.array(ground.seconds, dtype=np.int64), DAY).astype(np.uint32)[np.ix_(numbers, numbers)]
    names: dict[tuple[int, ...], str] = {}
    tables = {}
    for technician, day in ground.shifts:
        prices = (*[0] * len(places), *(ground.problem.day_price(job, technician, day) for job in jobs))
        if prices not in names:
            names[prices] = f"table {len(names)}"
            costs = ground.problem.weights.driving * driving + np.array(prices, dtype=np.uint32)
            asking.set_durations_matrix(names[prices], driving)
            asking.set_costs_matrix(names[prices], costs)
        tables[technician, day] = names[prices]
    return tables


def _hours(job: Job, shifts: list[Shift]) -> tuple[int, int]:
    """From when until when work may begin, on whatever day; hours that differ from day to day are taken together."""
    windows = [job.windows_on(shift.day) or () for shift in shifts]
    if not all(windows):
        return 0, DAY
    return min(each[0].opens for each in windows), max(window.closes for each in windows for window in each)


def _breaks(number: int, shift: Shift) -> list[vroom.Break]:
    """The break, where the day is long enough to hold it."""
    rest = shift.rest
    if rest is None or rest.latest < shift.start or rest.latest + rest.minutes * MINUTE > shift.end:
        return []
    when = vroom.TimeWindow(max(rest.earliest, shift.start), rest.latest)
    return [vroom.Break(number, time_windows=[when], service=rest.minutes * MINUTE)]
