"""The rounds that a search sets out from: whole plans within a moment, the same for the same ask, nobody sent amiss."""

from dataclasses import replace

import numpy as np
import pytest

from contractor.visits.routing import searching
from contractor.visits.routing.checking import check
from contractor.visits.routing.first_rounds import first_rounds
from contractor.visits.routing.ground import ground_of
from contractor.visits.routing.insertion import Orders
from contractor.visits.routing.planning import plan
from contractor.visits.routing.problem import Lock, Problem, Told
from contractor.visits.routing.reasons import chances
from tests.visits.routing.cast import LUNCH, MONDAY, TUESDAY, CityBlocks, job, problem, shift, window

ANA, THEO = ("ana", MONDAY), ("theo", MONDAY)


def made(asked: Problem) -> Orders:
    ground = ground_of(asked)
    return first_rounds(ground, {each.id: found for each in asked.jobs if (found := chances(ground, each))})


# what is asked, and the only rounds that serve everybody
ONLY_WAY = [
    pytest.param(problem(job("a", 10), job("b", 20), job("c", 30)), {THEO: {"a", "b", "c"}}, id="one day"),
    pytest.param(
        problem(job("a", skills=frozenset({"pump"})), job("b"), shifts=(shift(), shift("ana")),
                skills={"ana": {"pump"}}, change_of_technician=60_000),
        {ANA: {"a", "b"}},
        id="who has the skill goes, and takes the other along",
    ),
    pytest.param(
        problem(job("a", target_on=MONDAY), job("b", target_on=TUESDAY), shifts=(shift(), shift(day=TUESDAY)),
                day_off_target=60_000),
        {THEO: {"a"}, ("theo", TUESDAY): {"b"}},
        id="each on its wished day",
    ),
    pytest.param(
        problem(job("a", told=Told(technician="ana", day=MONDAY)), shifts=(shift(), shift("ana"))),
        {ANA: {"a"}},
        id="as the owner was told",
    ),
    pytest.param(
        problem(job("a", locked_to=Lock(technician="ana", day=TUESDAY, window=window(10, 12))),
                shifts=(shift(), shift("ana"), shift("ana", TUESDAY))),
        {("ana", TUESDAY): {"a"}},
        id="as it is locked",
    ),
    pytest.param(
        problem(job("a", carry=2), job("b", carry=2), shifts=(shift(room=2), shift("ana", room=2))),
        {THEO: 1, ANA: 1},
        id="as much as a van holds",
    ),
    pytest.param(
        problem(job("a"), shifts=(shift(end=11.75, rest=LUNCH),)), {THEO: {"a"}}, id="a day too short for its break"
    ),
    pytest.param(
        problem(job("a", windows=(window(8, 9, MONDAY), window(15, 16, TUESDAY))), shifts=(shift(day=TUESDAY),)),
        {("theo", TUESDAY): {"a"}},
        id="hours that differ by day",
    ),
]  # fmt: skip


@pytest.mark.parametrize(("asked", "rounds"), ONLY_WAY)
def test_everybody_is_served_where_there_is_one_way(asked: Problem, rounds: dict) -> None:
    found = made(asked)
    counts = any(isinstance(each, int) for each in rounds.values())
    assert {key: len(order) if counts else set(order) for key, order in found.items()} == rounds


def test_the_same_ask_gives_the_same_rounds() -> None:
    jobs = [job(f"v{number}", 3 * number % 50, minutes=45) for number in range(30)]
    asked = problem(*jobs, shifts=tuple(shift(who, day) for who in ("ana", "theo") for day in (MONDAY, TUESDAY)))
    assert made(asked) == made(asked)


def test_nobody_is_sent_where_no_road_leads() -> None:
    class NoBridge(CityBlocks):
        def seconds(self, places: list) -> np.ndarray:
            table = super().seconds(places)
            west, east = (np.array([side * place.x > 0 for place in places]) for side in (-1, 1))
            # A minute, where 32 bits run over.
            table[np.outer(west, east) | np.outer(east, west)] = 2**32 + 60
            return table

    shifts = (shift(), shift("ana"))
    asked = replace(problem(job("west", -10), job("east", 10), shifts=shifts), travel=NoBridge())
    assert sorted(made(asked).values()) == [["east"], ["west"]]
    found = plan(asked, iterations=20)
    assert check(asked, found) == []
    assert not found.unplanned


@pytest.mark.parametrize(
    ("held", "is_made"),
    [((), True), (("a",), True), (("a", "b"), False), (("a", "b", "c", "d"), False), (("a", "x", "y", "z"), True)],
)
def test_an_earlier_plan_is_set_out_from_where_it_holds_half_the_visits(
    held: tuple[str, ...], is_made: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked = problem(*(job(name, 10) for name in "abcd"))
    before = plan(problem(*(job(name, 10) for name in held)), iterations=1)
    calls: list[int] = []

    def counted(*words: object) -> Orders:
        calls.append(1)
        return first_rounds(*words)  # type: ignore[arg-type]

    monkeypatch.setattr(searching, "first_rounds", counted)
    assert len(plan(asked, iterations=20, start=before).where()) == 4
    assert bool(calls) is is_made
