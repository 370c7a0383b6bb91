"""The checklist laid over the parts that are there."""

from typing import Any

import pytest

from contractor.checkups.rules.items import Item
from contractor.checkups.rules.walk import Line, Part, diameter_m, lines_for, pit_of


def item(code: str, part_kind: str, step: str, position: int, **more: Any) -> Item:
    words = {"prompt": code, "how": code, "source": "test"}
    return Item(code=code, part_kind=part_kind, step=step, position=position, kind="check", **words, **more)


def part(component_id: int, part_kind: str, **data: Any) -> Part:
    return Part(component_id=component_id, part_kind=part_kind, data=data)


ITEMS = (
    item("sign", "", "talk_and_sign", 10),
    item("look", "", "room", 10),
    item("pump-cord", "primary_pump", "primary_pump", 10),
    item("pump-sound", "primary_pump", "primary_pump", 20),
    item("switch", "float_switch", "primary_pump", 30),
    item("pump-flow", "primary_pump", "primary_pump", 40),
    item("acid", "battery", "standby", 10, applies_to=(("chemistry", ("flooded", None)),)),
    item("rest", "battery", "standby", 20),
    item("load", "battery", "standby", 30, applies_to=(("capacity_test", ("half_cca",)),)),
)


def walked(*parts: Part) -> list[tuple[str, int | str | None]]:
    return [line.key for line in lines_for(ITEMS, parts)]


def test_a_house_without_parts_is_asked_only_for_the_house() -> None:
    assert walked() == [("look", None), ("sign", None)]


def test_items_for_parts_that_are_there_are_asked_in_walking_order() -> None:
    assert walked(part(1, "primary_pump")) == [
        ("look", None),
        ("pump-cord", 1),
        ("pump-sound", 1),
        ("pump-flow", 1),
        ("sign", None),
    ]


def test_with_two_pumps_neighbouring_items_are_done_for_one_pump_before_the_other() -> None:
    assert walked(part(2, "primary_pump"), part(1, "primary_pump"), part(3, "float_switch"))[1:-1] == [
        ("pump-cord", 2),
        ("pump-sound", 2),
        ("pump-cord", 1),
        ("pump-sound", 1),
        ("switch", 3),
        ("pump-flow", 2),
        ("pump-flow", 1),
    ]


@pytest.mark.parametrize(
    ("data", "asked"),
    [
        ({"chemistry": "flooded", "capacity_test": "half_cca"}, ["acid", "rest", "load"]),
        ({"chemistry": "flooded", "capacity_test": "timed_discharge"}, ["acid", "rest"]),
        ({"chemistry": "agm", "capacity_test": "half_cca"}, ["rest", "load"]),
        ({"chemistry": "lifepo4"}, ["rest"]),
        ({}, ["acid", "rest"]),
    ],
)
def test_items_apply_to_what_the_catalogue_says_of_the_part(data: dict[str, Any], asked: list[str]) -> None:
    assert [code for code, _ in walked(part(7, "battery", **data))[1:-1]] == asked


ROUND = part(1, "pit", diameter_m=0.4572)
WIDE = part(2, "pit", diameter_m=0.6096)
FLOW = item("flow", "primary_pump", "primary_pump", 10)
RISE = item("rise", "pit", "pit", 10)


@pytest.mark.parametrize(
    ("line", "parts", "found"),
    [
        (Line(item=FLOW, part=part(5, "primary_pump")), (ROUND,), ROUND),
        (Line(item=FLOW, part=part(5, "primary_pump")), (ROUND, WIDE), None),
        (Line(item=FLOW, part=Part(component_id=5, part_kind="primary_pump", pit_id=2)), (ROUND, WIDE), WIDE),
        (Line(item=RISE, part=WIDE), (ROUND, WIDE), WIDE),
        (Line(item=item("house", "", "pit", 10)), (ROUND, WIDE), None),
        (Line(item=item("house", "", "pit", 10)), (WIDE,), WIDE),
        (Line(item=FLOW, part=part(5, "primary_pump")), (), None),
    ],
)
def test_a_pumps_test_is_made_in_its_own_pit(line: Line, parts: tuple[Part, ...], found: Part | None) -> None:
    assert pit_of(line, parts) == found


def test_the_width_of_a_pit_is_what_its_maker_declares() -> None:
    assert diameter_m(ROUND) == 0.4572
    assert diameter_m(part(3, "pit")) is None
    assert diameter_m(None) is None
