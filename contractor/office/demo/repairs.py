"""Small repairs that owners of the demo rang up about: they fill the board beside the check-ups that are due."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from contractor.accounts.models import User
from contractor.office.demo.place import Place
from contractor.visits.actions.appointments import ask_for_visit
from contractor.visits.models import VisitKind
from contractor.visits.skills import Skill


@dataclass(frozen=True, slots=True, kw_only=True)
class Repair:
    """What an owner rang up about, what it takes, and by when."""

    reason: str
    carry: str
    minutes: int
    skill: Skill
    days: int


_CALLS = (
    ("The alarm beeps although the pit is dry.", "Float switch", 45, Skill.PUMPS, 6),
    ("The discharge outlet was hit by the mower.", "Discharge pipe, 2 in; Coupling", 75, Skill.DISCHARGE, 13),
    ("The pump hums and does not start.", "Primary pump; Check valve", 90, Skill.PUMPS, 3),
    ("The battery case is swollen.", "Battery, group 31", 60, Skill.BATTERIES, 5),
    ("Water knocks in the pipe when the pump stops.", "Check valve", 45, Skill.PUMPS, 12),
    ("The pit lid is cracked.", "Pit lid with gasket", 30, Skill.PITS, 19),
    ("The charger shows a red lamp.", "Charger", 45, Skill.BATTERIES, 8),
    ("The liner came loose behind the furnace.", "Liner clips; Sealant", 60, Skill.CONCRETE, 20),
)
REPAIRS = tuple(
    Repair(reason=reason, carry=carry, minutes=minutes, skill=skill, days=days)
    for reason, carry, minutes, skill, days in _CALLS
)
EVERY = 3
FIRST = 2


def ring_up(places: list[Place], *, desk: User, on: date, at: datetime) -> None:
    """A repair at every third house, each to be done within days or weeks."""
    for number, place in enumerate(places[FIRST::EVERY]):
        repair = REPAIRS[number % len(REPAIRS)]
        ask_for_visit(
            occasion=f"demo repair:{place.house.number}",
            system_id=place.system.pk,
            kind=VisitKind.REPAIR,
            target_on=on + timedelta(days=min(repair.days, 2 + number % 5)),
            earliest_on=on,
            latest_on=on + timedelta(days=repair.days),
            minutes=repair.minutes,
            reason=repair.reason,
            carry=repair.carry,
            skills=[repair.skill],
            by=desk.actor,
            at=at,
        )
