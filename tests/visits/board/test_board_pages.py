"""Pages of the board: what they show, what a script and what a plain form is answered, at how many queries."""

from collections.abc import Callable
from datetime import UTC, date, datetime, time
from io import BytesIO

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from pypdf import PdfReader

from contractor.accounts.models import User
from contractor.core import clock
from contractor.properties.models import Property
from contractor.visits.board import queries
from contractor.visits.board.actions import drafts, upsets
from contractor.visits.models import Appointment, Draft, OwnDay
from tests.visits.board.town import FRIDAY, MONDAY, SUNDAY, TUESDAY, WEDNESDAY, given, wanted
from tests.visits.factories import RequestFactory

pytestmark = pytest.mark.usefixtures("at_work")
BY_SCRIPT = {"HX-Request": "true"}


@pytest.fixture(autouse=True)
def monday_morning(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(clock, "today", lambda: MONDAY)
    monkeypatch.setattr(clock, "now", lambda: datetime(2026, 5, 4, 14, 0, tzinfo=UTC))


@pytest.fixture
def desk(nora: User, signed_in_as: Callable[[User], Client]) -> Client:
    return signed_in_as(nora)


@pytest.fixture
def draft(nora: User, at: datetime, theo: User) -> Draft:
    """A draft by hand: one visit of Theo's on Tuesday, another that nobody has been given."""
    given(theo, 1)
    wanted(2)
    return drafts.start_draft(first_on=MONDAY, last_on=SUNDAY, by_user=nora, at=at)


def jobs() -> tuple[str, str]:
    first, second = sorted(queries.read_book(MONDAY, SUNDAY).standing.requests, key=lambda job: int(job.split(":")[1]))
    return first, second


def at_place(user: User, day: date) -> str:
    return f"{user.pk}/{day.isoformat()}"


def test_the_book_shows_the_rounds_the_driving_and_what_waits(theo: User, desk: Client) -> None:
    given(theo, 1, state="confirmed")
    given(theo, 2, stop=2, arrive_from=time(9), arrive_until=time(11))
    wanted(3)
    wanted(4)
    unknown = wanted(5)
    Property.objects.filter(systems=unknown.system).update(
        latitude=None, longitude=None, position_source="", postcode="00000"
    )
    answer = desk.get(reverse("visits:board"))
    text = answer.content.decode()
    sheet = answer.context["page"].sheet
    assert [day for week in sheet.weeks for day in week.days] == [date(2026, 5, number) for number in range(4, 9)]
    assert (sheet.planned, sheet.rounds, len(sheet.waiting)) == (2, 1, 3)
    for words in ("1 Quarry Lane", "confirmed", "9:00–11:00 AM", "The house has no position. Give it one", "min back"):
        assert words in text
    # What goes for most of them is said once, above them.
    assert text.count("nobody has been given the visit yet") == 1
    assert text.count('class="stop-why"') == 1
    assert "data-grip" not in text
    assert answer.context["page"].map.svg.count("map-stop") == 2


def test_in_the_book_a_promise_that_can_not_be_kept_still_stands_with_its_hours(theo: User, desk: Client) -> None:
    for number in (1, 2):
        given(theo, number, stop=number, arrive_from=time(8), arrive_until=time(8, 15))
    sheet = desk.get(reverse("visits:board")).context["page"].sheet
    cards = [card for week in sheet.weeks for row in week.rows for cell in row.cells for card in cell.cards]
    assert sheet.wrong == 1
    assert [(card.state, card.hours, card.was) for card in cards] == [("told", "8:00–8:15 AM", "")] * 2


@pytest.mark.parametrize(
    ("along", "words"),
    [
        ((), "Larkmere, check-up, "),
        (("repair",), "Larkmere, check-up and repair, "),
        (("repair", "claim", "repair"), "Larkmere, check-up and 2 repairs and claim call, "),
    ],
)
def test_a_card_says_all_that_is_done_at_the_house(
    theo: User, desk: Client, along: tuple[str, ...], words: str
) -> None:
    stop = given(theo, 1)
    for kind in along:
        RequestFactory(system=stop.request.system, kind=kind, goes_with=stop.request)
    assert words in desk.get(reverse("visits:board")).content.decode()


@pytest.mark.parametrize(
    ("asked", "days"),
    [({"weeks": "2"}, 10), ({"week": "2026-05-13"}, 5), ({"week": "x", "weeks": "9"}, 5), ({"day": "1066-10-14"}, 5)],
)
def test_a_stretch_is_one_week_or_two_whatever_is_asked(desk: Client, asked: dict[str, str], days: int) -> None:
    answer = desk.get(reverse("visits:board"), asked)
    assert sum(len(week.days) for week in answer.context["page"].sheet.weeks) == days


def test_the_map_shows_the_day_that_was_chosen(theo: User, desk: Client) -> None:
    given(theo, 1)
    given(theo, 2, on=FRIDAY)
    page = desk.get(reverse("visits:board"), {"day": "2026-05-08"}).context["page"]
    assert page.map.day == FRIDAY
    assert "2 Quarry Lane" in page.map.svg
    assert "1 Quarry Lane" not in page.map.svg


def test_a_rough_position_is_marked(theo: User, desk: Client) -> None:
    stop = given(theo, 1)
    house = stop.request.system.property
    house.position_source = "postcode"
    house.save()
    page = desk.get(reverse("visits:board")).context["page"]
    assert (page.map.rough, page.map.svg.count("map-rough")) == (1, 1)


def test_a_stretch_is_planned_from_its_form_and_leads_to_the_draft(desk: Client) -> None:
    asked = {"first_on": "2026-05-06", "weeks": "2", "effort": "by_hand"}
    answer = desk.post(reverse("visits:plan_stretch"), asked)
    made = Draft.objects.get()
    assert answer["Location"] == reverse("visits:draft", args=[made.pk])
    assert (made.first_on, made.last_on) == (WEDNESDAY, date(2026, 5, 17))
    again = desk.post(reverse("visits:plan_stretch"), asked)
    assert "Nora Vance has an open draft" in again.content.decode()
    assert desk.post(reverse("visits:plan_stretch"), {**asked, "effort": "forever"}).status_code == 200
    assert Draft.objects.count() == 1


def test_progress_is_shown_until_the_draft_is_ready_and_planning_can_be_stopped(desk: Client, nora: User) -> None:
    at = clock.now()
    planning = drafts.start_draft(first_on=MONDAY, last_on=SUNDAY, iterations=6, by_user=nora, at=at)
    page, progress = (reverse(f"visits:{each}", args=[planning.pk]) for each in ("draft", "draft_progress"))
    assert "Being planned" in desk.get(page).content.decode()
    assert f'hx-get="{progress}"' in desk.get(progress, headers=BY_SCRIPT).content.decode()
    # Nothing to look at yet.
    assert desk.get(reverse("visits:draft_review", args=[planning.pk])).status_code == 404
    drafts.plan_draft(draft_id=planning.pk, now=lambda: at)
    assert desk.get(progress, headers=BY_SCRIPT)["HX-Redirect"] == page
    assert "Planned: 0 visits" in desk.get(page).content.decode()
    desk.post(reverse("visits:draft_drop", args=[planning.pk]))
    assert "This draft is dropped" in desk.get(page).content.decode()


def test_a_move_by_script_is_answered_with_the_board_and_a_sentence(desk: Client, draft: Draft, theo: User) -> None:
    _, waiting = jobs()
    address = reverse("visits:draft_move", args=[draft.pk])
    asked = {"job": waiting, "where": at_place(theo, TUESDAY), "place": "1", "seen": "0", "map_day": "2026-05-08"}
    answer = desk.post(address, asked, headers=BY_SCRIPT)
    text = answer.content.decode()
    assert "2 Quarry Lane is stop 2 of 2 with Theo Marsh on Tuesday, May 5" in text
    assert 'data-seen="1"' in text
    assert "<html" not in text
    assert answer.context["page"].map.day == FRIDAY
    late = desk.post(address, asked, headers=BY_SCRIPT).content.decode()
    assert "Nora Vance changed this draft meanwhile" in late
    assert 'data-seen="1"' in late


def test_a_refused_move_leaves_the_board_as_it_was_and_says_why(desk: Client, draft: Draft, theo: User) -> None:
    _, waiting = jobs()
    address = reverse("visits:draft_move", args=[draft.pk])
    for where, words in (
        (at_place(theo, SUNDAY), "work on Sunday"),
        ("nonsense", "on the board any more"),
        ("off", "on the board any more"),
    ):
        text = desk.post(address, {"job": waiting, "where": where, "seen": "0"}, headers=BY_SCRIPT).content.decode()
        assert words in text
        assert 'data-seen="0"' in text
    for seen in ("", "x", "²", "9" * 5000):
        asked = {"job": waiting, "where": at_place(theo, TUESDAY), "seen": seen, "place": seen}
        assert "meanwhile" in desk.post(address, asked, headers=BY_SCRIPT).content.decode()


def test_a_soft_rule_is_asked_about_and_the_answer_carries_the_move(desk: Client, draft: Draft) -> None:
    first, _ = jobs()
    address = reverse("visits:draft_move", args=[draft.pk])
    asked = {"job": first, "where": "off", "place": "", "seen": "0", "map_day": "2026-05-05"}
    text = desk.post(address, asked, headers=BY_SCRIPT).content.decode()
    assert "The owner of 1 Quarry Lane was told Tuesday, May 5" in text
    assert '<input type="hidden" name="where" value="off">' in text
    text = desk.post(address, {**asked, "confirmed": "yes"}, headers=BY_SCRIPT).content.decode()
    assert "is taken off the rounds" in text


def test_without_a_script_a_visit_is_moved_on_its_own_page(desk: Client, draft: Draft, theo: User, ana: User) -> None:
    first, waiting = jobs()
    page = reverse("visits:draft_card", args=[draft.pk, int(waiting.split(":")[1])])
    text = desk.get(page).content.decode()
    assert "Where it fits" in text
    assert text.count("min of driving for it") == 5
    answer = desk.post(page, {"where": at_place(ana, FRIDAY), "place": "", "seen": "0"}, follow=True)
    assert "2 Quarry Lane is stop 1 of 1 with Ana Delgado on Friday, May 8" in answer.content.decode()
    off = desk.post(page, {"where": "off", "place": "", "seen": "1"}, follow=True)
    assert "is taken off the rounds" in off.content.decode()
    told = reverse("visits:draft_card", args=[draft.pk, int(first.split(":")[1])])
    question = desk.post(told, {"where": "off", "place": "", "seen": "2"}).content.decode()
    assert "will be called off" in question
    assert "Move it all the same" in question
    wrong = desk.post(page, {"where": at_place(theo, SUNDAY), "place": "", "seen": "2"}).content.decode()
    assert "Nothing was saved yet" in wrong
    assert desk.get(reverse("visits:draft_card", args=[draft.pk, 999_999])).status_code == 404


def test_locks_and_steps_are_taken_back_by_their_buttons(desk: Client, draft: Draft) -> None:
    first, _ = jobs()
    lock, step = (reverse(f"visits:draft_{each}", args=[draft.pk]) for each in ("lock", "step"))
    assert "is locked to Theo Marsh" in desk.post(lock, {"job": first, "seen": "0"}, follow=True).content.decode()
    assert "Taken back" in desk.post(step, {"direction": "undo", "seen": "1"}, headers=BY_SCRIPT).content.decode()
    assert "Done again" in desk.post(step, {"direction": "redo", "seen": "0"}, headers=BY_SCRIPT).content.decode()
    assert "no step to do again" in desk.post(step, {"direction": "redo", "seen": "1"}, follow=True).content.decode()


def test_a_draft_whose_book_changed_says_so_and_is_brought_up_to_date(desk: Client, draft: Draft, ana: User) -> None:
    Appointment.objects.update(technician=ana)
    page = reverse("visits:draft", args=[draft.pk])
    assert "The book has changed since this draft was made:</strong> 1 Quarry Lane" in desk.get(page).content.decode()
    review = desk.get(reverse("visits:draft_review", args=[draft.pk])).content.decode()
    assert "Accept and tell" not in review
    refused = desk.post(reverse("visits:draft_accept", args=[draft.pk]), {"seen": "0"}, follow=True)
    assert "Nothing was written" in refused.content.decode()
    answer = desk.post(reverse("visits:draft_update", args=[draft.pk]), follow=True)
    assert "Brought up to date" in answer.content.decode()
    assert "The book has changed" not in answer.content.decode()


def test_the_review_lists_who_is_told_and_accepting_leads_to_the_book(desk: Client, draft: Draft, theo: User) -> None:
    _, waiting = jobs()
    asked = {"job": waiting, "where": at_place(theo, TUESDAY), "place": "", "seen": "0"}
    desk.post(reverse("visits:draft_move", args=[draft.pk]), asked)
    text = desk.get(reverse("visits:draft_review", args=[draft.pk])).content.decode()
    assert "(555) 555-0142" in text
    assert "Accept and tell the owners" in text
    answer = desk.post(reverse("visits:draft_accept", args=[draft.pk]), {"seen": "1"}, follow=True)
    assert "Accepted. 1 owner is told." in answer.content.decode()
    assert Appointment.objects.count() == 2
    assert "accepted it on" in desk.get(reverse("visits:draft", args=[draft.pk])).content.decode()


def test_a_sick_call_is_noted_from_its_form(
    desk: Client, theo: User, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(upsets, "SECONDS", 0)
    given(theo, 1)
    address = reverse("visits:upset")
    typed = {"kind": "away", "technician": theo.pk, "first_on": "2026-05-05", "from_time": "12:00"}
    answer = desk.post(address, typed)
    made = Draft.objects.get()
    assert answer["Location"] == reverse("visits:draft", args=[made.pk])
    assert OwnDay.objects.get().because == "Called away"
    closed = desk.post(address, {"kind": "snow", "city": "Larkmere", "first_on": "2026-05-05"})
    assert closed.status_code == 302


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ({"technician": ""}, "Choose who can&#x27;t go out."),
        ({"kind": "picnic"}, "Select a valid choice"),
        ({"first_on": "2026-05-03"}, "These days are past"),
        ({"last_on": "2026-05-04"}, "must not be before the first"),
        ({"first_on": "2026-05-10"}, "Nobody&#x27;s day changes by this"),
        ({"kind": "snow", "city": "Atlantis"}, "Select a valid choice"),
    ],
)
def test_what_came_up_typed_wrongly_says_what_is_wrong(
    desk: Client, theo: User, typed: dict[str, str], words: str
) -> None:
    asked = {"kind": "away", "technician": theo.pk, "first_on": "2026-05-05", **typed}
    assert words in desk.post(reverse("visits:upset"), asked).content.decode()
    assert not Draft.objects.exists()


def test_the_load_of_a_day_counts_the_same_part_once_and_names_its_stops(desk: Client, theo: User) -> None:
    first, second = given(theo, 1), given(theo, 2, stop=2)
    for stop, carry in ((first, "Battery G31; two floats"), (second, "battery  g31.\nCheck valve")):
        stop.request.carry = carry
        stop.request.save()
    page = desk.get(reverse("visits:load_list"), {"day": "2026-05-05"})
    [printed] = page.context["rounds"]
    assert [(part.name, part.times, part.stops) for part in printed.load] == [
        ("Battery G31", 2, (1, 2)),
        ("Two floats", 1, (1,)),
        ("Check valve", 1, (2,)),
    ]
    assert "Nobody goes out on this day" in desk.get(reverse("visits:load_list"), {"day": "x"}).content.decode()


def test_the_round_sheet_has_addresses_telephone_numbers_access_and_parts(
    desk: Client, theo: User, ana: User, signed_in_as: Callable[[User], Client]
) -> None:
    stop = given(theo, 1, arrive_from=time(9), arrive_until=time(11))
    stop.request.carry = "Battery G31"
    stop.request.save()
    house = stop.request.system.property
    house.access_notes = "The dog is friendly."
    house.save()
    address = reverse("visits:round_sheet", args=[theo.pk, TUESDAY])
    answer = desk.get(address)
    assert answer["Content-Type"] == "application/pdf"
    pages = PdfReader(BytesIO(answer.content)).pages
    text = " ".join(" ".join(page.extract_text() for page in pages).split())
    for words in ("Theo Marsh", "1 Quarry Lane", "(555) 555-0142", "The dog is friendly.", "Battery G31", "9:00 AM"):
        assert words in text
    assert signed_in_as(theo).get(address).status_code == 200
    assert signed_in_as(ana).get(address).status_code == 404
    assert desk.get(reverse("visits:round_sheet", args=[theo.pk, FRIDAY])).status_code == 404


def test_a_technician_sees_their_own_week_and_nobody_elses(
    theo: User, ana: User, signed_in_as: Callable[[User], Client]
) -> None:
    given(theo, 1)
    given(ana, 2)
    answer = signed_in_as(theo).get(reverse("visits:my_week"))
    text = answer.content.decode()
    assert "1 Quarry Lane" in text
    assert "2 Quarry Lane" not in text
    later = signed_in_as(theo).get(reverse("visits:my_week"), {"week": "2026-05-11"}).content.decode()
    assert "No stops this week" in later


PAGES = ("board", "draft", "review", "card", "loads")


@pytest.mark.parametrize("page", PAGES)
def test_a_page_of_the_board_takes_the_same_number_of_queries_whatever_is_on_it(
    desk: Client, draft: Draft, theo: User, ana: User, page: str
) -> None:
    first, _ = jobs()
    address = {
        "board": reverse("visits:board"),
        "draft": reverse("visits:draft", args=[draft.pk]),
        "review": reverse("visits:draft_review", args=[draft.pk]),
        "card": reverse("visits:draft_card", args=[draft.pk, int(first.split(":")[1])]),
        "loads": reverse("visits:load_list") + "?day=2026-05-05",
    }[page]

    def count() -> int:
        with CaptureQueriesContext(connection) as seen:
            assert desk.get(address).status_code == 200
        return len(seen)

    few = count()
    for number in range(10, 18):
        given(ana, number, stop=number)
        wanted(number + 20)
    assert count() == few
    assert few == PINNED[page]


PINNED = {"board": 18, "draft": 19, "review": 19, "card": 19, "loads": 13}
