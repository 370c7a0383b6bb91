"""Rows for tests. Each factory makes the plainest valid row; a test says what matters to it."""

from datetime import UTC, date, datetime

import factory
from factory.django import DjangoModelFactory

from contractor.accounts.models import Company, Role, User
from contractor.properties.addresses import address_key
from contractor.properties.models import Ownership, Person, Property
from contractor.systems.models import CatalogueModel, Component, System, TreatedWall

LONG_AGO = datetime(2020, 1, 2, 15, 0, tzinfo=UTC)


class CompanyFactory(DjangoModelFactory):
    class Meta:
        model = Company

    name = "Harrow Creek Dry Basements"
    legal_name = "Harrow Creek Dry Basements LLC"
    street = "14 Foundry Row"
    city = "Larkmere"
    state = "PA"
    postcode = "17099"
    phone = "(555) 555-0100"
    email = "office@example.com"


class UserFactory(DjangoModelFactory):
    class Meta:
        model = User
        skip_postgeneration_save = True

    email = factory.Sequence(lambda n: f"staff{n}@example.com")
    name = factory.Sequence(lambda n: f"Staff Member {n}")
    role = Role.OFFICE
    password = "!"


class PersonFactory(DjangoModelFactory):
    class Meta:
        model = Person

    name = factory.Sequence(lambda n: f"Owner {n}")
    email = factory.Sequence(lambda n: f"owner{n}@example.com")
    phone = "(555) 555-0142"
    created_at = LONG_AGO


class PropertyFactory(DjangoModelFactory):
    class Meta:
        model = Property

    street = factory.Sequence(lambda n: f"{n + 101} Millrace Lane")  # the cast lives at 12 and 14
    city = "Larkmere"
    state = "PA"
    postcode = "17099"
    address_key = factory.LazyAttribute(lambda house: address_key(house.street, house.postcode))
    created_at = LONG_AGO


class OwnershipFactory(DjangoModelFactory):
    class Meta:
        model = Ownership

    property = factory.SubFactory(PropertyFactory)
    person = factory.SubFactory(PersonFactory)
    from_on = date(2019, 6, 1)


class CatalogueModelFactory(DjangoModelFactory):
    class Meta:
        model = CatalogueModel

    part_kind = "primary_pump"
    maker = "Northfold"
    name = factory.Sequence(lambda n: f"Model {n}")


class SystemFactory(DjangoModelFactory):
    class Meta:
        model = System

    property = factory.SubFactory(PropertyFactory)
    name = "Basement"
    installed_on = date(2020, 5, 14)
    created_at = LONG_AGO


class ComponentFactory(DjangoModelFactory):
    class Meta:
        model = Component

    system = factory.SubFactory(SystemFactory)
    part_kind = "primary_pump"
    in_on = factory.SelfAttribute("system.installed_on")


class TreatedWallFactory(DjangoModelFactory):
    class Meta:
        model = TreatedWall

    system = factory.SubFactory(SystemFactory)
    letter = factory.Iterator("ABCDEFGH")
    name = "North wall"
    length_m = 9.0
