"""Writes about transfers: ask, collect what is missing, issue in one transaction, withdraw, revoke."""

from collections.abc import Mapping
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any

from django.db import transaction

from contractor.accounts.models import Role, User
from contractor.core import audit, clock, renewal
from contractor.core.audit import Actor
from contractor.properties.actions import hand_over, register_person
from contractor.properties.models import Ownership, Person, Property
from contractor.warranties.actions.certifying import certify_transfer
from contractor.warranties.actions.standing import refresh_standing
from contractor.warranties.actions.transfer_links import end_transfer_links, invite_agent
from contractor.warranties.actions.transfer_messages import (
    let_seller_go,
    tell_asked,
    tell_issued,
    tell_revoked,
    tell_withdrawn,
    withdraw_open,
)
from contractor.warranties.actions.transfer_visits import request_missing_checkup, withdraw_check
from contractor.warranties.errors import (
    AlreadyVoid,
    BuyerIsOwner,
    BuyerIsSeller,
    ClosingAhead,
    ClosingTooEarly,
    ClosingTooFar,
    DayAhead,
    LaterTransfer,
    ManagersOnly,
    NameNeeded,
    NobodySells,
    NotIssued,
    ReasonNeeded,
    RequirementsMissing,
    RequirementStands,
    RequirementUnknown,
    TransferOpen,
    TransferSettled,
)
from contractor.warranties.models import Certificate, Transfer, Warranty
from contractor.warranties.queries import seller_is_owner, terms_of, transfer_lacks, transfer_needs

# A closing further ahead is a slip of the year.
CLOSING_AHEAD = timedelta(days=366)


@transaction.atomic
def ask_transfer(
    *, warranty_id: int, buyer_id: int, closing_on: date, notified_on: date, by: Actor, at: datetime
) -> Transfer:
    """Opens a transfer to a buyer; a check-up that the terms want and that is missing becomes a visit request.

    Raises AlreadyVoid, TransferOpen, NobodySells, BuyerIsOwner, BuyerIsSeller, ClosingTooEarly, ClosingTooFar or
    DayAhead.
    """
    # The warranty's row is locked, so that two people can't open two transfers.
    warranty = Warranty.objects.select_for_update().get(pk=warranty_id)
    house = warranty.system.property
    buyer = Person.objects.get(pk=buyer_id)
    if warranty.voided_on is not None:
        raise AlreadyVoid(warranty.voided_on)
    if warranty.transfers.filter(state=Transfer.State.ASKED).exists():
        raise TransferOpen
    if notified_on > clock.day_of(at):
        raise DayAhead("notified_on")
    seller = _seller(house, buyer, closing_on)
    if buyer.email and buyer.email == seller.person.email:
        raise BuyerIsSeller
    refuse_closing(warranty, seller, closing_on, today=clock.day_of(at))
    rule = terms_of(warranty).transfer_limits
    transfer = Transfer.objects.create(
        warranty=warranty,
        seller=seller,
        buyer=buyer,
        asked_at=at,
        notified_on=notified_on,
        closing_on=closing_on,
        fee=rule.fee if rule is not None else Decimal(0),
    )
    _record(transfer, verb="transfer asked for", by=by, at=at, after=_kept(transfer))
    request_missing_checkup(transfer, by=by, at=at)
    tell_asked(transfer, by=by, at=at)
    return transfer


@transaction.atomic
def ask_transfer_to(
    *,
    warranty_id: int,
    buyer: Mapping[str, str],
    known_person_id: int | None,
    closing_on: date,
    notified_on: date,
    by: Actor,
    at: datetime,
    agent: Mapping[str, str] | None = None,
) -> Transfer:
    """The same for a buyer as typed, who is registered with it unless one of the people known is meant.

    An ``agent`` (name, email) gets a part in the sale as well.
    """
    buyer_id = known_person_id
    if buyer_id is None:
        house_id = Warranty.objects.values_list("system__property_id", flat=True).get(pk=warranty_id)
        buyer_id = register_person(**buyer, property_id=house_id, by=by, at=at).pk
    transfer = ask_transfer(
        warranty_id=warranty_id, buyer_id=buyer_id, closing_on=closing_on, notified_on=notified_on, by=by, at=at
    )
    if agent is not None:
        invite_agent(transfer_id=transfer.pk, by=by, at=at, **agent)
    return transfer


@transaction.atomic
def record_transfer_fee(*, transfer_id: int, paid_on: date, by: Actor, at: datetime) -> Transfer:
    """Notes that the fee was paid. Raises TransferSettled or DayAhead."""
    transfer = open_transfer(transfer_id)
    if paid_on > clock.day_of(at):
        raise DayAhead("paid_on")
    before = _kept(transfer)
    transfer.fee_paid_on = paid_on
    transfer.save()
    _record(transfer, verb="transfer fee paid", by=by, at=at, before=before, after=_kept(transfer))
    return transfer


@transaction.atomic
def accept_transfer(*, transfer_id: int, accepted_on: date, name: str, by: Actor, at: datetime) -> Transfer:
    """Notes that the buyer accepted the terms, under which name. Raises TransferSettled, NameNeeded or DayAhead."""
    transfer = open_transfer(transfer_id)
    if not name.strip():
        raise NameNeeded
    if accepted_on > clock.day_of(at):
        raise DayAhead("accepted_on")
    before = _kept(transfer)
    transfer.accepted_on, transfer.accepted_name = accepted_on, name.strip()
    transfer.save()
    _record(transfer, verb="transfer accepted by the buyer", by=by, at=at, before=before, after=_kept(transfer))
    return transfer


@transaction.atomic
def waive_requirement(*, transfer_id: int, code: str, because: str, by_user: User, at: datetime) -> Transfer:
    """Lets one unmet requirement go, by a manager with a reason that is kept.

    Raises ManagersOnly, ReasonNeeded, TransferSettled, RequirementUnknown or RequirementStands.
    """
    transfer = open_transfer(transfer_id)
    if by_user.role != Role.MANAGER:
        raise ManagersOnly("let a requirement go")
    if not because.strip():
        raise ReasonNeeded
    need = next((one for one in transfer_needs(transfer) if one.code == code and not one.met), None)
    if need is None:
        raise RequirementUnknown
    if not need.waivable:
        raise RequirementStands
    before = _kept(transfer)
    reason = {"because": because.strip(), "by": by_user.pk, "at": at.isoformat(timespec="seconds")}
    transfer.waived = {**transfer.waived, code: reason}
    transfer.save()
    _record(transfer, verb="transfer requirement let go", by=by_user.actor, at=at, before=before, after=_kept(transfer))
    if code == "checkup":
        withdraw_check(transfer, because="A manager let the transfer check go.", by=by_user.actor, at=at)
    return transfer


@transaction.atomic
def issue_transfer(
    *, transfer_id: int, on: date, by: Actor, at: datetime, issued_by: User | None = None
) -> Certificate:
    """Carries the warranty over, all or nothing: owner, record, certificate in the place of earlier ones, letters.

    Pressed twice, the second press gets the certificate of the first. Raises TransferSettled, ClosingAhead or
    RequirementsMissing with everything that is still to do.
    """
    # Rows are locked in one order (transfer, then warranty, then house), so that two people who press at once,
    # or transfer two systems of one house at once, queue up instead of waiting for each other.
    transfer = _locked(transfer_id)
    if transfer.state == Transfer.State.ISSUED:
        return transfer.certificate
    if transfer.state != Transfer.State.ASKED:
        raise TransferSettled(transfer.get_state_display().lower())
    Warranty.objects.select_for_update().get(pk=transfer.warranty_id)
    house = Property.objects.select_for_update().get(pk=transfer.seller.property_id)
    transfer.seller.refresh_from_db()
    if transfer.closing_on > on:
        raise ClosingAhead(transfer.closing_on)
    lacking = transfer_lacks(transfer)
    if lacking:
        raise RequirementsMissing(lacking, [need.sentence for need in lacking])
    before = _kept(transfer)
    transfer.buyer_ownership = _new_owner(transfer, house, by=by, at=at)
    transfer.state, transfer.issued_at, transfer.issued_by = Transfer.State.ISSUED, at, issued_by
    transfer.save()
    _record(transfer, verb="transfer issued", by=by, at=at, before=before, after=_kept(transfer))
    certificate = certify_transfer(transfer=transfer, on=on, by=by, at=at, issued_by=issued_by)
    withdraw_check(transfer, because="The transfer is issued.", by=by, at=at)
    refresh_standing(warranty_id=transfer.warranty_id, on=on)
    let_seller_go(transfer, at=at)
    tell_issued(transfer, certificate, by=by, at=at)
    end_transfer_links(transfer, by=by, at=at)
    renewal.facts_changed(property_id=house.pk)
    return certificate


@transaction.atomic
def withdraw_transfer(*, transfer_id: int, because: str, by: Actor, at: datetime) -> Transfer:
    """Calls off a transfer that is not issued yet. Raises TransferSettled or ReasonNeeded."""
    transfer = open_transfer(transfer_id)
    if not because.strip():
        raise ReasonNeeded
    before = _kept(transfer)
    transfer.state, transfer.state_because = Transfer.State.WITHDRAWN, because.strip()
    transfer.save()
    _record(transfer, verb="transfer withdrawn", by=by, at=at, before=before, after=_kept(transfer))
    withdraw_check(transfer, because="The transfer was withdrawn.", by=by, at=at)
    withdraw_open(transfer, at=at)
    tell_withdrawn(transfer, by=by, at=at)
    end_transfer_links(transfer, by=by, at=at)
    return transfer


@transaction.atomic
def revoke_transfer(*, transfer_id: int, because: str, by_user: User, at: datetime) -> Transfer:
    """Revokes a transfer that was issued by mistake, with its certificate and every later one of the warranty.

    The record of who owns the house is left as it is: whether the sale itself was wrong is another question.
    Raises ManagersOnly, ReasonNeeded, NotIssued, TransferSettled or LaterTransfer.
    """
    transfer = _locked(transfer_id)
    if by_user.role != Role.MANAGER:
        raise ManagersOnly("revoke a transfer")
    if not because.strip():
        raise ReasonNeeded
    if transfer.state == Transfer.State.ASKED:
        raise NotIssued
    if transfer.state != Transfer.State.ISSUED:
        raise TransferSettled(transfer.get_state_display().lower())
    Warranty.objects.select_for_update().get(pk=transfer.warranty_id)
    issued = transfer.warranty.transfers.filter(state=Transfer.State.ISSUED).exclude(pk=transfer.pk)
    if issued.filter(closing_on__gte=transfer.closing_on).exists():
        raise LaterTransfer
    before = _kept(transfer)
    transfer.state, transfer.state_because = Transfer.State.REVOKED, because.strip()
    transfer.save()
    _record(transfer, verb="transfer revoked", by=by_user.actor, at=at, before=before, after=_kept(transfer))
    for certificate in transfer.warranty.certificates.filter(pk__gte=transfer.certificate.pk, revoked_at__isnull=True):
        certificate.revoked_at, certificate.revoked_because = at, because.strip()
        certificate.save(update_fields=["revoked_at", "revoked_because"])
        audit.record(
            by=by_user.actor,
            at=at,
            verb="certificate revoked",
            subject=certificate,
            property_id=transfer.seller.property_id,
            after={"number": certificate.number, "because": because.strip()},
        )
    tell_revoked(transfer, by=by_user.actor, at=at)
    refresh_standing(warranty_id=transfer.warranty_id, on=clock.day_of(at))
    renewal.facts_changed(property_id=transfer.seller.property_id)
    return transfer


def refuse_closing(warranty: Warranty, seller: Ownership, closing_on: date, *, today: date) -> None:
    """Raises ClosingTooEarly or ClosingTooFar for a day that can't be the closing of this sale."""
    last = warranty.transfers.filter(state=Transfer.State.ISSUED).order_by("closing_on").last()
    begun = [warranty.issued_on, seller.from_on + timedelta(days=1)]
    begun += [last.closing_on + timedelta(days=1)] if last is not None else []
    if closing_on < max(begun):
        raise ClosingTooEarly(max(begun))
    if closing_on > today + CLOSING_AHEAD:
        raise ClosingTooFar(today + CLOSING_AHEAD)


def _seller(house: Property, buyer: Person, closing_on: date) -> Ownership:
    """The present owner; or, when the buyer is that already, whoever handed the house over to them on that day."""
    present = house.ownerships.open_ended().select_related("person").first()
    if present is None:
        raise NobodySells
    if present.person_id != buyer.pk:
        return present
    earlier = house.ownerships.filter(until_on=present.from_on).select_related("person").last()
    if earlier is None or present.from_on != closing_on:
        raise BuyerIsOwner(buyer.name, present.from_on)
    return earlier


def _locked(transfer_id: int) -> Transfer:
    Transfer.objects.select_for_update().get(pk=transfer_id)
    return Transfer.objects.select_related(
        "warranty__terms", "warranty__system__property", "warranty__issued_to__person", "seller__person", "buyer"
    ).get(pk=transfer_id)


def open_transfer(transfer_id: int) -> Transfer:
    """The transfer, locked, with what its rules read. Raises TransferSettled."""
    transfer = _locked(transfer_id)
    if transfer.state != Transfer.State.ASKED:
        raise TransferSettled(transfer.get_state_display().lower())
    return transfer


def _new_owner(transfer: Transfer, house: Property, *, by: Actor, at: datetime) -> Ownership:
    """The buyer's ownership from the closing day: begun now, or already when another system went before."""
    already = house.ownerships.filter(person=transfer.buyer, from_on=transfer.closing_on).first()
    if already is not None and seller_is_owner(transfer) and transfer.seller.until_on is not None:
        return already
    return hand_over(property_id=house.pk, person_id=transfer.buyer_id, on=transfer.closing_on, by=by, at=at)


def _kept(transfer: Transfer) -> dict[str, Any]:
    """What goes into the trail: everything but the name that was signed, which stays in the transfer itself."""
    return {name: value for name, value in audit.snapshot(transfer).items() if name != "accepted_name"}


def _record(transfer: Transfer, **entry: Any) -> None:
    audit.record(subject=transfer, property_id=transfer.seller.property_id, **entry)
