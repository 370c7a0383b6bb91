"""The demo scenario: loaded once, as the command loads it, then asked whether every story left its mark."""

from collections.abc import Iterator
from datetime import date

import pytest
from django.core.management import call_command
from django.db import transaction
from django.test import override_settings
from pytest_django import DjangoDbBlocker

from contractor.accounts.models import Role, User
from contractor.celery import app
from contractor.checkups.models import CheckUp, Finding, OutsideRecord
from contractor.core import clock
from contractor.estimates.models import LifeEstimate
from contractor.notices.models import Notice
from contractor.office.demo.cast import PASSWORD
from contractor.office.demo.scenario import DemoHouse, read_scenario
from contractor.properties.models import Ownership, Property
from contractor.systems.models import Component
from contractor.visits.models import Appointment, Request
from contractor.warranties.models import Certificate, Claim, StoredStanding, Transfer, Warranty
from contractor.warranties.queries import check_by_number, transfer_lacks
from contractor.warranties.warranty_file import warranty_file

pytestmark = pytest.mark.django_db
HOUSES = 60


@pytest.fixture(scope="module")
def loaded(
    django_db_setup: None, django_db_blocker: DjangoDbBlocker, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[date]:
    """The demo in the test database, taken back when the module is done; gives the day on which it was loaded.

    One load for all tests (it takes about a minute): each of them works in a transaction of its own within it.
    Run in parallel, the tests of a file stay together (``--dist loadfile``), so that it stays one.
    """
    before = app.conf.task_always_eager, app.conf.broker_url
    folder = tmp_path_factory.mktemp("demo")
    with (
        django_db_blocker.unblock(),
        override_settings(MEDIA_ROOT=folder, EMAIL_BACKEND="django.core.mail.backends.dummy.EmailBackend"),
        transaction.atomic(),
    ):
        call_command("load_demo")
        yield clock.today()
        transaction.set_rollback(True)
    app.conf.task_always_eager, app.conf.broker_url = before


@pytest.fixture
def demo(loaded: date) -> dict[str, list[DemoHouse]]:
    """The houses of the scenario by their story."""
    stories: dict[str, list[DemoHouse]] = {}
    for house in read_scenario(on=loaded).houses:
        stories.setdefault(house.story, []).append(house)
    return stories


def registered(house: DemoHouse) -> Property:
    return Property.objects.get(street=house.street)


def warranty_of(house: DemoHouse) -> Warranty:
    return Warranty.objects.get(system__property=registered(house))


def standing_of(house: DemoHouse) -> StoredStanding:
    return StoredStanding.objects.get(warranty=warranty_of(house), part_kind="")


def test_sixty_houses_each_with_owner_system_and_warranty(demo: dict[str, list[DemoHouse]]) -> None:
    assert sum(len(houses) for houses in demo.values()) == HOUSES
    assert Property.objects.count() == HOUSES
    assert Warranty.objects.count() == HOUSES
    assert Ownership.objects.open_ended().count() == HOUSES
    assert not Component.objects.filter(part_kind="primary_pump", model__isnull=True).exists()


def test_the_staff_can_sign_in_with_the_password_that_is_printed(loaded: date) -> None:
    assert {user.role for user in User.objects.all()} == set(Role)
    assert all(user.check_password(PASSWORD) for user in User.objects.all())


def test_a_failed_pump_was_claimed_covered_and_replaced(demo: dict[str, list[DemoHouse]]) -> None:
    for house in demo["failed_primary_pump"]:
        claim = Claim.objects.get(warranty=warranty_of(house))
        assert (claim.state, claim.outcome) == (Claim.State.DECIDED, "covered")
        assert claim.owner_pays is not None
        assert claim.contractor_pays is not None
        assert claim.decision is not None
        assert claim.decision["lines"]
        assert claim.component is not None
        successor = Component.objects.get(replaces=claim.component)
        assert successor.in_on == claim.component.out_on


def test_a_house_sold_properly_has_a_genuine_certificate_for_its_buyer(
    demo: dict[str, list[DemoHouse]], loaded: date
) -> None:
    for house in demo["sold_properly"]:
        assert house.buyer is not None
        certificate = Certificate.objects.get(warranty=warranty_of(house))
        assert certificate.issued_to.person.name == house.buyer.name
        assert Ownership.objects.open_ended().get(property=registered(house)).person.name == house.buyer.name
        checked = check_by_number(number=certificate.number, code=certificate.check_code, on=loaded)
        assert checked.verdict == "genuine"


def test_a_transfer_waits_for_the_buyer_and_one_for_its_check_up(demo: dict[str, list[DemoHouse]]) -> None:
    for house in demo["transfer_open"]:
        transfer = Transfer.objects.get(warranty=warranty_of(house))
        assert transfer.state == Transfer.State.ASKED
        assert [need.code for need in transfer_lacks(transfer)] == ["accepted"]
    for house in demo["sold_missing_checkup"]:
        transfer = Transfer.objects.get(warranty=warranty_of(house))
        assert "checkup" in [need.code for need in transfer_lacks(transfer)]
        assert Request.objects.filter(system=warranty_of(house).system, kind="transfer").exists()


def test_a_year_without_a_check_up_stays_on_record(demo: dict[str, list[DemoHouse]]) -> None:
    for house in demo["gap_in_care"]:
        file = warranty_file(warranty_of(house), on=clock.today())
        assert file.care.gaps
        assert standing_of(house).cover == "in_force"


def test_an_outside_record_waits_to_be_looked_at(demo: dict[str, list[DemoHouse]]) -> None:
    for house in demo["outside_record"]:
        records = OutsideRecord.objects.filter(system__property=registered(house), by_us=False)
        assert sorted(str(record.accepted) for record in records) == ["None", "True"]


def test_an_open_finding_keeps_the_check_up_from_passing(demo: dict[str, list[DemoHouse]]) -> None:
    for house in demo["open_finding"]:
        last = CheckUp.objects.finished().filter(system__property=registered(house)).with_passed().latest("done_on")
        assert Finding.objects.blocking().filter(checkup=last).exists()
        assert not last.is_passed  # type: ignore[attr-defined]


def test_a_weak_battery_and_a_frozen_line_were_put_right(demo: dict[str, list[DemoHouse]]) -> None:
    for house in demo["battery_swapped"]:
        parts = Component.objects.filter(system__property=registered(house), part_kind="battery")
        assert [part.out_on is None for part in parts.order_by("in_on", "pk")] == [False, True]
        assert LifeEstimate.objects.filter(component=parts.get(out_on__isnull=True)).exists()
    for house in demo["frozen_discharge"]:
        finding = Finding.objects.get(checkup__system__property=registered(house))
        assert finding.done_note.startswith("Thawed")


def test_a_house_in_grace_is_still_to_be_seen(demo: dict[str, list[DemoHouse]], loaded: date) -> None:
    for house in demo["in_grace"]:
        assert standing_of(house).care == "in_grace"
        request = Request.objects.get(
            system__property=registered(house), kind="checkup", target_on__lt=loaded, appointments__checkup__isnull=True
        )
        assert request.latest_on >= loaded


def test_each_technician_has_stops_today(loaded: date) -> None:
    for technician in User.objects.technicians():
        assert Appointment.objects.filter(technician=technician, on=loaded, state="planned").exists(), technician


def test_every_chain_holds_and_every_standing_is_the_derived_one(
    loaded: date, capsys: pytest.CaptureFixture[str]
) -> None:
    call_command("verify_audit")
    call_command("verify_standings")
    said = capsys.readouterr().out
    assert "streams hold" in said
    assert "Every stored standing is the derived one." in said


def test_no_message_of_the_past_is_still_to_be_sent(loaded: date) -> None:
    assert Notice.objects.filter(channel=Notice.Channel.EMAIL, state=Notice.State.SENT).exists()
    assert not Notice.objects.filter(channel=Notice.Channel.EMAIL).exclude(state=Notice.State.SENT).exists()


def test_a_second_load_loads_nothing(loaded: date, capsys: pytest.CaptureFixture[str]) -> None:
    before = (Property.objects.count(), User.objects.count(), Notice.objects.count())
    call_command("load_demo")
    assert "nothing was loaded" in capsys.readouterr().out
    assert (Property.objects.count(), User.objects.count(), Notice.objects.count()) == before
