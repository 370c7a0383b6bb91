"""One stop of the pack: the house, its parts, what was found last, and the lines that are asked there."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any
from urllib.parse import quote

from contractor.checkups.figures import FLOW_FORMULAS
from contractor.checkups.models import Answer, Finding
from contractor.checkups.rules.items import TIMED_FORMULAS, Item
from contractor.checkups.rules.walk import Line, Part, diameter_m, pit_of
from contractor.core import clock
from contractor.core.units import display_unit, from_si, shown
from contractor.estimates.models import LifeEstimate
from contractor.properties.models import Property
from contractor.systems.drawing import DrawnPart, section_drawing
from contractor.systems.models import Component
from contractor.tablet.rules.heads import Heads
from contractor.visits.models import Appointment

DESCRIPTION = "A section through the basement wall with the installed parts and their condition."


@dataclass(frozen=True, slots=True, kw_only=True)
class Around:
    """What one stop's part of the pack is made of."""

    on: date
    units: str
    parts: Sequence[Component]
    conditions: Mapping[int, tuple[str, str]]
    estimates: Sequence[LifeEstimate]
    findings: Sequence[Finding]
    edition: str
    lines: Sequence[Line]
    placed: Sequence[Part]
    last: Mapping[tuple[str, int | None], Answer]
    events: Sequence[str]
    heads: Heads
    is_finished: bool

    def condition(self, component_id: int) -> tuple[str, str]:
        """Word and sentence of a part: as found, or "watch" where its replace-by date has come."""
        word, sentence = self.conditions.get(component_id, ("unknown", ""))
        due = next((one for one in self.estimates if one.component_id == component_id), None)
        if due is not None and due.replace_by <= self.on and word in {"good", "unknown"}:
            return "watch", f"Past its replace-by date, {_words(due.replace_by)}."
        return word, sentence


class Pieces:
    """The elements of the drawings, each kept once: twelve basements differ in little."""

    def __init__(self) -> None:
        self._places: dict[str, int] = {}

    def places_of(self, svg: str) -> list[int]:
        """Where in ``all`` the elements of a drawing stand; joined in this order they are the drawing again."""
        return [self._places.setdefault(piece, len(self._places)) for piece in re.findall(r"<[^<]*", svg)]

    @property
    def all(self) -> list[str]:
        return list(self._places)


def stop_of(stop: Appointment, around: Around, pieces: Pieces) -> dict[str, Any]:
    """The stop as plain data."""
    request, house = stop.request, stop.request.system.property
    return {
        "visit": str(stop.pk),
        "day": stop.on.isoformat(),
        "stop": stop.stop_number,
        "kind": request.kind,
        "kind_word": request.get_kind_display(),
        "state": "finished" if around.is_finished else stop.state,
        "window": _window(stop),
        "minutes": request.minutes,
        "reason": request.reason,
        "carry": request.all_carried,
        "has_checklist": bool(around.edition),
        "checklist": around.edition,
        "house": _house(house, stop),
        "estimates": [
            {
                "component": one.component_id,
                "sentence": one.reason,
                "replace_by": one.replace_by.isoformat(),
                "due": one.replace_by <= around.on,
            }
            for one in around.estimates
        ],
        "findings": [_finding(one) for one in around.findings],
        "drawing": pieces.places_of(_drawing(stop, around)),
        "parts": [_part(one, around) for one in around.parts],
        "lines": [_line(one, around) for one in around.lines],
        "heads": {field: [str(one.id) for one in found] for field, found in around.heads.items()},
        "events": list(around.events),
    }


def _window(stop: Appointment) -> list[str] | None:
    if stop.arrive_from is None or stop.arrive_until is None:
        return None
    return [f"{stop.arrive_from:%H:%M}", f"{stop.arrive_until:%H:%M}"]


def _house(house: Property, stop: Appointment) -> dict[str, Any]:
    owners = getattr(house, "present_ownerships", [])
    owner = owners[0].person if owners else None
    asked = quote(house.address_line)
    where = f"{house.latitude},{house.longitude}" if house.latitude is not None else "0,0"
    return {
        "address": [house.street_line, f"{house.city}, {house.state} {house.postcode}"],
        "map": f"geo:{where}?q={asked}",
        "access": house.access_notes,
        "owner": {"name": owner.name if owner else "", "phone": owner.phone if owner else ""},
        "label": f"{house.street_line}, {stop.request.system.name}",
    }


def _finding(row: Finding) -> dict[str, Any]:
    return {
        "id": str(row.pk),
        "component": row.component_id or 0,
        "severity": row.severity,
        "what": row.what,
        "what_to_do": row.what_to_do,
        "since": clock.day_of(row.raised_at).isoformat(),
    }


def _drawing(stop: Appointment, around: Around) -> str:
    parts = []
    for one in around.parts:
        word, sentence = around.condition(one.pk)
        note = sentence if word in {"watch", "bad"} else ""
        label = str(one.model or one.kind.word.capitalize())
        parts.append(DrawnPart(kind=one.part_kind, label=label, condition=word, note=note, key=str(one.pk)))
    drawing = section_drawing(
        parts,
        title=f"The system at {stop.request.system.property.street_line}",
        description=DESCRIPTION,
        prefix=f"visit-{stop.pk}",
        compact=True,
    )
    # The parts stand beside the drawing as a list, so it need not say them aloud once more.
    return re.sub(r"(<desc [^>]*>)[^<]*", rf"\g<1>{DESCRIPTION}", drawing)


def _part(one: Component, around: Around) -> dict[str, Any]:
    word, sentence = around.condition(one.pk)
    return {
        "id": one.pk,
        "kind": one.part_kind,
        "word": one.kind.word,
        "label": str(one.model or one.kind.word.capitalize()),
        "model": one.model_id,
        "serial": one.serial_number,
        "place": one.place,
        "in_on": one.in_on.isoformat(),
        "condition": word,
        "note": sentence if word in {"watch", "bad"} else "",
    }


def _line(line: Line, around: Around) -> dict[str, Any]:
    component = int(line.part.component_id) if line.part else 0
    earlier = around.last.get((line.item.code, component or None))
    told: dict[str, Any] = {
        "item": line.item.code,
        "component": component,
    }
    if earlier is not None:
        told["last"] = _last(earlier, line.item, around.units)
    if line.item.formula in TIMED_FORMULAS:
        pit = pit_of(line, around.placed)
        told["data"] = {"pit": int(pit.component_id) if pit else 0, "pit_diameter_m": diameter_m(pit)}
    return told


def _last(answer: Answer, item: Item, units: str) -> dict[str, Any]:
    """What was said last time: in words, and as a number in the unit that people read."""
    unit = display_unit("flow", units) if item.formula in FLOW_FORMULAS else item.unit(units) or "count"
    value_si = answer.value_si
    if value_si is None and item.formula not in FLOW_FORMULAS:
        value_si = answer.seconds if item.kind == "timed_test" else answer.number_si
    is_number = item.kind in {"measurement", "timed_test", "count"} and value_si is not None
    figure = shown(value_si, unit) if is_number and value_si is not None else answer.text
    told = {"text": ", ".join(filter(None, (figure, answer.verdict))), "on": answer.checkup.done_on.isoformat()}
    if is_number and value_si is not None:
        told |= {"number": f"{from_si(value_si, unit):.10g}", "unit": unit}
    return told


def _words(on: date) -> str:
    return f"{on:%B} {on.day}, {on.year}"
