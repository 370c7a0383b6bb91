"""Check-ups are asked for ahead of time, once, and owners hear of it when their window opens."""

from datetime import date, datetime, timedelta

import pytest

from contractor.accounts.models import User
from contractor.core.audit import Actor
from contractor.notices.models import Notice
from contractor.properties.actions import hand_over
from contractor.properties.models import Person
from contractor.visits.actions.appointments import give_to_technician, withdraw_request
from contractor.visits.models import Appointment, Request
from contractor.warranties.actions import care, issuing
from contractor.warranties.models import Warranty
from tests.warranties.factories import checkup_done, outside_record

pytestmark = pytest.mark.django_db
# The warranty is due on May 14, 2026; its window opens 60 days before and the grace runs through June 13.
DUE = date(2026, 5, 14)
OPENS = DUE - timedelta(days=60)
LAST_OF_GRACE = date(2026, 6, 13)
TEN_WEEKS_BEFORE = DUE - timedelta(weeks=10)


def asked(warranty: Warranty) -> list[Request]:
    return list(Request.objects.wanting().filter(occasion__contains=f":{warranty.pk}:").order_by("pk"))


def letters() -> list[str]:
    return list(Notice.objects.filter(template="checkup_due").order_by("pk").values_list("person__name", flat=True))


def test_a_check_up_is_asked_for_ten_weeks_ahead_with_the_window_of_its_terms(
    cared_for: Warranty, at: datetime
) -> None:
    care.raise_due_requests(on=TEN_WEEKS_BEFORE - timedelta(days=1), at=at)
    assert asked(cared_for) == []
    assert care.raise_due_requests(on=TEN_WEEKS_BEFORE, at=at) == 1
    [request] = asked(cared_for)
    assert request.occasion == f"checkup:{cared_for.pk}:2026-05-14"
    assert (request.kind, request.earliest_on, request.target_on, request.latest_on) == (
        "checkup",
        OPENS,
        DUE,
        LAST_OF_GRACE,
    )
    # Twenty minutes at the door, and each of the seven parts its own (the table of visits, common practice).
    assert request.minutes == 75
    assert "May 14, 2026" in request.reason


def test_running_again_asks_for_nothing_twice(cared_for: Warranty, at: datetime) -> None:
    for day in (TEN_WEEKS_BEFORE, OPENS, OPENS, DUE, LAST_OF_GRACE):
        care.raise_due_requests(on=day, at=at)
    assert len(asked(cared_for)) == 1
    assert letters() == ["Iris Holloway"]


def test_the_owner_hears_of_it_when_the_window_opens_and_not_before(cared_for: Warranty, at: datetime) -> None:
    care.raise_due_requests(on=OPENS - timedelta(days=1), at=at)
    assert letters() == []
    care.raise_due_requests(on=OPENS, at=at)
    notice = Notice.objects.get(template="checkup_due")
    assert notice.person.name == "Iris Holloway"
    assert "by May 14, 2026" in notice.subject
    assert "any other qualified provider" in notice.text
    assert "$145.00" in notice.text


def test_an_owner_with_an_appointment_gets_no_letter_to_make_one(
    cared_for: Warranty, theo: User, office: Actor, at: datetime
) -> None:
    care.raise_due_requests(on=TEN_WEEKS_BEFORE, at=at)
    [request] = asked(cared_for)
    give_to_technician(request_id=request.pk, technician_id=theo.pk, on=date(2026, 5, 20), by=office, at=at)
    care.raise_due_requests(on=OPENS, at=at)
    assert letters() == []


def test_after_a_sale_the_buyer_hears_and_the_seller_does_not_again(
    cared_for: Warranty, buyer: Person, office: Actor, at: datetime
) -> None:
    care.raise_due_requests(on=OPENS, at=at)
    hand_over(property_id=cared_for.system.property_id, person_id=buyer.pk, on=date(2026, 4, 1), by=office, at=at)
    care.raise_due_requests(on=date(2026, 4, 2), at=at)
    care.raise_due_requests(on=date(2026, 4, 3), at=at)
    assert letters() == ["Iris Holloway", "Ben Okafor"]


def test_a_request_is_taken_back_when_the_check_up_was_done_otherwise(cared_for: Warranty, at: datetime) -> None:
    care.raise_due_requests(on=OPENS, at=at)
    outside_record(cared_for.system, date(2026, 4, 1))
    care.raise_due_requests(on=date(2026, 4, 2), at=at)
    assert asked(cared_for) == []
    withdrawn = Request.objects.get(occasion=f"checkup:{cared_for.pk}:2026-05-14")
    assert withdrawn.withdrawn_because == care.MOVED_ON


def test_a_request_that_was_taken_back_by_itself_comes_again_when_it_is_wanted_again(
    cared_for: Warranty, at: datetime
) -> None:
    care.raise_due_requests(on=OPENS, at=at)
    record = outside_record(cared_for.system, date(2026, 4, 1))
    care.raise_due_requests(on=date(2026, 4, 2), at=at)
    record.accepted = False
    record.save()
    care.raise_due_requests(on=date(2026, 4, 3), at=at)
    [request] = asked(cared_for)
    assert request.occasion == f"checkup:{cared_for.pk}:2026-05-14#2"


def test_a_request_that_the_office_took_back_stays_back(cared_for: Warranty, office: Actor, at: datetime) -> None:
    care.raise_due_requests(on=OPENS, at=at)
    [request] = asked(cared_for)
    withdraw_request(request_id=request.pk, because="The owner wants no visit this year.", by=office, at=at)
    care.raise_due_requests(on=OPENS + timedelta(days=1), at=at)
    assert asked(cared_for) == []


def test_a_done_check_up_that_found_something_bad_is_not_asked_for_again_in_its_window(
    cared_for: Warranty, theo: User, at: datetime
) -> None:
    care.raise_due_requests(on=OPENS, at=at)
    [request] = asked(cared_for)
    Appointment.objects.create(
        request=request, technician=theo, on=date(2026, 4, 1), stop_number=1, state="done", made_at=at
    )
    checkup_done(cared_for.system, date(2026, 4, 1), theo, finding="bad")
    care.raise_due_requests(on=date(2026, 4, 2), at=at)
    assert asked(cared_for) == []
    assert Request.objects.filter(occasion__startswith=f"checkup:{cared_for.pk}:").count() == 1


def test_after_the_grace_a_reinstatement_check_takes_the_place_of_the_check_up(
    cared_for: Warranty, at: datetime
) -> None:
    care.raise_due_requests(on=LAST_OF_GRACE, at=at)
    assert [request.kind for request in asked(cared_for)] == ["checkup"]
    care.raise_due_requests(on=LAST_OF_GRACE + timedelta(days=1), at=at)
    care.raise_due_requests(on=LAST_OF_GRACE + timedelta(days=2), at=at)
    [request] = asked(cared_for)
    assert request.kind == "reinstatement"
    assert request.occasion == f"reinstatement:{cared_for.pk}:2026-05-14"
    assert request.earliest_on == LAST_OF_GRACE + timedelta(days=1)
    assert "the grace ended on June 13, 2026" in request.reason


def test_after_the_grace_a_check_up_that_does_not_count_yet_is_named_as_the_reason(
    cared_for: Warranty, theo: User, at: datetime
) -> None:
    checkup_done(cared_for.system, date(2026, 5, 20), theo, finding="bad")
    care.raise_due_requests(on=LAST_OF_GRACE + timedelta(days=1), at=at)
    [request] = asked(cared_for)
    assert "The check-up done on May 20, 2026 does not count yet" in request.reason


def test_a_planned_check_up_is_left_alone_when_it_comes_after_the_grace(
    cared_for: Warranty, theo: User, office: Actor, at: datetime
) -> None:
    care.raise_due_requests(on=OPENS, at=at)
    [request] = asked(cared_for)
    give_to_technician(request_id=request.pk, technician_id=theo.pk, on=date(2026, 6, 20), by=office, at=at)
    care.raise_due_requests(on=date(2026, 6, 15), at=at)
    assert asked(cared_for) == [request]


def test_nothing_is_asked_for_under_a_void_warranty(cared_for: Warranty, ruth: User, at: datetime) -> None:
    care.raise_due_requests(on=OPENS, at=at)
    issuing.void_warranty(
        warranty_id=cared_for.pk,
        voided_on=date(2026, 5, 1),
        clause="Misuse",
        because="Torn out.",
        by_user=ruth,
        at=at,
    )
    care.raise_due_requests(on=date(2026, 5, 2), at=at)
    assert asked(cared_for) == []


def test_nothing_is_asked_for_on_days_that_are_waived(cared_for: Warranty, ruth: User, at: datetime) -> None:
    issuing.waive_care(
        warranty_id=cared_for.pk,
        from_on=date(2026, 3, 1),
        until_on=date(2026, 8, 1),
        because="The road was washed out.",
        by_user=ruth,
        at=at,
    )
    care.raise_due_requests(on=OPENS, at=at)
    assert asked(cared_for) == []
    assert letters() == []
