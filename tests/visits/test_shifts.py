"""Shifts as the planner takes them, read from usual weeks, leave, days of one's own and the company's calendar."""

from collections.abc import Callable
from datetime import date, datetime, time

import pytest

from contractor.accounts.models import Company, User
from contractor.core.audit import Actor
from contractor.visits.actions.working_days import (
    grant_leave,
    set_company_day,
    set_own_day,
    set_working_pattern,
    take_back_leave,
)
from contractor.visits.models import WorkingPattern
from contractor.visits.routing.problem import Break, Position
from contractor.visits.shifts import ROUGH_YARD, shifts_between, staffing_between
from contractor.visits.working import Depot, Rest
from tests.factories import UserFactory

MONDAY, FRIDAY = date(2026, 5, 4), date(2026, 5, 8)
YARD = Position(40.91, -77.28)
LUNCH = Rest(minutes=30, earliest=time(11, 30), latest=time(13, 30))
ALL_DAYS = dict.fromkeys(range(5), (time(8), time(16)))


@pytest.fixture(autouse=True)
def yard(company: Company) -> None:
    company.latitude, company.longitude = YARD.latitude, YARD.longitude
    company.save()


@pytest.fixture
def week(office: Actor, at: datetime) -> Callable[..., WorkingPattern]:
    """Gives a technician eight to four from Monday to Friday, with a lunch break, unless told otherwise."""

    def give(person: User, **changed: object) -> WorkingPattern:
        values = {"hours": ALL_DAYS, "valid_from": date(2026, 1, 5), "rest": LUNCH, "by": office, "at": at, **changed}
        return set_working_pattern(technician_id=person.pk, **values)  # type: ignore[arg-type]

    return give


def test_a_usual_week_becomes_five_shifts_from_the_yard_and_back(theo: User, week: Callable[..., object]) -> None:
    week(theo, room=6)
    shifts = shifts_between(MONDAY, date(2026, 5, 10))
    assert [shift.day for shift in shifts] == [date(2026, 5, day) for day in range(4, 9)]
    first = shifts[0]
    assert (first.technician, first.start, first.end, first.room) == (str(theo.pk), 8 * 3600, 16 * 3600, 6)
    assert (first.start_place, first.end_place) == (YARD, YARD)
    assert first.rest == Break(minutes=30, earliest=11 * 3600 + 1800, latest=13 * 3600 + 1800)


def test_a_day_may_begin_and_end_at_home(theo: User, week: Callable[..., object]) -> None:
    week(theo, start=Depot(at="home", latitude=41.0, longitude=-77.4))
    shift = shifts_between(MONDAY, MONDAY)[0]
    assert (shift.start_place, shift.end_place) == (Position(41.0, -77.4), YARD)


def test_somebody_without_hours_is_named_and_nobody_else_is_lost(theo: User, week: Callable[..., object]) -> None:
    ana = UserFactory(name="Ana Delgado", role="technician")
    week(theo)
    staffing = staffing_between(MONDAY, MONDAY)
    assert [shift.technician for shift in staffing.shifts] == [str(theo.pk)]
    assert staffing.off == {(str(ana.pk), MONDAY): "No working hours given"}
    assert staffing.cautions == (
        "Ana Delgado: no working hours given. Give them a usual week on the page of working days.",
    )


def test_leave_takes_the_days_and_gives_them_back_when_taken_back(
    theo: User, week: Callable[..., object], office: Actor, at: datetime
) -> None:
    week(theo)
    leave = grant_leave(
        technician_id=theo.pk, first_on=MONDAY, last_on=date(2026, 5, 6), reason="Surgery", by=office, at=at
    )
    staffing = staffing_between(MONDAY, FRIDAY)
    assert [shift.day.day for shift in staffing.shifts] == [7, 8]
    assert staffing.off[str(theo.pk), MONDAY] == "On leave"
    assert "Surgery" not in repr(staffing)  # the reason stays with the office
    take_back_leave(leave_id=leave.pk, by=office, at=at)
    assert len(shifts_between(MONDAY, FRIDAY)) == 5


def test_half_a_day_off_has_half_the_hours_and_no_break(
    theo: User, week: Callable[..., object], office: Actor, at: datetime
) -> None:
    week(theo)
    grant_leave(technician_id=theo.pk, first_on=MONDAY, last_on=MONDAY, part="morning", by=office, at=at)
    shift = shifts_between(MONDAY, MONDAY)[0]
    assert (shift.start, shift.end, shift.rest) == (12 * 3600, 16 * 3600, None)


def test_a_holiday_is_off_unless_the_company_works_and_a_closed_day_is_off(
    theo: User, week: Callable[..., object], office: Actor, at: datetime
) -> None:
    week(theo)
    memorial, tuesday = date(2026, 5, 25), date(2026, 5, 26)
    assert staffing_between(memorial, memorial).off == {(str(theo.pk), memorial): "Memorial Day"}
    set_company_day(on=memorial, is_closed=False, name="We work", by=office, at=at)
    set_company_day(on=tuesday, is_closed=True, name="Stock-taking", by=office, at=at)
    staffing = staffing_between(memorial, tuesday)
    assert [shift.day for shift in staffing.shifts] == [memorial]
    assert staffing.off == {(str(theo.pk), tuesday): "Stock-taking"}


def test_a_day_of_ones_own_changes_the_hours_or_takes_them(
    theo: User, week: Callable[..., object], office: Actor, at: datetime
) -> None:
    week(theo)
    set_own_day(technician_id=theo.pk, on=MONDAY, hours=(time(10), time(16)), because="Dentist", by=office, at=at)
    set_own_day(technician_id=theo.pk, on=FRIDAY, hours=None, because="Van broken", by=office, at=at)
    staffing = staffing_between(MONDAY, FRIDAY)
    assert (staffing.shifts[0].start, len(staffing.shifts)) == (10 * 3600, 4)
    assert staffing.off == {(str(theo.pk), FRIDAY): "Van broken"}


@pytest.mark.parametrize(("begins", "has_break"), [(10, True), (13, True), (14, False)])
def test_a_day_of_ones_own_that_begins_after_the_break_has_none(
    theo: User, week: Callable[..., object], office: Actor, at: datetime, begins: int, has_break: bool
) -> None:
    week(theo)
    hours = (time(begins), time(17))
    set_own_day(technician_id=theo.pk, on=MONDAY, hours=hours, because="Dentist", by=office, at=at)
    [shift] = staffing_between(MONDAY, MONDAY).shifts
    assert (shift.rest is not None) is has_break


def test_only_skills_that_hold_on_all_the_days_count(theo: User, week: Callable[..., object]) -> None:
    week(theo, skills=["pits", "pumps"])
    week(theo, skills=["pumps", "electrical"], valid_from=date(2026, 5, 6))
    assert staffing_between(MONDAY, date(2026, 5, 5)).technicians[0].skills == {"pits", "pumps"}
    assert staffing_between(MONDAY, FRIDAY).technicians[0].skills == {"pumps"}
    assert staffing_between(date(2026, 5, 6), FRIDAY).technicians[0].skills == {"pumps", "electrical"}


def test_a_yard_without_a_position_of_its_own_is_said_to_be_rough(
    theo: User, week: Callable[..., object], company: Company
) -> None:
    company.latitude = company.longitude = None
    company.save()
    week(theo)
    staffing = staffing_between(MONDAY, MONDAY)
    # The middle of 17099 as the package zipcodes gives it (GeoNames).
    assert staffing.shifts[0].start_place == Position(40.6431, -77.5805)
    assert staffing.cautions == (ROUGH_YARD,)


def test_a_yard_that_is_nowhere_is_named_and_plans_nobody(
    theo: User, week: Callable[..., object], company: Company
) -> None:
    company.latitude = company.longitude = None
    company.country, company.postcode = "CA", "K1A 0B1"
    company.save()
    week(theo)
    staffing = staffing_between(MONDAY, MONDAY)
    assert (staffing.shifts, len(staffing.cautions)) == ((), 1)
    assert staffing.cautions[0].startswith("The company's yard has no position")


def test_technicians_who_are_given_are_the_only_ones(theo: User, week: Callable[..., object]) -> None:
    ana = UserFactory(role="technician")
    week(theo)
    week(ana)
    assert {shift.technician for shift in shifts_between(MONDAY, FRIDAY, [ana])} == {str(ana.pk)}


def test_shifts_of_many_people_and_days_take_the_same_queries(
    theo: User, week: Callable[..., object], django_assert_num_queries: Callable[..., object]
) -> None:
    for person in [theo, *UserFactory.create_batch(4, role="technician")]:
        week(person)
        week(person, valid_from=MONDAY)
    with django_assert_num_queries(7):  # type: ignore[attr-defined]
        assert len(shifts_between(MONDAY, FRIDAY)) == 25
