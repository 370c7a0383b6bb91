"""An edition of the checklist as the desk reads it, and as a file that can be changed and brought back.

Reads only. Limits are told in the units of the company.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Any

from contractor.checkups.lines import ITEM_FIELDS, NULL_WHEN_EMPTY, item_of
from contractor.checkups.models import Checklist, ChecklistItem
from contractor.checkups.rules.items import STEPS, TIMED_FORMULAS, AcceptedValues, Item, walking_order
from contractor.checkups.rules.verdicts import shown_apart
from contractor.core.units import UNITS, display_unit, shown
from contractor.systems.declared import FIELDS
from contractor.systems.part_kinds import BY_CODE

FORMULA_WORDS = {
    "pit_rise_inflow": "The flow that runs in is computed from the rise, the time and the pit's diameter.",
    "pump_down_flow": (
        "The pump's flow is computed from the fall, the time, the pit's diameter and what runs in meanwhile. "
        "It must also clearly exceed what runs in."
    ),
    "load_test": "The least voltage under load follows from the temperature in the basement.",
    "gravity": "The reading is corrected to 80 °F (26.7 °C) before it is judged.",
}
# What a verdict proposes when the item itself says nothing.
LOOK_AGAIN = "Look again at the next check-up."
PHOTO_WORDS = {"never": "None is asked for.", "when_bad": "When something is wrong.", "always": "Always."}


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """What makes a condition, and what is done about it."""

    condition: str
    range: str
    to_do: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ItemSheet:
    """One item with everything that it says; ``judged`` is how its number is judged where the bands don't say it."""

    row: ChecklistItem
    kind: str
    bands: tuple[Band, ...]
    judged: str
    photo: str
    asked_for: str


def walk_of(checklist: Checklist, units: str) -> list[tuple[str, list[ItemSheet]]]:
    """The steps of an edition with their items in walking order; ``units`` is "US" or "metric"."""
    pairs = sorted(((item_of(row), row) for row in checklist.items.all()), key=lambda pair: walking_order(pair[0]))
    sheets = [(item.step, _sheet(item, row, units)) for item, row in pairs]
    return [(STEPS[code], [sheet for _, sheet in group]) for code, group in groupby(sheets, key=lambda pair: pair[0])]


def as_data(checklist: Checklist) -> dict[str, Any]:
    """An edition in the form that ``add_checklist`` takes, its items in walking order."""
    rows = sorted(checklist.items.all(), key=lambda row: walking_order(item_of(row)))
    return {"name": checklist.name, "edition": checklist.edition, "items": [_as_data(row) for row in rows]}


def _as_data(row: ChecklistItem) -> dict[str, Any]:
    values = {name: getattr(row, name) for name in ITEM_FIELDS}
    return {name: None if name in NULL_WHEN_EMPTY and value == "" else value for name, value in values.items()}


def _sheet(item: Item, row: ChecklistItem, units: str) -> ItemSheet:
    return ItemSheet(
        row=row,
        kind=_kind(item, row, units),
        bands=tuple(_bands(item, units)),
        judged=_judged(item),
        photo=PHOTO_WORDS[item.photo],
        asked_for=_asked_for(item),
    )


def _kind(item: Item, row: ChecklistItem, units: str) -> str:
    """What is answered, with the unit in which it is typed: "Measurement in volts"."""
    unit = item.unit(units)
    words = f"{row.get_kind_display()} in {UNITS[unit].word}" if unit and unit not in {"count", "SG"} else ""
    if item.kind == "timed_test" and item.formula:
        words += " and seconds"
    return (words or row.get_kind_display()) + ("" if item.required else ", may be left out")


def _judged(item: Item) -> str:
    if item.formula:
        return FORMULA_WORDS[item.formula]
    return "It has no limits: the number is recorded." if item.quantity and not _has_limits(item) else ""


def _has_limits(item: Item) -> bool:
    return item.good_low is not None or item.good_high is not None


def _bands(item: Item, units: str) -> Iterator[Band]:
    """The conditions of an item that is judged; nothing for a photo, a note and a number that is only recorded."""
    good, watch, bad = _ranges(item, judged_unit(item, units)) if _has_limits(item) else ("", "", "")
    if good:
        yield Band(condition="good", range=good, to_do="")
    if watch or item.kind == "check":
        yield Band(condition="watch", range=watch, to_do=item.when_watch or LOOK_AGAIN)
    if bad or item.kind == "check" or item.formula == "load_test":
        yield Band(condition="bad", range=bad, to_do=item.what_to_do)


def judged_unit(item: Item, units: str) -> str:
    """The unit of what an item's limits bound: for a timed test that makes a flow, that of the flow."""
    if item.formula in TIMED_FORMULAS:
        return display_unit("flow", units)
    return item.unit(units) or "count"


def _ranges(item: Item, unit: str) -> tuple[str, str, str]:
    """The values that are good, worth watching and bad, in words; "" where no value is."""
    good_low, watch_low = _edge(item.good_low, item.watch_low, unit)
    good_high, watch_high = _edge(item.good_high, item.watch_high, unit)
    watch = [f"{watch_low} to below {good_low}"] if watch_low else []
    watch += [f"above {good_high} up to {watch_high}"] if watch_high else []
    bad = [f"below {watch_low or good_low}"] if good_low else []
    bad += [f"above {watch_high or good_high}"] if good_high else []
    if good_low and good_high:
        good = f"{good_low} to {good_high}"
    else:
        good = f"{good_low} or more" if good_low else f"{good_high} or less"
    return good, ", or ".join(watch), ", or ".join(bad)


def _edge(good: float | None, watch: float | None, unit: str) -> tuple[str, str]:
    """The good limit of one side and the limit of watching beyond it, told apart; "" for one that isn't set."""
    if good is None:
        return "", ""
    if watch is None or watch == good:
        return shown(good, unit), ""
    return shown_apart(good, watch, unit)


def _asked_for(item: Item) -> str:
    if not item.part_kind:
        return "The house, once."
    # Sorted, because PostgreSQL keeps the keys of such data in an order of its own.
    conditions = [_condition(item.part_kind, key, accepted) for key, accepted in sorted(item.applies_to)]
    where = f" where {', and '.join(conditions)}" if conditions else ""
    return f"Every {BY_CODE[item.part_kind].word}{where}."


def _condition(part_kind: str, key: str, accepted: AcceptedValues) -> str:
    """What the catalogue must say of a part: "chemistry is Lead-acid, AGM or not recorded"."""
    field = next((field for field in FIELDS[part_kind] if field.name == key), None)
    words = dict(field.words) if field else {}
    values = [_value(value, words) for value in accepted]
    return f"“{field.label if field else key}” is {_either(values)}"


def _value(value: object, words: dict[str, str]) -> str:
    if value is None:
        return "not recorded"
    if isinstance(value, bool):
        return "yes" if value else "no"
    return words.get(str(value), str(value))


def _either(values: Sequence[str]) -> str:
    *first, last = values
    return f"{'; '.join(first)}; or {last}" if first else last
