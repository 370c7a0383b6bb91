"""Steps of a draft on the board: moves, locks, undone and done again, and brought up to date."""

from dataclasses import replace
from datetime import datetime

from django.db import transaction

from contractor.accounts.models import User
from contractor.visits.board import queries, rules
from contractor.visits.board.actions.writing import (
    book_now,
    draft_to_change,
    keep_plan,
    ready_draft,
    record,
    take_step,
)
from contractor.visits.board.arrangement import Arrangement, arrangement_of, plan_of, still_there
from contractor.visits.board.errors import MustBeConfirmed, NothingToRedo, NothingToUndo
from contractor.visits.board.queries import arrangement_now
from contractor.visits.routing.ground import ground_of
from contractor.visits.routing.planning import put_right


@transaction.atomic
def move_on_board(
    *, draft_id: int, move: rules.Move, seen_step: int, is_confirmed: bool, by_user: User, at: datetime
) -> str:
    """Puts a visit elsewhere in a draft and says what that costs.

    Raises MustBeConfirmed with the questions that come first unless ``is_confirmed``; MoveRefused and the other
    refusals of ``rules.judge``; DraftClosed, StillPlanning or MovedMeanwhile.
    """
    draft = draft_to_change(draft_id, seen_step)
    book = book_now(draft)
    judged = rules.judge(book.as_drafted(draft), arrangement_now(draft), move, book.names, book.begun)
    if judged.questions and not is_confirmed:
        raise MustBeConfirmed(judged.questions)
    take_step(draft, judged.arrangement, judged.sentence, by_user=by_user, at=at)
    return judged.sentence


@transaction.atomic
def lock_on_board(*, draft_id: int, job: str, seen_step: int, by_user: User, at: datetime) -> str:
    """Locks a visit where it stands, or unlocks it.

    Raises NotOnTheBoard, DraftClosed, StillPlanning or MovedMeanwhile.
    """
    draft = draft_to_change(draft_id, seen_step)
    judged = rules.locked(arrangement_now(draft), job, book_now(draft).names)
    take_step(draft, judged.arrangement, judged.sentence, by_user=by_user, at=at)
    return judged.sentence


@transaction.atomic
def undo_step(*, draft_id: int, seen_step: int, at: datetime) -> str:
    """Takes the last step back. Raises NothingToUndo, DraftClosed, StillPlanning or MovedMeanwhile."""
    draft = draft_to_change(draft_id, seen_step)
    if draft.step_number == 0:
        raise NothingToUndo
    taken = queries.step_now(draft)
    draft.step_number, draft.touched_at = draft.step_number - 1, at
    draft.save()
    return f"Taken back: {taken.sentence}"


@transaction.atomic
def redo_step(*, draft_id: int, seen_step: int, at: datetime) -> str:
    """Does again what was taken back. Raises NothingToRedo, DraftClosed, StillPlanning or MovedMeanwhile."""
    draft = draft_to_change(draft_id, seen_step)
    again = draft.steps.filter(number=draft.step_number + 1).first()
    if again is None:
        raise NothingToRedo
    draft.step_number, draft.touched_at = again.number, at
    draft.save()
    return f"Done again: {again.sentence}"


@transaction.atomic
def bring_up_to_date(*, draft_id: int, by_user: User, at: datetime) -> str:
    """Makes a draft of the book as it is now: what was promised or moved meanwhile stands as in the book, everything
    else stays where the draft has it, and what no longer fits is put where it costs least.

    It can't be undone past this. Raises DraftClosed or StillPlanning.
    """
    draft = ready_draft(draft_id)
    book = book_now(draft)
    arrangement = still_there(book.problem, arrangement_now(draft))
    for name in queries.changed_names(draft, book, arrangement):
        arrangement = arrangement.without(name)
        there = next((key for key, order in arrangement_of(book.plan).orders.items() if name in order), None)
        if there is not None:
            arrangement = arrangement.with_job(name, there, len(arrangement.orders.get(there, ())))
    problem = queries.drafted_problem(book, draft, arrangement)
    kept = put_right(problem, plan_of(ground_of(problem), arrangement, draft.left_out))
    locked = arrangement.locked & set(kept.where())
    sentence = "Brought up to date with the book."
    keep_plan(draft, book, kept, sentence, by=by_user, at=at)
    first = draft.steps.get(number=0)
    again = replace(Arrangement.from_json(first.arrangement), locked=locked)
    first.arrangement = replace(again, released=again.released | arrangement.released).as_json()
    first.save()
    record(draft, by=by_user.actor, at=at, verb="draft brought up to date", after={"book_sha256": draft.book_sha256})
    return sentence
