"""What a page of the board shows, put together from the book, a draft and its present step."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from contractor.properties.models import Person, Property
from contractor.properties.positions import position_of
from contractor.visits.board import queries
from contractor.visits.board.arrangement import Arrangement, arrangement_of, rounds_of
from contractor.visits.board.outcomes import TOLD, Becomes, Outcome
from contractor.visits.board.queries import Book, Reviewed
from contractor.visits.board.sheet import Sheet, sheet_of
from contractor.visits.board.sketch import Label, Spot, Trail, mark, sketch
from contractor.visits.models import Draft, DraftStep, Request
from contractor.visits.routing.ground import Key, ground_of
from contractor.visits.routing.problem import Place, Position, Problem, Round

WEEK = timedelta(days=7)
SATURDAY = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class MapPage:
    """One day's rounds on the map, and the legend: mark, name, how many stops."""

    day: date
    svg: str
    legend: tuple[tuple[str, str, int], ...]
    waiting: int
    rough: int


@dataclass(frozen=True, slots=True, kw_only=True)
class BoardPage:
    """The sheet of a stretch with its map; ``draft`` is None when it is the book itself."""

    sheet: Sheet
    map: MapPage
    draft: Draft | None
    step: DraftStep | None
    undo: DraftStep | None
    redo: DraftStep | None
    changed: tuple[str, ...]
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnerTold:
    """One owner who is told something when a draft is accepted."""

    outcome: Outcome
    request: Request
    owner: Person | None
    technician: str
    was: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ReviewPage:
    """What accepting does, for whoever accepts: who is told what, who only gets another technician, what can't be.

    ``part`` are the first and last day when only a week is accepted; ``elsewhere`` is how many then come to stand
    outside it.
    """

    part: tuple[date, date] | None
    elsewhere: int
    told: dict[str, list[OwnerTold]]
    handed_over: list[OwnerTold]
    kept: int
    breaks: tuple[str, ...]
    changed: tuple[str, ...]


def stretch_around(day: date, weeks: int) -> tuple[date, date]:
    """Monday to Sunday of the week around a day, or of that week and the next."""
    monday = day - timedelta(days=day.weekday())
    return monday, monday + weeks * WEEK - timedelta(days=1)


def week_to_plan(today: date) -> date:
    """The day whose week is shown when none is asked for: at a weekend the next working week."""
    return today if today.weekday() < SATURDAY else today + timedelta(days=7 - today.weekday())


def book_page(first_on: date, last_on: date, *, map_day: date | None, show: date | None = None) -> BoardPage:
    """The book of a stretch as a board to look at; of a long one the week of ``show``."""
    book = queries.read_book(first_on, last_on)
    arrangement = arrangement_of(book.plan)
    sheet = sheet_of(
        book,
        book.problem,
        arrangement,
        first_on=first_on,
        last_on=last_on,
        reasons=book.plan.unplanned,
        show=show or map_day,
    )
    return BoardPage(
        sheet=sheet,
        map=_map(book, book.problem, arrangement, sheet, map_day),
        draft=None,
        step=None,
        undo=None,
        redo=None,
        changed=(),
        cautions=book.standing.cautions,
    )


def draft_page(draft: Draft, *, map_day: date | None, show: date | None = None) -> BoardPage:
    """A draft as a board to work on; of a long one the week of ``show``."""
    book = queries.read_book(draft.first_on, draft.last_on, include_unplanned=not draft.keeps_others)
    steps = {step.number: step for step in queries.steps_around(draft)}
    arrangement = Arrangement.from_json(steps[draft.step_number].arrangement)
    problem = queries.drafted_problem(book, draft, arrangement)
    reviewed = queries.review_of(draft, book, arrangement)
    sheet = sheet_of(
        book,
        problem,
        arrangement,
        first_on=draft.first_on,
        last_on=draft.last_on,
        reasons=draft.left_out,
        show=show or map_day,
        told_on=[outcome.days for outcome in reviewed.outcomes if outcome.becomes in TOLD],
    )
    changed = queries.changed_names(draft, book, arrangement) if draft.state == Draft.State.READY else []
    return BoardPage(
        sheet=sheet,
        map=_map(book, problem, arrangement, sheet, map_day),
        draft=draft,
        step=steps[draft.step_number],
        undo=steps[draft.step_number] if draft.step_number else None,
        redo=steps.get(draft.step_number + 1),
        changed=tuple(queries.changes_in_words(changed, book)),
        cautions=tuple(draft.cautions),
    )


def review_page(draft: Draft, *, week_of: date | None = None) -> ReviewPage:
    """What accepting a draft would do, or the week around a day of it."""
    book = queries.read_book(draft.first_on, draft.last_on, include_unplanned=not draft.keeps_others)
    arrangement = queries.arrangement_now(draft)
    part = None if week_of is None else stretch_around(week_of, 1)
    reviewed = queries.review_of(draft, book, arrangement, part=part)
    told = {becomes.value: _owners(book, reviewed, becomes) for becomes in TOLD}
    return ReviewPage(
        part=part,
        elsewhere=0
        if part is None
        else sum(not part[0] <= (row.outcome.day or part[0]) <= part[1] for rows in told.values() for row in rows),
        told=told,
        handed_over=_owners(book, reviewed, Becomes.HANDED_OVER),
        kept=sum(outcome.becomes == Becomes.KEPT for outcome in reviewed.outcomes),
        breaks=tuple(reviewed.breaks),
        changed=tuple(queries.changes_in_words(queries.changed_names(draft, book, arrangement), book)),
    )


def _owners(book: Book, reviewed: Reviewed, becomes: Becomes) -> list[OwnerTold]:
    return [_owner(book, outcome) for outcome in reviewed.outcomes if outcome.becomes == becomes]


def _owner(book: Book, outcome: Outcome) -> OwnerTold:
    request = book.standing.requests[outcome.job]
    ownerships = request.system.property.present_ownerships  # type: ignore[attr-defined]
    return OwnerTold(
        outcome=outcome,
        request=request,
        owner=ownerships[0].person if ownerships else None,
        technician=book.names.technician(outcome.technician or ""),
        was=book.names.technician(outcome.held.technician) if outcome.held else "",
    )


def _map(book: Book, problem: Problem, arrangement: Arrangement, sheet: Sheet, wanted: date | None) -> MapPage:
    rounds = rounds_of(ground_of(problem), arrangement)
    days = [day for week in sheet.weeks for day in week.days]
    busy = sorted({key[1] for key, round_ in rounds.items() if round_.stops and key[1] in days})
    day = wanted if wanted in days else (busy or days)[0]
    shown = {key: round_ for key, round_ in rounds.items() if key[1] == day and round_.stops}
    trails = [_trail(book, problem, sheet, key, round_) for key, round_ in shown.items()]
    waiting = [spot for card in sheet.waiting if (spot := _spot(card.request.system.property, "")) is not None]
    return MapPage(
        day=day,
        svg=sketch(trails, waiting, _towns(request.system.property for request in book.standing.requests.values())),
        legend=tuple((mark(trail.style), trail.name, len(trail.stops)) for trail in trails),
        waiting=len(waiting),
        rough=sum(spot.is_rough for trail in trails for spot in trail.stops) + sum(spot.is_rough for spot in waiting),
    )


def _trail(book: Book, problem: Problem, sheet: Sheet, key: Key, round_: Round) -> Trail:
    shift = next(shift for shift in problem.shifts if shift.key == key)
    spots = [
        _spot(book.standing.requests[stop.job].system.property, str(number))
        for number, stop in enumerate(round_.stops, start=1)
    ]
    return Trail(
        style=sheet.numbers[key[0]],
        name=book.names.technician(key[0]),
        start=_degrees(shift.start_place),
        stops=tuple(spot for spot in spots if spot is not None),
        end=_degrees(shift.end_place),
    )


def _degrees(place: Place) -> tuple[float, float] | None:
    return (place.latitude, place.longitude) if isinstance(place, Position) else None


def _spot(house: Property, number: str) -> Spot | None:
    position = position_of(house)
    if position is None:
        return None
    return Spot(
        latitude=position.latitude,
        longitude=position.longitude,
        number=number,
        name=f"{house.street_line}, {house.city}",
        is_rough=position.is_rough,
    )


def _towns(houses: Iterable[Property]) -> list[Label]:
    by_town: dict[str, list[tuple[float, float]]] = defaultdict(list)
    for house in houses:
        position = position_of(house)
        if position is not None:
            by_town[house.city].append((position.latitude, position.longitude))
    return [
        Label(
            latitude=sum(latitude for latitude, _ in places) / len(places),
            longitude=sum(longitude for _, longitude in places) / len(places),
            name=town,
        )
        for town, places in sorted(by_town.items())
    ]
