"""Reads the parts that a row of an old register names: pumps, battery, pit, discharge line and liner."""

import re
from collections.abc import Sequence
from datetime import date
from typing import Final

from contractor.office import register_cells as cells_of
from contractor.office.register_catalogue import read_model
from contractor.office.register_columns import MEASURED
from contractor.office.register_rows import KnownModel, Read, RegisterPart, caution, error, in_words
from contractor.office.register_taking import RowTaking
from contractor.systems.part_kinds import part_kind as kind_of

# A pit's two measures, "18 x 24 in": across first.
_ACROSS_AND_DEEP: Final = re.compile(
    r"(?P<across>\d[\d.]*)\s*(?P<unit>[a-z'\"]+?)?\.?\s*(?:x|by|×)\s*\d[\d.]*\s*(?P<last_unit>[a-z'\"]+)?\.?",
    re.IGNORECASE,
)
_RANGE: Final = ("-", "–", "/", *"0123456789")  # what is no word behind a measure
NONE: Final = frozenset(["no", "n", "0", "none", "no backup", "without"])
YES: Final = frozenset(["yes", "y", "x", "1", "true", "ok", "have"])
# Pits of dwellings, discharge lines and liners are of these sizes (common practice, no source), in metres:
# 8 to 48 inches, ¾ to 6 inches, 2 to 2000 feet.
USUAL_M: Final = {"pit": (0.2032, 1.2192), "discharge": (0.01905, 0.1524), "liner": (0.6096, 609.6)}
KIND_OF: Final = {"pit": "pit", "discharge": "discharge_line", "liner": "liner"}


def read_parts(row: RowTaking, *, known_models: Sequence[KnownModel], installed_on: date | None) -> list[RegisterPart]:
    """The parts that a row names. Without a day of installation their days are unknown and none is returned."""
    day = installed_on or date.min
    battery_on = row.take("battery_date", row.date("battery_date"))
    if installed_on and battery_on and battery_on < installed_on:
        sentence = f"The battery went in before the system of {in_words(installed_on)}. Correct one of the two dates."
        row.doubt("battery_date", error("battery_before_system", sentence))
    found = [
        _machine(row, "primary_pump", "pump_model", "pump_serial", known_models, day),
        _machine(row, "standby_pump", "standby_model", "standby_serial", known_models, day),
        _battery(row, known_models, battery_on, day),
        *(_measured(row, field, day) for field in ("pit", "discharge", "liner")),
    ]
    return [part for part in found if part is not None] if installed_on else []


def _machine(
    row: RowTaking, kind: str, model_field: str, serial_field: str, known_models: Sequence[KnownModel], day: date
) -> RegisterPart | None:
    cell, serial = cells_of.given(row.cell(model_field)), cells_of.given(row.cell(serial_field))
    word = kind_of(kind).word
    if cell.casefold() in NONE or not (cell or serial):
        return None
    if not cell or cell.casefold() in YES:
        sentence = f"The {word} was taken without a model. Write the model if you know it."
        row.doubt(model_field, caution("model_not_given", sentence))
        model, written = None, ""
    else:
        model, written = row.take(model_field, read_model(cell, part_kind=kind, known_models=known_models)), cell
    if not serial and row.has(serial_field):
        sentence = f"The {word} has no serial number here. It can be read from the plate at the next check-up."
        row.doubt(serial_field, caution("serial_missing", sentence))
    row.limit(serial_field, serial, 60)
    return RegisterPart(part_kind=kind, in_on=day, model=model, written=written, serial=serial)


def _battery(
    row: RowTaking, known_models: Sequence[KnownModel], battery_on: date | None, day: date
) -> RegisterPart | None:
    cell, serial = cells_of.given(row.cell("battery_model")), cells_of.given(row.cell("battery_serial"))
    if cell.casefold() in NONE or not (cell or serial or battery_on):
        return None
    capacity = cells_of.read_capacity_ah(cell)
    model: KnownModel | None = None
    if not cell or cell.casefold() in YES or _is_capacity_only(cell):
        sentence = "The battery was taken without a model. Write the model if you know it."
        row.doubt("battery_model", caution("model_not_given", sentence))
    else:
        model = row.take("battery_model", read_model(cell, part_kind="battery", known_models=known_models))
    if battery_on is None and not row.has_error("battery_date"):
        sentence = (
            "The battery has no date; it was taken to be as old as the system. Write its date, for its age counts."
        )
        row.doubt("battery_date", caution("battery_date_missing", sentence))
    row.limit("battery_serial", serial, 60)
    return RegisterPart(
        part_kind="battery",
        in_on=battery_on or day,
        model=model,
        written="" if cell.casefold() in YES else cell,
        serial=serial,
        capacity_ah=capacity,
    )


def _is_capacity_only(cell: str) -> bool:
    return cells_of.read_capacity_ah(cell) is not None and not any(
        word.isalpha() and word.casefold() not in {"ah", "v", "volt"} for word in _words(cell)
    )


def _words(cell: str) -> list[str]:
    return "".join(character if character.isalpha() else " " for character in cell).split()


def _measured(row: RowTaking, field: str, day: date) -> RegisterPart | None:
    """A pit, line or liner: its size where the cell begins with one, and the cell as written."""
    cell = cells_of.given(row.cell(field))
    if cell.casefold() in NONE or not cell:
        return None
    length, rest = cells_of.leading_length(cell) if field != "liner" else (cell, "")
    is_run = field == "discharge" and length.casefold().rstrip(". ").endswith(("ft", "foot", "feet", "'", " m"))
    if cell.casefold() in YES or is_run or (field == "discharge" and not length):
        return RegisterPart(part_kind=KIND_OF[field], in_on=day, written="" if cell.casefold() in YES else cell)
    if match := _ACROSS_AND_DEEP.fullmatch(cell):
        length, rest = f"{match['across']} {match['unit'] or match['last_unit'] or ''}".strip(), ""
    unit = row.unit(field)
    read: Read[float] = cells_of.read_length(
        cell if not length or (field == "pit" and rest[:1] in _RANGE) else length,
        unit=unit or MEASURED[field],
        is_unit_given=bool(unit),
        least_m=USUAL_M[field][0],
        most_m=USUAL_M[field][1],
    )
    return RegisterPart(part_kind=KIND_OF[field], in_on=day, written=cell, size_m=row.take(field, read))
