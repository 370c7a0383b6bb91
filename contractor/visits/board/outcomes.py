"""What accepting a draft does to each visit, and whose owner is told what. Pure."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, time
from enum import StrEnum

from contractor.visits.arrival import promised
from contractor.visits.board.arrangement import Arrangement
from contractor.visits.routing.ground import Key
from contractor.visits.routing.problem import Problem, Round, Stop, seconds_after_midnight


class Becomes(StrEnum):
    """What becomes of a visit; the owner is told of the first three."""

    NEW = "new"
    MOVED = "moved"
    CALLED_OFF = "called_off"
    HANDED_OVER = "handed_over"
    KEPT = "kept"


TOLD = (Becomes.MOVED, Becomes.CALLED_OFF, Becomes.NEW)


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """An appointment as it stands in the book."""

    appointment_id: int
    technician: str
    day: date
    arrive_from: time | None = None
    arrive_until: time | None = None
    is_confirmed: bool = False
    is_begun: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """One visit before and after: ``held`` is None for a new one; technician and day are None when it is called off."""

    job: str
    becomes: Becomes
    held: Held | None
    technician: str | None = None
    day: date | None = None
    arrive_from: time | None = None
    arrive_until: time | None = None

    @property
    def leaves(self) -> Key | None:
        """The round that it leaves, where it stood in another or is called off."""
        if self.held is None or (self.held.technician, self.held.day) == self.comes_to:
            return None
        return self.held.technician, self.held.day

    @property
    def comes_to(self) -> Key | None:
        """The round in which it then stands."""
        return None if self.technician is None or self.day is None else (self.technician, self.day)

    @property
    def days(self) -> tuple[date, ...]:
        """The days that it is about: before and after."""
        return tuple(key[1] for key in (self.leaves, self.comes_to) if key is not None)


def in_part(found: Sequence[Outcome], first_on: date, last_on: date) -> list[Outcome]:
    """Those that must be written for the days between two, both included, to become as drafted.

    They are whatever stands on one of these days before or after; and, where something goes from these days into
    another round, whatever makes room for it there.
    """
    taken = [any(first_on <= day <= last_on for day in one.days) for one in found]
    while True:
        filled = {one.comes_to for one, is_taken in zip(found, taken, strict=True) if is_taken and one.leaves}
        more = [
            is_taken or (one.leaves is not None and one.leaves in filled)
            for one, is_taken in zip(found, taken, strict=True)
        ]
        if more == taken:
            return [one for one, is_taken in zip(found, taken, strict=True) if is_taken]
        taken = more


def outcomes(
    problem: Problem, arrangement: Arrangement, rounds: Mapping[Key, Round], held: Mapping[str, Held]
) -> list[Outcome]:
    """What becomes of every visit that stands in the draft or in the book, in order of day, technician and stop.

    Called off is what the draft took off the rounds, or found no place for although it was free to; a promise that
    can't be driven stays in the book as it is, for a person to decide about. An owner who was told hours keeps them
    as long as the work begins in them; one who was told only a day keeps that. A change of technician alone is
    nothing that owners are written to about.
    """
    day_begins = {shift.key: shift.start for shift in problem.shifts}
    found = [
        _outcome(stop, key, held.get(stop.job), day_begins[key])
        for key, round_ in sorted(rounds.items(), key=lambda each: (each[0][1], each[0][0]))
        for stop in round_.stops
    ]
    planned = {outcome.job for outcome in found}
    free = {job.id for job in problem.jobs if job.locked_to is None and job.position is not None}
    return found + [
        _left(job, one, is_off=job in free and not one.is_begun)
        for job, one in sorted(held.items(), key=lambda each: (each[1].day, each[0]))
        if job not in planned
    ]


def _left(job: str, held: Held, *, is_off: bool) -> Outcome:
    if is_off:
        return Outcome(job=job, becomes=Becomes.CALLED_OFF, held=held)
    return Outcome(
        job=job,
        becomes=Becomes.KEPT,
        held=held,
        technician=held.technician,
        day=held.day,
        arrive_from=held.arrive_from,
        arrive_until=held.arrive_until,
    )


def _outcome(stop: Stop, key: Key, held: Held | None, day_begins: int) -> Outcome:
    technician, day = key
    first, last = promised(stop.start, day_begins)
    if held is None:
        return Outcome(
            job=stop.job,
            becomes=Becomes.NEW,
            held=None,
            technician=technician,
            day=day,
            arrive_from=first,
            arrive_until=last,
        )
    stays = still_holds(held, day, stop.start)
    becomes = Becomes.KEPT if stays and held.technician == technician else Becomes.HANDED_OVER
    return Outcome(
        job=stop.job,
        becomes=becomes if stays else Becomes.MOVED,
        held=held,
        technician=technician,
        day=day,
        arrive_from=held.arrive_from if stays else first,
        arrive_until=held.arrive_until if stays else last,
    )


def still_holds(held: Held, day: date, begins: int) -> bool:
    """Whether an owner still finds true what they were told when the work begins then, in seconds after midnight."""
    if held.day != day:
        return False
    if held.is_begun or held.arrive_from is None or held.arrive_until is None:
        return True
    return seconds_after_midnight(held.arrive_from) <= begins <= seconds_after_midnight(held.arrive_until)
