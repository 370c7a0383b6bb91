"""What makers declare of a model, per part kind: the fields of the catalogue form and of every page that shows them.

Values are kept in base units under a name that says the unit (``capacity_ah``), as the computations take them.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from contractor.core.errors import Refusal
from contractor.core.units import parse, shown


class UnreadableCurve(Refusal):
    """A pump curve that can't be read; the sentence says which line and how to write it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DeclaredField:
    """One thing a maker declares.

    ``us`` and ``metric`` are unit codes of ``core/units.py``; ``words`` are the values of a choice with what
    people read; ``counted`` is what a plain number counts, such as years. A field with none of them is a pump
    curve, kept as pairs of flow (m³/s) and head (m).
    """

    name: str
    label: str
    us: str = ""
    metric: str = ""
    words: tuple[tuple[str, str], ...] = ()
    counted: str = ""
    hint: str = ""

    @property
    def is_curve(self) -> bool:
        return not (self.us or self.words or self.counted)

    def unit(self, *, is_us: bool) -> str:
        """The unit code in which the company types and reads this field."""
        return self.us if is_us else self.metric

    @property
    def base_units_each(self) -> float:
        """Base units in one unit of the kept value: makers rate in hours, so hours are kept as hours."""
        return 3600.0 if self.name.endswith(("_hours", "_h")) else 1.0


CHEMISTRIES = (
    ("flooded", "Lead-acid, flooded"),
    ("agm", "Lead-acid, AGM"),
    ("gel", "Lead-acid, gel"),
    ("lifepo4", "Lithium iron phosphate"),
)
SWITCH_TYPES = (
    ("tethered", "Tethered"),
    ("vertical", "Vertical rod"),
    ("diaphragm", "Diaphragm"),
    ("electronic", "Electronic"),
)

_CURVE = DeclaredField(
    name="curve",
    label="Pump curve",
    hint="One point a line, head first and then flow, from shut-off down.",
)
_HOURS = DeclaredField(name="rated_hours", label="Rated running hours", us="h", metric="h")
_STARTS = DeclaredField(name="rated_starts", label="Rated starts", us="count", metric="count")
_YEARS = DeclaredField(name="expected_years", label="Expected life", counted="years")
_BORE = DeclaredField(name="bore_m", label="Inside diameter", us="in", metric="mm")

FIELDS: dict[str, tuple[DeclaredField, ...]] = {
    "primary_pump": (
        _CURVE,
        _HOURS,
        _STARTS,
        _YEARS,
        DeclaredField(name="current_a", label="Running current", us="A", metric="A"),
    ),
    "standby_pump": (
        _CURVE,
        _HOURS,
        _STARTS,
        _YEARS,
        DeclaredField(name="current_a", label="Running current from the battery", us="A", metric="A"),
        DeclaredField(name="voltage_v", label="Nominal voltage", us="V", metric="V"),
    ),
    "battery": (
        DeclaredField(name="chemistry", label="Chemistry", words=CHEMISTRIES),
        DeclaredField(name="capacity_ah", label="Rated capacity", us="Ah", metric="Ah"),
        DeclaredField(
            name="rate_h", label="Rated over", us="h", metric="h", hint="The discharge time of the rating, often 20 h."
        ),
        DeclaredField(name="voltage_v", label="Nominal voltage", us="V", metric="V"),
        DeclaredField(name="expected_years_at_25c", label="Expected life at 25 °C (77 °F)", counted="years"),
    ),
    "charger": (
        DeclaredField(name="current_a", label="Charging current", us="A", metric="A"),
        DeclaredField(name="float_v", label="Float voltage", us="V", metric="V"),
    ),
    "float_switch": (DeclaredField(name="switch", label="Type", words=SWITCH_TYPES), _STARTS),
    "pit": (
        DeclaredField(name="diameter_m", label="Inside diameter", us="in", metric="mm"),
        DeclaredField(name="depth_m", label="Depth", us="in", metric="mm"),
    ),
    "check_valve": (_BORE,),
    "discharge_line": (_BORE,),
}


def fields_of(part_kind: str) -> tuple[DeclaredField, ...]:
    """What a maker declares of a part of this kind; empty when nothing is computed from it."""
    return FIELDS.get(part_kind, ())


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
    pairs = zip(points, points[1:], strict=False)
    if any(first[0] == second[0] or first[1] <= second[1] for first, second in pairs):
        raise UnreadableCurve("Head must fall as flow rises. Check that head stands first on every line.")
    return points


def typed_curve(points: list[list[float]], *, is_us: bool) -> str:
    """A stored curve as the lines in which it is typed."""
    head_unit, flow_unit = curve_units(is_us=is_us)
    return "\n".join(
        f"{shown(head, head_unit).split()[0]} {shown(flow, flow_unit).split()[0]}" for flow, head in points
    )


def in_words(part_kind: str, data: Mapping[str, Any], *, is_us: bool) -> list[tuple[str, str]]:
    """What is declared of a model, as label and value to read; what isn't declared is left out."""
    lines: list[tuple[str, str]] = []
    for field in fields_of(part_kind):
        value = data.get(field.name)
        if value is None or value == "":
            continue
        if field.words:
            lines.append((field.label, dict(field.words).get(str(value), str(value))))
        elif field.counted:
            lines.append((field.label, f"{value:g} {field.counted}"))
        elif field.is_curve:
            head_unit, flow_unit = curve_units(is_us=is_us)
            points = [f"{shown(flow, flow_unit)} at {shown(head, head_unit)}" for flow, head in value]
            lines.append((field.label, "; ".join(points)))
        else:
            lines.append((field.label, shown(float(value) * field.base_units_each, field.unit(is_us=is_us))))
    return lines
