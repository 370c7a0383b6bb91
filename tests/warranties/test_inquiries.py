"""What buyers and agents ask with a certificate: taken in once, begun in one step, added to a sale, or declined."""

from collections.abc import Callable
from datetime import date, datetime, timedelta
from typing import Any

import pytest
from django.core import mail
from django.db import IntegrityError, transaction
from django.test import Client
from django.urls import reverse

from contractor.accounts.models import User
from contractor.core import audit, clock
from contractor.core.audit import Actor
from contractor.core.models import AuditEntry
from contractor.notices.models import Notice
from contractor.notices.tasks import send_due_notices
from contractor.office.queries import todays_desk
from contractor.properties.actions import hand_over
from contractor.properties.models import Ownership, Person
from contractor.warranties.actions import certifying, inquiries, issuing
from contractor.warranties.errors import ReasonNeeded
from contractor.warranties.inquiry_errors import (
    AnotherBuyer,
    CertificateWithdrawn,
    ClosingLongAgo,
    ClosingYearsAhead,
    InquirySettled,
    NoAddressToAdd,
    NoSaleUnderWay,
    PassedOnSince,
    TooManyAsk,
    WarrantyIsVoid,
)
from contractor.warranties.inquiry_tables import TransferInquiry
from contractor.warranties.models import Certificate, Transfer, Warranty
from contractor.warranties.rules.inquiries import MOST_OPEN
from tests.factories import PersonFactory
from tests.warranties.test_transfer import ask as ask_transfer
from tests.warranties.test_transfer import complete, issue

pytestmark = pytest.mark.django_db
SignIn = Callable[[User], Client]
CLOSING = date(2026, 6, 1)


@pytest.fixture(autouse=True)
def standing_clock(monkeypatch: pytest.MonkeyPatch, on: date, at: datetime) -> None:
    monkeypatch.setattr(clock, "today", lambda: on)
    monkeypatch.setattr(clock, "now", lambda: at)


@pytest.fixture
def certificate(cared_for: Warranty, office: Actor, on: date, at: datetime) -> Certificate:
    return certifying.issue_certificate(warranty_id=cared_for.pk, on=on, by=office, at=at)


def ask(certificate: Certificate, at: datetime, **changes: Any) -> TransferInquiry:
    asked: dict[str, Any] = {
        "role": "buyer",
        "name": "Ada Lorimer",
        "email": "ada@example.com",
        "phone": "(555) 555-0177",
        "closing_on": CLOSING,
        "message": "We close on June 1.",
    }
    return inquiries.ask_about_sale(certificate_id=certificate.pk, at=at, **(asked | changes))


def told(kind: str) -> list[Notice]:
    return list(Notice.objects.filter(template=f"transfer_inquiry_{kind}").order_by("pk"))


def test_asking_begins_nothing_and_stands_on_the_desk(certificate: Certificate, on: date, at: datetime) -> None:
    inquiry = ask(certificate, at)
    assert not Transfer.objects.exists()
    assert list(todays_desk(on=on).inquiries.rows) == [inquiry]
    entry = AuditEntry.objects.get(verb="transfer inquired about")
    assert entry.stream == f"property:{inquiry.warranty.system.property_id}"
    assert entry.actor == f"asker:{inquiry.person_id}"
    # Who asked and what they wrote lie beside the chain, where they can be taken out.
    assert "We close" not in str(entry.body)
    assert "We close" in str(entry.personal)
    assert audit.breaks(entry.stream) == []


def test_the_asker_hears_that_it_came_and_nothing_about_house_or_owner(certificate: Certificate, at: datetime) -> None:
    ask(certificate, at, name="See http://example.com", email="ada@example.com")
    [note] = told("received")
    assert (note.channel, note.address) == ("email", "ada@example.com")
    for word in ("Iris", "Holloway", "Millrace", "See http", "We close"):
        assert word not in note.text + note.html + note.subject, word


def test_the_owner_hears_that_somebody_asked_and_not_who(certificate: Certificate, at: datetime) -> None:
    ask(certificate, at)
    [note] = told("owner")
    assert note.person.name == "Iris Holloway"
    assert "Are you not selling? Please tell us" in note.text
    for word in ("Ada", "Lorimer", "ada@", "0177", "June"):
        assert word not in note.text + note.html + note.subject, word


def test_an_owner_without_e_mail_gets_a_letter_without_a_link(
    certificate: Certificate, iris: Person, at: datetime
) -> None:
    iris.email = ""
    iris.save()
    ask(certificate, at)
    [note] = told("owner")
    assert note.channel == Notice.Channel.LETTER
    assert "personal-link" not in note.text + note.html
    assert "on your page" not in note.text


def test_the_owner_who_asks_for_themself_is_not_warned_of_themself(
    certificate: Certificate, iris: Person, at: datetime
) -> None:
    ask(certificate, at, role="sellers_agent", name="I. Holloway", email="Iris@example.com ")
    assert told("owner") == []


def test_the_owner_hears_it_once_while_any_is_open(
    certificate: Certificate, nora: User, at: datetime
) -> None:
    first = ask(certificate, at)
    second = ask(certificate, at, name="Bea Agent", email="bea@example.com", role="buyers_agent")
    assert len(told("owner")) == 1
    for inquiry in (first, second):
        inquiries.decline_inquiry(inquiry_id=inquiry.pk, because="Not for sale.", by_user=nora, at=at)
    ask(certificate, at)
    assert len(told("owner")) == 2


@pytest.mark.parametrize(
    "again",
    [
        {},
        {"email": " ADA@example.com"},
        {"name": "A. Lorimer", "phone": ""},
        {"role": "buyers_agent"},
        {"message": "", "closing_on": None},
    ],
)
def test_the_same_asker_is_never_doubled_while_open(
    again: dict[str, Any], certificate: Certificate, at: datetime
) -> None:
    first = ask(certificate, at)
    assert ask(certificate, at + timedelta(days=1), **again) == first
    assert TransferInquiry.objects.get().message == "We close on June 1."
    assert (len(told("received")), len(told("owner"))) == (1, 1)


def test_a_telephone_number_is_the_same_however_it_is_written(certificate: Certificate, at: datetime) -> None:
    first = ask(certificate, at, email="")
    assert ask(certificate, at, email="", phone="1 555 555 0177") == first
    assert told("received") == []


def test_a_newer_certificate_of_the_same_owner_does_not_double_it(
    certificate: Certificate, office: Actor, on: date, at: datetime
) -> None:
    first = ask(certificate, at)
    newer = certifying.issue_certificate(warranty_id=certificate.warranty_id, on=on, by=office, at=at)
    assert ask(newer, at) == first


def test_what_is_new_when_asked_again_is_put_under_the_first_words(certificate: Certificate, at: datetime) -> None:
    ask(certificate, at)
    inquiry = ask(certificate, at + timedelta(days=1), closing_on=date(2026, 6, 15), message="It moved.")
    assert inquiry.message == "We close on June 1.\n\nOn May 5, 2026: Closing day June 15, 2026. It moved."
    # Whoever types the same address changes no day behind the back of who asked first.
    assert inquiry.closing_on == CLOSING


def test_the_database_too_lets_no_second_open_one_in(certificate: Certificate, at: datetime) -> None:
    first = ask(certificate, at)
    first.pk = None
    with pytest.raises(IntegrityError), transaction.atomic():
        first.save()


def test_somebody_on_record_is_not_registered_twice(certificate: Certificate, at: datetime) -> None:
    known = PersonFactory(name="Ada Lorimer", email="ada@example.com")
    assert ask(certificate, at).person == known
    assert ask(certificate, at, name="Bea", email="bea@example.com").person.name == "Bea"


def test_a_revoked_certificate_asks_for_nothing(certificate: Certificate, at: datetime) -> None:
    certificate.revoked_at, certificate.revoked_because = at, "Wrong."
    certificate.save()
    with pytest.raises(CertificateWithdrawn, match="was revoked"):
        ask(certificate, at)


def test_a_void_warranty_has_nothing_to_transfer(
    certificate: Certificate, ruth: User, on: date, at: datetime
) -> None:
    issuing.void_warranty(
        warranty_id=certificate.warranty_id, voided_on=on, clause="7", because="Cut.", by_user=ruth, at=at
    )
    with pytest.raises(WarrantyIsVoid, match="is void"):
        ask(certificate, at)


def test_after_a_sale_the_sellers_paper_asks_for_nothing_and_the_buyers_does(
    certificate: Certificate, buyer: Person, theo: User, office: Actor, on: date, at: datetime
) -> None:
    sale = ask_transfer(certificate.warranty, buyer, office, at)
    complete(sale, theo, office, at)
    new = issue(sale, office, at, on)
    with pytest.raises(PassedOnSince, match="passed to a later owner"):
        ask(certificate, at)
    assert ask(new, at).certificate == new


def test_a_buyer_who_owns_the_house_already_can_still_ask_for_the_warranty_left_behind(
    certificate: Certificate, ownership: Ownership, office: Actor, at: datetime
) -> None:
    ada = PersonFactory(name="Ada Lorimer", email="ada@example.com")
    hand_over(property_id=ownership.property_id, person_id=ada.pk, on=date(2026, 5, 1), by=office, at=at)
    ask(certificate, at, closing_on=date(2026, 5, 1))
    assert told("owner") == []  # she is the owner


def test_a_closing_day_that_is_a_slip_is_asked_again(certificate: Certificate, at: datetime) -> None:
    with pytest.raises(ClosingLongAgo):
        ask(certificate, at, closing_on=date(2016, 6, 1))
    with pytest.raises(ClosingYearsAhead, match="after May 5, 2027"):
        ask(certificate, at, closing_on=date(2062, 6, 1))
    assert not TransferInquiry.objects.exists()


def test_no_crowd_can_be_written_to_with_one_certificate(certificate: Certificate, at: datetime) -> None:
    for number in range(MOST_OPEN):
        ask(certificate, at, email=f"n{number}@example.com")
    with pytest.raises(TooManyAsk, match="Call us"):
        ask(certificate, at, email="one-more@example.com")
    # Who is in already still is.
    assert ask(certificate, at, email="n0@example.com").asker == "n0@example.com"


def begin(inquiry: TransferInquiry, nora: User, at: datetime, **changes: Any) -> Transfer:
    sale: dict[str, Any] = {
        "buyer": {"name": "Ada Lorimer", "email": "ada@example.com"},
        "known_person_id": inquiry.person_id,
        "closing_on": CLOSING,
        "notified_on": date(2026, 5, 4),
        "agent": None,
    }
    return inquiries.begin_from_inquiry(inquiry_id=inquiry.pk, by_user=nora, at=at, **(sale | changes))


def test_the_office_begins_the_transfer_from_it(certificate: Certificate, nora: User, on: date, at: datetime) -> None:
    inquiry = ask(certificate, at)
    letter = told("owner")[0]
    Notice.objects.filter(pk=letter.pk).update(state="queued", sent_at=None)
    transfer = begin(inquiry, nora, at)
    inquiry.refresh_from_db()
    assert (inquiry.state, inquiry.transfer, inquiry.answered_by) == ("begun", transfer, nora)
    assert transfer.buyer == inquiry.person
    assert todays_desk(on=on).inquiries.total == 0
    # "Are you selling?" makes no sense beside "the transfer is open".
    letter.refresh_from_db()
    assert letter.state == "withdrawn"
    assert Notice.objects.filter(template="transfer_asked_buyer", person=inquiry.person).count() == 1
    with pytest.raises(InquirySettled, match="begun"):
        begin(inquiry, nora, at)
    with pytest.raises(InquirySettled):
        inquiries.decline_inquiry(inquiry_id=inquiry.pk, because="No.", by_user=nora, at=at)


def test_whoever_is_answered_may_ask_anew(certificate: Certificate, nora: User, at: datetime) -> None:
    first = ask(certificate, at)
    inquiries.decline_inquiry(inquiry_id=first.pk, because="Not for sale.", by_user=nora, at=at)
    assert ask(certificate, at) != first


def test_declining_tells_the_asker_why(certificate: Certificate, nora: User, at: datetime) -> None:
    inquiry = ask(certificate, at)
    with pytest.raises(ReasonNeeded):
        inquiries.decline_inquiry(inquiry_id=inquiry.pk, because="  ", by_user=nora, at=at)
    inquiries.decline_inquiry(inquiry_id=inquiry.pk, because="The owner does not sell.", by_user=nora, at=at)
    [note] = told("declined")
    assert note.address == "ada@example.com"
    assert "The owner does not sell." in note.text
    assert "Millrace" not in note.text + note.subject
    with pytest.raises(InquirySettled, match="declined"):
        inquiries.decline_inquiry(inquiry_id=inquiry.pk, because="No.", by_user=nora, at=at)


def test_an_agent_is_added_to_the_sale_under_way(
    certificate: Certificate, buyer: Person, nora: User, office: Actor, at: datetime
) -> None:
    inquiry = ask(certificate, at, role="closing", name="Larkmere Closings", email="desk@example.com")
    with pytest.raises(NoSaleUnderWay):
        inquiries.add_to_sale(inquiry_id=inquiry.pk, by_user=nora, at=at)
    sale = ask_transfer(certificate.warranty, buyer, office, at)
    assert inquiries.add_to_sale(inquiry_id=inquiry.pk, by_user=nora, at=at) == sale
    assert sale.links.filter(role="agent", email="desk@example.com").exists()
    inquiry.refresh_from_db()
    assert (inquiry.state, inquiry.transfer) == ("begun", sale)


def test_the_buyer_of_the_sale_under_way_gets_their_link_and_another_buyer_none(
    certificate: Certificate, buyer: Person, nora: User, office: Actor, at: datetime
) -> None:
    ask_transfer(certificate.warranty, buyer, office, at)
    his = ask(certificate, at, name="Ben Okafor", email="ben@example.com")
    other = ask(certificate, at)
    inquiries.add_to_sale(inquiry_id=his.pk, by_user=nora, at=at)
    assert Notice.objects.filter(template="transfer_link", person=buyer).count() == 1
    with pytest.raises(AnotherBuyer, match="is to Ben Okafor"):
        inquiries.add_to_sale(inquiry_id=other.pk, by_user=nora, at=at)


def test_nobody_without_an_address_is_added(
    certificate: Certificate, buyer: Person, nora: User, office: Actor, at: datetime
) -> None:
    ask_transfer(certificate.warranty, buyer, office, at)
    inquiry = ask(certificate, at, role="closing", email="")
    with pytest.raises(NoAddressToAdd):
        inquiries.add_to_sale(inquiry_id=inquiry.pk, by_user=nora, at=at)


@pytest.fixture
def desk(nora: User, signed_in_as: SignIn) -> Client:
    return signed_in_as(nora)


def page_of(inquiry: TransferInquiry) -> str:
    return reverse("warranties:inquiry", args=[inquiry.pk])


def test_one_press_begins_it_with_the_asker_as_the_buyer(certificate: Certificate, desk: Client, at: datetime) -> None:
    inquiry = ask(certificate, at)
    form = desk.get(page_of(inquiry)).context["form"]
    typed = {name: form[name].value() or "" for name in form.fields if name != "known_person"}
    answer = desk.post(page_of(inquiry), {**typed, "closing_on": "2026-06-01", "notified_on": "2026-05-04"})
    transfer = Transfer.objects.get()
    assert answer["Location"] == reverse("warranties:transfer", args=[transfer.pk])
    assert (transfer.buyer, transfer.closing_on, transfer.notified_on) == (inquiry.person, CLOSING, date(2026, 5, 4))
    assert "Ada Lorimer" in desk.get(answer["Location"]).content.decode()


def test_an_agent_is_filled_in_as_the_agent_and_the_buyer_is_asked_for(
    certificate: Certificate, desk: Client, at: datetime
) -> None:
    inquiry = ask(certificate, at, role="buyers_agent")
    form = desk.get(page_of(inquiry)).context["form"]
    assert (form["agent_name"].value(), form["agent_email"].value()) == ("Ada Lorimer", "ada@example.com")
    assert not form["name"].value()
    answer = desk.post(
        page_of(inquiry),
        {
            "name": "Ben Okafor",
            "closing_on": "2026-06-01",
            "notified_on": "2026-05-04",
            "agent_name": "Ada Lorimer",
            "agent_email": "ada@example.com",
        },
    )
    assert answer.status_code == 302
    assert Transfer.objects.get().links.filter(role="agent", email="ada@example.com").exists()


def test_what_the_rules_refuse_stands_beside_the_field_and_nothing_typed_is_lost(
    certificate: Certificate, desk: Client, at: datetime
) -> None:
    inquiry = ask(certificate, at)
    typed = {"name": "Ada Lorimer", "email": "ada@example.com", "closing_on": "2016-06-01", "notified_on": "2026-05-04"}
    shown = desk.post(page_of(inquiry), typed).content.decode()
    assert "The closing can&#x27;t be before" in shown
    assert 'value="2016-06-01"' in shown
    assert not Transfer.objects.exists()


def test_with_a_sale_under_way_the_page_offers_to_add_and_not_to_begin(
    certificate: Certificate, buyer: Person, desk: Client, office: Actor, at: datetime
) -> None:
    inquiry = ask(certificate, at)
    sale = ask_transfer(certificate.warranty, buyer, office, at)
    shown = desk.get(page_of(inquiry)).content.decode()
    assert "Add them to this sale" in shown
    assert "Begin this transfer" not in shown
    refused = desk.post(reverse("warranties:add_inquiry_to_sale", args=[inquiry.pk]))
    assert refused.status_code == 409
    assert "The transfer under way is to Ben Okafor" in refused.content.decode()
    agent = ask(certificate, at, role="sellers_agent", name="Bea", email="bea@example.com")
    added = desk.post(reverse("warranties:add_inquiry_to_sale", args=[agent.pk]))
    assert added["Location"] == reverse("warranties:transfer", args=[sale.pk])


def test_declining_from_the_page(certificate: Certificate, desk: Client, at: datetime) -> None:
    inquiry = ask(certificate, at, email="")
    address = reverse("warranties:decline_inquiry", args=[inquiry.pk])
    assert "you tell them at (555) 555-0177" in desk.get(address).content.decode()
    shown = desk.post(address, {"because": "The owner does not sell."}, follow=True).content.decode()
    assert "Call (555) 555-0177" in shown
    assert "The owner does not sell." in shown
    assert "This was answered already" in desk.post(address, {"because": "Again."}).content.decode()


def test_lists_and_the_warranty_lead_to_it(certificate: Certificate, desk: Client, at: datetime) -> None:
    inquiry = ask(certificate, at)
    transfers_list, link = reverse("warranties:transfers"), f'href="{page_of(inquiry)}"'
    new = reverse("warranties:ask_transfer", args=[certificate.warranty_id])
    for address in (reverse("office:today"), transfers_list, f"{transfers_list}?state=inquiries", new):
        assert link in desk.get(address).content.decode(), address
    assert "asked for by a buyer" in desk.get(reverse("office:today")).content.decode()
    assert link not in desk.get(f"{transfers_list}?state=issued").content.decode()


INQUIRY_QUERIES, INQUIRIES_QUERIES = 6, 5


def test_the_pages_stand_in_a_fixed_number_of_queries(
    certificate: Certificate, desk: Client, at: datetime, django_assert_num_queries: Any
) -> None:
    inquiry = ask(certificate, at)
    listed = f"{reverse('warranties:transfers')}?state=inquiries"
    with django_assert_num_queries(INQUIRY_QUERIES):
        desk.get(page_of(inquiry))
    with django_assert_num_queries(INQUIRIES_QUERIES):
        desk.get(listed)
    for number in range(3):
        ask(certificate, at, email=f"n{number}@example.com")
    with django_assert_num_queries(INQUIRIES_QUERIES):
        desk.get(listed)


def test_the_letters_go_out(certificate: Certificate, nora: User, at: datetime) -> None:
    ask(certificate, at)
    send_due_notices()
    assert sorted(message.to[0] for message in mail.outbox) == ["ada@example.com", "iris@example.com"]
    [to_owner] = [message for message in mail.outbox if message.to == ["iris@example.com"]]
    assert "/home/link/" in to_owner.body
