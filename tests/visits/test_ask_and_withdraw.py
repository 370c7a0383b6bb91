"""Asking for a visit, noting what to carry, taking the request back."""

from datetime import date, datetime
from typing import Any

import pytest
from django.db import IntegrityError, transaction

from contractor.accounts.models import User
from contractor.core import audit
from contractor.core.audit import Actor
from contractor.core.models import AuditEntry
from contractor.notices.models import Notice
from contractor.systems.models import System
from contractor.visits import queries
from contractor.visits.actions import appointments as actions
from contractor.visits.errors import AlreadyDone, NotWantedAnyMore, ReasonMissing, WindowBackwards
from contractor.visits.models import Appointment, Request
from tests.visits.factories import AppointmentFactory, RequestFactory

ASKED: dict[str, Any] = {
    "occasion": "check-up 2026",
    "kind": "checkup",
    "target_on": date(2026, 5, 14),
    "earliest_on": date(2026, 3, 15),
    "latest_on": date(2026, 7, 13),
    "minutes": 55,
    "reason": "  The yearly check-up.  ",
}


def ask(system: System, office: Actor, at: datetime, **changes: Any) -> Request:
    return actions.ask_for_visit(system_id=system.pk, by=office, at=at, **{**ASKED, **changes})


def verbs(system: System) -> list[str]:
    entries = AuditEntry.objects.filter(stream=f"property:{system.property_id}").order_by("number")
    return [entry.verb for entry in entries]


def test_a_visit_is_asked_for_and_written_into_the_trail(system: System, office: Actor, at: datetime) -> None:
    request = ask(system, office, at, carry=" A charger ")
    assert (request.reason, request.carry, request.created_at) == ("The yearly check-up.", "A charger", at)
    assert list(Request.objects.without_appointment()) == [request]
    entry = AuditEntry.objects.get(verb="visit asked for")
    assert (entry.actor, entry.subject) == (office.ref, f"request:{request.pk}")
    assert entry.body["after"]["target_on"] == "2026-05-14"
    assert audit.breaks(entry.stream) == []


def test_the_same_occasion_gives_the_same_request_and_changes_nothing(
    system: System, office: Actor, at: datetime
) -> None:
    first = ask(system, office, at)
    again = ask(system, office, at, reason="Something else", target_on=date(2026, 5, 15))
    assert again.pk == first.pk
    assert (again.reason, again.target_on) == ("The yearly check-up.", date(2026, 5, 14))
    assert verbs(system) == ["visit asked for"]


@pytest.mark.parametrize(
    "changes",
    [
        {"target_on": date(2026, 3, 14)},
        {"target_on": date(2026, 7, 14)},
        {"earliest_on": date(2026, 8, 1)},
        {"latest_on": date(2026, 3, 14)},
    ],
)
def test_days_out_of_order_are_refused_beside_the_wished_day(
    system: System, office: Actor, at: datetime, changes: dict[str, date]
) -> None:
    with pytest.raises(WindowBackwards) as refused:
        ask(system, office, at, **changes)
    assert refused.value.field == "target_on"
    assert not Request.objects.exists()


def test_a_window_of_one_day_is_a_window(system: System, office: Actor, at: datetime) -> None:
    day = date(2026, 5, 14)
    assert ask(system, office, at, earliest_on=day, latest_on=day).latest_on == day


@pytest.mark.parametrize("change", [{"target_on": date(2020, 1, 1)}, {"minutes": 0}])
def test_the_table_itself_refuses_a_window_out_of_order_and_a_visit_of_no_time(
    system: System, change: dict[str, Any]
) -> None:
    request = RequestFactory(system=system)
    with pytest.raises(IntegrityError), transaction.atomic():
        Request.objects.filter(pk=request.pk).update(**change)


def test_a_request_is_taken_back_once_and_is_wanted_no_more(system: System, office: Actor, at: datetime) -> None:
    request = RequestFactory(system=system)
    for _ in range(2):
        actions.withdraw_request(request_id=request.pk, because=" Sold ", by=office, at=at)
    request.refresh_from_db()
    assert (request.withdrawn_at, request.withdrawn_because) == (at, "Sold")
    assert not Request.objects.wanting().exists()
    assert verbs(system) == ["visit withdrawn"]
    with pytest.raises(NotWantedAnyMore, match=r"no longer wanted: Sold\. Ask for a new one"):
        queries.request_to_give(request_id=request.pk)


def test_taking_a_request_back_calls_its_appointment_off_and_promises_no_other_day(
    system: System, theo: User, office: Actor, at: datetime
) -> None:
    request = RequestFactory(system=system)
    planned = AppointmentFactory(request=request, technician=theo)
    called_off_before = AppointmentFactory(request=request, technician=theo, state="cancelled", state_because="Rain")
    actions.withdraw_request(request_id=request.pk, because="The owner had it done elsewhere.", by=office, at=at)
    planned.refresh_from_db()
    called_off_before.refresh_from_db()
    assert (planned.state, planned.state_because) == ("cancelled", "The owner had it done elsewhere.")
    assert called_off_before.state_because == "Rain"
    assert verbs(system) == ["visit withdrawn", "appointment cancelled", "notice queued"]
    notice = Notice.objects.get()
    assert "called off: The owner had it done elsewhere." in notice.text
    for text in (notice.text, notice.html):
        assert "No other visit is planned" in text
        assert "stays on our list" not in text


def test_what_was_done_is_not_taken_back(system: System, theo: User, office: Actor, at: datetime) -> None:
    request = RequestFactory(system=system)
    AppointmentFactory(request=request, technician=theo, state="done")
    with pytest.raises(AlreadyDone):
        actions.withdraw_request(request_id=request.pk, because="Mistake", by=office, at=at)
    request.refresh_from_db()
    assert request.withdrawn_at is None
    with pytest.raises(AlreadyDone):
        queries.request_to_give(request_id=request.pk)


@pytest.mark.parametrize("because", ["", "   ", "\n"])
def test_a_request_is_not_taken_back_without_a_reason(
    system: System, theo: User, office: Actor, at: datetime, because: str
) -> None:
    request = RequestFactory(system=system)
    appointment = AppointmentFactory(request=request, technician=theo)
    with pytest.raises(ReasonMissing) as refused:
        actions.withdraw_request(request_id=request.pk, because=because, by=office, at=at)
    assert refused.value.field == "because"
    assert Appointment.objects.get(pk=appointment.pk).state == "planned"
