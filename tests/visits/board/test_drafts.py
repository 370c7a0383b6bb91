"""Drafts: begun, searched in the background, stopped, moved about, undone and done again, brought up to date."""

from collections.abc import Callable
from datetime import date, datetime, time, timedelta

import pytest

from contractor.accounts.models import User
from contractor.core.models import AuditEntry
from contractor.visits import tasks
from contractor.visits.actions.appointments import confirm_appointment, move_appointment
from contractor.visits.board import queries
from contractor.visits.board.actions import drafts, steps
from contractor.visits.board.errors import (
    BegunAlready,
    DraftClosed,
    DraftOpen,
    MovedMeanwhile,
    MoveRefused,
    MustBeConfirmed,
    NobodyWorks,
    NothingToRedo,
    NothingToUndo,
    StillHeard,
    StillPlanning,
    StretchPast,
)
from contractor.visits.board.rules import Move
from contractor.visits.models import Appointment, Draft
from contractor.visits.routing.errors import NotAPlan
from tests.visits.board.town import FRIDAY, MONDAY, SUNDAY, TUESDAY, WEDNESDAY, given, name, wanted

pytestmark = pytest.mark.usefixtures("at_work")


@pytest.fixture
def begin(nora: User, at: datetime) -> Callable[..., Draft]:
    def start(**changed: object) -> Draft:
        asked = {"first_on": MONDAY, "last_on": SUNDAY, "by_user": nora, "at": at, **changed}
        return drafts.start_draft(**asked)

    return start


@pytest.fixture
def move(nora: User, at: datetime) -> Callable[..., str]:
    def put(draft: Draft, job: str, technician: User | None, day: date | None, **changed: object) -> str:
        draft.refresh_from_db()
        wanted_move = Move(job=job, technician=str(technician.pk) if technician else None, day=day)
        asked = {"seen_step": draft.step_number, "is_confirmed": False, "by_user": nora, "at": at, **changed}
        return steps.move_on_board(draft_id=draft.pk, move=wanted_move, **asked)

    return put


def stands(draft: Draft, job: str) -> tuple[str, date] | None:
    draft.refresh_from_db()
    return queries.arrangement_now(draft).where(job)


def test_by_hand_a_draft_begins_with_what_stands_and_no_appointment_knows_of_it(
    begin: Callable[..., Draft], theo: User
) -> None:
    stop = given(theo, 1)
    waiting = wanted(2)
    draft = begin()
    assert (draft.state, draft.step_number) == (Draft.State.READY, 0)
    assert stands(draft, name(stop.request)) == (str(theo.pk), TUESDAY)
    assert stands(draft, name(waiting)) is None
    assert draft.left_out[name(waiting)] == "Nobody has been given this visit yet."
    assert AuditEntry.objects.filter(stream=f"draft:{draft.pk}").count() == 1


def test_a_search_is_begun_after_the_commit_and_fills_the_rounds(
    begin: Callable[..., Draft], theo: User, at: datetime, django_capture_on_commit_callbacks: Callable[..., object]
) -> None:
    visits = [wanted(number) for number in range(1, 9)]
    with django_capture_on_commit_callbacks(execute=True):
        draft = begin(iterations=60)
        assert draft.state == Draft.State.PLANNING
    draft.refresh_from_db()
    assert draft.state == Draft.State.READY
    assert draft.progress["share"] == 100
    assert all(stands(draft, name(visit)) for visit in visits)
    assert Appointment.objects.count() == 0
    # Once more, as a broker may deliver it: nothing happens.
    before = draft.steps.get().at
    tasks.plan_draft(draft_id=draft.pk)
    assert draft.steps.get().at == before


def test_where_there_is_no_worker_nobody_waits_for_the_search(
    begin: Callable[..., Draft],
    monkeypatch: pytest.MonkeyPatch,
    django_capture_on_commit_callbacks: Callable[..., object],
) -> None:
    beside: list[Callable[[], None]] = []
    monkeypatch.setattr("contractor.celery.beside", beside.append)
    visit = wanted(1)
    with django_capture_on_commit_callbacks(execute=True):
        draft = begin(iterations=60)
    draft.refresh_from_db()
    assert draft.state == Draft.State.PLANNING
    [search] = beside
    search()
    draft.refresh_from_db()
    assert draft.state == Draft.State.READY
    assert stands(draft, name(visit))


def test_the_same_seed_and_steps_give_the_same_rounds(begin: Callable[..., Draft], nora: User, at: datetime) -> None:
    for number in range(1, 12):
        wanted(number)
    found = []
    for _ in range(2):
        draft = begin(iterations=60, seed=3)
        drafts.plan_draft(draft_id=draft.pk, now=lambda: at)
        draft.refresh_from_db()
        found.append(draft.steps.get().arrangement)
        drafts.drop_draft(draft_id=draft.pk, by_user=nora, at=at)
    assert found[0] == found[1]


def test_a_search_that_was_stopped_writes_nothing_more(
    begin: Callable[..., Draft], nora: User, at: datetime
) -> None:
    wanted(1)
    draft = begin(iterations=60)
    asked = 0

    def stopped_at_the_second_look() -> datetime:
        nonlocal asked
        asked += 1
        if asked == 2:
            drafts.drop_draft(draft_id=draft.pk, by_user=nora, at=at)
        return at

    drafts.plan_draft(draft_id=draft.pk, now=stopped_at_the_second_look)
    draft.refresh_from_db()
    assert (draft.state, draft.state_because) == (Draft.State.DROPPED, "Stopped while it was being planned.")
    assert not draft.steps.exists()
    assert asked == 2


def test_a_search_that_is_refused_says_why(
    begin: Callable[..., Draft], at: datetime, monkeypatch: pytest.MonkeyPatch
) -> None:
    draft = begin(iterations=60)

    def refuse(*_: object, **__: object) -> None:
        raise NotAPlan("The visit x is given twice. Give it once.")

    monkeypatch.setattr(drafts, "plan", refuse)
    drafts.plan_draft(draft_id=draft.pk, now=lambda: at)
    draft.refresh_from_db()
    assert (draft.state, draft.state_because) == (Draft.State.DROPPED, "The visit x is given twice. Give it once.")


def test_a_search_whose_worker_was_lost_is_begun_again_and_given_up_after_three_times(
    begin: Callable[..., Draft], at: datetime
) -> None:
    draft = begin(iterations=6)
    assert queries.silent_draft_ids(at=at) == []
    assert queries.silent_draft_ids(at=at + timedelta(minutes=7)) == [draft.pk]
    Draft.objects.filter(pk=draft.pk).update(progress={"attempts": 3})
    drafts.plan_draft(draft_id=draft.pk, now=lambda: at)
    draft.refresh_from_db()
    assert (draft.state, draft.state_because) == (Draft.State.DROPPED, drafts.BROKE_OFF)


def test_what_can_not_be_planned_is_refused(begin: Callable[..., Draft], nora: User, at: datetime) -> None:
    with pytest.raises(StretchPast):
        begin(first_on=MONDAY - timedelta(days=7), last_on=MONDAY - timedelta(days=1))
    with pytest.raises(NobodyWorks):
        begin(first_on=SUNDAY, last_on=SUNDAY)
    draft = begin()
    with pytest.raises(DraftOpen, match="Nora Vance has an open draft"):
        begin(first_on=FRIDAY, last_on=FRIDAY + timedelta(days=7))
    drafts.drop_draft(draft_id=draft.pk, by_user=nora, at=at)
    assert begin().state == Draft.State.READY


def test_a_stretch_that_has_begun_is_planned_from_today(begin: Callable[..., Draft]) -> None:
    assert begin(first_on=MONDAY - timedelta(days=3)).first_on == MONDAY


def test_what_is_added_to_today_begins_after_now(
    begin: Callable[..., Draft], move: Callable[..., str], theo: User
) -> None:
    # Tests happen at ten in the morning where the company is (tests/conftest.py): eight is past.
    visit = wanted(1)
    draft = begin()
    assert "arriving at 10:0" in move(draft, name(visit), theo, MONDAY)


def test_a_move_is_a_step_with_its_sentence_undone_and_done_again(
    begin: Callable[..., Draft], move: Callable[..., str], theo: User, ana: User, at: datetime
) -> None:
    visit = wanted(1)
    draft = begin()
    said = move(draft, name(visit), theo, TUESDAY)
    assert said.startswith("1 Quarry Lane is stop 1 of 1 with Theo Marsh on Tuesday, May 5, arriving at 8:0")
    assert stands(draft, name(visit)) == (str(theo.pk), TUESDAY)
    assert steps.undo_step(draft_id=draft.pk, seen_step=1, at=at) == f"Taken back: {said}"
    assert stands(draft, name(visit)) is None
    assert steps.redo_step(draft_id=draft.pk, seen_step=0, at=at) == f"Done again: {said}"
    assert stands(draft, name(visit)) == (str(theo.pk), TUESDAY)
    steps.undo_step(draft_id=draft.pk, seen_step=1, at=at)
    move(draft, name(visit), ana, TUESDAY)
    with pytest.raises(NothingToRedo):
        steps.redo_step(draft_id=draft.pk, seen_step=1, at=at)
    steps.undo_step(draft_id=draft.pk, seen_step=1, at=at)
    with pytest.raises(NothingToUndo):
        steps.undo_step(draft_id=draft.pk, seen_step=0, at=at)
    assert Appointment.objects.count() == 0


def test_a_promise_is_moved_only_by_whoever_says_so(
    begin: Callable[..., Draft], move: Callable[..., str], theo: User
) -> None:
    stop = given(theo, 1, state="confirmed")
    draft = begin()
    with pytest.raises(MustBeConfirmed) as asked:
        move(draft, name(stop.request), theo, WEDNESDAY)
    assert len(asked.value.questions) == 1
    assert stands(draft, name(stop.request)) == (str(theo.pk), TUESDAY)
    assert "will be told again" in move(draft, name(stop.request), theo, WEDNESDAY, is_confirmed=True)
    assert stands(draft, name(stop.request)) == (str(theo.pk), WEDNESDAY)
    stop.refresh_from_db()
    assert (stop.on, stop.state) == (TUESDAY, "confirmed")


def test_saying_so_does_not_help_against_a_rule_that_can_not_be_broken(
    begin: Callable[..., Draft], move: Callable[..., str], theo: User
) -> None:
    visit = wanted(1, minutes=600)
    draft = begin()
    with pytest.raises(MoveRefused):
        move(draft, name(visit), theo, TUESDAY, is_confirmed=True)


def test_a_visit_that_has_begun_stays(begin: Callable[..., Draft], move: Callable[..., str], theo: User) -> None:
    stop = given(theo, 1, state="done")
    draft = begin()
    with pytest.raises(BegunAlready):
        move(draft, name(stop.request), theo, WEDNESDAY)


def test_a_lock_holds_a_visit_and_is_a_step_too(
    begin: Callable[..., Draft], nora: User, theo: User, at: datetime
) -> None:
    stop = given(theo, 1)
    draft = begin()
    asked = {"draft_id": draft.pk, "job": name(stop.request), "by_user": nora, "at": at}
    assert "is locked to Theo Marsh" in steps.lock_on_board(seen_step=0, **asked)
    assert "may move again" in steps.lock_on_board(seen_step=1, **asked)
    draft.refresh_from_db()
    assert draft.step_number == 2


def test_who_sees_an_old_step_is_told_who_was_faster(
    begin: Callable[..., Draft], move: Callable[..., str], ruth: User, theo: User
) -> None:
    visit, other = wanted(1), wanted(2)
    draft = begin()
    move(draft, name(visit), theo, TUESDAY, by_user=ruth)
    with pytest.raises(MovedMeanwhile, match="Ruth Adair changed this draft meanwhile"):
        move(draft, name(other), theo, TUESDAY, seen_step=0)


def test_a_draft_that_is_closed_or_being_planned_can_not_be_changed(
    begin: Callable[..., Draft], move: Callable[..., str], nora: User, theo: User, at: datetime
) -> None:
    visit = wanted(1)
    draft = begin(iterations=6)
    with pytest.raises(StillPlanning):
        move(draft, name(visit), theo, TUESDAY)
    drafts.drop_draft(draft_id=draft.pk, by_user=nora, at=at)
    for write in (
        lambda: move(draft, name(visit), theo, TUESDAY),
        lambda: drafts.drop_draft(draft_id=draft.pk, by_user=nora, at=at),
        lambda: steps.bring_up_to_date(draft_id=draft.pk, by_user=nora, at=at),
    ):
        with pytest.raises(DraftClosed, match="This draft is dropped"):
            write()


def test_brought_up_to_date_what_changed_stands_as_in_the_book_and_the_rest_as_in_the_draft(
    begin: Callable[..., Draft], move: Callable[..., str], nora: User, theo: User, ana: User, at: datetime
) -> None:
    stop, visit = given(theo, 1), wanted(2)
    draft = begin()
    move(draft, name(visit), ana, WEDNESDAY)
    move(draft, name(stop.request), theo, WEDNESDAY)
    move_appointment(
        appointment_id=stop.pk,
        technician_id=ana.pk,
        on=FRIDAY,
        arrive_from=time(13),
        arrive_until=time(15),
        by=nora.actor,
        at=at,
    )
    confirm_appointment(appointment_id=stop.pk, by=nora.actor, at=at)
    draft.refresh_from_db()
    book = queries.read_book(MONDAY, SUNDAY)
    assert queries.changed_names(draft, book, queries.arrangement_now(draft)) == [name(stop.request)]
    assert steps.bring_up_to_date(draft_id=draft.pk, by_user=nora, at=at) == "Brought up to date with the book."
    assert stands(draft, name(stop.request)) == (str(ana.pk), FRIDAY)
    assert stands(draft, name(visit)) == (str(ana.pk), WEDNESDAY)
    assert queries.changed_names(draft, queries.read_book(MONDAY, SUNDAY), queries.arrangement_now(draft)) == []
    with pytest.raises(NothingToUndo):
        steps.undo_step(draft_id=draft.pk, seen_step=draft.step_number, at=at)


def test_a_new_request_and_the_passing_of_a_night_change_nothing_that_a_draft_is_about(
    begin: Callable[..., Draft], theo: User
) -> None:
    given(theo, 1)
    draft = begin()
    wanted(7)
    book = queries.read_book(MONDAY, SUNDAY)
    assert queries.changed_names(draft, book, queries.arrangement_now(draft)) == []


def test_a_search_that_was_begun_again_is_not_written_over_by_the_first_worker(
    begin: Callable[..., Draft], nora: User, at: datetime
) -> None:
    wanted(1)
    draft = begin(iterations=60)
    later = at + timedelta(minutes=2)
    asked = 0

    def begun_again_at_the_second_look() -> datetime:
        nonlocal asked
        asked += 1
        if asked == 2:
            drafts.retry_draft(draft_id=draft.pk, by_user=nora, at=later)
            drafts.plan_draft(draft_id=draft.pk, now=lambda: later)
        return at

    drafts.plan_draft(draft_id=draft.pk, now=begun_again_at_the_second_look)
    draft.refresh_from_db()
    assert (draft.state, draft.progress["attempts"], draft.steps.get().at) == (Draft.State.READY, 2, later)
    assert asked == 2


def test_a_search_is_begun_again_only_when_it_was_not_heard_of(
    begin: Callable[..., Draft], nora: User, at: datetime
) -> None:
    draft = begin(iterations=6)
    with pytest.raises(StillHeard):
        drafts.retry_draft(draft_id=draft.pk, by_user=nora, at=at + timedelta(seconds=90))
    later = at + timedelta(minutes=2)
    Draft.objects.filter(pk=draft.pk).update(progress={"attempts": 3})
    assert drafts.retry_draft(draft_id=draft.pk, by_user=nora, at=later).touched_at == later
    # Three attempts were used up; whoever presses the button gives it three more.
    drafts.plan_draft(draft_id=draft.pk, now=lambda: later)
    draft.refresh_from_db()
    assert draft.state == Draft.State.READY
    assert drafts.retry_draft(draft_id=draft.pk, by_user=nora, at=later).state == Draft.State.READY
    drafts.drop_draft(draft_id=draft.pk, by_user=nora, at=later)
    with pytest.raises(DraftClosed):
        drafts.retry_draft(draft_id=draft.pk, by_user=nora, at=later)
