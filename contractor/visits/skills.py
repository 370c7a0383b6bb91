"""What somebody must be able to do at a house, in the words of the trade, and what each visit asks for."""

from collections.abc import Iterable
from enum import StrEnum


class Skill(StrEnum):
    """One thing that not every technician can do. The words stand in ``WORDS``."""

    PUMPS = "pumps"
    BATTERIES = "batteries"
    PITS = "pits"
    DISCHARGE = "discharge"
    CONCRETE = "concrete"
    ELECTRICAL = "electrical"


WORDS: dict[str, str] = {
    Skill.PUMPS: "Pumps, switches and valves",
    Skill.BATTERIES: "Batteries and chargers",
    Skill.PITS: "Pits and channels",
    Skill.DISCHARGE: "Discharge lines outside",
    Skill.CONCRETE: "Concrete and wall liners",
    Skill.ELECTRICAL: "Licensed electrical work",
}
# Common practice, no source.
BY_PART_KIND: dict[str, Skill] = {
    "primary_pump": Skill.PUMPS,
    "standby_pump": Skill.PUMPS,
    "float_switch": Skill.PUMPS,
    "check_valve": Skill.PUMPS,
    "high_water_alarm": Skill.PUMPS,
    "battery": Skill.BATTERIES,
    "charger": Skill.BATTERIES,
    "pit": Skill.PITS,
    "channel": Skill.CONCRETE,
    "liner": Skill.CONCRETE,
    "containment_ring": Skill.CONCRETE,
    "discharge_line": Skill.DISCHARGE,
    "freeze_relief": Skill.DISCHARGE,
}
# A check-up runs the pumps, tests the battery and cleans the pit; it breaks no concrete.
CHECKUP_SKILLS = (Skill.PUMPS, Skill.BATTERIES, Skill.PITS)


def checkup_skills(part_kinds: Iterable[str]) -> tuple[str, ...]:
    """What a check-up of these parts asks for."""
    return in_order(BY_PART_KIND[kind] for kind in part_kinds if BY_PART_KIND.get(kind) in CHECKUP_SKILLS)


def in_order(skills: Iterable[str]) -> tuple[str, ...]:
    """Each known skill once, in the order of the list."""
    asked = {str(skill) for skill in skills}
    return tuple(skill.value for skill in Skill if skill.value in asked)


def in_words(skills: Iterable[str]) -> list[str]:
    """The skills as people call them."""
    return [WORDS[skill] for skill in in_order(skills)]
