"""What the import of an uploaded register would do, row by row, and how far it has been done. Reads only."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from enum import StrEnum
from functools import lru_cache
from typing import Literal

from contractor.accounts.queries import the_company
from contractor.office.register_columns import columns_of
from contractor.office.register_file import read_register
from contractor.office.register_report import ReportLine, report_rows
from contractor.office.register_rows import KnownModel, Outcome, RegisterReading, RegisterRow, RowProblem
from contractor.office.register_uploads import KeptRegister
from contractor.properties.models import Property
from contractor.systems.models import CatalogueModel


@dataclass(frozen=True, slots=True, kw_only=True)
class RegisteredHouse:
    """A house of the file that is in the register, with the names of its systems."""

    property_id: int
    systems: frozenset[str]


# By normalised address.
InRegister = Mapping[str, RegisteredHouse]


class Fate(StrEnum):
    """What becomes of a row; the same row has one only."""

    GOOD = "good"
    CAUTIONS = "cautions"
    BAD = "bad"
    SKIPPED = "skipped"
    PRESENT = "present"


FATE_OF = {
    Outcome.GOOD: Fate.GOOD,
    Outcome.GOOD_WITH_CAUTIONS: Fate.CAUTIONS,
    Outcome.BAD: Fate.BAD,
    Outcome.SKIPPED: Fate.SKIPPED,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class ReviewedRow:
    """One row of the file: what becomes of it, what that means for the register, and every finding.

    ``property_id`` leads to the house where it is registered.
    """

    line_number: int
    fate: Fate
    effect: str
    house: str
    owner: str
    property_id: int | None
    findings: tuple[ReportLine, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Progress:
    """How far the good rows were taken over; ``total`` leaves out those that were there before."""

    state: Literal["ready", "nothing new", "nothing good", "halted", "done"]
    total: int
    taken: int
    refused: int
    present_before: int

    @property
    def done(self) -> int:
        return self.taken + self.refused

    @property
    def left(self) -> int:
        return self.total - self.done


@dataclass(frozen=True, slots=True, kw_only=True)
class Review:
    """An upload beside the register as it stands now. ``reading`` counts refused rows among the bad ones."""

    reading: RegisterReading
    rows: tuple[ReviewedRow, ...]
    progress: Progress

    def counts(self) -> dict[Fate, int]:
        """How many rows of each fate."""
        fates = [row.fate for row in self.rows]
        return {fate: fates.count(fate) for fate in Fate}


def known_models() -> tuple[KnownModel, ...]:
    """The catalogue as the reader matches it with the names in a register."""
    return tuple(
        KnownModel(key=str(model.pk), part_kind=model.part_kind, maker=model.maker, name=model.name)
        for model in CatalogueModel.objects.all()
    )


def reading_of(data: bytes, *, on: date) -> RegisterReading:
    """Reads a register against the catalogue. Raises the refusals of ``read_register``."""
    return _read(data, known_models(), on, the_company().state)


@lru_cache(maxsize=2)
def _read(data: bytes, models: tuple[KnownModel, ...], on: date, home_state: str) -> RegisterReading:
    """The same bytes read the same: kept, because every page of a long report needs the whole file."""
    return read_register(data, known_models=models, on=on, home_state=home_state)


def review_of(kept: KeptRegister, *, on: date) -> Review:
    """The upload's report, and how far it was taken over."""
    reading = reading_of(kept.data, on=on)
    there = in_register(reading.rows)
    progress = progress_of(kept, reading.rows, there)
    reading = _with_refusals(reading, kept.refused)
    return Review(reading=reading, rows=_reviewed(reading, there), progress=progress)


def in_register(rows: Iterable[RegisterRow]) -> InRegister:
    """The houses of these rows that are registered: one query."""
    keys = {row.address_key for row in rows}
    found: defaultdict[tuple[str, int], set[str]] = defaultdict(set)
    known = Property.objects.filter(address_key__in=keys).values_list("address_key", "pk", "systems__name")
    for key, property_id, name in known:
        found[key, property_id].add(name)
    return {
        key: RegisteredHouse(property_id=property_id, systems=frozenset(names))
        for (key, property_id), names in found.items()
    }


def is_there(row: RegisterRow, there: InRegister) -> bool:
    """Whether the row's system stands in the register already, so that taking it over would change nothing."""
    house = there.get(row.address_key)
    return house is not None and row.system_name in house.systems


def progress_of(kept: KeptRegister, rows: Sequence[RegisterRow], there: InRegister) -> Progress:
    """How far the upload was taken over. What is there counts, not what was tried."""
    present = sum(is_there(row, there) for row in rows)
    before = present if kept.present_before is None else kept.present_before
    state: Literal["ready", "nothing new", "nothing good", "halted", "done"] = "ready"
    if not rows:
        state = "nothing good"
    elif kept.present_before is not None:
        state = "done" if kept.done_to_line >= rows[-1].line_number else "halted"
    elif present == len(rows):
        state = "nothing new"
    return Progress(
        state=state,
        total=len(rows) - before,
        taken=max(present - before, 0),
        refused=len(kept.refused),
        present_before=before,
    )


def _with_refusals(reading: RegisterReading, refused: Mapping[int, str]) -> RegisterReading:
    """The reading with rows that the register refused among the bad ones, so that report and file name them."""
    found = [
        RowProblem(line_number=line, column="Whole row", value="", severity="error", code="refused", sentence=sentence)
        for line, sentence in refused.items()
    ]
    return replace(
        reading,
        rows=tuple(row for row in reading.rows if row.line_number not in refused),
        problems=tuple(sorted([*reading.problems, *found], key=lambda problem: problem.line_number)),
    )


def _reviewed(reading: RegisterReading, there: InRegister) -> tuple[ReviewedRow, ...]:
    columns = columns_of(reading.header)
    cells = {source.line_number: source.cells for source in reading.sources}
    good = {row.line_number: row for row in reading.rows}
    findings: defaultdict[int, list[ReportLine]] = defaultdict(list)
    for line in report_rows(reading):
        findings[line.line_number] += [line] if line.reason else []
    reviewed = []
    for number, outcome in reading.outcomes().items():
        row = good.get(number)
        fate = Fate.PRESENT if row and is_there(row, there) else FATE_OF[outcome]
        place = [columns.cell(cells[number], name).strip() for name in ("street", "unit", "town")]
        names = [columns.cell(cells[number], name).strip() for name in ("owner", "owner_first", "owner_last")]
        reviewed.append(
            ReviewedRow(
                line_number=number,
                fate=fate,
                effect=_effect(fate, row, there),
                house=", ".join(part for part in place if part),
                owner=" ".join(name for name in names if name),
                property_id=there[row.address_key].property_id if row and row.address_key in there else None,
                findings=tuple(findings[number]),
            )
        )
    return tuple(reviewed)


def _effect(fate: Fate, row: RegisterRow | None, there: InRegister) -> str:
    if fate is Fate.PRESENT:
        return "Changes nothing."
    if row is None:
        return "Stays out until it is mended." if fate is Fate.BAD else "Holds nothing to import."
    if row.address_key in there:
        return f"Adds the system “{row.system_name}” to a house that is in the register."
    if row.joins_line:
        return f"Adds the system “{row.system_name}” to the house of row {row.joins_line}."
    return "Registers the house."
