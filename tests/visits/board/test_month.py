"""A month on the board: planned in one go, shown week by week, moved about across weeks, accepted by the week."""

from collections.abc import Callable
from datetime import UTC, date, datetime, time, timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from contractor.accounts.models import User
from contractor.core import clock
from contractor.core.models import AuditEntry
from contractor.notices.models import Notice
from contractor.visits.actions.appointments import confirm_appointment
from contractor.visits.board import pages, queries
from contractor.visits.board.actions import accepting, drafts, steps
from contractor.visits.board.errors import (
    BookChanged,
    DraftBreaks,
    DraftClosed,
    MovedMeanwhile,
    NoRoomThatDay,
    NothingToAccept,
    NothingToUndo,
    StretchTooLong,
)
from contractor.visits.board.forms import budget_of
from contractor.visits.board.rules import Move
from contractor.visits.models import Appointment, Draft
from contractor.visits.routing import pieces
from tests.visits.board.town import FRIDAY, MONDAY, TUESDAY, WEDNESDAY, given, name, wanted

pytestmark = pytest.mark.usefixtures("at_work")
BY_SCRIPT = {"HX-Request": "true"}
WEEK = timedelta(days=7)
# Memorial Day, May 25, lies in the fourth week: nobody works on it.
LAST = MONDAY + 5 * WEEK - timedelta(days=1)


@pytest.fixture(autouse=True)
def monday_morning(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(clock, "today", lambda: MONDAY)
    monkeypatch.setattr(clock, "now", lambda: datetime(2026, 5, 4, 14, 0, tzinfo=UTC))


@pytest.fixture
def month(nora: User, at: datetime) -> Callable[..., Draft]:
    def begin(*moves: tuple[str, User | None, date | None], **changed: object) -> Draft:
        asked = {"first_on": MONDAY, "last_on": LAST, "by_user": nora, "at": at, **changed}
        draft = drafts.start_draft(**asked)
        for number, (job, technician, day) in enumerate(moves):
            put(draft, job, technician, day, seen=number, by_user=nora, at=at)
        draft.refresh_from_db()
        return draft

    return begin


def put(
    draft: Draft, job: str, technician: User | None, day: date | None, *, seen: int, by_user: User, at: datetime
) -> str:
    wanted_move = Move(job=job, technician=str(technician.pk) if technician else None, day=day)
    return steps.move_on_board(
        draft_id=draft.pk, move=wanted_move, seen_step=seen, is_confirmed=True, by_user=by_user, at=at
    )


@pytest.fixture
def accept_week(nora: User, at: datetime) -> Callable[[Draft, date], None]:
    def write(draft: Draft, week_of: date) -> None:
        draft.refresh_from_db()
        accepting.accept_week(
            draft_id=draft.pk, week_of=week_of, seen_step=draft.step_number, by_user=nora, at=at
        )
        draft.refresh_from_db()

    return write


def where(draft: Draft, job: str) -> tuple[str, date] | None:
    return queries.arrangement_now(draft).where(job)


# ---- planned in one go ----


@pytest.mark.parametrize(
    ("effort", "weeks", "budget"),
    [
        ("quick", 1, {"seconds": 10}),
        ("usual", 2, {"seconds": 30}),
        ("usual", 3, {"seconds": 60}),
        ("usual", 5, {"seconds": 90}),
        # A background worker is given four minutes.
        ("thorough", 5, {"seconds": 180}),
        ("steps", 4, {"iterations": 2_400}),
        ("by_hand", 5, {}),
    ],
)
def test_a_longer_stretch_is_searched_longer(effort: str, weeks: int, budget: dict[str, int]) -> None:
    assert budget_of(effort, weeks) == budget


def test_five_weeks_are_planned_and_a_day_more_is_refused(month: Callable[..., Draft]) -> None:
    with pytest.raises(StretchTooLong, match="More than 5 weeks"):
        month(last_on=LAST + timedelta(days=1))
    assert month().last_on == LAST


@pytest.mark.parametrize("tables_bytes", [pieces.TABLES_BYTES, 2_000], ids=["at once", "run by run"])
def test_a_month_is_searched_with_its_progress_and_what_is_promised_stays(
    month: Callable[..., Draft], theo: User, at: datetime, monkeypatch: pytest.MonkeyPatch, tables_bytes: int
) -> None:
    monkeypatch.setattr(pieces, "TABLES_BYTES", tables_bytes)
    promised = given(theo, 30, on=FRIDAY + 2 * WEEK, state="confirmed", arrive_from=time(9), arrive_until=time(11))
    visits = [wanted(number, target_on=MONDAY + timedelta(days=3 * number)) for number in range(1, 11)]
    draft = month(iterations=120)
    heard: list[int] = []

    def now() -> datetime:
        heard.append(Draft.objects.get(pk=draft.pk).progress.get("share", -1))
        return at

    drafts.plan_draft(draft_id=draft.pk, now=now)
    draft.refresh_from_db()
    assert draft.state == Draft.State.READY
    assert heard == sorted(heard)
    assert len(set(heard)) >= 5
    assert draft.progress["share"] == 100
    assert where(draft, name(promised.request)) == (str(theo.pk), FRIDAY + 2 * WEEK)
    days = [place[1] for visit in visits if (place := where(draft, name(visit)))]
    assert len(days) == len(visits)
    assert len({day - timedelta(days=day.weekday()) for day in days}) >= 3
    assert Appointment.objects.count() == 1


def test_run_by_run_the_same_seed_and_steps_give_the_same_month(
    month: Callable[..., Draft], nora: User, at: datetime, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(pieces, "TABLES_BYTES", 2_000)
    for number in range(1, 12):
        wanted(number)
    found = []
    for _ in range(2):
        draft = month(iterations=120, seed=3)
        drafts.plan_draft(draft_id=draft.pk, now=lambda: at)
        found.append(draft.steps.get().arrangement)
        drafts.drop_draft(draft_id=draft.pk, by_user=nora, at=at)
    assert found[0] == found[1]


def test_planned_again_after_it_was_accepted_nobody_is_moved(
    month: Callable[..., Draft], nora: User, at: datetime
) -> None:
    for number in range(1, 9):
        wanted(number, target_on=MONDAY + timedelta(days=4 * number))
    draft = month(iterations=120)
    drafts.plan_draft(draft_id=draft.pk, now=lambda: at)
    accepting.accept_draft(draft_id=draft.pk, seen_step=0, by_user=nora, at=at)
    before = list(Appointment.objects.order_by("pk").values_list("technician", "on", "arrive_from"))
    confirm_appointment(appointment_id=Appointment.objects.earliest("on").pk, by=nora.actor, at=at)
    wanted(20)
    again = month(iterations=120, seed=9)
    drafts.plan_draft(draft_id=again.pk, now=lambda: at)
    accepting.accept_draft(draft_id=again.pk, seen_step=0, by_user=nora, at=at)
    assert list(Appointment.objects.order_by("pk").values_list("technician", "on", "arrive_from"))[:8] == before
    assert Appointment.objects.count() == 9
    assert Notice.objects.count() == 9


# ---- shown week by week ----


def test_one_week_is_on_the_wall_and_all_of_them_in_the_overview(
    month: Callable[..., Draft], theo: User, ana: User
) -> None:
    given(theo, 1)
    given(theo, 2, stop=2)
    given(ana, 3, on=WEDNESDAY + 2 * WEEK)
    page = pages.draft_page(month(), map_day=None, show=WEDNESDAY + 2 * WEEK)
    [shown] = page.sheet.weeks
    assert shown.days[0] == MONDAY + 2 * WEEK
    assert page.map.day == WEDNESDAY + 2 * WEEK
    overview = page.sheet.overview
    assert overview is not None
    assert [week.visits for week in overview.weeks] == [2, 0, 1, 0, 0]
    assert [week.is_shown for week in overview.weeks] == [False, False, True, False, False]
    assert (overview.shown_number, overview.before, overview.after) == (3, overview.weeks[1], overview.weeks[3])
    assert page.sheet.planned == 3
    tuesday = overview.weeks[0].days[1]
    assert (tuesday.day, tuesday.technicians, tuesday.visits) == (TUESDAY, 2, 2)
    # Ana's whole day of nine hours is free, and Theo's without his two visits of 55 minutes and the drive.
    assert tuesday.free.startswith("15 h ")
    assert overview.weeks[3].days[0].technicians == 0


def test_a_week_or_a_day_that_is_no_part_of_it_shows_the_first(month: Callable[..., Draft]) -> None:
    draft = month()
    for show in (None, MONDAY - WEEK, date(1999, 1, 1)):
        assert pages.draft_page(draft, map_day=None, show=show).sheet.weeks[0].days[0] == MONDAY


def test_the_book_shows_a_month_too_and_leads_to_every_day(theo: User, signed_in_as: Callable, nora: User) -> None:
    given(theo, 1, on=FRIDAY + 3 * WEEK)
    desk: Client = signed_in_as(nora)
    text = desk.get(reverse("visits:board"), {"weeks": "5"}).content.decode()
    day = "week=2026-05-04&amp;weeks=5&amp;show=2026-05-29&amp;day=2026-05-29#day-2026-05-29"
    assert day in text
    assert "1 Quarry Lane" not in text
    assert "data-day-drop" not in text
    opened = desk.get(reverse("visits:board"), {"weeks": "5", "week": "2026-05-04", "show": "2026-05-29"})
    assert "1 Quarry Lane" in opened.content.decode()


def test_the_form_takes_five_weeks_and_the_draft_opens_on_any_day(signed_in_as: Callable, nora: User) -> None:
    desk: Client = signed_in_as(nora)
    desk.post(reverse("visits:plan_stretch"), {"first_on": "2026-05-06", "weeks": "5", "effort": "by_hand"})
    made = Draft.objects.get()
    assert (made.first_on, made.last_on) == (WEDNESDAY, LAST)
    page = reverse("visits:draft", args=[made.pk])
    text = desk.get(page, {"show": "2026-05-20"}).content.decode()
    assert 'data-show="2026-05-18"' in text
    assert "Week of May 18 <small>3 of 5</small>" in text
    assert 'data-day-drop data-where="any/2026-05-07"' in text
    # Memorial Day: nothing can be dropped on it.
    assert 'data-where="any/2026-05-25"' not in text


# ---- moved about across weeks ----


def test_a_visit_dropped_on_a_day_goes_to_whoever_has_room_for_the_least_driving(
    month: Callable[..., Draft], nora: User, theo: User, ana: User, at: datetime
) -> None:
    day = FRIDAY + 2 * WEEK
    given(ana, 11, on=day)
    visit = wanted(12)
    draft = month()
    said = put(draft, name(visit), None, day, seen=0, by_user=nora, at=at)
    assert "with Ana Delgado on Friday, May 22" in said
    full = wanted(13, minutes=600)
    with pytest.raises(NoRoomThatDay, match="13 Quarry Lane has room for it on Friday, May 22"):
        put(draft, name(full), None, day, seen=1, by_user=nora, at=at)
    holiday = MONDAY + 3 * WEEK
    with pytest.raises(NoRoomThatDay):
        put(draft, name(visit), None, holiday, seen=1, by_user=nora, at=at)
    assert "Taken back" in steps.undo_step(draft_id=draft.pk, seen_step=1, at=at)


def test_by_script_the_answer_shows_the_week_that_was_asked_for(
    month: Callable[..., Draft], theo: User, signed_in_as: Callable, nora: User
) -> None:
    stop = given(theo, 1)
    draft = month()
    desk: Client = signed_in_as(nora)
    asked = {"job": name(stop.request), "where": f"{theo.pk}/2026-05-12", "place": "", "seen": "0"}
    address = reverse("visits:draft_move", args=[draft.pk])
    there = desk.post(address, {**asked, "show": "2026-05-12", "map_day": "2026-05-12"}, headers=BY_SCRIPT)
    assert 'data-show="2026-05-11"' in there.content.decode()
    back = {**asked, "where": "any/2026-05-05", "seen": "1", "show": "2026-05-11", "map_day": "2026-05-12"}
    text = desk.post(address, back, headers=BY_SCRIPT).content.decode()
    assert 'data-show="2026-05-11"' in text
    assert "with Theo Marsh on Tuesday, May 5" in text or "with Ana Delgado on Tuesday, May 5" in text
    undone = desk.post(
        reverse("visits:draft_step", args=[draft.pk]), {"direction": "undo", "seen": "2", "show": "2026-05-11"}
    )
    assert undone["Location"].endswith("?show=2026-05-11")


def test_on_its_own_page_a_visit_is_moved_to_any_week(
    month: Callable[..., Draft], theo: User, signed_in_as: Callable, nora: User
) -> None:
    visit = wanted(1)
    draft = month()
    desk: Client = signed_in_as(nora)
    page = reverse("visits:draft_card", args=[draft.pk, visit.pk])
    assert '<optgroup label="Week of June 1">' in desk.get(page).content.decode()
    answer = desk.post(page, {"where": f"{theo.pk}/2026-06-03", "place": "", "seen": "0"})
    assert answer["Location"].endswith("?show=2026-06-03")


# ---- accepted by the week ----


def test_a_week_is_accepted_by_itself_and_the_others_stay_a_draft(
    month: Callable[..., Draft], accept_week: Callable[[Draft, date], None], nora: User, theo: User, at: datetime
) -> None:
    first, later = wanted(1), wanted(2)
    draft = month((name(first), theo, TUESDAY), (name(later), theo, TUESDAY + WEEK))
    accept_week(draft, FRIDAY)
    assert list(Appointment.objects.values_list("request", "on")) == [(first.pk, TUESDAY)]
    assert (draft.state, draft.step_number, draft.progress["accepted"]) == ("ready", 0, ["2026-05-04"])
    assert where(draft, name(later)) == (str(theo.pk), TUESDAY + WEEK)
    assert AuditEntry.objects.filter(verb="week of draft accepted").count() == 1
    with pytest.raises(NothingToUndo):
        steps.undo_step(draft_id=draft.pk, seen_step=0, at=at)
    with pytest.raises(NothingToAccept):
        accept_week(draft, TUESDAY)
    # The accepted visit is promised now; the rest moves on as before.
    put(draft, name(later), theo, WEDNESDAY + WEEK, seen=0, by_user=nora, at=at)
    accept_week(draft, MONDAY + WEEK)
    assert draft.state == Draft.State.ACCEPTED
    assert Appointment.objects.get(request=later).on == WEDNESDAY + WEEK
    assert Notice.objects.filter(template="appointment_set").count() == Notice.objects.count() == 2


def test_what_leaves_the_week_goes_with_it_and_so_does_what_makes_room_there(
    month: Callable[..., Draft], accept_week: Callable[[Draft, date], None], nora: User, theo: User, at: datetime
) -> None:
    there = TUESDAY + WEEK
    leaving, room, other = given(theo, 1), given(theo, 2, on=there), given(theo, 3, on=WEDNESDAY + WEEK)
    untouched = wanted(4)
    draft = month(
        (name(room.request), theo, there + WEEK),
        (name(leaving.request), theo, there),
        (name(other.request), theo, FRIDAY + WEEK),
        (name(untouched), theo, there + WEEK),
    )
    accept_week(draft, MONDAY)
    for stop in (leaving, room, other):
        stop.refresh_from_db()
    assert (leaving.on, room.on) == (there, there + WEEK)
    # Neither leaves the week nor makes room for what does.
    assert other.on == WEDNESDAY + WEEK
    assert not Appointment.objects.filter(request=untouched).exists()
    assert draft.state == Draft.State.READY


def test_a_week_is_refused_when_the_book_changed_it_can_not_be_driven_or_another_was_faster(
    month: Callable[..., Draft], accept_week: Callable[[Draft, date], None], nora: User, theo: User, at: datetime
) -> None:
    visit, later = wanted(1), wanted(2)
    draft = month((name(visit), theo, TUESDAY), (name(later), theo, TUESDAY + WEEK))
    with pytest.raises(MovedMeanwhile):
        accepting.accept_week(draft_id=draft.pk, week_of=MONDAY, seen_step=1, by_user=nora, at=at)
    visit.minutes = 590
    visit.save()
    with pytest.raises(BookChanged):
        accept_week(draft, MONDAY)
    steps.bring_up_to_date(draft_id=draft.pk, by_user=nora, at=at)
    draft.refresh_from_db()
    step = queries.step_now(draft)
    step.arrangement["rounds"].append({"technician": str(theo.pk), "day": "2026-05-05", "jobs": [name(visit)]})
    step.save()
    with pytest.raises(DraftBreaks):
        accept_week(draft, MONDAY)
    assert not Appointment.objects.exists()
    accept_week(draft, MONDAY + WEEK)
    assert Appointment.objects.get().request == later


def test_the_page_says_what_the_week_holds_and_leads_back_to_the_draft(
    month: Callable[..., Draft], signed_in_as: Callable, nora: User, theo: User, at: datetime
) -> None:
    first, later = wanted(1), wanted(2)
    draft = month((name(first), theo, TUESDAY), (name(later), theo, TUESDAY + WEEK))
    desk: Client = signed_in_as(nora)
    page = reverse("visits:draft", args=[draft.pk])
    text = desk.get(page).content.decode()
    assert f'{reverse("visits:draft_review", args=[draft.pk])}?week=2026-05-04">Accept this week' in text
    assert text.count("as in the book") == 3
    review = desk.get(reverse("visits:draft_review", args=[draft.pk]), {"week": "2026-05-04"}).content.decode()
    assert "1 Quarry Lane" in review
    assert "2 Quarry Lane" not in review
    accepted = desk.post(reverse("visits:draft_accept", args=[draft.pk]), {"seen": "2", "week": "2026-05-04"})
    assert accepted["Location"] == f"{page}?show=2026-05-04"
    dropped = desk.post(reverse("visits:draft_drop", args=[draft.pk]), follow=True).content.decode()
    assert "What was accepted of it stands" in dropped
    assert "stands in the book; nothing else was written" in desk.get(page).content.decode()
    with pytest.raises(DraftClosed):
        accepting.accept_week(draft_id=draft.pk, week_of=MONDAY, seen_step=0, by_user=nora, at=at)


# ---- at a fixed number of queries ----

PINNED = {"book": 18, "draft": 19, "review": 19, "card": 19}


@pytest.mark.parametrize("page", PINNED)
def test_a_month_takes_the_same_number_of_queries_as_a_week(
    month: Callable[..., Draft], signed_in_as: Callable, nora: User, theo: User, ana: User, page: str
) -> None:
    first = given(theo, 1)
    wanted(2)
    draft = month()
    desk: Client = signed_in_as(nora)
    address = {
        "book": reverse("visits:board") + "?weeks=5",
        "draft": reverse("visits:draft", args=[draft.pk]) + "?show=2026-05-20",
        "review": reverse("visits:draft_review", args=[draft.pk]) + "?week=2026-05-04",
        "card": reverse("visits:draft_card", args=[draft.pk, first.request_id]),
    }[page]

    def count() -> int:
        with CaptureQueriesContext(connection) as seen:
            assert desk.get(address).status_code == 200
        return len(seen)

    few = count()
    for number in range(10, 30):
        given(ana, number, on=MONDAY + timedelta(days=number - 10 + 2 * ((number - 10) // 5)), stop=number)
        wanted(number + 20)
    assert count() == few == PINNED[page]
