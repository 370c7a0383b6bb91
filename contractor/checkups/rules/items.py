"""What a checklist is made of: its items, and the reading of a checklist from plain data with every field checked.

The walk through the house is the list ``STEPS``. Limits are in the base unit of the item's quantity
(``contractor.core.units``): inside ``good_low``..``good_high`` is good; outside it but inside
``watch_low``..``watch_high`` is worth watching; outside both is bad. Limits belong to what they bound; None bounds
nothing. Where a formula computes the result (a flow from a timed test), the limits are those of the result.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from itertools import pairwise
from typing import Any, Final

from contractor.core.errors import Refusal
from contractor.core.units import UNITS
from contractor.systems.part_kinds import BY_CODE


class UnreadableChecklist(Refusal):
    """A checklist's data cannot be used; the sentence names the item and the field."""


STEPS: Final[dict[str, str]] = {
    "arrive": "Arrive",
    "room": "Room",
    "channel_and_liner": "Channel and liner",
    "pit": "Pit",
    "primary_pump": "Primary pump",
    "standby": "Standby pump and battery",
    "alarm": "Alarm",
    "containment_ring": "Containment ring",
    "discharge": "Discharge line and freeze-relief fitting",
    "talk_and_sign": "Talk and sign",
}
KINDS: Final = ("check", "measurement", "timed_test", "count", "photo", "note")
SEVERITIES: Final = ("watch", "bad", "urgent")
PHOTO_RULES: Final = ("never", "when_bad", "always")

# What a formula makes of a reading: the quantity of its result.
FORMULAS: Final[dict[str, str]] = {
    "pit_rise_inflow": "flow",
    "pump_down_flow": "flow",
    "load_test": "voltage",
    "gravity": "specific_gravity",
}
TIMED_FORMULAS: Final = ("pit_rise_inflow", "pump_down_flow")

# What later estimates remember of an answer, and under which name.
FEEDS: Final = (
    "basement.temperature_c",
    "basement.humidity",
    "pit.inflow_m3_s",
    "pump.flow_m3_s",
    "pump.current_a",
    "pump.run_hours",
    "pump.starts",
    "battery.rest_v",
    "battery.running_v",
    "battery.load_test_v",
    "battery.gravity",
    "battery.capacity_ah",
    "battery.deep_discharges",
    "charger.float_v",
    "freeze_relief.tested",
)

AcceptedValues = tuple[str | bool | None, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """One line of a checklist.

    ``part_kind`` is "" for the house itself. ``subject`` names in a few words what is judged, for sentences.
    ``unit_us`` and ``unit_metric`` are what the gauge shows; they are units of ``quantity``. ``when_watch`` is
    what to do when worth watching, ``what_to_do`` when bad. ``applies_to`` pairs a key of the component's
    catalogue data with the values it may have; None among them means "not recorded". ``source`` says where a
    limit comes from.
    """

    code: str
    part_kind: str
    step: str
    position: int
    kind: str
    prompt: str
    how: str
    subject: str = ""
    quantity: str | None = None
    unit_us: str | None = None
    unit_metric: str | None = None
    good_low: float | None = None
    good_high: float | None = None
    watch_low: float | None = None
    watch_high: float | None = None
    caution: str = ""
    consequence: str = ""
    when_watch: str = ""
    what_to_do: str = ""
    severity: str = "watch"
    photo: str = "never"
    required: bool = True
    formula: str | None = None
    applies_to: tuple[tuple[str, AcceptedValues], ...] = ()
    feeds: str | None = None
    source: str

    @property
    def name(self) -> str:
        """What a sentence calls the thing that is judged."""
        return self.subject or self.prompt.rstrip(".")

    def unit(self, system: str) -> str | None:
        """The unit in which a company on ``system`` ("US" or "metric") types the number."""
        return self.unit_us if system == "US" else self.unit_metric


_FIELDS: Final = {field.name for field in fields(Item)}
_MAY_BE_NULL: Final = ("quantity", "unit_us", "unit_metric", "formula", "feeds")
_NUMBERS: Final = ("good_low", "good_high", "watch_low", "watch_high")
_CHOICES: Final[dict[str, Sequence[str]]] = {
    "part_kind": ("", *BY_CODE),
    "step": tuple(STEPS),
    "kind": KINDS,
    "severity": SEVERITIES,
    "photo": PHOTO_RULES,
}
_MUST_BE_SAID: Final = ("code", "prompt", "how", "source")
_TEXTS: Final = (*_MUST_BE_SAID, "subject", "caution", "consequence", "when_watch", "what_to_do")


def read_checklist(data: Mapping[str, Any]) -> tuple[Item, ...]:
    """The items of a checklist given as plain data (``{"items": [{...}, ...]}``), in walking order.

    Raises ``UnreadableChecklist`` at the first thing that is wrong: one sentence naming the item and the field.
    """
    rows = data.get("items")
    if not isinstance(rows, list) or not rows:
        raise UnreadableChecklist("The checklist has no items: give a list of them under “items”.")
    items = tuple(read_item(row, f"number {number}") for number, row in enumerate(rows, start=1))
    _refuse_doubles(items)
    return tuple(sorted(items, key=walking_order))


def walking_order(item: Item) -> tuple[int, int]:
    """The place of an item in the walk: its step, then its position in that step."""
    return tuple(STEPS).index(item.step), item.position


def _wrong(name: str, field: str, what: str) -> UnreadableChecklist:
    return UnreadableChecklist(f"Item {name}, field “{field}”: {what}.", field=field)


def read_item(given: Any, name: str = "without a code") -> Item:
    """One item from plain data: a row of a checklist file or of the table. Empty text counts as null where null
    may stand. ``name`` names the item in a refusal when it has no code; raises ``UnreadableChecklist``.
    """
    if not isinstance(given, Mapping):
        raise UnreadableChecklist(f"Item {name} is not a set of fields.")
    row = {key: None if key in _MAY_BE_NULL and value == "" else value for key, value in given.items()}
    name = f"“{row['code']}”" if row.get("code") else name
    for field in row:
        if field not in _FIELDS:
            raise _wrong(name, field, "no item has a field of this name")
    for field in ("code", "part_kind", "step", "position", "kind", "prompt", "how", "source"):
        if field not in row:
            raise _wrong(name, field, "it is missing")
    _check_words(row, name)
    _check_plain_values(row, name)
    values: dict[str, Any] = {**row, "applies_to": _read_applies_to(row.get("applies_to"), name)}
    item = Item(**values)
    _check_measure(item, name)
    _check_formula(item, name)
    _check_limits(item, name)
    if item.severity != "watch" and not (item.consequence and item.what_to_do):
        missing = "consequence" if not item.consequence else "what_to_do"
        raise _wrong(name, missing, "an item that can be bad says what that means and what to do")
    return item


def _check_words(row: Mapping[str, Any], name: str) -> None:
    for field in _TEXTS:
        value = row.get(field, "")
        if not isinstance(value, str):
            raise _wrong(name, field, "it must be text")
        if field in _MUST_BE_SAID and not value.strip():
            raise _wrong(name, field, "it is empty")
    for field, allowed in _CHOICES.items():
        if field in row and row[field] not in allowed:
            words = ", ".join(word or "“” for the house" for word in allowed)
            raise _wrong(name, field, f"“{row[field]}” is none of {words}")


def _check_plain_values(row: Mapping[str, Any], name: str) -> None:
    position = row["position"]
    if not isinstance(position, int) or isinstance(position, bool) or position < 1:
        raise _wrong(name, "position", "it must be a whole number from 1")
    if not isinstance(row.get("required", True), bool):
        raise _wrong(name, "required", "it must be true or false")
    for field in _NUMBERS:
        value = row.get(field)
        if value is not None and (isinstance(value, bool) or not isinstance(value, int | float)):
            raise _wrong(name, field, "it must be a number or null")
    for field, known in (("formula", tuple(FORMULAS)), ("feeds", FEEDS)):
        if row.get(field) is not None and row[field] not in known:
            raise _wrong(name, field, f"“{row[field]}” is none of {', '.join(known)}")


def _read_applies_to(given: Any, name: str) -> tuple[tuple[str, AcceptedValues], ...]:
    if given is None:
        return ()
    if not isinstance(given, Mapping) or not all(isinstance(v, list) and v for v in given.values()):
        raise _wrong(name, "applies_to", "it must name a key of the part's data and a list of its values")
    return tuple((str(key), tuple(values)) for key, values in given.items())


def _check_measure(item: Item, name: str) -> None:
    """A number has a quantity and a unit for either kind of company; anything else has none."""
    needs = item.kind in {"measurement", "timed_test", "count"}
    for field in ("quantity", "unit_us", "unit_metric"):
        value = getattr(item, field)
        if needs and value is None:
            raise _wrong(name, field, f"a {item.kind.replace('_', ' ')} needs one")
        if not needs and value is not None:
            raise _wrong(name, field, f"a {item.kind} has none")
    for field in ("unit_us", "unit_metric"):
        unit = getattr(item, field)
        if unit is not None and (unit not in UNITS or UNITS[unit].quantity != item.quantity):
            raise _wrong(name, field, f"“{unit}” is not a unit of “{item.quantity}”")
    if item.kind == "count" and item.quantity != "count":
        raise _wrong(name, "quantity", "a count counts: its quantity is “count”")


def _check_formula(item: Item, name: str) -> None:
    if item.kind == "timed_test":
        if item.formula not in (None, *TIMED_FORMULAS):
            raise _wrong(name, "formula", f"“{item.formula}” is not made from a time")
        asked = "length" if item.formula else "time"
        if item.quantity != asked:
            raise _wrong(name, "quantity", f"this timed test is typed as “{asked}”")
    elif item.formula in TIMED_FORMULAS or (item.formula and item.kind != "measurement"):
        raise _wrong(name, "formula", f"a {item.kind} cannot be computed by “{item.formula}”")


def _check_limits(item: Item, name: str) -> None:
    known = [(field, getattr(item, field)) for field in ("watch_low", "good_low", "good_high", "watch_high")]
    limits = [(field, value) for field, value in known if value is not None]
    if limits and item.kind in {"check", "photo", "note"}:
        raise _wrong(name, limits[0][0], f"a {item.kind} has no limits")
    for (_, below), (field, value) in pairwise(limits):
        if value < below:
            raise _wrong(name, field, "limits must rise: watch_low, good_low, good_high, watch_high")
    for watch, good in (("watch_low", "good_low"), ("watch_high", "good_high")):
        if getattr(item, watch) is not None and getattr(item, good) is None:
            raise _wrong(name, good, f"“{watch}” bounds nothing without it")


def _refuse_doubles(items: tuple[Item, ...]) -> None:
    codes: set[str] = set()
    places: dict[tuple[int, int], str] = {}
    for item in items:
        if item.code in codes:
            raise _wrong(f"“{item.code}”", "code", "another item has the same code")
        codes.add(item.code)
        taken_by = places.setdefault(walking_order(item), item.code)
        if taken_by != item.code:
            raise _wrong(f"“{item.code}”", "position", f"“{taken_by}” already stands there")
