"""Checks a plan against its problem without any of the planner's own steps; a sentence for everything that is wrong."""

from collections import Counter
from itertools import pairwise

from contractor.visits.routing.problem import MINUTE, Job, Place, Plan, Problem, Round, Shift, Stop


def check(problem: Problem, plan: Plan) -> list[str]:
    """Everything wrong with a plan, one sentence each; an empty list when it can be driven as it stands."""
    jobs = {job.id: job for job in problem.jobs}
    found: list[str] = []
    for key, times in Counter((round_.technician, round_.day) for round_ in plan.rounds).items():
        if times > 1:
            found.append(f"{key[0]} has {times} rounds on {key[1].isoformat()}.")
    seen = Counter(stop.job for round_ in plan.rounds for stop in round_.stops)
    found += [f"{job} is visited {times} times." for job, times in seen.items() if times > 1]
    for job in jobs:
        if job not in seen and job not in plan.unplanned:
            found.append(f"{job} is neither planned nor left out with a reason.")
        if job in seen and job in plan.unplanned:
            found.append(f"{job} is planned and also said to be left out.")
    found += [f"{job} is left out without being among the visits." for job in plan.unplanned if job not in jobs]
    for round_ in plan.rounds:
        found += check_round(problem, round_)
    driven = sum(stop.driving for round_ in plan.rounds for stop in round_.stops)
    driven += sum(round_.driving_back for round_ in plan.rounds)
    if abs(driven / MINUTE - plan.travel_minutes) > 1e-6:
        found.append(f"The rounds drive {driven / MINUTE:.1f} minutes, the plan says {plan.travel_minutes:.1f}.")
    return found


def check_round(problem: Problem, round_: Round) -> list[str]:
    """Everything wrong with one technician's day."""
    whose = f"{round_.technician} on {round_.day.isoformat()}"
    shift = next((each for each in problem.shifts if each.key == (round_.technician, round_.day)), None)
    if shift is None:
        return [f"{whose} doesn't work."]
    jobs = {job.id: job for job in problem.jobs}
    known: list[tuple[Job, Stop]] = []
    for stop in round_.stops:
        if stop.job not in jobs or jobs[stop.job].position is None:
            return [f"{whose}: {stop.job} is no visit that can be driven to."]
        known.append((jobs[stop.job], stop))
    skills = next(each.skills for each in problem.technicians if each.id == round_.technician)
    found: list[str] = []
    for job, stop in known:
        found += [f"{whose}: {sentence}" for sentence in _wrong_at(job, stop, round_, skills)]
    if shift.room is not None and sum(job.carry for job, _ in known) > shift.room:
        found.append(f"{whose}: the van carries more than it has room for.")
    found += [f"{whose}: {sentence}" for sentence in _wrong_times(problem, shift, round_, known)]
    found += [f"{whose}: {sentence}" for sentence in _wrong_break(shift, round_)]
    return found


def _wrong_at(job: Job, stop: Stop, round_: Round, skills: frozenset[str]) -> list[str]:
    found = [f"{job.id} needs {skill}." for skill in sorted(job.skills - skills)]
    if stop.end - stop.start != job.minutes * MINUTE:
        found.append(f"{job.id} is given another time than its {job.minutes} minutes.")
    if stop.arrival > stop.start:
        found.append(f"{job.id} begins before the arrival.")
    windows = list(job.windows)
    if job.locked_to is None:
        if job.earliest_on is not None and round_.day < job.earliest_on:
            found.append(f"{job.id} is before its first day.")
        if job.latest_on is not None and round_.day > job.latest_on:
            found.append(f"{job.id} is after its last day.")
    else:
        if (job.locked_to.technician, job.locked_to.day) != (round_.technician, round_.day):
            found.append(f"{job.id} is promised with {job.locked_to.technician} on {job.locked_to.day.isoformat()}.")
        if job.locked_to.window is not None:
            windows = [job.locked_to.window]
    promised = job.locked_to is not None and job.locked_to.window is not None
    if windows and not any(
        window.opens <= stop.start <= window.closes and (promised or window.days is None or round_.day in window.days)
        for window in windows
    ):
        found.append(f"{job.id} begins outside its hours.")
    return found


def _wrong_times(problem: Problem, shift: Shift, round_: Round, known: list[tuple[Job, Stop]]) -> list[str]:
    """Legs driven in the time they take, with the break outside them, inside the hours of work."""
    found = []
    if round_.leaves < shift.start:
        found.append("leaves before the working day begins.")
    if round_.back > shift.end:
        found.append("is back after the working day ends.")
    positions: list[Place] = [job.position for job, _ in known if job.position is not None]
    places = [shift.start_place, *positions, shift.end_place]
    departures = [round_.leaves, *(stop.end for _, stop in known)]
    arrivals = [*(stop.arrival for _, stop in known), round_.back]
    said = [*(stop.driving for _, stop in known), round_.driving_back]
    names = [*(job.id for job, _ in known), "the way back"]
    for (origin, destination), left, arrived, driving, name in zip(
        pairwise(places), departures, arrivals, said, names, strict=True
    ):
        needed = int(problem.travel.seconds([origin, destination])[0, 1]) if known and origin != destination else 0
        if driving != needed:
            found.append(f"the drive to {name} takes {needed} s, not {driving} s.")
        if arrived - left - _rest_within(shift, round_, left, arrived) < needed:
            found.append(f"there is no time for the drive to {name}.")
    return found


def _rest_within(shift: Shift, round_: Round, first: int, last: int) -> int:
    if shift.rest is None or round_.break_at is None:
        return 0
    return max(0, min(last, round_.break_at + shift.rest.minutes * MINUTE) - max(first, round_.break_at))


def _wrong_break(shift: Shift, round_: Round) -> list[str]:
    rest = shift.rest
    if rest is None:
        return [] if round_.break_at is None else ["takes a break that isn't owed."]
    if round_.break_at is None:
        return ["has no break."] if round_.stops and round_.back > rest.latest else []
    found = []
    if not max(rest.earliest, shift.start) <= round_.break_at <= rest.latest:
        found.append("the break begins outside its span.")
    if any(_rest_within(shift, round_, stop.start, stop.end) for stop in round_.stops):
        found.append("the break falls into a visit.")
    return found
