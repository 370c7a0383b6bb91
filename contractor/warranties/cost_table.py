"""The booked costs of a period as a table for a spreadsheet."""

import csv
from collections.abc import Iterable
from io import StringIO

from contractor.core import clock
from contractor.warranties.claim_money import ClaimCost
from contractor.warranties.printed_codes import display_warranty_number

COLUMNS = (
    "entry", "day", "amount", "paid_in", "what", "booked_under", "is_last", "undoes_entry", "claim", "part_kind",
    "warranty", "house", "note", "booked_by", "booked_on",
)  # fmt: skip


def costs_csv(entries: Iterable[ClaimCost]) -> str:
    """One line for each entry; counter-entries carry a minus, so that the column of amounts adds up."""
    out = StringIO()
    writer = csv.writer(out)
    writer.writerow(COLUMNS)
    for cost in entries:
        warranty = cost.claim.warranty
        writer.writerow(
            (
                cost.pk,
                cost.on,
                cost.amount,
                cost.paid_in,
                cost.kind,
                "goodwill" if cost.is_goodwill else "warranty",
                "yes" if cost.is_last else "",
                cost.undoes_id or "",
                cost.claim_id,
                cost.claim.part_kind,
                display_warranty_number(warranty.number),
                plain_cell(warranty.system.property.street_line),
                plain_cell(cost.note),
                plain_cell(cost.booked_by.name if cost.booked_by is not None else ""),
                clock.day_of(cost.booked_at),
            )
        )
    return out.getvalue()


def plain_cell(text: str) -> str:
    """Text that a spreadsheet can't take for a formula: one that begins like it gets an apostrophe (OWASP)."""
    return f"'{text}" if text.startswith(("=", "+", "-", "@", "\t", "\r")) else text
