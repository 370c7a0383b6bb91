"""What makers declare of a model, per part kind: the fields of the catalogue form and of every page that shows them.

Values are kept in base units under a name that says the unit (``capacity_ah``), as the computations take them.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise
from typing import Any

from contractor.core.errors import Refusal
from contractor.core.units import parse, shown


class UnreadableCurve(Refusal):
    """A pump curve that can't be read; the sentence says which line and how to write it."""


class TypedAs(StrEnum):
    """How a declared value is typed and kept."""

    MEASURE = "measure"  # typed with a unit, kept in base units
    NUMBER = "number"  # a plain number of something, such as years
    WORDS = "words"  # one of a few words
    YES_NO = "yes_no"
    TEXT = "text"
    CURVE = "curve"  # pairs of flow (m³/s) and head (m)


@dataclass(frozen=True, slots=True, kw_only=True)
class DeclaredField:
    """One thing a maker declares.

    ``us`` and ``metric`` are unit codes of ``core/units.py``; ``words`` are the values of a choice with what
    people read; ``counted`` is what a plain number counts.
    """

    name: str
    label: str
    form: TypedAs
    us: str = ""
    metric: str = ""
    words: tuple[tuple[str, str], ...] = ()
    counted: str = ""
    hint: str = ""

    def unit(self, *, is_us: bool) -> str:
        """The unit code in which the company types and reads this field."""
        return self.us if is_us else self.metric

    @property
    def base_units_each(self) -> float:
        """Base units in one unit of the kept value: makers rate in hours, so hours are kept as hours."""
        return 3600.0 if self.name.endswith(("_hours", "_h")) else 1.0


def _measure(name: str, label: str, us: str, metric: str = "", hint: str = "") -> DeclaredField:
    return DeclaredField(name=name, label=label, form=TypedAs.MEASURE, us=us, metric=metric or us, hint=hint)


def _number(name: str, label: str, counted: str) -> DeclaredField:
    return DeclaredField(name=name, label=label, form=TypedAs.NUMBER, counted=counted)


def _words(name: str, label: str, *words: tuple[str, str]) -> DeclaredField:
    return DeclaredField(name=name, label=label, form=TypedAs.WORDS, words=words)


_CURVE = DeclaredField(
    name="curve",
    label="Pump curve",
    form=TypedAs.CURVE,
    hint="One point a line, head first and then flow, from shut-off down.",
)
_WEAR = (_measure("rated_hours", "Rated running time", "h"), _measure("rated_starts", "Rated starts", "count"))
_VOLTAGE = _measure("voltage_v", "Nominal voltage", "V")
_BORE = _measure("bore_m", "Inside diameter", "in", "mm")
_OUTLET = _measure("discharge_m", "Outlet", "in", "mm")
_HEIGHT = _measure("height_m", "Height", "in", "mm")
_YEARS = _number("expected_years", "Expected life", "years")
_MATERIAL = DeclaredField(name="material", label="Material", form=TypedAs.TEXT)

# Far above any pump for a basement; a higher head tells that head and flow were typed the wrong way round.
MOST_HEAD_M = 100.0

FIELDS: dict[str, tuple[DeclaredField, ...]] = {
    "channel": (
        _measure("width_m", "Width", "in", "mm"),
        _HEIGHT,
        _measure("length_m", "Length of a piece", "ft", "m"),
        _MATERIAL,
    ),
    "liner": (_measure("thickness_m", "Thickness", "in", "mm"), _HEIGHT, _MATERIAL),
    "pit": (
        _measure("diameter_m", "Inside diameter", "in", "mm"),
        _measure("depth_m", "Depth", "in", "mm"),
        DeclaredField(name="is_sealed", label="Sealed lid", form=TypedAs.YES_NO),
        _MATERIAL,
    ),
    "primary_pump": (
        _CURVE,
        _OUTLET,
        _VOLTAGE,
        _measure("current_a", "Running current", "A"),
        _number("power_w", "Power", "watts"),
        *_WEAR,
        _YEARS,
        _MATERIAL,
    ),
    "standby_pump": (
        _CURVE,
        _measure("curve_at_v", "Supply of the curve", "V"),
        _OUTLET,
        _VOLTAGE,
        _measure("current_a", "Running current from the battery", "A"),
        *_WEAR,
        _YEARS,
    ),
    "battery": (
        _words(
            "chemistry",
            "Chemistry",
            ("flooded", "Lead-acid, flooded"),
            ("agm", "Lead-acid, AGM"),
            ("gel", "Lead-acid, gel"),
            ("lifepo4", "Lithium iron phosphate"),
        ),
        _measure("capacity_ah", "Rated capacity", "Ah"),
        _measure("rate_h", "Rated over", "h", hint="The discharge time of the rating, often 20 hours."),
        _VOLTAGE,
        _measure("cca_a", "Cold-cranking current", "A"),
        _words(
            "capacity_test",
            "Tested by",
            ("half_cca", "Half the cold-cranking current for 15 seconds"),
            ("timed_discharge", "A timed discharge"),
        ),
        _number("expected_years_at_25c", "Expected life at 25 °C (77 °F)", "years"),
    ),
    "charger": (
        _words(
            "profile", "Charges", ("lead_acid", "Lead-acid batteries"), ("lifepo4", "Lithium iron phosphate batteries")
        ),
        _measure("current_a", "Charging current", "A"),
        _measure("float_v", "Float voltage", "V"),
    ),
    "float_switch": (
        _words(
            "switch",
            "Type",
            ("tethered", "Tethered"),
            ("vertical", "Vertical rod"),
            ("diaphragm", "Diaphragm"),
            ("electronic", "Electronic"),
        ),
        _measure("rated_starts", "Rated starts", "count"),
    ),
    "high_water_alarm": (
        DeclaredField(name="sends_messages", label="Sends messages", form=TypedAs.YES_NO),
        DeclaredField(name="runs_on", label="Runs on", form=TypedAs.TEXT),
        _number("sound_db", "Loudness", "decibels"),
    ),
    "check_valve": (_BORE, DeclaredField(name="closes_by", label="Closes by", form=TypedAs.TEXT)),
    "discharge_line": (_BORE, _MATERIAL),
    "freeze_relief": (
        _BORE,
        DeclaredField(name="opening_m2", label="Opening", form=TypedAs.MEASURE, us="ft2", metric="m2"),
    ),
    "containment_ring": (
        _measure("diameter_m", "Inside diameter", "in", "mm"),
        _HEIGHT,
        _measure("drain_bore_m", "Drain", "in", "mm"),
        _MATERIAL,
    ),
}


def fields_of(part_kind: str) -> tuple[DeclaredField, ...]:
    """What a maker declares of a part of this kind."""
    return FIELDS[part_kind]


def curve_units(*, is_us: bool) -> tuple[str, str]:
    """Unit codes of head and flow in which a pump curve is typed."""
    return ("ft", "gal/h") if is_us else ("m", "L/min")


def read_curve(text: str, *, is_us: bool) -> list[list[float]]:
    """Reads a curve of "head flow" lines as pairs of flow in m³/s and head in m, by rising flow.

    Raises UnreadableCurve unless head falls as flow rises over at least two points.
    """
    head_unit, flow_unit = curve_units(is_us=is_us)
    points: list[list[float]] = []
    for number, line in enumerate((line for line in text.splitlines() if line.strip()), start=1):
        words = line.replace(";", " ").split()
        if len(words) != 2:
            raise UnreadableCurve(f"Line {number} needs two numbers, head and flow, such as “10 2400”.")
        head, flow = parse(words[0].rstrip(","), head_unit), parse(words[1], flow_unit)
        points.append([flow.si, head.si])
    points.sort()
    if len(points) < 2:
        raise UnreadableCurve("A curve needs at least two points.")
    if max(head for _, head in points) > MOST_HEAD_M:
        raise UnreadableCurve("No such pump lifts water that high. Head must stand first on every line, then flow.")
    pairs = pairwise(points)
    if any(first[0] == second[0] or first[1] <= second[1] for first, second in pairs):
        raise UnreadableCurve("Head must fall as flow rises. Check that head stands first on every line.")
    return points


def in_words(part_kind: str, data: Mapping[str, Any], *, is_us: bool) -> list[tuple[str, str]]:
    """What is declared of a model, as label and value to read; what isn't declared is left out."""
    return [
        (field.label, _read_out(field, data[field.name], is_us=is_us))
        for field in fields_of(part_kind)
        if data.get(field.name) not in (None, "")
    ]


def _read_out(field: DeclaredField, value: Any, *, is_us: bool) -> str:
    if field.form == TypedAs.MEASURE:
        return shown(float(value) * field.base_units_each, field.unit(is_us=is_us))
    if field.form == TypedAs.NUMBER:
        return f"{value:g} {field.counted}"
    if field.form == TypedAs.WORDS:
        return dict(field.words).get(str(value), str(value))
    if field.form == TypedAs.YES_NO:
        return "yes" if value else "no"
    if field.form == TypedAs.CURVE:
        head_unit, flow_unit = curve_units(is_us=is_us)
        return "; ".join(f"{shown(flow, flow_unit)} at {shown(head, head_unit)}" for flow, head in value)
    return str(value)
