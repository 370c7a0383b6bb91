"""Reads one row of an old register."""

import re
from collections.abc import Sequence
from datetime import date
from typing import Final

from contractor.office import register_cells as cells_of
from contractor.office.register_columns import Columns, plain
from contractor.office.register_parts import read_parts
from contractor.office.register_rows import KnownModel, RegisterRow, SkippedRow, SourceRow, caution, error, in_words
from contractor.office.register_taking import RowTaking
from contractor.properties.addresses import split_unit

# What the tables can keep.
MOST_CHARACTERS: Final = {"owner": 160, "street": 120, "town": 80, "system": 80}
DEFAULT_SYSTEM: Final = "Basement"
_TOTAL: Final = re.compile(r"(?:grand |sub)?totals?\b[\s:=\d,.]*|(?:sum|count)\b[\s:=\d,.]*", re.IGNORECASE)
_PO_BOX: Final = re.compile(r"(?:p\.? ?o\.? ?|post office )box\b", re.IGNORECASE)


def skipped(source: SourceRow, columns: Columns) -> SkippedRow | None:
    """The row as one that holds nothing to import: blank, the header again, or a total; None for any other."""
    cells = [cell.strip() for cell in source.cells]
    filled = [cell for cell in cells if cell]
    if not filled:
        return SkippedRow(line_number=source.line_number, code="blank_row", sentence="The row is empty.")
    same = sum(plain(cell) == plain(name) for cell, name in zip(cells, columns.header, strict=False) if cell)
    if same >= 3 and same * 2 >= len(filled):
        sentence = "The column names stand here again."
        return SkippedRow(line_number=source.line_number, code="repeated_header", sentence=sentence)
    if _TOTAL.fullmatch(filled[0]) and not columns.cell(cells, "street") and not columns.cell(cells, "postcode"):
        sentence = "This is a row of totals, not a house."
        return SkippedRow(line_number=source.line_number, code="total_row", sentence=sentence)
    return None


def read_row(row: RowTaking, *, known_models: Sequence[KnownModel], home_state: str) -> RegisterRow | None:
    """The row as one system of one house; None when an error was noted in ``row``."""
    _check_cell_count(row)
    owner = _owner(row)
    phone = row.take("phone", cells_of.read_phone(row.cell("phone")))
    email = row.take("email", cells_of.read_email(row.cell("email")))
    street, unit = _street(row)
    town = row.required("town", "town_missing", "The town is missing. Add it.")
    state = row.take("state", cells_of.read_state(row.cell("state"), home_state=home_state))
    postcode = row.take("postcode", cells_of.read_postcode(row.cell("postcode"), state=state or home_state))
    installed_on = row.take("installed_on", row.date("installed_on"))
    if installed_on is None and not row.has_error("installed_on"):
        sentence = "The day of installation is missing; the warranty starts with it. Add it, or the month at least."
        row.doubt("installed_on", error("installed_missing", sentence))
    parts = read_parts(row, known_models=known_models, installed_on=installed_on)
    walls = row.take("walls", cells_of.read_walls(row.cell("walls"))) if row.has("walls") else None
    last_service_on = _last_service(row, installed_on)
    system_name = cells_of.given(row.cell("system")) or DEFAULT_SYSTEM
    for field, text in (("owner", owner), ("street", street), ("town", town), ("system", system_name)):
        row.limit(field, text, MOST_CHARACTERS[field])
    if row.has_error() or installed_on is None or postcode is None or state is None:
        return None
    return RegisterRow(
        line_number=row.source.line_number,
        owner=owner,
        phone=phone or "",
        email=email or "",
        street=street,
        unit=unit,
        town=town,
        state=state,
        postcode=postcode,
        installed_on=installed_on,
        system_name=system_name,
        parts=tuple(parts),
        walls=walls or (),
        warranty_number=cells_of.given(row.cell("warranty")),
        last_service_on=last_service_on,
        notes=_notes(row),
        other_columns=_other_columns(row),
        position=_position(row),
    )


def _check_cell_count(row: RowTaking) -> None:
    header, cells = row.columns.header, row.source.cells
    if any(cell.strip() for cell in cells[len(header) :]):
        sentence = (
            f"The row has {len(cells)} cells under {len(header)} columns, so its cells may stand in the wrong ones. "
            "Look for a separator inside a cell and put that cell in quotation marks."
        )
        row.doubt("owner", error("too_many_cells", sentence))


def _owner(row: RowTaking) -> str:
    if row.has("owner"):
        return row.required("owner", "owner_missing", "The owner's name is missing. Add it.")
    last = row.required("owner_last", "owner_missing", "The owner's last name is missing. Add it.")
    return f"{cells_of.given(row.cell('owner_first'))} {last}".strip()


def _street(row: RowTaking) -> tuple[str, str]:
    line = row.required("street", "street_missing", "The street and number are missing. Add them.")
    if _PO_BOX.search(line):
        sentence = "A PO box is no house. Write the street and number where the system is; put the box in the notes."
        row.doubt("street", error("street_po_box", sentence))
    elif line and not re.search(r"\d", line):
        sentence = f"“{line}” has no house number. Add it, so that the technician finds the house."
        row.doubt("street", caution("street_without_number", sentence))
    street, unit = split_unit(line)
    own_unit = cells_of.given(row.cell("unit"))
    row.limit("unit" if own_unit else "street", own_unit or unit, 40)
    return (line, own_unit) if own_unit else (street, unit)


def _position(row: RowTaking) -> tuple[float, float] | None:
    latitude = row.take("latitude", cells_of.read_degrees(row.cell("latitude"), most=90))
    longitude = row.take("longitude", cells_of.read_degrees(row.cell("longitude"), most=180))
    if latitude is None and longitude is None:
        return None
    if latitude is None or longitude is None or (latitude, longitude) == (0, 0):
        sentence = "A position needs both degrees. The house is taken over without one."
        row.doubt("longitude" if longitude is None else "latitude", caution("position_half", sentence))
        return None
    return latitude, longitude


def _last_service(row: RowTaking, installed_on: date | None) -> date | None:
    served_on = row.take("last_service_on", row.date("last_service_on"))
    if served_on and installed_on and served_on < installed_on:
        sentence = f"This service is older than the system of {in_words(installed_on)}. Correct one of the two dates."
        row.doubt("last_service_on", error("service_before_install", sentence))
    return served_on


def _notes(row: RowTaking) -> str:
    lines = [line.strip() for line in row.cell("notes").strip().splitlines()]
    return "\n".join([*lines, *row.asides]).strip()


def _other_columns(row: RowTaking) -> tuple[tuple[str, str], ...]:
    cells = row.source.cells
    return tuple(
        (row.columns.header[place].strip(), cells[place].strip())
        for place in row.columns.unknown
        if place < len(cells) and cells[place].strip()
    )
