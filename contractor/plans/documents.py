"""A plan's papers: the invoice as PDF, the revenue as a table for a spreadsheet."""

import csv
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from io import StringIO

from contractor.notices.printing import render_pdf
from contractor.plans.errors import PeriodUpsideDown
from contractor.plans.models import Invoice
from contractor.plans.queries import balance_of, billed_years
from contractor.plans.rules.revenue import Line, roll

CSV_COLUMNS = (
    "invoice", "house", "from_on", "through_on", "opening", "billed", "credited", "recognised", "closing",
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class RevenueRow:
    """A line with the invoice it comes from."""

    line: Line
    invoice: Invoice


@dataclass(frozen=True, slots=True, kw_only=True)
class Revenue:
    """The deferred revenue of a period from beginning to end, and the rows behind it."""

    from_on: date
    until_on: date
    rows: Sequence[RevenueRow]

    @property
    def opening(self) -> Decimal:
        return sum((row.line.opening for row in self.rows), Decimal("0.00"))

    @property
    def billed(self) -> Decimal:
        return sum((row.line.billed for row in self.rows), Decimal("0.00"))

    @property
    def credited(self) -> Decimal:
        return sum((row.line.credited for row in self.rows), Decimal("0.00"))

    @property
    def recognised(self) -> Decimal:
        return sum((row.line.recognised for row in self.rows), Decimal("0.00"))

    @property
    def closing(self) -> Decimal:
        return sum((row.line.closing for row in self.rows), Decimal("0.00"))


def revenue(*, from_on: date, until_on: date) -> Revenue:
    """The table of a period, both days included. Raises PeriodUpsideDown."""
    if until_on < from_on:
        raise PeriodUpsideDown
    known = billed_years(by=until_on)
    lines = roll((billed for billed, _ in known.values()), from_on=from_on, until_on=until_on)
    return Revenue(
        from_on=from_on,
        until_on=until_on,
        rows=[RevenueRow(line=line, invoice=known[line.key][1]) for line in lines],
    )


def revenue_csv(table: Revenue) -> str:
    """One row for each invoiced year; the columns add up to the table."""
    out = StringIO()
    writer = csv.writer(out)
    writer.writerow(CSV_COLUMNS)
    for row in table.rows:
        agreement, line = row.invoice.agreement, row.line
        writer.writerow(
            (
                row.invoice.number,
                agreement.property.street_line,
                agreement.from_on,
                agreement.through_on,
                line.opening,
                line.billed,
                line.credited,
                line.recognised,
                line.closing,
            )
        )
    return out.getvalue()


def invoice_pdf(invoice: Invoice) -> bytes:
    """An invoice or a credit note on one tagged page, from the facts of the day it was written."""
    facts = invoice.facts
    context = {
        "invoice": invoice,
        "facts": facts,
        "agreement": invoice.agreement,
        "from_on": date.fromisoformat(facts["from_on"]),
        "through_on": date.fromisoformat(facts["through_on"]),
        "payments": [] if invoice.is_credit_note else list(invoice.payments.all()),
        "balance": None if invoice.is_credit_note else balance_of(invoice),
        "credit_note": None if invoice.is_credit_note else Invoice.objects.filter(credits=invoice).first(),
        "credited": invoice.credits,
        # PDF/UA asks for a text beside every picture.
        "sign_title": f"Sign of {facts['seller']['name']}",
    }
    return render_pdf("plans/invoice.html", context, pdf_variant="pdf/ua-1")
