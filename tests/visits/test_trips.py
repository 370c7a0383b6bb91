"""When one trip serves two visits, how long a visit takes, and which part of its window is the better one."""

from datetime import UTC, date, datetime, timedelta

import pytest

from contractor.accounts.models import User
from contractor.core.audit import Actor
from contractor.systems.models import System
from contractor.visits.actions import appointments as actions
from contractor.visits.durations import duration, parts_key
from contractor.visits.errors import GoesAlone, GoesAlong
from contractor.visits.models import Request
from contractor.visits.queries import checkup_durations
from contractor.visits.rules import checkup_minutes
from contractor.visits.seasons import Season, narrowed, season_of
from contractor.visits.trips import Wish, taken_along_by, takes_along
from tests.factories import ComponentFactory
from tests.visits.factories import AppointmentFactory, RequestFactory


def day(number: int) -> date:
    return date(2026, 5, 1) + timedelta(days=number)


def wish(number: int, kind: str, first: int, last: int, given: int | None = None) -> Wish:
    return Wish(
        request_id=number,
        kind=kind,
        earliest_on=day(first),
        latest_on=day(last),
        given_on=None if given is None else day(given),
    )


@pytest.mark.parametrize(
    ("new", "standing", "host"),
    [
        (wish(9, "repair", 0, 14), [wish(1, "checkup", 14, 60)], 1),  # one shared day is enough
        (wish(9, "repair", 0, 14), [wish(1, "checkup", 15, 60)], None),
        (wish(9, "claim", 0, 14), [wish(1, "checkup", 0, 60, given=10)], 1),
        (wish(9, "claim", 0, 14), [wish(1, "checkup", 0, 60, given=20)], None),  # its appointment comes too late
        (wish(9, "repair", 0, 14), [wish(1, "checkup", 0, 60), wish(2, "repair", 0, 60, given=3)], 2),
        (wish(9, "repair", 0, 14), [wish(1, "checkup", 10, 60), wish(2, "claim", 2, 9)], 2),
        (wish(9, "checkup", 0, 14), [wish(1, "repair", 0, 60)], None),  # a check-up never goes along
        (wish(9, "transfer", 0, 14), [wish(1, "checkup", 0, 60)], None),
        (wish(9, "repair", 0, 14), [wish(9, "repair", 0, 14)], None),
    ],
)
def test_a_visit_goes_along_where_the_windows_meet(new: Wish, standing: list[Wish], host: int | None) -> None:
    assert taken_along_by(new, standing) == host


def test_a_check_up_takes_along_what_waits_and_nothing_that_was_given_out() -> None:
    standing = [wish(1, "repair", 0, 9), wish(2, "repair", 0, 9, given=4), wish(3, "claim", 40, 50)]
    assert takes_along(wish(9, "checkup", 5, 30), standing) == [1]


def visits_of(*minutes: int) -> list[tuple[datetime, datetime]]:
    begun = datetime(2026, 5, 4, 14, tzinfo=UTC)
    return [(begun, begun + timedelta(minutes=each)) for each in minutes]


@pytest.mark.parametrize(
    ("past", "minutes", "is_learned"),
    [
        # Medians by hand: of 40 41 44 50 90 it is 44, up to the next five 45; of six 40 40 44 48 50 90 it is 46.
        (visits_of(90, 40, 41, 50, 44), 45, True),
        (visits_of(90, 40, 40, 48, 50, 44), 50, True),
        (visits_of(45, 45, 45, 45, 45), 45, True),
        (visits_of(90, 40, 41, 50), 40, False),
        (visits_of(90, 40, 41, 50, 9), 40, False),  # begun and ended within ten minutes: typed up later
        (visits_of(90, 40, 41, 50, 301), 40, False),
    ],
)
def test_minutes_are_the_median_of_five_believable_visits_or_those_of_the_table(
    past: list[tuple[datetime, datetime]], minutes: int, is_learned: bool
) -> None:
    parts = ["pit", "battery"]
    assert checkup_minutes(parts) == 40
    found = duration(parts, past)
    assert (found.minutes, "median" in found.because) == (minutes, is_learned)


def test_minutes_are_learned_from_systems_with_the_same_parts_only(
    system: System, theo: User, office: Actor, at: datetime
) -> None:
    for kind in ("pit", "battery"):
        ComponentFactory(system=system, part_kind=kind)
    for _ in range(5):
        stop = AppointmentFactory(request=RequestFactory(system=system), technician=theo)
        actions.mark_done(
            appointment_id=stop.pk, by=office, at=at, begun_at=at - timedelta(minutes=72)
        )
    found = checkup_durations([["battery", "pit"], ["pit"]])
    assert found[parts_key(["pit", "battery"])].minutes == 75
    assert "too few" in found[parts_key(["pit"])].because


# Means near those of an Atlantic city, rounded; the expectations are worked out by hand beside them.
MEAN_C = [0.9, 2.2, 6.1, 12.1, 17.3, 22.4, 25.3, 24.5, 20.8, 14.7, 8.9, 3.9]


def test_the_wettest_quarter_and_the_first_frost_are_found_from_monthly_means() -> None:
    rain = [92, 81, 109, 104, 101, 105, 117, 116, 109, 101, 91, 101]
    assert season_of(rain, MEAN_C).wettest_from == (7, 1)
    # From 8.9 °C in mid-November to 3.9 °C in mid-December, 5 °C is 0.78 of the month on: 24 days after November 15.
    assert season_of(rain, MEAN_C).frost_from == (12, 9)


def test_a_wettest_quarter_over_new_year_begins_in_the_old_year_and_even_rain_has_none() -> None:
    assert season_of([200, 90, 50, 50, 50, 50, 50, 50, 50, 50, 90, 200], [20.0] * 12) == Season(
        wettest_from=(11, 1), frost_from=None
    )
    assert season_of([80.0] * 12, [20.0] * 12).wettest_from is None


SEASON = Season(wettest_from=(6, 1), frost_from=(10, 20))


@pytest.mark.parametrize(
    ("earliest", "latest", "best"),
    [
        (date(2026, 3, 1), date(2026, 7, 1), date(2026, 5, 31)),
        (date(2026, 5, 4), date(2026, 7, 1), date(2026, 5, 31)),  # exactly four weeks are left
        (date(2026, 5, 5), date(2026, 7, 1), None),
        (date(2026, 5, 5), date(2026, 11, 1), date(2026, 10, 19)),  # then at least before the frost
        (date(2026, 11, 1), date(2027, 2, 1), None),
        (date(2026, 12, 1), date(2027, 6, 1), date(2027, 5, 31)),
    ],
)
def test_a_window_is_narrowed_only_where_four_weeks_are_left(earliest: date, latest: date, best: date | None) -> None:
    found = narrowed(earliest_on=earliest, latest_on=latest, season=SEASON)
    assert (found.best_until if found else None) == best


def ask(system: System, office: Actor, at: datetime, occasion: str, kind: str) -> Request:
    return actions.ask_for_visit(
        occasion=occasion,
        system_id=system.pk,
        kind=kind,
        target_on=date(2026, 5, 14),
        earliest_on=date(2026, 5, 4),
        latest_on=date(2026, 6, 4),
        minutes=30,
        reason="Because.",
        by=office,
        at=at,
    )


def test_a_repair_goes_along_with_the_check_up_and_is_done_with_it(
    system: System, theo: User, office: Actor, at: datetime
) -> None:
    checkup = ask(system, office, at, "check-up", "checkup")
    repair = ask(system, office, at, "repair", "repair")
    assert repair.goes_with_id == checkup.pk
    assert list(Request.objects.without_appointment()) == [checkup]
    with pytest.raises(GoesAlong, match="goes along with the yearly check-up"):
        actions.give_to_technician(
            request_id=repair.pk, technician_id=theo.pk, on=date(2026, 5, 12), by=office, at=at
        )
    stop = actions.give_to_technician(
        request_id=checkup.pk, technician_id=theo.pk, on=date(2026, 5, 12), by=office, at=at
    )
    actions.cancel_appointment(appointment_id=stop.pk, because="Rain.", by=office, at=at)
    assert set(Request.objects.wanting()) == {checkup, repair}
    again = actions.give_to_technician(
        request_id=checkup.pk, technician_id=theo.pk, on=date(2026, 5, 13), by=office, at=at
    )
    actions.mark_done(appointment_id=again.pk, by=office, at=at)
    assert not Request.objects.wanting().exists()


def test_a_check_up_that_comes_up_takes_the_waiting_repair_along(system: System, office: Actor, at: datetime) -> None:
    repair = ask(system, office, at, "repair", "repair")
    checkup = ask(system, office, at, "check-up", "checkup")
    repair.refresh_from_db()
    assert repair.goes_with_id == checkup.pk


def test_what_goes_along_is_not_lost_when_its_trip_is_withdrawn(system: System, office: Actor, at: datetime) -> None:
    checkup = ask(system, office, at, "check-up", "checkup")
    repair = ask(system, office, at, "repair", "repair")
    actions.withdraw_request(request_id=checkup.pk, because="Excused.", by=office, at=at)
    assert list(Request.objects.without_appointment()) == [repair]


def test_a_visit_gets_a_trip_of_its_own_once(system: System, office: Actor, at: datetime) -> None:
    checkup = ask(system, office, at, "check-up", "checkup")
    repair = ask(system, office, at, "repair", "repair")
    actions.give_own_trip(request_id=repair.pk, by=office, at=at)
    assert set(Request.objects.without_appointment()) == {checkup, repair}
    with pytest.raises(GoesAlone):
        actions.give_own_trip(request_id=repair.pk, by=office, at=at)
