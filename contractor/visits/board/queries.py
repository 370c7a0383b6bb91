"""Reads for the board: the book of a stretch, drafts, and everything one page of it shows."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.utils import timezone

from contractor.accounts.models import User
from contractor.visits.board.arrangement import (
    Arrangement,
    Upset,
    as_arranged,
    from_moment,
    rounds_of,
    steady,
    still_there,
    upset,
)
from contractor.visits.board.faults import Names, faults
from contractor.visits.board.fingerprints import changed_since
from contractor.visits.board.outcomes import Held, Outcome, in_part, outcomes
from contractor.visits.models import Appointment, Draft, DraftQuerySet, DraftStep
from contractor.visits.routing.checking import check_round
from contractor.visits.routing.ground import Key, ground_of
from contractor.visits.routing.problem import Plan, Problem, seconds_after_midnight
from contractor.visits.routing.reasons import day_words
from contractor.visits.stretch import Standing, standing_problem

# A search that nobody has heard of for so long was lost with its worker, and is begun again by itself.
SILENT = timedelta(minutes=6)
# After so long whoever waits is told, and may begin it again: longer than any part of a search takes.
DOUBTED = timedelta(seconds=100)
PREFIX = "request:"


@dataclass(frozen=True, slots=True, kw_only=True)
class Book:
    """What stands for a stretch: the problem and plan of the appointments, and the rows behind its names."""

    standing: Standing
    names: Names
    held: Mapping[str, Held]

    @property
    def problem(self) -> Problem:
        return self.standing.problem

    @property
    def plan(self) -> Plan:
        return self.standing.plan

    @property
    def begun(self) -> frozenset[str]:
        """Visits that were done or are being done: nothing about them is planned any more."""
        return frozenset(name for name, held in self.held.items() if held.is_begun)

    @property
    def cities(self) -> dict[str, str]:
        """The town of each visit."""
        return {name: request.system.property.city for name, request in self.standing.requests.items()}

    def as_drafted(self, draft: Draft) -> Problem:
        """The problem as a draft sees it: from which moment on, what came up, and how dear a change is."""
        begun_on, begun_at = _local(draft.made_at)
        upsets = upsets_of(draft)
        problem = from_moment(upset(self.problem, upsets, self.cities), begun_on, begun_at, upsets)
        return steady(problem) if draft.keeps_others else problem


def _local(moment: datetime) -> tuple[date, int]:
    """The day and the second of it that a moment is where the company is."""
    local = timezone.localtime(moment)
    return local.date(), seconds_after_midnight(local.time())


def upsets_of(draft: Draft) -> tuple[Upset, ...]:
    """What came up on the days of a draft."""
    return tuple(Upset.from_json(row) for row in draft.upsets)


def read_book(first_on: date, last_on: date, *, include_unplanned: bool = True) -> Book:
    """What stands between two days, both included."""
    standing = standing_problem(first_on, last_on, include_unplanned=include_unplanned)
    return Book(
        standing=standing,
        names=Names(
            jobs={name: request.system.property.street_line for name, request in standing.requests.items()},
            technicians=standing.staffing.names,
        ),
        held={name: _held(appointment) for name, appointment in standing.appointments.items()},
    )


def request_id_of(job: str) -> int | None:
    """The request behind a name of the planner's, or None when it names none."""
    number = job.removeprefix(PREFIX)
    return int(number) if job.startswith(PREFIX) and number.isdecimal() else None


def _held(appointment: Appointment) -> Held:
    return Held(
        appointment_id=appointment.pk,
        technician=str(appointment.technician_id),
        day=appointment.on,
        arrive_from=appointment.arrive_from,
        arrive_until=appointment.arrive_until,
        is_confirmed=appointment.state == Appointment.State.CONFIRMED,
        is_begun=appointment.state == Appointment.State.DONE or appointment.begun_at is not None,
    )


def arrangement_now(draft: Draft) -> Arrangement:
    """The step of a draft that shows. Raises DraftStep.DoesNotExist while it is being planned for the first time."""
    return Arrangement.from_json(step_now(draft).arrangement)


def step_now(draft: Draft) -> DraftStep:
    """The step that a draft's pointer stands at."""
    return draft.steps.select_related("by").get(number=draft.step_number)


def drafted_problem(book: Book, draft: Draft, arrangement: Arrangement) -> Problem:
    """The problem with everything that a draft says about it: what came up, locks and released promises."""
    return as_arranged(book.as_drafted(draft), arrangement)


def drafts_to_see() -> DraftQuerySet:
    """Drafts with whoever made them, newest first."""
    return Draft.objects.select_related("made_by", "ended_by")


def open_drafts(first_on: date, last_on: date) -> list[Draft]:
    """Open drafts that share a day with a stretch."""
    return list(drafts_to_see().open().filter(first_on__lte=last_on, last_on__gte=first_on))


def silent_draft_ids(*, at: datetime) -> list[int]:
    """Drafts that are being planned but have not been heard of for minutes."""
    lost = Draft.objects.filter(state=Draft.State.PLANNING, touched_at__lt=at - SILENT)
    return list(lost.order_by("pk").values_list("pk", flat=True))


def is_silent(draft: Draft, *, at: datetime) -> bool:
    """Whether a draft that is being planned has not been heard of for longer than any part of a search takes."""
    return draft.state == Draft.State.PLANNING and draft.touched_at < at - DOUBTED


def towns_with_visits(first_on: date, last_on: date) -> list[str]:
    """Towns in which an owner expects somebody between two days."""
    stops = Appointment.objects.filter(on__gte=first_on, on__lte=last_on, state__in=("planned", "confirmed"))
    return sorted(set(stops.values_list("request__system__property__city", flat=True)))


def technicians_by_id() -> dict[str, User]:
    """Active technicians by the planner's names."""
    return {str(user.pk): user for user in User.objects.technicians()}


@dataclass(frozen=True, slots=True, kw_only=True)
class Reviewed:
    """What accepting a draft would do: what becomes of each visit, the order of each round, and what can't be kept."""

    outcomes: list[Outcome]
    orders: Mapping[Key, tuple[str, ...]]
    breaks: list[str]


def review_of(
    draft: Draft, book: Book, arrangement: Arrangement, *, part: tuple[date, date] | None = None
) -> Reviewed:
    """What accepting a draft would do, or the part of it between two days, judged by the checker round by round."""
    problem = drafted_problem(book, draft, arrangement)
    ground = ground_of(problem)
    known = still_there(problem, arrangement)
    rounds = rounds_of(ground, known)
    found = outcomes(problem, known, rounds, book.held)
    orders = {key: order for key, order in known.orders.items() if order}
    lost = {key: order for key, order in arrangement.orders.items() if key not in ground.shifts}
    if part is not None:
        found = in_part(found, *part)
        about = {one.comes_to for one in found}
        orders = {key: order for key, order in orders.items() if key in about}
        lost = {key: order for key, order in lost.items() if part[0] <= key[1] <= part[1]}
    breaks = [
        fault.sentence
        for key in orders
        if check_round(problem, rounds[key])
        for fault in faults(ground, rounds[key], book.names)
        if fault.is_hard
    ]
    breaks += [
        f"{book.names.job(name)} stands with somebody who doesn't work that day."
        for order in lost.values()
        for name in order
    ]
    return Reviewed(outcomes=found, orders=orders, breaks=breaks)


def changed_names(draft: Draft, book: Book, arrangement: Arrangement) -> list[str]:
    """Visits and working days of a draft that aren't as they were when it was made."""
    return changed_since(draft.book, book.problem, arrangement)


def changes_in_words(changed: Iterable[str], book: Book) -> list[str]:
    """What changed, as people call it."""
    return [_change_in_words(name, book) for name in changed]


def _change_in_words(name: str, book: Book) -> str:
    if name.startswith("day:"):
        _, technician, day = name.split(":")
        return f"the working day of {book.names.technician(technician)} on {day_words(date.fromisoformat(day))}"
    if name not in book.standing.requests:
        return "a visit was done or is no longer wanted"
    return book.names.job(name)


def steps_around(draft: Draft) -> list[DraftStep]:
    """The step that shows and the one that was undone after it."""
    numbers = (draft.step_number, draft.step_number + 1)
    return list(draft.steps.select_related("by").filter(number__in=numbers))
