"""What the value of an event says, put into the words that the actions of a check-up take.

A device writes its values itself, so nothing here is believed: text is cut to what fits, numbers are looked at, and
what can't be read raises Unreadable with a sentence for the office.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from math import isfinite
from typing import Any, Final
from uuid import UUID

from contractor.tablet.errors import Unreadable
from contractor.tablet.rules.events import TabletEvent

CONDITIONS: Final = ("", "good", "watch", "bad", "not_possible")
SEVERITIES: Final = ("watch", "bad", "urgent")
SIGNATURES: Final = ("drawn", "typed", "nobody_home")
MOST_POINTS: Final = 20_000
MOST_SECONDS: Final = 24 * 3600.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where something was said: an item's code ("" for none) and a part: its number, the name of a swap, or None."""

    item: str
    component: int | None = None
    swap: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """An answer to one line, as ``record_answer`` takes it."""

    condition: str
    typed: str
    unit: str
    seconds: float | None
    text: str
    because: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """A photo: its number, the hash of its bytes, and what it shows."""

    id: UUID
    sha256: str
    place: Place
    finding: str
    caption: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """A finding, and whether it was put right on the spot."""

    severity: str
    what: str
    what_to_do: str
    place: Place
    done: bool
    done_note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Swapped:
    """A part that was taken out, and what went in."""

    place: Place
    model: int | None
    serial: str
    because: str
    failed: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Signed:
    """The owner's word. Strokes are lists of points between 0 and 1."""

    kind: str
    name: str
    strokes: tuple[tuple[tuple[float, float], ...], ...]


def place_of_field(field: str) -> Place:
    """The line that an answer speaks about, from ``answer:<item>:<part>``."""
    _, item, component = field.split(":", 2)
    return _place(item, component)


def answer_of(event: TabletEvent) -> Said:
    """An answer's words. Raises Unreadable."""
    value = event.value or {}
    condition = text_of(value, "condition", 20)
    if condition not in CONDITIONS:
        raise Unreadable("wrong_answer", f"“{condition}” is no answer.")
    return Said(
        condition=condition,
        typed=text_of(value, "number", 40),
        unit=text_of(value, "unit", 20),
        seconds=_seconds(value.get("seconds")),
        text=text_of(value, "text", 2000),
        because=text_of(value, "because", 500),
    )


def photo_of(event: TabletEvent) -> Taken:
    """A photo's words. Raises Unreadable."""
    value = event.value or {}
    sha256 = text_of(value, "sha256", 64)
    if len(sha256) != 64:
        raise Unreadable("wrong_photo", "A photo came without the hash of its bytes.")
    return Taken(
        id=UUID(event.field.partition(":")[2]),
        sha256=sha256,
        place=_place(text_of(value, "item", 60), value.get("component")),
        finding=text_of(value, "finding", 36),
        caption=text_of(value, "caption", 200),
    )


def finding_of(event: TabletEvent) -> Found:
    """A finding's words. Raises Unreadable."""
    value = event.value or {}
    severity = text_of(value, "severity", 10)
    if severity not in SEVERITIES:
        raise Unreadable("wrong_finding", f"“{severity}” does not say how grave a finding is.")
    return Found(
        severity=severity,
        what=text_of(value, "what", 1000),
        what_to_do=text_of(value, "what_to_do", 1000),
        place=_place(text_of(value, "item", 60), value.get("component")),
        done=value.get("done") is True,
        done_note=text_of(value, "done_note", 500),
    )


def swap_of(event: TabletEvent) -> Swapped:
    """A swap's words. Raises Unreadable."""
    value = event.value or {}
    place = _place("", value.get("component"))
    if place.component is None and not place.swap:
        raise Unreadable("wrong_swap", "A swap does not say which part came out.")
    model = value.get("model")
    return Swapped(
        place=place,
        model=model if isinstance(model, int) and not isinstance(model, bool) and 0 < model < 10**15 else None,
        serial=text_of(value, "serial", 60),
        because=text_of(value, "because", 500),
        failed=value.get("failed") is True,
    )


def signature_of(event: TabletEvent) -> Signed:
    """A signature's words. Raises Unreadable."""
    value = event.value or {}
    kind = text_of(value, "kind", 20)
    if kind not in SIGNATURES:
        raise Unreadable("wrong_signature", "It does not say how the owner signed.")
    return Signed(kind=kind, name=text_of(value, "name", 160), strokes=strokes_of(value.get("strokes")))


def strokes_of(value: Any) -> tuple[tuple[tuple[float, float], ...], ...]:
    """Strokes of points between 0 and 1; what is no stroke is left out. Raises Unreadable over 20,000 points."""
    strokes, points = [], 0
    for stroke in value if isinstance(value, list) else []:
        read = [point for one in (stroke if isinstance(stroke, list) else []) if (point := _point(one)) is not None]
        points += len(read)
        if points > MOST_POINTS:
            raise Unreadable("wrong_signature", f"The signature has more than {MOST_POINTS:,} points.")
        if read:
            strokes.append(tuple(read))
    return tuple(strokes)


def text_of(value: Mapping[str, Any], name: str, most: int) -> str:
    """A text of a value, cut to what fits, without what no database takes (a zero byte, half a character)."""
    found = value.get(name)
    if not isinstance(found, str):
        return ""
    return "".join(sign for sign in found[:most] if sign != "\x00" and not 0xD800 <= ord(sign) <= 0xDFFF).strip()


def _place(item: str, component: Any) -> Place:
    text = str(component) if isinstance(component, str | int) and not isinstance(component, bool) else "0"
    if text.startswith("swap:"):
        return Place(item=item, swap=text[:41])
    is_number = text.isascii() and text.isdecimal() and len(text) <= 18
    return Place(item=item, component=(int(text) or None) if is_number else None)


def _seconds(value: Any) -> float | None:
    if value in (None, ""):
        return None
    try:
        seconds = float(value) if isinstance(value, str | int | float) and not isinstance(value, bool) else -1.0
    except (ValueError, OverflowError):
        seconds = -1.0
    if not 0 <= seconds <= MOST_SECONDS:  # also false for a NaN
        raise Unreadable("wrong_answer", "The seconds of a timed test cannot be read.")
    return seconds


def _point(value: Any) -> tuple[float, float] | None:
    try:
        x, y = (float(share) for share in value)
    except (TypeError, ValueError, OverflowError):
        return None
    if not (isfinite(x) and isfinite(y)):
        return None
    return round(min(max(x, 0.0), 1.0), 4), round(min(max(y, 0.0), 1.0), 4)
