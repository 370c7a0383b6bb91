"""The written warranty as a PDF: the terms that were issued, for this house, its parts and its walls."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from fractions import Fraction
from typing import Any

from django.utils.safestring import mark_safe

from contractor.accounts.models import Company
from contractor.accounts.queries import the_company
from contractor.checkups.queries import drawn_parts
from contractor.core.units import shown
from contractor.notices.printing import render_pdf
from contractor.systems.drawing import legend, section_drawing
from contractor.systems.models import Component
from contractor.systems.part_kinds import part_kind as kind_of
from contractor.warranties.certificate_lines import percent
from contractor.warranties.models import Warranty
from contractor.warranties.printed_codes import display_warranty_number
from contractor.warranties.queries import terms_of
from contractor.warranties.rules.claims import share_examples, to_cents
from contractor.warranties.rules.counting import add_months
from contractor.warranties.rules.terms import Promise
from contractor.warranties.rules.wording import LIFE_WORDS

EXAMPLE_COST = Decimal(1000)


@dataclass(frozen=True, slots=True, kw_only=True)
class PromisedPart:
    """One promise as the document prints it. ``number`` is that of the drawing, 0 when none is installed.

    ``through_on`` is the last day; empty for a life, which ``life`` names. ``full_through_on`` is the last day on
    which the company bears all of a repair, when its share falls after that.
    """

    number: int
    word: str
    promise: Promise
    from_on: date
    through_on: date | None
    full_through_on: date | None
    life: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ShareExample:
    """A row of the worked example: after so many full months, who pays what of the example's repair."""

    months: int
    share: str
    company_pays: Decimal
    owner_pays: Decimal


def warranty_pdf(warranty: Warranty) -> bytes:
    """The document as it was on the issue day, two or three pages."""
    return render_pdf("warranties/document.html", document_context(warranty))


def document_context(warranty: Warranty) -> dict[str, Any]:
    """What the document is made from; nothing in it comes from after the issue day."""
    terms, company = terms_of(warranty), the_company()
    house, walls = warranty.system.property, list(warranty.system.walls.all())
    parts = drawn_parts(system=warranty.system, on=warranty.issued_on)
    numbers = {row.kind: row.number for row in legend(parts)}
    first_in = {part.part_kind: part.in_on for part in _installed(warranty)}
    promised = [_promised(promise, warranty, numbers, first_in) for promise in terms.promises]
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


def _promised(promise: Promise, warranty: Warranty, numbers: dict[str, int], first_in: dict[str, date]) -> PromisedPart:
    from_on = warranty.issued_on
    if promise.starts == "component":
        from_on = first_in.get(promise.part_kind, from_on)
    return PromisedPart(
        number=numbers.get(promise.part_kind, 0),
        word=kind_of(promise.part_kind).word,
        promise=promise,
        from_on=from_on,
        through_on=add_months(from_on, promise.months) if promise.months is not None else None,
        full_through_on=add_months(from_on, promise.full_months) if promise.full_months is not None else None,
        life=LIFE_WORDS[promise.life_of or "product"] if promise.months is None else "",
    )


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
