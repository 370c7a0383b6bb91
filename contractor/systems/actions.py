"""Writes about the catalogue, systems, components and walls."""

from collections.abc import Mapping
from datetime import date, datetime
from typing import Any

from django.db import transaction

from contractor.accounts.models import User
from contractor.core import audit, clock, renewal
from contractor.core.audit import Actor
from contractor.properties.models import Property
from contractor.systems import rules
from contractor.systems.errors import (
    AlreadyOut,
    BeforeSystem,
    ModelKnown,
    NothingMeasured,
    OutBeforeIn,
    SerialNumberTaken,
    SystemNameTaken,
    WallLetterTaken,
    WrongModel,
)
from contractor.systems.models import AsBuilt, CatalogueModel, Component, System, TreatedWall
from contractor.systems.part_kinds import part_kind as kind_of


@transaction.atomic
def add_catalogue_model(
    *, part_kind: str, maker: str, name: str, data: Mapping[str, Any], by: Actor, at: datetime
) -> CatalogueModel:
    """Adds a model that can be installed. Raises ModelKnown."""
    kind_of(part_kind)
    if CatalogueModel.objects.filter(part_kind=part_kind, maker=maker.strip(), name=name.strip()).exists():
        raise ModelKnown
    model = CatalogueModel.objects.create(part_kind=part_kind, maker=maker.strip(), name=name.strip(), data=dict(data))
    audit.record(
        by=by, at=at, verb="catalogue model added", subject=model, property_id=None, after=audit.snapshot(model)
    )
    return model


@transaction.atomic
def install_system(
    *, property_id: int, installed_on: date, by: Actor, at: datetime, name: str = "Basement", notes: str = ""
) -> System:
    """Records a system at a house. Raises SystemNameTaken."""
    house = Property.objects.select_for_update().get(pk=property_id)
    if house.systems.filter(name=name.strip()).exists():
        raise SystemNameTaken(name.strip())
    system = System.objects.create(
        property=house, name=name.strip(), installed_on=installed_on, notes=notes.strip(), created_at=at
    )
    audit.record(
        by=by, at=at, verb="system installed", subject=system, property_id=house.pk, after=audit.snapshot(system)
    )
    renewal.facts_changed(property_id=house.pk)
    return system


@transaction.atomic
def install_component(
    *,
    system_id: int,
    part_kind: str,
    on: date,
    by: Actor,
    at: datetime,
    model: CatalogueModel | None = None,
    serial_number: str = "",
    place: str = "",
    in_by: User | None = None,
) -> Component:
    """Records a part that went in. Raises WrongModel, SerialNumberTaken or BeforeSystem."""
    system = System.objects.select_for_update().get(pk=system_id)
    component = _put_in(
        system=system, part_kind=part_kind, on=on, model=model, serial_number=serial_number, place=place, in_by=in_by
    )
    audit.record(
        by=by,
        at=at,
        verb=f"{component.kind.word} installed",
        subject=component,
        property_id=system.property_id,
        after=audit.snapshot(component),
    )
    renewal.facts_changed(property_id=system.property_id)
    return component


@transaction.atomic
def replace_component(
    *,
    component_id: int,
    on: date,
    because: str,
    failed: bool,
    by: Actor,
    at: datetime,
    model: CatalogueModel | None = None,
    serial_number: str = "",
    place: str = "",
    swapped_by: User | None = None,
) -> Component:
    """Takes a part out and puts its successor in its place; the chain keeps what replaced what, when, why, by whom.

    Raises AlreadyOut, OutBeforeIn, WrongModel or SerialNumberTaken.
    """
    old = Component.objects.select_for_update(of=("self",)).select_related("system", "model").get(pk=component_id)
    before = audit.snapshot(old)
    _take_out(old, on=on, because=because, failed=failed, out_by=swapped_by)
    new = _put_in(
        system=old.system,
        part_kind=old.part_kind,
        on=on,
        model=model,
        serial_number=serial_number,
        place=place or old.place,
        in_by=swapped_by,
        replaces=old,
    )
    house_id = old.system.property_id
    audit.record(
        by=by,
        at=at,
        verb=f"{old.kind.word} taken out",
        subject=old,
        property_id=house_id,
        before=before,
        after=audit.snapshot(old),
    )
    audit.record(
        by=by,
        at=at,
        verb=f"{new.kind.word} put in its place",
        subject=new,
        property_id=house_id,
        after=audit.snapshot(new),
    )
    renewal.facts_changed(property_id=house_id)
    return new


@transaction.atomic
def retire_component(
    *, component_id: int, on: date, because: str, failed: bool, by: Actor, at: datetime, out_by: User | None = None
) -> Component:
    """Takes a part out without a successor. Raises AlreadyOut or OutBeforeIn."""
    old = Component.objects.select_for_update(of=("self",)).select_related("system", "model").get(pk=component_id)
    before = audit.snapshot(old)
    _take_out(old, on=on, because=because, failed=failed, out_by=out_by)
    audit.record(
        by=by,
        at=at,
        verb=f"{old.kind.word} taken out",
        subject=old,
        property_id=old.system.property_id,
        before=before,
        after=audit.snapshot(old),
    )
    renewal.facts_changed(property_id=old.system.property_id)
    return old


@transaction.atomic
def correct_component(
    *,
    component_id: int,
    by: Actor,
    at: datetime,
    model: CatalogueModel | None,
    serial_number: str,
    place: str,
) -> Component:
    """Corrects what was written down of a part: model, serial number, place. Raises WrongModel or SerialNumberTaken."""
    component = Component.objects.select_for_update(of=("self",)).select_related("system", "model").get(pk=component_id)
    before = audit.snapshot(component)
    _check_model(model, component.part_kind)
    _check_serial(model, serial_number.strip(), own_id=component.pk)
    component.model, component.serial_number, component.place = model, serial_number.strip(), place.strip()
    component.save()
    audit.record(
        by=by,
        at=at,
        verb=f"{component.kind.word} corrected",
        subject=component,
        property_id=component.system.property_id,
        before=before,
        after=audit.snapshot(component),
    )
    renewal.facts_changed(property_id=component.system.property_id)
    return component


@transaction.atomic
def treat_wall(
    *,
    system_id: int,
    letter: str,
    name: str,
    length_m: float,
    by: Actor,
    at: datetime,
    has_channel: bool = True,
    has_liner: bool = True,
) -> TreatedWall:
    """Records a treated wall. Raises WallLetterTaken."""
    system = System.objects.select_for_update().get(pk=system_id)
    letter = letter.strip().upper()
    if system.walls.filter(letter=letter).exists():
        raise WallLetterTaken(letter)
    wall = TreatedWall.objects.create(
        system=system,
        letter=letter,
        name=name.strip(),
        length_m=length_m,
        has_channel=has_channel,
        has_liner=has_liner,
    )
    audit.record(
        by=by, at=at, verb="wall treated", subject=wall, property_id=system.property_id, after=audit.snapshot(wall)
    )
    return wall


@transaction.atomic
def measure_as_built(
    *,
    system_id: int,
    values: Mapping[str, float | int | bool | None],
    on: date,
    by: Actor,
    at: datetime,
    by_user: User | None = None,
) -> AsBuilt:
    """Records what was measured of the line and the pit on a day; what ``values`` leaves out was not measured.

    Lengths in metres, under the names of the table's columns. Measures that are the same as on record change
    nothing. Raises NothingMeasured, or what ``rules.check_as_built`` raises.
    """
    system = System.objects.select_for_update().get(pk=system_id)
    rules.check_as_built(values, on=on, today=clock.day_of(at), installed_on=system.installed_on)
    built = AsBuilt.objects.filter(system=system).first()
    before = audit.snapshot(built) if built else None
    if built is None:
        if all(value is None for value in values.values()):
            raise NothingMeasured
        built = AsBuilt(system=system)
    for name in rules.MEASURES:
        setattr(built, name, values.get(name))
    built.measured_on = on
    if before == audit.snapshot(built):
        return built
    built.measured_by = by_user
    built.save()
    audit.record(
        by=by,
        at=at,
        verb="line and pit measured",
        subject=built,
        property_id=system.property_id,
        before=before,
        after=audit.snapshot(built),
    )
    renewal.facts_changed(property_id=system.property_id)
    return built


def _put_in(
    *,
    system: System,
    part_kind: str,
    on: date,
    model: CatalogueModel | None,
    serial_number: str,
    place: str,
    in_by: User | None,
    replaces: Component | None = None,
) -> Component:
    kind = kind_of(part_kind)
    _check_model(model, part_kind)
    if on < system.installed_on:
        raise BeforeSystem(system.installed_on)
    serial_number = serial_number.strip()
    _check_serial(model, serial_number)
    return Component.objects.create(
        system=system,
        part_kind=part_kind,
        model=model,
        serial_number=serial_number,
        place=place.strip() or kind.place,
        in_on=on,
        in_by=in_by,
        replaces=replaces,
    )


def _take_out(component: Component, *, on: date, because: str, failed: bool, out_by: User | None) -> None:
    if component.out_on is not None:
        raise AlreadyOut(component.out_on)
    if on < component.in_on:
        raise OutBeforeIn(component.in_on)
    component.out_on, component.out_because, component.failed = on, because.strip(), failed
    component.out_by = out_by
    component.save()


def _check_model(model: CatalogueModel | None, part_kind: str) -> None:
    if model is not None and model.part_kind != part_kind:
        raise WrongModel(str(model), kind_of(part_kind).word)


def _check_serial(model: CatalogueModel | None, serial_number: str, own_id: int | None = None) -> None:
    if not serial_number or model is None:
        return
    bearers = Component.objects.filter(model=model, serial_number=serial_number)
    if own_id is not None:
        bearers = bearers.exclude(pk=own_id)
    twin = bearers.select_related("system__property").first()
    if twin is not None:
        raise SerialNumberTaken(serial_number, twin.system.property.address_line)
