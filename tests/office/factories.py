"""A house with years of history, written as rows so that a page's reads are what a test measures."""

import json
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from pathlib import Path

from contractor.accounts.models import User
from contractor.checkups.models import Checklist, CheckUp, CheckUpReport, Finding, OutsideRecord
from contractor.core import audit, clock
from contractor.core.audit import Actor
from contractor.estimates.models import LifeEstimate
from contractor.notices.models import Notice
from contractor.properties.models import Ownership, Person
from contractor.systems.models import Component, System
from contractor.visits.models import Appointment, Request
from contractor.warranties.claim_tables import ClaimQuestion
from contractor.warranties.models import (
    Certificate,
    Claim,
    StoredStanding,
    TermsEdition,
    Transfer,
    Waiver,
    Warranty,
)
from tests.factories import CatalogueModelFactory, ComponentFactory, PersonFactory, TreatedWallFactory

TERMS = json.loads((Path(__file__).resolve().parents[2] / "fixtures/terms/limited-2026-1.json").read_text())
NOBODY = Actor("system", "The system")


def moment(day: date) -> datetime:
    """Noon UTC of a day."""
    return datetime.combine(day, time(12), tzinfo=UTC)


def terms_edition() -> TermsEdition:
    """The published terms that the project brings along."""
    published = moment(date(2019, 1, 1))
    edition, _ = TermsEdition.objects.get_or_create(
        edition=TERMS["edition"],
        defaults={"title": TERMS["title"], "data": TERMS, "created_at": published, "published_at": published},
    )
    return edition


def issued_warranty(system: System, to: Ownership, number: str = "W4T9ZR2MKC") -> Warranty:
    """A warranty issued on the day the system was installed, with the row that sums up its standing."""
    warranty = Warranty.objects.create(
        number=number,
        system=system,
        terms=terms_edition(),
        issued_on=system.installed_on,
        issued_to=to,
        issued_at=moment(system.installed_on),
    )
    stored_standing(warranty, cover="in_force", care="current")
    return warranty


def stored_standing(warranty: Warranty, *, cover: str, care: str) -> StoredStanding:
    """The row that sums up a warranty's standing for lists."""
    row, _ = StoredStanding.objects.update_or_create(
        warranty=warranty,
        part_kind="",
        defaults={"cover": cover, "care": care, "on": date(2026, 5, 4), "inputs_sha256": "0" * 64},
    )
    return row


def wanted_visit(system: System, *, target_on: date, kind: str = "checkup", occasion: str = "") -> Request:
    """A visit wanted within sixty days around its target."""
    return Request.objects.create(
        occasion=occasion or f"{kind}:{system.pk}:{target_on}",
        system=system,
        kind=kind,
        target_on=target_on,
        earliest_on=target_on - timedelta(days=60),
        latest_on=target_on + timedelta(days=60),
        minutes=60,
        reason="The yearly check-up.",
        created_at=moment(target_on - timedelta(days=60)),
    )


def appointment(request: Request, technician: User, on: date, state: str = "planned") -> Appointment:
    """A stop of a technician's round."""
    return Appointment.objects.create(
        request=request, technician=technician, on=on, stop_number=1, state=state, made_at=moment(on)
    )


def finished_checkup(request: Request, technician: User, on: date) -> CheckUp:
    """A check-up done and reported on a day."""
    checklist, _ = Checklist.objects.get_or_create(
        edition=1, defaults={"name": "Yearly check-up", "created_at": moment(date(2019, 1, 1))}
    )
    checkup = CheckUp.objects.create(
        appointment=appointment(request, technician, on, "done"),
        system=request.system,
        kind=request.kind,
        checklist=checklist,
        technician=technician,
        started_at=moment(on),
        done_on=on,
        finished_at=moment(on),
    )
    CheckUpReport.objects.create(checkup=checkup, file="reports/x.pdf", sha256="0" * 64, made_at=moment(on))
    return checkup


def finding(checkup: CheckUp, *, severity: str = "watch", what: str = "Terminals corroded") -> Finding:
    """An open finding of a check-up."""
    return Finding.objects.create(
        checkup=checkup,
        severity=severity,
        what=what,
        raised_at=moment(checkup.done_on),
        raised_by=checkup.technician,
    )


def estimate(component: Component, *, replace_by: date) -> LifeEstimate:
    """A stored life estimate."""
    return LifeEstimate.objects.create(
        component=component,
        replace_by=replace_by,
        earliest=replace_by - timedelta(days=200),
        latest=replace_by + timedelta(days=200),
        governing="age",
        reason="In since long ago.",
        inputs_sha256="0" * 64,
        made_on=date(2026, 5, 4),
    )


def asked_back(claim: Claim, *, by: User) -> ClaimQuestion:
    """A question to the owner that is not answered yet."""
    return ClaimQuestion.objects.create(claim=claim, words="Since when?", asked_at=clock.now(), asked_by=by)


def reported_claim(warranty: Warranty, *, on: date) -> Claim:
    """A claim that waits for its decision."""
    return Claim.objects.create(
        warranty=warranty, part_kind="primary_pump", lost_on=on, reported_on=on, what="It stopped.", cause="wear"
    )


def asked_transfer(warranty: Warranty, seller: Ownership, buyer: Person, *, closing_on: date) -> Transfer:
    """A transfer that was asked for."""
    return Transfer.objects.create(
        warranty=warranty,
        seller=seller,
        buyer=buyer,
        asked_at=moment(closing_on),
        notified_on=closing_on,
        closing_on=closing_on,
        fee=Decimal("75.00"),
    )


def certificate(
    warranty: Warranty, to: Ownership, *, number: str, supersedes: Certificate | None = None
) -> Certificate:
    """A certificate, the first of its warranty or one that takes the place of another."""
    return Certificate.objects.create(
        number=number,
        warranty=warranty,
        issued_to=to,
        facts={},
        facts_sha256="0" * 64,
        check_code="ABCD2345",
        token=f"token-{number}",
        issued_on=date(2026, 5, 4),
        issued_at=moment(date(2026, 5, 4)),
        supersedes=supersedes,
    )


def outside_record(system: System, *, done_on: date, accepted: bool | None = None) -> OutsideRecord:
    """A check-up documented by somebody else."""
    return OutsideRecord.objects.create(
        system=system,
        provider="Reed & Daughter Plumbing",
        done_on=done_on,
        what="Pump tested, valve cleaned",
        sent_by="owner:1",
        received_at=moment(done_on),
        accepted=accepted,
        decided_at=None if accepted is None else moment(done_on),
    )


def notice(person: Person, system: System, *, occasion: str, state: str = "sent", channel: str = "email") -> Notice:
    """A message about a house."""
    at = moment(date(2026, 5, 1))
    return Notice.objects.create(
        occasion=occasion,
        template="checkup_due",
        channel=channel,
        person=person,
        property=system.property,
        address=person.email,
        subject=f"Your check-up ({occasion})",
        text="Dear owner",
        queued_at=at,
        not_before=at,
        state=state,
        sent_at=at if state == "sent" else None,
    )


def live_through(system: System, warranty: Warranty, technician: User, *, years: int) -> None:
    """Adds years of ordinary life: a check-up, a swap, findings, letters, claims, a sale, an audit trail each."""
    old = ComponentFactory(system=system, part_kind="battery", model=CatalogueModelFactory(part_kind="battery"))
    certified = warranty.certificates.order_by("-pk").first()
    for year in range(years):
        on = system.installed_on + timedelta(days=365 * (year + 1))
        checkup = finished_checkup(wanted_visit(system, target_on=on), technician, on)
        finding(checkup)
        old.out_on, old.out_because, old.out_by = on, "Weak under load", technician
        old.save()
        old = ComponentFactory(
            system=system,
            part_kind="battery",
            model=CatalogueModelFactory(part_kind="battery"),
            in_on=on,
            in_by=technician,
            replaces=old,
        )
        estimate(old, replace_by=on + timedelta(days=1500))
        TreatedWallFactory(system=system, letter=chr(ord("A") + year))
        reported_claim(warranty, on=on)
        outside_record(system, done_on=on, accepted=bool(year % 2))
        Waiver.objects.create(
            warranty=warranty,
            from_on=on,
            until_on=on + timedelta(days=9),
            because="Flood",
            by=technician,
            at=moment(on),
        )
        buyer = PersonFactory()
        Ownership.objects.create(property=system.property, person=buyer, from_on=on, until_on=on)
        transfer = asked_transfer(warranty, warranty.issued_to, buyer, closing_on=on)
        transfer.state = Transfer.State.WITHDRAWN
        transfer.save()
        certified = certificate(
            warranty, warranty.issued_to, number=f"C{warranty.pk:03d}{year:05d}", supersedes=certified
        )
        for number in range(3):
            notice(buyer, system, occasion=f"{warranty.pk}:{year}:{number}")
            audit.record(
                by=technician.actor,
                at=moment(on),
                verb="battery put in its place",
                subject=old,
                property_id=system.property_id,
                after=audit.snapshot(old),
            )
    wanted = wanted_visit(system, target_on=date(2026, 6, 1), kind="repair")
    appointment(wanted, technician, date(2026, 5, 20))
