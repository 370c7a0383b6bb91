"""The desk's pages about visits: who may open them, forms with errors, what the week shows, at how many queries."""

import re
from collections.abc import Callable
from datetime import UTC, date, datetime, time, timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from contractor.accounts.models import User
from contractor.core import clock
from contractor.notices.models import Notice
from contractor.systems.models import System
from contractor.visits import queries
from contractor.visits.models import Appointment, Request
from tests.factories import OwnershipFactory, UserFactory
from tests.visits.factories import AppointmentFactory, RequestFactory

MONDAY = date(2026, 5, 4)
SATURDAY, SUNDAY = date(2026, 5, 9), date(2026, 5, 10)


@pytest.fixture(autouse=True)
def monday_morning(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(clock, "today", lambda: MONDAY)
    monkeypatch.setattr(clock, "now", lambda: datetime(2026, 5, 4, 14, 0, tzinfo=UTC))


@pytest.fixture
def desk(nora: User, signed_in_as: Callable[[User], Client]) -> Client:
    return signed_in_as(nora)


@pytest.fixture
def visit(system: System) -> Request:
    made: Request = RequestFactory(system=system)
    return made


@pytest.fixture
def appointment(visit: Request, theo: User) -> Appointment:
    made: Appointment = AppointmentFactory(request=visit, technician=theo, on=date(2026, 5, 6))
    return made


def addresses(appointment: Appointment) -> dict[str, str]:
    request_id, technician_id = appointment.request_id, appointment.technician_id
    return {
        "rounds": reverse("visits:rounds"),
        "round_day": reverse("visits:round_day", args=[technician_id, appointment.on]),
        "put_in_order": reverse("visits:put_in_order", args=[technician_id, appointment.on]),
        "give": reverse("visits:give", args=[request_id]),
        "withdraw": reverse("visits:withdraw", args=[request_id]),
        "move": reverse("visits:move", args=[appointment.pk]),
        "confirm": reverse("visits:confirm", args=[appointment.pk]),
        "cancel": reverse("visits:cancel", args=[appointment.pk]),
        "could_not": reverse("visits:could_not", args=[appointment.pk]),
        "ask": reverse("visits:ask", args=[appointment.request.system_id]),
    }


ONLY_POSTED = {"put_in_order", "confirm"}
ONLY_READ = {"rounds", "round_day"}
NAMES = (
    "rounds",
    "round_day",
    "put_in_order",
    "give",
    "withdraw",
    "move",
    "confirm",
    "cancel",
    "could_not",
    "ask",
)


@pytest.mark.parametrize("name", NAMES)
def test_office_and_manager_come_in_a_technician_does_not_and_a_stranger_signs_in_first(
    appointment: Appointment,
    nora: User,
    ruth: User,
    theo: User,
    signed_in_as: Callable[[User], Client],
    name: str,
) -> None:
    address = addresses(appointment)[name]
    method = "post" if name in ONLY_POSTED else "get"
    for user in (nora, ruth):
        assert getattr(signed_in_as(user), method)(address).status_code in {200, 302, 409}
    assert getattr(signed_in_as(theo), method)(address).status_code == 403
    stranger = getattr(Client(), method)(address)
    assert (stranger.status_code, stranger["Location"]) == (302, f"{reverse('accounts:sign_in')}?next={address}")


@pytest.mark.parametrize("name", NAMES)
def test_what_is_read_is_not_posted_and_what_is_posted_is_not_read(
    appointment: Appointment, desk: Client, name: str
) -> None:
    address = addresses(appointment)[name]
    if name in ONLY_POSTED:
        assert desk.get(address).status_code == 405
    if name in ONLY_READ:
        assert desk.post(address).status_code == 405


def test_a_technician_changes_nothing_by_posting(
    appointment: Appointment, theo: User, signed_in_as: Callable[[User], Client]
) -> None:
    client = signed_in_as(theo)
    for name in set(NAMES) - ONLY_READ:
        assert client.post(addresses(appointment)[name], {"because": "x"}).status_code == 403
    appointment.refresh_from_db()
    assert appointment.state == "planned"


def test_what_is_not_there_is_not_found(desk: Client, theo: User, nora: User) -> None:
    for name, args in (
        ("give", [999_999]),
        ("withdraw", [999_999]),
        ("move", [999_999]),
        ("cancel", [999_999]),
        ("ask", [999_999]),
        ("round_day", [999_999, MONDAY]),
        ("round_day", [nora.pk, MONDAY]),
    ):
        assert desk.get(reverse(f"visits:{name}", args=args)).status_code == 404
    assert desk.get(f"/visits/rounds/{theo.pk}/2026-02-30/").status_code == 404


@pytest.mark.parametrize("week", ["", "x", "2026-02-30", "2026-13-45", "0001-01-01", "9999-12-31", "2026-05-04T10:00"])
def test_a_week_that_can_not_be_read_is_this_week(desk: Client, week: str) -> None:
    answer = desk.get(reverse("visits:rounds"), {"week": week})
    assert answer.status_code == 200
    assert answer.context["week"].days[0] == MONDAY


@pytest.mark.parametrize("day", ["2026-05-11", "2026-05-13", "2026-05-17"])
def test_the_week_around_a_day_begins_on_monday_and_leads_to_the_next_and_the_one_before(
    desk: Client, day: str
) -> None:
    answer = desk.get(reverse("visits:rounds"), {"week": day})
    text = answer.content.decode()
    assert answer.context["week"].days == tuple(date(2026, 5, number) for number in range(11, 17))
    assert "?week=2026-05-04" in text
    assert "?week=2026-05-18" in text


def test_the_week_shows_who_goes_where(appointment: Appointment, theo: User, desk: Client) -> None:
    AppointmentFactory(technician=theo, on=appointment.on, request__minutes=45, stop_number=2)
    AppointmentFactory(technician=theo, on=appointment.on, state="cancelled")
    text = desk.get(reverse("visits:rounds")).content.decode()
    assert "2 stops, 100 min" in text
    assert reverse("visits:round_day", args=[theo.pk, appointment.on]) in text
    assert "12 Millrace Lane" in text
    assert text.count("Free") == 5


def test_sunday_is_in_the_week_only_when_somebody_works(theo: User, desk: Client) -> None:
    assert queries.week_of(on=MONDAY).days[-1] == SATURDAY
    AppointmentFactory(technician=theo, on=SUNDAY)
    AppointmentFactory(technician=theo, on=date(2026, 5, 11))
    week = queries.week_of(on=SUNDAY)
    assert (week.days[0], week.days[-1]) == (MONDAY, SUNDAY)
    assert [len(cell.stops) for cell in week.rows[0][1]] == [0, 0, 0, 0, 0, 0, 1]


def test_the_stops_of_a_technician_who_has_left_stay_in_sight(
    appointment: Appointment, theo: User, desk: Client
) -> None:
    UserFactory(role="technician", is_active=False)
    theo.is_active = False
    theo.save()
    (row,) = queries.week_of(on=MONDAY).rows
    assert row[0] == theo
    assert desk.get(reverse("visits:round_day", args=[theo.pk, appointment.on])).status_code == 200
    assert queries.week_of(on=MONDAY + timedelta(days=7)).rows == ()


def test_visits_that_nobody_has_been_given_stand_below_when_their_window_opens_in_that_week(
    visit: Request, theo: User, desk: Client
) -> None:
    last_day = RequestFactory(earliest_on=SATURDAY, target_on=SATURDAY, latest_on=SATURDAY)
    RequestFactory(earliest_on=SUNDAY, target_on=SUNDAY, latest_on=SUNDAY)
    RequestFactory(withdrawn_at=datetime(2026, 5, 1, tzinfo=UTC))
    for state in ("planned", "confirmed", "done"):
        AppointmentFactory(technician=theo, state=state)
    waiting_again = AppointmentFactory(technician=theo, state="could_not").request
    waiting = desk.get(reverse("visits:rounds")).context["waiting"]
    assert {row.pk for row in waiting} == {visit.pk, last_day.pk, waiting_again.pk}
    assert waiting[0] == last_day


def test_a_long_list_says_that_it_is_cut_and_where_the_rest_is(system: System, desk: Client) -> None:
    for _ in range(61):
        RequestFactory(system=system)
    text = desk.get(reverse("visits:rounds")).content.decode()
    assert "The 60 most pressing of 61" in text
    assert f"{reverse('office:due')}?waiting=on" in text


def test_a_past_last_day_is_said_in_a_word(system: System, desk: Client) -> None:
    RequestFactory(system=system, target_on=date(2026, 2, 1))
    text = desk.get(reverse("visits:rounds")).content.decode()
    assert re.search(r"past\s*</span>", text)


def count(client: Client, address: str) -> int:
    with CaptureQueriesContext(connection) as captured:
        assert client.get(address).status_code == 200
    return len(captured)


def fill(theo: User, houses: int) -> None:
    for number in range(houses):
        for state in ("planned", "confirmed", "done"):
            made = AppointmentFactory(technician=theo, on=MONDAY + timedelta(days=number % 6), state=state)
            OwnershipFactory(property=made.request.system.property)
        OwnershipFactory(property=RequestFactory().system.property)
        AppointmentFactory(technician=UserFactory(role="technician"), on=MONDAY)


def test_the_pages_take_as_many_queries_for_many_rows_as_for_few(theo: User, visit: Request, desk: Client) -> None:
    fill(theo, 1)
    pages = [
        reverse("visits:rounds"),
        reverse("visits:round_day", args=[theo.pk, MONDAY]),
        reverse("visits:give", args=[visit.pk]),
    ]
    few = [count(desk, page) for page in pages]
    fill(theo, 12)
    assert [count(desk, page) for page in pages] == few
    assert max(few) <= 12


def test_a_visit_is_given_out_and_the_round_opens(visit: Request, theo: User, desk: Client) -> None:
    answer = desk.post(
        reverse("visits:give", args=[visit.pk]),
        {"technician": theo.pk, "on": "2026-05-12", "arrive_from": "08:30", "arrive_until": "10:00"},
    )
    assert answer["Location"] == reverse("visits:round_day", args=[theo.pk, date(2026, 5, 12)])
    made = Appointment.objects.get()
    assert (made.on, made.arrive_from, made.made_by) == (
        date(2026, 5, 12),
        time(8, 30),
        User.objects.get(name="Nora Vance"),
    )
    text = desk.get(answer["Location"]).content.decode()
    assert "Yearly check-up given to Theo Marsh on Tuesday, May 12." in text
    assert "8:30 AM to 10:00 AM" in text


def test_a_day_in_grace_is_given_out_with_a_word_of_warning(visit: Request, theo: User, desk: Client) -> None:
    answer = desk.post(
        reverse("visits:give", args=[visit.pk]), {"technician": theo.pk, "on": "2026-05-20"}, follow=True
    )
    assert "days of grace, which end on July 13, 2026" in answer.content.decode()


@pytest.mark.parametrize(
    ("typed", "field", "words"),
    [
        ({"on": ""}, "on", "required"),
        ({"on": "soon"}, "on", "valid date"),
        ({"on": "2026-05-03"}, "on", "Sunday, May 3, 2026 is past"),
        ({"technician": ""}, "technician", "required"),
        ({"technician": "nora"}, "technician", "Select a valid choice"),
        ({"arrive_from": "08:30"}, "arrive_until", "Give both hours, or neither."),
        ({"arrive_until": "08:30"}, "arrive_until", "Give both hours, or neither."),
        ({"arrive_from": "10:00", "arrive_until": "10:00"}, "arrive_until", "must be after the first"),
        ({"arrive_from": "late", "arrive_until": "10:00"}, "arrive_from", "valid time"),
    ],
)
def test_what_is_wrong_is_said_beside_its_field(
    visit: Request, theo: User, nora: User, desk: Client, typed: dict[str, str], field: str, words: str
) -> None:
    whole = {"technician": str(theo.pk), "on": "2026-05-12", **typed}
    if whole["technician"] == "nora":
        whole["technician"] = str(nora.pk)
    answer = desk.post(reverse("visits:give", args=[visit.pk]), whole)
    assert answer.status_code == 200
    assert words in str(answer.context["form"].errors[field])
    assert f'href="#id_{field}"' in answer.content.decode()
    assert not Appointment.objects.exists()


def test_the_day_that_is_suggested_is_the_wished_one_or_today(visit: Request, system: System, desk: Client) -> None:
    overdue = RequestFactory(system=system, target_on=date(2026, 4, 20))
    for request, day in ((visit, date(2026, 5, 14)), (overdue, MONDAY)):
        form = desk.get(reverse("visits:give", args=[request.pk])).context["form"]
        assert form["on"].value() == day


def test_what_the_technicians_have_near_that_day_stands_beside_the_form(
    visit: Request, theo: User, desk: Client
) -> None:
    near = AppointmentFactory(technician=theo, on=date(2026, 5, 11))
    AppointmentFactory(technician=theo, on=date(2026, 5, 10))
    AppointmentFactory(technician=theo, on=date(2026, 5, 22))
    loads = desk.get(reverse("visits:give", args=[visit.pk])).context["loads"]
    assert [(load.technician, load.on, load.stops) for load in loads] == [(theo, date(2026, 5, 11), (near,))]
    posted = desk.post(reverse("visits:give", args=[visit.pk]), {"technician": "", "on": "2026-05-24"})
    assert [load.on for load in posted.context["loads"]] == [date(2026, 5, 22)]


def test_a_visit_that_somebody_has_already_leads_to_its_appointment(
    appointment: Appointment, theo: User, desk: Client
) -> None:
    answer = desk.get(reverse("visits:give", args=[appointment.request_id]))
    assert answer["Location"] == reverse("visits:move", args=[appointment.pk])
    posted = desk.post(
        reverse("visits:give", args=[appointment.request_id]), {"technician": theo.pk, "on": "2026-05-12"}
    )
    assert "given to Theo Marsh on Wednesday, May 6, 2026 already" in posted.content.decode()


@pytest.mark.parametrize("name", ["give", "withdraw"])
def test_a_visit_that_is_no_longer_wanted_or_done_says_so(appointment: Appointment, desk: Client, name: str) -> None:
    address = addresses(appointment)[name]
    appointment.state = "done"
    appointment.save()
    done = desk.get(address)
    assert (done.status_code, "This visit has been done" in done.content.decode()) == (409, True)
    Appointment.objects.update(state="cancelled")
    Request.objects.update(withdrawn_at=datetime(2026, 5, 1, tzinfo=UTC), withdrawn_because="The house was sold")
    gone = desk.get(address)
    assert (gone.status_code, "no longer wanted: The house was sold." in gone.content.decode()) == (409, True)


def test_an_appointment_is_moved(appointment: Appointment, theo: User, desk: Client) -> None:
    address = reverse("visits:move", args=[appointment.pk])
    form = desk.get(address).context["form"]
    assert (form["technician"].value(), form["on"].value()) == (theo.pk, date(2026, 5, 6))
    answer = desk.post(address, {"technician": theo.pk, "on": "2026-05-07"}, follow=True)
    assert "Yearly check-up moved to Theo Marsh on Thursday, May 7." in answer.content.decode()
    refused = desk.post(address, {"technician": theo.pk, "on": "2026-05-01"})
    assert "Friday, May 1, 2026 is past" in str(refused.context["form"].errors["on"])


def test_moving_what_was_called_off_meanwhile_is_refused_in_words(
    appointment: Appointment, theo: User, desk: Client
) -> None:
    Appointment.objects.update(state="cancelled")
    answer = desk.post(reverse("visits:move", args=[appointment.pk]), {"technician": theo.pk, "on": "2026-05-07"})
    assert "This appointment is cancelled already" in str(answer.context["form"].non_field_errors())
    confirmed = desk.post(reverse("visits:confirm", args=[appointment.pk]))
    assert (confirmed.status_code, "cancelled already" in confirmed.content.decode()) == (409, True)


@pytest.mark.parametrize(
    ("name", "state", "owner_reads"), [("cancel", "cancelled", True), ("could_not", "could_not", False)]
)
def test_an_appointment_is_ended_with_a_reason_and_the_visit_is_given_out_again(
    appointment: Appointment, desk: Client, name: str, state: str, owner_reads: bool
) -> None:
    address = addresses(appointment)[name]
    assert ("The owner reads this sentence" in desk.get(address).content.decode()) is owner_reads
    empty = desk.post(address, {"because": "  "})
    assert list(empty.context["form"].errors) == ["because"]
    answer = desk.post(address, {"because": "Nobody at home"})
    assert answer["Location"] == reverse("visits:give", args=[appointment.request_id])
    appointment.refresh_from_db()
    assert (appointment.state, Notice.objects.exists()) == (state, owner_reads)
    again = desk.post(address, {"because": "Nobody at home"})
    assert "already" in str(again.context["form"].non_field_errors())


def test_a_visit_is_taken_back_with_a_reason(appointment: Appointment, desk: Client) -> None:
    address = reverse("visits:withdraw", args=[appointment.request_id])
    assert "The owner reads this sentence" in desk.get(address).content.decode()
    assert list(desk.post(address, {"because": ""}).context["form"].errors) == ["because"]
    answer = desk.post(address, {"because": "The house was sold."})
    assert answer["Location"] == reverse("office:house", args=[appointment.request.system.property_id])
    appointment.refresh_from_db()
    assert appointment.state == "cancelled"


def test_the_owners_yes_is_noted_from_the_round(appointment: Appointment, desk: Client) -> None:
    answer = desk.post(reverse("visits:confirm", args=[appointment.pk]), follow=True)
    assert "Confirmed by the owner" in answer.content.decode()
    appointment.refresh_from_db()
    assert appointment.state == "confirmed"


ASKED = {
    "kind": "repair",
    "reason": "The pump hums.",
    "target_on": "2026-05-07",
    "earliest_on": "2026-05-04",
    "latest_on": "2026-05-18",
    "minutes": "60",
    "carry": "",
}


def test_several_visits_are_asked_for_by_hand_each_for_something_else(system: System, desk: Client) -> None:
    address = reverse("visits:ask", args=[system.pk])
    for number, reason in enumerate(("The pump hums.", "The lid is cracked."), start=1):
        answer = desk.post(address, {**ASKED, "reason": reason})
        assert Request.objects.count() == number
    first, second = Request.objects.order_by("pk")
    assert (second.kind, second.reason, second.minutes) == ("repair", "The lid is cracked.", 60)
    # Both fit into one trip, so the second goes along with the first instead of being given out by itself.
    assert second.goes_with == first
    assert answer["Location"] == reverse("office:house", args=[system.property_id])


def test_a_visit_asked_for_by_hand_is_given_out_next(system: System, desk: Client) -> None:
    answer = desk.post(reverse("visits:ask", args=[system.pk]), ASKED)
    assert answer["Location"] == reverse("visits:give", args=[Request.objects.get().pk])


@pytest.mark.parametrize(
    ("typed", "field"),
    [
        ({"reason": ""}, "reason"),
        ({"kind": "picnic"}, "kind"),
        ({"minutes": "0"}, "minutes"),
        ({"minutes": "601"}, "minutes"),
        ({"target_on": ""}, "target_on"),
        ({"target_on": "2026-05-19"}, "target_on"),
        ({"earliest_on": "2026-05-08"}, "target_on"),
    ],
)
def test_a_visit_asked_for_wrongly_says_what_is_wrong(
    system: System, desk: Client, typed: dict[str, str], field: str
) -> None:
    answer = desk.post(reverse("visits:ask", args=[system.pk]), {**ASKED, **typed})
    assert list(answer.context["form"].errors) == [field]
    assert not Request.objects.exists()


def test_a_stop_is_moved_up_and_down_with_its_arrows(theo: User, desk: Client) -> None:
    stops = [AppointmentFactory(technician=theo, on=MONDAY, stop_number=number).pk for number in (1, 2, 3)]
    first, second, third = stops
    address = reverse("visits:put_in_order", args=[theo.pk, MONDAY])

    def order() -> list[int]:
        return [stop.pk for stop in queries.round_of(technician=theo, on=MONDAY)]

    page = desk.get(reverse("visits:round_day", args=[theo.pk, MONDAY])).content.decode()
    assert page.count('value="up"') == page.count('value="down"') == 2
    desk.post(address, {"stop": stops, "moved": third, "direction": "up"})
    assert order() == [first, third, second]
    desk.post(address, {"stop": order(), "moved": first, "direction": "down"})
    assert order() == [third, first, second]
    # Two at the desk: the second still sees the round as it was.
    old = desk.post(address, {"stop": [first, second], "moved": second, "direction": "up"})
    assert (old.status_code, "changed by somebody else" in old.content.decode()) == (409, True)
    odd = desk.post(address, {"stop": ["x", "²"], "moved": "x", "direction": "sideways"})
    assert odd.status_code == 409
    assert order() == [third, first, second]
