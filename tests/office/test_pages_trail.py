"""The audit trail in words a person can read."""

from collections.abc import Callable
from datetime import date, datetime

import pytest
from django.test import Client
from django.urls import reverse

from contractor.accounts.models import User
from contractor.core.audit import Actor
from contractor.core.models import AuditEntry
from contractor.office.trail import PAGE, house_trail
from contractor.properties import actions as properties
from contractor.properties.models import Ownership, Property
from contractor.systems import actions as systems
from contractor.systems.models import System
from tests.factories import CatalogueModelFactory


def changes_of(house: Property) -> dict[str, tuple[str, str]]:
    line = house_trail(property_id=house.pk)[0]
    return {change.label: (change.before, change.after) for change in line.changes}


def test_a_correction_shows_before_and_after_and_who(house: Property, office: Actor, at: datetime) -> None:
    properties.change_property(
        property_id=house.pk,
        street="12 Millrace Lane",
        city="Stony Ford",
        state="PA",
        postcode="17099",
        access_notes="Dog",
        by=office,
        at=at,
    )
    line = house_trail(property_id=house.pk)[0]
    assert (line.what, line.who, line.at) == ("House corrected", "Nora Vance", at)
    assert changes_of(house) == {"City": ("Larkmere", "Stony Ford"), "Access": ("", "Dog")}


def test_numbers_of_rows_are_read_as_names_and_days_as_days(
    system: System, theo: User, office: Actor, at: datetime
) -> None:
    model = CatalogueModelFactory(part_kind="battery", maker="Merrowick", name="Stillmat 75")
    systems.install_component(
        system_id=system.pk,
        part_kind="battery",
        on=date(2024, 3, 1),
        model=model,
        serial_number="MW-1",
        in_by=theo,
        by=office,
        at=at,
    )
    assert changes_of(system.property) == {
        "Part": ("", "battery"),
        "Model": ("", "Merrowick Stillmat 75"),
        "Serial number": ("", "MW-1"),
        "Place": ("", "On the shelf beside the pit"),
        "In since": ("", "Mar 1, 2024"),
        "Put in by": ("", "Theo Marsh"),
    }


def test_an_owner_is_read_by_name(house: Property, ownership: Ownership, office: Actor, at: datetime) -> None:
    person = properties.register_person(name="Ben Okafor", by=office, at=at)
    properties.hand_over(property_id=house.pk, person_id=person.pk, on=date(2026, 5, 1), by=office, at=at)
    assert changes_of(house) == {"Person": ("", "Ben Okafor"), "From": ("", "May 1, 2026")}


def test_what_nobody_did_by_hand_was_done_by_the_system(house: Property, at: datetime) -> None:
    properties.register_person(name="X", by=Actor("system"), at=at, property_id=house.pk)
    assert house_trail(property_id=house.pk)[0].who == "The system"


def fill(house: Property, office: Actor, at: datetime, count: int) -> None:
    for number in range(count):
        properties.register_person(name=f"Person {number}", by=office, at=at, property_id=house.pk)


def test_the_trail_pages_from_the_latest_to_the_first(
    house: Property, office: Actor, at: datetime, nora: User, signed_in_as: Callable[[User], Client]
) -> None:
    fill(house, office, at, PAGE + 3)
    client = signed_in_as(nora)
    address = reverse("office:audit", args=[house.pk])
    first = client.get(address)
    assert [line.number for line in first.context["lines"]] == list(range(PAGE + 3, 3, -1))
    assert f"?before={first.context['older']}" in first.content.decode()
    second = client.get(f"{address}?before={first.context['older']}")
    assert [line.number for line in second.context["lines"]] == [3, 2, 1]
    assert second.context["older"] is None


def test_its_queries_do_not_grow(
    system: System, theo: User, office: Actor, at: datetime, django_assert_num_queries: Callable[..., object]
) -> None:
    """One for the entries, and one each for the names of staff, people and models that they mention."""
    for count in (1, 12):
        for number in range(count):
            model = CatalogueModelFactory(part_kind="battery")
            systems.install_component(
                system_id=system.pk, part_kind="battery", on=at.date(), model=model, in_by=theo, by=office, at=at
            )
            person = properties.register_person(name=f"Buyer {number}", by=office, at=at)
            properties.begin_ownership(
                property_id=system.property_id,
                person_id=person.pk,
                on=date(2026, 1, count + number + 1),
                by=office,
                at=at,
            )
        with django_assert_num_queries(4):
            house_trail(property_id=system.property_id)


def test_the_page_says_whether_the_chain_holds(
    house: Property, office: Actor, at: datetime, nora: User, signed_in_as: Callable[[User], Client]
) -> None:
    fill(house, office, at, 3)
    client = signed_in_as(nora)
    address = reverse("office:audit", args=[house.pk])
    assert "The chain holds" in client.get(address).content.decode()
    assert AuditEntry.objects.filter(number=2).update(verb="nothing happened") == 1
    text = client.get(address).content.decode()
    assert "The chain does not hold" in text
    assert "entry 2" in text


@pytest.mark.parametrize(("role", "status"), [("nora", 200), ("ruth", 200), ("theo", 403)])
def test_the_desk_reads_it_and_technicians_do_not(
    house: Property,
    role: str,
    status: int,
    request: pytest.FixtureRequest,
    signed_in_as: Callable[[User], Client],
) -> None:
    client = signed_in_as(request.getfixturevalue(role))
    assert client.get(reverse("office:audit", args=[house.pk])).status_code == status
