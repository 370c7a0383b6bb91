"""Writes about warranties as a whole: issue to a system, void, waive days of care."""

from datetime import date, datetime, timedelta

from django.db import transaction

from contractor.accounts.models import Role, User
from contractor.core import audit, clock, renewal
from contractor.core.audit import Actor
from contractor.notices.actions import queue_notice
from contractor.properties.models import Ownership
from contractor.systems.models import System
from contractor.warranties.actions.standing import refresh_standing
from contractor.warranties.errors import (
    AlreadyVoid,
    DayAhead,
    IssuedBeforeInstalled,
    ManagersOnly,
    NobodyOwns,
    NoCareAsked,
    NotPublished,
    ReasonNeeded,
    SignedAfterIssue,
    VoidBeforeIssue,
    WaiverBackwards,
    WarrantyThere,
)
from contractor.warranties.models import TermsEdition, TermsShown, Waiver, Warranty
from contractor.warranties.pre_sale import pre_sale_proof
from contractor.warranties.printed_codes import display_warranty_number, draw_warranty_number
from contractor.warranties.queries import terms_of

# A warranty recorded longer after its issue day is an old one from the files: its owner has had the paper for
# years and gets no letter about it.
NEW_FOR = timedelta(days=30)


@transaction.atomic
def issue_warranty(
    *,
    system_id: int,
    terms_id: int,
    issued_on: date,
    by: Actor,
    at: datetime,
    issued_by: User | None = None,
    signed_on: date | None = None,
) -> Warranty:
    """Issues a published edition of terms to a system, and writes to the owner unless it is an old one recorded now.

    ``signed_on`` is the day of the contract. That the terms were not shown before it stops nothing; the trail says so.
    Raises NotPublished, WarrantyThere, DayAhead, IssuedBeforeInstalled, SignedAfterIssue or NobodyOwns.
    """
    # The system's row is locked, so two people can't issue two warranties to it.
    system = System.objects.select_for_update().select_related("property").get(pk=system_id)
    edition = TermsEdition.objects.get(pk=terms_id)
    owner = _allowed(system, edition, issued_on=issued_on, signed_on=signed_on, at=at)
    warranty = Warranty.objects.create(
        number=_new_number(),
        system=system,
        terms=edition,
        issued_on=issued_on,
        signed_on=signed_on,
        issued_to=owner,
        issued_by=issued_by,
        issued_at=at,
    )
    proof = pre_sale_proof(
        edition=edition,
        shown=TermsShown.objects.at_house(system.property_id).filter(terms=edition),
        signed_by_on=signed_on or system.installed_on,
    )
    audit.record(
        by=by,
        at=at,
        verb="warranty issued",
        subject=warranty,
        property_id=system.property_id,
        after={**audit.snapshot(warranty), "broken_at_issue": [one.code for one in proof.broken]},
    )
    refresh_standing(warranty_id=warranty.pk, on=clock.day_of(at))
    if clock.day_of(at) - issued_on <= NEW_FOR and owner.until_on is None:
        _tell_owner(warranty, owner, by=by, at=at)
    renewal.facts_changed(property_id=system.property_id)
    return warranty


@transaction.atomic
def void_warranty(
    *, warranty_id: int, voided_on: date, clause: str, because: str, by_user: User, at: datetime
) -> Warranty:
    """Declares a warranty void from a day on, by a manager's decision with the clause and the reason.

    Raises ManagersOnly, ReasonNeeded, AlreadyVoid, VoidBeforeIssue or DayAhead.
    """
    warranty = Warranty.objects.select_for_update().select_related("system").get(pk=warranty_id)
    if by_user.role != Role.MANAGER:
        raise ManagersOnly("declare a warranty void")
    if not because.strip() or not clause.strip():
        raise ReasonNeeded
    if warranty.voided_on is not None:
        raise AlreadyVoid(warranty.voided_on)
    if voided_on < warranty.issued_on:
        raise VoidBeforeIssue(warranty.issued_on)
    if voided_on > clock.day_of(at):
        raise DayAhead("voided_on")
    before = audit.snapshot(warranty)
    warranty.voided_on, warranty.voided_clause = voided_on, clause.strip()
    warranty.voided_because, warranty.voided_by = because.strip(), by_user
    warranty.save()
    audit.record(
        by=by_user.actor,
        at=at,
        verb="warranty declared void",
        subject=warranty,
        property_id=warranty.system.property_id,
        before=before,
        after=audit.snapshot(warranty),
    )
    _renew(warranty, at)
    return warranty


@transaction.atomic
def waive_care(*, warranty_id: int, from_on: date, until_on: date, because: str, by_user: User, at: datetime) -> Waiver:
    """Lets days count as cared for, from ``from_on`` up to but without ``until_on``; a manager's decision.

    Raises ManagersOnly, ReasonNeeded, AlreadyVoid, NoCareAsked or WaiverBackwards.
    """
    warranty = Warranty.objects.select_for_update().select_related("system", "terms").get(pk=warranty_id)
    if by_user.role != Role.MANAGER:
        raise ManagersOnly("waive days of care")
    if not because.strip():
        raise ReasonNeeded
    if warranty.voided_on is not None:
        raise AlreadyVoid(warranty.voided_on)
    if terms_of(warranty).care is None:
        raise NoCareAsked
    if until_on <= from_on:
        raise WaiverBackwards
    waiver = Waiver.objects.create(
        warranty=warranty, from_on=from_on, until_on=until_on, because=because.strip(), by=by_user, at=at
    )
    audit.record(
        by=by_user.actor,
        at=at,
        verb="days of care waived",
        subject=waiver,
        property_id=warranty.system.property_id,
        after=audit.snapshot(waiver),
    )
    _renew(warranty, at)
    return waiver


def _allowed(
    system: System, edition: TermsEdition, *, issued_on: date, signed_on: date | None, at: datetime
) -> Ownership:
    """The owner to whom it may be issued; raises what stands in the way."""
    if edition.published_at is None:
        raise NotPublished(edition.edition)
    valid = system.warranties.filter(voided_on__isnull=True).first()
    if valid is not None:
        raise WarrantyThere(display_warranty_number(valid.number))
    if issued_on > clock.day_of(at):
        raise DayAhead("issued_on")
    if issued_on < system.installed_on:
        raise IssuedBeforeInstalled(system.installed_on)
    if signed_on is not None and signed_on > issued_on:
        raise SignedAfterIssue(issued_on)
    owner = Ownership.objects.current(issued_on).filter(property=system.property).select_related("person").first()
    if owner is None:
        raise NobodyOwns(issued_on)
    return owner


def _renew(warranty: Warranty, at: datetime) -> None:
    """The stored standing at once, so that the next page shows it; the followers once all is committed."""
    refresh_standing(warranty_id=warranty.pk, on=clock.day_of(at))
    renewal.facts_changed(property_id=warranty.system.property_id)


def _new_number() -> str:
    while True:
        number = draw_warranty_number()
        if not Warranty.objects.filter(number=number).exists():
            return number


def _tell_owner(warranty: Warranty, owner: Ownership, *, by: Actor, at: datetime) -> None:
    terms = terms_of(warranty)
    queue_notice(
        occasion=f"warranty issued:{warranty.pk}",
        template="warranty_issued",
        person=owner.person,
        property=warranty.system.property,
        context={
            "warranty": warranty,
            "number": display_warranty_number(warranty.number),
            "title": warranty.terms.title,
            "care": terms.care,
            "claim_steps": terms.claim_steps,
        },
        by=by,
        at=at,
    )
