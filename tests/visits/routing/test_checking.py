"""The checker names every rule that a plan can break: each row breaks one rule of a plan that is right."""

from dataclasses import replace

import pytest

from contractor.visits.routing.checking import check
from contractor.visits.routing.problem import Lock, Plan, Round, Stop
from tests.visits.routing.cast import HOUR, LUNCH, MONDAY, TUESDAY, job, problem, shift, window

MINUTE = 60
NINE = 9 * HOUR

# By hand: home at 0, visits at 10 and 30 minutes along the road, a lunch of 30 minutes owed after 13:30.
FIRST = Stop(job="first", driving=10 * MINUTE, arrival=NINE, start=NINE, end=NINE + HOUR)
SECOND = Stop(job="second", driving=20 * MINUTE, arrival=13 * HOUR, start=13 * HOUR, end=14 * HOUR)
RIGHT = Plan(
    rounds=(
        Round(
            technician="theo",
            day=MONDAY,
            leaves=NINE - 10 * MINUTE,
            stops=(FIRST, SECOND),
            driving_back=30 * MINUTE,
            back=14 * HOUR + 30 * MINUTE,
            break_at=12 * HOUR,
        ),
    ),
    unplanned={"far": "There is no room left."},
    travel_minutes=60,
    late={},
    to_tell=(),
)
ASKED = problem(
    job("first", 10, skills=frozenset({"pump"}), windows=(window(8, 10),), latest_on=MONDAY, carry=2),
    job("second", 30, locked_to=Lock(technician="theo", day=MONDAY, window=window(12, 13.5)), carry=2),
    job("far", 90),
    shifts=(shift(end=15, rest=LUNCH, room=4), shift("ana", TUESDAY)),
    skills={"theo": {"pump"}, "ana": {"pump"}},
)


def test_a_plan_that_is_right_has_nothing_wrong():
    assert check(ASKED, RIGHT) == []


def round_with(**changes):
    return lambda plan: replace(plan, rounds=(replace(plan.rounds[0], **changes),))


def first_with(**changes):
    return round_with(stops=(replace(FIRST, **changes), SECOND))


def second_with(**changes):
    return round_with(stops=(FIRST, replace(SECOND, **changes)))


@pytest.mark.parametrize(
    ("broken", "sentence"),
    [
        (lambda plan: replace(plan, rounds=plan.rounds * 2), "first is visited 2 times."),
        (lambda plan: replace(plan, rounds=plan.rounds * 2), "theo has 2 rounds on 2031-03-03."),
        (lambda plan: replace(plan, unplanned={}), "far is neither planned nor left out with a reason."),
        (lambda plan: replace(plan, unplanned={"far": "x", "first": "x"}), "first is planned and also said to be"),
        (lambda plan: replace(plan, unplanned={"far": "x", "ghost": "x"}), "ghost is left out without being among"),
        (lambda plan: replace(plan, travel_minutes=59), "The rounds drive 60.0 minutes, the plan says 59.0."),
        (round_with(technician="ana"), "ana on 2031-03-03 doesn't work."),
        (first_with(job="ghost"), "ghost is no visit that can be driven to."),
        (first_with(end=NINE + HOUR - 1), "first is given another time than its 60 minutes."),
        (first_with(arrival=NINE + 1), "first begins before the arrival."),
        (first_with(start=11 * HOUR, end=12 * HOUR), "first begins outside its hours."),
        (second_with(start=14 * HOUR, end=15 * HOUR), "second begins outside its hours."),
        (second_with(driving=19 * MINUTE), "the drive to second takes 1200 s, not 1140 s."),
        (second_with(arrival=NINE + HOUR + 19 * MINUTE), "there is no time for the drive to second."),
        (round_with(driving_back=29 * MINUTE), "the drive to the way back takes 1800 s, not 1740 s."),
        (round_with(back=14 * HOUR + 29 * MINUTE), "there is no time for the drive to the way back."),
        (round_with(leaves=7 * HOUR), "leaves before the working day begins."),
        (round_with(back=15 * HOUR + 1), "is back after the working day ends."),
        (round_with(break_at=None), "has no break."),
        (round_with(break_at=11 * HOUR), "the break begins outside its span."),
        (round_with(break_at=12 * HOUR + 45 * MINUTE), "the break falls into a visit."),
    ],
)
def test_what_a_plan_breaks_is_named(broken, sentence):
    assert any(sentence in found for found in check(ASKED, broken(RIGHT)))


@pytest.mark.parametrize(
    ("asked", "sentence"),
    [
        ({"first": {"skills": frozenset({"wall"})}}, "first needs wall."),
        ({"first": {"earliest_on": TUESDAY, "latest_on": None}}, "first is before its first day."),
        ({"first": {"earliest_on": None, "latest_on": MONDAY.replace(day=1)}}, "first is after its last day."),
        ({"first": {"windows": (window(8, 10, TUESDAY),)}}, "first begins outside its hours."),
        ({"second": {"locked_to": Lock(technician="ana", day=MONDAY)}}, "second is promised with ana on 2031-03-03."),
        ({"second": {"locked_to": Lock(technician="theo", day=TUESDAY)}}, "second is promised with theo on 2031"),
        ({"second": {"carry": 3}}, "the van carries more than it has room for."),
    ],
)
def test_what_a_visit_asks_for_and_does_not_get_is_named(asked, sentence):
    changed = replace(ASKED, jobs=tuple(replace(each, **asked.get(each.id, {})) for each in ASKED.jobs))
    assert any(sentence in found for found in check(changed, RIGHT))


def test_a_break_that_is_not_owed_is_named():
    without = replace(ASKED, shifts=(shift(end=15), shift("ana", TUESDAY)))
    assert check(without, RIGHT) == ["theo on 2031-03-03: takes a break that isn't owed."]
