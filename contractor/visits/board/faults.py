"""What a round breaks, in the office's words; ``routing.check_round`` is the judge of whether anything is. Pure."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from contractor.visits.routing.ground import Ground
from contractor.visits.routing.problem import MINUTE, Job, Round, Shift, Stop
from contractor.visits.routing.reasons import day_words
from contractor.visits.skills import in_words


class Broken(StrEnum):
    """What can be wrong with a round. Only the day of a visit may be broken, by whoever says so twice."""

    SKILL = "skill"
    HOURS = "hours"
    END = "end"
    REST = "rest"
    ROOM = "room"
    PROMISE = "promise"
    DAY = "day"


@dataclass(frozen=True, slots=True, kw_only=True)
class Names:
    """How people call visits and technicians."""

    jobs: Mapping[str, str]
    technicians: Mapping[str, str]

    def job(self, name: str) -> str:
        return self.jobs.get(name, name)

    def technician(self, name: str) -> str:
        return self.technicians.get(name, name)


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One thing wrong, by how many seconds where it can be measured, and the sentence that says it."""

    broken: Broken
    job: str
    seconds: int
    sentence: str

    @property
    def is_hard(self) -> bool:
        return self.broken is not Broken.DAY


def clock_words(seconds: int) -> str:
    """A time of day as people read it: 1:05 PM; to the minute, rounded up."""
    minutes = -(-seconds // MINUTE)
    hour, minute = divmod(minutes, 60)
    return f"{(hour - 1) % 12 + 1}:{minute:02} {'AM' if hour % 24 < 12 else 'PM'}"


def hours_words(first: int, last: int) -> str:
    """Hours of a day for a narrow column: 8:00–10:00 AM, 11:00 AM–1:00 PM."""
    begins, ends = clock_words(first), clock_words(last)
    return f"{begins[:-3] if begins[-2:] == ends[-2:] else begins}–{ends}"


def span_words(seconds: int) -> str:
    """A stretch of time: 45 minutes, 1 hour 5 minutes."""
    minutes = -(-seconds // MINUTE)
    hours, rest = divmod(minutes, 60)
    words = [f"{hours} hour{'s' * (hours != 1)}"] if hours else []
    if rest or not hours:
        words.append(f"{rest} minute{'s' * (rest != 1)}")
    return " ".join(words)


def short_words(seconds: int) -> str:
    """A stretch of time for a narrow column: 45 min, 6 h 10."""
    hours, minutes = divmod(-(-seconds // MINUTE), 60)
    if not hours:
        return f"{minutes} min"
    return f"{hours} h {minutes:02}" if minutes else f"{hours} h"


def faults(ground: Ground, round_: Round, names: Names) -> list[Fault]:
    """Everything wrong with a round that was laid out for its shift."""
    shift = ground.shifts[round_.technician, round_.day]
    found: list[Fault] = []
    for stop in round_.stops:
        found += _at(ground.jobs[stop.job], stop, round_, ground.skills[round_.technician], names)
    carried = sum(ground.jobs[stop.job].carry for stop in round_.stops)
    who = names.technician(round_.technician)
    if shift.room is not None and carried > shift.room:
        sentence = f"{who}'s van has no room for what must be carried that day."
        found.append(Fault(broken=Broken.ROOM, job="", seconds=carried - shift.room, sentence=sentence))
    if round_.back > shift.end:
        over = round_.back - shift.end
        sentence = (
            f"{who} would be back at {clock_words(round_.back)}, {span_words(over)} after the working day ends at "
            f"{clock_words(shift.end)}."
        )
        found.append(Fault(broken=Broken.END, job="", seconds=over, sentence=sentence))
    return found + _rest(shift, round_, who)


def _at(job: Job, stop: Stop, round_: Round, skills: frozenset[str], names: Names) -> list[Fault]:
    where, who = names.job(job.id), names.technician(round_.technician)
    found = []
    if missing := job.skills - skills:
        words = " and ".join(word.lower() for word in in_words(missing)) or " and ".join(sorted(missing))
        sentence = f"{where} needs somebody for {words}; {who} isn't noted as able to do that."
        found.append(Fault(broken=Broken.SKILL, job=job.id, seconds=0, sentence=sentence))
    if job.locked_to is not None:
        if (job.locked_to.technician, job.locked_to.day) != (round_.technician, round_.day):
            promised = f"{day_words(job.locked_to.day)} with {names.technician(job.locked_to.technician)}"
            sentence = f"{where} is promised for {promised}."
            found.append(Fault(broken=Broken.PROMISE, job=job.id, seconds=0, sentence=sentence))
    else:
        found += _day(job, round_.day, where)
    return found + _hours(job, stop, round_.day, where)


def _day(job: Job, day: date, where: str) -> list[Fault]:
    if job.earliest_on is not None and day < job.earliest_on:
        sentence = f"{where} is not to be visited before {day_words(job.earliest_on)}."
    elif job.latest_on is not None and day > job.latest_on:
        sentence = f"The last day for {where} is {day_words(job.latest_on)}; after it, the record shows it as late."
    else:
        return []
    return [Fault(broken=Broken.DAY, job=job.id, seconds=0, sentence=sentence)]


def _hours(job: Job, stop: Stop, day: date, where: str) -> list[Fault]:
    windows = job.windows_on(day)
    if windows is None:
        sentence = f"{where} can't be visited on {day_words(day)}: the owner's hours are on other days."
        return [Fault(broken=Broken.HOURS, job=job.id, seconds=1, sentence=sentence)]
    if not windows or any(window.opens <= stop.start <= window.closes for window in windows):
        return []
    last = max(window.closes for window in windows)
    opens = min(window.opens for window in windows)
    sentence = (
        f"At {where} the work would begin at {clock_words(stop.start)}; it is to begin between "
        f"{clock_words(opens)} and {clock_words(last)}."
    )
    return [Fault(broken=Broken.HOURS, job=job.id, seconds=max(1, stop.start - last), sentence=sentence)]


def _rest(shift: Shift, round_: Round, who: str) -> list[Fault]:
    rest = shift.rest
    if rest is None or not round_.stops:
        return []
    if round_.break_at is None:
        over = round_.back - rest.latest if round_.back > rest.latest else 0
        sentence = f"{who} would have no break that day."
    else:
        over = round_.break_at - rest.latest
        sentence = (
            f"{who}'s break would begin at {clock_words(round_.break_at)}; it must begin by "
            f"{clock_words(rest.latest)}."
        )
    return [Fault(broken=Broken.REST, job="", seconds=over, sentence=sentence)] if over > 0 else []
