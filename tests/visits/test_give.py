"""Giving a visit to a technician and a day."""

from datetime import UTC, date, datetime, time

import pytest
from django.core import mail
from django.db import IntegrityError, transaction

from contractor.accounts.models import User
from contractor.core.audit import Actor
from contractor.core.models import AuditEntry
from contractor.notices.actions import send_notice
from contractor.notices.models import Notice
from contractor.properties.models import Ownership, Person
from contractor.systems.models import System
from contractor.visits.actions import appointments as actions
from contractor.visits.errors import AlreadyDone, AlreadyGiven, DayIsPast, NotATechnician, NotWantedAnyMore
from contractor.visits.models import Appointment, Request
from tests.factories import UserFactory
from tests.visits.factories import AppointmentFactory, RequestFactory

DAY = date(2026, 5, 12)


@pytest.fixture
def visit(system: System) -> Request:
    request: Request = RequestFactory(system=system)
    return request


def test_a_visit_is_given_out_written_into_the_trail_and_the_owner_is_told(
    visit: Request,
    theo: User,
    nora: User,
    at: datetime,
) -> None:
    appointment = actions.give_to_technician(
        request_id=visit.pk,
        technician_id=theo.pk,
        on=DAY,
        arrive_from=time(8, 30),
        arrive_until=time(10),
        made_by=nora,
        by=nora.actor,
        at=at,
    )
    assert (appointment.state, appointment.stop_number, appointment.made_by, appointment.made_at) == (
        "planned",
        1,
        nora,
        at,
    )
    assert not Request.objects.without_appointment().exists()
    assert Request.objects.wanting().exists()
    entry = AuditEntry.objects.get(verb="appointment made")
    assert entry.body["after"]["on"] == "2026-05-12"
    notice = Notice.objects.get()
    assert notice.occasion == f"appointment:{appointment.pk}:set"
    assert send_notice(notice_id=notice.pk, at=at)
    (message,) = mail.outbox
    assert message.to == ["iris@example.com"]
    # A calendar of 2026: May 12 is a Tuesday.
    assert message.subject == "Yearly check-up at 12 Millrace Lane on Tuesday, May 12, 2026: does it suit you?"
    assert "May Theo Marsh come to 12 Millrace Lane" in message.body
    assert "between 8:30 AM and 10:00 AM" in message.body


def test_an_owner_without_e_mail_gets_a_letter(
    visit: Request, theo: User, iris: Person, office: Actor, at: datetime
) -> None:
    iris.email = ""
    iris.save()
    actions.give_to_technician(request_id=visit.pk, technician_id=theo.pk, on=DAY, by=office, at=at)
    notice = Notice.objects.get()
    assert (notice.channel, notice.state, notice.address) == ("letter", "queued", "")


def test_a_house_whose_owner_is_not_known_has_nobody_to_tell(theo: User, office: Actor, at: datetime) -> None:
    visit = RequestFactory()
    actions.give_to_technician(request_id=visit.pk, technician_id=theo.pk, on=DAY, by=office, at=at)
    assert not Notice.objects.exists()


def test_after_a_sale_only_the_buyer_is_told(
    visit: Request, ownership: Ownership, buyer: Person, theo: User, office: Actor, at: datetime
) -> None:
    ownership.until_on = date(2026, 5, 1)
    ownership.save()
    Ownership.objects.create(property=ownership.property, person=buyer, from_on=date(2026, 5, 1))
    actions.give_to_technician(request_id=visit.pk, technician_id=theo.pk, on=DAY, by=office, at=at)
    assert [notice.person for notice in Notice.objects.all()] == [buyer]


def test_it_becomes_the_last_stop_of_that_technicians_day(
    visit: Request, theo: User, office: Actor, at: datetime
) -> None:
    AppointmentFactory(technician=theo, on=DAY, stop_number=4)
    AppointmentFactory(technician=theo, on=DAY, stop_number=9, state="cancelled")
    AppointmentFactory(technician=theo, on=date(2026, 5, 13), stop_number=7)
    AppointmentFactory(on=DAY, stop_number=8)
    appointment = actions.give_to_technician(request_id=visit.pk, technician_id=theo.pk, on=DAY, by=office, at=at)
    assert appointment.stop_number == 5


def test_only_an_active_technician_can_be_sent(visit: Request, nora: User, office: Actor, at: datetime) -> None:
    gone = UserFactory(role="technician", is_active=False)
    for nobody in (nora.pk, gone.pk, 999_999):
        with pytest.raises(NotATechnician) as refused:
            actions.give_to_technician(request_id=visit.pk, technician_id=nobody, on=DAY, by=office, at=at)
        assert refused.value.field == "technician"
    assert not Appointment.objects.exists()


@pytest.mark.parametrize(
    ("moment", "on", "is_past"),
    [
        # New York is four hours behind UTC in May.
        (datetime(2026, 5, 12, 14, 0, tzinfo=UTC), date(2026, 5, 12), False),
        (datetime(2026, 5, 12, 14, 0, tzinfo=UTC), date(2026, 5, 11), True),
        (datetime(2026, 5, 13, 3, 59, tzinfo=UTC), date(2026, 5, 12), False),
        (datetime(2026, 5, 13, 4, 0, tzinfo=UTC), date(2026, 5, 12), True),
    ],
)
def test_a_day_is_past_by_the_companys_own_calendar(
    visit: Request, theo: User, office: Actor, moment: datetime, on: date, is_past: bool
) -> None:
    def give() -> Appointment:
        return actions.give_to_technician(request_id=visit.pk, technician_id=theo.pk, on=on, by=office, at=moment)

    if is_past:
        with pytest.raises(DayIsPast, match=r"is past\. Choose today or a later day") as refused:
            give()
        assert refused.value.field == "on"
    else:
        assert give().on == on


def test_a_withdrawn_visit_is_not_given_out(visit: Request, theo: User, office: Actor, at: datetime) -> None:
    actions.withdraw_request(request_id=visit.pk, because="Sold.", by=office, at=at)
    with pytest.raises(NotWantedAnyMore, match=r"no longer wanted: Sold\. Ask"):
        actions.give_to_technician(request_id=visit.pk, technician_id=theo.pk, on=DAY, by=office, at=at)


@pytest.mark.parametrize("state", ["planned", "confirmed"])
def test_a_visit_is_given_to_one_technician_only(
    visit: Request, theo: User, office: Actor, at: datetime, state: str
) -> None:
    AppointmentFactory(request=visit, technician=theo, on=DAY, state=state)
    other = UserFactory(role="technician")
    with pytest.raises(AlreadyGiven, match="given to Theo Marsh on Tuesday, May 12, 2026 already"):
        actions.give_to_technician(request_id=visit.pk, technician_id=other.pk, on=DAY, by=office, at=at)
    assert Appointment.objects.count() == 1


def test_a_visit_that_was_done_is_not_given_out_again(visit: Request, theo: User, office: Actor, at: datetime) -> None:
    AppointmentFactory(request=visit, technician=theo, state="done")
    with pytest.raises(AlreadyDone):
        actions.give_to_technician(request_id=visit.pk, technician_id=theo.pk, on=DAY, by=office, at=at)


@pytest.mark.parametrize("state", ["planned", "confirmed", "done"])
def test_the_table_itself_holds_one_live_appointment_per_request(visit: Request, theo: User, state: str) -> None:
    AppointmentFactory(request=visit, technician=theo, state=state)
    AppointmentFactory(request=visit, technician=theo, state="cancelled")
    AppointmentFactory(request=visit, technician=theo, state="could_not")
    with pytest.raises(IntegrityError), transaction.atomic():
        AppointmentFactory(request=visit, technician=theo, state="planned")
    assert Appointment.objects.live().count() == 1


def test_the_table_itself_refuses_hours_out_of_order(visit: Request, theo: User) -> None:
    with pytest.raises(IntegrityError), transaction.atomic():
        AppointmentFactory(request=visit, technician=theo, arrive_from=time(10), arrive_until=time(9))
    with pytest.raises(IntegrityError), transaction.atomic():
        AppointmentFactory(request=visit, technician=theo, arrive_from=time(10), arrive_until=time(10))
