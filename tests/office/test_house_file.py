"""The house file: one page that answers a call, however long its history."""

from collections.abc import Callable
from datetime import date, datetime, timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from contractor.accounts.models import Company, User
from contractor.office.house_file import HouseFile, house_file
from contractor.properties.actions import make_owner_link
from contractor.properties.models import Ownership, Person
from contractor.systems.models import Component, System
from contractor.warranties.models import Warranty
from tests.factories import CatalogueModelFactory, ComponentFactory, PropertyFactory, TreatedWallFactory
from tests.office import factories as made

ON = date(2026, 5, 4)


@pytest.fixture
def warranty(system: System, ownership: Ownership) -> Warranty:
    return made.issued_warranty(system, ownership)


@pytest.fixture
def pump(system: System) -> Component:
    model = CatalogueModelFactory(part_kind="primary_pump", maker="Northfold", name="Castwell 33")
    return ComponentFactory(system=system, model=model, serial_number="NF-1", place="Pit 1")


def file_of(system: System, at: datetime, on: date = ON) -> HouseFile:
    return house_file(house=system.property, on=on, at=at)


def page_of(client: Client, system: System) -> str:
    return client.get(reverse("office:house", args=[system.property_id])).content.decode()


def test_a_house_with_nothing_says_what_will_be_there_and_how_to_start(
    nora: User, signed_in_as: Callable[[User], Client]
) -> None:
    house = PropertyFactory()
    text = signed_in_as(nora).get(reverse("office:house", args=[house.pk])).content.decode()
    assert "No system yet" in text
    assert reverse("systems:install", args=[house.pk]) in text
    assert reverse("properties:owner", args=[house.pk]) in text


def test_it_answers_who_owns_the_house_and_how_to_reach_them(
    system: System, nora: User, signed_in_as: Callable[[User], Client]
) -> None:
    text = page_of(signed_in_as(nora), system)
    assert "Iris Holloway" in text
    assert 'href="tel:(555) 555-0142"' in text
    assert 'href="mailto:iris@example.com"' in text
    assert "Jun 1, 2019" in text


def test_parts_in_place_stand_apart_from_those_taken_out(system: System, pump: Component, at: datetime) -> None:
    old = ComponentFactory(
        system=system,
        part_kind="battery",
        in_on=date(2020, 5, 14),
        out_on=date(2024, 3, 1),
        out_because="Weak",
    )
    new = ComponentFactory(system=system, part_kind="battery", in_on=date(2024, 3, 1), replaces=old)
    later = ComponentFactory(system=system, part_kind="charger", in_on=ON + timedelta(days=1))
    (file,) = file_of(system, at).systems
    assert [line.component for line in file.parts] == [pump, new]
    assert [(change.old, change.new) for change in file.replaced] == [(old, new)]
    assert later not in [line.component for line in file.parts]


def test_a_part_stands_with_its_number_in_the_drawing_and_its_replace_by_date(
    system: System, pump: Component, at: datetime
) -> None:
    pit = ComponentFactory(system=system, part_kind="pit")
    made.estimate(pump, replace_by=ON)
    (file,) = file_of(system, at).systems
    lines = {line.component: line for line in file.parts}
    assert (lines[pit].number, lines[pump].number) == (1, 2)
    assert (lines[pump].is_overdue, lines[pump].condition) == (True, "watch")
    assert lines[pit].estimate is None
    assert f'data-keys="{pump.pk}"' in file.drawing


def test_a_replace_by_date_that_is_still_to_come_is_not_overdue(system: System, pump: Component, at: datetime) -> None:
    made.estimate(pump, replace_by=ON + timedelta(days=1))
    (file,) = file_of(system, at).systems
    assert not file.parts[0].is_overdue


@pytest.mark.parametrize(("units", "length", "together"), [("us", "32 ft", "55 ft"), ("metric", "9.75 m", "16.76 m")])
def test_walls_are_read_in_the_companys_units(
    system: System, company: Company, at: datetime, units: str, length: str, together: str
) -> None:
    company.units = units
    company.save()
    TreatedWallFactory(system=system, letter="A", length_m=9.75)
    TreatedWallFactory(system=system, letter="B", length_m=7.01)
    (file,) = file_of(system, at).systems
    assert (file.walls[0].length, file.walls_length) == (length, together)


def test_each_promise_stands_with_its_last_day_and_what_all_share_is_said_once(
    system: System, pump: Component, warranty: Warranty, at: datetime
) -> None:
    ComponentFactory(system=system, part_kind="liner")
    ComponentFactory(system=system, part_kind="pit")
    ((file,),) = [system_file.warranties for system_file in file_of(system, at).systems]
    words = {promise.word: promise for promise in file.promises}
    assert len(words) == len(warranty.terms.data["promises"])
    # The edition brought along promises the primary pump 60 months; issued on May 14, 2020.
    assert words["primary pump"].standing.through_on == date(2025, 5, 14)
    assert file.care == "gap"
    assert any("grace ended" in reason for reason in file.reasons)
    assert all("grace ended" not in " ".join(promise.reasons) for promise in file.promises)
    assert "Have the check-up done" in file.restore
    assert [promise.restore for promise in file.promises if promise.restore] == []


def test_a_voided_warranty_makes_room_for_a_new_one(
    system: System, warranty: Warranty, ruth: User, nora: User, signed_in_as: Callable[[User], Client], at: datetime
) -> None:
    issue = reverse("warranties:issue", args=[system.pk])
    assert issue not in page_of(signed_in_as(nora), system)
    warranty.voided_on, warranty.voided_clause, warranty.voided_because = ON, "7.2", "Pit filled with concrete"
    warranty.voided_by = ruth
    warranty.save()
    text = page_of(signed_in_as(nora), system)
    assert issue in text
    assert "Pit filled with concrete" in text
    assert reverse("warranties:report_claim", args=[warranty.pk]) not in text


def test_the_certificate_shown_is_the_last_of_the_chain_and_none_when_it_was_revoked(
    system: System, warranty: Warranty, ownership: Ownership, at: datetime
) -> None:
    first = made.certificate(warranty, ownership, number="000000001")
    second = made.certificate(warranty, ownership, number="000000002", supersedes=first)
    assert file_of(system, at).systems[0].warranties[0].certificate == second
    second.revoked_at, second.revoked_because = at, "Issued to the wrong buyer"
    second.save()
    assert file_of(system, at).systems[0].warranties[0].certificate is None


def test_the_next_visit_is_the_earliest_that_is_given_out_and_not_done(
    system: System, theo: User, at: datetime
) -> None:
    done = made.wanted_visit(system, target_on=ON, occasion="done")
    made.finished_checkup(done, theo, ON)
    later = made.wanted_visit(system, target_on=ON, kind="repair")
    made.appointment(later, theo, ON + timedelta(days=9))
    sooner = made.appointment(made.wanted_visit(system, target_on=ON, kind="claim"), theo, ON + timedelta(days=2))
    waiting = made.wanted_visit(system, target_on=ON, kind="transfer")
    file = file_of(system, at)
    assert file.next_appointment == sooner
    assert waiting in file.wanted
    assert done not in file.wanted
    assert [visit.kind for visit in file.wanted].count("repair") == 1


def test_a_check_up_passes_once_its_bad_findings_are_closed(system: System, theo: User, at: datetime) -> None:
    checkup = made.finished_checkup(made.wanted_visit(system, target_on=ON), theo, ON)
    bad = made.finding(checkup, severity="bad")
    assert file_of(system, at).checkups[0].is_passed is False  # type: ignore[attr-defined]
    assert file_of(system, at).findings == [bad]
    bad.done_at, bad.done_by = at, theo
    bad.save()
    assert file_of(system, at).checkups[0].is_passed is True  # type: ignore[attr-defined]
    assert file_of(system, at).findings == []


def test_links_that_still_open_the_house_are_counted(system: System, ownership: Ownership, at: datetime) -> None:
    make_owner_link(ownership_id=ownership.pk, by=made.NOBODY, at=at - timedelta(days=31))
    make_owner_link(ownership_id=ownership.pk, by=made.NOBODY, at=at)
    assert file_of(system, at).open_links == 1


def test_nothing_of_the_neighbours_stands_in_it(
    system: System, neighbour: Ownership, theo: User, nora: User, signed_in_as: Callable[[User], Client]
) -> None:
    other = System.objects.create(
        property=neighbour.property, installed_on=date(2020, 5, 14), created_at=made.moment(ON)
    )
    warranty = made.issued_warranty(other, neighbour, number="W999999999")
    made.live_through(other, warranty, theo, years=2)
    text = page_of(signed_in_as(nora), system)
    assert "W-9999-9999-9" not in text
    assert "Nextdoor" not in text
    assert "Reed &amp; Daughter" not in text


def test_ten_years_of_history_take_as_many_queries_as_two(
    system: System, warranty: Warranty, theo: User, nora: User, signed_in_as: Callable[[User], Client], iris: Person
) -> None:
    client = signed_in_as(nora)
    counts = []
    address = reverse("office:house", args=[system.property_id])
    other = System.objects.create(
        property=PropertyFactory(), installed_on=date(2015, 5, 14), created_at=made.moment(ON)
    )
    owner = Ownership.objects.create(property=other.property, person=iris, from_on=date(2014, 1, 1))
    old = made.issued_warranty(other, owner, number="W222222222")
    made.live_through(system, warranty, theo, years=2)
    made.live_through(other, old, theo, years=10)
    for place in (address, reverse("office:house", args=[other.property_id])):
        with CaptureQueriesContext(
            connection,
        ) as queries:
            assert client.get(place).status_code == 200
        counts.append(len(queries))
    assert counts[0] == counts[1]
    assert counts[0] <= 60


def test_every_action_stands_where_it_is_expected(
    system: System, warranty: Warranty, pump: Component, nora: User, signed_in_as: Callable[[User], Client]
) -> None:
    text = page_of(signed_in_as(nora), system)
    for name, key in (
        ("properties:change", system.property_id),
        ("properties:owner", system.property_id),
        ("office:send_link", system.property_id),
        ("systems:install", system.property_id),
        ("systems:component_add", system.pk),
        ("systems:wall_add", system.pk),
        ("systems:replace", pump.pk),
        ("visits:ask", system.pk),
        ("checkups:outside_records", system.pk),
        ("warranties:document", warranty.pk),
        ("warranties:report_claim", warranty.pk),
        ("warranties:ask_transfer", warranty.pk),
        ("warranties:issue_certificate", warranty.pk),
        ("office:audit", system.property_id),
    ):
        assert f'"{reverse(name, args=[key])}"' in text, name


def test_a_house_that_does_not_exist_is_not_found(nora: User, signed_in_as: Callable[[User], Client]) -> None:
    assert signed_in_as(nora).get(reverse("office:house", args=[999])).status_code == 404


def test_a_technician_may_not_open_it(system: System, theo: User, signed_in_as: Callable[[User], Client]) -> None:
    assert signed_in_as(theo).get(reverse("office:house", args=[system.property_id])).status_code == 403
