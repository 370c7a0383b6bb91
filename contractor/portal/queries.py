"""Reads for an owner's page: their house, and nothing from before or after their time in it."""

from dataclasses import dataclass
from datetime import date

from django.db.models import Q, QuerySet
from django.utils.safestring import SafeString, mark_safe

from contractor.checkups.models import CheckUp, Finding, OutsideRecord
from contractor.estimates.queries import drawn_parts
from contractor.properties.models import Ownership
from contractor.systems.drawing import DrawnPart, legend, section_drawing
from contractor.systems.models import System
from contractor.visits.models import Appointment
from contractor.visits.queries import next_visit
from contractor.warranties.models import Acceptance, Certificate, Claim, Transfer, Warranty
from contractor.warranties.printed_codes import display_warranty_number
from contractor.warranties.queries import PromiseStanding, present_certificate, promise_standings


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnedWarranty:
    """A warranty with the standing of each promise today, the certificate to hand on, and the sale under way.

    ``acceptance`` is what this owner accepted when they took it over.
    """

    warranty: Warranty
    promises: tuple[PromiseStanding, ...]
    certificate: Certificate | None
    open_transfer: Transfer | None
    acceptance: Acceptance | None

    @property
    def number(self) -> str:
        """The number as it is printed."""
        return display_warranty_number(self.warranty.number)


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnedSystem:
    """A system as its owner sees it. ``is_left_behind``: its warranty is still an earlier owner's."""

    system: System
    parts: tuple[DrawnPart, ...]
    warranties: tuple[OwnedWarranty, ...]
    is_left_behind: bool
    findings: tuple[Finding, ...]

    @property
    def drawing(self) -> SafeString:
        """The section drawing without its legend; the page lists it beside."""
        svg = section_drawing(
            self.parts,
            title=f"The system in your {self.system.name.lower()}",
            description="A section through the basement wall with every part that is installed and its condition.",
            prefix=f"system-{self.system.pk}",
            compact=True,
        )
        return mark_safe(svg)  # noqa: S308  # the drawing escapes every label itself

    @property
    def legend(self) -> object:
        """The drawing in words."""
        return legend(self.parts)

    @property
    def condition(self) -> str:
        """The worst condition of any part: bad, watch, good, or unknown when nothing has been checked."""
        words = {part.condition for part in self.parts} | {
            "watch" if finding.severity == "watch" else "bad" for finding in self.findings
        }
        return next((word for word in ("bad", "watch", "good") if word in words), "unknown")


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnedHouse:
    """Everything on an owner's page."""

    ownership: Ownership
    on: date
    systems: tuple[OwnedSystem, ...]
    next_visit: Appointment | None
    checkups: tuple[CheckUp, ...]
    outside_records: tuple[OutsideRecord, ...]
    claims: tuple[Claim, ...]

    @property
    def condition(self) -> str:
        """The worst condition of any system."""
        words = {system.condition for system in self.systems}
        return next((word for word in ("bad", "watch", "good") if word in words), "unknown")

    @property
    def next_due_on(self) -> date | None:
        """The earliest day on which any warranty wants the next check-up."""
        return min(
            (
                promise.standing.next_due_on
                for system in self.systems
                for held in system.warranties
                for promise in held.promises[:1]
                if promise.standing.next_due_on is not None
            ),
            default=None,
        )

    @property
    def overdue_since(self) -> date | None:
        """When the check-up was due, if that day is over."""
        due_on = self.next_due_on
        return due_on if due_on is not None and due_on < self.on else None


def owned_house(*, ownership: Ownership, on: date) -> OwnedHouse:
    """The house of this ownership on a day, with the check-ups done in the owner's time."""
    systems = System.objects.filter(property_id=ownership.property_id)
    return OwnedHouse(
        ownership=ownership,
        on=on,
        systems=tuple(_owned_system(system, ownership, on) for system in systems),
        next_visit=next_visit(property_id=ownership.property_id, on=on),
        checkups=tuple(own_checkups(ownership)),
        outside_records=tuple(
            OutsideRecord.objects.filter(
                system__property_id=ownership.property_id, sent_by=f"owner:{ownership.person_id}", by_us=False
            )
        ),
        claims=tuple(own_claims(ownership).select_related("appeal").prefetch_related("questions")),
    )


def own_checkups(ownership: Ownership) -> QuerySet[CheckUp]:
    """Finished check-ups of the house, newest first, as far as they fall into this ownership."""
    return (
        CheckUp.objects.finished()
        .filter(system__property_id=ownership.property_id, done_on__gte=ownership.from_on)
        .select_related("technician", "system")
        .order_by("-done_on", "-pk")
    )


def own_warranties(ownership: Ownership) -> QuerySet[Warranty]:
    """The warranties of the house that this owner holds: issued to them or carried over to them."""
    carried_over = Transfer.objects.filter(state=Transfer.State.ISSUED, buyer_ownership=ownership)
    return Warranty.objects.filter(
        Q(issued_to=ownership) | Q(pk__in=carried_over.values("warranty_id")),
        system__property_id=ownership.property_id,
        voided_on__isnull=True,
    )


def own_claims(ownership: Ownership) -> QuerySet[Claim]:
    """The claims on this owner's warranties, reported in their own time.

    One of the very day of a sale may be the seller's, so a buyer doesn't see it.
    """
    return Claim.objects.filter(
        Q(reported_on__gt=ownership.from_on) | Q(warranty__issued_to=ownership),
        warranty__in=own_warranties(ownership),
    )


def own_certificates(ownership: Ownership) -> QuerySet[Certificate]:
    """The certificates issued to this owner."""
    return Certificate.objects.filter(issued_to=ownership)


def own_acceptances(ownership: Ownership) -> QuerySet[Acceptance]:
    """What this owner accepted when a warranty was carried over to them: their copy to keep."""
    return Acceptance.objects.filter(transfer__buyer_ownership=ownership, transfer__state=Transfer.State.ISSUED)


def _owned_system(system: System, ownership: Ownership, on: date) -> OwnedSystem:
    held = own_warranties(ownership).filter(system=system).select_related("terms", "system__property")
    valid = system.warranties.filter(voided_on__isnull=True)
    warranties = tuple(
        OwnedWarranty(
            warranty=warranty,
            promises=tuple(promise_standings(warranty=warranty, on=on)),
            certificate=present_certificate(warranty),
            open_transfer=ownership.transfers_out.filter(warranty=warranty, state=Transfer.State.ASKED).first(),
            acceptance=own_acceptances(ownership).filter(transfer__warranty=warranty).first(),
        )
        for warranty in held
    )
    return OwnedSystem(
        system=system,
        parts=drawn_parts(system=system, on=on),
        warranties=warranties,
        is_left_behind=not warranties and valid.exists(),
        findings=tuple(Finding.objects.still_open().filter(checkup__system=system).select_related("component")),
    )
