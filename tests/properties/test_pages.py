"""Pages about houses and owners: parse, one call, a page or a sentence beside the field."""

from collections.abc import Callable
from datetime import date

import pytest
from django.test import Client
from django.urls import reverse

from contractor.accounts.models import Company, User
from contractor.properties.actions import make_owner_link, open_owner_link
from contractor.properties.models import Ownership, Person, Property
from tests.factories import PersonFactory

TYPED = {
    "street": "14 Quarry Lane",
    "unit": "",
    "city": "Larkmere",
    "state": "PA",
    "postcode": "17099",
    "access_notes": "Side door",
    "position": "40.9512, -77.2204",
    "name": "Ruth Amberley",
    "phone": "(555) 555-0199",
    "email": "ruth.amberley@example.com",
    "owner_since": "2020-04-01",
    "mail_address": "",
}


@pytest.fixture
def desk(nora: User, signed_in_as: Callable[[User], Client]) -> Client:
    return signed_in_as(nora)


def test_a_house_and_its_owner_are_registered_in_one_form_and_the_system_comes_next(
    desk: Client, company: Company
) -> None:
    Company.objects.update(country="CA")
    answer = desk.post(reverse("properties:register"), TYPED)
    house = Property.objects.get()
    assert answer["Location"] == reverse("systems:install", args=[house.pk])
    assert (house.latitude, house.longitude, house.country) == (40.9512, -77.2204, "CA")
    ownership = house.ownerships.get()
    assert (ownership.person.name, ownership.from_on) == ("Ruth Amberley", date(2020, 4, 1))


def test_what_the_software_knows_is_filled_in(desk: Client) -> None:
    form = desk.get(f"{reverse('properties:register')}?street=9 Kiln Street").context["form"]
    assert (form["street"].value(), form["city"].value(), form["state"].value()) == ("9 Kiln Street", "Larkmere", "PA")


@pytest.mark.parametrize("missing", ["street", "city", "state", "postcode", "name", "owner_since"])
def test_what_is_missing_is_said_beside_its_field_and_nothing_is_saved(desk: Client, missing: str) -> None:
    answer = desk.post(reverse("properties:register"), {**TYPED, missing: ""})
    text = answer.content.decode()
    assert list(answer.context["form"].errors) == [missing]
    assert "Nothing was saved yet" in text
    assert f'href="#id_{missing}"' in text
    assert Property.objects.count() == Person.objects.count() == 0


@pytest.mark.parametrize(
    ("typed", "position"),
    [
        ("40.9512, -77.2204", (40.9512, -77.2204)),
        ("40.9512 -77.2204", (40.9512, -77.2204)),
        (" 40;-77 ", (40.0, -77.0)),
        ("", (None, None)),
    ],
)
def test_a_position_is_pasted_as_a_map_gives_it(
    desk: Client, typed: str, position: tuple[float | None, float | None]
) -> None:
    desk.post(reverse("properties:register"), {**TYPED, "position": typed})
    house = Property.objects.get()
    assert (house.latitude, house.longitude) == position


@pytest.mark.parametrize("typed", ["here", "40.9", "91, 10", "40, 181", "40.9512, -77.2204, 3"])
def test_a_position_that_is_none_is_refused_beside_its_field(desk: Client, typed: str) -> None:
    answer = desk.post(reverse("properties:register"), {**TYPED, "position": typed})
    assert list(answer.context["form"].errors) == ["position"]


def test_an_address_that_is_taken_leads_to_the_house_that_stands_there(desk: Client, house: Property) -> None:
    answer = desk.post(reverse("properties:register"), {**TYPED, "street": "12 millrace ln."})
    assert "street" in answer.context["form"].errors
    assert f'href="{reverse("office:house", args=[house.pk])}"' in answer.content.decode()
    assert Property.objects.count() == 1


def test_somebody_known_is_asked_for_once_and_can_be_the_same_person(desk: Client, ownership: Ownership) -> None:
    typed = {**TYPED, "email": "iris@example.com"}
    asked = desk.post(reverse("properties:register"), typed)
    assert list(asked.context["form"].errors) == ["known_person"]
    assert "Yes: Iris Holloway, 12 Millrace Lane" in asked.content.decode()
    assert Property.objects.count() == 1
    desk.post(reverse("properties:register"), {**typed, "known_person": str(ownership.person_id)})
    assert Person.objects.count() == 1
    assert ownership.person.ownerships.count() == 2


def test_somebody_alike_can_be_somebody_else(desk: Client, ownership: Ownership) -> None:
    typed = {**TYPED, "email": "iris@example.com", "known_person": "another"}
    desk.post(reverse("properties:register"), typed)
    assert Person.objects.filter(email="iris@example.com").count() == 2


def test_nobody_unlike_can_be_slipped_in_as_the_same_person(desk: Client, ownership: Ownership) -> None:
    stranger = PersonFactory(name="Stranger", email="stranger@example.com", phone="")
    typed = {**TYPED, "email": "iris@example.com", "known_person": str(stranger.pk)}
    assert list(desk.post(reverse("properties:register"), typed).context["form"].errors) == ["known_person"]
    desk.post(reverse("properties:register"), {**TYPED, "known_person": str(stranger.pk)})
    assert not stranger.ownerships.exists()


def test_a_house_is_corrected(desk: Client, house: Property) -> None:
    address = reverse("properties:change", args=[house.pk])
    assert desk.get(address).context["form"]["street"].value() == "12 Millrace Lane"
    answer = desk.post(address, {**TYPED, "street": "12 Millrace Lane", "city": "Stony Ford"})
    assert answer["Location"] == reverse("office:house", args=[house.pk])
    house.refresh_from_db()
    assert (house.city, house.access_notes, house.position_source) == ("Stony Ford", "Side door", "by_hand")


def test_a_known_position_is_shown_for_correction_and_survives_an_untouched_form(desk: Client, house: Property) -> None:
    Property.objects.filter(pk=house.pk).update(latitude=40.95, longitude=-77.25, position_source="imported")
    address = reverse("properties:change", args=[house.pk])
    form = desk.get(address).context["form"]
    assert form["position"].value() == "40.95, -77.25"
    desk.post(address, {name: form[name].value() for name in form.fields})
    house.refresh_from_db()
    assert (house.latitude, house.longitude, house.position_source) == (40.95, -77.25, "imported")


def test_a_correction_onto_the_neighbours_address_is_refused(
    desk: Client, house: Property, neighbour: Ownership
) -> None:
    answer = desk.post(reverse("properties:change", args=[house.pk]), {**TYPED, "street": "14 Millrace Lane"})
    assert "street" in answer.context["form"].errors
    assert reverse("office:house", args=[neighbour.property_id]) in answer.content.decode()


def test_the_first_owner_is_recorded_and_the_next_one_takes_over(desk: Client, house: Property) -> None:
    address = reverse("properties:owner", args=[house.pk])
    assert "Record the owner" in desk.get(address).content.decode()
    desk.post(address, {"name": "Ruth Amberley", "on": "2020-04-01"})
    assert "Hand the house over" in desk.get(address).content.decode()
    answer = desk.post(address, {"name": "Ben Okafor", "on": "2026-05-01"})
    assert answer["Location"] == reverse("office:house", args=[house.pk])
    assert list(house.ownerships.values_list("person__name", "until_on")) == [
        ("Ruth Amberley", date(2026, 5, 1)),
        ("Ben Okafor", None),
    ]


def test_a_hand_over_before_the_purchase_is_refused_beside_the_day(desk: Client, ownership: Ownership) -> None:
    address = reverse("properties:owner", args=[ownership.property_id])
    answer = desk.post(address, {"name": "Ben Okafor", "on": "2019-06-01"})
    assert list(answer.context["form"].errors) == ["on"]
    assert Person.objects.count() == 1


def test_handing_over_to_the_present_owner_is_refused_beside_the_name(desk: Client, ownership: Ownership) -> None:
    address = reverse("properties:owner", args=[ownership.property_id])
    typed = {"name": "Iris", "email": "iris@example.com", "on": "2026-05-01"}
    answer = desk.post(address, {**typed, "known_person": str(ownership.person_id)})
    assert list(answer.context["form"].errors) == ["name"]


def test_an_owner_is_corrected(desk: Client, ownership: Ownership) -> None:
    address = reverse("properties:change_person", args=[ownership.property_id, ownership.person_id])
    assert desk.get(address).context["form"]["wants_email"].value() is True
    desk.post(address, {"name": "Iris Reed", "phone": "555-0111", "email": "", "mail_address": "PO Box 4"})
    ownership.person.refresh_from_db()
    person = ownership.person
    assert (person.name, person.email, person.wants_email, person.mail_address) == ("Iris Reed", "", False, "PO Box 4")


def test_a_person_is_corrected_only_through_a_house_they_own_or_owned(
    desk: Client, ownership: Ownership, neighbour: Ownership
) -> None:
    foreign = reverse("properties:change_person", args=[ownership.property_id, neighbour.person_id])
    missing = reverse("properties:change_person", args=[ownership.property_id, 999_999])
    assert [desk.get(foreign).status_code, desk.get(missing).status_code] == [404, 404]
    assert desk.post(foreign, {"name": "X"}).status_code == 404
    neighbour.person.refresh_from_db()
    assert neighbour.person.name == "Mr. Nextdoor"


def test_links_are_closed_at_a_press(desk: Client, ownership: Ownership, nora: User, at: object) -> None:
    token = make_owner_link(ownership_id=ownership.pk, by=nora.actor, at=at)  # type: ignore[arg-type]
    answer = desk.post(reverse("properties:revoke_links", args=[ownership.property_id]))
    assert answer["Location"] == reverse("office:house", args=[ownership.property_id])
    assert open_owner_link(token=token, at=at) is None  # type: ignore[arg-type]


def test_closing_links_of_a_house_nobody_owns_is_refused_in_words(desk: Client, house: Property) -> None:
    answer = desk.post(reverse("properties:revoke_links", args=[house.pk]))
    assert (answer.status_code, "Record the owner first" in answer.content.decode()) == (409, True)
    assert desk.post(reverse("properties:revoke_links", args=[999_999])).status_code == 404
    assert desk.get(reverse("properties:revoke_links", args=[house.pk])).status_code == 405


@pytest.mark.parametrize("name", ["register", "change", "owner", "change_person", "revoke_links"])
def test_technicians_and_strangers_stay_outside(
    name: str, ownership: Ownership, theo: User, signed_in_as: Callable[[User], Client]
) -> None:
    keys = {"register": [], "change_person": [ownership.property_id, ownership.person_id]}
    address = reverse(f"properties:{name}", args=keys.get(name, [ownership.property_id]))
    assert signed_in_as(theo).post(address, TYPED).status_code == 403
    assert Client().post(address, TYPED).status_code == 302
    assert Property.objects.count() == 1


@pytest.mark.parametrize("name", ["change", "owner"])
def test_a_missing_house_is_not_found(desk: Client, name: str) -> None:
    assert desk.get(reverse(f"properties:{name}", args=[999_999])).status_code == 404
