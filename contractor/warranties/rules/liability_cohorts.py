"""The closing balance by cohort: the year in which a warranty was issued, and the kind of part."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from contractor.systems.part_kinds import PART_KINDS
from contractor.warranties.rules.liability import NOTHING
from contractor.warranties.rules.liability_reserve import ReserveRow


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """One cohort: its reserve, the parts covered and claims open, and how many failures are expected of them."""

    years: tuple[int, ...]
    amount: Decimal
    count: int
    failures: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class KindLine:
    """One part kind through the years, and all of them together."""

    part_kind: str
    word: str
    cells: tuple[Cell, ...]
    total: Cell


@dataclass(frozen=True, slots=True, kw_only=True)
class Cohorts:
    """The reserve by part kind (lines) and issue year (columns), with sums of both.

    Each column is a year, but the first may stand for several ("2009 to 2019").
    """

    columns: tuple[str, ...]
    lines: tuple[KindLine, ...]
    totals: tuple[Cell, ...]
    total: Cell


def cohorts(rows: Sequence[ReserveRow], *, most: int | None = None) -> Cohorts:
    """Sort the rows into cohorts, every sum exact; with ``most`` the early years share one column.

    Kinds without a row are left out; kinds come in the order in which one walks the basement.
    """
    columns = _columns(sorted({row.issue_year for row in rows}), most)
    place = {year: index for index, years in enumerate(columns) for year in years}
    sorted_rows: dict[tuple[str, int], list[ReserveRow]] = defaultdict(list)
    for row in rows:
        sorted_rows[row.part_kind, place[row.issue_year]].append(row)
    kinds = [kind for kind in PART_KINDS if any((kind.code, index) in sorted_rows for index in range(len(columns)))]
    lines = []
    for kind in kinds:
        cells = tuple(_cell(years, sorted_rows[kind.code, index]) for index, years in enumerate(columns))
        lines.append(KindLine(part_kind=kind.code, word=kind.word, cells=cells, total=_sum(cells)))
    totals = tuple(_sum([line.cells[index] for line in lines]) for index in range(len(columns)))
    return Cohorts(
        columns=tuple(_heading(years) for years in columns), lines=tuple(lines), totals=totals, total=_sum(totals)
    )


def _columns(years: Sequence[int], most: int | None) -> list[tuple[int, ...]]:
    if most is None or len(years) <= most:
        return [(year,) for year in years]
    early = len(years) - most + 1
    return [tuple(years[:early]), *((year,) for year in years[early:])]


def _heading(years: Sequence[int]) -> str:
    return str(years[0]) if len(years) == 1 else f"{years[0]} to {years[-1]}"


def _cell(years: tuple[int, ...], rows: Sequence[ReserveRow]) -> Cell:
    return Cell(
        years=years,
        amount=sum((row.amount for row in rows), NOTHING),
        count=len(rows),
        failures=sum((row.chance for row in rows), Decimal(0)),
    )


def _sum(cells: Sequence[Cell]) -> Cell:
    return Cell(
        years=tuple(sorted({year for cell in cells for year in cell.years})),
        amount=sum((cell.amount for cell in cells), NOTHING),
        count=sum(cell.count for cell in cells),
        failures=sum((cell.failures for cell in cells), Decimal(0)),
    )
