"""The liability on its page, on paper and as a table of rows for a spreadsheet."""

import csv
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from io import StringIO
from typing import Any

from contractor.notices.printing import render_pdf
from contractor.systems.part_kinds import part_kind as kind_of
from contractor.warranties.frozen_facts import fingerprint
from contractor.warranties.models import LiabilityYear, Warranty
from contractor.warranties.printed_codes import display_warranty_number
from contractor.warranties.rules.liability import Movement, Payment, payments_apart
from contractor.warranties.rules.liability_cohorts import cohorts
from contractor.warranties.rules.liability_data import Liability
from contractor.warranties.rules.liability_reserve import LIFE_YEARS, Assumption, CostSource, LifeSource, ReserveRow

YEARS_ON_PAPER = 6

# Code, word, and the sign with which the line enters the sum.
LINES = (
    ("opening", "Balance at the beginning", 1),
    ("payments", "Payments made, in cash or in kind", -1),
    ("issued", "Accruals for warranties issued in the period", 1),
    ("changes", "Changes to accruals for warranties issued before", 1),
    ("closing", "Balance at the end", 1),
)
CSV_COLUMNS = (
    "line", "warranty", "issued_on", "claim", "paid_on", "paid_in", "component", "part_kind", "chance", "share",
    "amount",
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class TableLine:
    """A line of the table: ``shown`` carries the sign with which it enters the sum.

    ``is_part``: it is part of the line above it, and not added again.
    """

    code: str
    word: str
    shown: Decimal
    is_balance: bool = False
    is_part: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Reckoned:
    """What one part kind was reckoned with, in words. Years are those that half of the parts last."""

    part_kind: str
    word: str
    cost: Decimal | None
    cost_from: str
    asks_cost: bool
    years: str
    years_from: str
    asks_years: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class HouseRow:
    """A row with the warranty's number as printed and the street; ``word`` is the part, empty for a whole warranty."""

    row: Movement | Payment | ReserveRow
    number: str
    street: str
    word: str


def liability_context(liability: Liability, closed: LiabilityYear | None, *, most: int | None = None) -> dict[str, Any]:
    """What page and paper show; ``most`` is how many columns of issue years there may be."""
    return {
        "roll": liability.roll,
        "lines": table_lines(liability),
        "cohorts": cohorts(liability.reserve, most=most),
        "reckoned": [_in_words(one) for one in liability.assumptions],
        "notes": liability.notes,
        "closed": closed,
        "fingerprint": fingerprint(closed.sha256) if closed is not None else "",
        "life_years": int(LIFE_YEARS),
    }


def liability_pdf(liability: Liability, closed: LiabilityYear | None) -> bytes:
    """One or two pages for the accountant."""
    context = liability_context(liability, closed, most=YEARS_ON_PAPER)
    used = {line.part_kind for line in context["cohorts"].lines}
    context["reckoned"] = [one for one in context["reckoned"] if one.part_kind in used or one.cost is not None]
    return render_pdf("warranties/liability_paper.html", context)


def liability_csv(liability: Liability) -> str:
    """Every row behind the table, one line each: the amounts of a line add up to that line of the table."""
    out = StringIO()
    writer = csv.writer(out)
    writer.writerow(CSV_COLUMNS)
    writer.writerows(_csv_rows(liability))
    return out.getvalue()


def table_lines(liability: Liability) -> list[TableLine]:
    """The five lines as the table shows them, the payments followed by what of them was cash and what in kind."""
    table, lines = liability.roll.table, []
    for code, word, sign in LINES:
        is_balance = code in {"opening", "closing"}
        lines.append(TableLine(code=code, word=word, shown=sign * getattr(table, code), is_balance=is_balance))
        if code == "payments":
            apart = _apart(liability)
            lines += [TableLine(code=code, word=said, shown=sign * paid, is_part=True) for said, paid in apart]
    return lines


def _apart(liability: Liability) -> list[tuple[str, Decimal]]:
    """Cash and kind; a year closed before costs were booked knows of neither."""
    apart = payments_apart(liability.payments)
    is_told = any(one.paid_in for one in liability.payments)
    told = [("in cash", apart.in_cash), ("in kind", apart.in_kind)] if is_told else []
    return [*told, *([("by decision, before costs were booked", apart.untold)] if apart.untold else [])]


def movements_of(liability: Liability, line: str) -> list[Movement]:
    """The warranties behind a line of the table, the largest amounts first."""
    moved = [one for one in liability.roll.movements if getattr(one, line)]
    return sorted(moved, key=lambda one: (-abs(getattr(one, line)), one.warranty_id))


def cohort_rows(liability: Liability, part_kind: str, year: int | None) -> list[ReserveRow]:
    """The parts and claims of a kind, of one issue year or of all, the largest amounts first."""
    rows = [row for row in liability.reserve if row.part_kind == part_kind and year in {None, row.issue_year}]
    return sorted(rows, key=lambda row: (-row.amount, row.warranty_id, row.component_id or 0, row.claim_id or 0))


def with_houses(rows: Sequence[Movement | Payment | ReserveRow]) -> list[HouseRow]:
    """Rows with the houses they belong to, in one query."""
    warranties = Warranty.objects.filter(pk__in={row.warranty_id for row in rows}).select_related("system__property")
    found = {one.pk: one for one in warranties}
    return [
        HouseRow(
            row=row,
            number=display_warranty_number(found[row.warranty_id].number),
            street=found[row.warranty_id].system.property.street_line,
            word="" if isinstance(row, Movement) else kind_of(row.part_kind).word,
        )
        for row in rows
    ]


def _in_words(one: Assumption) -> Reckoned:
    costs = {
        CostSource.CLAIMS: f"mean of {one.claims:,} decided claims",
        CostSource.TYPED: "typed by the manager",
        CostSource.UNKNOWN: "not known",
    }
    years = {
        LifeSource.RECORDS: f"our own records: {one.failures:,} failures of {one.units:,} parts",
        LifeSource.TYPED: "typed by the manager",
        LifeSource.AGE_RULE: "age rule of the trade, no source",
        LifeSource.UNKNOWN: "not known",
    }
    return Reckoned(
        part_kind=one.part_kind,
        word=kind_of(one.part_kind).word,
        cost=one.cost,
        cost_from=costs[one.cost_source],
        asks_cost=one.cost_source is not CostSource.CLAIMS,
        years="" if one.median_years is None else f"{one.median_years:,.1f}",
        years_from=years[one.life_source],
        asks_years=one.life_source is not LifeSource.RECORDS,
    )


def _csv_rows(liability: Liability) -> Iterator[tuple[Any, ...]]:
    numbers = {one.warranty_id: one for one in liability.roll.movements}
    for line in ("opening", "issued", "changes"):
        for one in movements_of(liability, line):
            yield line, one.number, one.issued_on, "", "", "", "", "", "", "", getattr(one, line)
    for paid in liability.payments:
        one = numbers[paid.warranty_id]
        yield (
            "payments",
            one.number,
            one.issued_on,
            paid.claim_id,
            paid.paid_on,
            paid.paid_in,
            "",
            paid.part_kind,
            "",
            "",
            paid.amount,
        )
    for row in liability.reserve:
        moved = numbers.get(row.warranty_id)
        # A warranty whose rows all come to nothing has no movement, and adds nothing.
        if moved is not None:
            component, claim = row.component_id or "", row.claim_id or ""
            figures = (row.chance, row.share, row.amount)
            yield "closing", moved.number, moved.issued_on, claim, "", "", component, row.part_kind, *figures
