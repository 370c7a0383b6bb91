"""What the desk does to many houses at once: taking over an old register."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Final, Literal
from uuid import uuid4

from django.db import transaction

from contractor.accounts.models import Company, User
from contractor.accounts.queries import the_company
from contractor.checkups.actions.records import decide_outside_record, send_outside_record
from contractor.core import renewal
from contractor.core.errors import Refusal
from contractor.office import register_uploads
from contractor.office.register_review import in_register, is_there
from contractor.office.register_rows import RegisterPart, RegisterRow
from contractor.office.register_uploads import KeptRegister
from contractor.properties.actions import begin_ownership, register_person, register_property
from contractor.properties.models import Property
from contractor.systems.actions import install_component, install_system, measure_as_built, treat_wall
from contractor.systems.models import CatalogueModel, System

# Rows per step of an upload's taking over: about a second's work, so that nobody else waits for long.
ROWS_AT_A_TIME: Final = 25
# What the size of a part in the old register tells of a system as built.
SIZES: Final = {"pit": "pit_diameter_m", "discharge_line": "bore_m"}


@dataclass(frozen=True, slots=True, kw_only=True)
class TakenRow:
    """What became of one row: taken over, there already, or refused with the sentence that says why."""

    line_number: int
    outcome: Literal["taken over", "already there", "refused"]
    sentence: str = ""


def take_over_register(*, rows: tuple[RegisterRow, ...], by_user: User, at: datetime) -> list[TakenRow]:
    """Takes over every row that reads well, each whole or not at all; the same row twice changes nothing."""
    with renewal.once_at_the_end():
        return [_take_over(row, by_user=by_user, at=at) for row in rows]


def keep_register(*, data: bytes, name: str, by_user: User, at: datetime) -> KeptRegister:
    """Keeps an uploaded register for this person, in place of an earlier one; everybody's expired ones go."""
    register_uploads.remove_expired_registers(at)
    register_uploads.remove_registers_of(by_user.pk)
    kept = KeptRegister(upload_id=uuid4(), user_id=by_user.pk, name=name, sent_at=at, data=data)
    register_uploads.write_register(kept)
    return kept


def forget_register(*, by_user: User) -> None:
    """Removes what this person has uploaded; the houses that were taken over stay."""
    register_uploads.remove_registers_of(by_user.pk)


def forget_expired_registers(*, at: datetime) -> None:
    """Removes uploads that nobody came back for."""
    register_uploads.remove_expired_registers(at)


def take_over_next(*, kept: KeptRegister, rows: Sequence[RegisterRow], by_user: User, at: datetime) -> KeptRegister:
    """Takes over the next few rows of an upload and says how far it has come; ``rows`` are its good ones, in order.

    One step is one transaction. A step that is begun twice, or broken off, is simply done again: rows that are there
    change nothing.
    """
    with transaction.atomic():
        # One import at a time: two that register the same house at the same moment would break one of them.
        Company.objects.select_for_update(no_key=True).order_by("pk").first()
        if kept.present_before is None:
            there = in_register(rows)
            kept = replace(kept, present_before=sum(is_there(row, there) for row in rows))
        step = tuple(row for row in rows if row.line_number > kept.done_to_line)[:ROWS_AT_A_TIME]
        taken = take_over_register(rows=step, by_user=by_user, at=at)
    refused = {row.line_number: row.sentence for row in taken if row.outcome == "refused"}
    done_to_line = step[-1].line_number if step else kept.done_to_line
    kept = replace(kept, done_to_line=done_to_line, refused={**kept.refused, **refused})
    register_uploads.write_progress(kept)
    return kept


def _take_over(row: RegisterRow, *, by_user: User, at: datetime) -> TakenRow:
    try:
        with transaction.atomic():
            house = Property.objects.with_address(row.address_key).first()
            if house is not None and house.systems.filter(name=row.system_name).exists():
                return TakenRow(line_number=row.line_number, outcome="already there")
            if house is None:
                house = _register_house(row, by_user=by_user, at=at)
            _install(row, house, by_user=by_user, at=at)
    except Refusal as refusal:
        return TakenRow(line_number=row.line_number, outcome="refused", sentence=refusal.sentence)
    return TakenRow(line_number=row.line_number, outcome="taken over")


def _register_house(row: RegisterRow, *, by_user: User, at: datetime) -> Property:
    house = register_property(
        street=row.street,
        unit=row.unit,
        city=row.town,
        state=row.state,
        postcode=row.postcode,
        latitude=row.position[0] if row.position else None,
        longitude=row.position[1] if row.position else None,
        position_source=Property.PositionSource.IMPORTED if row.position else "",
        by=by_user.actor,
        at=at,
    )
    owner = register_person(
        name=row.owner, email=row.email, phone=row.phone, property_id=house.pk, by=by_user.actor, at=at
    )
    # When they bought the house is not in the register; on the day of the installation they owned it.
    begin_ownership(property_id=house.pk, person_id=owner.pk, on=row.installed_on, by=by_user.actor, at=at)
    return house


def _install(row: RegisterRow, house: Property, *, by_user: User, at: datetime) -> None:
    system = install_system(
        property_id=house.pk,
        name=row.system_name,
        installed_on=row.installed_on,
        notes=_notes(row),
        by=by_user.actor,
        at=at,
    )
    for part in row.parts:
        _put_in(part, system, by_user=by_user, at=at)
    _keep_sizes(row, system, by_user=by_user, at=at)
    measured = [wall for wall in row.walls if wall.length_m]
    for letter, wall in zip("ABCDEFGHIJKLMNOPQRSTUVWXYZ", measured, strict=False):
        treat_wall(
            system_id=system.pk,
            letter=letter,
            name=wall.name,
            length_m=wall.length_m or 0.0,
            has_liner=any(part.part_kind == "liner" for part in row.parts),
            by=by_user.actor,
            at=at,
        )
    if row.last_service_on is not None:
        _keep_last_service(row, system, by_user=by_user, at=at)


def _put_in(part: RegisterPart, system: System, *, by_user: User, at: datetime) -> None:
    model = None
    if part.model is not None:
        model = CatalogueModel.objects.filter(pk=part.model.key).first()
    install_component(
        system_id=system.pk,
        part_kind=part.part_kind,
        on=max(part.in_on, system.installed_on),
        model=model,
        serial_number=part.serial,
        by=by_user.actor,
        at=at,
    )


def _keep_sizes(row: RegisterRow, system: System, *, by_user: User, at: datetime) -> None:
    """The pit's diameter and the pipe's bore: they stand in where the part's model is not known."""
    sizes = {SIZES[part.part_kind]: part.size_m for part in row.parts if part.part_kind in SIZES and part.size_m}
    if sizes:
        measure_as_built(system_id=system.pk, values=sizes, on=system.installed_on, by=by_user.actor, at=at)


def _keep_last_service(row: RegisterRow, system: System, *, by_user: User, at: datetime) -> None:
    if row.last_service_on is None:
        return
    record = send_outside_record(
        system_id=system.pk,
        provider=the_company().name,
        done_on=row.last_service_on,
        what="Last service as noted in the old register.",
        sent_by=by_user.actor,
        at=at,
        by_us=True,
    )
    decide_outside_record(
        record_id=record.pk,
        accepted=True,
        because=f"Taken over from line {row.line_number} of the old register.",
        by_user=by_user,
        at=at,
    )


def _notes(row: RegisterRow) -> str:
    """The row's own notes, and everything of it that has no place of its own in a house file."""
    lines = [row.notes] if row.notes else []
    if row.warranty_number:
        lines.append(f"Warranty number in the old register: {row.warranty_number}.")
    lines += [f"Wall: {wall.name}, length not given." for wall in row.walls if not wall.length_m]
    lines += [
        f"Battery in the old register: {part.written}."
        for part in row.parts
        if part.capacity_ah and part.model is None and part.written
    ]
    lines += [f"{column}: {value}" for column, value in row.other_columns if value]
    return "\n".join(lines)
