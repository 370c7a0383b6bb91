"""How a stretch too large for one table is cut into runs of days, and that the cut breaks no rule."""

from datetime import date, timedelta

import pytest

from contractor.visits.routing import pieces
from contractor.visits.routing.checking import check
from contractor.visits.routing.ground import ground_of
from contractor.visits.routing.pieces import cut, is_too_large
from contractor.visits.routing.planning import plan
from contractor.visits.routing.problem import Lock, Problem
from contractor.visits.routing.reasons import chances
from tests.benchmarks.planning_county import county
from tests.visits.routing.cast import MONDAY, job, problem, shift

STEPS = 200


def week_days(number: int) -> list[date]:
    days = [MONDAY + timedelta(days=day) for day in range(2 * number)]
    return [day for day in days if day.weekday() < 5][:number]


def cut_of(asked: Problem):
    ground = ground_of(asked)
    return cut(ground, {each.id: shifts for each in asked.jobs if (shifts := chances(ground, each))})


@pytest.fixture
def two_tables(monkeypatch):
    """Memory for about half of what the small county below needs."""
    monkeypatch.setattr(pieces, "TABLES_BYTES", 100_000)


@pytest.mark.parametrize(
    ("visits", "technicians", "days", "too_large"),
    [
        (300, 6, 10, False),  # 300 visits, 60 technician-days: 43 MB of tables
        (2000, 18, 22, True),  # 2,000 visits, 396 technician-days: 12.7 GB
    ],
)
def test_two_weeks_are_planned_at_once_and_a_month_is_cut(visits, technicians, days, too_large):
    asked = county(visits=visits, technicians=technicians, days=days)
    shifts_of = {each.id: list(asked.shifts[:1]) for each in asked.jobs}
    assert is_too_large(ground_of(asked), shifts_of) is too_large


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_the_runs_are_all_working_days_in_order_and_every_visit_is_in_one_that_it_may_be_in(two_tables, seed):
    asked = county(visits=40, technicians=2, days=10, seed=seed)
    found = cut_of(asked)
    assert len(found) > 1
    assert [day for piece in found for day in piece.days] == list(asked.working_days)
    jobs = {each.id: each for each in asked.jobs}
    meant = [name for piece in found for name in piece.visits]
    assert len(meant) == len(set(meant))
    for piece in found:
        for name in piece.visits:
            assert any(jobs[name].may_be_on(day) for day in piece.days)


def test_visits_are_shared_out_so_that_each_run_has_the_hours_for_them(two_tables):
    # Twenty hours of work in each of the first two days' windows would fill the first run alone; half may go later.
    days = week_days(10)
    asked = problem(
        *(job(f"visit {number:02}", 1, minutes=120, earliest_on=days[0], target_on=days[0]) for number in range(40)),
        shifts=tuple(shift(day=day) for day in days),
    )
    found = cut_of(asked)
    assert len(found) > 1
    for piece in found:
        work = sum(120 + 1 for _ in piece.visits)
        assert work <= 9 * 60 * len(piece.days)
    # The wished day draws all it can to the front: the first run is full, and none later is fuller than it.
    sizes = [len(piece.visits) for piece in found]
    assert sizes[0] == max(sizes)


def test_the_hours_of_a_skill_are_those_of_the_technicians_who_have_it(two_tables):
    days = week_days(10)
    asked = problem(
        *(
            job(f"wall {number:02}", 1, minutes=240, skills=frozenset({"wall"}), latest_on=days[-1])
            for number in range(30)
        ),
        shifts=tuple(shift(who, day=day) for day in days for who in ("ana", "theo")),
        skills={"ana": ["wall"], "theo": []},
    )
    for piece in cut_of(asked):
        assert len(piece.visits) * 240 <= 9 * 60 * len(piece.days)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_cut_stretch_keeps_every_rule_and_the_same_steps_give_the_same_plan(two_tables, seed):
    asked = county(visits=40, technicians=2, days=10, seed=seed)
    found = plan(asked, iterations=STEPS)
    assert check(asked, found) == []
    assert plan(asked, iterations=STEPS) == found
    assert len(found.where()) + len(found.unplanned) == len(asked.jobs)


def test_what_finds_no_room_in_its_run_rolls_on_to_a_later_one(two_tables):
    days = week_days(10)
    # The estimate of a visit's work doesn't know the van: it carries one piece a day, so that each day takes one visit.
    asked = problem(
        *(
            job(f"visit {number}", 10, minutes=30, carry=1, earliest_on=days[0], target_on=days[0], latest_on=days[-1])
            for number in range(40)
        ),
        shifts=tuple(shift(day=day, room=1) for day in days),
    )
    found = plan(asked, iterations=STEPS)
    assert check(asked, found) == []
    assert len(found.where()) == 10
    assert {day for _, day in found.where().values()} == set(days)


def test_a_promise_is_kept_across_the_cut(two_tables):
    days = week_days(10)
    asked = problem(
        *(job(f"visit {number}", 5, minutes=60, latest_on=days[-1]) for number in range(39)),
        job("promised", 5, locked_to=Lock(technician="theo", day=days[-1])),
        shifts=tuple(shift(day=day) for day in days),
    )
    assert plan(asked, iterations=STEPS).where()["promised"] == ("theo", days[-1])
