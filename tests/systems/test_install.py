"""Systems and parts go in."""

from datetime import date, datetime

import pytest

from contractor.accounts.models import User
from contractor.core.audit import Actor
from contractor.core.models import AuditEntry
from contractor.properties.models import Property
from contractor.systems import actions
from contractor.systems.errors import BeforeSystem, ModelKnown, SerialNumberTaken, SystemNameTaken, WrongModel
from contractor.systems.models import CatalogueModel, Component, System
from contractor.systems.part_kinds import PART_KINDS
from tests.factories import CatalogueModelFactory, ComponentFactory, SystemFactory


@pytest.fixture
def pump(db: None) -> CatalogueModel:
    return CatalogueModelFactory(part_kind="primary_pump", name="Castwell 33")


def test_a_system_is_installed_with_its_trail(house: Property, office: Actor, at: datetime) -> None:
    system = actions.install_system(property_id=house.pk, installed_on=date(2026, 4, 2), by=office, at=at)
    assert (system.name, system.installed_on, system.created_at) == ("Basement", date(2026, 4, 2), at)
    assert AuditEntry.objects.get(stream=f"property:{house.pk}").verb == "system installed"


def test_a_second_system_needs_another_name(system: System, office: Actor, at: datetime) -> None:
    with pytest.raises(SystemNameTaken) as refused:
        actions.install_system(
            property_id=system.property_id, name=" Basement ", installed_on=date(2026, 4, 2), by=office, at=at
        )
    assert refused.value.field == "name"
    actions.install_system(
        property_id=system.property_id, name="Crawl space", installed_on=date(2026, 4, 2), by=office, at=at
    )
    assert system.property.systems.count() == 2


def test_a_part_goes_in_with_its_model_number_place_and_person(
    system: System, pump: CatalogueModel, theo: User, office: Actor, at: datetime
) -> None:
    part = actions.install_component(
        system_id=system.pk,
        part_kind="primary_pump",
        on=date(2020, 5, 14),
        model=pump,
        serial_number=" NF-0042 ",
        place=" Pit 1 ",
        in_by=theo,
        by=office,
        at=at,
    )
    part.refresh_from_db()
    assert (part.model, part.serial_number, part.place) == (pump, "NF-0042", "Pit 1")
    assert (part.in_on, part.in_by, part.out_on) == (date(2020, 5, 14), theo, None)
    entry = AuditEntry.objects.get(stream=f"property:{system.property_id}")
    assert (entry.verb, entry.subject) == ("primary pump installed", f"component:{part.pk}")


@pytest.mark.parametrize("kind", PART_KINDS, ids=lambda kind: kind.code)
def test_a_part_without_a_place_gets_the_usual_one_of_its_kind(
    system: System, office: Actor, at: datetime, kind: object
) -> None:
    part = actions.install_component(
        system_id=system.pk,
        part_kind=kind.code,  # type: ignore[attr-defined]
        on=date(2020, 5, 14),
        by=office,
        at=at,
    )
    assert part.place == kind.place  # type: ignore[attr-defined]


def test_a_part_cannot_have_gone_in_before_its_system(system: System, office: Actor, at: datetime) -> None:
    with pytest.raises(BeforeSystem) as refused:
        actions.install_component(system_id=system.pk, part_kind="pit", on=date(2020, 5, 13), by=office, at=at)
    assert "May 14, 2020" in refused.value.sentence
    actions.install_component(system_id=system.pk, part_kind="pit", on=date(2020, 5, 14), by=office, at=at)


def test_a_model_of_another_kind_is_refused(system: System, pump: CatalogueModel, office: Actor, at: datetime) -> None:
    with pytest.raises(WrongModel) as refused:
        actions.install_component(
            system_id=system.pk, part_kind="battery", on=date(2020, 5, 14), model=pump, by=office, at=at
        )
    assert refused.value.field == "model"


def test_the_same_serial_number_of_the_same_model_is_refused_and_its_house_named(
    system: System, pump: CatalogueModel, office: Actor, at: datetime
) -> None:
    elsewhere = ComponentFactory(model=pump, serial_number="NF-0042")
    with pytest.raises(SerialNumberTaken) as refused:
        actions.install_component(
            system_id=system.pk,
            part_kind="primary_pump",
            on=date(2020, 5, 14),
            model=pump,
            serial_number="NF-0042",
            by=office,
            at=at,
        )
    assert elsewhere.system.property.street in refused.value.sentence
    assert Component.objects.filter(system=system).count() == 0


@pytest.mark.parametrize("number", ["", "NF-0042"])
def test_the_same_number_on_another_model_and_no_number_at_all_are_fine(
    system: System, pump: CatalogueModel, office: Actor, at: datetime, number: str
) -> None:
    ComponentFactory(model=CatalogueModelFactory(), serial_number=number)
    ComponentFactory(model=None, serial_number=number)
    part = actions.install_component(
        system_id=system.pk,
        part_kind="primary_pump",
        on=date(2020, 5, 14),
        model=pump,
        serial_number=number,
        by=office,
        at=at,
    )
    assert part.serial_number == number


@pytest.mark.django_db
def test_a_catalogue_model_is_added_once(office: Actor, at: datetime) -> None:
    words = {"part_kind": "battery", "maker": " Merrowick ", "name": "Stillmat 75", "data": {"capacity_ah": 75.0}}
    model = actions.add_catalogue_model(**words, by=office, at=at)
    assert (model.maker, model.data) == ("Merrowick", {"capacity_ah": 75.0})
    with pytest.raises(ModelKnown):
        actions.add_catalogue_model(**{**words, "maker": "Merrowick"}, by=office, at=at)
    actions.add_catalogue_model(**{**words, "part_kind": "charger"}, by=office, at=at)


@pytest.mark.django_db
def test_a_kind_that_does_not_exist_is_a_programming_error(office: Actor, at: datetime) -> None:
    with pytest.raises(KeyError):
        actions.add_catalogue_model(part_kind="boat", maker="X", name="Y", data={}, by=office, at=at)


def test_a_wrong_house_is_left_alone(system: System, office: Actor, at: datetime) -> None:
    other = SystemFactory()
    actions.install_component(system_id=other.pk, part_kind="pit", on=date(2020, 5, 14), by=office, at=at)
    assert system.components.count() == 0
    assert AuditEntry.objects.filter(stream=f"property:{system.property_id}").count() == 0
