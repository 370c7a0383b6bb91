"""The certificate: what is frozen on the day of issue, and the page made from that and nothing else.

The same frozen facts give the same bytes for ever: identifier, dates and attachment come from the facts as well.
"""

import re
from collections.abc import Mapping
from datetime import UTC, date, datetime
from typing import Any

import segno
from django.utils.safestring import SafeString, mark_safe
from weasyprint import Attachment

from contractor.accounts.models import Company
from contractor.accounts.queries import the_company
from contractor.core import audit
from contractor.core.units import shown
from contractor.estimates.queries import drawn_parts
from contractor.notices.printing import render_pdf
from contractor.properties.models import Ownership, Property
from contractor.systems.drawing import DrawnPart, legend, section_drawing
from contractor.warranties.archive_metadata import accessible_archive
from contractor.warranties.certificate_lines import care_lines, promise_lines, standing_sentence, transfer_lines
from contractor.warranties.disclosure_lines import disclosure_lines
from contractor.warranties.frozen_facts import FrozenFacts, fingerprint, freeze
from contractor.warranties.models import Claim, Transfer, Warranty
from contractor.warranties.numbers import display_number
from contractor.warranties.printed_codes import display_warranty_number
from contractor.warranties.queries import facts_of, overall_cover, standings_under, terms_of
from contractor.warranties.rules.plain_data import facts_to_data, terms_to_data
from contractor.warranties.rules.terms import Terms

FORMAT = "warranty certificate 1"
ISO_DAY = re.compile(r"\d{4}-\d{2}-\d{2}")
NOT_INSURANCE = "This is a limited warranty, not insurance and not an inspection."
NOT_INSURANCE_FULL = "This is a warranty, not insurance and not an inspection."
HASH_SYMBOLS = 16


def certificate_facts(
    *,
    warranty: Warranty,
    holder: Ownership,
    transfer: Transfer | None,
    names: Mapping[str, str],
    on: date,
    at: datetime,
) -> dict[str, Any]:
    """Everything that a certificate says, as plain data without a float; days are ISO 8601 text.

    ``names`` are the certificate's own: number, check_code, check_url, check_page, supersedes.
    """
    terms, facts = terms_of(warranty), facts_of(warranty)
    house = warranty.system.property
    company = the_company()
    promises = standings_under(terms=terms, facts=facts, on=on)
    parts = drawn_parts(system=warranty.system, on=on)
    limits = [block for block in (terms.implied_limit, terms.consequential) if block is not None]
    return {
        "format": FORMAT,
        **names,
        "number_printed": display_number(names["number"]),
        "issued_on": on.isoformat(),
        "issued_at": at.astimezone(UTC).isoformat(timespec="seconds"),
        "company": _company(company),
        "warranty": _warranty(warranty, terms),
        "house": _house(house),
        "system": {"name": warranty.system.name, "installed_on": warranty.system.installed_on.isoformat()},
        "owner": {"name": holder.person.name, "since": holder.from_on.isoformat()},
        "previous_owner": initials(transfer.seller.person.name) if transfer is not None else "",
        "cover": overall_cover(one.standing for one in promises).value,
        "care": promises[0].standing.care.value,
        "sentence": standing_sentence(terms=terms, promises=promises, transfer=transfer, on=on),
        "promises": promise_lines(terms=terms, facts=facts, promises=promises, parts=parts, on=on),
        "walls": _walls(warranty, company),
        "parts": [
            {"kind": part.kind, "label": part.label, "condition": part.condition, "note": part.note} for part in parts
        ],
        "transfer": transfer_lines(warranty=warranty, terms=terms, facts=facts, transfer=transfer),
        "care_record": care_lines(warranty=warranty, terms=terms, facts=facts, on=on),
        "open_claims": _open_claims(warranty),
        "disclosure": disclosure_lines(warranty=warranty, company=company.legal_name, licence=company.licence, on=on),
        "claim_steps": list(terms.claim_steps),
        "prescribed": [*(block.sentence for block in limits), terms.rights_sentence],
        "limits": [block.text for block in limits],
        "nature": NOT_INSURANCE if terms.designation == "LIMITED" else NOT_INSURANCE_FULL,
        "facts": facts_to_data(facts),
        "record_head": audit.head(house.pk),
    }


def initials(name: str) -> str:
    """A name by its first letters, so that a paper doesn't carry the seller's name on: "I. H."."""
    words = [word for word in re.split(r"[\s\-]+", name) if word[:1].isupper()]
    return " ".join(f"{word[0]}." for word in words)


def certificate_pdf(frozen: FrozenFacts, facts: Mapping[str, Any]) -> bytes:
    """The one page as PDF/A-3a and PDF/UA-1, not signed yet, with its facts attached as ``certificate.json``.

    What doesn't fit the page in the usual setting is set closer.
    """
    body, pages = _set(frozen, facts, is_tight=False)
    return body if pages == 1 else _set(frozen, facts, is_tight=True)[0]


def _set(frozen: FrozenFacts, facts: Mapping[str, Any], *, is_tight: bool) -> tuple[bytes, int]:
    """The document in one of two settings, and how many pages it takes."""
    issued_at = datetime.fromisoformat(facts["issued_at"])
    attachment = Attachment(
        string=frozen.body,
        name="certificate.json",
        description="The facts of this certificate as canonical JSON (RFC 8785)",
        created=issued_at,
        modified=issued_at,
        relationship="Data",
    )
    pages = 0
    mark = accessible_archive(frozen.sha256)

    def finish(document: Any, pdf: Any) -> None:
        nonlocal pages
        pages = len(document.pages)
        mark(document, pdf)

    body = render_pdf(
        "warranties/certificate.html",
        {**certificate_context(frozen.sha256, facts), "is_tight": is_tight},
        pdf_variant="pdf/a-3a",
        pdf_identifier=bytes.fromhex(frozen.sha256[:32]),
        attachments=[attachment],
        finisher=finish,
    )
    return body, pages


def certificate_context(sha256: str, facts: Mapping[str, Any]) -> dict[str, Any]:
    """What the page is made from: the facts with days as dates, the drawing, the QR code, the fingerprint."""
    parts = [DrawnPart(**part) for part in facts["parts"]]
    walls = [f"{wall['letter']} {wall['name']}" for wall in facts["walls"]]
    printed = _with_days(facts)
    covered = [line for line in printed["promises"] if line["cover"] in {"in_force", "suspended"}]
    return {
        "company": facts["company"],
        "certificate": printed,
        "issued_moment": datetime.fromisoformat(facts["issued_at"]),
        "drawing": _drawing(parts, walls, facts),
        "covered": covered,
        "ended": [line for line in printed["promises"] if line not in covered],
        "conditions": list(dict.fromkeys(row.condition for row in legend(parts))),
        "qr_code": qr_code(facts["check_url"]),
        "fingerprint": fingerprint(sha256),
        "record_head": facts["record_head"][:HASH_SYMBOLS],
    }


def qr_code(address: str) -> str:
    """The address as a QR code (ISO/IEC 18004): error correction Q or better, quiet zone of 4, as a data URI."""
    return str(segno.make(address, error="q", micro=False).svg_data_uri(scale=4, border=4, dark="#17232b"))


def _drawing(parts: list[DrawnPart], walls: list[str], facts: Mapping[str, Any]) -> SafeString:
    svg = section_drawing(
        parts,
        title=f"The system at {facts['house']['street_line']}",
        description="A section through the basement with every part that is installed; not to scale.",
        walls=walls,
        prefix="certificate",
        compact=True,
    )
    return mark_safe(svg)  # noqa: S308  # the drawing escapes every label itself


def _with_days(value: Any) -> Any:
    """The same data with days as dates, for the filters of the page."""
    if isinstance(value, Mapping):
        return {key: _with_days(item) for key, item in value.items()}
    if isinstance(value, list):
        return [_with_days(item) for item in value]
    if isinstance(value, str) and ISO_DAY.fullmatch(value):
        return date.fromisoformat(value)
    return value


def _warranty(warranty: Warranty, terms: Terms) -> dict[str, str]:
    return {
        "number": warranty.number,
        "number_printed": display_warranty_number(warranty.number),
        "title": terms.title,
        "designation": terms.designation,
        "edition": terms.edition,
        "issued_on": warranty.issued_on.isoformat(),
        "terms_sha256": freeze(terms_to_data(terms)).sha256,
    }


def _company(company: Company) -> dict[str, str]:
    names = ("name", "legal_name", "licence", "street", "city", "state", "postcode", "country", "phone", "email")
    return {name: str(getattr(company, name)) for name in names}


def _house(house: Property) -> dict[str, str]:
    names = ("street_line", "city", "state", "postcode", "country")
    return {name: str(getattr(house, name)) for name in names}


def _walls(warranty: Warranty, company: Company) -> list[dict[str, Any]]:
    unit = "ft" if company.units == Company.Units.US else "m"
    return [
        {
            "letter": wall.letter,
            "name": wall.name,
            "length": shown(wall.length_m, unit),
            "length_mm": round(wall.length_m * 1000),
            "has_channel": wall.has_channel,
            "has_liner": wall.has_liner,
        }
        for wall in warranty.system.walls.all()
    ]


def _open_claims(warranty: Warranty) -> list[dict[str, str]]:
    """Claims that are not decided yet are shown, not hidden; what was said in them stays with the office."""
    return [
        {
            "part": claim.get_part_kind_display(),
            "lost_on": claim.lost_on.isoformat(),
            "reported_on": claim.reported_on.isoformat(),
        }
        for claim in warranty.claims.filter(state=Claim.State.REPORTED).order_by("reported_on", "pk")
    ]
