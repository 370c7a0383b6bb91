"""What an event is: read from the device's own text, whatever version of the page wrote it.

``read_event`` checks only what is needed to keep an event and find it again. What its value says is looked at later,
when the visit becomes a check-up: a wrong value is a thing to ask about, never a reason to lose it.
"""

import json
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from math import isfinite
from typing import Any, Final
from uuid import UUID

from contractor.tablet.errors import Unreadable

LATEST: Final = 1
MOST_CHARACTERS: Final = 1_000_000
MOST_BASES: Final = 500
# No tablet's clock is off by more and still means anything.
MOST_CLOCK_OFF_MS: Final = 20 * 365 * 24 * 3600 * 1000.0

_UUID: Final = r"[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}"
_PART: Final = rf"(?:[0-9]{{1,18}}|swap:{_UUID})"
_LINE: Final = rf"[A-Za-z0-9_-]{{1,60}}:{_PART}"
# Which field each kind of event speaks about.
FIELDS: Final[dict[str, re.Pattern[str]]] = {
    "begun": re.compile(r"begun"),
    "answer": re.compile(rf"answer:{_LINE}"),
    "timer": re.compile(rf"timer:{_LINE}"),
    "photo": re.compile(rf"photo:{_UUID}"),
    "finding": re.compile(rf"finding:{_UUID}"),
    "swap": re.compile(rf"swap:{_UUID}"),
    "signature": re.compile(r"signature"),
    "note": re.compile(r"summary"),
    "could_not": re.compile(r"could_not"),
    "finish": re.compile(r"finish"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class TabletEvent:
    """One event as everything above reads it, in the latest version.

    ``at`` is the device's own time; ``clock_off_ms`` how far it was ahead of the server when it last knew, None when
    it did not. ``value`` None takes back what was said.
    """

    id: UUID
    version: int
    visit: int
    device: UUID
    actor: int
    kind: str
    field: str
    value: Mapping[str, Any] | None
    bases: tuple[UUID, ...]
    at: datetime
    zone: str = ""
    clock_off_ms: float | None = None

    @property
    def moment(self) -> datetime:
        """The device's time put right by what it knew of its clock's error."""
        if self.clock_off_ms is None:
            return self.at
        return self.at - timedelta(milliseconds=self.clock_off_ms)


Upcaster = Callable[[dict[str, Any]], dict[str, Any]]
# From each version that was ever released to the one after it. Kept for ever: a tablet may come out of a drawer.
UPCASTERS: Final[dict[int, Upcaster]] = {}


def read_event(raw: str) -> TabletEvent:
    """The event that a device wrote. Raises Unreadable with the reason in a word and in a sentence."""
    body = _body(raw)
    version = body.get("v")
    if isinstance(version, bool) or not isinstance(version, int) or version < 1:
        raise Unreadable("no_version", "It does not say which version of the tablet's page wrote it.")
    if version > LATEST:
        raise Unreadable(
            "newer_version",
            f"It was written by a newer version of the tablet's page ({version}) than this server reads ({LATEST}). "
            "Update the server, then hand it in again.",
        )
    for known in range(version, LATEST):
        body = UPCASTERS[known](body)
    kind, field = body.get("kind"), body.get("field")
    if not isinstance(kind, str) or kind not in FIELDS:
        raise Unreadable("unknown_kind", f"It is of a kind that this server does not know: {_short(kind)}.")
    if not isinstance(field, str) or not FIELDS[kind].fullmatch(field):
        raise Unreadable("wrong_field", f"“{_short(field)}” is nothing that a {kind.replace('_', ' ')} speaks about.")
    return TabletEvent(
        id=_uuid(body, "id"),
        version=version,
        visit=_visit(body.get("visit")),
        device=_uuid(body, "device"),
        actor=_number(body.get("actor"), "actor"),
        kind=kind,
        field=field,
        value=_value(body),
        bases=_bases(body.get("bases")),
        at=_moment(body.get("at")),
        zone=_text(body.get("zone"))[:60],
        clock_off_ms=_clock_off(body.get("clock_off")),
    )


def claimed_id(raw: str) -> str:
    """The id that a text says it has, as far as that can be read; for finding its better copy later."""
    try:
        return str(UUID(_body(raw)["id"]))
    except (Unreadable, KeyError, ValueError, TypeError, AttributeError):
        return ""


def _body(raw: str) -> dict[str, Any]:
    if len(raw) > MOST_CHARACTERS:
        raise Unreadable("too_long", f"It has {len(raw):,} characters, where {MOST_CHARACTERS:,} are the most.")
    try:
        raw.encode()
        body = json.loads(raw, parse_constant=_refuse_constant)
    except (ValueError, RecursionError):
        raise Unreadable("no_json", "Its text cannot be read as JSON.") from None
    if not isinstance(body, dict):
        raise Unreadable("no_object", "Its text is JSON, but no event.")
    if "\x00" in raw:
        raise Unreadable("zero_byte", "Its text holds a zero byte, which no text may.")
    return body


def _refuse_constant(word: str) -> None:
    raise ValueError(word)


def _uuid(body: Mapping[str, Any], name: str) -> UUID:
    text = body.get(name)
    if not isinstance(text, str) or not re.fullmatch(_UUID, text):
        raise Unreadable(f"wrong_{name}", f"Its {name} is no identifier: {_short(text)}.")
    return UUID(text)


def _visit(value: Any) -> int:
    if not isinstance(value, str) or not re.fullmatch(r"[1-9][0-9]{0,17}", value):
        raise Unreadable("wrong_visit", f"It names no visit: {_short(value)}.")
    return int(value)


def _number(value: Any, name: str) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or not 0 < value < 10**18:
        raise Unreadable(f"wrong_{name}", f"It does not say who typed it: {_short(value)}.")
    return value


def _value(body: Mapping[str, Any]) -> Mapping[str, Any] | None:
    if "value" not in body or not (body["value"] is None or isinstance(body["value"], dict)):
        raise Unreadable("wrong_value", "It does not hold what was said in a form that can be read.")
    return body["value"]


def _bases(value: Any) -> tuple[UUID, ...]:
    if not isinstance(value, list) or len(value) > MOST_BASES:
        raise Unreadable("wrong_bases", "It does not say which earlier answers it takes the place of.")
    if not all(isinstance(base, str) and re.fullmatch(_UUID, base) for base in value):
        raise Unreadable("wrong_bases", "What it takes the place of is named by something that is no identifier.")
    return tuple(UUID(base) for base in value)


def _moment(value: Any) -> datetime:
    try:
        moment = datetime.fromisoformat(value)
        # Also refuses the first and last day of the calendar, which no other zone can show.
        if moment.tzinfo is not None and 1971 < moment.year < 9000:
            return moment
    except (ValueError, TypeError, OverflowError):
        pass
    raise Unreadable("wrong_time", f"Its time cannot be read: {_short(value)}.")


def _clock_off(value: Any) -> float | None:
    if isinstance(value, bool) or not isinstance(value, int | float):
        return None
    try:
        off = float(value)
    except OverflowError:
        return None
    return off if isfinite(off) and abs(off) <= MOST_CLOCK_OFF_MS else None


def _text(value: Any) -> str:
    return value if isinstance(value, str) else ""


def _short(value: Any) -> str:
    """A few characters of whatever it is, fit to be shown and stored."""
    text = value if isinstance(value, str) else json.dumps(value, default=str)
    shown = "".join(sign if sign.isprintable() else "�" for sign in text[:40])
    return shown or "nothing"
