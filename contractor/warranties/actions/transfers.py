"""Writes about transfers: ask, collect what is missing, issue in one transaction, withdraw, revoke."""

from collections.abc import Mapping
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any

from django.db import transaction

from contractor.accounts.models import Role, User
from contractor.core import audit, clock, renewal
from contractor.core.audit import Actor
from contractor.notices.actions import queue_notice
from contractor.properties.actions import hand_over, register_person
from contractor.properties.models import Ownership, Person, Property
from contractor.visits.actions import ask_for_visit, withdraw_request
from contractor.visits.models import Request, VisitKind
from contractor.warranties.actions.certifying import certify_transfer
from contractor.warranties.actions.standing import refresh_standing
from contractor.warranties.care_visits import minutes_at_house
from contractor.warranties.errors import (
    AlreadyVoid,
    BuyerIsOwner,
    ClosingAhead,
    ClosingTooEarly,
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
from contractor.warranties.numbers import display_number
from contractor.warranties.printed_codes import display_warranty_number
from contractor.warranties.queries import facts_of, seller_is_owner, terms_of, transfer_lacks, transfer_needs
from contractor.warranties.rules.wording import day_in_words, money_in_words

# When the last day of a transfer check has passed before it was asked for: still soon, for the manager to judge.
LATE_CHECK = timedelta(weeks=2)


@transaction.atomic
def ask_transfer(
    *, warranty_id: int, buyer_id: int, closing_on: date, notified_on: date, by: Actor, at: datetime
) -> Transfer:
    """Opens a transfer to a buyer; a check-up that the terms want and that is missing becomes a visit request.

    Raises AlreadyVoid, TransferOpen, NobodySells, BuyerIsOwner, ClosingTooEarly or DayAhead.
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
    last = warranty.transfers.filter(state=Transfer.State.ISSUED).order_by("closing_on").last()
    begun = [warranty.issued_on, seller.from_on + timedelta(days=1)]
    begun += [last.closing_on + timedelta(days=1)] if last is not None else []
    if closing_on < max(begun):
        raise ClosingTooEarly(max(begun))
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
    _request_missing_checkup(transfer, by=by, at=at)
    if seller.until_on is None:
        queue_notice(
            occasion=f"transfer asked:{transfer.pk}",
            template="transfer_asked",
            person=seller.person,
            property=house,
            context={"transfer": transfer, "needs": _to_do(transfer), "title": warranty.terms.title},
            by=by,
            at=at,
        )
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
) -> Transfer:
    """The same for a buyer as typed, who is registered with it unless one of the people known is meant."""
    buyer_id = known_person_id
    if buyer_id is None:
        house_id = Warranty.objects.values_list("system__property_id", flat=True).get(pk=warranty_id)
        buyer_id = register_person(**buyer, property_id=house_id, by=by, at=at).pk
    return ask_transfer(
        warranty_id=warranty_id, buyer_id=buyer_id, closing_on=closing_on, notified_on=notified_on, by=by, at=at
    )


@transaction.atomic
def record_transfer_fee(*, transfer_id: int, paid_on: date, by: Actor, at: datetime) -> Transfer:
    """Notes that the fee was paid. Raises TransferSettled or DayAhead."""
    transfer = _open_transfer(transfer_id)
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
    transfer = _open_transfer(transfer_id)
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
    transfer = _open_transfer(transfer_id)
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
        _withdraw_check(transfer, because="A manager let the transfer check go.", by=by_user.actor, at=at)
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
    _withdraw_check(transfer, because="The transfer is issued.", by=by, at=at)
    refresh_standing(warranty_id=transfer.warranty_id, on=on)
    _tell_both(transfer, certificate, house, by=by, at=at)
    renewal.facts_changed(property_id=house.pk)
    return certificate


@transaction.atomic
def withdraw_transfer(*, transfer_id: int, because: str, by: Actor, at: datetime) -> Transfer:
    """Calls off a transfer that is not issued yet. Raises TransferSettled or ReasonNeeded."""
    transfer = _open_transfer(transfer_id)
    if not because.strip():
        raise ReasonNeeded
    before = _kept(transfer)
    transfer.state, transfer.state_because = Transfer.State.WITHDRAWN, because.strip()
    transfer.save()
    _record(transfer, verb="transfer withdrawn", by=by, at=at, before=before, after=_kept(transfer))
    _withdraw_check(transfer, because="The transfer was withdrawn.", by=by, at=at)
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
    refresh_standing(warranty_id=transfer.warranty_id, on=clock.day_of(at))
    renewal.facts_changed(property_id=transfer.seller.property_id)
    return transfer


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


def _open_transfer(transfer_id: int) -> Transfer:
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


def _request_missing_checkup(transfer: Transfer, *, by: Actor, at: datetime) -> None:
    need = next((one for one in transfer_lacks(transfer) if one.code == "checkup"), None)
    if need is None or need.by_on is None:
        return
    today = clock.day_of(at)
    rule = terms_of(transfer.warranty).transfer_limits
    days = rule.checkup_within_days if rule is not None and rule.checkup_within_days is not None else 0
    earliest_on = max(today, transfer.closing_on - timedelta(days=days))
    latest_on = need.by_on if need.by_on >= earliest_on else earliest_on + LATE_CHECK
    ask_for_visit(
        occasion=_check_occasion(transfer),
        system_id=transfer.warranty.system_id,
        kind=VisitKind.TRANSFER,
        # Before the closing if that can still be, so that buyer and seller know at the table.
        target_on=min(max(transfer.closing_on - timedelta(days=7), earliest_on), latest_on),
        earliest_on=earliest_on,
        latest_on=latest_on,
        minutes=minutes_at_house(facts_of(transfer.warranty), today),
        reason=f"The house is being sold, closing on {day_in_words(transfer.closing_on)}. {need.sentence}",
        by=by,
        at=at,
    )


def _withdraw_check(transfer: Transfer, *, because: str, by: Actor, at: datetime) -> None:
    for request in Request.objects.wanting().filter(occasion=_check_occasion(transfer)):
        withdraw_request(request_id=request.pk, because=because, by=by, at=at)


def _check_occasion(transfer: Transfer) -> str:
    return f"transfer:{transfer.pk}"


def _to_do(transfer: Transfer) -> list[str]:
    """What is still to do, as seller and buyer are told; the requirement's own sentence speaks to the office."""
    words = {
        "fee": f"The transfer fee of {money_in_words(transfer.fee)} is to be paid.",
        "accepted": "The buyer reads the warranty and accepts it, by signing the paper that we send.",
        "told_in_time": "We heard of the sale later than the terms allow. We look into it and call you.",
        "transfers_left": "The terms allow no further change of owner. We look into it and call you.",
    }
    return [words.get(need.code, need.sentence) for need in transfer_lacks(transfer)]


def _tell_both(transfer: Transfer, certificate: Certificate, house: Property, *, by: Actor, at: datetime) -> None:
    context = {
        "transfer": transfer,
        "title": transfer.warranty.terms.title,
        "number": display_number(certificate.number),
        "warranty_number": display_warranty_number(transfer.warranty.number),
        "terms": terms_of(transfer.warranty),
        "next_due_on": certificate.facts["care_record"]["next_due_on"],
    }
    for side, person in (("buyer", transfer.buyer), ("seller", transfer.seller.person)):
        queue_notice(
            occasion=f"transfer issued:{transfer.pk}:{side}",
            template=f"transfer_issued_{side}",
            person=person,
            property=house,
            context=context,
            by=by,
            at=at,
        )


def _kept(transfer: Transfer) -> dict[str, Any]:
    """What goes into the trail: everything but the name that was signed, which stays in the transfer itself."""
    return {name: value for name, value in audit.snapshot(transfer).items() if name != "accepted_name"}


def _record(transfer: Transfer, **entry: Any) -> None:
    audit.record(subject=transfer, property_id=transfer.seller.property_id, **entry)
