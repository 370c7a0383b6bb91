"""One visit of a draft by itself: what is known of it, and the days and technicians it could stand with."""

from dataclasses import dataclass
from datetime import date

from contractor.properties.models import Person
from contractor.visits.board import queries
from contractor.visits.board.arrangement import plan_of
from contractor.visits.board.faults import clock_words
from contractor.visits.board.outcomes import Held
from contractor.visits.models import Draft, Request
from contractor.visits.routing.ground import ground_of
from contractor.visits.routing.offers import offers
from contractor.visits.routing.reasons import day_words


@dataclass(frozen=True, slots=True, kw_only=True)
class Fitting:
    """A day and technician that the visit fits, the hour, and the driving it adds, in minutes."""

    where: str
    technician: str
    day: date
    starts: str
    added_minutes: int


@dataclass(frozen=True, slots=True, kw_only=True)
class CardPage:
    """A visit, where it stands, every place it could be put and the ones it fits best."""

    job: str
    request: Request
    owner: Person | None
    held: Held | None
    held_by: str
    where: str
    stands: str
    is_locked: bool
    why: str
    places: tuple[tuple[str, str], ...]
    fitting: tuple[Fitting, ...]


def card_page(draft: Draft, job: str) -> CardPage | None:
    """Everything about one visit of a draft; None when it isn't among them."""
    book = queries.read_book(draft.first_on, draft.last_on, include_unplanned=not draft.keeps_others)
    request = book.standing.requests.get(job)
    if request is None:
        return None
    arrangement = queries.arrangement_now(draft)
    problem = queries.drafted_problem(book, draft, arrangement)
    plan = plan_of(ground_of(problem), arrangement, draft.left_out)
    key = arrangement.where(job)
    held = book.held.get(job)
    ownerships = request.system.property.present_ownerships  # type: ignore[attr-defined]
    return CardPage(
        job=job,
        request=request,
        owner=ownerships[0].person if ownerships else None,
        held=held,
        held_by=book.names.technician(held.technician) if held else "",
        where=_address(*key) if key else "",
        stands=f"{book.names.technician(key[0])}, {day_words(key[1])}" if key else "",
        is_locked=job in arrangement.locked,
        why=draft.left_out.get(job, ""),
        places=tuple(
            (_address(*shift.key), f"{day_words(shift.day)}: {book.names.technician(shift.technician)}")
            for shift in sorted(problem.shifts, key=lambda shift: (shift.day, book.names.technician(shift.technician)))
        ),
        fitting=tuple(
            Fitting(
                where=_address(offer.technician, offer.day),
                technician=book.names.technician(offer.technician),
                day=offer.day,
                starts=clock_words(offer.start),
                added_minutes=round(offer.added_driving_minutes),
            )
            for offer in offers(problem, plan, job)
        ),
    )


def _address(technician: str, day: date) -> str:
    return f"{technician}/{day.isoformat()}"
