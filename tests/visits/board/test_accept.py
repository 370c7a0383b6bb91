"""A draft accepted: appointments made, moved and called off once, owners told once, and nothing written when the book
has changed since."""

from collections.abc import Callable
from datetime import date, datetime, time

import pytest

from contractor.accounts.models import Company, User
from contractor.notices.models import Notice
from contractor.visits.actions.appointments import confirm_appointment, withdraw_request
from contractor.visits.actions.working_days import set_own_day
from contractor.visits.board import queries
from contractor.visits.board.actions import accepting, drafts, steps
from contractor.visits.board.actions.accepting import CALLED_OFF_BECAUSE
from contractor.visits.board.errors import BookChanged, DraftBreaks, DraftClosed, MovedMeanwhile, StillPlanning
from contractor.visits.board.outcomes import Becomes, Outcome
from contractor.visits.board.rules import Move
from contractor.visits.models import Appointment, Draft
from tests.visits.board.town import FRIDAY, MONDAY, SUNDAY, TUESDAY, WEDNESDAY, given, name, wanted

pytestmark = pytest.mark.usefixtures("at_work")


@pytest.fixture
def draft_of(nora: User, at: datetime) -> Callable[..., Draft]:
    """A draft by hand with these moves: visit, technician and day."""

    def make(*moves: tuple[str, User | None, date | None], **changed: object) -> Draft:
        draft = drafts.start_draft(first_on=MONDAY, last_on=SUNDAY, by_user=nora, at=at, **changed)
        for number, (job, technician, day) in enumerate(moves):
            steps.move_on_board(
                draft_id=draft.pk,
                move=Move(job=job, technician=str(technician.pk) if technician else None, day=day),
                seen_step=number,
                is_confirmed=True,
                by_user=nora,
                at=at,
            )
        draft.refresh_from_db()
        return draft

    return make


@pytest.fixture
def accept(nora: User, at: datetime) -> Callable[[Draft], list[Outcome]]:
    def write(draft: Draft) -> list[Outcome]:
        return accepting.accept_draft(draft_id=draft.pk, seen_step=draft.step_number, by_user=nora, at=at)

    return write


def becomes(outcomes: list[Outcome]) -> dict[str, Becomes]:
    return {outcome.job: outcome.becomes for outcome in outcomes}


def told(template: str) -> int:
    return Notice.objects.filter(template=template).count()


def test_a_new_visit_gets_its_appointment_with_two_hours_and_its_owner_is_told_once(
    draft_of: Callable[..., Draft], accept: Callable[[Draft], list[Outcome]], nora: User, theo: User
) -> None:
    visit = wanted(1)
    draft = draft_of((name(visit), theo, TUESDAY))
    assert Appointment.objects.count() == Notice.objects.count() == 0
    assert becomes(accept(draft)) == {name(visit): Becomes.NEW}
    stop = Appointment.objects.get()
    assert (stop.request, stop.technician, stop.on, stop.made_by) == (visit, theo, TUESDAY, nora)
    # The drive of some minutes after eight, when Theo sets out: told from eight.
    assert (stop.arrive_from, stop.arrive_until) == (time(8), time(10))
    assert told("appointment_set") == Notice.objects.count() == 1
    draft.refresh_from_db()
    assert (draft.state, draft.ended_by) == (Draft.State.ACCEPTED, nora)


def test_accepting_twice_doubles_nothing(
    draft_of: Callable[..., Draft], accept: Callable[[Draft], list[Outcome]], theo: User
) -> None:
    draft = draft_of((name(wanted(1)), theo, TUESDAY))
    accept(draft)
    with pytest.raises(DraftClosed, match="This draft is accepted"):
        accept(draft)
    assert (Appointment.objects.count(), Notice.objects.count()) == (1, 1)


def test_each_visit_becomes_what_the_draft_says_and_only_owners_concerned_are_told(
    draft_of: Callable[..., Draft], accept: Callable[[Draft], list[Outcome]], theo: User, ana: User
) -> None:
    kept = given(theo, 1, arrive_from=time(8), arrive_until=time(10))
    moved = given(theo, 2, stop=2)
    off = given(theo, 3, stop=3)
    handed = given(theo, 4, on=FRIDAY)
    draft = draft_of(
        (name(moved.request), theo, WEDNESDAY), (name(off.request), None, None), (name(handed.request), ana, FRIDAY)
    )
    assert becomes(accept(draft)) == {
        name(kept.request): Becomes.KEPT,
        name(moved.request): Becomes.MOVED,
        name(handed.request): Becomes.HANDED_OVER,
        name(off.request): Becomes.CALLED_OFF,
    }
    for stop in (kept, moved, off, handed):
        stop.refresh_from_db()
    assert (kept.on, kept.arrive_from, kept.stop_number) == (TUESDAY, time(8), 1)
    assert (moved.on, moved.technician, moved.stop_number) == (WEDNESDAY, theo, 1)
    assert (off.state, off.state_because) == ("cancelled", CALLED_OFF_BECAUSE)
    assert (handed.on, handed.technician, handed.arrive_from) == (FRIDAY, ana, None)
    assert (told("appointment_moved"), told("appointment_cancelled"), Notice.objects.count()) == (1, 1, 2)


def test_the_stops_are_numbered_in_the_drafts_order_after_those_that_are_done(
    draft_of: Callable[..., Draft], accept: Callable[[Draft], list[Outcome]], nora: User, theo: User, at: datetime
) -> None:
    first, second = given(theo, 1, stop=1), given(theo, 2, stop=2)
    draft = draft_of()
    steps.move_on_board(
        draft_id=draft.pk,
        move=Move(job=name(second.request), technician=str(theo.pk), day=TUESDAY, place=0),
        seen_step=0,
        is_confirmed=False,
        by_user=nora,
        at=at,
    )
    draft.refresh_from_db()
    accept(draft)
    first.refresh_from_db()
    second.refresh_from_db()
    assert (second.stop_number, first.stop_number) == (1, 2)


def test_a_draft_that_changes_nothing_writes_to_nobody(
    draft_of: Callable[..., Draft], accept: Callable[[Draft], list[Outcome]], theo: User
) -> None:
    given(theo, 1, state="confirmed")
    given(theo, 2, on=WEDNESDAY, state="done")
    assert set(becomes(accept(draft_of())).values()) == {Becomes.KEPT}
    assert Notice.objects.count() == 0


def test_a_house_without_a_position_and_a_promise_nobody_can_keep_stay_in_the_book(
    draft_of: Callable[..., Draft],
    accept: Callable[[Draft], list[Outcome]],
    nora: User,
    theo: User,
    at: datetime,
) -> None:
    nowhere = given(theo, 1)
    house = nowhere.request.system.property
    house.latitude, house.longitude, house.postcode, house.country = None, None, "K1A 0B1", "CA"
    house.save()
    promised = given(theo, 2, on=FRIDAY, state="confirmed")
    set_own_day(technician_id=theo.pk, on=FRIDAY, hours=None, because="Van in the shop", by=nora.actor, at=at)
    assert set(becomes(accept(draft_of())).values()) == {Becomes.KEPT}
    promised.refresh_from_db()
    nowhere.refresh_from_db()
    assert (promised.state, nowhere.state) == ("confirmed", "planned")


STALE = {
    "the owner confirmed meanwhile": lambda stop, by, at: confirm_appointment(appointment_id=stop.pk, by=by, at=at),
    "the visit was taken back meanwhile": lambda stop, by, at: withdraw_request(
        request_id=stop.request_id, because="Sold", by=by, at=at
    ),
    "the technician's day changed meanwhile": lambda stop, by, at: set_own_day(
        technician_id=stop.technician_id, on=stop.on, hours=(time(12), time(17)), because="Dentist", by=by, at=at
    ),
}


@pytest.mark.parametrize("change", STALE.values(), ids=STALE)
def test_when_the_book_changed_since_nothing_is_written_and_what_changed_is_named(
    draft_of: Callable[..., Draft],
    accept: Callable[[Draft], list[Outcome]],
    nora: User,
    theo: User,
    at: datetime,
    change: Callable[..., object],
) -> None:
    stop, visit = given(theo, 1), wanted(2)
    draft = draft_of((name(visit), theo, TUESDAY))
    change(stop, nora.actor, at)
    notices = Notice.objects.count()
    with pytest.raises(BookChanged) as refusal:
        accept(draft)
    named = ("1 Quarry Lane", "working day of Theo Marsh on Tuesday, May 5", "a visit was done or is no longer wanted")
    assert any(words in str(refusal.value) for words in named)
    assert "Nothing was written" in str(refusal.value)
    assert (Appointment.objects.filter(request=visit).count(), Notice.objects.count()) == (0, notices)


def test_a_round_that_can_not_be_driven_is_not_accepted(
    draft_of: Callable[..., Draft], accept: Callable[[Draft], list[Outcome]], theo: User
) -> None:
    given(theo, 1, arrive_from=time(8), arrive_until=time(8, 10))
    given(theo, 2, stop=2, arrive_from=time(8), arrive_until=time(8, 10))
    with pytest.raises(DraftBreaks, match="At 2 Quarry Lane the work would begin"):
        accept(draft_of())
    assert Draft.objects.get().state == Draft.State.READY


def test_who_has_not_seen_the_last_step_can_not_accept(
    draft_of: Callable[..., Draft], nora: User, theo: User, at: datetime
) -> None:
    draft = draft_of((name(wanted(1)), theo, TUESDAY))
    with pytest.raises(MovedMeanwhile):
        accepting.accept_draft(draft_id=draft.pk, seen_step=0, by_user=nora, at=at)
    drafts.drop_draft(draft_id=draft.pk, by_user=nora, at=at)
    planning = draft_of(iterations=6)
    with pytest.raises(StillPlanning):
        accepting.accept_draft(draft_id=planning.pk, seen_step=0, by_user=nora, at=at)


def test_a_fault_half_way_leaves_everything_as_it_was(
    draft_of: Callable[..., Draft],
    accept: Callable[[Draft], list[Outcome]],
    theo: User,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    draft = draft_of((name(wanted(1)), theo, TUESDAY), (name(wanted(2)), theo, TUESDAY))

    def breaks(**_: object) -> None:
        raise OSError("the line went dead")

    monkeypatch.setattr(accepting, "put_in_order", breaks)
    with pytest.raises(OSError, match="dead"):
        accept(draft)
    draft.refresh_from_db()
    assert (Appointment.objects.count(), Notice.objects.count(), draft.state) == (0, 0, Draft.State.READY)


def test_the_review_says_beforehand_what_accepting_will_do(
    draft_of: Callable[..., Draft], accept: Callable[[Draft], list[Outcome]], theo: User, company: Company
) -> None:
    given(theo, 1)
    draft = draft_of((name(wanted(2)), theo, TUESDAY), (name(wanted(3)), theo, WEDNESDAY))
    book = queries.read_book(MONDAY, SUNDAY)
    said = queries.review_of(draft, book, queries.arrangement_now(draft))
    assert said.breaks == []
    assert becomes(said.outcomes) == becomes(accept(draft))
