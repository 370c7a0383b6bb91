"""The pages and writes about who works when: every refusal, every page, at how many queries."""

from collections.abc import Callable
from datetime import UTC, date, datetime, time, timedelta

import pytest
from django.test import Client
from django.urls import reverse

from contractor.accounts.models import User
from contractor.core import clock
from contractor.core.audit import Actor
from contractor.core.errors import Refusal
from contractor.core.models import AuditEntry
from contractor.visits import errors
from contractor.visits.actions import working_days as actions
from contractor.visits.models import CompanyDay, Leave, OwnDay, WorkingPattern
from contractor.visits.shifts import shifts_between
from contractor.visits.working import Depot, Rest
from tests.factories import UserFactory
from tests.visits.factories import AppointmentFactory

MONDAY, TUESDAY = date(2026, 5, 4), date(2026, 5, 5)
EIGHT_TO_FOUR = (time(8), time(16))


@pytest.fixture(autouse=True)
def monday_morning(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(clock, "today", lambda: MONDAY)
    monkeypatch.setattr(clock, "now", lambda: datetime(2026, 5, 4, 14, 0, tzinfo=UTC))


@pytest.fixture
def desk(nora: User, signed_in_as: Callable[[User], Client]) -> Client:
    return signed_in_as(nora)


WEEK = {"valid_from": date(2026, 1, 5), "hours": {0: EIGHT_TO_FOUR}}
LEAVE = {"first_on": MONDAY, "last_on": TUESDAY}
OWN_DAY = {"on": MONDAY, "hours": EIGHT_TO_FOUR, "because": "Late"}


@pytest.mark.parametrize(
    ("verb", "values", "changed", "refusal"),
    [
        (actions.set_working_pattern, WEEK, {"hours": {}}, errors.NoWorkingDay),
        (actions.set_working_pattern, WEEK, {"hours": {0: (time(16), time(8))}}, errors.HoursBackwards),
        (
            actions.set_working_pattern,
            WEEK,
            {"rest": Rest(minutes=30, earliest=time(13), latest=time(11))},
            errors.BreakBackwards,
        ),
        (
            actions.set_working_pattern,
            WEEK,
            {"rest": Rest(minutes=0, earliest=time(11), latest=time(13))},
            errors.BreakBackwards,
        ),
        (actions.set_working_pattern, WEEK, {"start": Depot(at="home")}, errors.PlaceWithoutPosition),
        (actions.set_working_pattern, WEEK, {"end": Depot(at="elsewhere", latitude=41.0)}, errors.PlaceWithoutPosition),
        (actions.grant_leave, LEAVE, {"last_on": date(2026, 5, 1)}, errors.LeaveBackwards),
        (actions.grant_leave, LEAVE, {"part": "morning"}, errors.HalfOfManyDays),
        (actions.set_own_day, OWN_DAY, {"because": " "}, errors.ReasonMissing),
        (actions.set_own_day, OWN_DAY, {"hours": (time(9), time(9))}, errors.HoursBackwards),
    ],
)
def test_what_contradicts_itself_is_refused_and_nothing_is_written(
    theo: User,
    office: Actor,
    at: datetime,
    verb: Callable[..., object],
    values: dict[str, object],
    changed: dict[str, object],
    refusal: type[Refusal],
) -> None:
    before = AuditEntry.objects.count()
    with pytest.raises(refusal):
        verb(technician_id=theo.pk, by=office, at=at, **{**values, **changed})
    assert AuditEntry.objects.count() == before
    verb(technician_id=theo.pk, by=office, at=at, **values)
    assert AuditEntry.objects.count() == before + 1


@pytest.mark.parametrize(
    ("verb", "values"),
    [(actions.set_working_pattern, WEEK), (actions.grant_leave, LEAVE), (actions.set_own_day, OWN_DAY)],
)
def test_only_an_active_technician_has_working_days(
    nora: User, office: Actor, at: datetime, verb: Callable[..., object], values: dict[str, object]
) -> None:
    for person in (nora, UserFactory(role="technician", is_active=False)):
        with pytest.raises(errors.NotATechnician):
            verb(technician_id=person.pk, by=office, at=at, **values)


@pytest.mark.parametrize(
    ("part", "other", "is_refused"),
    [
        ("whole", "whole", True),
        ("morning", "whole", True),
        ("whole", "afternoon", True),
        ("morning", "morning", True),
        ("morning", "afternoon", False),
    ],
)
def test_leave_is_noted_once(
    theo: User, office: Actor, at: datetime, part: str, other: str, is_refused: bool
) -> None:
    day = {"technician_id": theo.pk, "first_on": MONDAY, "last_on": MONDAY, "by": office, "at": at}
    leave = actions.grant_leave(part=part, **day)  # type: ignore[arg-type]
    if is_refused:
        with pytest.raises(errors.LeaveTwice, match="on Monday, May 4, 2026 already"):
            actions.grant_leave(part=other, **day)  # type: ignore[arg-type]
        actions.take_back_leave(leave_id=leave.pk, by=office, at=at)
    actions.grant_leave(part=other, **day)  # type: ignore[arg-type]


def test_leave_is_taken_back_once(theo: User, office: Actor, at: datetime) -> None:
    leave = actions.grant_leave(technician_id=theo.pk, first_on=MONDAY, last_on=MONDAY, by=office, at=at)
    actions.take_back_leave(leave_id=leave.pk, by=office, at=at)
    with pytest.raises(errors.LeaveTakenBack):
        actions.take_back_leave(leave_id=leave.pk, by=office, at=at)


def test_a_company_day_needs_a_name(company: object, office: Actor, at: datetime) -> None:
    with pytest.raises(errors.NameMissing):
        actions.set_company_day(on=MONDAY, is_closed=True, name=" ", by=office, at=at)


def test_the_reason_of_leave_and_a_home_stay_out_of_the_chained_half_of_the_trail(
    theo: User, office: Actor, at: datetime
) -> None:
    actions.grant_leave(
        technician_id=theo.pk, first_on=MONDAY, last_on=MONDAY, reason="Surgery", by=office, at=at
    )
    actions.set_working_pattern(
        technician_id=theo.pk,
        start=Depot(at="home", latitude=41.25, longitude=-77.75),
        by=office,
        at=at,
        **WEEK,  # type: ignore[arg-type]
    )
    bodies = repr(list(AuditEntry.objects.values_list("body", flat=True)))
    assert "Surgery" not in bodies
    assert "41.25" not in bodies


def test_a_week_from_the_same_day_replaces_the_one_before(theo: User, office: Actor, at: datetime) -> None:
    for hours in ({0: EIGHT_TO_FOUR, 1: EIGHT_TO_FOUR}, {2: EIGHT_TO_FOUR}):
        actions.set_working_pattern(
            technician_id=theo.pk, valid_from=date(2026, 1, 5), hours=hours, by=office, at=at
        )
    pattern = WorkingPattern.objects.get()
    assert list(pattern.hours.values_list("weekday", flat=True)) == [2]


def test_the_week_as_typed_becomes_shifts(theo: User, desk: Client) -> None:
    data = {f"begins_{number}": "07:30" for number in range(5)} | {f"ends_{number}": "16:00" for number in range(5)}
    data |= {"valid_from": "2026-05-04", "rest_minutes": "30", "rest_from": "11:30", "rest_until": "13:30"}
    data |= {"start_at": "home", "start_position": "40.95, -77.22", "end_at": "company", "room": "6"}
    answer = desk.post(reverse("visits:usual_week", args=[theo.pk]), {**data, "skills": ["pumps", "pits"]})
    assert answer.status_code == 302
    shift = shifts_between(MONDAY, MONDAY)[0]
    assert (shift.start, shift.end, shift.room) == (27_000, 57_600, 6)
    assert 'value="07:30' in desk.get(reverse("visits:usual_week", args=[theo.pk])).content.decode()
    for page in (reverse("visits:technicians"), reverse("visits:working_days", args=[theo.pk])):
        assert "Monday to Friday, 7:30 AM to 4 PM" in desk.get(page).content.decode()


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({"ends_0": ""}, "Give both hours of Monday, or neither."),
        ({"ends_0": "07:00"}, "Monday must end after it begins."),
        ({"rest_minutes": ""}, "A break needs its minutes and both times."),
        ({"start_at": "home"}, "The drive from a place can only be reckoned"),
        ({"start_at": "home", "start_position": "somewhere"}, "Type two numbers with a comma between"),
        ({"begins_0": "", "ends_0": ""}, "Give hours for at least one day of the week."),
    ],
)
def test_a_week_with_a_mistake_says_so_and_keeps_what_was_typed(
    theo: User, desk: Client, changed: dict[str, str], sentence: str
) -> None:
    good = {
        "valid_from": "2026-05-04",
        "begins_0": "08:00",
        "ends_0": "16:00",
        "rest_minutes": "30",
        "rest_from": "11:30",
        "rest_until": "13:30",
        "start_at": "company",
        "start_name": "Depot by the creek",
        "end_at": "company",
    }
    page = desk.post(reverse("visits:usual_week", args=[theo.pk]), {**good, **changed}).content.decode()
    assert sentence in page
    assert "Depot by the creek" in page
    assert not WorkingPattern.objects.exists()


def test_leave_over_appointments_is_said_with_the_list_of_them(theo: User, desk: Client) -> None:
    visit = AppointmentFactory(technician=theo, on=TUESDAY)
    AppointmentFactory(technician=theo, on=date(2026, 5, 12))
    data = {"first_on": "2026-05-04", "last_on": "2026-05-06", "part": "whole", "reason": "Surgery"}
    page = desk.post(reverse("visits:add_leave", args=[theo.pk]), data, follow=True).content.decode()
    assert "1 visit stands in it: give each to somebody else." in page
    assert reverse("visits:move", args=[visit.pk]) in page
    assert visit.request.system.property.street_line in page
    assert page.count("Move it") == 1


def test_leave_over_nothing_says_so_and_can_be_taken_back(theo: User, desk: Client) -> None:
    data = {"first_on": "2026-05-04", "last_on": "2026-05-04", "part": "morning"}
    page = desk.post(reverse("visits:add_leave", args=[theo.pk]), data, follow=True).content.decode()
    assert "No visit stands in it." in page
    leave = Leave.objects.get()
    desk.post(reverse("visits:take_back_leave", args=[leave.pk]))
    assert not Leave.objects.standing().exists()


def test_leave_backwards_is_refused_beside_its_field(theo: User, desk: Client) -> None:
    data = {"first_on": "2026-05-06", "last_on": "2026-05-04", "part": "whole"}
    page = desk.post(reverse("visits:add_leave", args=[theo.pk]), data).content.decode()
    assert "The last day of leave can&#x27;t come before the first." in page or "can't come before" in page


def test_a_day_of_ones_own_is_kept_and_taken_back(theo: User, desk: Client) -> None:
    address = reverse("visits:add_own_day", args=[theo.pk])
    assert "Give both hours, or neither." in desk.post(
        address, {"on": "2026-05-05", "begins": "10:00", "because": "Dentist"}
    ).content.decode()
    page = desk.post(address, {"on": "2026-05-05", "because": "Van broken"}, follow=True).content.decode()
    assert "Van broken" in page
    assert "go out" in page
    desk.post(reverse("visits:clear_own_day", args=[OwnDay.objects.get().pk]))
    assert not OwnDay.objects.exists()


def test_the_calendar_shows_holidays_and_takes_what_the_company_decides(desk: Client) -> None:
    address = reverse("visits:calendar", args=[2026])
    assert "Memorial Day" in desk.get(address).content.decode()
    desk.post(address, {"on": "2026-05-25", "is_closed": "no", "name": "We work"})
    desk.post(address, {"on": "2026-12-31", "is_closed": "yes", "name": "Stock-taking"})
    page = desk.get(address).content.decode()
    assert "We work" in page
    assert "closed: Stock-taking" in page
    desk.post(reverse("visits:clear_company_day", args=[2026]), {"on": "2026-12-31"})
    desk.post(reverse("visits:clear_company_day", args=[2026]), {"on": "no day"})
    assert list(CompanyDay.objects.values_list("name", flat=True)) == ["We work"]
    assert desk.get(reverse("visits:calendar", args=[1500])).status_code == 404


def test_somebody_without_hours_is_named_on_the_list(theo: User, desk: Client) -> None:
    page = desk.get(reverse("visits:technicians")).content.decode()
    assert "no working hours given" in page
    assert reverse("visits:usual_week", args=[theo.pk]) in page
    assert "No working hours given" in desk.get(reverse("visits:working_days", args=[theo.pk])).content.decode()


@pytest.mark.parametrize("count", [1, 4])
def test_the_pages_take_the_same_queries_whatever_they_show(
    theo: User,
    desk: Client,
    office: Actor,
    at: datetime,
    count: int,
    django_assert_num_queries: Callable[..., object],
) -> None:
    for number in range(count):
        person = theo if number == 0 else UserFactory(role="technician")
        actions.set_working_pattern(technician_id=person.pk, by=office, at=at, **WEEK)  # type: ignore[arg-type]
        day = MONDAY + timedelta(days=7 * number)
        actions.grant_leave(technician_id=theo.pk, first_on=day, last_on=day, by=office, at=at)
        actions.set_own_day(technician_id=theo.pk, on=day, hours=None, because="Van", by=office, at=at)
        actions.set_company_day(on=day, is_closed=True, name="Closed", by=office, at=at)
        AppointmentFactory(technician=theo, on=day)
    with django_assert_num_queries(7):  # type: ignore[attr-defined]
        desk.get(reverse("visits:technicians"))
    with django_assert_num_queries(11):  # type: ignore[attr-defined]
        desk.get(reverse("visits:working_days", args=[theo.pk]))
    with django_assert_num_queries(5):  # type: ignore[attr-defined]
        desk.get(reverse("visits:calendar", args=[2026]))
