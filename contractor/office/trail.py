"""The audit trail in words: who did what when, and what stood there before and after."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.utils import timezone

from contractor.accounts.models import User
from contractor.core.models import AuditEntry
from contractor.core.templatetags.country_style import foreign_hour
from contractor.core.templatetags.marks import short_day
from contractor.properties.models import Person
from contractor.systems.models import CatalogueModel
from contractor.systems.part_kinds import BY_CODE

# Keys that say where a row hangs, or repeat what the line says anyway.
SILENT = frozenset(
    {
        "id",
        "address_key",
        "by_street",
        "created_at",
        "property_id",
        "system_id",
        "warranty_id",
        "checkup_id",
        "checklist_id",
        "ownership_id",
        "position_source",
        "replaces_id",
        "supersedes_id",
        "token",
        "occasion",
        "template",
        "appointment_id",
        "calendar_uid",
        "calendar_sequence",
        "strokes",
        "password",
        "facts",
    }
)
LABELS = {
    "access_notes": "Access",
    "because": "Reason",
    "by_id": "By",
    "closing_on": "Closing day",
    "done_on": "Done on",
    "failed": "Had failed",
    "from_on": "From",
    "has_channel": "Channel",
    "has_liner": "Liner",
    "in_by_id": "Put in by",
    "in_on": "In since",
    "installed_on": "Installed on",
    "issued_on": "Issued on",
    "length_m": "Length in metres",
    "mail_address": "Letters go to",
    "minutes_taken": "Minutes at the house",
    "model_id": "Model",
    "number_si": "Measured",
    "office_note": "Note for the office",
    "on": "Day",
    "out_because": "Taken out because",
    "out_by_id": "Taken out by",
    "out_on": "Out on",
    "part_kind": "Part",
    "person_id": "Person",
    "postcode": "Postal code",
    "state": "State",
    "state_because": "Reason",
    "technician_id": "Technician",
    "unit": "Unit",
    "until_on": "Until",
    "wants_email": "Wants e-mail",
    "wants_texts": "Wants texts",
    "work_done": "What was done",
}
STAFF_KEYS = ("technician_id", "by_id", "in_by_id", "out_by_id", "made_by_id", "issued_by_id", "decided_by_id")
NAMED_BY: tuple[tuple[type[User] | type[Person] | type[CatalogueModel], tuple[str, ...]], ...] = (
    (User, (*STAFF_KEYS, "done_by_id", "raised_by_id", "voided_by_id", "published_by_id", "recorded_by_id")),
    (Person, ("person_id", "buyer_id")),
    (CatalogueModel, ("model_id",)),
)
ACTORS = {"system": "The system", "staff": "Staff", "owner": "Owner", "asker": "Buyer or agent", "command": "A command"}
PAGE = 50


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One value that was written; ``before`` is empty for something new."""

    label: str
    before: str
    after: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TrailLine:
    """One entry as it is read."""

    number: int
    at: datetime
    who: str
    what: str
    changes: tuple[Change, ...]
    own_hash: str


def house_trail(*, property_id: int, most: int = PAGE, before_number: int | None = None) -> list[TrailLine]:
    """The latest entries of a house, newest first; those before a number for the next page.

    Four queries, however long the history.
    """
    entries = AuditEntry.objects.filter(stream=f"property:{property_id}").order_by("-number")
    if before_number is not None:
        entries = entries.filter(number__lt=before_number)
    page = list(entries[:most])
    names = _names(page)
    return [_line(entry, names) for entry in page]


def _line(entry: AuditEntry, names: Mapping[tuple[str, Any], str]) -> TrailLine:
    kind = entry.actor.partition(":")[0]
    return TrailLine(
        number=entry.number,
        at=entry.at,
        who=entry.personal.get("actor_name") or ACTORS.get(kind, entry.actor),
        what=entry.verb[:1].upper() + entry.verb[1:],
        changes=tuple(_changes(entry, names)),
        own_hash=entry.own_hash,
    )


def _halves(entry: AuditEntry) -> tuple[dict[str, Any], dict[str, Any]]:
    """Before and after with the personal half put back in."""
    before = {**entry.body.get("before", {}), **entry.personal.get("before", {})}
    after = {**entry.body.get("after", {}), **entry.personal.get("after", {})}
    return before, after


def _changes(entry: AuditEntry, names: Mapping[tuple[str, Any], str]) -> Iterable[Change]:
    before, after = _halves(entry)
    for key in dict.fromkeys((*before, *after)):
        if key in SILENT or key.endswith(("sha256", "_hash")):
            continue
        if after.get(key) is False and key not in before:
            continue  # of something new, only what it is; "had failed: no" says nothing
        old, new = _words(key, before.get(key), names), _words(key, after.get(key), names)
        if old or new:
            yield Change(label=_label(key), before=old, after=new)


def _label(key: str) -> str:
    words = key.removesuffix("_id").replace("_", " ")
    return LABELS.get(key, words[:1].upper() + words[1:])


def _words(key: str, value: Any, names: Mapping[tuple[str, Any], str]) -> str:
    if value is None or value in ("", [], {}):
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | str) and (key, value) in names:
        return names[key, value]
    if key == "part_kind" and value in BY_CODE:
        return BY_CODE[value].word
    if isinstance(value, str):
        return _day_or_text(key, value)
    if isinstance(value, list):
        return ", ".join(_words("", item, names) for item in value)
    if isinstance(value, dict):
        return ", ".join(f"{_label(name).lower()} {_words(name, item, names)}" for name, item in value.items())
    if isinstance(value, float):
        return f"{value:g}"
    return str(value)


def _day_or_text(key: str, value: str) -> str:
    if key == "on" or key.endswith("_on"):
        return short_day(date.fromisoformat(value))
    if key == "at" or key.endswith("_at"):
        local = timezone.localtime(datetime.fromisoformat(value))
        hour = foreign_hour(local.time()) or f"{local.hour % 12 or 12}:{local:%M %p}"
        return f"{short_day(local.date())}, {hour}"
    return value


def _names(entries: list[AuditEntry]) -> dict[tuple[str, Any], str]:
    """What the ids in these entries stand for: staff, people and models, in one query each."""
    found: dict[tuple[str, Any], str] = {}
    for model, keys in NAMED_BY:
        wanted = {half[key] for entry in entries for half in _halves(entry) for key in keys if half.get(key)}
        for row in model._default_manager.filter(pk__in=wanted):
            found.update({(key, row.pk): str(row) for key in keys})
    return found
