"""What the planner keeps to, what it prefers, and that it finds the best plan where the best can be counted out."""

from dataclasses import replace
from itertools import permutations, product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from contractor.visits.routing.checking import check, check_round
from contractor.visits.routing.errors import NotAPlan
from contractor.visits.routing.offers import offers
from contractor.visits.routing.planning import plan
from contractor.visits.routing.problem import Change, Lock, Plan, PlanePoint, Told
from contractor.visits.routing.times import lay_out
from tests.visits.routing.cast import (
    HOUR,
    LUNCH,
    MONDAY,
    TUESDAY,
    WEDNESDAY,
    job,
    objective,
    problem,
    shift,
    window,
)

STEPS = 150
WEEK = (shift(), shift(day=TUESDAY), shift(day=WEDNESDAY))
TWO = (shift("ana"), shift("theo"))


def planned(asked, **more):
    """The plan, which must pass the independent check."""
    found = plan(asked, iterations=STEPS, **more)
    assert check(asked, found) == []
    return found


def counted_out(asked):
    """The least objective over every way to share out and order the visits, leaving some out: no search, no solver."""
    best = sum(asked.prize(each) for each in asked.jobs)
    for owners in product([None, *range(len(asked.shifts))], repeat=len(asked.jobs)):
        cost = sum(asked.prize(each) for each, owner in zip(asked.jobs, owners, strict=True) if owner is None)
        for index, day in enumerate(asked.shifts):
            mine = [each for each, owner in zip(asked.jobs, owners, strict=True) if owner == index]
            cost += sum(asked.day_price(each, day.technician, day.day) for each in mine)
            drives = []
            for order in permutations([each.id for each in mine]):
                laid = lay_out(asked, day.technician, day.day, order)
                if not mine or not check_round(asked, laid):
                    drives.append(laid.driving)
            if not drives:
                break
            cost += min(drives) * asked.weights.driving
        else:
            best = min(best, cost)
    return best


@pytest.mark.parametrize(
    "asked",
    [
        problem(*(job(f"v{x}", x) for x in (30, -20, 5, 45, -50, 12))),
        problem(*(job(f"v{x}", x, windows=(window(8 + i, 9 + i),)) for i, x in enumerate((40, -30, 20, -10, 5)))),
        problem(*(job(f"v{x}", x, minutes=110) for x in (10, 20, 30, 40, 50)), shifts=(shift(rest=LUNCH),)),
        problem(*(job(f"v{x}", x, minutes=150, target_on=TUESDAY) for x in (10, -10, 60)), shifts=WEEK[:2]),
        problem(*(job(f"v{x}", x, minutes=200) for x in (25, -25, 30, -30)), shifts=TWO),
        problem(job("near", 5), job("not worth it", 100, minutes=30), job("urgent", 100, minutes=300, priority=2)),
        problem(*(job(f"v{x}", x, windows=(window(8, 9), window(15, 16))) for x in (10, -40, 30)), shifts=WEEK[:1]),
    ],
    ids=["order", "windows", "break", "target day", "two technicians", "worth the drive", "two windows"],
)
def test_the_plan_is_the_best_of_all_that_can_be_counted_out(asked):
    assert objective(asked, planned(asked)) == counted_out(asked)


def test_who_lacks_the_skill_is_not_sent_though_nearer():
    near = replace(shift("theo"), start_place=PlanePoint(10, 0), end_place=PlanePoint(10, 0))
    asked = problem(job("wall", skills=frozenset({"wall"})), shifts=(near, shift("ana")), skills={"ana": {"wall"}})
    assert planned(asked).where() == {"wall": ("ana", MONDAY)}


def test_a_locked_visit_stays_with_its_technician_and_day_and_in_its_window():
    lock = Lock(technician="ana", day=TUESDAY, window=window(13, 15))
    asked = problem(job("promised", locked_to=lock, target_on=MONDAY), shifts=(*WEEK, shift("ana", TUESDAY)))
    found = planned(asked)
    assert found.where() == {"promised": ("ana", TUESDAY)}
    assert found.rounds[0].stops[0].start == 13 * HOUR


def test_a_locked_visit_pushes_out_one_that_matters_less():
    lock = Lock(technician="theo", day=MONDAY)
    full = planned(problem(job("ordinary", minutes=400), job("promised", minutes=400, locked_to=lock)))
    assert full.where() == {"promised": ("theo", MONDAY)}


def test_hours_that_differ_by_day_choose_the_day():
    asked = problem(job("v", windows=(window(6, 7, MONDAY), window(14, 15, WEDNESDAY))), shifts=WEEK)
    found = planned(asked)
    assert found.where() == {"v": ("theo", WEDNESDAY)}
    assert found.rounds[0].stops[0].start == 14 * HOUR


def test_the_break_is_taken_between_visits_within_its_span():
    asked = problem(*(job(f"v{n}", minutes=120) for n in range(3)), shifts=(shift(rest=LUNCH),))
    (round_,) = planned(asked).rounds
    assert LUNCH.earliest <= round_.break_at <= LUNCH.latest


def test_who_is_back_before_the_break_is_due_takes_none():
    (round_,) = planned(problem(job("v"), shifts=(shift(rest=LUNCH),))).rounds
    assert round_.break_at is None


def test_nobody_leaves_earlier_than_needed():
    (round_,) = planned(problem(job("v", 10, windows=(window(10, 11),)))).rounds
    assert (round_.leaves, round_.stops[0].arrival) == (10 * HOUR - 600, 10 * HOUR)


def test_a_day_after_the_wished_one_is_told_with_its_working_days():
    found = planned(problem(job("v", target_on=MONDAY, earliest_on=MONDAY), shifts=(shift(day=WEDNESDAY),)))
    assert found.late == {"v": 2}


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        (problem(job("v", None)), "no position"),
        (problem(job("v", minutes=0)), "how long the work takes"),
        (problem(job("v"), shifts=()), "Nobody works"),
        (problem(job("v", skills=frozenset({"wall"})), skills={"ana": {"wall"}}), "can do wall"),
        (problem(job("v", latest_on=MONDAY), shifts=(shift(day=TUESDAY),)), "until Monday, March 3 does anybody work"),
        (problem(job("v", windows=(window(9, 10, TUESDAY),))), "hours are on other days"),
        (problem(job("v", carry=3), shifts=(shift(room=2),)), "No van has room"),
        (problem(job("v", 400)), "Even as the only visit"),
        (problem(job("v", locked_to=Lock(technician="ana", day=MONDAY))), "ana doesn't work that day"),
        (
            problem(job("v", skills=frozenset({"wall"}), locked_to=Lock(technician="theo", day=MONDAY))),
            "who can't do wall",
        ),
        (
            problem(job("v", windows=(window(9, 10, TUESDAY),), locked_to=Lock(technician="theo", day=MONDAY))),
            "without any of the owner's hours",
        ),
        (
            problem(job("v", carry=3, locked_to=Lock(technician="theo", day=MONDAY)), shifts=(shift(room=2),)),
            "whose van has no room",
        ),
        (
            problem(job("v", locked_to=Lock(technician="theo", day=MONDAY, window=window(18, 19)))),
            "doesn't fit into that working day",
        ),
        (problem(job("w", minutes=500, priority=2), job("v", minutes=500)), "no room left on Monday, March 3"),
        (
            problem(*(job(f"w{n}", minutes=500, priority=2) for n in range(3)), job("v", minutes=500), shifts=WEEK),
            "any of the 3 days",
        ),
        (
            problem(
                job("w", minutes=500, locked_to=Lock(technician="theo", day=MONDAY)),
                job("v", minutes=499, locked_to=Lock(technician="theo", day=MONDAY)),
                prizes=(0, 0, 0),
            ),
            "leaves no room for it",
        ),
        (problem(job("v", 100)), "200 minutes more of driving"),
    ],
)
def test_a_visit_left_out_has_its_true_reason(asked, words):
    reasons = planned(asked).unplanned
    assert len(reasons) == 1
    assert words in next(iter(reasons.values()))


def test_one_visit_with_bad_data_does_not_keep_the_others_from_being_planned():
    found = planned(problem(job("lost", None), job("v")))
    assert (set(found.unplanned), set(found.where())) == ({"lost"}, {"v"})


def test_the_same_seed_and_steps_give_the_same_plan():
    asked = problem(*(job(f"v{n}", (n * 37) % 91 - 45, minutes=45) for n in range(25)), shifts=(*WEEK, shift("ana")))
    assert plan(asked, iterations=STEPS, seed=7) == plan(asked, iterations=STEPS, seed=7)


def test_a_sick_call_moves_only_the_visits_of_who_is_ill():
    shifts = tuple(shift(who, day) for who in ("ana", "kofi", "theo") for day in (MONDAY, TUESDAY))
    jobs = [job(f"v{n:02}", (n * 37) % 91 - 45, minutes=60, target_on=(MONDAY, TUESDAY)[n % 2]) for n in range(20)]
    before = planned(problem(*jobs, shifts=shifts))
    where = before.where()
    told = [replace(each, told=Told(technician=where[each.id][0], day=where[each.id][1])) for each in jobs]
    ill = (before.rounds[0].technician, before.rounds[0].day)
    asked = problem(*told, shifts=tuple(each for each in shifts if each.key != ill))
    after = planned(asked, start=before)
    of_who_is_ill = {name for name, key in where.items() if key == ill}
    assert {change.job for change in after.to_tell} == of_who_is_ill


def test_an_owner_whose_visit_is_left_out_must_be_told_too():
    told = Told(technician="theo", day=MONDAY)
    found = planned(problem(job("v", told=told), shifts=()))
    assert found.to_tell == (Change(job="v", told=told, technician=None, day=None),)


@pytest.mark.parametrize("budget", [{}, {"iterations": 1, "seconds": 1}, {"iterations": -1}])
def test_a_budget_must_be_given_once(budget):
    with pytest.raises(NotAPlan):
        plan(problem(job("v")), **budget)


def test_nothing_to_plan_is_an_empty_plan():
    assert planned(problem()) == Plan(rounds=(), unplanned={}, travel_minutes=0, late={}, to_tell=())


def test_a_day_laid_out_by_hand_says_what_it_breaks():
    asked = problem(job("early", windows=(window(8, 9),)), job("long", 20, minutes=120))
    laid = lay_out(asked, "theo", MONDAY, ["long", "early"])
    assert [stop.job for stop in laid.stops] == ["long", "early"]
    assert check_round(asked, laid) == ["theo on 2031-03-03: early begins outside its hours."]


@pytest.mark.parametrize(("who", "names"), [("ana", ["v"]), ("theo", ["ghost"]), ("theo", ["lost"])])
def test_a_day_that_cannot_be_laid_out_is_refused(who, names):
    with pytest.raises(NotAPlan):
        lay_out(problem(job("v"), job("lost", None)), who, MONDAY, names)


def test_days_that_fit_come_cheapest_first_and_can_be_driven():
    jobs = [job("here", 30, earliest_on=TUESDAY, latest_on=TUESDAY), job("new", 31, locked_to=None)]
    asked = problem(*jobs, shifts=WEEK)
    stands = planned(replace(asked, jobs=(jobs[0],)))
    found = offers(asked, stands, "new")
    assert [(offer.day, offer.added_driving_minutes) for offer in found] == [
        (TUESDAY, 2),
        (MONDAY, 62),
        (WEDNESDAY, 62),
    ]


def test_no_day_is_offered_that_is_full_or_for_an_unknown_visit():
    full, new = job("full", minutes=500), job("new")
    asked = problem(full, new)
    stands = planned(replace(asked, jobs=(full,)))
    assert offers(asked, stands, "new") == offers(asked, stands, "ghost") == []


SKILLS = st.frozensets(st.sampled_from(["pump", "wall"]), max_size=1)
DAYS = st.sampled_from([MONDAY, TUESDAY, WEDNESDAY])


@st.composite
def visits(draw, name):
    opens = draw(st.sampled_from([7, 9, 12, 14, 20]))
    first = draw(st.none() | DAYS)
    return job(
        name,
        draw(st.none() | st.integers(-150, 150)),
        minutes=draw(st.integers(0, 300)),
        windows=draw(
            st.sampled_from([(), (window(opens, opens + 1.5),), (window(8, 9, MONDAY), window(13, 16, TUESDAY))])
        ),
        skills=draw(SKILLS),
        priority=draw(st.integers(0, 2)),
        earliest_on=first,
        latest_on=None if first is None else draw(st.none() | st.just(WEDNESDAY)),
        locked_to=draw(st.none() | st.builds(Lock, technician=st.sampled_from(["ana", "theo"]), day=DAYS)),
        carry=draw(st.integers(0, 3)),
    )


@st.composite
def problems(draw):
    rest = st.sampled_from([None, LUNCH])
    shifts = tuple(
        shift(who, day, end=draw(st.sampled_from([12, 17])), rest=draw(rest), room=draw(st.sampled_from([None, 4])))
        for who in ("ana", "theo")
        for day in (MONDAY, TUESDAY, WEDNESDAY)
        if draw(st.booleans())
    )
    jobs = [draw(visits(f"v{n}")) for n in range(draw(st.integers(0, 10)))]
    return problem(*jobs, shifts=shifts, skills={"ana": {"pump", "wall"}, "theo": {"pump"}})


@settings(max_examples=60, deadline=None)
@given(problems())
def test_every_plan_can_be_driven_and_accounts_for_every_visit(asked):
    found = plan(asked, iterations=20)
    assert check(asked, found) == []
    assert all(reason.endswith(".") for reason in found.unplanned.values())
