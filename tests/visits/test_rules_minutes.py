"""How long a check-up of some parts is planned for. The minutes are common practice, no source."""

import pytest

from contractor.systems.part_kinds import BY_CODE
from contractor.visits.rules import ARRIVE_AND_TALK_MINUTES, MINUTES_BY_PART_KIND, checkup_minutes

CASES: tuple[tuple[str, list[str], int], ...] = (
    # what is in the house, its part kinds, minutes: 20 for coming and talking, then each part, up to the next five
    ("nothing recorded", [], 20),
    ("a switch", ["float_switch"], 25),
    ("a channel and nothing else", ["channel"], 25),
    ("a plain system", ["channel", "pit", "primary_pump", "check_valve", "discharge_line"], 55),
    ("one minute more is five more", ["pit", "pit", "discharge_line", "freeze_relief"], 50),
    ("with a standby pump", ["pit", "primary_pump", "standby_pump", "battery", "charger", "high_water_alarm"], 70),
    ("two batteries count twice", ["battery", "battery"], 45),
    ("a kind that the table doesn't know counts five", ["something_new"], 25),
)


@pytest.mark.parametrize(("kinds", "minutes"), [case[1:] for case in CASES], ids=[case[0] for case in CASES])
def test_a_check_up_takes_the_time_of_its_parts_rounded_up_to_five(kinds: list[str], minutes: int) -> None:
    assert checkup_minutes(kinds) == minutes


def test_every_part_kind_of_the_trade_has_its_minutes() -> None:
    assert set(MINUTES_BY_PART_KIND) == set(BY_CODE)
    assert checkup_minutes([]) == ARRIVE_AND_TALK_MINUTES
