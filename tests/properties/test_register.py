"""Registering and correcting houses and people."""

from datetime import date, datetime

import pytest

from contractor.core import audit
from contractor.core.audit import Actor
from contractor.core.models import AuditEntry
from contractor.properties import actions, registration
from contractor.properties.errors import AddressTaken, HandOverBeforePurchase
from contractor.properties.models import Ownership, Person, Property
from contractor.properties.queries import people_like, people_with_phone
from tests.factories import PropertyFactory

HOUSE = {"street": "14 Quarry Lane", "city": "Larkmere", "state": "PA", "postcode": "17099"}
PERSON = {"name": "Ruth Amberley", "phone": "(555) 555-0142", "email": "ruth@example.com", "mail_address": ""}


@pytest.mark.django_db
def test_a_house_is_registered_with_its_trail(office: Actor, at: datetime) -> None:
    house = actions.register_property(**HOUSE, unit=" 2 ", access_notes=" Side door ", by=office, at=at)
    house.refresh_from_db()
    assert house.address_line == "14 Quarry Lane, 2, Larkmere, PA 17099"
    assert house.access_notes == "Side door"
    assert house.created_at == at
    entry = AuditEntry.objects.get(stream=f"property:{house.pk}")
    assert (entry.verb, entry.actor, entry.at) == ("house registered", office.ref, at)
    assert audit.breaks(f"property:{house.pk}") == []


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("street", "postcode"),
    [
        ("14 Quarry Lane", "17099"),
        ("14  quarry LANE", "17099"),
        ("14 Quarry Ln.", "17099-1234"),
        ("14 QUARRY LN", " 17099 "),
    ],
)
def test_the_same_house_written_another_way_is_refused_and_named(
    office: Actor, at: datetime, street: str, postcode: str
) -> None:
    house = actions.register_property(**HOUSE, by=office, at=at)
    with pytest.raises(AddressTaken) as refused:
        actions.register_property(**{**HOUSE, "street": street, "postcode": postcode}, by=office, at=at)
    assert refused.value.property_id == house.pk
    assert refused.value.field == "street"
    assert "14 Quarry Lane" in refused.value.sentence
    assert Property.objects.count() == 1


@pytest.mark.django_db
def test_another_unit_in_the_same_building_is_another_house(office: Actor, at: datetime) -> None:
    actions.register_property(**HOUSE, unit="Unit 1", by=office, at=at)
    actions.register_property(**HOUSE, unit="Unit 2", by=office, at=at)
    assert Property.objects.count() == 2


@pytest.mark.django_db
def test_a_correction_keeps_what_stood_there_before(office: Actor, at: datetime, house: Property) -> None:
    actions.change_property(
        property_id=house.pk,
        street="12 Millrace Lane",
        city="Upper Larkmere",
        state="PA",
        postcode="17099",
        access_notes="Key under the pot",
        by=office,
        at=at,
    )
    house.refresh_from_db()
    assert house.city == "Upper Larkmere"
    entry = AuditEntry.objects.get(stream=f"property:{house.pk}")
    assert entry.body == {"before": {"city": "Larkmere"}, "after": {"city": "Upper Larkmere"}}
    assert entry.personal["after"] == {"access_notes": "Key under the pot"}


@pytest.mark.django_db
def test_a_house_that_gets_another_address_is_sorted_by_that_one(office: Actor, at: datetime, house: Property) -> None:
    place = {"city": "Larkmere", "state": "PA", "postcode": "17099"}
    assert house.by_street == "millrace lane 0000012"
    actions.change_property(property_id=house.pk, street="7 Ferry Road", unit="3", **place, by=office, at=at)
    house.refresh_from_db()
    assert house.by_street == "ferry road 0000007 0000003"
    # Many at once, as the import of a register writes them.
    others = [PropertyFactory.build(street=f"{number} Ferry Road", address_key=f"k{number}") for number in (10, 9)]
    Property.objects.bulk_create(others)
    known = Property.objects.order_by("by_street").values_list("street", flat=True)
    assert list(known) == ["7 Ferry Road", "9 Ferry Road", "10 Ferry Road"]


@pytest.mark.django_db
def test_a_house_keeps_its_own_address_but_cannot_take_another_ones(
    office: Actor, at: datetime, house: Property, neighbour: Ownership
) -> None:
    own = {"street": "12 Millrace Ln", "city": "Larkmere", "state": "PA", "postcode": "17099"}
    actions.change_property(property_id=house.pk, **own, by=office, at=at)
    with pytest.raises(AddressTaken) as refused:
        actions.change_property(property_id=house.pk, **{**own, "street": "14 Millrace Lane"}, by=office, at=at)
    assert refused.value.property_id == neighbour.property_id
    house.refresh_from_db()
    assert house.street == "12 Millrace Ln"


@pytest.mark.django_db
def test_a_position_set_by_hand_says_so_and_one_taken_away_does_not(
    office: Actor, at: datetime, house: Property
) -> None:
    own = {"street": house.street, "city": "Larkmere", "state": "PA", "postcode": "17099"}
    actions.change_property(property_id=house.pk, **own, latitude=40.95, longitude=-77.22, by=office, at=at)
    house.refresh_from_db()
    assert (house.latitude, house.longitude, house.position_source) == (40.95, -77.22, "by_hand")
    actions.change_property(property_id=house.pk, **own, by=office, at=at)
    house.refresh_from_db()
    assert (house.latitude, house.position_source) == (None, "")


@pytest.mark.django_db
def test_an_imported_position_stays_imported_when_only_the_notes_change(
    office: Actor, at: datetime, house: Property
) -> None:
    Property.objects.filter(pk=house.pk).update(latitude=40.9, longitude=-77.2, position_source="imported")
    actions.change_property(
        property_id=house.pk,
        street=house.street,
        city="Larkmere",
        state="PA",
        postcode="17099",
        latitude=40.9,
        longitude=-77.2,
        access_notes="Dog",
        by=office,
        at=at,
    )
    house.refresh_from_db()
    assert (house.position_source, house.access_notes) == ("imported", "Dog")


@pytest.mark.django_db
def test_a_person_is_registered_and_corrected_in_the_trail_of_their_house(
    office: Actor, at: datetime, house: Property
) -> None:
    person = actions.register_person(
        name=" Iris Holloway ", email="IRIS@Example.com", by=office, at=at, property_id=house.pk
    )
    assert (person.name, person.email, person.wants_email) == ("Iris Holloway", "iris@example.com", True)
    actions.change_person(
        person_id=person.pk,
        name="Iris Holloway-Reed",
        email="iris@example.com",
        phone="555-0110",
        wants_email=False,
        by=office,
        at=at,
        property_id=house.pk,
    )
    person.refresh_from_db()
    assert (person.name, person.phone, person.wants_email) == ("Iris Holloway-Reed", "555-0110", False)
    verbs = AuditEntry.objects.filter(stream=f"property:{house.pk}").order_by("number").values_list("verb", flat=True)
    assert list(verbs) == ["person registered", "person corrected"]


@pytest.mark.django_db
def test_house_and_owner_are_registered_together(office: Actor, at: datetime) -> None:
    house = registration.register_house(house=HOUSE, person=PERSON, owner_since=date(2020, 4, 1), by=office, at=at)
    ownership = house.ownerships.get()
    assert (ownership.person.name, ownership.from_on, ownership.until_on) == ("Ruth Amberley", date(2020, 4, 1), None)


@pytest.mark.django_db
def test_a_known_person_becomes_the_owner_without_a_second_row(office: Actor, at: datetime, iris: Person) -> None:
    house = registration.register_house(
        house=HOUSE, person=PERSON, owner_since=date(2020, 4, 1), known_person_id=iris.pk, by=office, at=at
    )
    assert house.ownerships.get().person == iris
    assert Person.objects.count() == 1


@pytest.mark.django_db
def test_a_refused_house_leaves_no_owner_behind(office: Actor, at: datetime, house: Property) -> None:
    taken = {**HOUSE, "street": house.street}
    with pytest.raises(AddressTaken):
        registration.register_house(house=taken, person=PERSON, owner_since=date(2020, 4, 1), by=office, at=at)
    assert Person.objects.count() == 0


@pytest.mark.django_db
def test_a_refused_hand_over_leaves_no_person_behind(office: Actor, at: datetime, ownership: Ownership) -> None:
    with pytest.raises(HandOverBeforePurchase):
        registration.record_owner(
            property_id=ownership.property_id, person=PERSON, on=ownership.from_on, by=office, at=at
        )
    assert list(Person.objects.all()) == [ownership.person]


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("written", "typed", "is_found"),
    [
        ("(555) 555-0142", "5550142", True),
        ("555.555.0142", "5555550142", True),
        ("+1 555 555 0142", "15555550142", True),
        ("555/555-0142", "5550142", True),
        ("(555) 555-0142", "5550143", False),
        ("", "5550142", False),
    ],
)
def test_a_telephone_number_is_found_however_it_is_written(written: str, typed: str, is_found: bool) -> None:
    Person.objects.create(name="Iris", phone=written, created_at=datetime.fromisoformat("2026-05-04T14:00:00Z"))
    assert people_with_phone(typed).exists() is is_found


@pytest.mark.django_db
def test_somebody_alike_is_the_same_address_or_the_same_name_with_the_same_telephone(
    ownership: Ownership, buyer: Person
) -> None:
    iris = ownership.person
    assert people_like(name="I. H.", email=" IRIS@example.com ", phone="") == [iris]
    assert people_like(name="iris holloway", email="", phone="555 5550142") == [iris]
    assert people_like(name="Iris Holloway", email="", phone="") == []
    assert people_like(name="Somebody", email="", phone="(555) 555-0142") == []
    assert people_like(name="", email="", phone="") == []
    found = people_like(name="", email="iris@example.com", phone="")[0]
    assert [known.property for known in found.known_ownerships] == [ownership.property]  # type: ignore[attr-defined]
