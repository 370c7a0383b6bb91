"""Parts taken out for good, and slips of the pen put right."""

from datetime import date, datetime

import pytest

from contractor.accounts.models import User
from contractor.core.audit import Actor
from contractor.core.models import AuditEntry
from contractor.systems import actions
from contractor.systems.errors import AlreadyOut, OutBeforeIn, SerialNumberTaken, WrongModel
from contractor.systems.models import Component, System
from tests.factories import CatalogueModelFactory, ComponentFactory


@pytest.fixture
def ring(system: System) -> Component:
    return ComponentFactory(system=system, part_kind="containment_ring", place="Round the water heater")


def test_a_part_is_taken_out_without_a_successor(ring: Component, theo: User, office: Actor, at: datetime) -> None:
    actions.retire_component(
        component_id=ring.pk,
        on=date(2024, 2, 1),
        because=" Heater moved upstairs ",
        failed=False,
        out_by=theo,
        by=office,
        at=at,
    )
    ring.refresh_from_db()
    assert (ring.out_on, ring.out_because, ring.failed, ring.out_by) == (
        date(2024, 2, 1),
        "Heater moved upstairs",
        False,
        theo,
    )
    assert not Component.objects.in_place(date(2024, 2, 1)).exists()
    assert AuditEntry.objects.get().verb == "containment ring taken out"


@pytest.mark.parametrize(("day", "refusal"), [(date(2020, 5, 13), OutBeforeIn), (date(2024, 2, 1), AlreadyOut)])
def test_a_part_goes_out_once_and_not_before_it_went_in(
    ring: Component, office: Actor, at: datetime, day: date, refusal: type[Exception]
) -> None:
    words = {"component_id": ring.pk, "because": "x", "failed": False, "by": office, "at": at}
    if refusal is AlreadyOut:
        actions.retire_component(**words, on=day)
    with pytest.raises(refusal):
        actions.retire_component(**words, on=day)


def test_a_correction_changes_what_was_written_and_nothing_else(ring: Component, office: Actor, at: datetime) -> None:
    model = CatalogueModelFactory(part_kind="containment_ring")
    actions.correct_component(
        component_id=ring.pk, model=model, serial_number=" R-9 ", place=" Boiler room ", by=office, at=at
    )
    ring.refresh_from_db()
    assert (ring.model, ring.serial_number, ring.place) == (model, "R-9", "Boiler room")
    assert (ring.in_on, ring.out_on) == (date(2020, 5, 14), None)
    assert AuditEntry.objects.get().body == {
        "before": {"model_id": None, "place": "Round the water heater", "serial_number": ""},
        "after": {"model_id": model.pk, "place": "Boiler room", "serial_number": "R-9"},
    }


def test_a_part_keeps_its_own_serial_number_when_only_its_place_is_corrected(
    system: System, office: Actor, at: datetime
) -> None:
    model = CatalogueModelFactory(part_kind="primary_pump")
    pump = ComponentFactory(system=system, model=model, serial_number="NF-1")
    actions.correct_component(component_id=pump.pk, model=model, serial_number="NF-1", place="Pit 2", by=office, at=at)
    pump.refresh_from_db()
    assert pump.place == "Pit 2"


def test_a_correction_can_take_neither_anothers_number_nor_another_kinds_model(
    system: System, office: Actor, at: datetime
) -> None:
    model = CatalogueModelFactory(part_kind="primary_pump")
    ComponentFactory(model=model, serial_number="NF-1")
    pump = ComponentFactory(system=system, model=model, serial_number="NF-2")
    with pytest.raises(SerialNumberTaken):
        actions.correct_component(component_id=pump.pk, model=model, serial_number="NF-1", place="", by=office, at=at)
    with pytest.raises(WrongModel):
        actions.correct_component(
            component_id=pump.pk,
            model=CatalogueModelFactory(part_kind="battery"),
            serial_number="NF-2",
            place="",
            by=office,
            at=at,
        )
    pump.refresh_from_db()
    assert (pump.model, pump.serial_number) == (model, "NF-2")
