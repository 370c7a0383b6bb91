"""The whole fleet in one pass gives each system exactly what it gets alone; and one bad system spoils no other."""

import pytest

from contractor.estimates.rules.fleet import estimate_fleet, estimate_system, work_out, workings_of
from contractor.estimates.rules.results import UNKNOWN
from tests.estimates.made import ON, bare, many, system


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_fleet_is_estimated_exactly_as_each_of_its_systems_alone(seed: int) -> None:
    facts = [*many(60, seed=seed), system(), bare()]
    together = estimate_fleet(facts, on=ON, units="US")
    assert together == [estimate_system(one, on=ON, units="US") for one in facts]


def test_the_numbers_of_a_fleet_are_exactly_those_of_each_system_alone() -> None:
    facts = many(80, seed=9)
    assert work_out(facts, on=ON) == [workings_of(one, on=ON) for one in facts]


def test_the_order_in_a_fleet_changes_nothing() -> None:
    facts = many(40, seed=4)
    forth, back = (estimate_fleet(order, on=ON, units="metric") for order in (facts, facts[::-1]))
    assert forth == back[::-1]


def test_systems_of_every_kind_have_sentences_steps_and_no_number_that_is_none() -> None:
    for made in estimate_fleet(many(120, seed=5), on=ON, units="US"):
        for part in made.parts:
            assert part.reason.endswith(".")
            assert part.steps
            assert part.earliest <= part.replace_by <= part.latest
        for result in made.results:
            assert result.sentence.endswith(".")
            assert result.steps or result.level == UNKNOWN or result.code in {"standby"}
        text = repr(made)
        for wrong in ("nan", "None m", "inf "):
            assert wrong not in text


def test_a_fleet_of_none_is_none() -> None:
    assert estimate_fleet([], on=ON, units="US") == []
