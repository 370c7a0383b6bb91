"""Decides about a move on the board: what it costs, what it breaks, what has to be asked first. Pure."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date

from contractor.visits.board.arrangement import Arrangement, as_arranged
from contractor.visits.board.errors import (
    BegunAlready,
    LockedHere,
    MoveRefused,
    NoPosition,
    NoRoomThatDay,
    NotOnTheBoard,
    NotWorking,
)
from contractor.visits.board.faults import Fault, Names, clock_words, faults, span_words
from contractor.visits.routing.checking import check_round
from contractor.visits.routing.ground import Ground, Key, ground_of, suits
from contractor.visits.routing.insertion import best_anywhere, best_in_shift
from contractor.visits.routing.problem import MINUTE, Job, Problem, Round, Told, days_off_target
from contractor.visits.routing.reasons import day_words
from contractor.visits.routing.times import laid_out


@dataclass(frozen=True, slots=True, kw_only=True)
class Move:
    """A visit to be put with a technician on a day, before the stop numbered ``place``; at its cheapest place without
    one; with whomever it costs least that day without a technician; off the board without a day."""

    job: str
    technician: str | None = None
    day: date | None = None
    place: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """The arrangement as it would be, what must be confirmed first, and what was done in a sentence."""

    arrangement: Arrangement
    questions: tuple[str, ...]
    sentence: str


def judge(
    problem: Problem, arrangement: Arrangement, move: Move, names: Names, begun: frozenset[str] = frozenset()
) -> Judged:
    """What becomes of a move. ``problem`` is the book's, with the arrangement's locks not yet in it.

    ``begun`` are visits that were done or are being done. Raises ``NotOnTheBoard``, ``BegunAlready``, ``LockedHere``,
    ``NoPosition``, ``NoRoomThatDay``, ``NotWorking`` or, for a rule that can't be broken, ``MoveRefused``. What may be
    broken by whoever says so twice is a question: a promise to the moved visit's own owner, a day outside its first and
    last, taking a visit off that its owner was told of.
    """
    job = next((each for each in problem.jobs if each.id == move.job), None)
    if job is None:
        raise NotOnTheBoard
    if job.id in begun:
        raise BegunAlready(names.job(job.id))
    here = arrangement.where(job.id)
    if job.id in arrangement.locked and here != (move.technician, move.day):
        raise LockedHere(names.job(job.id))
    if move.day is None:
        return _taken_off(problem, arrangement, job, names)
    if job.position is None:
        raise NoPosition(names.job(job.id))
    day = move.day
    if move.technician is None:
        move = replace(move, technician=_cheapest_on(problem, arrangement, job, day, names), place=None)
    key = (move.technician or "", day)
    promised = _promise_given_up(job, arrangement, key)
    freed = replace(arrangement, released=arrangement.released | {job.id}) if promised else arrangement
    ground = ground_of(as_arranged(problem, replace(freed, locked=freed.locked - {job.id})))
    if key not in ground.shifts:
        raise NotWorking(names.technician(key[0]), key[1])
    moved = _placed(ground, freed, job.id, key, move.place)
    keys = [each for each in dict.fromkeys((here, key)) if each is not None and each in ground.shifts]
    before = {each: laid_out(ground, *each, arrangement.orders.get(each, ())) for each in keys}
    after = {each: laid_out(ground, *each, moved.orders.get(each, ())) for each in keys}
    new = _new_faults(ground, before, after, names)
    if hard := [fault for fault in new if fault.is_hard]:
        raise MoveRefused([fault.sentence for fault in hard])
    questions = [_promise_words(job, names)] if promised else []
    questions += [fault.sentence for fault in new]
    return Judged(
        arrangement=moved,
        questions=tuple(questions),
        sentence=_told_words(ground, job, before, after, key, names),
    )


def _cheapest_on(problem: Problem, arrangement: Arrangement, job: Job, day: date, names: Names) -> str:
    """Who takes a visit on a day at the least cost; the days of its window are asked about later, and a promise of its
    own is given up. Raises NoRoomThatDay."""
    freed = replace(arrangement, released=arrangement.released | {job.id}, locked=arrangement.locked - {job.id})
    asked = as_arranged(problem, freed)
    jobs = tuple(
        replace(each, earliest_on=None, target_on=None, latest_on=None) if each.id == job.id else each
        for each in asked.jobs
    )
    ground = ground_of(replace(asked, jobs=jobs))
    wanted = ground.jobs[job.id]
    shifts = [shift for shift in ground.shifts.values() if shift.day == day and suits(ground, wanted, shift)]
    orders = {
        key: [name for name in order if name != job.id and name in ground.jobs]
        for key, order in arrangement.orders.items()
    }
    way = best_anywhere(ground, orders, wanted, shifts)
    if way is None:
        raise NoRoomThatDay(names.job(job.id), day_words(day))
    return way.key[0]


def _promise_given_up(job: Job, arrangement: Arrangement, key: Key) -> bool:
    lock = job.locked_to
    return lock is not None and job.id not in arrangement.released and key != (lock.technician, lock.day)


def _taken_off(problem: Problem, arrangement: Arrangement, job: Job, names: Names) -> Judged:
    where = names.job(job.id)
    if arrangement.where(job.id) is None:
        raise NotOnTheBoard
    told = told_of(job)
    questions = []
    if told is not None:
        questions.append(
            f"The owner of {where} was told {day_words(told.day)}: the appointment will be called off, and they will "
            "be written to."
        )
    released = arrangement.released | {job.id} if job.locked_to is not None else arrangement.released
    return Judged(
        arrangement=replace(arrangement.without(job.id), released=released),
        questions=tuple(questions),
        sentence=f"{where} is taken off the rounds and waits among those not planned.",
    )


def told_of(job: Job) -> Told | None:
    """What the owner of a visit was told, whether or not they confirmed it."""
    if job.told is not None:
        return job.told
    return None if job.locked_to is None else Told(technician=job.locked_to.technician, day=job.locked_to.day)


def _placed(ground: Ground, arrangement: Arrangement, job: str, key: Key, place: int | None) -> Arrangement:
    others = [name for name in arrangement.orders.get(key, ()) if name != job]
    if place is None:
        best = best_in_shift(ground, others, ground.jobs[job], ground.shifts[key])
        place = len(others) if best is None else [stop.job for stop in best.round_.stops].index(job)
    return arrangement.with_job(job, key, max(0, min(place, len(others))))


def _new_faults(
    ground: Ground, before: Mapping[Key, Round], after: Mapping[Key, Round], names: Names
) -> list[Fault]:
    """What is broken now and was not before, or is broken by more; a round that was late already may stay so."""
    known = {
        (key, fault.broken, fault.job): fault.seconds
        for key, round_ in before.items()
        for fault in faults(ground, round_, names)
    }
    found = []
    for key, round_ in after.items():
        if not check_round(ground.problem, round_):
            continue
        found += [
            fault
            for fault in faults(ground, round_, names)
            if fault.seconds > known.get((key, fault.broken, fault.job), -1)
        ]
    return found


def _promise_words(job: Job, names: Names) -> str:
    lock = job.locked_to
    assert lock is not None  # noqa: S101
    promised = f"{day_words(lock.day)} with {names.technician(lock.technician)}"
    return (
        f"{names.job(job.id)} is promised for {promised}. Moving it takes that promise back; the owner must be told."
    )


def _told_words(
    ground: Ground, job: Job, before: Mapping[Key, Round], after: Mapping[Key, Round], key: Key, names: Names
) -> str:
    """Where it stands now, what that costs, and who must be told."""
    stop = next(stop for stop in after[key].stops if stop.job == job.id)
    number = [each.job for each in after[key].stops].index(job.id) + 1
    more = sum(round_.driving for round_ in after.values()) - sum(round_.driving for round_ in before.values())
    said = [
        f"{names.job(job.id)} is stop {number} of {len(after[key].stops)} with {names.technician(key[0])} on "
        f"{day_words(key[1])}, arriving at {clock_words(stop.arrival)}: {_driving_words(more)}."
    ]
    late = days_off_target(job.target_on, key[1]) if job.target_on and key[1] > job.target_on else 0
    if late:
        said.append(f"That is {late} working day{'s' * (late != 1)} after the wished day.")
    told = told_of(job)
    if told is not None and told.day != key[1]:
        said.append(f"The owner was told {day_words(told.day)} and will be told again.")
    return " ".join(said)


def _driving_words(seconds: int) -> str:
    minutes = round(abs(seconds) / MINUTE)
    if not minutes:
        return "no more driving than before"
    return f"{span_words(minutes * MINUTE)} {'more' if seconds > 0 else 'less'} driving"


def locked(arrangement: Arrangement, job: str, names: Names) -> Judged:
    """Fixes a visit where it stands, or lets it loose again when it is fixed. Raises ``NotOnTheBoard``."""
    key = arrangement.where(job)
    if key is None:
        raise NotOnTheBoard
    if job in arrangement.locked:
        sentence = f"{names.job(job)} may move again."
        return Judged(
            arrangement=replace(arrangement, locked=arrangement.locked - {job}), questions=(), sentence=sentence
        )
    sentence = f"{names.job(job)} is locked to {names.technician(key[0])} on {day_words(key[1])}."
    return Judged(arrangement=replace(arrangement, locked=arrangement.locked | {job}), questions=(), sentence=sentence)


def load_words(worked: int, whole: int) -> str:
    """How full a working day is, in a word; both in seconds."""
    share = worked / whole if whole else 1.0
    for most, word in ((0, "free"), (0.4, "light"), (0.75, "half full"), (0.92, "full"), (1.0, "very full")):
        if share <= most:
            return word
    return "too full"
