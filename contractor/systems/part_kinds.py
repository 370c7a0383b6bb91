"""The kinds of parts that can be installed: the one list that every other room reads.

To add a kind, add a line here, a shape in ``drawing_shapes.py``, catalogue models and checklist items in
``fixtures/``, and a promise in the terms; ``DEVELOPERS.md`` walks through it.
"""

from dataclasses import dataclass
from enum import StrEnum


class Wear(StrEnum):
    """What ends the life of a part of this kind."""

    STRUCTURE = "structure"  # lasts as long as the concrete around it
    FITTING = "fitting"  # inspected every year, replaced when found bad
    MACHINE = "machine"  # wears by running hours, starts and age
    CHEMISTRY = "chemistry"  # ages by time, temperature and discharge


@dataclass(frozen=True, slots=True, kw_only=True)
class PartKind:
    """One kind of part.

    ``code`` is what tables store; ``word`` is what people read; ``place`` is where such a part usually sits;
    ``serial`` tells whether the maker gives it a serial number; ``one_per_system`` tells whether a second one
    in the same system is a mistake; ``expected_years`` is the plain age rule used until a part has been
    measured (common practice, no source, unless the estimate says otherwise), None where age does not tell.
    """

    code: str
    word: str
    plural: str
    wear: Wear
    place: str
    serial: bool
    one_per_system: bool = False
    expected_years: float | None = None


PART_KINDS: tuple[PartKind, ...] = (
    PartKind(
        code="channel",
        word="channel",
        plural="channels",
        wear=Wear.STRUCTURE,
        place="On the footing, under the floor's edge",
        serial=False,
    ),
    PartKind(
        code="liner",
        word="liner",
        plural="liners",
        wear=Wear.STRUCTURE,
        place="On the wall, lapped into the channel",
        serial=False,
    ),
    PartKind(
        code="pit", word="pit", plural="pits", wear=Wear.STRUCTURE, place="Low corner of the basement", serial=False
    ),
    PartKind(
        code="primary_pump",
        word="primary pump",
        plural="primary pumps",
        wear=Wear.MACHINE,
        place="In the pit",
        serial=True,
        expected_years=10.0,
    ),
    PartKind(
        code="float_switch",
        word="float switch",
        plural="float switches",
        wear=Wear.FITTING,
        place="In the pit",
        serial=False,
        expected_years=7.0,
    ),
    PartKind(
        code="standby_pump",
        word="standby pump",
        plural="standby pumps",
        wear=Wear.MACHINE,
        place="In the pit, above the primary pump",
        serial=True,
        expected_years=10.0,
    ),
    PartKind(
        code="battery",
        word="battery",
        plural="batteries",
        wear=Wear.CHEMISTRY,
        place="On the shelf beside the pit",
        serial=True,
        expected_years=5.0,
    ),
    PartKind(
        code="charger",
        word="charger",
        plural="chargers",
        wear=Wear.FITTING,
        place="On the wall above the battery",
        serial=True,
        expected_years=10.0,
    ),
    PartKind(
        code="high_water_alarm",
        word="high-water alarm",
        plural="high-water alarms",
        wear=Wear.FITTING,
        place="On the wall above the pit",
        serial=False,
        expected_years=10.0,
    ),
    PartKind(
        code="check_valve",
        word="check valve",
        plural="check valves",
        wear=Wear.FITTING,
        place="In the riser above the pit",
        serial=False,
        expected_years=8.0,
    ),
    PartKind(
        code="discharge_line",
        word="discharge line",
        plural="discharge lines",
        wear=Wear.FITTING,
        place="From the pit through the rim to the outlet",
        serial=False,
    ),
    PartKind(
        code="freeze_relief",
        word="freeze-relief fitting",
        plural="freeze-relief fittings",
        wear=Wear.FITTING,
        place="Outside, where the line leaves the wall",
        serial=False,
    ),
    PartKind(
        code="containment_ring",
        word="containment ring",
        plural="containment rings",
        wear=Wear.STRUCTURE,
        place="Round the water heater",
        serial=False,
    ),
)

BY_CODE: dict[str, PartKind] = {kind.code: kind for kind in PART_KINDS}


def part_kind(code: str) -> PartKind:
    """The kind with this code; KeyError for a code that no kind has."""
    return BY_CODE[code]


def choices() -> list[tuple[str, str]]:
    """Code and word of every kind, in the order in which one walks the basement, for tables and forms."""
    return [(kind.code, kind.word) for kind in PART_KINDS]
