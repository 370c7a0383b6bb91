"""What was entered for one line, read and checked: text as typed becomes a reading that the rules can judge."""

from dataclasses import dataclass

from contractor.checkups.errors import (
    BecauseMissing,
    ConditionMissing,
    NothingWritten,
    PhotoWanted,
    SecondsMissing,
)
from contractor.checkups.rules.items import Item
from contractor.checkups.rules.verdicts import BAD, GOOD, NOT_POSSIBLE, WATCH
from contractor.core.errors import Refusal
from contractor.core.units import UNITS, parse


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One answer's columns; the number is in the base unit of the item's quantity, beside what was typed."""

    condition: str = ""
    number_si: float | None = None
    seconds: float | None = None
    typed: str = ""
    unit: str = ""
    text: str = ""
    because: str = ""


def read_entry(
    item: Item,
    *,
    condition: str = "",
    typed: str = "",
    unit: str = "",
    seconds: float | None = None,
    text: str = "",
    because: str = "",
) -> Entry:
    """The entry for an item of a kind, with everything that this kind doesn't ask for left out.

    ``unit`` is a unit code of the item's quantity. Raises BecauseMissing, ConditionMissing, SecondsMissing,
    NothingWritten, PhotoWanted, or UnreadableMeasurement with the sentence that says how to type it.
    """
    because = because.strip()
    if condition == NOT_POSSIBLE:
        if not because:
            raise BecauseMissing
        return Entry(condition=NOT_POSSIBLE, because=because)
    if item.kind == "check":
        if condition not in {GOOD, WATCH, BAD}:
            raise ConditionMissing
        return Entry(condition=condition, text=text.strip(), because=because)
    if item.kind == "photo":
        raise PhotoWanted
    if item.kind == "note":
        if not text.strip():
            raise NothingWritten
        return Entry(text=text.strip())
    if item.kind == "timed_test" and (seconds is None or seconds <= 0):
        raise SecondsMissing
    if item.kind == "timed_test" and item.formula is None:
        return Entry(seconds=seconds, typed=f"{seconds:g}", unit="s", because=because)
    return _measured(item, typed, unit, seconds if item.kind == "timed_test" else None, because)


def _measured(item: Item, typed: str, unit: str, seconds: float | None, because: str) -> Entry:
    if unit not in UNITS or UNITS[unit].quantity != item.quantity:
        unit = item.unit_us or ""
    try:
        number = parse(typed, unit)
    except Refusal as refusal:
        refusal.field = "typed"
        raise
    return Entry(
        number_si=number.si, seconds=seconds, typed=typed.strip()[:40], unit=number.unit, because=because
    )
