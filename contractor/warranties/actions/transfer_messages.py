"""What seller, buyer and agent are told at each step of a sale: once per occasion, nobody about the other."""

from collections.abc import Mapping
from datetime import date, datetime
from typing import Any

from django.db import transaction

from contractor.core import clock
from contractor.core.audit import SYSTEM, Actor
from contractor.notices.actions import queue_notice, withdraw_for_former_owners, withdraw_waiting
from contractor.properties.models import Person
from contractor.warranties.actions.transfer_links import invite
from contractor.warranties.models import Certificate, Transfer
from contractor.warranties.numbers import display_number
from contractor.warranties.printed_codes import display_warranty_number
from contractor.warranties.queries import terms_of, transfer_lacks
from contractor.warranties.rules.transfer_steps import Role, reminder_due, whose_turn
from contractor.warranties.transfer_people import is_reached, people_of
from contractor.warranties.transfer_words import missing_for

WENT_ON = "The sale went on before this went out."


def tell_asked(transfer: Transfer, *, by: Actor, at: datetime) -> None:
    """The sale is opened: seller and buyer hear what is missing, each with a link to their own part."""
    if transfer.seller.until_on is None:
        _tell(transfer, "seller", "transfer_asked", f"asked:{transfer.pk}", by=by, at=at)
    _tell(transfer, "buyer", "transfer_asked_buyer", f"asked:{transfer.pk}:buyer", by=by, at=at)


def tell_accepted(transfer: Transfer, *, by: Actor, at: datetime) -> None:
    """The buyer accepted: the buyer gets the copy to keep, the seller hears that it is done.

    An acceptance that follows one that was set aside is an occasion of its own.
    """
    occasion = f"accepted:{transfer.pk}:{at.isoformat(timespec='seconds')}"
    _tell(transfer, "buyer", "transfer_accepted_buyer", f"{occasion}:buyer", by=by, at=at)
    _tell(transfer, "seller", "transfer_accepted_seller", f"{occasion}:seller", by=by, at=at)


def tell_moved(transfer: Transfer, *, before_on: date, accept_again: bool, by: Actor, at: datetime) -> None:
    """The closing day has moved: everybody hears the new one; what still waits with the old one is withdrawn."""
    withdraw_open(transfer, at=at)
    occasion = f"moved:{transfer.pk}:{at.isoformat(timespec='seconds')}"
    words = {"before_on": before_on, "accept_again": accept_again}
    for role, person in people_of(transfer):
        if role == "seller" and transfer.seller.until_on is not None:
            continue
        side = role if role != "agent" else f"{role}:{person.pk}"
        _tell_person(transfer, role, person, "transfer_moved", f"{occasion}:{side}", by=by, at=at, words=words)


def withdraw_open(transfer: Transfer, *, at: datetime) -> None:
    """Withdraws what still waits to be sent or printed about a sale as it stood until now."""
    names = [f"transfer {step}:{transfer.pk}" for step in ("asked", "moved", "reminder", "link")]
    withdraw_waiting(occasions=names, because=WENT_ON, at=at)


def let_seller_go(transfer: Transfer, *, at: datetime) -> None:
    """Withdraws what still waits for the seller when the house is no longer theirs; the buyer keeps their copy."""
    withdraw_for_former_owners(property_id=transfer.seller.property_id, at=at)
    withdraw_open(transfer, at=at)
    accepted = [f"transfer accepted:{transfer.pk}"]
    withdraw_waiting(occasions=accepted, because=WENT_ON, at=at, person=transfer.seller.person)


def tell_issued(transfer: Transfer, certificate: Certificate, *, by: Actor, at: datetime) -> None:
    """The certificate is issued: the buyer is welcomed, the seller let go, the agent's file closed."""
    words = {
        "number": display_number(certificate.number),
        "warranty_number": display_warranty_number(transfer.warranty.number),
        "terms": terms_of(transfer.warranty),
        "next_due_on": certificate.facts["care_record"]["next_due_on"],
    }
    for role, person in people_of(transfer):
        _tell_end(transfer, role, person, "issued", template=f"transfer_issued_{role}", by=by, at=at, words=words)


def tell_withdrawn(transfer: Transfer, *, by: Actor, at: datetime) -> None:
    """The transfer is called off."""
    for role, person in people_of(transfer):
        _tell_end(transfer, role, person, "withdrawn", template="transfer_withdrawn", by=by, at=at)


def tell_revoked(transfer: Transfer, *, by: Actor, at: datetime) -> None:
    """The certificate was revoked: whoever may have relied on it hears so."""
    for role, person in people_of(transfer):
        _tell_end(transfer, role, person, "revoked", template="transfer_revoked", by=by, at=at)


def remind_of_transfers(*, on: date, at: datetime) -> int:
    """Reminds whoever can still do something in an open sale; returns in how many sales.

    Each sale is a transaction of its own, so that one that fails keeps nobody else from being reminded. Run again
    on the same day it sends nothing: each reminder is one occasion.
    """
    open_sales = Transfer.objects.filter(state=Transfer.State.ASKED).order_by("pk")
    return sum(_remind(transfer_id, on=on, at=at) for transfer_id in open_sales.values_list("pk", flat=True))


@transaction.atomic
def _remind(transfer_id: int, *, on: date, at: datetime) -> bool:
    Transfer.objects.select_for_update().get(pk=transfer_id)
    transfer = Transfer.objects.select_related(
        "warranty__terms", "warranty__system", "seller__person", "seller__property", "buyer"
    ).get(pk=transfer_id)
    lacking = transfer_lacks(transfer) if transfer.state == Transfer.State.ASKED else ()
    reminder = reminder_due(lacking, closing_on=transfer.closing_on, on=on)
    if not reminder:
        return False
    roles = {role for need in lacking for role in whose_turn(need.code, closing_on=transfer.closing_on, on=on)}
    for role in sorted(roles):
        _tell(transfer, role, "transfer_reminder", f"reminder:{transfer.pk}:{role}:{reminder}", by=SYSTEM, at=at, on=on)
    return bool(roles)


def _tell(
    transfer: Transfer,
    role: Role,
    template: str,
    occasion: str,
    *,
    by: Actor,
    at: datetime,
    on: date | None = None,
) -> None:
    """A message to seller or buyer while the sale is open."""
    person = transfer.seller.person if role == "seller" else transfer.buyer
    _tell_person(transfer, role, person, template, occasion, by=by, at=at, on=on)


def _tell_person(
    transfer: Transfer,
    role: Role,
    person: Person,
    template: str,
    occasion: str,
    *,
    by: Actor,
    at: datetime,
    on: date | None = None,
    words: Mapping[str, Any] | None = None,
) -> None:
    """A message while the sale is open, with the reader's link and what is missing for them."""
    known = {
        "role": role,
        "needs": missing_for(role, transfer, on=on or clock.day_of(at)),
        "sale_link": invite(transfer, role=role, person=person, by=by, at=at),
        **(words or {}),
    }
    _queue(transfer, person, template, occasion, by=by, at=at, words=known)


def _tell_end(
    transfer: Transfer,
    role: Role,
    person: Person,
    step: str,
    *,
    template: str,
    by: Actor,
    at: datetime,
    words: Mapping[str, Any] | None = None,
) -> None:
    """A message at its end, when no part of it can be opened any more."""
    side = role if role != "agent" else f"{role}:{person.pk}"
    occasion = f"{step}:{transfer.pk}:{side}"
    _queue(transfer, person, template, occasion, by=by, at=at, words={"role": role, **(words or {})})


def _queue(
    transfer: Transfer,
    person: Person,
    template: str,
    occasion: str,
    *,
    by: Actor,
    at: datetime,
    words: Mapping[str, Any],
) -> None:
    if not is_reached(transfer, person):
        return
    queue_notice(
        occasion=f"transfer {occasion}",
        template=template,
        person=person,
        property=transfer.seller.property,
        context={"transfer": transfer, "title": transfer.warranty.terms.title, **words},
        by=by,
        at=at,
    )
