"""Drafts begun, planned in the background, and dropped."""

from collections.abc import Callable, Iterator, Sequence
from datetime import date, datetime, timedelta
from typing import Any

from django.db import transaction

from contractor.accounts.models import User
from contractor.celery import start_long_after_commit
from contractor.core import audit, clock
from contractor.core.audit import SYSTEM
from contractor.core.errors import Refusal
from contractor.visits.board import queries
from contractor.visits.board.actions.writing import end_draft, keep_plan, record
from contractor.visits.board.arrangement import Upset, cost_of
from contractor.visits.board.errors import (
    DraftClosed,
    DraftOpen,
    NobodyWorks,
    StillHeard,
    StretchPast,
    StretchTooLong,
)
from contractor.visits.board.queries import Book, read_book
from contractor.visits.models import Draft
from contractor.visits.routing.planning import is_planned_in_runs, plan, plan_in_runs, put_right
from contractor.visits.routing.problem import Plan, Problem

SLICES = 6
DONE = 100
LONGEST_WEEKS = 5
ATTEMPTS = 3
BROKE_OFF = "It could not be planned: the work broke off three times. Ask whoever looks after this installation."


@transaction.atomic
def start_draft(
    *,
    first_on: date,
    last_on: date,
    by_user: User,
    at: datetime,
    seconds: int | None = None,
    iterations: int | None = None,
    seed: int = 1,
    cause: str = "",
    upsets: Sequence[Upset] = (),
    keeps_others: bool = False,
) -> Draft:
    """Begins a draft for a stretch from today on. With a budget of seconds or steps it is planned in the background;
    without one it begins with what stands, to be arranged by hand.

    ``keeps_others`` is for a day that was upset: only what stands is planned, and as little as can be is moved.
    Raises StretchPast, StretchTooLong, NobodyWorks, or DraftOpen when somebody arranges these days already and nothing
    was upset.
    """
    first_on = max(first_on, clock.day_of(at))
    if last_on < first_on:
        raise StretchPast
    if last_on - first_on >= timedelta(weeks=LONGEST_WEEKS) and not keeps_others:
        raise StretchTooLong(LONGEST_WEEKS)
    others = queries.open_drafts(first_on, last_on)
    if others and not keeps_others:
        raise DraftOpen(others[0].made_by.name)
    book = read_book(first_on, last_on, include_unplanned=not keeps_others)
    if not book.problem.shifts and not keeps_others:
        raise NobodyWorks
    is_searched = seconds is not None or iterations is not None
    draft = Draft.objects.create(
        first_on=first_on,
        last_on=last_on,
        cause=cause,
        keeps_others=keeps_others,
        upsets=[upset.as_json() for upset in upsets],
        state=Draft.State.PLANNING if is_searched else Draft.State.READY,
        seconds=seconds,
        iterations=iterations,
        seed=seed,
        touched_at=at,
        made_by=by_user,
        made_at=at,
    )
    record(draft, by=by_user.actor, at=at, verb="draft begun", after=audit.snapshot(draft))
    if is_searched:
        start_long_after_commit("contractor.visits.tasks.plan_draft", draft_id=draft.pk)
    else:
        keep_plan(draft, book, book.plan, "This is what stands.", by=by_user, at=at)
    return draft


def plan_draft(*, draft_id: int, now: Callable[[], datetime]) -> None:
    """Searches for a draft's rounds in slices, so that it can be watched and stopped; each write is one of its own.

    Safe to run twice: a draft that is no longer being planned is left alone, and so is one that was begun again since.
    """
    draft = _begin_search(draft_id=draft_id, at=now())
    if draft is None:
        return
    book = read_book(draft.first_on, draft.last_on, include_unplanned=not draft.keeps_others)
    problem = book.as_drafted(draft)
    standing = book.plan if book.plan.rounds else None
    # When as few as can be are to move, the book put right by itself is the first to be improved upon.
    first = best = put_right(problem, book.plan) if draft.keeps_others else None
    attempt = draft.progress["attempts"]
    try:
        for share, best in _searched(draft, problem, first, standing):
            if not _note_progress(draft_id=draft_id, attempt=attempt, share=share, best=best, at=now()):
                return
    except Refusal as refusal:
        _give_up(draft_id=draft_id, because=refusal.sentence, at=now())
        return
    if best is not None:
        _finish_search(draft_id=draft_id, attempt=attempt, book=book, best=best, at=now())


def _searched(draft: Draft, problem: Problem, first: Plan | None, standing: Plan | None) -> Iterator[tuple[int, Plan]]:
    """How far the search has come, in per cent, and the best plan so far, beginning with ``first``: slice by slice, or
    for a stretch that is too large to be searched as a whole one run of days after the other."""
    best = first
    if is_planned_in_runs(problem):
        for done, found in plan_in_runs(problem, seed=draft.seed, start=first or standing, **_budget(draft)):
            yield int(DONE * done), found
            best = found
        if first is not None and best is not None and cost_of(problem, first) < cost_of(problem, best):
            yield DONE, first
        return
    for number, budget in enumerate(_slices(draft), start=1):
        found = plan(problem, seed=draft.seed + number - 1, start=best or standing, **budget)
        if best is None or cost_of(problem, found) < cost_of(problem, best):
            best = found
        yield DONE * number // SLICES, best


def _budget(draft: Draft) -> dict[str, Any]:
    return {"seconds": draft.seconds or 0} if draft.iterations is None else {"iterations": draft.iterations}


def _slices(draft: Draft) -> Iterator[dict[str, Any]]:
    """The budget of a draft in equal parts; the last takes what is left of the steps."""
    if draft.iterations is None:
        for _ in range(SLICES):
            yield {"seconds": (draft.seconds or 0) / SLICES}
        return
    each = draft.iterations // SLICES
    for number in range(SLICES):
        yield {"iterations": each if number < SLICES - 1 else draft.iterations - each * (SLICES - 1)}


@transaction.atomic
def _begin_search(*, draft_id: int, at: datetime) -> Draft | None:
    draft = Draft.objects.select_for_update().get(pk=draft_id)
    if draft.state != Draft.State.PLANNING:
        return None
    attempts = draft.progress.get("attempts", 0) + 1
    retries = draft.progress.get("retries", 0)
    if attempts > ATTEMPTS * (1 + retries):
        end_draft(draft, Draft.State.DROPPED, BROKE_OFF, by=None, at=at)
        return None
    draft.progress, draft.touched_at = {"attempts": attempts, "retries": retries, "share": 0}, at
    draft.save()
    return draft


@transaction.atomic
def _note_progress(*, draft_id: int, attempt: int, share: int, best: Plan, at: datetime) -> bool:
    """Keeps how far the search has come; False when somebody stopped it or another worker has begun it again."""
    draft = Draft.objects.select_for_update().get(pk=draft_id)
    if draft.state != Draft.State.PLANNING or draft.progress.get("attempts") != attempt:
        return False
    planned = sum(len(round_.stops) for round_ in best.rounds)
    draft.progress = {
        **draft.progress,
        "share": share,
        "planned": planned,
        "left_out": len(best.unplanned),
        "until": max((round_.day for round_ in best.rounds), default=draft.first_on).isoformat(),
        "driving_minutes": round(best.travel_minutes),
    }
    draft.touched_at = at
    draft.save()
    return True


@transaction.atomic
def _finish_search(*, draft_id: int, attempt: int, book: Book, best: Plan, at: datetime) -> None:
    draft = Draft.objects.select_for_update().get(pk=draft_id)
    if draft.state != Draft.State.PLANNING or draft.progress.get("attempts") != attempt:
        return
    draft.state = Draft.State.READY
    planned = sum(len(round_.stops) for round_ in best.rounds)
    keep_plan(draft, book, best, f"Planned: {planned} visits in {len(best.rounds)} rounds.", by=None, at=at)
    record(draft, by=SYSTEM, at=at, verb="draft planned", after={"state": draft.state, "planned": planned})


@transaction.atomic
def _give_up(*, draft_id: int, because: str, at: datetime) -> None:
    draft = Draft.objects.select_for_update().get(pk=draft_id)
    if draft.state == Draft.State.PLANNING:
        end_draft(draft, Draft.State.DROPPED, because, by=None, at=at)


@transaction.atomic
def retry_draft(*, draft_id: int, by_user: User, at: datetime) -> Draft:
    """Begins a search again whose worker seems to be lost, with all its attempts. Raises DraftClosed, or StillHeard
    when it was heard of just now."""
    draft = Draft.objects.select_for_update().get(pk=draft_id)
    if draft.state not in Draft.OPEN:
        raise DraftClosed(draft.get_state_display())
    if draft.state == Draft.State.READY:
        return draft
    if not queries.is_silent(draft, at=at):
        raise StillHeard
    draft.touched_at = at
    # The attempts are counted on, so that a worker that still lives notices the new one and writes nothing over it.
    draft.progress = {"attempts": draft.progress.get("attempts", 0), "retries": draft.progress.get("retries", 0) + 1}
    draft.save()
    record(draft, by=by_user.actor, at=at, verb="draft planned again", after={"retries": draft.progress["retries"]})
    start_long_after_commit("contractor.visits.tasks.plan_draft", draft_id=draft.pk)
    return draft


@transaction.atomic
def drop_draft(*, draft_id: int, by_user: User, at: datetime) -> Draft:
    """Throws a draft away, also while it is being planned; the book stays as it is. Raises DraftClosed."""
    draft = Draft.objects.select_for_update().get(pk=draft_id)
    if draft.state not in Draft.OPEN:
        raise DraftClosed(draft.get_state_display())
    because = "Stopped while it was being planned." if draft.state == Draft.State.PLANNING else "Dropped by hand."
    end_draft(draft, Draft.State.DROPPED, because, by=by_user, at=at)
    return draft
