"""Why a visit can't be planned at all, whatever else is: one sentence each, saying what would help."""

from datetime import date

from contractor.visits.routing.ground import Ground, suits
from contractor.visits.routing.problem import Job, Shift
from contractor.visits.routing.times import fitted


def day_words(day: date) -> str:
    """A day as the office reads it."""
    return f"{day:%A}, {day:%B} {day.day}"


def chances(ground: Ground, job: Job) -> list[Shift]:
    """The shifts in which the visit would fit if it were the only one, by day and technician."""
    if job.position is None or job.minutes <= 0:
        return []
    return [
        shift
        for shift in ground.shifts.values()
        if suits(ground, job, shift) and fitted(ground, shift, [job]) is not None
    ]


def why_never(ground: Ground, job: Job) -> str:
    """The first thing that rules out a visit which has no chance; to be asked only of such a visit."""
    if job.position is None:
        return "The house has no position. Give it one, then plan again."
    if job.minutes <= 0:
        return "It is not known how long the work takes. Give its minutes, then plan again."
    if not ground.shifts:
        return "Nobody works in these days. Give a technician a working day."
    if job.locked_to is not None:
        return _why_not_as_promised(ground, job)
    skilled = [shift for shift in ground.shifts.values() if job.skills <= ground.skills[shift.technician]]
    if not skilled:
        return f"No technician who works in these days can do {_listed(job.skills)}. Ask somebody who can, or wait."
    in_time = [shift for shift in skilled if job.may_be_on(shift.day)]
    if not in_time:
        able = "somebody who can do it" if job.skills else "anybody"
        return f"On no day {_between(job)} does {able} work in this stretch. Plan other days, or widen its days."
    open_ = [shift for shift in in_time if job.windows_on(shift.day) is not None]
    if not open_:
        return "The owner's hours are on other days than those planned. Ask for other hours, or plan other days."
    if not any(shift.room is None or job.carry <= shift.room for shift in open_):
        return "No van has room for what must be carried. Send a larger one."
    return (
        "Even as the only visit of a day it fits nobody's hours, with the drive there and back. "
        "Ask for other hours, or lengthen a working day."
    )


def _why_not_as_promised(ground: Ground, job: Job) -> str:
    lock = job.locked_to
    assert lock is not None  # noqa: S101
    shift = ground.shifts.get((lock.technician, lock.day))
    who = ground.called.get(lock.technician, lock.technician)
    promised = f"It is promised with {who} on {day_words(lock.day)}"
    if shift is None:
        return f"{promised}, but {who} doesn't work that day. Release it, and tell the owner."
    if missing := job.skills - ground.skills[lock.technician]:
        return f"{promised}, who can't do {_listed(missing)}. Release it, and send somebody who can."
    if job.windows_on(lock.day) is None:
        return f"{promised}, a day without any of the owner's hours. Agree on the hours again."
    if shift.room is not None and job.carry > shift.room:
        return f"{promised}, whose van has no room for what must be carried. Send a larger one."
    return f"{promised}, but the time doesn't fit into that working day with the drive. Agree on another time."


def _listed(skills: frozenset[str]) -> str:
    return " and ".join(sorted(skills))


def _between(job: Job) -> str:
    first = "" if job.earliest_on is None else f"from {day_words(job.earliest_on)}"
    last = "" if job.latest_on is None else f"until {day_words(job.latest_on)}"
    return f"{first} {last}".strip()
