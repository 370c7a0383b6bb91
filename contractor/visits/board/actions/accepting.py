"""A draft accepted into the book, whole or week by week: every appointment is made, moved or called off once, and every
owner told once."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta
from typing import Any

from django.db import transaction

from contractor.accounts.models import User
from contractor.core.audit import Actor
from contractor.visits.actions.appointments import (
    cancel_appointment,
    give_to_technician,
    move_appointment,
    put_in_order,
)
from contractor.visits.board import queries
from contractor.visits.board.actions.writing import begin_anew, book_now, draft_to_change, end_draft, record
from contractor.visits.board.arrangement import still_there
from contractor.visits.board.errors import BookChanged, DraftBreaks, NothingToAccept
from contractor.visits.board.outcomes import Becomes, Outcome
from contractor.visits.board.queries import Reviewed
from contractor.visits.models import Appointment, Draft, Request
from contractor.visits.routing.reasons import day_words

# An owner reads this in the message; why our rounds change is nobody's business but ours.
CALLED_OFF_BECAUSE = "We had to change our rounds and can't come on that day. We will propose another one."


@transaction.atomic
def accept_draft(*, draft_id: int, seen_step: int, by_user: User, at: datetime) -> list[Outcome]:
    """Writes what a draft says into the book, all or nothing, and returns what became of every visit.

    Raises BookChanged when something it is about was changed since, DraftBreaks when a round can't be driven,
    DraftClosed (also when it was accepted before), StillPlanning or MovedMeanwhile.
    """
    draft = draft_to_change(draft_id, seen_step)
    reviewed = _written(draft, None, by_user=by_user, at=at)
    end_draft(draft, Draft.State.ACCEPTED, "", by=by_user, at=at)
    return reviewed.outcomes


@transaction.atomic
def accept_week(*, draft_id: int, week_of: date, seen_step: int, by_user: User, at: datetime) -> list[Outcome]:
    """Writes one week of a draft into the book, all of it or nothing, and returns what became of its visits.

    What leaves the week for another one is written with it, and what makes room there (``outcomes.in_part``). The
    draft stays open for its other weeks, of the book as it then is; when they hold nothing new it is accepted as a
    whole. What was accepted can't be undone on the board. Raises NothingToAccept and what ``accept_draft`` raises.
    """
    draft = draft_to_change(draft_id, seen_step)
    first_on = week_of - timedelta(days=week_of.weekday())
    part = (first_on, first_on + timedelta(days=6))
    reviewed = _written(draft, part, by_user=by_user, at=at)
    draft.progress = {
        **draft.progress,
        "accepted": sorted({*draft.progress.get("accepted", ()), first_on.isoformat()}),
    }
    _keep_the_rest(draft, reviewed, first_on, by_user=by_user, at=at)
    return reviewed.outcomes


def _written(draft: Draft, part: tuple[date, date] | None, *, by_user: User, at: datetime) -> Reviewed:
    _lock_rows(draft)
    book = book_now(draft)
    arrangement = queries.arrangement_now(draft)
    if changed := queries.changed_names(draft, book, arrangement):
        raise BookChanged(queries.changes_in_words(changed, book))
    reviewed = queries.review_of(draft, book, arrangement, part=part)
    if part is not None and all(outcome.becomes == Becomes.KEPT for outcome in reviewed.outcomes):
        raise NothingToAccept
    if reviewed.breaks:
        raise DraftBreaks(reviewed.breaks)
    for outcome in reviewed.outcomes:
        _write(outcome, by_user=by_user, at=at)
    _number_stops(draft, reviewed, by=by_user.actor, at=at)
    return reviewed


def _keep_the_rest(draft: Draft, reviewed: Reviewed, first_on: date, *, by_user: User, at: datetime) -> None:
    """The draft begins anew from the book as it is after a week was accepted."""
    arrangement = queries.arrangement_now(draft)
    done = {outcome.job for outcome in reviewed.outcomes}
    # What was accepted is promised as it now stands, and is no longer free to move.
    arrangement = replace(arrangement, released=arrangement.released - done, locked=arrangement.locked - done)
    book = book_now(draft)
    sentence = f"Accepted: the week of {day_words(first_on)}. The other weeks are still a draft."
    begin_anew(draft, book, still_there(book.problem, arrangement), sentence, by=by_user, at=at)
    record(draft, by=by_user.actor, at=at, verb="week of draft accepted", after={"week": first_on.isoformat()})
    rest = queries.review_of(draft, book, queries.arrangement_now(draft))
    if all(outcome.becomes == Becomes.KEPT for outcome in rest.outcomes):
        end_draft(draft, Draft.State.ACCEPTED, "", by=by_user, at=at)


def _lock_rows(draft: Draft) -> None:
    """Holds every visit that the draft is about, so that nobody moves one between looking and writing."""
    names = {name for row in queries.step_now(draft).arrangement["rounds"] for name in row["jobs"]}
    numbers = [number for name in names if (number := queries.request_id_of(name)) is not None]
    list(Request.objects.select_for_update().filter(pk__in=numbers).order_by("pk").values_list("pk"))
    standing = Appointment.objects.filter(on__gte=draft.first_on, on__lte=draft.last_on)
    list(standing.select_for_update().order_by("pk").values_list("pk"))


def _write(outcome: Outcome, *, by_user: User, at: datetime) -> None:
    by = by_user.actor
    if outcome.becomes == Becomes.CALLED_OFF and outcome.held is not None:
        appointment = outcome.held.appointment_id
        cancel_appointment(appointment_id=appointment, because=CALLED_OFF_BECAUSE, by=by, at=at)
    elif outcome.becomes == Becomes.NEW:
        request_id = queries.request_id_of(outcome.job)
        assert request_id is not None  # noqa: S101  # every job of a book has a request
        give_to_technician(request_id=request_id, made_by=by_user, by=by, at=at, **_where(outcome))
    elif outcome.becomes != Becomes.KEPT and outcome.held is not None:
        move_appointment(appointment_id=outcome.held.appointment_id, by=by, at=at, **_where(outcome))


def _where(outcome: Outcome) -> dict[str, Any]:
    return {
        "technician_id": int(outcome.technician or 0),
        "on": outcome.day,
        "arrive_from": outcome.arrive_from,
        "arrive_until": outcome.arrive_until,
    }


def _number_stops(draft: Draft, reviewed: Reviewed, *, by: Actor, at: datetime) -> None:
    """The rounds in the draft's order; a stop that the draft doesn't know, such as one done already, comes first."""
    for (technician, day), names in reviewed.orders.items():
        stops = Appointment.objects.live().filter(technician_id=int(technician), on=day)
        by_request = {stop.request_id: stop.pk for stop in stops.order_by("stop_number", "pk")}
        wanted = [pk for name in names if (pk := by_request.get(queries.request_id_of(name) or 0)) is not None]
        _put(int(technician), day, [pk for pk in by_request.values() if pk not in wanted] + wanted, by=by, at=at)


def _put(technician_id: int, day: date, appointment_ids: Sequence[int], *, by: Actor, at: datetime) -> None:
    put_in_order(technician_id=technician_id, on=day, appointment_ids=list(appointment_ids), by=by, at=at)
