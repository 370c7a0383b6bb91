"""Writes about what buyers and agents ask: take it in once, begin the transfer from it, add it to one, decline."""

from collections.abc import Mapping
from datetime import date, datetime

from django.db import transaction

from contractor.accounts.models import User
from contractor.core import audit, clock
from contractor.core.audit import Actor
from contractor.notices.actions import queue_notice, withdraw_waiting
from contractor.notices.rules.channels import dialled
from contractor.properties.actions import register_person
from contractor.properties.models import Ownership, Person
from contractor.warranties.actions.transfer_links import invite_agent, send_transfer_link
from contractor.warranties.actions.transfers import ask_transfer_to
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
from contractor.warranties.models import Certificate, Transfer, TransferLink, Warranty
from contractor.warranties.numbers import display_number
from contractor.warranties.queries import holder_of
from contractor.warranties.rules.inquiries import AHEAD, MOST_OPEN, Held, added_words, closed_because, closing_slip
from contractor.warranties.rules.wording import day_in_words

CLOSED = {"revoked": CertificateWithdrawn, "void": WarrantyIsVoid, "passed_on": PassedOnSince}
ANSWERED = "It was answered before this went out."


@transaction.atomic
def ask_about_sale(
    *,
    certificate_id: int,
    role: str,
    name: str,
    email: str,
    phone: str,
    closing_on: date | None,
    message: str,
    at: datetime,
) -> TransferInquiry:
    """Takes in that somebody who holds a certificate asks for the transfer of its warranty.

    Whoever asks again while it is open gets the same one, with what they add. The asker hears that it came, the
    present owner once while any is open that somebody asked. Raises CertificateWithdrawn, WarrantyIsVoid,
    PassedOnSince, ClosingLongAgo, ClosingYearsAhead or TooManyAsk.
    """
    certificate = Certificate.objects.get(pk=certificate_id)
    # The warranty's row is locked, so that two presses of the button make one inquiry.
    warranty = Warranty.objects.select_for_update(of=("self",)).get(pk=certificate.warranty_id)
    _refuse(certificate, warranty, closing_on, today=clock.day_of(at))
    address, number = email.strip().lower(), phone.strip()
    asker = address or dialled(number) or "".join(sign for sign in number if sign.isdigit())
    waiting = TransferInquiry.objects.select_for_update().filter(warranty=warranty, state=TransferInquiry.State.OPEN)
    known = waiting.filter(asker=asker).first()
    if known is not None:
        return _add(known, closing_on, message, at=at)
    if (others := waiting.count()) >= MOST_OPEN:
        raise TooManyAsk
    inquiry = TransferInquiry.objects.create(
        certificate=certificate,
        warranty=warranty,
        role=role,
        person=_person(name, address, number, warranty, at=at),
        asker=asker,
        closing_on=closing_on,
        message=message.strip(),
        asked_at=at,
    )
    told = {"role": inquiry.get_role_display(), "person_id": inquiry.person_id, "message": inquiry.message}
    _record(inquiry, "transfer inquired about", by=_asker(inquiry), at=at, after={**told, "closing_on": closing_on})
    _acknowledge(inquiry, at=at)
    if not others:
        _tell_owner(inquiry, at=at)
    return inquiry


@transaction.atomic
def begin_from_inquiry(
    *,
    inquiry_id: int,
    buyer: Mapping[str, str],
    known_person_id: int | None,
    closing_on: date,
    notified_on: date,
    agent: Mapping[str, str] | None,
    by_user: User,
    at: datetime,
) -> Transfer:
    """Begins the transfer that was asked for, as ``ask_transfer_to`` does. Raises InquirySettled and what that does."""
    inquiry = _open(inquiry_id)
    transfer = ask_transfer_to(
        warranty_id=inquiry.warranty_id,
        buyer=buyer,
        known_person_id=known_person_id,
        closing_on=closing_on,
        notified_on=notified_on,
        agent=agent,
        by=by_user.actor,
        at=at,
    )
    _belongs_to(inquiry, transfer, by_user=by_user, at=at)
    return transfer


@transaction.atomic
def add_to_sale(*, inquiry_id: int, by_user: User, at: datetime) -> Transfer:
    """Gives whoever asked their part in the transfer that is under way already, and sends them the link to it.

    Raises InquirySettled, NoSaleUnderWay, NoAddressToAdd or AnotherBuyer.
    """
    inquiry = _open(inquiry_id)
    transfer = inquiry.warranty.transfers.filter(state=Transfer.State.ASKED).select_related("buyer").first()
    if transfer is None:
        raise NoSaleUnderWay
    person = inquiry.person
    if not person.email:
        raise NoAddressToAdd
    if not inquiry.is_of_buyer:
        invite_agent(transfer_id=transfer.pk, name=person.name, email=person.email, by=by_user.actor, at=at)
    elif transfer.buyer.email == person.email:
        buyer = TransferLink.Role.BUYER
        send_transfer_link(transfer_id=transfer.pk, role=buyer, email=person.email, by=by_user.actor, at=at)
    else:
        raise AnotherBuyer(transfer.buyer.name)
    _belongs_to(inquiry, transfer, by_user=by_user, at=at)
    return transfer


@transaction.atomic
def decline_inquiry(*, inquiry_id: int, because: str, by_user: User, at: datetime) -> TransferInquiry:
    """Says no with a reason, which the asker reads. Raises InquirySettled or ReasonNeeded."""
    inquiry = _open(inquiry_id)
    if not because.strip():
        raise ReasonNeeded
    inquiry.because = because.strip()
    _settle(inquiry, TransferInquiry.State.DECLINED, by_user=by_user, at=at)
    if inquiry.person.email:
        _write(inquiry, inquiry.person, "declined", by=by_user.actor, at=at, asked_for=True)
    return inquiry


def _refuse(certificate: Certificate, warranty: Warranty, closing_on: date | None, *, today: date) -> None:
    held = Held(
        is_revoked=certificate.revoked_at is not None,
        is_void=warranty.voided_on is not None,
        holder_changed=holder_of(warranty).pk != certificate.issued_to_id,
    )
    closed = closed_because(held)
    if closed:
        raise CLOSED[closed]
    slip = closing_slip(closing_on, began_on=warranty.issued_on, today=today)
    if slip == "long_ago":
        raise ClosingLongAgo
    if slip == "years_ahead":
        raise ClosingYearsAhead(today + AHEAD)


def _add(inquiry: TransferInquiry, closing_on: date | None, message: str, *, at: datetime) -> TransferInquiry:
    closing = day_in_words(closing_on) if closing_on is not None and closing_on != inquiry.closing_on else ""
    words = added_words(inquiry.message, message, closing=closing, day=day_in_words(clock.day_of(at)))
    if words != inquiry.message:
        before = {"message": inquiry.message}
        inquiry.message = words
        inquiry.save(update_fields=["message"])
        after = {"message": words}
        _record(inquiry, "transfer inquired about again", by=_asker(inquiry), at=at, before=before, after=after)
    return inquiry


def _person(name: str, email: str, phone: str, warranty: Warranty, *, at: datetime) -> Person:
    """Whoever asks: somebody on record under the same name and address, else registered now."""
    known = Person.objects.filter(name__iexact=name.strip()).order_by("pk")
    known = known.filter(email=email) if email else known.filter(email="", phone=phone)
    by = Actor("asker", name.strip())
    house_id = warranty.system.property_id
    return known.first() or register_person(name=name, email=email, phone=phone, property_id=house_id, by=by, at=at)


def _asker(inquiry: TransferInquiry) -> Actor:
    return Actor(f"asker:{inquiry.person_id}", inquiry.person.name)


def _acknowledge(inquiry: TransferInquiry, *, at: datetime) -> None:
    if inquiry.person.email:
        _write(inquiry, inquiry.person, "received", by=_asker(inquiry), at=at, asked_for=True)


def _tell_owner(inquiry: TransferInquiry, *, at: datetime) -> None:
    """The present owner hears of it, unless it is they who asked."""
    owners = Ownership.objects.open_ended().filter(property_id=inquiry.warranty.system.property_id)
    present = owners.select_related("person").first()
    if present is not None and present.person_id != inquiry.person_id and present.person.email != inquiry.asker:
        _write(inquiry, present.person, "owner", by=_asker(inquiry), at=at)


def _write(
    inquiry: TransferInquiry, person: Person, what: str, *, by: Actor, at: datetime, asked_for: bool = False
) -> None:
    queue_notice(
        occasion=f"transfer inquiry:{inquiry.pk}:{what}",
        template=f"transfer_inquiry_{what}",
        person=person,
        property=inquiry.warranty.system.property,
        context={"inquiry": inquiry, "number": display_number(inquiry.certificate.number)},
        by=by,
        at=at,
        asked_for=asked_for,
    )


def _open(inquiry_id: int) -> TransferInquiry:
    TransferInquiry.objects.select_for_update().get(pk=inquiry_id)
    inquiry = TransferInquiry.objects.with_house().select_related("certificate").get(pk=inquiry_id)
    if inquiry.state != TransferInquiry.State.OPEN:
        raise InquirySettled(inquiry.get_state_display().lower())
    return inquiry


def _belongs_to(inquiry: TransferInquiry, transfer: Transfer, *, by_user: User, at: datetime) -> None:
    inquiry.transfer = transfer
    _settle(inquiry, TransferInquiry.State.BEGUN, by_user=by_user, at=at)


def _settle(inquiry: TransferInquiry, state: str, *, by_user: User, at: datetime) -> None:
    inquiry.state, inquiry.answered_at, inquiry.answered_by = state, at, by_user
    inquiry.save()
    after = {"state": inquiry.get_state_display(), "because": inquiry.because}
    _record(inquiry, "transfer inquiry answered", by=by_user.actor, at=at, after=after)
    withdraw_waiting(occasions=[f"transfer inquiry:{inquiry.pk}"], because=ANSWERED, at=at)


def _record(inquiry: TransferInquiry, verb: str, **entry: object) -> None:
    house_id = inquiry.warranty.system.property_id
    audit.record(subject=inquiry, verb=verb, property_id=house_id, **entry)  # type: ignore[arg-type]
