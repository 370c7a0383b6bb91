"""Lays a day out: given the order of visits, when each begins and where the break falls."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from contractor.visits.routing.errors import NotAPlan
from contractor.visits.routing.ground import Ground, ground_of, jobs_named
from contractor.visits.routing.problem import MINUTE, Job, Problem, Round, Shift, Stop


@dataclass(frozen=True, slots=True)
class _Sheet:
    """A round and by how many seconds it breaks windows, break or hours."""

    round_: Round
    excess: int


def lay_out(problem: Problem, technician: str, day: date, order: Sequence[str]) -> Round:
    """The day with these visits in this order, each as early as it may begin, leaving no earlier than needed.

    What can't be kept (a window, the break, the end of the day) is laid out late, for ``check_round`` to name. Raises
    ``NotAPlan`` when nobody of that name works on that day or a visit is unknown or without a position.
    """
    return laid_out(ground_of(problem), technician, day, order)


def laid_out(ground: Ground, technician: str, day: date, order: Sequence[str]) -> Round:
    """The same for whoever lays out many days of one problem and looks its places up once."""
    shift = ground.shifts.get((technician, day))
    if shift is None:
        raise NotAPlan(f"{technician} doesn't work on {day:%B} {day.day}, {day.year}. Choose somebody who does.")
    return _best(ground, shift, jobs_named(ground, order)).round_


def fitted(ground: Ground, shift: Shift, jobs: Sequence[Job]) -> Round | None:
    """The day laid out when every window, the break, the hours and the van's room can be kept, else None."""
    if shift.room is not None and sum(job.carry for job in jobs) > shift.room:
        return None
    best = _best(ground, shift, jobs)
    return None if best.excess else best.round_


def _best(ground: Ground, shift: Shift, jobs: Sequence[Job]) -> _Sheet:
    """The layout that breaks least and is back first: without a break when none is owed, else with it at its best
    place, which is before a drive (even numbers) or on arrival (odd ones)."""
    plain = _walk(ground, shift, jobs, None)
    rest = shift.rest
    if rest is None or not jobs or plain.round_.back <= rest.latest:
        return plain
    sheets = [_walk(ground, shift, jobs, at) for at in range(2 * len(jobs) + 1)]
    return min(sheets, key=lambda sheet: (sheet.excess, sheet.round_.back))


def _walk(ground: Ground, shift: Shift, jobs: Sequence[Job], rest_before: int | None) -> _Sheet:
    """One pass through the day with the break at one of its places, or with none."""
    now, place, excess, break_at = shift.start, shift.start_place, 0, None
    stops: list[Stop] = []
    for index, job in enumerate(jobs):
        assert job.position is not None  # noqa: S101
        driving = ground.drive(place, job.position)
        if rest_before == 2 * index:
            now, break_at, missed = _rest(shift, now)
            excess += missed
        arrival = ready = now + driving
        if rest_before == 2 * index + 1:
            ready, break_at, missed = _rest(shift, arrival)
            excess += missed
        start, missed = _start(job, shift.day, ready)
        excess += missed
        if index == 0:  # nobody waits at the first door: leave later instead
            arrival = start if rest_before != 1 or break_at is None else break_at
        stops.append(Stop(job=job.id, driving=driving, arrival=arrival, start=start, end=start + job.minutes * MINUTE))
        now, place = stops[-1].end, job.position
    if rest_before is not None and break_at is None:
        now, break_at, missed = _rest(shift, now)
        excess += missed
    driving_back = ground.drive(place, shift.end_place) if stops else 0
    back = now + driving_back
    round_ = Round(
        technician=shift.technician,
        day=shift.day,
        leaves=stops[0].arrival - stops[0].driving if stops else shift.start,
        stops=tuple(stops),
        driving_back=driving_back,
        back=back,
        break_at=break_at,
    )
    return _Sheet(round_, excess + max(0, back - shift.end))


def _rest(shift: Shift, now: int) -> tuple[int, int, int]:
    """When the break is over, when it began, and by how much that is too late."""
    assert shift.rest is not None  # noqa: S101
    begins = max(now, shift.rest.earliest)
    return begins + shift.rest.minutes * MINUTE, begins, max(0, begins - shift.rest.latest)


def _start(job: Job, day: date, ready: int) -> tuple[int, int]:
    """The earliest start not before ``ready``, and by how much it misses the last window."""
    windows = job.windows_on(day)
    if windows is None:
        return ready, 1
    if not windows:
        return ready, 0
    starts = [max(ready, window.opens) for window in windows if ready <= window.closes]
    return (min(starts), 0) if starts else (ready, ready - max(window.closes for window in windows))
