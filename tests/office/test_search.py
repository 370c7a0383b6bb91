"""Search: a house in seconds while the caller talks."""

from collections.abc import Callable
from datetime import date

import pytest
from django.test import Client
from django.urls import reverse

from contractor.accounts.models import User
from contractor.core.audit import SYSTEM
from contractor.office.search import MOST, find_houses
from contractor.plans.actions.agreements import agree, cancel
from contractor.plans.models import Invoice
from contractor.properties.models import Ownership, Property
from contractor.systems.models import System
from contractor.warranties.numbers import display_number, draw_number
from tests.factories import CatalogueModelFactory, ComponentFactory, OwnershipFactory, PersonFactory, PropertyFactory
from tests.office.factories import certificate, issued_warranty
from tests.plans.made import YES, new_offer, noon

ON = date(2026, 5, 4)


@pytest.fixture
def known(system: System, ownership: Ownership, neighbour: Ownership) -> Property:
    """Iris's house with numbered parts, a warranty and a certificate; the neighbour's beside it."""
    house = system.property
    house.unit = "Unit 3"
    house.save()
    ownership.person.phone = "(555) 555-0187"
    ownership.person.save()
    model = CatalogueModelFactory(part_kind="battery")
    ComponentFactory(system=system, part_kind="battery", model=model, serial_number="MW-7781-X")
    warranty = issued_warranty(system, ownership, number="W4T9ZR2MKC")
    certificate(warranty, ownership, number="7K3M9QX2C")
    return house


def found(words: str) -> list[str]:
    return [house.address_line for house in find_houses(typed=words, on=ON).houses]


@pytest.mark.parametrize(
    "words",
    [
        "12 millrace",
        "millrace 12",
        "  MILLRACE   lane 12 ",
        "12 Millrace Larkmere",
        "unit 3",
        "17099 12",
        "holloway",
        "iris hollo",
        "iris millrace",
        "555-0187",
        "(555) 555-0187",
        "5550187",
        "0187",
        "MW-7781",
        "mw-7781-x",
        "W4T9ZR2MKC",
        "W-4T9Z-R2MK-C",
        "w-4t9z",
        "w 4t9z r2mk c",
        "7K3M-9QX2-C",
        "7k3m9qx2c",
        "7K3M 9QX2 C",
        "7K3M",
    ],
)
def test_the_house_is_found_and_the_neighbour_is_not(known: Property, words: str) -> None:
    assert found(words) == [known.address_line]


@pytest.mark.parametrize(
    "words", ["", "   ", "99 millrace", "millrace holloway nextdoor", "555-0188", "MW-9999", "ZZZZ", "%", "_", "'"]
)
def test_what_matches_nothing_finds_nothing(known: Property, words: str) -> None:
    assert found(words) == []


@pytest.mark.parametrize("words", ["2026-00007", "2026-7", "2026 - 00007", "2026/7"])
def test_an_invoice_number_leads_to_its_house(known: Property, ruth: User, words: str) -> None:
    offer = new_offer(ruth, noon(ON))
    agreement = agree(
        property_id=known.pk, offer_id=offer.pk, from_on=ON, renews="asks", consent=YES, by=SYSTEM, at=noon(ON)
    )
    Invoice.objects.filter(agreement=agreement).update(year=2026, sequence=7)
    [house] = find_houses(typed=words, on=ON).houses
    assert (house.address_line, house.because) == (known.address_line, "Invoice 2026-00007")
    assert found("2026-8") == []
    cancel(agreement_id=agreement.pk, way="office", because="", by=SYSTEM, at=noon(ON))
    note = Invoice.objects.get(credits__isnull=False)
    [house] = find_houses(typed=note.number, on=ON).houses
    assert house.because == f"Credit note {note.number}"


def test_a_certificate_number_with_lookalikes_is_read_as_it_was_meant(system: System, ownership: Ownership) -> None:
    full = draw_number(lambda _alphabet: "0")
    certificate(issued_warranty(system, ownership), ownership, number=full)
    typed = display_number(full).replace("0", "O")
    assert typed != display_number(full)
    assert found(typed) == [system.property.address_line]


def test_what_was_matched_is_said_when_the_line_does_not_show_it(known: Property) -> None:
    because = {
        words: find_houses(typed=words, on=ON).houses[0].because
        for words in ("MW-7781", "W-4T9Z", "7K3M", "0187", "millrace 12", "holloway")
    }
    assert because == {
        "MW-7781": "Battery, serial number MW-7781-X",
        "W-4T9Z": "Warranty W-4T9Z-R2MK-C",
        "7K3M": "Certificate 7K3M-9QX2-C",
        "0187": "Iris Holloway, (555) 555-0187",
        "millrace 12": "",
        "holloway": "",
    }


def test_a_part_that_was_taken_out_still_leads_to_its_house(known: Property) -> None:
    part = known.systems.get().components.get()
    part.out_on = date(2025, 1, 1)
    part.save()
    assert find_houses(typed="MW-7781", on=ON).houses[0].because == "Battery, serial number MW-7781-X, taken out"


def test_a_former_owner_leads_to_the_house_and_is_called_so(known: Property) -> None:
    former = PersonFactory(name="Otto Lindqvist")
    OwnershipFactory(property=known, person=former, from_on=date(2010, 1, 1), until_on=date(2019, 6, 1))
    house = find_houses(typed="lindqvist", on=ON).houses[0]
    assert (house.owner, house.because) == ("Iris Holloway", "Former owner: Otto Lindqvist")


def test_houses_whose_street_begins_with_the_words_come_first(known: Property) -> None:
    PropertyFactory(street="3 Old Millrace Lane")
    PropertyFactory(street="Millrace House")
    assert found("millrace")[0] == "Millrace House, Larkmere, PA 17099"


def test_at_most_twenty_are_shown_and_more_are_announced(company: object) -> None:
    for number in range(MOST):
        PropertyFactory(street=f"{number} Kiln Street")
    exactly = find_houses(typed="kiln", on=ON)
    assert (len(exactly.houses), exactly.there_are_more) == (MOST, False)
    PropertyFactory(street="99 Kiln Street")
    more = find_houses(typed="kiln", on=ON)
    assert (len(more.houses), more.there_are_more) == (MOST, True)


@pytest.mark.parametrize("words", ["kiln", "12", "5550142", "MW-1"])
def test_the_number_of_queries_does_not_depend_on_what_is_found(
    company: object, words: str, django_assert_num_queries: Callable[..., object]
) -> None:
    def fill(start: int, count: int) -> None:
        for number in range(start, start + count):
            house = PropertyFactory(street=f"{number} Kiln Street 12")
            OwnershipFactory(property=house)
            ComponentFactory(system__property=house, model=CatalogueModelFactory(), serial_number=f"MW-1{number:03d}")

    expected = {"kiln": 3, "12": 3, "5550142": 7, "MW-1": 6}[words]
    fill(0, 1)
    with django_assert_num_queries(expected):
        assert len(find_houses(typed=words, on=ON).houses) == 1
    fill(1, 30)
    with django_assert_num_queries(expected):
        assert len(find_houses(typed=words, on=ON).houses) == MOST


def test_typing_gets_a_list_that_says_what_it_answers(
    known: Property, nora: User, signed_in_as: Callable[[User], Client]
) -> None:
    answer = signed_in_as(nora).get(reverse("office:search"), {"q": " hollo "}, headers={"HX-Request": "true"})
    text = answer.content.decode()
    assert "<html" not in text
    assert 'data-query="hollo"' in text
    assert reverse("office:house", args=[known.pk]) in text
    assert "Iris Holloway" in text
    assert "(555) 555-0187" in text


def test_nothing_typed_gets_an_empty_list(nora: User, signed_in_as: Callable[[User], Client]) -> None:
    answer = signed_in_as(nora).get(reverse("office:search"), {"q": "  "}, headers={"HX-Request": "true"})
    assert answer.content.strip() == b""


def test_without_javascript_it_is_a_page(known: Property, nora: User, signed_in_as: Callable[[User], Client]) -> None:
    text = signed_in_as(nora).get(reverse("office:search"), {"q": "hollo"}).content.decode()
    assert "<html" in text
    assert reverse("office:house", args=[known.pk]) in text


@pytest.mark.parametrize("is_fragment", [True, False])
def test_an_empty_answer_says_what_was_searched_and_how_to_register_the_house(
    nora: User, signed_in_as: Callable[[User], Client], is_fragment: bool
) -> None:
    headers = {"HX-Request": "true"} if is_fragment else {}
    text = signed_in_as(nora).get(reverse("office:search"), {"q": "9 Nowhere <b>"}, headers=headers).content.decode()
    assert "9 Nowhere &lt;b&gt;" in text
    assert "serial number" in text
    assert f"{reverse('properties:register')}?street=9%20Nowhere" in text


def test_the_answer_tells_caches_that_page_and_list_differ(nora: User, signed_in_as: Callable[[User], Client]) -> None:
    assert "HX-Request" in signed_in_as(nora).get(reverse("office:search"), {"q": "x"})["Vary"]


def test_a_technician_may_not_search(theo: User, signed_in_as: Callable[[User], Client]) -> None:
    assert signed_in_as(theo).get(reverse("office:search"), {"q": "x"}).status_code == 403
