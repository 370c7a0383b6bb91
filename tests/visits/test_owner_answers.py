"""What owners do by the link in a message: yes, another day, a wish, a call, off; each refusal with its sentence."""

from collections.abc import Callable
from datetime import date, datetime, time, timedelta
from typing import Any

import pytest
from django.core import mail

from contractor.accounts.models import Company, User
from contractor.core.audit import Actor
from contractor.core.models import AuditEntry
from contractor.notices.actions import send_notice, withdraw_stale_letters
from contractor.notices.errors import NobodyToWriteTo
from contractor.notices.models import Notice
from contractor.properties.actions import hand_over
from contractor.properties.models import Ownership, Person, Property
from contractor.systems.models import System
from contractor.visits import days_offered as days_offered_module
from contractor.visits.actions import appointments, owner_answers
from contractor.visits.actions.owner_answers import make_visit_link, token_sha256
from contractor.visits.actions.telling import remind_of_visits, say_on_the_way
from contractor.visits.actions.working_days import set_working_pattern
from contractor.visits.days_offered import days_offered
from contractor.visits.errors import (
    DayGone,
    NobodyOwnsIt,
    NotLive,
    NotToday,
    ReasonMissing,
    VisitChanged,
    WishEmpty,
)
from contractor.visits.models import Appointment, Request
from contractor.visits.owner_tables import OwnerWish, VisitLink
from contractor.visits.routing.offers import Offer
from contractor.visits.routing.problem import seconds_after_midnight
from tests.factories import OwnershipFactory, PropertyFactory, SystemFactory
from tests.visits.factories import AppointmentFactory, RequestFactory

DAY = date(2026, 5, 12)  # a Tuesday
QUERIES = 12
SHOWN = (DAY, time(8), time(10))


@pytest.fixture(autouse=True)
def at_work(company: Company, theo: User, office: Actor, at: datetime) -> None:
    """The yard is in Larkmere, and Theo works from eight to four, Monday to Friday."""
    company.latitude, company.longitude = 40.91, -77.28
    company.save()
    hours = dict.fromkeys(range(5), (time(8), time(16)))
    set_working_pattern(technician_id=theo.pk, valid_from=date(2026, 1, 5), hours=hours, by=office, at=at)


@pytest.fixture
def house(house: Property) -> Property:
    house.latitude, house.longitude, house.position_source = 40.95, -77.22, "by_hand"
    house.save()
    return house


@pytest.fixture
def appointment(system: System, theo: User) -> Appointment:
    made: Appointment = AppointmentFactory(
        request=RequestFactory(system=system, target_on=date(2026, 5, 14)),
        technician=theo,
        on=DAY,
        arrive_from=time(8),
        arrive_until=time(10),
    )
    return made


@pytest.fixture
def link(appointment: Appointment, ownership: Ownership, at: datetime) -> VisitLink:
    token = make_visit_link(appointment=appointment, ownership=ownership, at=at)
    return VisitLink.objects.select_related("ownership__person").get(token_sha256=token_sha256(token))


def test_a_yes_is_noted_once_and_told_to_the_owners_calendar(
    link: VisitLink, appointment: Appointment, at: datetime
) -> None:
    for _ in range(2):
        owner_answers.say_yes(link=link, shown=SHOWN, at=at)
    assert send_notice(notice_id=Notice.objects.get().pk, at=at)
    assert Appointment.objects.get().state == "confirmed"
    entry = AuditEntry.objects.get(verb="appointment confirmed")
    assert entry.actor == f"owner:{link.ownership.person_id}"
    (sent,) = mail.outbox
    (part,) = [part for part in sent.message().walk() if part.get_content_type() == "text/calendar"]
    body = part.get_payload(decode=True).decode()
    assert part.get_param("method") == "REQUEST"
    assert "METHOD:REQUEST\r\n" in body
    assert "STATUS:CONFIRMED\r\n" in body
    assert "SEQUENCE:1\r\n" in body


def test_nobody_says_yes_to_a_day_that_the_page_did_not_show(
    link: VisitLink, appointment: Appointment, office: Actor, at: datetime
) -> None:
    appointments.move_appointment(
        appointment_id=appointment.pk, technician_id=appointment.technician_id, on=DAY, by=office, at=at,
        arrive_from=time(13), arrive_until=time(15),
    )  # fmt: skip
    with pytest.raises(VisitChanged):
        owner_answers.say_yes(link=link, shown=SHOWN, at=at)
    assert Appointment.objects.get().state == "planned"


def answers(link: VisitLink, at: datetime) -> list[Callable[[], object]]:
    return [
        lambda: owner_answers.say_yes(link=link, shown=SHOWN, at=at),
        lambda: owner_answers.choose_day(link=link, day=date(2026, 5, 14), at=at),
        lambda: owner_answers.wish(link=link, kind="telephone", words="", at=at),
        lambda: owner_answers.call_off(link=link, because="Away", at=at),
    ]


@pytest.mark.parametrize("state", ["cancelled", "done", "could_not"])
def test_what_is_over_takes_no_answer(link: VisitLink, at: datetime, state: str) -> None:
    Appointment.objects.update(state=state)
    for answer in answers(link, at):
        with pytest.raises(NotLive):
            answer()
    assert not OwnerWish.objects.exists()


def test_a_day_that_is_past_takes_no_answer(link: VisitLink, at: datetime) -> None:
    for answer in answers(link, at + timedelta(days=9)):
        with pytest.raises(NotLive):
            answer()


def test_the_days_offered_are_close_to_the_day_that_the_visit_has(appointment: Appointment, on: date) -> None:
    # Its own best day is weeks ahead; the office gave it this one.
    Request.objects.update(target_on=DAY + timedelta(days=20), latest_on=DAY + timedelta(days=40))
    appointment.refresh_from_db()
    offered = days_offered(appointment, on=on)
    assert len(offered) == 5
    assert all(abs(day.on - DAY) <= timedelta(days=7) for day in offered)


def test_a_day_is_offered_with_hours_around_the_time_at_which_the_work_would_begin(
    appointment: Appointment, on: date, monkeypatch: pytest.MonkeyPatch
) -> None:
    def found(*_: object, **__: object) -> list[Offer]:
        after = DAY + timedelta(days=1)
        starts = {after: time(8, 5), after + timedelta(days=1): time(10, 5)}
        return [
            Offer(
                technician=str(appointment.technician_id),
                day=day,
                start=seconds_after_midnight(start),
                end=seconds_after_midnight(start) + 3600,
                added_driving_minutes=5.0,
            )
            for day, start in starts.items()
        ]

    monkeypatch.setattr(days_offered_module, "offers", found)
    # Theo sets out at eight.
    assert [(day.arrive_from, day.arrive_until) for day in days_offered(appointment, on=on)] == [
        (time(8), time(10)),
        (time(9, 30), time(11, 30)),
    ]


def test_the_days_offered_fit_the_rounds_and_one_that_is_chosen_is_settled(
    link: VisitLink, appointment: Appointment, on: date, at: datetime
) -> None:
    offered = days_offered(appointment, on=on)
    assert 1 <= len(offered) <= 5
    assert DAY not in {day.on for day in offered}
    assert all(day.on.weekday() < 5 and day.on >= date(2026, 5, 6) for day in offered)
    chosen = offered[0]
    moved = owner_answers.choose_day(link=link, day=chosen.on, at=at)
    assert (moved.on, moved.arrive_from, moved.state) == (chosen.on, chosen.arrive_from, "confirmed")
    notice = Notice.objects.get()
    assert notice.template == "appointment_moved"
    assert "Thank you for choosing another day" in notice.text


def test_of_two_owners_who_choose_the_same_room_one_gets_it_and_the_other_a_sentence_and_other_days(
    link: VisitLink, appointment: Appointment, theo: User, office: Actor, on: date, at: datetime
) -> None:
    """Theo has room for one visit of seven hours a day."""
    Request.objects.update(minutes=400)
    other_house = PropertyFactory(latitude=40.96, longitude=-77.23, position_source="by_hand")
    other_owner = OwnershipFactory(property=other_house)
    other = AppointmentFactory(
        request=RequestFactory(system=SystemFactory(property=other_house), minutes=400, target_on=date(2026, 5, 14)),
        technician=theo, on=date(2026, 5, 11), arrive_from=time(8), arrive_until=time(10),
    )  # fmt: skip
    make_visit_link(appointment=other, ownership=other_owner, at=at)
    other_link = VisitLink.objects.select_related("ownership__person").get(ownership=other_owner)
    appointment.refresh_from_db()
    same = {day.on for day in days_offered(Appointment.objects.get(pk=appointment.pk), on=on)} & {
        day.on for day in days_offered(Appointment.objects.get(pk=other.pk), on=on)
    }
    wanted = min(same)
    owner_answers.choose_day(link=link, day=wanted, at=at)
    with pytest.raises(DayGone, match="was taken by somebody else"):
        owner_answers.choose_day(link=other_link, day=wanted, at=at)
    other.refresh_from_db()
    assert (other.on, other.state) == (date(2026, 5, 11), "planned")
    left = {day.on for day in days_offered(Appointment.objects.get(pk=other.pk), on=on)}
    assert left
    assert wanted not in left


def test_full_rounds_offer_nothing(appointment: Appointment, on: date) -> None:
    Request.objects.update(minutes=500)
    assert days_offered(Appointment.objects.get(), on=on) == ()


def test_the_days_stand_in_twelve_queries_whatever_the_rounds_hold(
    appointment: Appointment, theo: User, on: date, django_assert_num_queries: Any
) -> None:
    stop = Appointment.objects.select_related("request__system__property").get()
    with django_assert_num_queries(QUERIES):
        days_offered(stop, on=on)
    for number in range(3):
        AppointmentFactory(technician=theo, on=date(2026, 5, 13), stop_number=number + 1)
    with django_assert_num_queries(QUERIES):
        days_offered(stop, on=on)


def test_a_wish_waits_in_sight_of_the_office_until_somebody_has_dealt_with_it(
    link: VisitLink, office: Actor, at: datetime
) -> None:
    first = owner_answers.wish(link=link, kind="other_day", words=" A Friday ", at=at)
    again = owner_answers.wish(link=link, kind="other_day", words="Not in June", at=at)
    owner_answers.wish(link=link, kind="other_day", words="Not in June", at=at)
    assert again.pk == first.pk
    assert OwnerWish.objects.get().words == "A Friday\nNot in June"
    for _ in range(2):
        owner_answers.settle_wish(wish_id=first.pk, by=office, at=at)
    assert OwnerWish.objects.get().settled_at == at
    assert AuditEntry.objects.filter(verb="owner's wish dealt with").count() == 1
    owner_answers.wish(link=link, kind="telephone", words="", at=at)
    assert OwnerWish.objects.filter(settled_at=None).get().kind == "telephone"


def test_a_wish_for_another_day_names_one(link: VisitLink, at: datetime) -> None:
    with pytest.raises(WishEmpty):
        owner_answers.wish(link=link, kind="other_day", words="  ", at=at)


def test_called_off_by_the_owner_the_visit_goes_back_among_what_waits(link: VisitLink, at: datetime) -> None:
    with pytest.raises(ReasonMissing):
        owner_answers.call_off(link=link, because=" ", at=at)
    owner_answers.call_off(link=link, because="We are away.", at=at)
    assert Request.objects.without_appointment().count() == 1
    assert OwnerWish.objects.get().kind == "called_off"
    notice = Notice.objects.get()
    assert notice.template == "appointment_called_off"
    assert "You wrote: We are away." in notice.text


def test_no_message_about_a_visit_goes_to_anybody_but_the_present_owner_when_it_is_sent(
    appointment: Appointment, house: Property, iris: Person, buyer: Person, office: Actor, at: datetime
) -> None:
    moved = {"technician_id": appointment.technician_id, "on": date(2026, 5, 13), "by": office}
    appointments.move_appointment(appointment_id=appointment.pk, at=at, **moved)
    notice = Notice.objects.get()
    hand_over(property_id=house.pk, person_id=buyer.pk, on=date(2026, 5, 4), by=office, at=at)
    Notice.objects.update(state="queued")
    assert send_notice(notice_id=notice.pk, at=at) is False
    notice.refresh_from_db()
    assert (notice.state, notice.last_error) == ("withdrawn", "Its reader doesn't own the house any more.")
    assert mail.outbox == []
    # A letter is not printed either.
    Notice.objects.update(state="queued", channel="letter")
    assert withdraw_stale_letters(at=at) == 1


def test_what_is_overtaken_before_it_went_out_is_withdrawn(
    appointment: Appointment, office: Actor, at: datetime
) -> None:
    appointments.move_appointment(
        appointment_id=appointment.pk, technician_id=appointment.technician_id, on=date(2026, 5, 13), by=office, at=at
    )
    appointments.cancel_appointment(appointment_id=appointment.pk, because="Ill", by=office, at=at)
    states = dict(Notice.objects.values_list("template", "state"))
    assert states == {"appointment_moved": "withdrawn", "appointment_cancelled": "queued"}


def test_a_reminder_goes_two_days_before_once_and_never_by_letter(
    appointment: Appointment, iris: Person, at: datetime
) -> None:
    two_days_before = at + timedelta(days=6)
    assert remind_of_visits(at=at) == 0
    assert remind_of_visits(at=two_days_before) == 1
    remind_of_visits(at=two_days_before + timedelta(hours=1))
    assert Notice.objects.filter(template="visit_reminder").count() == 1
    Notice.objects.all().delete()
    iris.wants_email = False
    iris.save()
    assert remind_of_visits(at=two_days_before) == 0


def test_who_was_told_in_the_last_three_days_is_not_reminded(
    appointment: Appointment, office: Actor, at: datetime
) -> None:
    yesterday = at + timedelta(days=5)
    appointments.move_appointment(
        appointment_id=appointment.pk, technician_id=appointment.technician_id, on=DAY, by=office, at=yesterday
    )
    assert remind_of_visits(at=at + timedelta(days=6)) == 0


def test_on_the_way_is_said_once_on_the_day_itself(appointment: Appointment, office: Actor, at: datetime) -> None:
    that_day = at + timedelta(days=8)
    with pytest.raises(NotToday, match="Tuesday, May 12, 2026"):
        say_on_the_way(appointment_id=appointment.pk, by=office, at=at)
    first = say_on_the_way(appointment_id=appointment.pk, by=office, at=that_day)
    assert say_on_the_way(appointment_id=appointment.pk, by=office, at=that_day) == first
    assert first.not_after == that_day + timedelta(hours=2)
    assert send_notice(notice_id=first.pk, at=that_day + timedelta(hours=3)) is False
    assert Notice.objects.get().last_error == "It would have come too late to be of use."


def test_on_the_way_is_refused_when_there_is_nobody_to_tell_or_nothing_to_come_for(
    appointment: Appointment, ownership: Ownership, iris: Person, office: Actor, at: datetime
) -> None:
    that_day = at + timedelta(days=8)
    iris.email = ""
    iris.save()
    with pytest.raises(NobodyToWriteTo, match="Telephone instead"):
        say_on_the_way(appointment_id=appointment.pk, by=office, at=that_day)
    Ownership.objects.update(until_on=date(2026, 5, 1))
    with pytest.raises(NobodyOwnsIt):
        say_on_the_way(appointment_id=appointment.pk, by=office, at=that_day)
    Appointment.objects.update(state="cancelled")
    with pytest.raises(NotLive):
        say_on_the_way(appointment_id=appointment.pk, by=office, at=that_day)
