"""Moving, confirming, calling off, noting that it could not be done or was done; the order of a round."""

from collections.abc import Callable
from datetime import date, datetime, time, timedelta
from typing import Any

import pytest

from contractor.accounts.models import User
from contractor.core import audit, renewal
from contractor.core.audit import Actor
from contractor.core.models import AuditEntry
from contractor.notices.models import Notice
from contractor.systems.models import System
from contractor.visits import queries
from contractor.visits.actions import appointments as actions
from contractor.visits.errors import DayIsPast, NotATechnician, NotLive, ReasonMissing, RoundChanged
from contractor.visits.models import Appointment, Request
from tests.factories import UserFactory
from tests.visits.factories import AppointmentFactory, RequestFactory

DAY, NEXT_DAY = date(2026, 5, 12), date(2026, 5, 13)
END = (actions.cancel_appointment, actions.could_not)


@pytest.fixture
def appointment(system: System, theo: User) -> Appointment:
    made: Appointment = AppointmentFactory(
        request=RequestFactory(system=system),
        technician=theo,
        on=DAY,
        arrive_from=time(8),
        arrive_until=time(10),
        state="confirmed",
    )
    return made


def move(appointment: Appointment, office: Actor, at: datetime, **changes: Any) -> Appointment:
    same: dict[str, Any] = {
        "technician_id": appointment.technician_id,
        "on": appointment.on,
        "arrive_from": appointment.arrive_from,
        "arrive_until": appointment.arrive_until,
    }
    return actions.move_appointment(appointment_id=appointment.pk, by=office, at=at, **{**same, **changes})


@pytest.mark.parametrize(
    "changes",
    [
        {"on": NEXT_DAY},
        {"arrive_from": time(9)},
        {"arrive_until": time(11)},
        {"arrive_from": None, "arrive_until": None},
    ],
    ids=["day", "first hour", "last hour", "no hour"],
)
def test_another_day_or_hour_is_told_to_the_owner_who_has_to_say_yes_again(
    appointment: Appointment, office: Actor, at: datetime, changes: dict[str, Any]
) -> None:
    moved = move(appointment, office, at, **changes)
    assert moved.state == "planned"
    (notice,) = Notice.objects.all()
    assert notice.template == "appointment_moved"
    assert notice.occasion.startswith(f"appointment:{appointment.pk}:moved:")
    entry = AuditEntry.objects.get(verb="appointment moved")
    assert set(entry.body["after"]) == {*changes, "state"}


def test_another_technician_on_the_same_day_is_no_news_to_the_owner(
    appointment: Appointment, office: Actor, at: datetime
) -> None:
    other = UserFactory(role="technician")
    AppointmentFactory(technician=other, on=DAY, stop_number=3)
    moved = move(appointment, office, at, technician_id=other.pk)
    assert (moved.technician, moved.state, moved.stop_number) == (other, "confirmed", 4)
    assert not Notice.objects.exists()
    assert AuditEntry.objects.get().body["after"] == {"technician_id": other.pk, "stop_number": 4}


def test_a_move_to_where_it_is_already_writes_nothing(appointment: Appointment, office: Actor, at: datetime) -> None:
    assert move(appointment, office, at).state == "confirmed"
    assert not AuditEntry.objects.exists()
    assert not Notice.objects.exists()


def test_moved_there_and_back_the_owner_is_told_of_both(appointment: Appointment, office: Actor, at: datetime) -> None:
    move(appointment, office, at, on=NEXT_DAY)
    move(appointment, office, at + timedelta(minutes=5), on=DAY)
    move(appointment, office, at + timedelta(minutes=9), on=NEXT_DAY)
    assert Notice.objects.count() == 3
    assert "is moved to Wednesday, May 13, 2026" in Notice.objects.order_by("pk").last().subject  # type: ignore[union-attr]


def test_a_move_keeps_its_place_unless_the_round_changes(appointment: Appointment, office: Actor, at: datetime) -> None:
    AppointmentFactory(technician=appointment.technician, on=DAY, stop_number=2)
    AppointmentFactory(technician=appointment.technician, on=NEXT_DAY, stop_number=6)
    assert move(appointment, office, at, arrive_from=time(9)).stop_number == 1
    assert move(appointment, office, at, on=NEXT_DAY).stop_number == 7


def test_a_move_to_a_past_day_or_to_nobody_is_refused(
    appointment: Appointment, nora: User, office: Actor, at: datetime
) -> None:
    with pytest.raises(DayIsPast):
        move(appointment, office, at, on=date(2026, 5, 3))
    with pytest.raises(NotATechnician):
        move(appointment, office, at, technician_id=nora.pk)
    assert Appointment.objects.get().on == DAY


CLOSED = (("done", "done already"), ("cancelled", "cancelled already"), ("could_not", "could not be done already"))


@pytest.mark.parametrize(("state", "words"), CLOSED)
def test_what_is_over_can_not_be_changed(
    appointment: Appointment, office: Actor, at: datetime, state: str, words: str
) -> None:
    Appointment.objects.update(state=state)
    attempts: list[Callable[[], object]] = [
        lambda: move(appointment, office, at, on=NEXT_DAY),
        lambda: actions.confirm_appointment(appointment_id=appointment.pk, by=office, at=at),
        lambda: actions.cancel_appointment(appointment_id=appointment.pk, because="x", by=office, at=at),
        lambda: actions.could_not(appointment_id=appointment.pk, because="x", by=office, at=at),
    ]
    for attempt in attempts:
        with pytest.raises(NotLive, match=words):
            attempt()
    assert Appointment.objects.get().state == state
    assert not AuditEntry.objects.exists()
    assert not Notice.objects.exists()


@pytest.mark.parametrize("action", END)
@pytest.mark.parametrize("because", ["", "  "])
def test_an_appointment_is_not_ended_without_a_reason(
    appointment: Appointment, office: Actor, at: datetime, action: Callable[..., Appointment], because: str
) -> None:
    with pytest.raises(ReasonMissing):
        action(appointment_id=appointment.pk, because=because, by=office, at=at)
    assert Appointment.objects.get().state == "confirmed"


@pytest.mark.parametrize(
    ("action", "state", "verb"),
    [
        (actions.cancel_appointment, "cancelled", "appointment cancelled"),
        (actions.could_not, "could_not", "visit could not be done"),
    ],
)
def test_the_visit_waits_for_another_day_after_its_appointment_has_ended(
    appointment: Appointment,
    office: Actor,
    at: datetime,
    action: Callable[..., Appointment],
    state: str,
    verb: str,
) -> None:
    assert not Request.objects.without_appointment().exists()
    ended = action(appointment_id=appointment.pk, because=" Nobody at home ", by=office, at=at)
    assert (ended.state, ended.state_because) == (state, "Nobody at home")
    assert list(Request.objects.without_appointment()) == [appointment.request]
    assert queries.request_to_give(request_id=appointment.request_id) == appointment.request
    assert AuditEntry.objects.get(verb=verb).body["after"] == {"state": state, "state_because": "Nobody at home"}
    again = actions.give_to_technician(
        request_id=appointment.request_id, technician_id=appointment.technician_id, on=NEXT_DAY, by=office, at=at
    )
    assert again.pk != appointment.pk
    assert audit.breaks(f"property:{again.request.system.property_id}") == []


def test_the_owner_is_told_why_it_is_called_off_and_that_another_day_will_come(
    appointment: Appointment, office: Actor, at: datetime
) -> None:
    actions.cancel_appointment(appointment_id=appointment.pk, because="Theo is <ill>.", by=office, at=at)
    notice = Notice.objects.get()
    assert notice.subject == "Our visit at 12 Millrace Lane on May 12, 2026 is called off"
    assert "called off: Theo is <ill>." in notice.text
    assert "Theo is &lt;ill&gt;." in notice.html
    assert "stays on our list" in notice.text
    assert "No other visit" not in notice.text


def test_the_owner_who_was_not_at_home_is_not_written_to(appointment: Appointment, office: Actor, at: datetime) -> None:
    actions.could_not(appointment_id=appointment.pk, because="Nobody at home", by=office, at=at)
    assert not Notice.objects.exists()


def test_the_owners_yes_is_noted_once(appointment: Appointment, office: Actor, at: datetime) -> None:
    Appointment.objects.update(state="planned")
    for _ in range(2):
        actions.confirm_appointment(appointment_id=appointment.pk, by=office, at=at)
    assert Appointment.objects.get().state == "confirmed"
    assert AuditEntry.objects.get().verb == "appointment confirmed"


def test_a_visit_is_done_once_and_the_house_is_renewed(
    appointment: Appointment,
    office: Actor,
    at: datetime,
    monkeypatch: pytest.MonkeyPatch,
    django_capture_on_commit_callbacks: Any,
) -> None:
    renewed: list[int] = []
    monkeypatch.setattr(renewal, "_followers", {"test": renewed.append})
    with django_capture_on_commit_callbacks(execute=True):
        for _ in range(2):
            actions.mark_done(appointment_id=appointment.pk, by=office, at=at)
    assert renewed == [appointment.request.system.property_id]
    assert not Request.objects.wanting().exists()
    assert AuditEntry.objects.get().body["after"] == {"state": "done"}


@pytest.mark.parametrize("state", ["cancelled", "could_not"])
def test_a_visit_that_was_called_off_meanwhile_is_not_done(
    appointment: Appointment, office: Actor, at: datetime, state: str
) -> None:
    Appointment.objects.update(state=state)
    with pytest.raises(NotLive):
        actions.mark_done(appointment_id=appointment.pk, by=office, at=at)


@pytest.fixture
def round_of_three(theo: User) -> list[Appointment]:
    return [AppointmentFactory(technician=theo, on=DAY, stop_number=number) for number in (1, 2, 3)]


def test_the_stops_are_numbered_in_the_order_given_and_only_changes_are_written(
    round_of_three: list[Appointment], theo: User, office: Actor, at: datetime
) -> None:
    first, second, third = (stop.pk for stop in round_of_three)
    actions.put_in_order(technician_id=theo.pk, on=DAY, appointment_ids=[second, first, third], by=office, at=at)
    assert [stop.pk for stop in queries.round_of(technician=theo, on=DAY)] == [second, first, third]
    assert [entry.verb for entry in AuditEntry.objects.all()] == ["stop put in order"] * 2
    actions.put_in_order(technician_id=theo.pk, on=DAY, appointment_ids=[second, first, third], by=office, at=at)
    assert AuditEntry.objects.count() == 2


def test_an_order_of_other_stops_than_the_rounds_is_refused(
    round_of_three: list[Appointment], theo: User, office: Actor, at: datetime
) -> None:
    first, second, third = (stop.pk for stop in round_of_three)
    tomorrow = AppointmentFactory(technician=theo, on=NEXT_DAY)
    cancelled = AppointmentFactory(technician=theo, on=DAY, state="cancelled")
    for wrong in (
        [],
        [first, second],
        [first, second, third, third],
        [first, second, third, tomorrow.pk],
        [first, second, third, cancelled.pk],
        [first, second, tomorrow.pk],
    ):
        with pytest.raises(RoundChanged):
            actions.put_in_order(technician_id=theo.pk, on=DAY, appointment_ids=wrong, by=office, at=at)
    assert [stop.pk for stop in queries.round_of(technician=theo, on=DAY)] == [first, second, third]


def test_a_round_holds_the_live_stops_of_one_technician_and_one_day(theo: User) -> None:
    done = AppointmentFactory(technician=theo, on=DAY, stop_number=2, state="done")
    planned = AppointmentFactory(technician=theo, on=DAY, stop_number=1)
    AppointmentFactory(technician=theo, on=DAY, state="cancelled")
    AppointmentFactory(technician=theo, on=DAY, state="could_not")
    AppointmentFactory(technician=theo, on=NEXT_DAY)
    AppointmentFactory(on=DAY)
    assert queries.round_of(technician=theo, on=DAY) == [planned, done]


def test_the_next_visit_of_a_house_is_the_earliest_that_is_still_to_come(system: System, theo: User) -> None:
    def at_house(on: date, state: str = "planned") -> Appointment:
        made: Appointment = AppointmentFactory(
            request=RequestFactory(system=system), technician=theo, on=on, state=state
        )
        return made

    at_house(date(2026, 5, 3))
    at_house(date(2026, 5, 5), "done")
    at_house(date(2026, 5, 6), "cancelled")
    later, sooner = at_house(date(2026, 5, 20)), at_house(date(2026, 5, 4), "confirmed")
    AppointmentFactory(technician=theo, on=date(2026, 5, 4))
    assert queries.next_visit(property_id=system.property_id, on=date(2026, 5, 4)) == sooner
    assert queries.next_visit(property_id=system.property_id, on=date(2026, 5, 5)) == later
    assert queries.next_visit(property_id=system.property_id, on=date(2026, 5, 21)) is None
