"""Reads a contractor's old register, a spreadsheet saved as text, row by row and without guessing.

Row numbers are those that a spreadsheet program shows; a line break inside a cell does not count.
"""

import csv
import io
import re
from collections.abc import Sequence
from datetime import date
from typing import Final

from contractor.office.errors import (
    QuoteNeverClosed,
    RegisterEmpty,
    RegisterLacksColumns,
    RegisterNotReadable,
    RegisterWithoutHeader,
    RegisterWithoutRows,
)
from contractor.office.register_columns import Columns, columns_of
from contractor.office.register_dates import DateOrder, order_of_dates
from contractor.office.register_houses import Comparison
from contractor.office.register_line import read_row, skipped
from contractor.office.register_rows import (
    Doubt,
    KnownModel,
    RegisterReading,
    RegisterRow,
    RowProblem,
    SkippedRow,
    SourceRow,
    caution,
    listed,
)
from contractor.office.register_taking import RowTaking

DELIMITERS: Final = {",": "comma", ";": "semicolon", "\t": "tab"}
DATE_FIELDS: Final = ("installed_on", "battery_date", "last_service_on")
HEADER_WITHIN: Final = 20
LEAST_KNOWN_COLUMNS: Final = 3
# A cell with more lines than this is one whose quotation mark was never closed.
MOST_LINES_IN_A_ROW: Final = 40
# What a file begins with when it is something else.
SIGNATURES: Final = {
    b"PK\x03\x04": "is a spreadsheet workbook (.xlsx or .ods), not a CSV file",
    b"\xd0\xcf\x11\xe0": "is an old spreadsheet workbook (.xls), not a CSV file",
    b"%PDF": "is a PDF, not a CSV file",
    b"{\\rtf": "is a text document, not a CSV file",
}


def read_register(data: bytes, *, known_models: Sequence[KnownModel], on: date, home_state: str) -> RegisterReading:
    """Reads the bytes of a register; ``on`` is the day of the import, ``home_state`` that of rows that name none.

    Raises a refusal of ``contractor.office.errors`` when nothing at all can be read; everything wrong with single
    rows comes back in the reading.
    """
    text, encoding, cautions = decoded(data)
    delimiter, header_line, table = _table(text)
    columns = columns_of(table[header_line - 1])
    if missing := columns.missing():
        raise RegisterLacksColumns(missing)
    sources = tuple(
        SourceRow(line_number=number, cells=tuple(_unguarded(cell) for cell in cells))
        for number, cells in enumerate(table[header_line:], start=header_line + 1)
    )
    unknown = tuple(columns.header[place].strip() for place in columns.unknown)
    if unknown:
        sentence = f"Not understood, and kept in the notes of each system: {listed(unknown, 'and')}."
        cautions = [*cautions, caution("unknown_columns", sentence)]
    order = order_of_dates(columns.cell(source.cells, field) for source in sources for field in DATE_FIELDS)
    if order.contradicting:
        cautions = [*cautions, _mixed_dates(order)]
    rows, problems, left_out = _read_rows(
        sources, columns, known_models=known_models, on=on, order=order, home_state=home_state
    )
    if len(left_out) == len(sources):
        raise RegisterWithoutRows
    compared = Comparison(columns, {source.line_number: source for source in sources}).compare(rows)
    return RegisterReading(
        encoding=encoding,
        delimiter=delimiter,
        header_line=header_line,
        header=columns.header,
        unknown_columns=unknown,
        sources=sources,
        rows=tuple(compared.rows),
        problems=tuple(sorted([*problems, *compared.problems], key=lambda problem: problem.line_number)),
        skipped=tuple(sorted([*left_out, *compared.skipped], key=lambda row: row.line_number)),
        cautions=tuple(cautions),
    )


def decoded(data: bytes) -> tuple[str, str, list[Doubt]]:
    """The text of a file, its encoding, and a caution where that had to be assumed. Raises when it is no text."""
    if not data.strip():
        raise RegisterEmpty
    for signature, what in SIGNATURES.items():
        if data.startswith(signature):
            raise RegisterNotReadable(what)
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        return _decoded_as(data, "utf-16"), "utf-16", []
    if b"\x00" in data:
        raise RegisterNotReadable("is not a text file")
    try:
        return data.decode("utf-8-sig"), "utf-8", []
    except UnicodeDecodeError:
        text = _decoded_as(data, "cp1252")
    sentence = (
        "The file is not in UTF-8; it was read as Windows-1252. Look at a few names with accents before importing."
    )
    return text, "cp1252", [caution("encoding_assumed", sentence)]


def _decoded_as(data: bytes, encoding: str) -> str:
    try:
        return data.decode(encoding)
    except UnicodeDecodeError:
        raise RegisterNotReadable("is not a text file, or in an alphabet that can't be told") from None


def _table(text: str) -> tuple[str, int, list[list[str]]]:
    """The separator, the number of the header's row, and all rows as cells.

    The separator and header are those under which most columns are understood.
    """
    if re.match(r"\s*<(?:!doctype|html|\?xml)", text, re.IGNORECASE):
        raise RegisterNotReadable("is a web page, not a CSV file")
    best = (0, ",", 0)
    for delimiter in DELIMITERS:
        for number, cells in enumerate(_rows(text, delimiter, most=HEADER_WITHIN), start=1):
            known = len(columns_of(cells).by_field)
            if known > best[0]:
                best = (known, delimiter, number)
    known, delimiter, header_line = best
    if known < LEAST_KNOWN_COLUMNS:
        raise RegisterWithoutHeader
    return delimiter, header_line, _rows(text, delimiter)


def _rows(text: str, delimiter: str, most: int | None = None) -> list[list[str]]:
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    rows: list[list[str]] = []
    lines_before = 0
    try:
        for cells in reader:
            if reader.line_num - lines_before > MOST_LINES_IN_A_ROW:
                raise QuoteNeverClosed(len(rows) + 1)
            lines_before = reader.line_num
            rows.append(cells)
            if len(rows) == most:
                break
    except csv.Error:
        raise QuoteNeverClosed(len(rows) + 1) from None
    return rows


def _unguarded(cell: str) -> str:
    """A cell without the apostrophe that keeps a spreadsheet program from computing it."""
    return cell[1:] if re.match(r"'[=+\-@\t\r]", cell) else cell


def _mixed_dates(order: DateOrder) -> Doubt:
    """What the office must know about a file that writes dates both ways."""
    if order.day_first is None:
        sentence = (
            "Half of the dates are written month first, half day first. Write those that can be read both ways anew."
        )
    else:
        usual, other = ("day", "month") if order.day_first else ("month", "day")
        sentence = (
            f"Dates are written {usual} first, but {order.contradicting} {other} first. Those that can be read both "
            f"ways were read {usual} first: look at the rows around the exceptions."
        )
    return caution("dates_mixed", sentence)


def _read_rows(
    sources: Sequence[SourceRow],
    columns: Columns,
    *,
    known_models: Sequence[KnownModel],
    on: date,
    order: DateOrder,
    home_state: str,
) -> tuple[list[RegisterRow], list[RowProblem], list[SkippedRow]]:
    """Each row by itself: those without an error, everything found, and those that hold nothing."""
    rows: list[RegisterRow] = []
    problems: list[RowProblem] = []
    left_out: list[SkippedRow] = []
    for source in sources:
        empty = skipped(source, columns)
        if empty is not None:
            left_out.append(empty)
            continue
        taking = RowTaking(source, columns, on=on, order=order)
        row = read_row(taking, known_models=known_models, home_state=home_state)
        problems.extend(taking.problems)
        if row is not None:
            rows.append(row)
    return rows, problems, left_out
