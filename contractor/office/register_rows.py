"""What is read from a contractor's old register: rows, their parts and walls, and what is wrong with them."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum
from typing import Generic, Literal, TypeVar

from contractor.properties.addresses import address_key

Severity = Literal["error", "caution"]
T = TypeVar("T")


@dataclass(frozen=True, slots=True, kw_only=True)
class Doubt:
    """One thing wrong with a cell. An error keeps the row out; a caution lets it in and asks for a look.

    ``code`` names the kind of trouble; ``sentence`` says what is wrong and how to mend it.
    """

    code: str
    severity: Severity
    sentence: str


def error(code: str, sentence: str) -> Doubt:
    return Doubt(code=code, severity="error", sentence=sentence)


def caution(code: str, sentence: str) -> Doubt:
    return Doubt(code=code, severity="caution", sentence=sentence)


@dataclass(frozen=True, slots=True)
class Read(Generic[T]):
    """What a cell says: its value, None where it says nothing or nothing readable, and the doubts about it.

    ``aside`` is text of the cell that found no place in the value; it goes to the notes so that nothing is lost.
    """

    value: T | None
    doubts: tuple[Doubt, ...] = ()
    aside: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownModel:
    """A catalogue model that the register's names are matched with; ``key`` is whatever the caller knows it by."""

    key: str
    part_kind: str
    maker: str
    name: str

    def __str__(self) -> str:
        return f"{self.maker} {self.name}"


@dataclass(frozen=True, slots=True, kw_only=True)
class RegisterPart:
    """One part named in a row.

    ``model`` is the catalogue model when exactly one was meant; ``written`` is the cell as it stands. ``size_m`` is
    the diameter of a pit, the bore of a discharge line or the length of a liner, in metres; ``capacity_ah`` that of
    a battery, in ampere-hours.
    """

    part_kind: str
    in_on: date
    model: KnownModel | None = None
    written: str = ""
    serial: str = ""
    size_m: float | None = None
    capacity_ah: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class RegisterWall:
    """A wall that the row says was treated; the length in metres where the row gives one."""

    name: str
    length_m: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class RegisterRow:
    """One system of one house as a row gives it.

    ``line_number`` is the row's number in a spreadsheet program. ``joins_line`` is the first row of the same house
    when this one adds a second system to it. ``other_columns`` holds columns that the reader does not know;
    ``position`` latitude and longitude in degrees.
    """

    line_number: int
    owner: str
    phone: str
    email: str
    street: str
    unit: str
    town: str
    state: str
    postcode: str
    installed_on: date
    system_name: str
    parts: tuple[RegisterPart, ...]
    walls: tuple[RegisterWall, ...]
    warranty_number: str
    last_service_on: date | None
    notes: str
    other_columns: tuple[tuple[str, str], ...] = ()
    joins_line: int | None = None
    position: tuple[float, float] | None = None

    @property
    def address_key(self) -> str:
        """The same for every way of writing this house's address."""
        return address_key(f"{self.street} {self.unit}".strip(), self.postcode)

    @property
    def address_line(self) -> str:
        """The house on one line, for sentences."""
        return f"{self.street}{', ' if self.unit else ''}{self.unit}, {self.town}"


@dataclass(frozen=True, slots=True, kw_only=True)
class RowProblem:
    """What is wrong with one cell of one row: ``column`` and ``value`` as they stand in the file."""

    line_number: int
    column: str
    value: str
    severity: Severity
    code: str
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SkippedRow:
    """A row that holds nothing to import: blank, a total, the header again, or said already."""

    line_number: int
    code: Literal["blank_row", "total_row", "repeated_header", "already_there"]
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SourceRow:
    """A row's cells as they stand in the file."""

    line_number: int
    cells: tuple[str, ...]


class Outcome(StrEnum):
    GOOD = "good"
    GOOD_WITH_CAUTIONS = "good with cautions"
    BAD = "bad"
    SKIPPED = "skipped"


@dataclass(frozen=True, slots=True, kw_only=True)
class RegisterReading:
    """A whole register as read: ``rows`` are fit for import, ``problems`` say what is wrong with which cell.

    ``cautions`` concern the file as a whole; ``encoding`` and ``delimiter`` are those found; ``sources`` are all
    rows below the header, in order.
    """

    encoding: str
    delimiter: str
    header_line: int
    header: tuple[str, ...]
    unknown_columns: tuple[str, ...]
    sources: tuple[SourceRow, ...]
    rows: tuple[RegisterRow, ...]
    problems: tuple[RowProblem, ...]
    skipped: tuple[SkippedRow, ...]
    cautions: tuple[Doubt, ...] = field(default=())

    def outcomes(self) -> dict[int, Outcome]:
        """What became of each row, by line number."""
        found = {source.line_number: Outcome.GOOD for source in self.sources}
        for problem in self.problems:
            is_bad = problem.severity == "error" or found[problem.line_number] is Outcome.BAD
            found[problem.line_number] = Outcome.BAD if is_bad else Outcome.GOOD_WITH_CAUTIONS
        found.update((row.line_number, Outcome.SKIPPED) for row in self.skipped)
        return found


def in_words(day: date) -> str:
    """A date as the office reads it: "May 14, 2019"."""
    return f"{day:%B} {day.day}, {day.year}"


def listed(items: Iterable[object], last: str = "or") -> str:
    """Things in a sentence: "a, b or c"."""
    words = [str(item) for item in items]
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} {last} {words[-1]}"
