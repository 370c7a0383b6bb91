"""One row of an old register while it is being read: its cells by field, and the doubts found so far."""

from datetime import date
from typing import TypeVar

from contractor.office.register_cells import given
from contractor.office.register_columns import Columns
from contractor.office.register_dates import DateOrder, read_date
from contractor.office.register_rows import Doubt, Read, RowProblem, SourceRow, error

T = TypeVar("T")


class RowTaking:
    """Takes values out of a row's cells and notes every doubt beside the cell that it concerns."""

    def __init__(self, source: SourceRow, columns: Columns, *, on: date, order: DateOrder) -> None:
        self.source = source
        self.columns = columns
        self.problems: list[RowProblem] = []
        self.asides: list[str] = []
        self._on = on
        self._order = order

    def cell(self, field: str) -> str:
        """A field's cell as it stands in the file."""
        return self.columns.cell(self.source.cells, field)

    def has(self, field: str) -> bool:
        """Whether the file has a column for this field."""
        return field in self.columns.by_field

    def unit(self, field: str) -> str:
        """The unit that the column's header names, or nothing."""
        column = self.columns.by_field.get(field)
        return column.unit if column else ""

    def date(self, field: str) -> Read[date]:
        """A field's cell as a day."""
        return read_date(self.cell(field), on=self._on, order=self._order)

    def take(self, field: str, read: Read[T]) -> T | None:
        """A value, after its doubts were noted and what found no place was put aside."""
        for doubt in read.doubts:
            self.doubt(field, doubt)
        if read.aside:
            self.asides.append(read.aside)
        return read.value

    def required(self, field: str, code: str, sentence: str) -> str:
        """A text that no row may lack, on one line."""
        text = given(self.cell(field))
        if not text:
            self.doubt(field, error(code, sentence))
        return text

    def limit(self, field: str, text: str, most: int) -> None:
        """Notes an error where a text is longer than the house file can keep."""
        if len(text) > most:
            sentence = f"This is longer than {most} characters. Shorten it and put the rest in the notes."
            self.doubt(field, error("too_long", sentence))

    def doubt(self, field: str, doubt: Doubt) -> None:
        """Notes a doubt about a field's cell."""
        self.problems.append(
            RowProblem(
                line_number=self.source.line_number,
                column=self.columns.header_of(field),
                value=self.cell(field).strip(),
                severity=doubt.severity,
                code=doubt.code,
                sentence=doubt.sentence,
            )
        )

    def has_error(self, field: str | None = None) -> bool:
        """Whether an error was noted, for one field or at all."""
        column = self.columns.header_of(field) if field else None
        return any(p.severity == "error" and column in {None, p.column} for p in self.problems)
