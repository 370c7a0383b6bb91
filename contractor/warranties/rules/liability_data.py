"""A period's liability with every row behind it, and the same as plain JSON data and back.

Amounts, shares and days are kept as text, so that no reader rounds them. Rows are lists under one heading each: a
closed year of twenty thousand warranties holds well over a hundred thousand of them.
"""

from collections.abc import Iterable
from dataclasses import dataclass, fields
from datetime import date
from decimal import Decimal
from enum import StrEnum
from typing import Any

from contractor.warranties.rules.liability import Issued, LiabilityTable, Movement, Payment, Roll, table_of
from contractor.warranties.rules.liability_reserve import Assumption, CostSource, LifeSource, ReserveRow


@dataclass(frozen=True, slots=True, kw_only=True)
class Liability:
    """The roll-forward of a period, what it was reckoned with, and the rows behind every figure.

    ``reserve`` are the rows of the closing balance. ``notes`` are sentences about what is missing from the figures.
    """

    roll: Roll
    payments: tuple[Payment, ...]
    reserve: tuple[ReserveRow, ...]
    assumptions: tuple[Assumption, ...]
    notes: tuple[str, ...]

    @property
    def issued(self) -> tuple[Issued, ...]:
        """Every warranty that has a part in the figures."""
        return tuple(
            Issued(warranty_id=one.warranty_id, number=one.number, issued_on=one.issued_on)
            for one in self.roll.movements
        )


def table_to_data(liability: Liability) -> dict[str, Any]:
    """The table, what it was reckoned with, and the notes."""
    table = liability.roll.table
    return {
        "lines": {field.name: str(getattr(table, field.name)) for field in fields(LiabilityTable)},
        "assumptions": [_assumption_to_data(one) for one in liability.assumptions],
        "notes": list(liability.notes),
    }


def rows_to_data(liability: Liability) -> dict[str, Any]:
    """Every row: the movements of the warranties, the payments, and the parts and claims of the closing balance."""
    return {
        "movements": _listed(Movement, liability.roll.movements),
        "payments": _listed(Payment, liability.payments),
        "reserve": _listed(ReserveRow, liability.reserve),
    }


def assumptions_from_data(table: dict[str, Any]) -> tuple[Assumption, ...]:
    """What a kept table was reckoned with."""
    return tuple(_assumption(one) for one in table["assumptions"])


def liability_from_data(from_on: date, until_on: date, table: dict[str, Any], rows: dict[str, Any]) -> Liability:
    """What ``table_to_data`` and ``rows_to_data`` kept; ValueError when the table is not the sum of its rows."""
    movements = tuple(
        Movement(
            warranty_id=warranty_id,
            number=number,
            issued_on=date.fromisoformat(issued_on),
            is_new=is_new,
            opening=Decimal(opening),
            payments=Decimal(payments),
            closing=Decimal(closing),
        )
        for warranty_id, number, issued_on, is_new, opening, payments, closing in rows["movements"]["rows"]
    )
    lines = LiabilityTable(**{name: Decimal(amount) for name, amount in table["lines"].items()})
    if table_of(movements) != lines:
        raise ValueError(f"The kept table from {from_on} to {until_on} is not the sum of its rows.")
    return Liability(
        roll=Roll(from_on=from_on, until_on=until_on, table=lines, movements=movements),
        payments=tuple(_payment(*row) for row in rows["payments"]["rows"]),
        reserve=tuple(_reserve_row(*row) for row in rows["reserve"]["rows"]),
        assumptions=assumptions_from_data(table),
        notes=tuple(table["notes"]),
    )


def _listed(kind: type[Any], values: Iterable[Any]) -> dict[str, Any]:
    names = [field.name for field in fields(kind)]
    return {"columns": names, "rows": [[_plain(getattr(value, name)) for name in names] for value in values]}


def _plain(value: Any) -> Any:
    if isinstance(value, Decimal):
        return str(value)
    if isinstance(value, StrEnum):
        return value.value
    return value.isoformat() if isinstance(value, date) else value


def _payment(
    claim_id: int,
    warranty_id: int,
    part_kind: str,
    paid_on: str,
    amount: str,
    # Years closed before costs were booked have no more columns.
    paid_in: str = "",
    is_goodwill: bool = False,
) -> Payment:
    return Payment(
        claim_id=claim_id,
        warranty_id=warranty_id,
        part_kind=part_kind,
        paid_on=date.fromisoformat(paid_on),
        amount=Decimal(amount),
        paid_in=paid_in,
        is_goodwill=is_goodwill,
    )


def _reserve_row(
    warranty_id: int,
    component_id: int | None,
    claim_id: int | None,
    part_kind: str,
    issue_year: int,
    chance: str,
    share: str,
    amount: str,
    is_decided: bool = False,
) -> ReserveRow:
    return ReserveRow(
        warranty_id=warranty_id,
        component_id=component_id,
        claim_id=claim_id,
        part_kind=part_kind,
        issue_year=issue_year,
        chance=Decimal(chance),
        share=Decimal(share),
        amount=Decimal(amount),
        is_decided=is_decided,
    )


def _assumption_to_data(one: Assumption) -> dict[str, Any]:
    data = {field.name: _plain(getattr(one, field.name)) for field in fields(Assumption)}
    for name in ("shape", "scale_years"):
        data[name] = None if data[name] is None else repr(data[name])
    return data


def _assumption(data: dict[str, Any]) -> Assumption:
    cost, shape, scale = data["cost"], data["shape"], data["scale_years"]
    return Assumption(
        **{
            **data,
            "cost": None if cost is None else Decimal(cost),
            "cost_source": CostSource(data["cost_source"]),
            "life_source": LifeSource(data["life_source"]),
            "shape": None if shape is None else float(shape),
            "scale_years": None if scale is None else float(scale),
        }
    )
