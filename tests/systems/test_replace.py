"""A replacement keeps the chain: what replaced what, when, why, by whom."""

from datetime import date, datetime

import pytest
from django.db import transaction
from django.db.utils import IntegrityError

from contractor.accounts.models import User
from contractor.core.audit import Actor
from contractor.core.models import AuditEntry
from contractor.systems import actions
from contractor.systems.errors import AlreadyOut, OutBeforeIn, SerialNumberTaken, WrongModel
from contractor.systems.models import CatalogueModel, Component, System
from contractor.systems.queries import chain_of, parts_in_place
from tests.factories import CatalogueModelFactory, ComponentFactory

SWAPPED = date(2025, 3, 9)


@pytest.fixture
def old(system: System) -> Component:
    model = CatalogueModelFactory(part_kind="battery", name="Flood Cell 75")
    return ComponentFactory(
        system=system, part_kind="battery", model=model, serial_number="TH-1", place="Shelf left of the pit"
    )


@pytest.fixture
def newer(db: None) -> CatalogueModel:
    return CatalogueModelFactory(part_kind="battery", name="Stillmat 75")


def replace(component: Component, office: Actor, at: datetime, on: date = SWAPPED, **more: object) -> Component:
    words = {"because": "Held 9.1 V under load", "failed": False, **more}
    return actions.replace_component(component_id=component.pk, on=on, by=office, at=at, **words)  # type: ignore[arg-type]


def test_the_old_part_goes_out_with_its_reason_and_the_new_one_names_it(
    old: Component, newer: CatalogueModel, theo: User, office: Actor, at: datetime
) -> None:
    new = replace(old, office, at, model=newer, serial_number="MW-7", swapped_by=theo, failed=True)
    old.refresh_from_db()
    assert (old.out_on, old.out_because, old.failed, old.out_by) == (SWAPPED, "Held 9.1 V under load", True, theo)
    assert (new.replaces, new.in_on, new.in_by, new.out_on) == (old, SWAPPED, theo, None)
    assert (new.model, new.serial_number, new.part_kind) == (newer, "MW-7", "battery")
    assert old.replaced_by == new


def test_the_new_part_takes_the_old_place_unless_told_otherwise(old: Component, office: Actor, at: datetime) -> None:
    same = replace(old, office, at)
    assert same.place == "Shelf left of the pit"
    moved = replace(same, office, at, on=date(2026, 1, 5), place="Wall bracket")
    assert moved.place == "Wall bracket"


def test_the_day_of_the_swap_belongs_to_the_new_part_and_no_day_has_two(
    old: Component, office: Actor, at: datetime
) -> None:
    new = replace(old, office, at)
    in_place = {day: list(Component.objects.in_place(day)) for day in (date(2025, 3, 8), SWAPPED, date(2026, 1, 1))}
    assert in_place == {date(2025, 3, 8): [old], SWAPPED: [new], date(2026, 1, 1): [new]}


def test_the_chain_of_three_is_the_same_from_each_of_them(old: Component, office: Actor, at: datetime) -> None:
    second = replace(old, office, at)
    third = replace(second, office, at, on=date(2026, 4, 1))
    other = ComponentFactory(system=old.system, part_kind="battery", place="Second pit")
    for part in (old, second, third):
        assert chain_of(part) == [old, second, third]
    assert chain_of(other) == [other]
    assert parts_in_place(system=old.system, on=date(2026, 5, 4)) == [other, third]


def test_both_halves_stand_in_the_trail(old: Component, office: Actor, at: datetime) -> None:
    new = replace(old, office, at)
    out, into = AuditEntry.objects.filter(stream=f"property:{old.system.property_id}").order_by("number")
    assert (out.verb, out.subject) == ("battery taken out", f"component:{old.pk}")
    assert out.body["after"]["out_on"] == "2025-03-09"
    assert (into.verb, into.body["after"]["replaces_id"]) == ("battery put in its place", old.pk)
    assert into.subject == f"component:{new.pk}"


def test_a_part_that_is_out_cannot_be_replaced_again(old: Component, office: Actor, at: datetime) -> None:
    replace(old, office, at)
    with pytest.raises(AlreadyOut) as refused:
        replace(old, office, at, on=date(2026, 1, 1))
    assert "March 9, 2025" in refused.value.sentence
    assert Component.objects.count() == 2


def test_a_part_cannot_come_out_before_it_went_in(old: Component, office: Actor, at: datetime) -> None:
    with pytest.raises(OutBeforeIn) as refused:
        replace(old, office, at, on=date(2020, 5, 13))
    assert refused.value.field == "on"
    assert replace(old, office, at, on=date(2020, 5, 14)).in_on == date(2020, 5, 14)


@pytest.mark.parametrize("refusal", [WrongModel, SerialNumberTaken])
def test_a_refused_successor_leaves_the_old_part_in_place(
    old: Component, newer: CatalogueModel, office: Actor, at: datetime, refusal: type[Exception]
) -> None:
    ComponentFactory(part_kind="battery", model=newer, serial_number="MW-7")
    wrong = CatalogueModelFactory(part_kind="charger") if refusal is WrongModel else newer
    with pytest.raises(refusal):
        replace(old, office, at, model=wrong, serial_number="MW-7")
    old.refresh_from_db()
    assert (old.out_on, old.out_because) == (None, "")
    assert AuditEntry.objects.filter(stream=f"property:{old.system.property_id}").count() == 0


def test_the_table_itself_refuses_two_successors_of_one_part(old: Component, office: Actor, at: datetime) -> None:
    replace(old, office, at)
    with pytest.raises(IntegrityError), transaction.atomic():
        ComponentFactory(system=old.system, part_kind="battery", replaces=old)
