"""What is measured of a line and a pit as built: for the form, the sketch beside it and every page that shows it.

Names are the columns of ``AsBuilt``; values are kept in metres. ``number`` is the one in the sketch.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Any, Final

from contractor.core.units import UNITS, shown


class Group(StrEnum):
    """Where one stands when it is measured."""

    LINE = "Discharge line"
    OUTSIDE = "Outside"
    PIT = "Pit"


@dataclass(frozen=True, slots=True, kw_only=True)
class Measure:
    """One thing that is measured, counted or looked at.

    ``us`` and ``metric`` are units of lengths, else empty; ``question`` is how a yes or no is asked for.
    """

    name: str
    label: str
    group: Group
    hint: str
    us: str = ""
    metric: str = ""
    number: int = 0
    is_count: bool = False
    question: str = ""

    def unit(self, *, is_us: bool) -> str:
        """The unit code in which the company types and reads it; empty for a count or a yes or no."""
        return self.us if is_us else self.metric

    def field_label(self, *, is_us: bool) -> str:
        """The label with its number in the sketch and its unit."""
        unit = self.unit(is_us=is_us)
        words = self.question or self.label
        words = f"{words}, in {UNITS[unit].word}" if unit else words
        return f"{self.number}. {words}" if self.number else words

    def in_words(self, value: float | int | bool | None, *, is_us: bool) -> str:
        """The value as people read it; empty when it was not measured."""
        if value is None:
            return ""
        if isinstance(value, bool):
            return "yes" if value else "no"
        unit = self.unit(is_us=is_us)
        return shown(float(value), unit) if unit else str(value)


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """What is known of a line and pit: pairs of label and value, and the labels of what nobody has measured."""

    known: tuple[tuple[str, str], ...]
    unknown: tuple[str, ...]


MEASURES: Final = (
    Measure(
        name="static_lift_m",
        number=1,
        label="Lift",
        group=Group.LINE,
        us="ft",
        metric="m",
        hint="Straight up, from the water when the pump stops to the highest point of the line.",
    ),
    Measure(
        name="length_m",
        number=2,
        label="Length of the line",
        group=Group.LINE,
        us="ft",
        metric="m",
        hint="Along the pipe, from the pump to the open end.",
    ),
    Measure(
        name="bore_m",
        number=3,
        label="Inside diameter",
        group=Group.LINE,
        us="in",
        metric="mm",
        hint="What is printed on a pipe is a name: 1½ in Schedule 40 is 1.61 in (40.9 mm) inside, 2 in is 2.07 in "
        "(52.5 mm).",
    ),
    Measure(
        name="elbows_90",
        number=4,
        label="Elbows of 90°",
        group=Group.LINE,
        is_count=True,
        hint="From the pump to the open end; a tee where the water turns counts as one.",
    ),
    Measure(
        name="elbows_45",
        number=5,
        label="Elbows of 45°",
        group=Group.LINE,
        is_count=True,
        hint="0 if there is none.",
    ),
    Measure(
        name="exposed_length_m",
        number=6,
        label="Pipe in the open air",
        group=Group.OUTSIDE,
        us="ft",
        metric="m",
        hint="Outside the house and above the ground, or in a space that freezes. 0 if there is none.",
    ),
    Measure(
        name="is_insulated",
        label="Insulated in the open air",
        question="Is the pipe in the open air insulated?",
        group=Group.OUTSIDE,
        hint="All of it, and dry.",
    ),
    Measure(
        name="cover_m",
        number=7,
        label="Ground over the buried pipe",
        group=Group.OUTSIDE,
        us="in",
        metric="cm",
        hint="Where it lies least deep. 0 where it lies on the ground.",
    ),
    Measure(
        name="falls_to_outlet",
        label="Falls all the way to its outlet",
        question="Does the line fall all the way to its outlet?",
        group=Group.OUTSIDE,
        hint="From the highest point on, so that it empties by itself.",
    ),
    Measure(
        name="sags",
        number=8,
        label="Low points that hold water",
        group=Group.OUTSIDE,
        is_count=True,
        hint="0 if there is none.",
    ),
    Measure(
        name="outlet_above_ground_m",
        number=9,
        label="Outlet above the ground",
        group=Group.OUTSIDE,
        us="in",
        metric="cm",
        hint="From the ground to the lower edge of the open end.",
    ),
    Measure(
        name="pit_diameter_m",
        number=10,
        label="Diameter of the pit",
        group=Group.PIT,
        us="in",
        metric="cm",
        hint="Inside, where the water rises and falls.",
    ),
    Measure(
        name="pit_depth_m",
        number=11,
        label="Depth of the pit",
        group=Group.PIT,
        us="in",
        metric="cm",
        hint="From the rim to the pit's floor.",
    ),
    Measure(
        name="pump_off_m",
        number=12,
        label="Primary pump stops at",
        group=Group.PIT,
        us="in",
        metric="cm",
        hint="Water level above the pit's floor. Hold a rule in the pit, pour water in, and watch a whole cycle.",
    ),
    Measure(
        name="pump_on_m",
        number=13,
        label="Primary pump starts at",
        group=Group.PIT,
        us="in",
        metric="cm",
        hint="Water level above the pit's floor.",
    ),
    Measure(
        name="standby_on_m",
        number=14,
        label="Standby pump starts at",
        group=Group.PIT,
        us="in",
        metric="cm",
        hint="Water level above the pit's floor, with the primary pump unplugged. It is higher than the primary's.",
    ),
)


def in_words(values: Mapping[str, Any], *, is_us: bool) -> Measured:
    """What is known of a line and pit as the company reads it, and what is not; values under the columns' names."""
    words = [(measure.label, measure.in_words(values.get(measure.name), is_us=is_us)) for measure in MEASURES]
    return Measured(
        known=tuple((label, value) for label, value in words if value),
        unknown=tuple(label for label, value in words if not value),
    )
