"""What to replace soon, and why, as the desk sees it."""

import re
from collections.abc import Callable
from datetime import date, datetime, timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from contractor.accounts.models import User
from contractor.core import clock
from contractor.estimates.actions import refresh_estimates
from contractor.estimates.models import LifeEstimate
from contractor.systems.models import Component, System
from tests.factories import CatalogueModelFactory, ComponentFactory, OwnershipFactory, SystemFactory

TODAY = date(2026, 5, 4)


@pytest.fixture(autouse=True)
def monday(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(clock, "today", lambda: TODAY)


@pytest.fixture
def desk(nora: User, signed_in_as: Callable[[User], Client]) -> Client:
    return signed_in_as(nora)


@pytest.fixture
def battery(system: System, at: datetime) -> Component:
    """In on May 14, 2020, five years expected: a year past its date."""
    model = CatalogueModelFactory(part_kind="battery", maker="Northfold", name="12-100")
    made: Component = ComponentFactory(system=system, part_kind="battery", model=model, serial_number="B-77")
    refresh_estimates(system_id=system.pk, on=TODAY, at=at)
    return made


@pytest.mark.parametrize("name", ["to_replace", "why"])
def test_office_and_manager_come_in_a_technician_does_not_and_a_stranger_signs_in_first(
    battery: Component, nora: User, ruth: User, theo: User, signed_in_as: Callable[[User], Client], name: str
) -> None:
    address = reverse(f"estimates:{name}", args=[battery.pk] if name == "why" else [])
    assert [signed_in_as(user).get(address).status_code for user in (nora, ruth, theo)] == [200, 200, 403]
    assert signed_in_as(nora).post(address).status_code == 405
    stranger = Client().get(address)
    assert (stranger.status_code, stranger["Location"]) == (302, f"{reverse('accounts:sign_in')}?next={address}")


def test_what_is_due_within_a_year_is_listed_the_most_pressing_first(
    battery: Component, system: System, desk: Client, at: datetime
) -> None:
    installed = {
        "last day": date(2021, 5, 4) + timedelta(days=365),
        "a day later": date(2021, 5, 4) + timedelta(days=366),
        "soon": date(2021, 6, 1),
    }
    made = {name: ComponentFactory(system=system, part_kind="battery", in_on=day) for name, day in installed.items()}
    refresh_estimates(system_id=system.pk, on=TODAY, at=at)
    page = desk.get(reverse("estimates:to_replace"))
    assert [row.component for row in page.context["page"]] == [battery, made["soon"], made["last day"]]
    text = page.content.decode()
    assert "Northfold 12-100" in text
    assert "Iris Holloway" in text
    assert len(re.findall(r"\bnow\s*</", text)) == 1


def test_an_empty_list_says_what_will_be_there(desk: Client) -> None:
    assert "Nothing to replace within a year" in desk.get(reverse("estimates:to_replace")).content.decode()


def test_the_reason_the_inputs_and_the_cautions_stand_on_one_page(battery: Component, desk: Client) -> None:
    text = desk.get(reverse("estimates:why", args=[battery.pk])).content.decode()
    for words in (
        "Replace the battery by May 14, 2025",
        "In since May 14, 2020; a battery lasts about 5 years",
        "November 13, 2023 to November 13, 2026",
        "B-77",
        "Assumed",
        "the maker&#x27;s figure is not on record",
        "never a promise that the part will last",
    ):
        assert words in text
    assert desk.get(reverse("estimates:why", args=[999_999])).status_code == 404


def test_the_list_takes_as_many_queries_for_fifty_rows_as_for_one(
    battery: Component, desk: Client, at: datetime
) -> None:
    def count() -> int:
        with CaptureQueriesContext(connection) as captured:
            assert desk.get(reverse("estimates:to_replace")).status_code == 200
        return len(captured)

    few = count()
    for number in range(50):
        system = SystemFactory(property__street=f"{number} Quarry Lane")
        OwnershipFactory(property=system.property)
        model = CatalogueModelFactory(part_kind="battery")
        ComponentFactory(system=system, part_kind="battery", model=model)
        refresh_estimates(system_id=system.pk, on=TODAY, at=at)
    assert LifeEstimate.objects.count() == 51
    assert count() == few <= 9
