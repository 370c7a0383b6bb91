"""The owner's page: is all well, when is the next visit, and the papers of this house and of no other."""

import re
from datetime import date, datetime, time

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from contractor.accounts.models import User
from contractor.checkups.models import Answer, ChecklistItem, CheckUp, Finding
from contractor.core.audit import Actor
from contractor.properties.actions import hand_over
from contractor.properties.models import Ownership, Person
from contractor.systems.models import Component, System
from contractor.warranties.actions import certifying, issuing, transfers
from contractor.warranties.models import Certificate, Warranty
from tests.factories import SystemFactory
from tests.portal.conftest import OpenHouse
from tests.visits.factories import AppointmentFactory, RequestFactory
from tests.warranties.factories import checkup_done, furnish

HOUSE = reverse("portal:house")


def house_of(browser: Client) -> str:
    return browser.get(HOUSE).content.decode()


# What stands on the page.


def test_an_unchecked_system_is_not_called_good(system: System, hers: Client) -> None:
    shown = house_of(hers)
    assert "has not been checked yet" in shown
    assert "in good order" not in shown
    assert "No reports yet" in shown
    assert "No visit is set" in shown


@pytest.mark.parametrize(
    ("severity", "sentence"),
    [
        ("watch", "One or more parts want watching"),
        ("bad", "Something needs a repair"),
        ("urgent", "Something needs a repair"),
    ],
)
def test_what_is_open_is_said_first_with_what_to_do(
    severity: str, sentence: str, system: System, theo: User, hers: Client, at: datetime
) -> None:
    done = checkup_done(system, date(2025, 5, 10), theo, finding=severity)
    shown = house_of(hers)
    assert sentence in shown
    assert "The check valve leaks." in shown
    done.findings.update(done_at=at, done_note="New check valve.")
    shown = house_of(hers)
    assert sentence not in shown
    assert "The check valve leaks." not in shown


def test_all_well_is_said_in_a_sentence(
    checked: CheckUp, system: System, theo: User, hers: Client, at: datetime
) -> None:
    pump = Component.objects.create(system=system, part_kind="primary_pump", in_on=system.installed_on)
    item = ChecklistItem.objects.create(
        checklist=checked.checklist,
        code="run",
        part_kind="primary_pump",
        step="primary_pump",
        position=1,
        kind="check",
        prompt="It runs",
        severity="bad",
    )
    Answer.objects.create(
        checkup=checked,
        item=item,
        component=pump,
        condition="good",
        verdict="good",
        recorded_at=at,
        recorded_by=theo,
    )
    assert "Your system is in good order." in house_of(hers)


def test_the_next_visit_says_day_hours_and_who_comes(system: System, theo: User, hers: Client) -> None:
    AppointmentFactory(
        request=RequestFactory(system=system),
        technician=theo,
        on=date(2026, 5, 12),
        arrive_from=time(9),
        arrive_until=time(11),
    )
    shown = house_of(hers)
    assert "Tuesday, May 12, 2026" in shown
    assert "9:00 AM" in shown
    assert "Theo Marsh" in shown


@pytest.mark.parametrize(
    ("last_on", "sentence"),
    [
        (None, "the yearly check-up was due on May 14, 2021. Call us at"),
        (date(2026, 4, 20), "We write to you when your yearly check-up comes near; it is due on April 20, 2027."),
    ],
)
def test_without_a_visit_the_page_says_when_the_check_up_is_due(
    last_on: date | None, sentence: str, warranty: Warranty, system: System, theo: User, hers: Client
) -> None:
    if last_on is not None:
        checkup_done(system, last_on, theo)
    shown = re.sub(r"<[^>]*>", "", house_of(hers))
    assert sentence in shown


def test_the_warranty_stands_there_with_its_last_days(warranty: Warranty, hers: Client) -> None:
    shown = house_of(hers)
    assert "Your warranty" in shown
    assert reverse("portal:warranty_document", args=[warranty.pk]) in shown
    # The terms cover a pit for 25 years: through May 14, 2045, counted from May 14, 2020.
    assert "May 14, 2045" in shown
    assert "has not been carried over to you" not in shown


def test_the_page_is_neither_kept_nor_listed(hers: Client) -> None:
    response = hers.get(HOUSE)
    assert "no-store" in response["Cache-Control"]
    assert response["Referrer-Policy"] == "same-origin"
    assert response["X-Robots-Tag"] == "noindex, nofollow"


def test_the_page_costs_the_same_however_many_reports(
    system: System, checked: CheckUp, theo: User, hers: Client
) -> None:
    with CaptureQueriesContext(connection) as one:
        house_of(hers)
    for year in (2021, 2022, 2023, 2024):
        checkup_done(system, date(year, 5, 10), theo)
    with CaptureQueriesContext(connection) as five:
        shown = house_of(hers)
    assert shown.count("report.pdf") == 5
    assert len(five) == len(one)


# Whose it is.


def test_the_neighbour_sees_the_house_next_door_only(
    ownership: Ownership, warranty: Warranty, checked: CheckUp, neighbour: Ownership, open_house: OpenHouse
) -> None:
    shown = house_of(open_house(neighbour))
    assert "14 Millrace Lane" in shown
    for words in ("12 Millrace Lane", "Holloway", warranty.number, "report.pdf", "warranty.pdf"):
        assert words not in shown


@pytest.fixture
def certificate(warranty: Warranty, checked: CheckUp, office: Actor, on: date, at: datetime) -> Certificate:
    return certifying.issue_certificate(warranty_id=warranty.pk, on=on, by=office, at=at)


def papers(checked: CheckUp, warranty: Warranty, certificate: Certificate) -> list[tuple[str, int]]:
    """The addresses of everything that a house's owner may load, each with its number."""
    return [
        ("portal:report", checked.pk),
        ("portal:warranty_document", warranty.pk),
        ("portal:certificate", certificate.pk),
        ("portal:outside_record", warranty.system_id),
    ]


def test_each_paper_of_the_house_is_there_for_its_owner(
    checked: CheckUp, warranty: Warranty, certificate: Certificate, hers: Client
) -> None:
    for name, number in papers(checked, warranty, certificate)[:3]:
        response = hers.get(reverse(name, args=[number]))
        assert (response.status_code, response["Content-Type"]) == (200, "application/pdf")
        assert "no-store" in response["Cache-Control"]
        body = response.getvalue() if response.streaming else response.content  # type: ignore[attr-defined]
        assert body.startswith(b"%PDF-")


def test_another_houses_paper_answers_exactly_like_a_missing_one(
    checked: CheckUp, warranty: Warranty, certificate: Certificate, neighbour: Ownership, open_house: OpenHouse
) -> None:
    next_door = open_house(neighbour)
    for name, number in papers(checked, warranty, certificate):
        foreign = next_door.get(reverse(name, args=[number]))
        missing = next_door.get(reverse(name, args=[number + 1000]))
        assert (foreign.status_code, missing.status_code) == (404, 404)
        assert foreign.content == missing.content
    address = reverse("portal:outside_record", args=[warranty.system_id])
    assert next_door.post(address, {"provider": "x", "done_on": "2026-05-01", "what": "x"}).status_code == 404


def test_without_an_open_link_every_paper_leads_to_the_page_that_asks_for_one(
    checked: CheckUp, warranty: Warranty, certificate: Certificate, theo: User, ruth: User
) -> None:
    strangers = [Client(), Client(), Client()]
    strangers[1].force_login(theo)
    strangers[2].force_login(ruth)
    for name, number in papers(checked, warranty, certificate):
        for stranger in strangers:
            response = stranger.get(reverse(name, args=[number]))
            assert (response.status_code, response["Location"]) == (302, reverse("portal:ask_link"))


def test_a_report_that_is_not_finished_is_not_there(checked: CheckUp, hers: Client) -> None:
    CheckUp.objects.update(finished_at=None)
    assert hers.get(reverse("portal:report", args=[checked.pk])).status_code == 404
    assert "report.pdf" not in house_of(hers)


@pytest.fixture
def sold(system: System, buyer: Person, office: Actor, at: datetime) -> Ownership:
    """Ben's ownership: he bought the house on May 1, 2026, and nothing else has happened yet."""
    return hand_over(property_id=system.property_id, person_id=buyer.pk, on=date(2026, 5, 1), by=office, at=at)


def test_a_buyer_sees_nothing_of_the_sellers_time(
    checked: CheckUp, warranty: Warranty, certificate: Certificate, sold: Ownership, theo: User, open_house: OpenHouse
) -> None:
    his = open_house(sold)
    shown = house_of(his)
    assert "Ben Okafor" in shown
    assert "Holloway" not in shown
    assert "report.pdf" not in shown
    for name, number in papers(checked, warranty, certificate)[:3]:
        assert his.get(reverse(name, args=[number])).status_code == 404
    own = checkup_done(warranty.system, date(2026, 5, 2), theo)
    assert his.get(reverse("portal:report", args=[own.pk])).status_code == 200


def test_a_warranty_that_was_not_carried_over_is_not_called_the_buyers(
    warranty: Warranty, sold: Ownership, open_house: OpenHouse
) -> None:
    shown = house_of(open_house(sold))
    assert "has not been carried over to you" in shown
    assert "Your warranty" not in shown
    assert warranty.number not in shown


def test_a_warranty_that_was_carried_over_is_the_buyers_with_its_certificate(
    warranty: Warranty, buyer: Person, theo: User, office: Actor, on: date, at: datetime, open_house: OpenHouse
) -> None:
    for year in (2021, 2022, 2023, 2024, 2025, 2026):
        checkup_done(warranty.system, date(year, 4, 25), theo)
    asked = transfers.ask_transfer(
        warranty_id=warranty.pk,
        buyer_id=buyer.pk,
        closing_on=date(2026, 5, 1),
        notified_on=date(2026, 4, 20),
        by=office,
        at=at,
    )
    transfers.record_transfer_fee(transfer_id=asked.pk, paid_on=date(2026, 5, 1), by=office, at=at)
    transfers.accept_transfer(transfer_id=asked.pk, accepted_on=date(2026, 5, 1), name="Ben Okafor", by=office, at=at)
    issued = transfers.issue_transfer(transfer_id=asked.pk, on=on, by=office, at=at)
    his = open_house(Ownership.objects.get(person=buyer))
    shown = house_of(his)
    assert "Your warranty" in shown
    assert "has not been carried over to you" not in shown
    assert his.get(reverse("portal:warranty_document", args=[warranty.pk])).status_code == 200
    certificate = reverse("portal:certificate", args=[issued.pk])
    assert certificate in shown
    assert his.get(certificate).status_code == 200


def test_a_void_warranty_is_not_shown_as_cover(
    warranty: Warranty, ruth: User, on: date, at: datetime, hers: Client
) -> None:
    issuing.void_warranty(
        warranty_id=warranty.pk, voided_on=on, clause="Misuse", because="Torn out.", by_user=ruth, at=at
    )
    assert "Your warranty" not in house_of(hers)
    assert hers.get(reverse("portal:warranty_document", args=[warranty.pk])).status_code == 404


def test_two_systems_each_have_their_own_warranty(
    warranty: Warranty, system: System, office: Actor, at: datetime, hers: Client
) -> None:
    other = SystemFactory(property=system.property, name="Crawl space", installed_on=date(2024, 6, 3))
    furnish(other)
    second = issuing.issue_warranty(
        system_id=other.pk, terms_id=warranty.terms_id, issued_on=date(2024, 6, 3), by=office, at=at
    )
    shown = house_of(hers)
    for one in (warranty, second):
        assert shown.count(reverse("portal:warranty_document", args=[one.pk])) == 1


def test_findings_of_another_house_are_not_shown(
    system: System, neighbour: Ownership, theo: User, hers: Client
) -> None:
    next_door = SystemFactory(property=neighbour.property)
    checkup_done(next_door, date(2025, 5, 10), theo, finding="bad")
    assert Finding.objects.count() == 1
    assert "The check valve leaks." not in house_of(hers)
