"""Cuts a long stretch into runs of days that fit into memory, and says which visits belong to which.

A cost table for each technician-day makes short plans good and long ones too large: a month of 2,000 visits for 18
technicians would take some 13 GB. So a small mixed-integer programme gives every visit its run of days, under the hours
that each run and each skill have; the runs are then planned one after the other, and what finds no room rolls on.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from math import ceil

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import csr_array

from contractor.visits.routing.ground import Ground
from contractor.visits.routing.problem import MINUTE, Shift

TABLES_BYTES = 200_000_000  # of cost tables at once; the solver needs about as much again
FILLED = 0.95  # of a run's hours: the rest is what roads and promised hours cost beyond the estimate
NEAREST = 5  # visits that a visit is likely to be driven to from
PROGRAMME_SECONDS = 30.0  # of wall clock; it usually ends within one
NEAR_ENOUGH = 1e-4  # of the programme's best value

ShiftsOf = dict[str, list[Shift]]


@dataclass(frozen=True, slots=True)
class Piece:
    """A run of working days, and the visits meant for it."""

    days: tuple[date, ...]
    visits: frozenset[str]


def is_too_large(ground: Ground, shifts_of: ShiftsOf) -> bool:
    """Whether the cost tables of the whole stretch would take too much memory."""
    return _table_bytes(ground, shifts_of) > TABLES_BYTES


def cut(ground: Ground, shifts_of: ShiftsOf) -> list[Piece]:
    """Runs of days in order, each with its visits; a visit that the hours of no run can take is in none of them."""
    days = ground.problem.working_days
    # The tables grow with the cube: fewer days mean fewer technician-days, and fewer visits both ways of the table.
    number = min(len(days), ceil((_table_bytes(ground, shifts_of) / TABLES_BYTES) ** (1 / 3)))
    runs = [tuple(run.tolist()) for run in np.array_split(np.array(days, dtype=object), number)]
    run_of = {day: index for index, run in enumerate(runs) for day in run}
    names = list(shifts_of)
    ways = [
        (visit, run, min(ground.problem.day_price(ground.jobs[name], shift.technician, shift.day) for shift in shifts))
        for visit, name in enumerate(names)
        for run, shifts in _by_run(shifts_of[name], run_of).items()
    ]
    chosen = _chosen(ground, names, ways, runs, _work_seconds(ground, names))
    return [
        Piece(run, frozenset(names[visit] for visit, index, _ in chosen if index == number))
        for number, run in enumerate(runs)
    ]


def part_of(ground: Ground, shifts_of: ShiftsOf, days: Sequence[date], visits: list[str]) -> tuple[Ground, ShiftsOf]:
    """The ground of some days, and those of the visits that have a chance in them."""
    kept = set(days)
    chances = {name: [shift for shift in shifts_of[name] if shift.day in kept] for name in visits}
    chances = {name: shifts for name, shifts in chances.items() if shifts}
    shifts = {key: shift for key, shift in ground.shifts.items() if shift.day in kept}
    jobs = {name: ground.jobs[name] for name in chances}
    problem = replace(ground.problem, jobs=tuple(jobs.values()), shifts=tuple(shifts.values()))
    return replace(ground, problem=problem, jobs=jobs, shifts=shifts), chances


def _table_bytes(ground: Ground, shifts_of: ShiftsOf) -> int:
    return len(ground.shifts) * (len(shifts_of) + 1) ** 2 * np.dtype(np.int64).itemsize


def _by_run(shifts: list[Shift], run_of: dict[date, int]) -> dict[int, list[Shift]]:
    found: dict[int, list[Shift]] = {}
    for shift in shifts:
        found.setdefault(run_of[shift.day], []).append(shift)
    return found


def _work_seconds(ground: Ground, names: list[str]) -> list[int]:
    """Minutes at the house and the drive there from the visits nearest to it, in seconds."""
    table = np.array(ground.seconds, dtype=np.int64)
    numbers = [ground.number[place] for name in names if (place := ground.jobs[name].position) is not None]
    among = np.sort(table[np.ix_(numbers, numbers)], axis=1)[:, 1 : NEAREST + 1]
    drives = among.mean(axis=1) if among.shape[1] else np.zeros(len(names))
    return [ground.jobs[name].minutes * MINUTE + int(drive) for name, drive in zip(names, drives, strict=True)]


def _hours_seconds(ground: Ground, run: tuple[date, ...], skills: frozenset[str]) -> int:
    """What those who have these skills can work in a run: no break, no drive out and home from a typical place."""
    total = 0
    for shift in ground.shifts.values():
        if shift.day in run and skills <= ground.skills[shift.technician]:
            rest = 0 if shift.rest is None else shift.rest.minutes * MINUTE
            row = ground.seconds[ground.number[shift.start_place]]
            total += shift.end - shift.start - rest - 2 * int(np.median(row))
    return int(FILLED * max(0, total))


def _chosen(
    ground: Ground,
    names: list[str],
    ways: list[tuple[int, int, int]],
    runs: list[tuple[date, ...]],
    work: list[int],
) -> list[tuple[int, int, int]]:
    """The ways (visit, run, price) of the cheapest assignment that keeps to the hours of every run and skill."""
    prizes = [ground.problem.prize(ground.jobs[name]) for name in names]
    skill_sets = sorted({ground.jobs[name].skills for name in names} | {frozenset()}, key=sorted)
    rows: list[int] = []
    columns: list[int] = []
    values: list[float] = []
    limits = [1.0] * len(names)
    for column, (visit, _, _) in enumerate(ways):
        rows.append(visit)
        columns.append(column)
        values.append(1.0)
    for number, run in enumerate(runs):
        for skills in skill_sets:
            for column, (visit, index, _) in enumerate(ways):
                if index == number and skills <= ground.jobs[names[visit]].skills:
                    rows.append(len(limits))
                    columns.append(column)
                    values.append(work[visit])
            limits.append(_hours_seconds(ground, run, skills))
    taken = milp(
        c=np.array([price - prizes[visit] for visit, _, price in ways], dtype=float),
        integrality=np.ones(len(ways)),
        bounds=Bounds(0, 1),
        constraints=LinearConstraint(
            csr_array((values, (rows, columns)), shape=(len(limits), len(ways))), -np.inf, np.array(limits)
        ),
        options={"mip_rel_gap": NEAR_ENOUGH, "time_limit": PROGRAMME_SECONDS},
    )
    if taken.x is None:
        return []
    return [way for way, value in zip(ways, taken.x, strict=True) if value > 0.5]
