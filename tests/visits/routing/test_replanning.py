"""What a plan made anew keeps when somebody falls ill: who was told stays, a promise is released only if it must."""

from dataclasses import replace

import pytest

from contractor.visits.routing.checking import check
from contractor.visits.routing.planning import plan
from contractor.visits.routing.problem import Change, Lock, Told
from contractor.visits.routing.replanning import replan, steadied
from tests.benchmarks.planning_county import county
from tests.visits.routing.cast import MONDAY, TUESDAY, job, problem, shift, window

STEPS = 300
BOTH_DAYS = tuple(shift(who, day) for day in (MONDAY, TUESDAY) for who in ("ana", "theo"))


def told(asked, found):
    """Every owner in the plan has heard of it."""
    where = found.where()
    return replace(
        asked,
        jobs=tuple(
            replace(each, told=Told(technician=where[each.id][0], day=where[each.id][1])) if each.id in where else each
            for each in asked.jobs
        ),
    )


def without(asked, *gone):
    return replace(asked, shifts=tuple(each for each in asked.shifts if each.key not in gone))


def test_nothing_moves_where_nothing_broke():
    asked = problem(*(job(f"visit {number}", number) for number in range(1, 7)), shifts=BOTH_DAYS)
    before = plan(asked, iterations=STEPS)
    assert replan(told(asked, before), before, iterations=STEPS).to_tell == ()


def test_only_the_visits_of_the_ill_technician_move_where_there_is_room():
    asked = problem(
        *(job(f"east {number}", 30 + number, told=Told(technician="ana", day=MONDAY)) for number in range(3)),
        *(job(f"west {number}", -30 - number, told=Told(technician="theo", day=MONDAY)) for number in range(3)),
        shifts=BOTH_DAYS,
    )
    before = plan(asked, iterations=STEPS)
    assert before.to_tell == ()
    after = without(asked, ("ana", MONDAY))
    found = replan(after, before, iterations=STEPS)
    assert check(after, found) == []
    assert {change.job for change in found.to_tell} == {"east 0", "east 1", "east 2"}
    assert found.unplanned == {}


def test_a_promise_to_be_kept_by_the_ill_technician_is_released_and_its_owner_told():
    promise = Lock(technician="ana", day=MONDAY, window=window(8, 10))
    asked = problem(job("promised", 10, locked_to=promise), shifts=without_ana())
    found = replan(asked, plan(asked, iterations=0), iterations=STEPS)
    assert found.where()["promised"] == ("theo", MONDAY)
    assert found.to_tell == (
        Change(job="promised", told=Told(technician="ana", day=MONDAY), technician="theo", day=MONDAY),
    )


def without_ana():
    return tuple(each for each in BOTH_DAYS if each.technician != "ana")


def test_a_promise_that_can_still_be_kept_stays_a_promise():
    promise = Lock(technician="theo", day=MONDAY, window=window(8, 10))
    asked = problem(job("promised", 10, locked_to=promise), shifts=without_ana())
    assert steadied(asked).jobs == asked.jobs


@pytest.mark.parametrize("seed", [1, 2])
def test_a_sick_day_in_a_full_fortnight_moves_fewer_owners_than_an_ordinary_plan_would(seed):
    asked = county(visits=100, technicians=3, days=8, seed=seed)
    before = plan(asked, iterations=STEPS)
    ill = before.rounds[0]
    after = without(told(asked, before), (ill.technician, ill.day))
    found = replan(after, before, iterations=STEPS)
    assert check(steadied(after), found) == []
    assert len(ill.stops) <= len(found.to_tell) < len(plan(after, iterations=STEPS, start=before).to_tell)
