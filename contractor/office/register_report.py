"""What the office gets back from an import: a line for every finding, and the bad rows to mend and feed again."""

import csv
import io
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from contractor.office.register_columns import LINE_COLUMN, MEND_COLUMN, plain
from contractor.office.register_rows import Outcome, RegisterReading, RowProblem

REPORT_COLUMNS: Final = ("row", "outcome", "column", "value", "reason")
# Spreadsheet programs compute a cell that begins with one of these (OWASP ASVS 5.0, 1.2.10).
COMPUTED: Final = ("=", "+", "-", "@", "\t", "\r")


@dataclass(frozen=True, slots=True, kw_only=True)
class ReportLine:
    """One finding, or one row without any: the row, what became of it, the cell concerned and the reason."""

    line_number: int
    outcome: Outcome
    column: str = ""
    value: str = ""
    code: str = ""
    reason: str = ""


def report_rows(reading: RegisterReading) -> tuple[ReportLine, ...]:
    """Every row of the file in order, once per finding; rows without any finding once."""
    found: defaultdict[int, list[RowProblem]] = defaultdict(list)
    for problem in reading.problems:
        found[problem.line_number].append(problem)
    skipped = {row.line_number: row for row in reading.skipped}
    lines: list[ReportLine] = []
    for number, outcome in reading.outcomes().items():
        lines += [
            ReportLine(
                line_number=number,
                outcome=outcome,
                column=problem.column,
                value=problem.value,
                code=problem.code,
                reason=problem.sentence,
            )
            for problem in found[number]
        ]
        if number in skipped:
            row = skipped[number]
            lines.append(ReportLine(line_number=number, outcome=outcome, code=row.code, reason=row.sentence))
        elif not found[number]:
            lines.append(ReportLine(line_number=number, outcome=outcome))
    return tuple(lines)


def report_csv(reading: RegisterReading) -> str:
    """The report as a table to open in a spreadsheet program."""
    return _csv(
        [
            REPORT_COLUMNS,
            *(
                (str(line.line_number), line.outcome, line.column, _guarded(line.value), line.reason)
                for line in report_rows(reading)
            ),
        ],
        ",",
    )


def bad_rows_csv(reading: RegisterReading) -> str:
    """The bad rows in their own columns, with their row number and what to mend behind them.

    The same reader ignores the two added columns, so the mended file can be imported as it is. Cells that a
    spreadsheet program would compute get an apostrophe in front, which the reader takes off.
    """
    reasons: defaultdict[int, list[str]] = defaultdict(list)
    for problem in reading.problems:
        if problem.severity == "error":
            reasons[problem.line_number].append(f"{problem.column}: {problem.sentence}")
    ours = [place for place, name in enumerate(reading.header) if plain(name) in {LINE_COLUMN, MEND_COLUMN}]
    drops = set(ours) if any(plain(reading.header[place]) == MEND_COLUMN for place in ours) else set()
    width = len(reading.header)
    rows = [[*_kept(reading.header, width, drops), LINE_COLUMN, MEND_COLUMN]]
    for source in reading.sources:
        if source.line_number in reasons:
            cells = [_guarded(cell) for cell in _kept(source.cells, width, drops)]
            rows.append([*cells, str(source.line_number), " ".join(reasons[source.line_number])])
    return _csv(rows, reading.delimiter)


def _kept(cells: tuple[str, ...], width: int, drops: set[int]) -> list[str]:
    """The cells under the header's columns, without those that an earlier import added."""
    padded = [*cells[:width], *[""] * (width - len(cells))]
    return [cell for place, cell in enumerate(padded) if place not in drops]


def _guarded(cell: str) -> str:
    return f"'{cell}" if cell.startswith(COMPUTED) else cell


def _csv(rows: Iterable[Sequence[str]], delimiter: str) -> str:
    out = io.StringIO(newline="")
    csv.writer(out, delimiter=delimiter, lineterminator="\r\n").writerows(rows)
    return out.getvalue()
