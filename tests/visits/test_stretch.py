"""The book between two days as the planner's problem and plan; bad data are named and never a crash."""

from collections.abc import Callable
from datetime import UTC, date, datetime, time, timedelta

import pytest

from contractor.accounts.models import Company, User
from contractor.core.audit import Actor
from contractor.visits.actions.working_days import grant_leave, set_working_pattern
from contractor.visits.models import Appointment, Request
from contractor.visits.routing.checking import check
from contractor.visits.routing.planning import plan
from contractor.visits.routing.problem import Lock, Told, Window
from contractor.visits.rules import parts_carried, priority_of
from contractor.visits.skills import Skill
from contractor.visits.stretch import NO_POSITION, NOT_GIVEN, standing_problem
from contractor.visits.working import Rest
from tests.factories import UserFactory
from tests.visits.factories import AppointmentFactory, RequestFactory

MONDAY, TUESDAY, FRIDAY = date(2026, 5, 4), date(2026, 5, 5), date(2026, 5, 8)
HOUR = 3600


@pytest.fixture(autouse=True)
def at_work(company: Company, theo: User, office: Actor, at: datetime) -> None:
    """Theo works from Monday to Friday, eight to five, from a yard on the map."""
    company.latitude, company.longitude = 40.91, -77.32
    company.save()
    set_working_pattern(
        technician_id=theo.pk,
        valid_from=date(2026, 1, 5),
        hours=dict.fromkeys(range(5), (time(8), time(17))),
        rest=Rest(minutes=30, earliest=time(11, 30), latest=time(13, 30)),
        skills=list(Skill),
        by=office,
        at=at,
    )


def request(number: int = 1, **changed: object) -> Request:
    """A request at a house with a position, a little further out for each number."""
    place = {"system__property__latitude": 40.92 + number / 200, "system__property__longitude": -77.33}
    return RequestFactory(**{**place, **changed})


def given(
    theo: User, number: int = 1, *, on: date = TUESDAY, request_: Request | None = None, **changed: object
) -> Appointment:
    return AppointmentFactory(
        request=request_ or request(number), technician=theo, on=on, stop_number=number, **changed
    )


@pytest.mark.parametrize(
    ("changed", "is_locked", "window"),
    [
        pytest.param({}, False, None, id="planned: may move, at a price"),
        pytest.param({"state": "confirmed"}, True, None, id="confirmed by the owner"),
        pytest.param(
            {"arrive_from": time(10), "arrive_until": time(12)},
            True,
            Window(opens=10 * HOUR, closes=12 * HOUR),
            id="hours promised",
        ),
        pytest.param(
            # 14:10 UTC is 10:10 in the company's zone.
            {"begun_at": datetime(2026, 5, 5, 14, 10, tzinfo=UTC)},
            True,
            Window(opens=10 * HOUR + 600, closes=24 * HOUR - 1),
            id="begun",
        ),
        pytest.param(
            {
                "state": "done",
                "begun_at": datetime(2026, 5, 5, 14, 10, tzinfo=UTC),
                "ended_at": datetime(2026, 5, 5, 15, 0, tzinfo=UTC),
            },
            True,
            Window(opens=10 * HOUR + 600, closes=11 * HOUR),
            id="done",
        ),
    ],
)
def test_what_stays_where_it_is(theo: User, changed: dict[str, object], is_locked: bool, window: Window | None) -> None:
    given(theo, **changed)
    job = standing_problem(MONDAY, FRIDAY).problem.jobs[0]
    if is_locked:
        assert (job.locked_to, job.told) == (Lock(technician=str(theo.pk), day=TUESDAY, window=window), None)
    else:
        assert (job.locked_to, job.told) == (None, Told(technician=str(theo.pk), day=TUESDAY))


def test_a_visit_that_was_done_takes_the_minutes_it_took(theo: User) -> None:
    began = datetime(2026, 5, 5, 14, 10, tzinfo=UTC)
    given(theo, state="done", begun_at=began, ended_at=began + timedelta(minutes=42))
    assert standing_problem(MONDAY, FRIDAY).problem.jobs[0].minutes == 42


def test_the_plan_is_the_book_in_the_order_of_its_stops(theo: User) -> None:
    first = given(theo, 1, on=TUESDAY)
    second = given(theo, 2, on=TUESDAY)
    other = given(theo, 3, on=MONDAY)
    standing = standing_problem(MONDAY, FRIDAY)
    assert [
        (round_.day, [stop.job for stop in round_.stops]) for round_ in standing.plan.rounds
    ] == [
        (MONDAY, [f"request:{other.request_id}"]),
        (TUESDAY, [f"request:{first.request_id}", f"request:{second.request_id}"]),
    ]
    assert standing.plan.travel_minutes > 0
    assert check(standing.problem, standing.plan) == []


def test_cancelled_visits_and_those_of_other_days_are_not_in_it(theo: User) -> None:
    given(theo, 1, state="cancelled", request_=request(withdrawn_at=datetime(2026, 5, 1, tzinfo=UTC)))
    given(theo, 2, on=date(2026, 5, 11))
    assert standing_problem(MONDAY, FRIDAY).problem.jobs == ()


@pytest.mark.parametrize(
    ("target_on", "window", "is_wanted"),
    [
        pytest.param(date(2026, 5, 14), (MONDAY, date(2026, 6, 1)), True, id="open now"),
        pytest.param(date(2026, 5, 14), (FRIDAY, date(2026, 6, 1)), True, id="opens on the last day"),
        pytest.param(date(2026, 5, 14), (date(2026, 5, 9), date(2026, 6, 1)), False, id="opens after it"),
        pytest.param(date(2026, 4, 14), (date(2026, 4, 1), date(2026, 4, 30)), True, id="past its last day"),
    ],
)
def test_what_waits_is_wanted_when_its_window_meets_the_stretch_or_is_past(
    target_on: date, window: tuple[date, date], is_wanted: bool
) -> None:
    waiting = request(target_on=target_on, earliest_on=window[0], latest_on=window[1])
    standing = standing_problem(MONDAY, FRIDAY)
    assert [job.id for job in standing.problem.jobs] == ([f"request:{waiting.pk}"] if is_wanted else [])
    assert standing.plan.unplanned == ({f"request:{waiting.pk}": NOT_GIVEN} if is_wanted else {})
    assert standing_problem(MONDAY, FRIDAY, include_unplanned=False).problem.jobs == ()


def test_what_is_past_its_last_day_is_urgent_due_in_the_stretch_and_named() -> None:
    request(target_on=date(2026, 4, 14), earliest_on=date(2026, 4, 1), latest_on=date(2026, 4, 30))
    standing = standing_problem(MONDAY, FRIDAY)
    job = standing.problem.jobs[0]
    assert (job.priority, job.target_on, job.latest_on) == (2, MONDAY, FRIDAY)
    assert standing.problem.is_due(job)
    assert any(said.startswith("Past the last day, and not in the book yet:") for said in standing.cautions)


def test_the_better_part_of_the_window_is_wished_for() -> None:
    request(target_on=date(2026, 5, 14), best_until=date(2026, 5, 7), best_because="Best by May 7.")
    assert standing_problem(MONDAY, FRIDAY).problem.jobs[0].target_on == date(2026, 5, 7)


def test_a_visit_brings_the_minutes_skills_and_parts_of_what_goes_along(theo: User) -> None:
    host = request(minutes=60, skills=["pumps"], carry="Float switch; check valve")
    RequestFactory(
        system=host.system, kind="repair", minutes=25, skills=["batteries"], carry="Battery", goes_with=host
    )
    job = standing_problem(MONDAY, FRIDAY).problem.jobs[0]
    assert (job.minutes, job.skills, job.carry) == (85, {"pumps", "batteries"}, 3)


def test_a_house_without_a_position_is_named_and_left_out_of_its_round(theo: User) -> None:
    nowhere = given(theo, 1, request_=RequestFactory(system__property__postcode="00000"))
    good = given(theo, 2)
    standing = standing_problem(MONDAY, FRIDAY)
    assert standing.plan.unplanned == {f"request:{nowhere.request_id}": NO_POSITION}
    assert [stop.job for stop in standing.plan.rounds[0].stops] == [f"request:{good.request_id}"]
    street = nowhere.request.system.property.street
    assert f"Without a position, so that no drive can be reckoned: {street}." in standing.cautions


def test_a_rough_position_is_planned_and_named() -> None:
    waiting = RequestFactory()
    standing = standing_problem(MONDAY, FRIDAY)
    assert standing.problem.jobs[0].position is not None
    street = waiting.system.property.street
    assert f"Only the middle of the ZIP code is known, so drives are a guess: {street}." in standing.cautions


def test_many_houses_are_named_in_one_sentence() -> None:
    RequestFactory.create_batch(7)
    assert any(said.endswith(" and 2 more.") for said in standing_problem(MONDAY, FRIDAY).cautions)


def test_a_technician_who_is_away_leaves_the_visit_out_with_the_reason(
    theo: User, office: Actor, at: datetime
) -> None:
    visit = given(theo)
    grant_leave(technician_id=theo.pk, first_on=TUESDAY, last_on=TUESDAY, by=office, at=at)
    standing = standing_problem(MONDAY, FRIDAY)
    said = "Theo Marsh doesn't go out on Tuesday, May 5: On leave. Give the visit to somebody else."
    assert standing.plan.unplanned == {f"request:{visit.request_id}": said}


def test_a_technician_who_has_left_and_one_without_hours_are_named(theo: User) -> None:
    gone = UserFactory(name="Lee Past", role="technician", is_active=False)
    new = UserFactory(name="Ana Delgado", role="technician")
    one, other = given(gone, 1), given(new, 2)
    standing = standing_problem(MONDAY, FRIDAY)
    assert standing.plan.rounds == ()
    assert standing.plan.unplanned[f"request:{one.request_id}"].startswith("Lee Past is no longer")
    assert "No working hours given" in standing.plan.unplanned[f"request:{other.request_id}"]


def test_only_the_technicians_who_are_given_bring_their_book(theo: User) -> None:
    given(theo)
    ana = UserFactory(role="technician")
    assert standing_problem(MONDAY, FRIDAY, technicians=[ana]).problem.jobs == ()
    assert len(standing_problem(MONDAY, FRIDAY, technicians=[theo]).problem.jobs) == 1


def test_the_planner_plans_what_waits_around_what_stands(theo: User) -> None:
    fixed = given(theo, 1, state="confirmed")
    waiting = [request(number) for number in range(2, 6)]
    standing = standing_problem(MONDAY, FRIDAY)
    planned = plan(standing.problem, iterations=50, start=standing.plan)
    assert check(standing.problem, planned) == []
    assert planned.where()[f"request:{fixed.request_id}"] == (str(theo.pk), TUESDAY)
    assert set(planned.where()) == {f"request:{one.pk}" for one in [fixed.request, *waiting]}


def test_a_full_book_takes_the_same_queries(
    theo: User, django_assert_num_queries: Callable[..., object]
) -> None:
    for number in range(1, 6):
        given(theo, number)
        host = request(number)
        RequestFactory(system=host.system, kind="repair", goes_with=host)
    with django_assert_num_queries(14):  # type: ignore[attr-defined]
        assert len(standing_problem(MONDAY, FRIDAY).problem.jobs) == 10


@pytest.mark.parametrize(
    ("kind", "on", "expected"),
    [
        ("checkup", "2026-05-14", 0),
        ("checkup", "2026-05-15", 1),
        ("checkup", "2026-06-02", 2),
        ("repair", "2026-05-14", 1),
        ("repair", "2026-05-15", 2),
        ("transfer", "2026-05-01", 1),
        ("reinstatement", "2026-05-01", 1),
        ("claim", "2026-05-01", 2),
        ("claim", "2026-06-02", 2),
    ],
)
def test_how_pressing_a_visit_is(kind: str, on: str, expected: int) -> None:
    """Common practice, no source: water first, then repairs and closings, then the yearly check-up."""
    found = priority_of(kind, target_on=date(2026, 5, 14), latest_on=date(2026, 6, 1), on=date.fromisoformat(on))
    assert found == expected


@pytest.mark.parametrize(
    ("carry", "expected"),
    [
        ("", 0),
        ("Battery", 1),
        ("Battery; float switch", 2),
        ("Battery\nfloat switch\n", 2),
        (" ; ", 0),
    ],
)
def test_parts_to_carry_are_counted(carry: str, expected: int) -> None:
    assert parts_carried(carry) == expected
