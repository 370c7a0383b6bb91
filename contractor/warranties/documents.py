"""The written warranty as a PDF: the terms that were issued, for this house, its parts and its walls.

Of an edition that is not issued to anybody the same document is made with blanks where a house would stand: that is
what a buyer is shown before the sale, and what the editor shows beside its fields.
"""

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from fractions import Fraction
from typing import Any, Literal

from django.utils.safestring import mark_safe

from contractor.accounts.models import Company
from contractor.accounts.queries import the_company
from contractor.checkups.queries import drawn_parts
from contractor.core.units import shown
from contractor.notices.printing import render_pdf
from contractor.systems.drawing import DrawnPart, legend, section_drawing
from contractor.systems.models import Component
from contractor.systems.part_kinds import part_kind as kind_of
from contractor.warranties.certificate_lines import percent
from contractor.warranties.models import Warranty
from contractor.warranties.printed_codes import display_warranty_number
from contractor.warranties.queries import terms_of
from contractor.warranties.rules.claims import share_examples, to_cents
from contractor.warranties.rules.counting import add_months
from contractor.warranties.rules.terms import Promise, Terms
from contractor.warranties.rules.wording import LIFE_WORDS, count_in_words, day_in_words, through_in_words

EXAMPLE_COST = Decimal(1000)
Paper = Literal["letter", "a4"]
# Beyond this many months people think in years.
MONTHS_SAID_AS_SUCH = 24


@dataclass(frozen=True, slots=True, kw_only=True)
class PromisedPart:
    """One promise as the document prints it. ``number`` is that of the drawing, 0 when none is installed.

    ``last_day`` says when cover ends: a day, a number of months, or a life. ``full_until`` says until when the
    company bears all of a repair.
    """

    number: int
    word: str
    promise: Promise
    last_day: str
    full_until: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ShareExample:
    """A row of the worked example: after so many full months, who pays what of the example's repair."""

    months: int
    share: str
    company_pays: Decimal
    owner_pays: Decimal


def warranty_pdf(warranty: Warranty) -> bytes:
    """The document as it was on the issue day, about four pages, tagged."""
    return render_pdf("warranties/document.html", document_context(warranty))


def terms_pdf(terms: Terms, *, made_at: datetime, paper: Paper = "letter") -> bytes:
    """An edition with blanks where a house would stand, tagged; the same edition gives the same bytes every time."""
    return render_pdf(
        "warranties/document.html",
        {**terms_context(terms), "made_at": made_at, "is_a4": paper == "a4"},
        pdf_identifier=hashlib.sha256(f"{terms.edition} {paper}".encode()).digest()[:16],
    )


def terms_context(terms: Terms) -> dict[str, Any]:
    """What the document of an edition is made from: every kind that it promises is drawn, no day is reckoned."""
    parts = [
        DrawnPart(kind=one.part_kind, label=kind_of(one.part_kind).word.capitalize(), condition="unknown")
        for one in terms.promises
    ]
    numbers = {row.kind: row.number for row in legend(parts)}
    promised = [_promised(promise, None, numbers, {}) for promise in terms.promises]
    drawing = section_drawing(
        parts,
        title="A system with every part that these terms promise",
        description="A section through a basement; not to scale.",
        prefix="edition",
        compact=True,
    )
    return {
        "company": the_company(),
        "warranty": None,
        "terms": terms,
        "drawing": mark_safe(drawing),  # noqa: S308  # the drawing escapes every label itself
        "installed": promised,
        "not_installed": [],
        "walls": [],
        **_example(promised),
    }


def document_context(warranty: Warranty) -> dict[str, Any]:
    """What the document is made from; nothing in it comes from after the issue day."""
    terms, company = terms_of(warranty), the_company()
    house, walls = warranty.system.property, list(warranty.system.walls.all())
    parts = drawn_parts(system=warranty.system, on=warranty.issued_on)
    numbers = {row.kind: row.number for row in legend(parts)}
    first_in = {part.part_kind: part.in_on for part in _installed(warranty)}
    promised = [_promised(promise, warranty.issued_on, numbers, first_in) for promise in terms.promises]
    unit = "ft" if company.units == Company.Units.US else "m"
    names = [f"{wall.letter} {wall.name}" for wall in walls]
    drawing = section_drawing(
        parts,
        title=f"The system at {house.street_line}",
        description="A section through the basement with every part that was installed; not to scale.",
        walls=names,
        prefix="warranty",
        compact=True,
    )
    return {
        "company": company,
        "warranty": warranty,
        "number": display_warranty_number(warranty.number),
        "terms": terms,
        "house": house,
        "owner": warranty.issued_to.person,
        "drawing": mark_safe(drawing),  # noqa: S308  # the drawing escapes every label itself
        "installed": [one for one in promised if one.number],
        "not_installed": [one for one in promised if not one.number],
        "walls": [{"wall": wall, "length": shown(wall.length_m, unit)} for wall in walls],
        **_example(promised),
    }


def _installed(warranty: Warranty) -> list[Component]:
    """The parts in place on the issue day, the earliest of a kind last."""
    return list(warranty.system.components.in_place(warranty.issued_on).order_by("-in_on", "-pk"))


def _promised(
    promise: Promise, issued_on: date | None, numbers: dict[str, int], first_in: dict[str, date]
) -> PromisedPart:
    from_on = issued_on
    if promise.starts == "component" and issued_on is not None:
        from_on = first_in.get(promise.part_kind, issued_on)
    word = kind_of(promise.part_kind).word
    return PromisedPart(
        number=numbers.get(promise.part_kind, 0),
        word=word,
        promise=promise,
        last_day=_last_day(promise, word, from_on),
        full_until=_full_until(promise, from_on),
    )


def _last_day(promise: Promise, word: str, from_on: date | None) -> str:
    if promise.months is None:
        said = LIFE_WORDS[promise.life_of] if promise.life_of else "not said yet"
        return said[0].upper() + said[1:]
    if promise.starts == "component":
        own = f"{_months(promise.months)} from the day each {word} is put in"
        if from_on is None:
            return own
        return f"{own}; for the first one {through_in_words(add_months(from_on, promise.months))}"
    if from_on is None:
        return f"{_months(promise.months)} from the day of issue"
    return through_in_words(add_months(from_on, promise.months))


def _full_until(promise: Promise, from_on: date | None) -> str:
    if promise.full_months is None:
        return "to the last day"
    if from_on is None or promise.starts == "component":
        return f"for {_months(promise.full_months)}" if promise.full_months else "at no time"
    return f"through {day_in_words(add_months(from_on, promise.full_months))}"


def _months(months: int) -> str:
    """A number of months as people say it: "18 months", "300 months (25 years)"."""
    said = count_in_words(months, "month")
    if months >= MONTHS_SAID_AS_SUCH and months % 12 == 0:
        return f"{said} ({count_in_words(months // 12, 'year')})"
    return said


def _example(promised: Sequence[PromisedPart]) -> dict[str, Any]:
    """Three rows for the first installed part whose share falls; nothing when none does."""
    falling = [one for one in promised if share_examples(one.promise)]
    chosen = next((one for one in falling if one.number), next(iter(falling), None))
    if chosen is None:
        return {"example": None, "examples": []}
    return {
        "example": chosen,
        "example_cost": EXAMPLE_COST,
        "examples": [_row(months, share) for months, share in share_examples(chosen.promise)],
    }


def _row(months: int, share: Fraction) -> ShareExample:
    company_pays = to_cents(Fraction(EXAMPLE_COST) * share)
    return ShareExample(
        months=months, share=percent(share), company_pays=company_pays, owner_pays=EXAMPLE_COST - company_pays
    )
