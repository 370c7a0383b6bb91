"""Compares the rows of an old register with one another: the same house twice, a serial number at two houses."""

import re
from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Final

from contractor.office.register_columns import Columns
from contractor.office.register_rows import (
    Doubt,
    RegisterPart,
    RegisterRow,
    RowProblem,
    SkippedRow,
    SourceRow,
    caution,
    error,
    listed,
)
from contractor.properties.addresses import folded
from contractor.systems.part_kinds import part_kind as kind_of

# Rows that must agree on a town's postcode before a row that differs is asked about.
ENOUGH_ROWS: Final = 5
SERIAL_FIELD: Final = {"primary_pump": "pump_serial", "standby_pump": "standby_serial", "battery": "battery_serial"}
PART_FIELD: Final = {
    "primary_pump": "pump_model",
    "standby_pump": "standby_model",
    "battery": "battery_model",
    "pit": "pit",
    "discharge_line": "discharge",
    "liner": "liner",
}


@dataclass(slots=True)
class Compared:
    """What is left after the comparison: rows fit for import, and what was found."""

    rows: list[RegisterRow] = field(default_factory=list)
    problems: list[RowProblem] = field(default_factory=list)
    skipped: list[SkippedRow] = field(default_factory=list)


class Comparison:
    """Compares rows that are good by themselves; a row is always measured against the rows above it."""

    def __init__(self, columns: Columns, sources: Mapping[int, SourceRow]) -> None:
        self._columns = columns
        self._sources = sources
        self._found = Compared()

    def compare(self, rows: Sequence[RegisterRow]) -> Compared:
        """The rows with second systems joined to their houses, without repetitions and contradictions."""
        for row in self._without_shared_serials(self._joined(rows)):
            self._found.rows.append(row)
        self._ask_about_postcodes()
        return self._found

    def _joined(self, rows: Sequence[RegisterRow]) -> list[RegisterRow]:
        houses: defaultdict[str, list[RegisterRow]] = defaultdict(list)
        kept = []
        for row in rows:
            earlier = houses[row.address_key]
            joined = self._join(row, earlier) if earlier else row
            if joined is not None:
                earlier.append(joined)
                kept.append(joined)
        return kept

    def _join(self, row: RegisterRow, earlier: Sequence[RegisterRow]) -> RegisterRow | None:
        """The row as a further system of its house; None when it says nothing new or contradicts."""
        first = earlier[0]
        twin = next((e for e in earlier if folded(e.system_name) == folded(row.system_name)), None)
        if twin is None:
            return self._second_system(row, first)
        differing = [name for name, value in _facts(row).items() if value != _facts(twin)[name]]
        if not differing:
            sentence = f"Row {twin.line_number} says the same of this house."
            self._found.skipped.append(SkippedRow(line_number=row.line_number, code="already_there", sentence=sentence))
            return None
        headers = [self._columns.header_of(name) for name in differing]
        sentence = (
            f"Row {twin.line_number} has the same system of this house, but differs in {listed(headers, 'and')}. "
            "Keep one row with what is right; if it is a second system, give it a name of its own."
        )
        self._doubt(row, differing[0], error("house_conflict", sentence))
        return None

    def _second_system(self, row: RegisterRow, first: RegisterRow) -> RegisterRow | None:
        if _words(row.owner) != _words(first.owner):
            sentence = (
                f"Row {first.line_number} names “{first.owner}” as the owner of this house. Write the present one."
            )
            self._doubt(row, "owner", error("house_conflict", sentence))
            return None
        asides = []
        for name, here, there in (
            ("phone", row.phone, first.phone),
            ("email", row.email, first.email),
            ("town", row.town, first.town),
        ):
            if here and there and _words(here) != _words(there):
                sentence = f"Row {first.line_number} says “{there}” for the same house, which was kept. Compare them."
                self._doubt(row, name, caution("house_differs", sentence))
                asides.append(f"{self._columns.header_of(name)}: {here}")
        return replace(row, joins_line=first.line_number, notes="\n".join([row.notes, *asides]).strip())

    def _without_shared_serials(self, rows: Sequence[RegisterRow]) -> list[RegisterRow]:
        bearers: defaultdict[tuple[str, str], list[tuple[RegisterRow, RegisterPart]]] = defaultdict(list)
        kept = []
        for row in rows:
            twins = [
                (part, other)
                for part in row.parts
                for other, other_part in bearers[_serial(part)]
                if part.serial and _may_be_same(part, other_part)
            ]
            for part, other in twins:
                self._shared_serial(row, other, part)
            if twins:
                continue
            kept.append(row)
            for part in row.parts:
                if part.serial:
                    bearers[_serial(part)].append((row, part))
        return kept

    def _shared_serial(self, row: RegisterRow, other: RegisterRow, part: RegisterPart) -> None:
        name, word = SERIAL_FIELD[part.part_kind], kind_of(part.part_kind).word
        sentence = (
            f"Row {other.line_number} ({other.address_line}) has a {word} with this serial number too. Read the plate "
            "again; if you can't, leave the serial number empty."
        )
        self._doubt(row, name, error("serial_elsewhere", sentence))
        sentence = f"Row {row.line_number} ({row.address_line}) gives its {word} the same serial number. Compare them."
        self._doubt(other, name, caution("serial_shared", sentence))

    def _ask_about_postcodes(self) -> None:
        """Notes a postcode that the file otherwise gives to one other town only, while this town has its own."""
        pairs = Counter((_words(row.town), row.postcode[:5]) for row in self._found.rows)
        names = {_words(row.town): row.town for row in self._found.rows}
        usual = [pair for pair, count in pairs.items() if count >= ENOUGH_ROWS]
        for row in self._found.rows:
            own_town, postcode = _words(row.town), row.postcode[:5]
            own = [code for town, code in usual if town == own_town]
            others = [town for town, code in usual if code == postcode]
            if pairs[own_town, postcode] == 1 and len(own) == 1 and len(others) == 1:
                sentence = (
                    f"Elsewhere in this file {postcode} belongs to {names[others[0]]}, and {row.town} has {own[0]}. "
                    "Check the town and the ZIP code."
                )
                self._doubt(row, "postcode", caution("postcode_of_other_town", sentence))

    def _doubt(self, row: RegisterRow, name: str, doubt: Doubt) -> None:
        self._found.problems.append(
            RowProblem(
                line_number=row.line_number,
                column=self._columns.header_of(name),
                value=self._columns.cell(self._sources[row.line_number].cells, name).strip(),
                severity=doubt.severity,
                code=doubt.code,
                sentence=doubt.sentence,
            )
        )


def _words(text: str) -> str:
    return " ".join(re.findall(r"\w+", folded(text)))


def _serial(part: RegisterPart) -> tuple[str, str]:
    return part.part_kind, "".join(re.findall(r"\w", folded(part.serial)))


def _may_be_same(part: RegisterPart, other: RegisterPart) -> bool:
    """Makers number by themselves: two models may bear one number, and one of them must be unknown or the same."""
    return part.model is None or other.model is None or part.model == other.model


def _facts(row: RegisterRow) -> dict[str, object]:
    """What a row says, field by field, so that spelling does not count."""
    facts: dict[str, object] = {
        "owner": _words(row.owner),
        "phone": row.phone,
        "email": row.email,
        "town": _words(row.town),
        "state": row.state,
        "installed_on": row.installed_on,
        "walls": row.walls,
        "warranty": _words(row.warranty_number),
        "last_service_on": row.last_service_on,
        "notes": _words(row.notes),
    }
    for kind, name in PART_FIELD.items():
        part = next((p for p in row.parts if p.part_kind == kind), None)
        facts[name] = part and (part.model or _words(part.written), part.size_m, part.capacity_ah)
        if kind in SERIAL_FIELD:
            facts[SERIAL_FIELD[kind]] = _serial(part) if part else None
    battery = next((p for p in row.parts if p.part_kind == "battery"), None)
    facts["battery_date"] = battery and battery.in_on
    facts["other columns"] = row.other_columns
    return facts
