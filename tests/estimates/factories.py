"""Check-ups that looked at a part and said something about it."""

from datetime import UTC, date, datetime, time

from contractor.accounts.models import User
from contractor.checkups.models import Answer, Checklist, ChecklistItem, CheckUp, Finding
from contractor.systems.models import Component, System
from tests.visits.factories import AppointmentFactory, RequestFactory


def checkup_on(system: System, on: date, technician: User) -> CheckUp:
    """A finished check-up of a system that has looked at nothing yet."""
    moment = datetime.combine(on, time(15), tzinfo=UTC)
    request = RequestFactory(system=system, target_on=on)
    appointment = AppointmentFactory(request=request, technician=technician, on=on, state="done")
    checklist, _ = Checklist.objects.get_or_create(
        edition=1, defaults={"name": "Yearly check-up", "created_at": moment, "published_at": moment}
    )
    return CheckUp.objects.create(
        appointment=appointment,
        system=system,
        kind="checkup",
        checklist=checklist,
        technician=technician,
        started_at=moment,
        done_on=on,
        finished_at=moment,
    )


def looked_at(checkup: CheckUp, component: Component, verdict: str, sentence: str = "") -> Answer:
    """An answer about a part, judged good, watch or bad."""
    item, _ = ChecklistItem.objects.get_or_create(
        checklist=checkup.checklist,
        code=f"look-at-{component.part_kind.replace('_', '-')}",
        defaults={
            "kind": "check",
            "part_kind": component.part_kind,
            "prompt": "Look at it",
            "step": "look",
            "position": 1,
        },
    )
    return Answer.objects.create(
        checkup=checkup,
        item=item,
        component=component,
        condition=verdict,
        verdict=verdict,
        verdict_sentence=sentence,
        recorded_at=checkup.started_at,
        recorded_by=checkup.technician,
    )


def written_down(checkup: CheckUp, component: Component, severity: str, what: str) -> Finding:
    """A finding about a part, still to be put right."""
    return Finding.objects.create(
        checkup=checkup,
        component=component,
        severity=severity,
        what=what,
        raised_at=checkup.started_at,
        raised_by=checkup.technician,
    )
