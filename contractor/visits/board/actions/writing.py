"""What every write about a draft shares: loading it locked, keeping a plan or a step of it, ending it."""

from datetime import datetime
from typing import Any

from contractor.accounts.models import User
from contractor.core import audit
from contractor.core.audit import SYSTEM, Actor
from contractor.visits.board import queries
from contractor.visits.board.arrangement import Arrangement, arrangement_of
from contractor.visits.board.errors import DraftClosed, MovedMeanwhile, StillPlanning
from contractor.visits.board.fingerprints import book_of, sha256_of
from contractor.visits.board.queries import Book, read_book
from contractor.visits.models import Draft, DraftStep
from contractor.visits.routing.problem import Plan


def ready_draft(draft_id: int) -> Draft:
    """A draft that is ready to be changed, locked."""
    draft = Draft.objects.select_for_update().get(pk=draft_id)
    if draft.state == Draft.State.PLANNING:
        raise StillPlanning
    if draft.state != Draft.State.READY:
        raise DraftClosed(draft.get_state_display())
    return draft


def draft_to_change(draft_id: int, seen_step: int) -> Draft:
    """The same, if the page that asks shows its present step."""
    draft = ready_draft(draft_id)
    if draft.step_number != seen_step:
        step = queries.step_now(draft)
        raise MovedMeanwhile(step.by.name if step.by else "Somebody")
    return draft


def book_now(draft: Draft) -> Book:
    return read_book(draft.first_on, draft.last_on, include_unplanned=not draft.keeps_others)


def keep_plan(draft: Draft, book: Book, kept: Plan, sentence: str, *, by: User | None, at: datetime) -> None:
    """Makes a plan the first step of a draft, with the book it was made from."""
    released = frozenset(
        job.id
        for job, drafted in zip(book.problem.jobs, book.as_drafted(draft).jobs, strict=True)
        if job.locked_to is not None and drafted.locked_to is None
    )
    draft.left_out, draft.cautions = kept.unplanned, list(dict.fromkeys([*book.standing.cautions, *kept.cautions]))
    begin_anew(draft, book, arrangement_of(kept, released=released), sentence, by=by, at=at)


def begin_anew(
    draft: Draft, book: Book, arrangement: Arrangement, sentence: str, *, by: User | None, at: datetime
) -> None:
    """Makes an arrangement the first step of a draft, of the book as it is now; what was before can't be undone."""
    draft.steps.all().delete()
    draft.book = book_of(book.problem)
    draft.book_sha256 = sha256_of(draft.book)
    draft.step_number, draft.touched_at = 0, at
    draft.save()
    DraftStep.objects.create(
        draft=draft, number=0, sentence=sentence, arrangement=arrangement.as_json(), by=by, at=at
    )


def take_step(draft: Draft, arrangement: Arrangement, sentence: str, *, by_user: User, at: datetime) -> None:
    """Adds a step after the one that shows; what was undone before is gone."""
    draft.steps.filter(number__gt=draft.step_number).delete()
    draft.step_number += 1
    draft.touched_at = at
    draft.save()
    DraftStep.objects.create(
        draft=draft,
        number=draft.step_number,
        sentence=sentence,
        arrangement=arrangement.as_json(),
        by=by_user,
        at=at,
    )


def end_draft(draft: Draft, state: Draft.State, because: str, *, by: User | None, at: datetime) -> None:
    draft.state, draft.state_because = state, because
    draft.ended_by, draft.ended_at, draft.touched_at = by, at, at
    draft.save()
    actor = by.actor if by else SYSTEM
    record(draft, by=actor, at=at, verb=f"draft {state.value}", after={"state": state.value, "because": because})


def record(draft: Draft, *, by: Actor, at: datetime, verb: str, after: dict[str, Any]) -> None:
    audit.record(by=by, at=at, verb=verb, subject=draft, property_id=None, after=after)
