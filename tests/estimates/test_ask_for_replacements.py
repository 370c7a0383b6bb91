"""Batteries and pumps that won't last ask for a visit with the part to bring along."""

from datetime import date, datetime, timedelta

import pytest

from contractor.accounts.models import User
from contractor.core.models import AuditEntry
from contractor.estimates.actions import refresh_estimates
from contractor.systems.models import Component, System
from contractor.visits.models import Request
from tests.factories import CatalogueModelFactory, ComponentFactory
from tests.visits.factories import AppointmentFactory, RequestFactory

DUE = date(2028, 5, 13)


@pytest.fixture
def battery(system: System) -> Component:
    """In on May 14, 2023: due on May 13, 2028 (five years of 365.25 days) from age alone."""
    made: Component = ComponentFactory(
        system=system,
        part_kind="battery",
        in_on=date(2023, 5, 14),
        model=CatalogueModelFactory(part_kind="battery", maker="Northfold", name="12-100"),
    )
    return made


def renew(system: System, on: date, at: datetime) -> list[Request]:
    refresh_estimates(system_id=system.pk, on=on, at=at)
    return list(Request.objects.wanting().filter(occasion__startswith="replace:"))


@pytest.mark.parametrize(
    ("target_on", "asks"),
    [(date(2027, 5, 13), False), (date(2027, 5, 14), True), (date(2028, 6, 1), True)],
)
def test_a_year_after_the_check_up_in_sight_is_the_limit(
    battery: Component, system: System, on: date, at: datetime, target_on: date, asks: bool
) -> None:
    # 365 days after May 13, 2027 is May 12, 2028, because February 2028 has 29 days.
    checkup = RequestFactory(system=system, target_on=target_on)
    asked = renew(system, on, at)
    assert [one.goes_with for one in asked] == ([checkup] if asks else [])


def test_the_part_goes_along_with_the_check_up_and_is_carried_to_it(
    battery: Component, system: System, on: date, at: datetime
) -> None:
    RequestFactory(system=system, target_on=date(2027, 5, 15), carry="New lid")
    for _ in range(2):
        (asked,) = renew(system, on, at)
    assert (asked.carry, asked.skills, asked.minutes) == ("battery (Northfold 12-100)", ["batteries"], 40)
    assert asked.reason == "The battery should be replaced by May 13, 2028, before it fails."
    assert (asked.earliest_on, asked.target_on, asked.latest_on) == (on, DUE - timedelta(days=14), DUE)
    assert AuditEntry.objects.filter(verb="visit asked for").count() == 1


def test_a_check_up_whose_days_lie_behind_the_parts_day_leaves_it_a_visit_of_its_own(
    battery: Component, system: System, at: datetime
) -> None:
    on = DUE - timedelta(days=40)
    RequestFactory(system=system, target_on=DUE + timedelta(days=90), earliest_on=DUE + timedelta(days=30))
    (asked,) = renew(system, on, at)
    assert (asked.goes_with, asked.latest_on) == (None, DUE)


@pytest.mark.parametrize(("ahead", "asks"), [(70, True), (71, False)])
def test_without_a_check_up_in_sight_ten_weeks_are_the_limit(
    battery: Component, system: System, at: datetime, ahead: int, asks: bool
) -> None:
    assert bool(renew(system, DUE - timedelta(days=ahead), at)) is asks


def test_the_days_do_not_wander_from_night_to_night(battery: Component, system: System, at: datetime) -> None:
    first = DUE + timedelta(days=10)
    (asked,) = renew(system, first, at)
    (later,) = renew(system, first + timedelta(days=9), at)
    assert (later.pk, later.earliest_on, later.latest_on) == (asked.pk, first, first + timedelta(days=28))


@pytest.mark.parametrize(
    ("after", "reason"),
    [
        (0, "The battery should be replaced by May 13, 2028, before it fails."),
        (1, "The battery should have been replaced by May 13, 2028; it may fail any day."),
    ],
)
def test_a_day_that_is_past_is_said_to_be_past(
    battery: Component, system: System, at: datetime, after: int, reason: str
) -> None:
    renew(system, DUE - timedelta(days=9), at)
    (asked,) = renew(system, DUE + timedelta(days=after), at)
    assert asked.reason == reason


def test_another_estimate_moves_the_visit_and_never_doubles_it(
    battery: Component, system: System, at: datetime
) -> None:
    on = DUE - timedelta(days=60)
    (asked,) = renew(system, on, at)
    battery.in_on -= timedelta(days=20)
    battery.save()
    (moved,) = renew(system, on, at)
    assert (moved.pk, moved.latest_on) == (asked.pk, DUE - timedelta(days=20))


def test_a_part_that_lasts_longer_after_all_lets_the_visit_go_unless_it_is_given_out(
    battery: Component, system: System, theo: User, at: datetime
) -> None:
    on = DUE - timedelta(days=60)
    (asked,) = renew(system, on, at)
    visit = AppointmentFactory(request=asked, technician=theo, on=on + timedelta(days=3))
    battery.in_on += timedelta(days=100)
    battery.save()
    (kept,) = renew(system, on, at)
    assert kept.latest_on == DUE + timedelta(days=100)
    visit.state = "cancelled"
    visit.save()
    assert renew(system, on, at) == []


def test_a_part_that_was_replaced_lets_the_visit_go(
    battery: Component, system: System, at: datetime
) -> None:
    on = DUE - timedelta(days=60)
    renew(system, on, at)
    battery.out_on = on
    battery.save()
    assert renew(system, on, at) == []
    assert Request.objects.get().withdrawn_because == "No longer needed: the part was replaced or taken out."
