"""The commands that the office's machine runs: set-up, the night, an owner's link, and the proof of the trail."""

from collections.abc import Callable
from datetime import date, datetime

import pytest
from django.core.management import CommandError, call_command
from django.test import Client
from django.urls import reverse

from contractor.accounts.models import Company, Role, User
from contractor.checkups.models import Checklist
from contractor.core import clock
from contractor.core.models import AuditEntry
from contractor.estimates.models import LifeEstimate
from contractor.properties.actions import change_property
from contractor.properties.models import OwnerLink, Ownership, Property
from contractor.systems.actions import install_component
from contractor.systems.models import System
from contractor.visits.models import Request
from contractor.warranties.models import StoredStanding, TermsEdition
from tests.factories import CatalogueModelFactory
from tests.office.factories import issued_warranty

GIVEN = {
    "company": "Harrow Creek Dry Basements",
    "street": "14 Foundry Row",
    "city": "Larkmere",
    "state": "PA",
    "postcode": "17099",
    "phone": "(555) 555-0100",
    "email": "office@example.com",
    "manager_name": "Ruth Adair",
    "manager_email": "ruth@example.com",
}


def type_password(monkeypatch: pytest.MonkeyPatch, password: str) -> None:
    monkeypatch.setattr("contractor.office.management.commands.set_up.getpass", lambda _: password)


@pytest.mark.django_db
def test_set_up_makes_an_empty_installation_ready_and_the_manager_can_sign_in(monkeypatch: pytest.MonkeyPatch) -> None:
    type_password(monkeypatch, "a pit and two pumps")
    call_command("set_up", **GIVEN)
    assert Company.objects.get().name == GIVEN["company"]
    assert User.objects.get().role == Role.MANAGER
    assert Checklist.objects.published().count() == 1
    assert TermsEdition.objects.published().count() == 1
    browser = Client()
    typed = {"username": "ruth@example.com", "password": "a pit and two pumps"}
    assert browser.post(reverse("accounts:sign_in"), typed).status_code == 302
    assert browser.get(reverse("office:setup")).status_code == 200


@pytest.mark.django_db
@pytest.mark.parametrize("password", ["short", "password1234", "ruth@example.com"])
def test_set_up_refuses_a_password_that_is_short_common_or_the_managers_own(
    password: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    type_password(monkeypatch, password)
    with pytest.raises(CommandError):
        call_command("set_up", **GIVEN)
    assert not Company.objects.exists()
    assert not User.objects.exists()


def test_set_up_leaves_an_installation_alone_that_is_set_up(company: Company) -> None:
    with pytest.raises(CommandError, match="set up already"):
        call_command("set_up", **GIVEN)
    assert not User.objects.exists()


def test_the_night_asks_for_what_is_due_renews_what_is_stored_and_is_safe_to_run_twice(
    system: System,
    ownership: Ownership,
    theo: User,
    on: date,
    at: datetime,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.setattr(clock, "today", lambda: on)
    monkeypatch.setattr(clock, "now", lambda: at)
    warranty = issued_warranty(system, ownership)
    model = CatalogueModelFactory(part_kind="battery", data={"chemistry": "agm", "capacity_ah": 75.0})
    for kind, installed in (("battery", model), ("channel", None)):
        install_component(
            system_id=system.pk, part_kind=kind, on=system.installed_on, model=installed, by=theo.actor, at=at
        )
    LifeEstimate.objects.all().delete()
    Request.objects.all().delete()
    for _ in range(2):
        call_command("nightly")
        # The way back after years without a check-up, and the battery of six years ago that goes along with it.
        way_back, battery = Request.objects.filter(system=system).order_by("pk")
        assert (way_back.kind, battery.kind, battery.goes_with) == ("reinstatement", "repair", way_back)
        assert StoredStanding.objects.get(warranty=warranty, part_kind="").on == on
        assert LifeEstimate.objects.get().made_on == on
    assert f"Renewed 1 systems as of {on}." in capsys.readouterr().out
    call_command("verify_standings")


def test_a_changed_standing_is_found_and_the_night_puts_it_right(system: System, ownership: Ownership) -> None:
    warranty = issued_warranty(system, ownership)
    call_command("nightly")
    StoredStanding.objects.filter(warranty=warranty, part_kind="").update(cover="void")
    with pytest.raises(CommandError, match="1 stored standings differ"):
        call_command("verify_standings")
    call_command("nightly")
    call_command("verify_standings")


def test_an_owner_link_is_printed_once_in_clear_and_opens_the_house(
    ownership: Ownership, house: Property, company: Company, capsys: pytest.CaptureFixture[str], settings: object
) -> None:
    settings.SITE_ADDRESS = "https://warranty.example.com"  # type: ignore[attr-defined]
    call_command("owner_link", str(house.pk))
    address = capsys.readouterr().out.strip()
    assert address.startswith("https://warranty.example.com/home/link/")
    token = address.rstrip("/").rsplit("/", 1)[1]
    assert token not in str(OwnerLink.objects.values().get())
    browser = Client()
    answer = browser.post(address.removeprefix("https://warranty.example.com"))
    assert (answer.status_code, answer["Location"]) == (302, reverse("portal:house"))
    assert house.street in browser.get(reverse("portal:house")).content.decode()


def test_a_house_without_an_owner_has_no_link(house: Property) -> None:
    with pytest.raises(CommandError, match="no present owner"):
        call_command("owner_link", str(house.pk))
    assert not OwnerLink.objects.exists()


@pytest.fixture
def trail(house: Property, nora: User, at: datetime) -> Callable[[str], list[AuditEntry]]:
    """A house whose access notes were changed three times."""
    for notes in ("Side door", "Side door; dog", "Side door; the dog is gone"):
        change_property(
            property_id=house.pk,
            street=house.street,
            unit="",
            city=house.city,
            state=house.state,
            postcode=house.postcode,
            access_notes=notes,
            latitude=None,
            longitude=None,
            by=nora.actor,
            at=at,
        )
    return lambda stream: list(AuditEntry.objects.filter(stream=stream).order_by("number"))


def test_the_trail_holds_until_somebody_tampers_with_it(
    house: Property, trail: Callable[[str], list[AuditEntry]], capsys: pytest.CaptureFixture[str]
) -> None:
    stream = f"property:{house.pk}"
    entries = trail(stream)
    assert len(entries) == 3
    call_command("verify_audit")
    assert "All 1 streams hold." in capsys.readouterr().out

    AuditEntry.objects.filter(pk=entries[1].pk).update(verb="nothing happened")
    with pytest.raises(CommandError, match="1 of 1 streams are broken"):
        call_command("verify_audit")
    assert f"{stream}: entry {entries[1].number} " in capsys.readouterr().out


def test_an_entry_that_was_taken_out_shows(
    house: Property, trail: Callable[[str], list[AuditEntry]], capsys: pytest.CaptureFixture[str]
) -> None:
    entries = trail(f"property:{house.pk}")
    AuditEntry.objects.filter(pk=entries[1].pk).delete()
    with pytest.raises(CommandError):
        call_command("verify_audit")
    assert f"entry {entries[2].number}" in capsys.readouterr().out
