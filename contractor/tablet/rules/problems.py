"""Why a visit is not a finished check-up yet, in sentences for the office and the tablet."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Any, Final
from uuid import UUID

from contractor.tablet.rules.events import TabletEvent
from contractor.tablet.rules.finish import changed_after_signature, wanted_by
from contractor.tablet.rules.heads import Heads, conflicts_of, standing

# What only more of the tablet's own data can end; nobody in the office has to do anything about it.
WAITS: Final = "wanted"
# A picture that can't be shown is told, and keeps no visit open: whether one is missing says the checklist.
PICTURE: Final = "photo"
STILL_COMING: Final = "Some of it is still on the tablet: the visit is finished when the tablet has sent everything."


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """One thing that keeps a visit open; ``field`` names what it is about when it is one field."""

    code: str
    sentence: str
    field: str = ""

    @property
    def is_for_office(self) -> bool:
        """Whether somebody at the desk has to do something."""
        return self.code not in {WAITS, PICTURE}

    def as_data(self) -> dict[str, str]:
        return {"code": self.code, "sentence": self.sentence, "field": self.field}


def before_finishing(
    heads: Heads,
    events: Mapping[UUID, TabletEvent],
    photos: Mapping[str, str],
    *,
    may_be_unsigned: bool,
) -> list[Problem]:
    """What speaks against finishing, by the events alone; empty also when nobody has said that it is finished."""
    finish = standing(heads, "finish")
    found = [_conflict(field, len(sides)) for field, sides in conflicts_of(heads).items()]
    if finish is None:
        return found
    if wanted_by(finish, events, photos):
        found.append(Problem(code=WAITS, sentence=STILL_COMING))
    if not may_be_unsigned and not found:
        found += _unsigned(heads, events)
    return found


def _conflict(field: str, sides: int) -> Problem:
    many = {2: "Two answers stand"}.get(sides, f"{sides} answers stand")
    return Problem(code="conflict", sentence=f"{many} side by side. Choose the one that holds.", field=field)


def _unsigned(heads: Heads, events: Mapping[UUID, TabletEvent]) -> list[Problem]:
    signature = standing(heads, "signature")
    if signature is None:
        sentence = "The owner has not signed, and nobody said that no one was at home."
        return [Problem(code="not_signed", sentence=sentence, field="signature")]
    value: Mapping[str, Any] = signature.value or {}
    if value.get("kind") == "nobody_home":
        return []
    changed: Collection[UUID] = changed_after_signature(heads, signature, events)
    if not changed:
        return []
    things = "1 thing was" if len(changed) == 1 else f"{len(changed)} things were"
    sentence = f"{things} changed after the owner signed. Let them sign once more, or finish it without."
    return [Problem(code="changed_since_signed", sentence=sentence, field="signature")]
