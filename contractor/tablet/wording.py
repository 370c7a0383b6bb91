"""Events in words that the office reads: what they are about, what they say, what is to be known about them."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from contractor.core.units import UNITS
from contractor.systems.models import Component
from contractor.tablet.rules.events import TabletEvent
from contractor.tablet.rules.said import text_of

FIELDS: Final = {
    "begun": "Beginning",
    "signature": "The owner’s signature",
    "summary": "Note",
    "could_not": "Could not be done",
    "finish": "Finishing",
    "": "",
}
CONDITIONS: Final = {"good": "good", "watch": "worth watching", "bad": "bad", "not_possible": "not possible"}
FLAGS: Final = {
    "late:cancelled": "came after the visit was called off",
    "late:could_not": "came after the visit was noted as not done",
    "late:done": "came after the visit was done",
    "late:finished": "came after the check-up was finished",
    "late:reassigned": "the visit belongs to somebody else now",
    "late:moved": "the visit has another day now",
    "vouched:foreign": "the office vouched: never sent to this house",
    "vouched:unproven": "the office vouched: never signed in on that tablet",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Wording:
    """Prompts by the code of their item, and the parts of the house."""

    items: Mapping[str, str]
    parts: Mapping[int, Component]

    def about(self, field: str) -> str:
        """What a field is about."""
        kind, _, rest = field.partition(":")
        if kind in {"answer", "timer"}:
            item, _, part = rest.partition(":")
            prompt = self.items.get(item, item).rstrip(".")
            return ", ".join(filter(None, (prompt, self._part(part))))
        return {"photo": "Photo", "finding": "Finding", "swap": "Swap"}.get(kind) or FIELDS.get(field, field)

    def value(self, event: TabletEvent) -> str:
        """What an event says."""
        if event.value is None:
            return "taken back"
        said = event.value
        words = [CONDITIONS.get(text_of(said, "condition", 20), "")]
        if number := text_of(said, "number", 40):
            unit = UNITS.get(text_of(said, "unit", 20))
            words.append(f"{number} {unit.symbol if unit else ''}".strip())
        if seconds := text_of(said, "seconds", 20):
            words.append(f"{seconds} s")
        words += [text_of(said, name, 500) for name in ("text", "because", "what", "caption", "serial", "name")]
        if event.kind == "swap":
            words.insert(0, f"out: {self._part(str(said.get('component', '')))}")
        if event.kind == "signature":
            words.insert(0, {"drawn": "drawn", "typed": "typed", "nobody_home": "nobody at home"}.get(
                text_of(said, "kind", 20), ""
            ))
        if event.kind == "finish":
            words.append(f"{len(said.get('heads') or ())} things, {len(said.get('photos') or ())} photos")
        return ", ".join(filter(None, words)) or "noted"

    def flag(self, flag: str) -> str:
        """What is to be known about an event."""
        return FLAGS.get(flag, flag)

    def _part(self, name: str) -> str:
        if name.startswith("swap:"):
            return "the new part"
        part = self.parts.get(int(name)) if name.isascii() and name.isdecimal() and len(name) < 19 else None
        return str(part) if part else ""
