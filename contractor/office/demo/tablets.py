"""What came in from Theo's tablet this morning: a visit under way with two answers that disagree, and one item that
could not be taken."""

import hashlib
import json
from datetime import date, datetime, timedelta
from typing import Any
from uuid import UUID, uuid5

from contractor.accounts.models import User
from contractor.office.demo.cast import Cast
from contractor.tablet.actions.apply import apply_visit
from contractor.tablet.actions.devices import heard_from, keep_ready_check, register_device
from contractor.tablet.actions.door import Sender, take_items
from contractor.visits.models import Appointment

NAMES = UUID("5b1c7a52-2f0e-4c55-9a64-7f2f8a1f6d10")
READY = (
    ("worker", True, "The page opens without signal."),
    ("stores", True, "Both stores write and read back."),
    ("space", True, "There is room for the photos of many days."),
    ("clock", False, "The clock is 7 minutes fast. Set it to the network’s time."),
    ("camera", True, "The camera is there."),
)


def hand_in_from_tablets(cast: Cast, *, on: date, at: datetime) -> None:
    """Registers two tablets and hands in what their people typed this morning, the clock of one a bit fast."""
    theo = cast.technicians[0]
    ahead = Appointment.objects.live().filter(technician=theo, on__gte=on).select_related("request__system")
    stops = list(ahead.order_by("on", "stop_number"))
    if not stops:
        return
    stop = next(one for one in reversed(stops) if one.on == stops[0].on)
    first, second = _registered("Tablet 1", theo, at), _registered("Tablet 2 (spare)", theo, at)
    pit = stop.request.system.components.filter(part_kind="pit", out_on__isnull=True).order_by("pk").first()
    begun = at - timedelta(minutes=50)
    typed: list[tuple[UUID, str, str, dict[str, Any]]] = [
        (first, "begun", "begun", {}),
        (first, "answer", "answer:room-temperature:0", {"number": "58", "unit": "degF"}),
        (first, "answer", "answer:mould:0", {"condition": "watch", "text": "A grey patch behind the shelf"}),
        (second, "answer", "answer:mould:0", {"condition": "good"}),
    ]
    if pit is not None:
        typed.append((first, "answer", f"answer:pit-silt:{pit.pk}", {"number": "0.5", "unit": "in"}))
    for number, (device, kind, field, value) in enumerate(typed):
        raw = _text(stop, device, theo, kind, field, value, begun + timedelta(minutes=3 * number))
        _hand_in(raw, device, theo, at)
    _hand_in(_text(stop, first, theo, "smell", "smell:0", {"text": "musty"}, begun), first, theo, at)
    heard_from(device_id=first, person=theo, at=at, key_id=None, waiting=6, client="demo")
    apply_visit(appointment_id=stop.pk, at=at)


def _registered(name: str, person: User, at: datetime) -> UUID:
    device = uuid5(NAMES, name)
    register_device(device_id=device, name=name, about={}, person=person, at=at - timedelta(days=20))
    checks = [{"code": code, "ok": ok or name != "Tablet 1", "sentence": sentence} for code, ok, sentence in READY]
    checks = [check for check in checks if check["code"] != "clock" or name == "Tablet 1"]
    keep_ready_check(device_id=device, checks=checks, person=person, at=at - timedelta(hours=2))
    return device


def _text(
    stop: Appointment, device: UUID, person: User, kind: str, field: str, value: dict[str, Any], moment: datetime
) -> str:
    fast = timedelta(minutes=7)
    return json.dumps(
        {
            "v": 1,
            "id": str(uuid5(NAMES, f"{device}{field}")),
            "visit": str(stop.pk),
            "device": str(device),
            "actor": person.pk,
            "kind": kind,
            "field": field,
            "value": value,
            "bases": [],
            "at": (moment + fast).isoformat(),
            "zone": "America/New_York",
            "mono": 0,
            "clock_off": fast.total_seconds() * 1000,
        }
    )


def _hand_in(raw: str, device: UUID, person: User, at: datetime) -> None:
    item = {"id": json.loads(raw)["id"], "raw": raw, "sha256": hashlib.sha256(raw.encode()).hexdigest()}
    take_items(items=[item], sender=Sender(person=person, device_id=device), at=at)
