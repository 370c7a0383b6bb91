"""A closing day that moves: deadlines, visit and messages follow, the links stay, and a settled sale refuses."""

from collections.abc import Callable
from datetime import date, datetime, timedelta

import pytest
from django.core.files.base import ContentFile
from django.test import Client
from django.urls import reverse

from contractor.accounts.models import User
from contractor.core import clock
from contractor.core.audit import SYSTEM, Actor
from contractor.core.models import AuditEntry
from contractor.notices.models import Notice
from contractor.properties.actions import hand_over
from contractor.properties.models import Person
from contractor.visits.actions.appointments import give_to_technician, mark_done
from contractor.visits.models import Appointment, Request
from contractor.warranties.actions import transfer_links, transfer_messages, transfers
from contractor.warranties.actions.closing import change_closing
from contractor.warranties.errors import (
    ClosingOfRecord,
    ClosingSame,
    ClosingTooEarly,
    ClosingTooFar,
    TransferSettled,
)
from contractor.warranties.models import Acceptance, Transfer, TransferLink, Warranty
from contractor.warranties.queries import transfer_needs
from contractor.warranties.rules.moved_closing import TakenLine, acceptance_stands
from tests.warranties.factories import checkup_done
from tests.warranties.test_transfer import ask, issue, pay_and_accept

pytestmark = pytest.mark.django_db
CLOSING = date(2026, 6, 1)
LATER = date(2026, 6, 12)


@pytest.fixture
def sale(cared_for: Warranty, buyer: Person, office: Actor, at: datetime) -> Transfer:
    """Closing on Monday, June 1, 2026; a check-up, the fee and the buyer's word are missing; an agent looks on."""
    transfer = ask(cared_for, buyer, office, at, closing_on=CLOSING)
    transfer_links.invite_agent(transfer_id=transfer.pk, name="Ada Lorimer", email="ada@example.com", by=office, at=at)
    return transfer


def move(sale: Transfer, day: date, office: Actor, at: datetime) -> Transfer:
    return change_closing(transfer_id=sale.pk, closing_on=day, by=office, at=at + timedelta(hours=1))


def wanted() -> Request:
    return Request.objects.wanting().get(kind="transfer")


# The rule: accepted last day and new one; whether the buyer's word still stands.
LIFE = None
STANDS = [
    ("nothing changes", (True, date(2031, 5, 14)), (True, date(2031, 5, 14)), True),
    ("it lasts longer", (True, date(2046, 6, 1)), (True, date(2046, 6, 12)), True),
    ("it ends sooner", (True, date(2046, 6, 12)), (True, date(2046, 6, 1)), False),
    ("it is over by then", (True, date(2026, 6, 5)), (False, date(2026, 6, 5)), False),
    ("it was over before", (False, date(2026, 5, 1)), (False, date(2026, 5, 1)), True),
    ("it was over, and is in force on an earlier day", (False, date(2026, 5, 1)), (True, date(2026, 5, 1)), True),
    ("a life stays a life", (True, LIFE), (True, LIFE), True),
    ("a life becomes a day", (True, LIFE), (True, date(2046, 6, 1)), False),
    ("a day becomes a life", (True, date(2046, 6, 1)), (True, LIFE), True),
]


@pytest.mark.parametrize(("why", "accepted", "now", "stands"), STANDS, ids=[row[0] for row in STANDS])
def test_an_acceptance_stands_unless_something_accepted_would_end_sooner(
    why: str, accepted: tuple[bool, date | None], now: tuple[bool, date | None], stands: bool
) -> None:
    lines = [[TakenLine(is_covered=one[0], through_on=one[1])] for one in (accepted, now)]
    assert acceptance_stands(*lines) is stands


def test_every_last_day_is_reckoned_from_the_new_day(sale: Transfer, office: Actor, at: datetime) -> None:
    # 30 days after June 1 is Wednesday, July 1; after June 12 Sunday, July 12, so Monday, July 13.
    before = {need.code: need.by_on for need in transfer_needs(sale)}
    assert (before["told_in_time"], before["checkup"]) == (date(2026, 7, 1), date(2026, 8, 31))
    moved = move(sale, LATER, office, at)
    after = {need.code: need.by_on for need in transfer_needs(moved)}
    # 90 days after June 12 is Thursday, September 10.
    assert (after["told_in_time"], after["checkup"]) == (date(2026, 7, 13), date(2026, 9, 10))
    sale.refresh_from_db()
    assert sale.closing_on == LATER
    entry = AuditEntry.objects.get(verb="closing day moved")
    assert (entry.body["before"], entry.body["after"]) == ({"closing_on": "2026-06-01"}, {"closing_on": "2026-06-12"})


def test_telling_us_late_becomes_telling_us_in_time(
    cared_for: Warranty, buyer: Person, office: Actor, on: date, at: datetime
) -> None:
    late = transfers.ask_transfer(
        warranty_id=cared_for.pk, buyer_id=buyer.pk, closing_on=date(2026, 3, 2), notified_on=on, by=office, at=at
    )
    assert {need.code for need in transfer_needs(late) if not need.met} >= {"told_in_time"}
    moved = move(late, date(2026, 5, 4), office, at)
    assert "told_in_time" not in {need.code for need in transfer_needs(moved) if not need.met}


def test_everybody_concerned_is_told_both_days_and_nobody_about_the_others(
    sale: Transfer, office: Actor, at: datetime
) -> None:
    move(sale, LATER, office, at)
    told = {notice.person.name: notice for notice in Notice.objects.filter(template="transfer_moved")}
    assert set(told) == {"Iris Holloway", "Ben Okafor", "Ada Lorimer"}
    for notice in told.values():
        assert "from June 1, 2026 to Friday, June 12, 2026" in notice.text
        assert "June 12, 2026" in notice.subject
    assert "Okafor" not in told["Ada Lorimer"].text
    assert "Holloway" not in told["Ben Okafor"].text
    assert "Read the document and accept it" in told["Ben Okafor"].text


def test_links_stay_and_each_message_has_one_of_its_own(sale: Transfer, office: Actor, at: datetime) -> None:
    token = transfer_links.make_transfer_link(
        transfer_id=sale.pk, role="buyer", name="Ben Okafor", email="ben@example.com", by=SYSTEM, at=at
    )
    move(sale, LATER, office, at)
    opened = transfer_links.open_transfer_link(token=token, at=at + timedelta(days=2))
    assert opened is not None
    assert opened.transfer.closing_on == LATER
    assert not TransferLink.objects.filter(transfer=sale, revoked_at__isnull=False).exists()


def test_what_still_waits_with_the_old_day_is_withdrawn(
    cared_for: Warranty, buyer: Person, office: Actor, at: datetime
) -> None:
    for person in (buyer, cared_for.issued_to.person):
        person.wants_email, person.mail_address = False, "PO Box 4\nLarkmere, PA 17099"
        person.save()
    sale = ask(cared_for, buyer, office, at, closing_on=CLOSING)
    assert set(Notice.objects.values_list("channel", "state")) == {("letter", "queued")}
    move(sale, LATER, office, at)
    old = Notice.objects.filter(text__contains="June 1, 2026").exclude(template="transfer_moved")
    assert set(old.values_list("state", flat=True)) == {"withdrawn"}
    assert Notice.objects.filter(template="transfer_moved", state="queued").count() == 2
    move(sale, date(2026, 6, 15), office, at + timedelta(minutes=1))
    assert Notice.objects.filter(template="transfer_moved", state="queued").count() == 2
    assert Notice.objects.filter(template="transfer_moved", state="withdrawn").count() == 2


def test_the_letters_of_another_sale_wait_on(sale: Transfer, office: Actor, at: datetime, buyer: Person) -> None:
    other = Notice.objects.create(
        occasion=f"transfer asked:{sale.pk}1",
        template="transfer_asked",
        channel="letter",
        person=buyer,
        subject="Another sale",
        text="Another sale",
        queued_at=at,
        not_before=at,
    )
    move(sale, LATER, office, at)
    other.refresh_from_db()
    assert other.state == "queued"


def test_a_reminder_of_the_new_day_is_an_occasion_of_its_own(sale: Transfer, office: Actor, at: datetime) -> None:
    def remind(on: date) -> int:
        before = Notice.objects.count()
        transfer_messages.remind_of_transfers(on=on, at=datetime.fromisoformat(f"{on}T14:00:00+00:00"))
        return Notice.objects.count() - before

    assert remind(date(2026, 5, 20)) == 2
    move(sale, date(2026, 6, 30), office, at)
    assert remind(date(2026, 5, 21)) == 0
    assert remind(date(2026, 6, 18)) == 2


# The check-up for the sale.


def test_the_visit_gets_the_new_days_and_keeps_an_appointment_that_still_fits(
    sale: Transfer, theo: User, office: Actor, at: datetime
) -> None:
    visit = wanted()
    appointment = give_to_technician(
        request_id=visit.pk, technician_id=theo.pk, on=date(2026, 5, 20), by=office, at=at
    )
    move(sale, LATER, office, at)
    visit.refresh_from_db()
    appointment.refresh_from_db()
    assert (visit.target_on, visit.latest_on) == (date(2026, 6, 5), date(2026, 9, 10))
    assert "closing on June 12, 2026" in visit.reason
    assert appointment.state == Appointment.State.PLANNED
    assert not Notice.objects.filter(template="appointment_cancelled").exists()


def test_an_appointment_outside_the_new_days_is_called_off_and_the_visit_stays_on_the_list(
    sale: Transfer, theo: User, office: Actor, at: datetime
) -> None:
    appointment = give_to_technician(
        request_id=wanted().pk, technician_id=theo.pk, on=date(2026, 5, 20), by=office, at=at
    )
    # 90 days before December 1 is September 2: May is too early for that closing.
    move(sale, date(2026, 12, 1), office, at)
    appointment.refresh_from_db()
    assert appointment.state == Appointment.State.CANCELLED
    assert wanted().earliest_on == date(2026, 9, 2)
    told = Notice.objects.get(template="appointment_cancelled")
    assert "The closing of the sale has moved to December 1, 2026." in told.text


def test_a_visit_that_is_not_needed_any_more_is_called_off_and_asked_for_again_when_it_is(
    cared_for: Warranty, buyer: Person, theo: User, office: Actor, at: datetime
) -> None:
    checkup_done(cared_for.system, date(2026, 2, 10), theo)
    sale = ask(cared_for, buyer, office, at, closing_on=CLOSING)
    first = wanted()
    # From February 10 to May 8 are 87 days.
    move(sale, date(2026, 5, 8), office, at)
    assert not Request.objects.wanting().exists()
    move(sale, CLOSING, office, at + timedelta(minutes=1))
    again = wanted()
    assert again.pk != first.pk
    assert again.occasion == f"{first.occasion}:2"
    transfers.withdraw_transfer(transfer_id=sale.pk, because="Off.", by=office, at=at)
    assert not Request.objects.wanting().exists()


def test_a_check_that_was_done_for_the_sale_is_asked_for_again_when_it_is_too_old(
    sale: Transfer, theo: User, office: Actor, on: date, at: datetime
) -> None:
    given = give_to_technician(request_id=wanted().pk, technician_id=theo.pk, on=on, by=office, at=at)
    mark_done(appointment_id=given.pk, by=theo.actor, at=at)
    checkup_done(sale.warranty.system, on, theo, kind="transfer")
    move(sale, date(2026, 11, 20), office, at)
    # 90 days before November 20 is August 22.
    assert wanted().earliest_on == date(2026, 8, 22)


def test_what_a_manager_let_go_stays_let_go(sale: Transfer, ruth: User, office: Actor, at: datetime) -> None:
    transfers.waive_requirement(transfer_id=sale.pk, code="checkup", because="Empty house.", by_user=ruth, at=at)
    moved = move(sale, LATER, office, at)
    assert moved.waived["checkup"]["because"] == "Empty house."
    assert not Request.objects.wanting().exists()


# The buyer's word.


@pytest.fixture
def accepted(sale: Transfer, office: Actor, at: datetime) -> Transfer:
    """The buyer signed a paper that lists what they would take over on June 1."""
    transfers.accept_transfer(transfer_id=sale.pk, accepted_on=date(2026, 5, 4), name="Ben Okafor", by=office, at=at)
    paper = Acceptance(transfer=sale, way="paper", name="Ben Okafor", shown_sha256="0" * 64, accepted_at=at)
    paper.shown.save("paper.pdf", ContentFile(b"%PDF-"), save=False)
    paper.save()
    return sale


def test_an_acceptance_stays_when_nothing_in_it_gets_worse(accepted: Transfer, office: Actor, at: datetime) -> None:
    moved = move(accepted, LATER, office, at)
    assert moved.accepted_on == date(2026, 5, 4)
    assert Acceptance.objects.filter(transfer=accepted).exists()
    assert "accept it" not in Notice.objects.get(template="transfer_moved", person=accepted.buyer).text


def test_an_acceptance_of_more_than_there_is_now_is_set_aside_and_the_buyer_told(
    accepted: Transfer, office: Actor, at: datetime
) -> None:
    # The channel's promise becomes 240 months from the transfer: counted from an earlier day it ends sooner.
    moved = move(accepted, date(2026, 5, 25), office, at)
    assert (moved.accepted_on, moved.accepted_name) == (None, "")
    assert not Acceptance.objects.filter(transfer=accepted).exists()
    told = Notice.objects.get(template="transfer_moved", person=accepted.buyer)
    assert "your acceptance is set aside" in told.text
    assert "set aside" not in Notice.objects.get(template="transfer_moved", person=accepted.seller.person).text
    entry = AuditEntry.objects.get(verb="acceptance set aside")
    assert "would end sooner" in entry.body["after"]["because"]


# Refused.


def test_a_sale_that_is_issued_is_not_moved(
    sale: Transfer, theo: User, office: Actor, on: date, at: datetime
) -> None:
    checkup_done(sale.warranty.system, date(2026, 4, 25), theo)
    move(sale, date(2026, 5, 2), office, at)
    pay_and_accept(sale, office, at)
    issue(sale, office, at, on)
    with pytest.raises(TransferSettled, match="This transfer is issued"):
        move(sale, LATER, office, at)
    sale.refresh_from_db()
    assert sale.closing_on == date(2026, 5, 2)


def test_a_sale_that_was_called_off_is_not_moved(sale: Transfer, office: Actor, at: datetime) -> None:
    transfers.withdraw_transfer(transfer_id=sale.pk, because="Off.", by=office, at=at)
    with pytest.raises(TransferSettled, match="withdrawn"):
        move(sale, LATER, office, at)


@pytest.mark.parametrize(
    ("day", "refusal", "words"),
    [
        (CLOSING, ClosingSame, "on June 1, 2026 already"),
        (date(2020, 5, 13), ClosingTooEarly, "can't be before"),
        (date(2027, 6, 1), ClosingTooFar, "more than a year away"),
    ],
)
def test_a_day_that_cannot_be_is_refused_and_nothing_is_told(
    sale: Transfer, office: Actor, at: datetime, day: date, refusal: type[Exception], words: str
) -> None:
    with pytest.raises(refusal, match=words):
        move(sale, day, office, at)
    assert not Notice.objects.filter(template="transfer_moved").exists()


def test_once_the_record_says_when_the_house_changed_hands_only_that_day_is_taken(
    sale: Transfer, office: Actor, at: datetime
) -> None:
    hand_over(property_id=sale.seller.property_id, person_id=sale.buyer_id, on=date(2026, 5, 3), by=office, at=at)
    with pytest.raises(ClosingOfRecord, match="On record the house changed hands on May 3, 2026"):
        move(sale, LATER, office, at)
    moved = move(sale, date(2026, 5, 3), office, at)
    assert {need.code: need.met for need in transfer_needs(moved)}["seller"]
    # The seller of a house that is handed over hears no more of it.
    assert not Notice.objects.filter(template="transfer_moved", person=sale.seller.person).exists()


# The pages.


@pytest.fixture
def standing_clock(monkeypatch: pytest.MonkeyPatch, on: date, at: datetime) -> None:
    monkeypatch.setattr(clock, "today", lambda: on)
    monkeypatch.setattr(clock, "now", lambda: at)


def test_the_desk_moves_it_and_says_when_the_buyer_has_to_accept_again(
    accepted: Transfer, nora: User, signed_in_as: Callable[[User], Client], standing_clock: None
) -> None:
    desk, page = signed_in_as(nora), reverse("warranties:move_closing", args=[accepted.pk])
    assert page in desk.get(reverse("warranties:transfer", args=[accepted.pk])).content.decode()
    assert "Monday, June 1, 2026" in desk.get(page).content.decode()
    refused = desk.post(page, {"closing_on": "2026-06-01"}).content.decode()
    assert "on June 1, 2026 already" in refused
    assert 'value="2026-06-01"' in refused
    done = desk.post(page, {"closing_on": "2026-05-25"}, follow=True).content.decode()
    assert "The buyer has to accept again" in done
    transfers.withdraw_transfer(transfer_id=accepted.pk, because="Off.", by=SYSTEM, at=clock.now())
    assert desk.get(page).status_code == 302
    assert "This transfer is withdrawn" in desk.post(page, {"closing_on": "2026-06-08"}).content.decode()


def test_the_seller_moves_it_on_their_own_page(sale: Transfer, at: datetime, standing_clock: None) -> None:
    token = transfer_links.make_transfer_link(
        transfer_id=sale.pk, role="seller", name="Iris Holloway", email="iris@example.com", by=SYSTEM, at=at
    )
    browser = Client()
    browser.post(reverse("portal:transfer_link", args=[token]))
    page = reverse("portal:seller_moves_closing", args=[sale.pk])
    assert page in browser.get(reverse("portal:transfer_seller", args=[sale.pk])).content.decode()
    assert "more than a year away" in browser.post(page, {"closing_on": "2028-06-01"}).content.decode()
    done = browser.post(page, {"closing_on": "2026-06-12"}, follow=True).content.decode()
    assert "Everybody in the sale hears of it from us." in done
    sale.refresh_from_db()
    assert sale.closing_on == LATER
    entry = AuditEntry.objects.get(verb="closing day moved")
    assert entry.actor == f"owner:{sale.seller.person_id}"
