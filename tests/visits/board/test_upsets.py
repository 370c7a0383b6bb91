"""A day that was upset: what came up is noted at once, new places are a draft that moves as few visits as it can."""

from collections.abc import Callable
from datetime import date, datetime, time, timedelta

import pytest

from contractor.accounts.models import User
from contractor.notices.models import Notice
from contractor.visits.board import pages, queries
from contractor.visits.board.actions import accepting, drafts, upsets
from contractor.visits.board.arrangement import rounds_of
from contractor.visits.board.errors import AwayBackwards, NothingHappens, StretchPast
from contractor.visits.board.outcomes import Becomes
from contractor.visits.errors import LeaveTwice
from contractor.visits.models import Appointment, CompanyDay, Draft, Leave, OwnDay
from contractor.visits.routing.ground import ground_of
from tests.visits.board.town import FRIDAY, MONDAY, SUNDAY, TUESDAY, given, name, wanted

pytestmark = pytest.mark.usefixtures("at_work")
HOURS = {"arrive_from": time(8), "arrive_until": time(10)}


@pytest.fixture(autouse=True)
def quick_search(monkeypatch: pytest.MonkeyPatch) -> None:
    """The search is cut short: what is asked here holds after any search."""
    monkeypatch.setattr(upsets, "SECONDS", 0)


@pytest.fixture
def away(nora: User, theo: User, at: datetime) -> Callable[..., Draft]:
    def note(**changed: object) -> Draft:
        asked = {"technician": theo, "first_on": TUESDAY, "last_on": TUESDAY, "from_time": None, "because": "Ill"}
        draft = upsets.technician_away(by_user=nora, at=at, **{**asked, **changed})
        drafts.plan_draft(draft_id=draft.pk, now=lambda: at)
        draft.refresh_from_db()
        return draft

    return note


@pytest.fixture
def close(nora: User, at: datetime) -> Callable[..., Draft]:
    def note(on: date, city: str = "") -> Draft:
        draft = upsets.day_closed(on=on, city=city, because="Snow", by_user=nora, at=at)
        drafts.plan_draft(draft_id=draft.pk, now=lambda: at)
        draft.refresh_from_db()
        return draft

    return note


def stands(draft: Draft, stop: Appointment) -> tuple[str, date] | None:
    return queries.arrangement_now(draft).where(name(stop.request))


def test_when_a_technician_is_ill_their_visits_find_new_places_and_everybody_elses_stay(
    away: Callable[..., Draft], nora: User, theo: User, ana: User, at: datetime
) -> None:
    lost = [given(theo, number, stop=number, **HOURS) for number in (1, 2)]
    others = [given(ana, number, stop=number, on=day) for number, day in ((3, TUESDAY), (4, FRIDAY))]
    confirmed = given(ana, 5, stop=2, state="confirmed", arrive_from=time(10), arrive_until=time(12))
    waiting = wanted(6)
    draft = away()
    assert draft.cause == "Theo Marsh can't go out on Tuesday, May 5."
    assert Leave.objects.get().reason == "Ill"
    for stop in lost:
        where = stands(draft, stop)
        assert where is not None
        assert where != (str(theo.pk), TUESDAY)
    for stop in (*others, confirmed):
        assert stands(draft, stop) == (str(ana.pk), stop.on)
    assert queries.arrangement_now(draft).where(name(waiting)) is None
    assert Appointment.objects.get(pk=lost[0].pk).on == TUESDAY
    written = accepting.accept_draft(draft_id=draft.pk, seen_step=0, by_user=nora, at=at)
    changed = {outcome.job for outcome in written if outcome.becomes != Becomes.KEPT}
    assert changed == {name(stop.request) for stop in lost}
    assert Notice.objects.count() == sum(outcome.becomes == Becomes.MOVED for outcome in written)


def test_the_board_says_what_was_told_of_each_visit_that_goes_elsewhere(
    away: Callable[..., Draft], theo: User, ana: User
) -> None:
    hours = {"arrive_from": time(8), "arrive_until": time(10), "state": "confirmed"}
    moved = given(theo, 1, **hours)
    handed_over = given(theo, 2, stop=2, arrive_from=time(9), arrive_until=time(16))
    stays = given(ana, 3, **hours)
    draft = away()
    sheet = pages.draft_page(draft, map_day=None).sheet
    cards = {card.job: card for week in sheet.weeks for row in week.rows for cell in row.cells for card in cell.cards}
    assert sheet.waiting == ()
    said = {each: cards[name(each.request)] for each in (moved, handed_over, stays)}
    # Ana is with another owner until ten, as was promised: Theo's first visit can't be hers at its hours.
    assert (said[moved].state, said[moved].was) == ("moved", "Tue, May 5, 8:00–10:00 AM, Theo Marsh, confirmed")
    assert (said[handed_over].state, said[handed_over].was) == ("told", "Theo Marsh")
    assert said[handed_over].hours == "9:00 AM–4:00 PM"
    assert (said[stays].state, said[stays].was) == ("confirmed", "")
    assert not [said for said in draft.cautions if "goes out" in said or "go out" in said]


def test_from_an_hour_on_the_morning_stays_and_the_afternoon_moves(
    away: Callable[..., Draft], theo: User
) -> None:
    morning = given(theo, 1, **HOURS)
    afternoon = given(theo, 2, stop=2, arrive_from=time(14), arrive_until=time(16))
    draft = away(from_time=time(12))
    assert draft.cause == "Theo Marsh can't go out on Tuesday, May 5 from 12:00 PM."
    assert draft.book_sha256
    own = OwnDay.objects.get()
    assert (own.begins, own.ends, own.because) == (time(8), time(12), "Ill")
    assert not Leave.objects.exists()
    assert stands(draft, morning) == (str(theo.pk), TUESDAY)
    book = queries.read_book(draft.first_on, draft.last_on, include_unplanned=False)
    reviewed = queries.review_of(draft, book, queries.arrangement_now(draft))
    assert reviewed.breaks == []
    assert {outcome.job: outcome.becomes for outcome in reviewed.outcomes} == {
        name(morning.request): Becomes.KEPT,
        name(afternoon.request): Becomes.MOVED,
    }


def test_ill_from_this_hour_on_nothing_is_moved_to_an_hour_that_is_past(
    away: Callable[..., Draft], theo: User, ana: User
) -> None:
    # Tests happen at ten in the morning where the company is.
    told_only = given(theo, 1, on=MONDAY)
    promised = given(theo, 2, on=MONDAY, stop=2, arrive_from=time(14), arrive_until=time(16))
    draft = away(first_on=MONDAY, last_on=MONDAY, from_time=time(10))
    book = queries.read_book(draft.first_on, draft.last_on, include_unplanned=False)
    arrangement = queries.arrangement_now(draft)
    ground = ground_of(queries.drafted_problem(book, draft, arrangement))
    rounds = rounds_of(ground, arrangement).values()
    starts = {stop.job: (round_.day, stop.start) for round_ in rounds for stop in round_.stops}
    for stop in (told_only, promised):
        assert starts[name(stop.request)] >= (MONDAY, 10 * 3600)


def test_ill_for_some_days_from_an_hour_on_is_a_short_day_and_leave_after_it(away: Callable[..., Draft]) -> None:
    draft = away(from_time=time(12), last_on=FRIDAY)
    leave = Leave.objects.get()
    assert (leave.first_on, leave.last_on) == (TUESDAY + timedelta(days=1), FRIDAY)
    assert draft.cause.endswith("from 12:00 PM until Friday, May 8.")
    before_work = away(first_on=MONDAY, last_on=MONDAY, from_time=time(7))
    assert before_work.cause.startswith("Theo Marsh")
    assert Leave.objects.filter(first_on=MONDAY).exists()


def test_snow_in_a_town_moves_its_visits_of_that_day_and_no_others(
    close: Callable[..., Draft], theo: User
) -> None:
    there = given(theo, 1, state="confirmed", **HOURS)
    house = there.request.system.property
    house.city = "Stony Run"
    house.save()
    elsewhere = given(theo, 2, stop=2)
    draft = close(TUESDAY, "Stony Run")
    assert draft.cause == "Stony Run can't be reached on Tuesday, May 5: Snow."
    where = stands(draft, there)
    assert where is not None
    assert where[1] != TUESDAY
    assert stands(draft, elsewhere) == (str(theo.pk), TUESDAY)
    assert not CompanyDay.objects.exists()


def test_when_nobody_goes_out_the_company_is_closed_and_every_visit_of_that_day_moves(
    close: Callable[..., Draft], theo: User, ana: User
) -> None:
    stops = [given(theo, 1), given(ana, 2, state="confirmed", **HOURS)]
    draft = close(TUESDAY)
    day = CompanyDay.objects.get()
    assert (day.on, day.is_closed, day.name) == (TUESDAY, True, "Snow")
    for stop in stops:
        where = stands(draft, stop)
        assert where is not None
        assert where[1] != TUESDAY


def test_somebody_elses_open_draft_does_not_stop_what_is_urgent(
    away: Callable[..., Draft], ruth: User, theo: User, at: datetime
) -> None:
    drafts.start_draft(first_on=MONDAY, last_on=SUNDAY, by_user=ruth, at=at)
    given(theo, 1)
    assert away().state == Draft.State.READY


def test_what_does_not_upset_anything_is_refused_and_nothing_is_noted(
    away: Callable[..., Draft], close: Callable[..., Draft]
) -> None:
    with pytest.raises(StretchPast):
        away(first_on=MONDAY - timedelta(days=1))
    with pytest.raises(AwayBackwards):
        away(last_on=MONDAY)
    with pytest.raises(NothingHappens):
        away(first_on=SUNDAY, last_on=SUNDAY)
    with pytest.raises(StretchPast):
        close(MONDAY - timedelta(days=1))
    with pytest.raises(NothingHappens):
        close(SUNDAY)
    assert [model.objects.count() for model in (Leave, OwnDay, CompanyDay)] == [0, 0, 0]
    away(first_on=FRIDAY, last_on=FRIDAY)
    # On leave already: there is nothing left of the day to take away.
    with pytest.raises((NothingHappens, LeaveTwice)):
        away(first_on=FRIDAY, last_on=FRIDAY)
