"""Rows that tests of warranties start from: published terms, a furnished house, check-ups that were done."""

import json
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from typing import Any

from contractor.accounts.models import User
from contractor.checkups.models import Checklist, CheckUp, Finding, OutsideRecord
from contractor.core.audit import SYSTEM
from contractor.systems.models import System
from contractor.visits.models import Appointment, Request
from contractor.warranties.actions import terms as terms_actions
from contractor.warranties.models import TermsEdition
from tests.factories import LONG_AGO, ComponentFactory, TreatedWallFactory

TERMS_FILE = Path(__file__).resolve().parents[2] / "fixtures/terms/limited-2026-1.json"


def terms_data(**changes: Any) -> dict[str, Any]:
    """The terms that ship with the project, with changes."""
    data: dict[str, Any] = json.loads(TERMS_FILE.read_text(encoding="utf-8"))
    return data | changes


def published_terms(**changes: Any) -> TermsEdition:
    """A published edition; the company must be there, because it is the warrantor."""
    draft = terms_actions.draft_terms(data=terms_data(**changes), by=SYSTEM, at=LONG_AGO)
    return terms_actions.publish_terms(terms_id=draft.pk, by=SYSTEM, at=LONG_AGO)


def furnish(system: System, *kinds: str) -> None:
    """Puts parts and two walls into a system, on the day it was installed."""
    for kind in kinds or ("channel", "liner", "pit", "primary_pump", "float_switch", "standby_pump", "battery"):
        ComponentFactory(system=system, part_kind=kind)
    TreatedWallFactory(system=system, letter="A", name="North wall", length_m=9.144)
    TreatedWallFactory(system=system, letter="B", name="East wall", length_m=7.315)


def checkup_done(system: System, on: date, technician: User, *, kind: str = "checkup", finding: str = "") -> CheckUp:
    """A finished check-up on a day; with ``finding`` something of this severity was found and is still open."""
    moment = datetime.combine(on, time(15), tzinfo=UTC)
    request = Request.objects.create(
        occasion=f"test {system.pk} {kind} {on}",
        system=system,
        kind=kind,
        target_on=on,
        earliest_on=on - timedelta(days=1),
        latest_on=on + timedelta(days=1),
        minutes=60,
        reason="For the test.",
        created_at=moment,
    )
    appointment = Appointment.objects.create(
        request=request, technician=technician, on=on, stop_number=1, state="done", made_at=moment
    )
    checklist, _ = Checklist.objects.get_or_create(
        edition=1, defaults={"name": "Yearly check-up", "created_at": moment, "published_at": moment}
    )
    checkup = CheckUp.objects.create(
        appointment=appointment,
        system=system,
        kind=kind,
        checklist=checklist,
        technician=technician,
        started_at=moment,
        done_on=on,
        finished_at=moment,
    )
    if finding:
        Finding.objects.create(
            checkup=checkup, severity=finding, what="The check valve leaks.", raised_at=moment, raised_by=technician
        )
    return checkup


def outside_record(system: System, on: date, *, accepted: bool | None = True) -> OutsideRecord:
    """A check-up by another provider, sent in by the owner."""
    return OutsideRecord.objects.create(
        system=system,
        provider="Alder Plumbing",
        done_on=on,
        what="Yearly check-up, all good.",
        sent_by="owner:1",
        received_at=LONG_AGO,
        accepted=accepted,
        decided_at=LONG_AGO if accepted is not None else None,
    )
