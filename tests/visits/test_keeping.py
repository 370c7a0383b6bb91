"""A request is kept true while what asks for it changes: once, moved, taken back, never lost and never doubled."""

from dataclasses import replace
from datetime import date, datetime, timedelta

import pytest

from contractor.accounts.models import User
from contractor.core.audit import Actor
from contractor.core.models import AuditEntry
from contractor.systems.models import System
from contractor.visits.actions.appointments import cancel_appointment, withdraw_request
from contractor.visits.actions.keeping import NOT_NEEDED, Wanted, keep_asking, stop_asking
from contractor.visits.models import Request
from contractor.visits.queries import raised_before
from tests.visits.factories import AppointmentFactory, RequestFactory


@pytest.fixture
def wanted(system: System, on: date) -> Wanted:
    return Wanted(
        occasion="replace:7",
        system_id=system.pk,
        kind="repair",
        earliest_on=on,
        target_on=on + timedelta(days=10),
        latest_on=on + timedelta(days=30),
        minutes=40,
        reason="The battery should be replaced.",
        carry="battery",
        skills=("batteries",),
    )


def keep(wanted: Wanted, on: date, at: datetime) -> Request | None:
    earlier = raised_before(prefix="replace:", systems=[wanted.system_id]).get(wanted.occasion, [])
    return keep_asking(wanted=wanted, earlier=earlier, on=on, at=at)


def stop(wanted: Wanted, on: date, at: datetime) -> None:
    earlier = raised_before(prefix="replace:", systems=[wanted.system_id]).get(wanted.occasion, [])
    stop_asking(earlier=earlier, because="it was replaced.", on=on, at=at)


def test_the_same_wish_twice_is_one_request_and_one_entry(wanted: Wanted, on: date, at: datetime) -> None:
    first = keep(wanted, on, at)
    assert keep(wanted, on, at) == first
    assert AuditEntry.objects.count() == 1


def test_a_wish_for_other_days_moves_the_request(wanted: Wanted, on: date, at: datetime) -> None:
    keep(wanted, on, at)
    keep(replace(wanted, target_on=on, carry="battery (12-100)"), on, at)
    request = Request.objects.get()
    assert (request.target_on, request.carry) == (on, "battery (12-100)")
    assert AuditEntry.objects.order_by("-number").first().verb == "visit asked for otherwise"  # type: ignore[union-attr]


def test_it_joins_a_check_up_and_parts_from_it_when_the_days_no_longer_meet(
    system: System, wanted: Wanted, on: date, at: datetime
) -> None:
    checkup = RequestFactory(system=system, earliest_on=on + timedelta(days=20), target_on=on + timedelta(days=40))
    request = keep(wanted, on, at)
    assert request is not None
    assert request.goes_with == checkup
    keep(replace(wanted, latest_on=on + timedelta(days=15)), on, at)
    request.refresh_from_db()
    assert request.goes_with is None
    keep(wanted, on, at)
    request.refresh_from_db()
    assert request.goes_with == checkup


def test_what_is_given_out_keeps_its_trip_when_its_days_move(
    wanted: Wanted, system: System, theo: User, on: date, at: datetime
) -> None:
    request = keep(wanted, on, at)
    AppointmentFactory(request=request, technician=theo, on=on + timedelta(days=5))
    RequestFactory(system=system)
    keep(replace(wanted, target_on=on + timedelta(days=3)), on, at)
    assert Request.objects.get(occasion=wanted.occasion).goes_with is None


def test_it_is_not_lost_when_its_appointment_is_called_off(
    wanted: Wanted, theo: User, office: Actor, on: date, at: datetime
) -> None:
    visit = AppointmentFactory(request=keep(wanted, on, at), technician=theo, on=on + timedelta(days=5))
    cancel_appointment(appointment_id=visit.pk, because="Storm", by=office, at=at)
    assert list(Request.objects.without_appointment()) == [visit.request]
    assert keep(wanted, on, at) == visit.request


def test_it_is_taken_back_once_it_is_settled_and_asked_for_anew_when_it_comes_back(
    wanted: Wanted, on: date, at: datetime
) -> None:
    keep(wanted, on, at)
    stop(wanted, on, at)
    stop(wanted, on, at)
    assert Request.objects.get().withdrawn_because == f"{NOT_NEEDED} it was replaced."
    keep(wanted, on, at)
    assert list(Request.objects.wanting().values_list("occasion", flat=True)) == ["replace:7#2"]


def test_what_a_person_took_back_is_not_asked_for_again(
    wanted: Wanted, office: Actor, on: date, at: datetime
) -> None:
    request = keep(wanted, on, at)
    assert request is not None
    withdraw_request(request_id=request.pk, because="The owner sells the house.", by=office, at=at)
    assert keep(wanted, on, at) is None
    assert not Request.objects.wanting().exists()


def test_settled_while_somebody_is_there_for_it_means_done(
    wanted: Wanted, theo: User, on: date, at: datetime
) -> None:
    visit = AppointmentFactory(request=keep(wanted, on, at), technician=theo, on=on)
    stop(wanted, on, at)
    visit.refresh_from_db()
    assert (visit.state, visit.request.withdrawn_at) == ("done", None)


def test_settled_before_somebody_comes_calls_the_appointment_off(
    wanted: Wanted, theo: User, on: date, at: datetime
) -> None:
    visit = AppointmentFactory(request=keep(wanted, on, at), technician=theo, on=on + timedelta(days=2))
    stop(wanted, on, at)
    visit.refresh_from_db()
    assert visit.state == "cancelled"


def test_done_but_still_asked_for_is_asked_anew_the_day_after(
    wanted: Wanted, theo: User, on: date, at: datetime
) -> None:
    AppointmentFactory(request=keep(wanted, on, at), technician=theo, on=on, state="done")
    assert keep(wanted, on, at) is None
    assert keep(wanted, on + timedelta(days=1), at) is not None
    assert Request.objects.count() == 2


def test_done_along_with_another_visit_counts_too(
    system: System, wanted: Wanted, theo: User, on: date, at: datetime
) -> None:
    checkup = RequestFactory(system=system)
    request = keep(wanted, on, at)
    assert request is not None
    assert request.goes_with == checkup
    AppointmentFactory(request=checkup, technician=theo, on=on, state="done")
    assert keep(wanted, on, at) is None
