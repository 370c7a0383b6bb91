"""What every step of the planner looks up: visits, shifts and driving times by name, read from the problem once."""

from array import array
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from contractor.visits.routing.errors import NotAPlan
from contractor.visits.routing.problem import Job, Place, Problem, Shift

Key = tuple[str, date]


@dataclass(frozen=True, slots=True)
class Ground:
    """A problem with its look-ups. ``seconds[a][b]`` is the drive between the places numbered ``a`` and ``b``."""

    problem: Problem
    jobs: dict[str, Job]
    shifts: dict[Key, Shift]
    skills: dict[str, frozenset[str]]
    called: dict[str, str]
    number: dict[Place, int]
    seconds: "list[array[int]]"

    def drive(self, origin: Place, destination: Place) -> int:
        """Whole seconds from one place to another."""
        return self.seconds[self.number[origin]][self.number[destination]]


def ground_of(problem: Problem) -> Ground:
    """Looks everything up once; asks the travel provider for one table."""
    places: dict[Place, int] = {}
    for shift in problem.shifts:
        for place in (shift.start_place, shift.end_place):
            places.setdefault(place, len(places))
    for job in problem.jobs:
        if job.position is not None:
            places.setdefault(job.position, len(places))
    return Ground(
        problem=problem,
        jobs={job.id: job for job in problem.jobs},
        shifts={
            shift.key: shift for shift in sorted(problem.shifts, key=lambda shift: (shift.day, shift.technician))
        },
        skills={technician.id: technician.skills for technician in problem.technicians},
        called={technician.id: technician.name or technician.id for technician in problem.technicians},
        number=places,
        # Rows of machine integers: read as quickly as lists, and a sixth of their memory for a month's visits.
        seconds=[array("q", row.tolist()) for row in problem.travel.seconds(list(places))] if places else [],
    )


def jobs_named(ground: Ground, names: Sequence[str]) -> list[Job]:
    """The visits of these names in this order; refuses a name that isn't in the problem or has no position."""
    for name in names:
        if name not in ground.jobs:
            raise NotAPlan(f"The visit {name} is not among those to plan. Add it first.")
        if ground.jobs[name].position is None:
            raise NotAPlan(f"The visit {name} has no position. Give its house one first.")
    return [ground.jobs[name] for name in names]


def suits(ground: Ground, job: Job, shift: Shift) -> bool:
    """Whether day, skills, promise and room of the van allow the visit in this shift; hours are asked elsewhere."""
    return (
        job.skills <= ground.skills[shift.technician]
        and job.may_be_on(shift.day)
        and (job.locked_to is None or job.locked_to.technician == shift.technician)
        and job.windows_on(shift.day) is not None
        and (shift.room is None or job.carry <= shift.room)
    )
