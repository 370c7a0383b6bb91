"""The board as a sheet: a row for each technician, a column for each day, stops in order with the driving between."""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from contractor.visits.board.arrangement import Arrangement, rounds_of
from contractor.visits.board.faults import clock_words, faults, hours_words, short_words, span_words
from contractor.visits.board.outcomes import Held, still_holds
from contractor.visits.board.overview import Overview, overview_of
from contractor.visits.board.queries import Book
from contractor.visits.board.rules import load_words
from contractor.visits.board.sketch import mark
from contractor.visits.models import Request, VisitKind
from contractor.visits.routing.checking import check_round
from contractor.visits.routing.ground import Ground, Key, ground_of
from contractor.visits.routing.problem import (
    MINUTE,
    Job,
    Problem,
    Round,
    Shift,
    days_off_target,
    seconds_after_midnight,
)
from contractor.visits.stretch import NO_POSITION, NOT_GIVEN

SATURDAY = 5
# More weeks than a wall holds are shown one at a time.
WEEKS_ON_THE_WALL = 2
FULL_BAR = 100
SHORT_KINDS: dict[str, str] = {
    VisitKind.CHECKUP: "check-up",
    VisitKind.REPAIR: "repair",
    VisitKind.CLAIM: "claim call",
    VisitKind.TRANSFER: "transfer",
    VisitKind.REINSTATEMENT: "reinstating",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Card:
    """One visit, in a round or beside the sheet."""

    job: str
    request: Request
    number: int
    minutes: int
    driving_minutes: int
    arrives: str
    begins: str
    state: str
    is_locked: bool
    hours: str
    late_days: int
    was: str
    rest_before: str
    why: str = ""

    @property
    def name(self) -> str:
        return self.request.system.property.street_line

    @property
    def work(self) -> str:
        """What is done there in words that fit a narrow column, such as "check-up and 2 repairs"."""
        visits: list[Request] = [self.request, *self.request.going_along]  # type: ignore[attr-defined]
        kinds = Counter(SHORT_KINDS[each.kind] for each in visits)
        return " and ".join(word if number == 1 else f"{number} {word}s" for word, number in kinds.items())


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """One technician's day. ``off`` says why there is none; ``worked`` and ``driven`` are per cent of its hours."""

    technician: str
    day: date
    off: str
    cards: tuple[Card, ...] = ()
    leaves: str = ""
    back: str = ""
    driving_back_minutes: int = 0
    rest_after: str = ""
    load: str = ""
    load_words: str = ""
    worked: int = 0
    driven: int = 0
    wrong: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One technician's week, with the mark that stands for them on the map."""

    technician: str
    name: str
    mark: str
    cells: tuple[Cell, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetWeek:
    """One week of the sheet: its days and a row for each technician."""

    days: tuple[date, ...]
    rows: tuple[Row, ...]

    @property
    def columns(self) -> list[tuple[date, list[tuple[Row, Cell]]]]:
        """The same by day: each with every technician's round of it."""
        return [(day, [(row, row.cells[number]) for row in self.rows]) for number, day in enumerate(self.days)]


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """Everything on the wall, and the figures over it.

    A long stretch has an ``overview`` of all its weeks, and one of them in ``weeks``; the figures are of the whole.
    ``nobody_given`` says whether visits wait for no other reason than that; their cards have no ``why``.
    """

    weeks: tuple[SheetWeek, ...]
    overview: Overview | None
    waiting: tuple[Card, ...]
    nobody_given: bool
    planned: int
    rounds: int
    driving: str
    wrong: int
    numbers: Mapping[str, int]


@dataclass(frozen=True, slots=True)
class _Hand:
    """What every card is drawn from."""

    book: Book
    problem: Problem
    arrangement: Arrangement
    jobs: Mapping[str, Job]
    reasons: Mapping[str, str]
    wrong: Mapping[Key, tuple[str, ...]]


def sheet_of(
    book: Book,
    problem: Problem,
    arrangement: Arrangement,
    *,
    first_on: date,
    last_on: date,
    reasons: Mapping[str, str],
    show: date | None = None,
    told_on: Iterable[tuple[date, ...]] = (),
) -> Sheet:
    """The sheet of a stretch; ``problem`` carries the arrangement's locks, ``reasons`` why visits were left out.

    Of a long stretch the week of ``show`` is on the wall, the first one when that is no day of it. ``told_on`` has the
    days of which owners are told.
    """
    ground = ground_of(problem)
    rounds = rounds_of(ground, arrangement)
    wrong = _wrong(book, ground, arrangement, rounds)
    hand = _Hand(book, problem, arrangement, ground.jobs, reasons, wrong)
    numbers = {name: number for number, name in enumerate(book.names.technicians)}
    planned = {stop.job for round_ in rounds.values() for stop in round_.stops}
    waiting = [_waiting(hand, job) for job in problem.jobs if job.id not in planned]
    every = weeks_between(first_on, last_on, {key[1] for key in ground.shifts})
    on_wall, overview = every, None
    if len(every) > WEEKS_ON_THE_WALL:
        shown = next((days for days in every if show is not None and _monday(days[0]) == _monday(show)), every[0])
        on_wall = [shown]
        overview = overview_of(every, ground.shifts.values(), rounds, shown=shown, wrong=wrong, told_on=told_on)
    weeks = tuple(
        SheetWeek(days=days, rows=tuple(_row(hand, ground, rounds, name, numbers[name], days) for name in numbers))
        for days in on_wall
    )
    return Sheet(
        weeks=weeks,
        overview=overview,
        waiting=tuple(sorted(waiting, key=lambda card: (card.request.latest_on, card.request.pk))),
        nobody_given=any(not card.why for card in waiting),
        planned=len(planned),
        rounds=sum(bool(round_.stops) for round_ in rounds.values()),
        driving=span_words(sum(round_.driving for round_ in rounds.values())),
        wrong=sum(len(sentences) for sentences in wrong.values()),
        numbers=numbers,
    )


def _wrong(
    book: Book, ground: Ground, arrangement: Arrangement, rounds: Mapping[Key, Round]
) -> dict[Key, tuple[str, ...]]:
    """What can't be driven, in sentences by technician and day; also stops where nobody works."""
    found = {
        key: tuple(fault.sentence for fault in faults(ground, round_, book.names))
        for key, round_ in rounds.items()
        if check_round(ground.problem, round_)
    }
    for key, order in arrangement.orders.items():
        if order and key not in ground.shifts:
            found[key] = tuple(f"{book.names.job(name)} stands here, but nobody works." for name in order)
    return found


def _monday(day: date) -> date:
    return day - timedelta(days=day.weekday())


def weeks_between(first_on: date, last_on: date, worked: Iterable[date]) -> list[tuple[date, ...]]:
    """The days of each calendar week; Saturdays and Sundays only where somebody works on them."""
    kept = set(worked)
    weeks: dict[date, list[date]] = {}
    for number in range((last_on - first_on).days + 1):
        day = first_on + timedelta(days=number)
        if day.weekday() < SATURDAY or day in kept:
            weeks.setdefault(_monday(day), []).append(day)
    return [tuple(days) for days in weeks.values()]


def _row(
    hand: _Hand, ground: Ground, rounds: Mapping[Key, Round], name: str, number: int, days: Sequence[date]
) -> Row:
    cells = tuple(_cell(hand, ground, rounds.get((name, day)), (name, day)) for day in days)
    return Row(technician=name, name=hand.book.names.technician(name), mark=mark(number), cells=cells)


def _cell(hand: _Hand, ground: Ground, round_: Round | None, key: Key) -> Cell:
    shift = ground.shifts.get(key)
    wrong = hand.wrong.get(key, ())
    if shift is None:
        return Cell(technician=key[0], day=key[1], off=hand.book.standing.staffing.off.get(key) or "Off", wrong=wrong)
    if round_ is None or not round_.stops:
        return Cell(technician=key[0], day=key[1], off="", load="free", load_words=_whole_words(shift))
    worked = sum(stop.end - stop.start for stop in round_.stops)
    whole = shift.end - shift.start
    rest_at = round_.break_at
    after_all = rest_at is not None and rest_at >= round_.stops[-1].end
    return Cell(
        technician=key[0],
        day=key[1],
        off="",
        cards=tuple(_card(hand, round_, index) for index in range(len(round_.stops))),
        leaves=clock_words(round_.leaves),
        back=clock_words(round_.back),
        driving_back_minutes=_minutes(round_.driving_back),
        rest_after=clock_words(rest_at) if after_all and rest_at is not None else "",
        load=load_words(round_.back - round_.leaves, whole),
        load_words=f"{short_words(worked)} work, {short_words(round_.driving)} driving of {short_words(whole)}",
        worked=min(FULL_BAR, round(FULL_BAR * worked / whole)),
        driven=min(FULL_BAR, round(FULL_BAR * round_.driving / whole)),
        wrong=wrong,
    )


def _card(hand: _Hand, round_: Round, index: int) -> Card:
    stop = round_.stops[index]
    job, request = hand.jobs[stop.job], hand.book.standing.requests[stop.job]
    rest = ""
    before = round_.stops[index - 1].end if index else round_.leaves
    if round_.break_at is not None and before <= round_.break_at < stop.start:
        rest = clock_words(round_.break_at)
    held = hand.book.held.get(stop.job)
    promised = job.locked_to is not None and job.locked_to.window is not None
    moved = held is not None and not promised and not still_holds(held, round_.day, stop.start)
    was = ""
    if held is not None and moved:
        was = _told_words(hand, held)
    elif held is not None and held.technician != round_.technician:
        was = hand.book.names.technician(held.technician)
    target = job.target_on
    return Card(
        job=stop.job,
        request=request,
        number=index + 1,
        minutes=job.minutes,
        driving_minutes=_minutes(stop.driving),
        arrives=clock_words(stop.arrival),
        begins=clock_words(stop.start) if stop.start > stop.arrival else "",
        state="moved" if moved else _state(held),
        is_locked=stop.job in hand.arrangement.locked,
        hours=_hours(job, round_.day) if promised else _hours_told(held) if held is not None and not moved else "",
        late_days=days_off_target(target, round_.day) if target is not None and round_.day > target else 0,
        was=was,
        rest_before=rest,
    )


def _waiting(hand: _Hand, job: Job) -> Card:
    held = hand.book.held.get(job.id)
    why = hand.reasons.get(job.id, NO_POSITION if job.position is None else NOT_GIVEN)
    return Card(
        job=job.id,
        request=hand.book.standing.requests[job.id],
        number=0,
        minutes=job.minutes,
        driving_minutes=0,
        arrives="",
        begins="",
        state=_state(held),
        is_locked=False,
        hours="",
        late_days=0,
        was="" if held is None else _told_words(hand, held),
        rest_before="",
        why="" if why == NOT_GIVEN else why,
    )


def _told_words(hand: _Hand, held: Held) -> str:
    """What stands in the book: Tue, Dec 1, 10:00 AM–12:00 PM, Theo Marsh, confirmed."""
    words = [f"{held.day:%a}, {held.day:%b} {held.day.day}", _hours_told(held)]
    words += [hand.book.names.technician(held.technician), "confirmed" if held.is_confirmed else ""]
    return ", ".join(filter(None, words))


def _hours_told(held: Held) -> str:
    if held.arrive_from is None or held.arrive_until is None:
        return ""
    return hours_words(seconds_after_midnight(held.arrive_from), seconds_after_midnight(held.arrive_until))


def _state(held: Held | None) -> str:
    """``begun`` or done, ``confirmed`` or ``told`` where an owner knows of an appointment, else ``new``."""
    if held is None:
        return "new"
    if held.is_begun:
        return "begun"
    return "confirmed" if held.is_confirmed else "told"


def _hours(job: Job, day: date) -> str:
    windows = job.windows_on(day)
    if not windows:
        return ""
    return " or ".join(hours_words(window.opens, window.closes) for window in windows)


def _whole_words(shift: Shift) -> str:
    return f"{short_words(shift.end - shift.start)}, from {clock_words(shift.start)}"


def _minutes(seconds: int) -> int:
    return -(-seconds // MINUTE)
