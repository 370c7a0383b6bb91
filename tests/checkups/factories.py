"""A small published checklist, a system to check, and a check-up that is under way; written through the actions."""

import io
from collections.abc import Mapping, Sequence
from datetime import date, datetime
from typing import Any

from PIL import Image

from contractor.accounts.models import User
from contractor.checkups.actions import checkup as actions
from contractor.checkups.actions import evidence
from contractor.checkups.actions.checklists import add_checklist, publish_checklist
from contractor.checkups.models import Checklist, ChecklistItem, CheckUp
from contractor.checkups.queries import checkup_lines
from contractor.core.audit import SYSTEM
from contractor.systems.models import Component, System
from contractor.visits.models import Appointment
from tests.factories import CatalogueModelFactory, ComponentFactory
from tests.visits.factories import AppointmentFactory, RequestFactory

HABIT = "common practice, no source"


def item(code: str, position: int, **fields: Any) -> dict[str, Any]:
    """One item as plain data: a check of the house in the room, unless told otherwise."""
    return {
        "code": code,
        "part_kind": "",
        "step": "room",
        "position": position,
        "kind": "check",
        "prompt": f"Look at {code}",
        "how": "With a lamp.",
        "source": HABIT,
        **fields,
    }


BAD_BATTERY = {
    "severity": "bad",
    "consequence": "The standby pump stops in the first hour of a power cut.",
    "what_to_do": "Replace the battery.",
}
VOLTS = {"kind": "measurement", "quantity": "voltage", "unit_us": "V", "unit_metric": "V"}
ITEMS: tuple[dict[str, Any], ...] = (
    item(
        "temperature",
        10,
        kind="measurement",
        quantity="temperature",
        unit_us="degF",
        unit_metric="degC",
        feeds="basement.temperature_c",
        subject="room temperature",
    ),
    item("mould", 20, photo="when_bad", severity="bad", consequence="It spreads.", what_to_do="Call its own trade."),
    item("room-photo", 30, kind="photo", photo="always"),
    item(
        "pit-rise",
        40,
        part_kind="pit",
        step="pit",
        kind="timed_test",
        quantity="length",
        unit_us="in",
        unit_metric="cm",
        formula="pit_rise_inflow",
        subject="inflow",
    ),
    item(
        "rest-volts",
        50,
        part_kind="battery",
        step="standby",
        good_low=12.4,
        subject="volts at rest",
        **VOLTS,
        **BAD_BATTERY,
    ),
    item(
        "load-test",
        60,
        part_kind="battery",
        step="standby",
        formula="load_test",
        caution="Eye protection and gloves; no spark near a battery.",
        **VOLTS,
        **BAD_BATTERY,
    ),
    item(
        "starts",
        70,
        part_kind="primary_pump",
        step="primary_pump",
        kind="count",
        quantity="count",
        unit_us="count",
        unit_metric="count",
        required=False,
    ),
    item("owner-told", 80, step="talk_and_sign", kind="note"),
)


def published_checklist(at: datetime, *, edition: int = 1, items: tuple[dict[str, Any], ...] = ITEMS) -> Checklist:
    """A published edition with these items."""
    data = {"name": "Yearly check-up", "edition": edition, "items": list(items)}
    checklist = add_checklist(data=data, by=SYSTEM, at=at)
    return publish_checklist(checklist_id=checklist.pk, by=SYSTEM, at=at)


def parts_of(system: System) -> dict[str, Component]:
    """A pit of 18 in, a primary pump and a battery, put in with the system."""
    pit = CatalogueModelFactory(part_kind="pit", name="Round 18", data={"diameter_m": 0.4572})
    battery = CatalogueModelFactory(part_kind="battery", name="Deep 75", data={"chemistry": "flooded"})
    return {
        "pit": ComponentFactory(system=system, part_kind="pit", model=pit),
        "primary_pump": ComponentFactory(system=system, part_kind="primary_pump"),
        "battery": ComponentFactory(system=system, part_kind="battery", model=battery, serial_number="B-100"),
    }


def appointment_for(system: System, technician: User, on: date, **fields: Any) -> Appointment:
    """A stop of this technician on this day."""
    request = RequestFactory(system=system, target_on=on, **fields)
    return AppointmentFactory(request=request, technician=technician, on=on)


def begun(system: System, technician: User, on: date, at: datetime) -> CheckUp:
    """A check-up that has just been started."""
    appointment = appointment_for(system, technician, on)
    return actions.start_checkup(appointment_id=appointment.pk, by_user=technician, on=on, at=at)


def picture(colour: str = "gray", size: tuple[int, int] = (64, 48)) -> bytes:
    """A small JPEG; another colour makes another photo."""
    out = io.BytesIO()
    Image.new("RGB", size, colour).save(out, "JPEG")
    return out.getvalue()


USUAL: dict[str, dict[str, Any]] = {
    "temperature": {"typed": "68", "unit": "degF"},
    "mould": {"condition": "good"},
    "pit-rise": {"typed": "3", "unit": "in", "seconds": 60.0},
    "rest-volts": {"typed": "12.7", "unit": "V"},
    "load-test": {"typed": "10.1", "unit": "V"},
    "starts": {"typed": "2", "unit": "count"},
    "owner-told": {"text": "Showed the alarm's test button."},
}


def line(checkup: CheckUp, code: str) -> tuple[ChecklistItem, Component | None]:
    """The line of an item; of the newest part where a part was swapped."""
    return next((row, part) for row, part in reversed(checkup_lines(checkup)) if row.code == code)


def answer(checkup: CheckUp, code: str, at: datetime, **given: Any) -> Any:
    """Answers one line, in the usual way where nothing is given."""
    row, part = line(checkup, code)
    return actions.record_answer(
        checkup_id=checkup.pk,
        item_id=row.pk,
        component_id=part.pk if part else None,
        by_user=checkup.technician,
        at=at,
        **(given or USUAL[code]),
    )


def answer_all(
    checkup: CheckUp, at: datetime, *, instead: Mapping[str, dict[str, Any]] | None = None, keep: Sequence[str] = ()
) -> None:
    """Answers every line but those to keep, and takes the photo that is always asked for."""
    for row, _ in checkup_lines(checkup):
        if row.code in keep:
            continue
        if row.kind == "photo":
            evidence.add_photo(
                checkup_id=checkup.pk, content=picture("navy"), by_user=checkup.technician, at=at, item_id=row.pk
            )
        else:
            answer(checkup, row.code, at, **{**USUAL, **(instead or {})}[row.code])


def signed(checkup: CheckUp, at: datetime, *, kind: str = "typed", name: str = "Iris Holloway") -> None:
    """The owner's word."""
    actions.sign(checkup_id=checkup.pk, kind=kind, name=name, strokes=[], at=at, by=checkup.technician.actor)


def finished(checkup: CheckUp, at: datetime, **kinds: Any) -> CheckUp:
    """Answered, signed and finished."""
    answer_all(checkup, at, **kinds)
    signed(checkup, at)
    return actions.finish_checkup(checkup_id=checkup.pk, by_user=checkup.technician, at=at)
