"""The letter that tells an owner what was decided about a claim: its facts, and the PDF made from nothing else.

What it says of deadlines and rights is ours to word and a lawyer's to read before it goes to anybody.
"""

import hashlib
from collections.abc import Mapping, Sequence
from datetime import date, datetime
from decimal import Decimal
from fractions import Fraction
from typing import Any

from contractor.accounts.queries import the_company
from contractor.checkups.models import CheckUp
from contractor.core import clock
from contractor.notices.printing import render_pdf
from contractor.systems.models import Component
from contractor.warranties.certificate_lines import percent
from contractor.warranties.claim_record import LossRecord, cause_in_words, claimant, loss_record, ruled_claim
from contractor.warranties.claim_tables import ClaimAppeal
from contractor.warranties.frozen_facts import fingerprint
from contractor.warranties.models import Claim
from contractor.warranties.printed_codes import display_warranty_number
from contractor.warranties.queries import terms_of
from contractor.warranties.rules.claim_clauses import clauses_relied_on
from contractor.warranties.rules.claims import Decision, Judgement, Outcome
from contractor.warranties.rules.plain_data import to_data
from contractor.warranties.rules.wording import day_in_words

LETTERHEAD = ("name", "legal_name", "street", "city", "state", "postcode", "phone", "email")
DAYS = ("lost_on", "reported_on", "issued_on", "decided_on", "appeal_by")


def letter_facts(
    claim: Claim,
    decision: Decision,
    judgement: Judgement | None,
    *,
    decided_by: str,
    at: datetime,
    appeal_by: date | None,
    appeal: ClaimAppeal | None = None,
) -> dict[str, Any]:
    """Everything the letter says, as JSON data: days as ISO 8601 text, amounts as text."""
    record, terms = loss_record(claim), terms_of(claim.warranty)
    voided_on = claim.warranty.voided_on
    clauses = clauses_relied_on(
        terms,
        ruled_claim(claim, claim.cost or Decimal(0)),
        decision,
        voided_clause=claim.warranty.voided_clause if voided_on is not None and voided_on <= claim.lost_on else "",
    )
    return {
        "company": letterhead(),
        "owner": addressee(claim),
        "house": claim.warranty.system.property.address_line,
        "street": claim.warranty.system.property.street_line,
        "system": claim.warranty.system.name,
        "warranty": display_warranty_number(claim.warranty.number),
        "terms": terms.title,
        "edition": terms.edition,
        "issued_on": claim.warranty.issued_on.isoformat(),
        "part": claim.get_part_kind_display(),
        "lost_on": claim.lost_on.isoformat(),
        "reported_on": claim.reported_on.isoformat(),
        "what": claim.what,
        "cause": cause_in_words(claim),
        **_amounts(claim, decision),
        "lines": list(decision.lines),
        "clauses": [to_data(clause) for clause in clauses],
        "record": _record(claim, record),
        "judgement": to_data(judgement) if judgement is not None else None,
        "appeal": _appeal(claim, appeal) if appeal is not None else None,
        "appeal_by": appeal_by.isoformat() if appeal_by is not None else None,
        "rights": terms.rights_sentence,
        "decided_by": decided_by,
        "decided_on": clock.day_of(at).isoformat(),
        "decided_at": at.isoformat(),
    }


def letter_pdf(facts: Mapping[str, Any], facts_sha256: str) -> bytes:
    """The letter, tagged (PDF/UA-1); the same facts give the same bytes."""
    words = {name: date.fromisoformat(facts[name]) if facts[name] else None for name in DAYS}
    appeal = facts["appeal"]
    return render_pdf(
        "warranties/claim_letter.html",
        {
            "facts": facts,
            "company": facts["company"],
            **words,
            "is_covered": facts["outcome"] == Outcome.COVERED.value,
            "received_on": date.fromisoformat(appeal["received_on"]) if appeal else None,
            "checkups": [{**one, "on": date.fromisoformat(one["on"])} for one in facts["record"]["checkups"]],
            "fingerprint": fingerprint(facts_sha256),
        },
        pdf_identifier=hashlib.sha256(facts_sha256.encode()).digest()[:16],
    )


def letterhead() -> dict[str, str]:
    """What the letterhead shows, as it was on the day of the letter."""
    company = the_company()
    return {name: str(getattr(company, name)) for name in LETTERHEAD}


def addressee(claim: Claim) -> dict[str, Any]:
    """Whoever owned the house when the loss was reported, and where their post goes."""
    ownership = claimant(claim)
    house = claim.warranty.system.property
    at_the_house = [house.street_line, f"{house.city}, {house.state} {house.postcode}"]
    if ownership is None:
        return {"name": "The owner", "lines": at_the_house}
    elsewhere = [line.strip() for line in ownership.person.mail_address.splitlines() if line.strip()]
    return {"name": ownership.person.name, "lines": elsewhere or at_the_house}


def _amounts(claim: Claim, decision: Decision) -> dict[str, str]:
    cost = claim.cost or Decimal(0)
    return {
        "outcome": decision.outcome.value,
        "cost": f"{cost:.2f}",
        "share": percent(Fraction(decision.contractor_share)),
        "contractor_pays": f"{decision.contractor_pays:.2f}",
        "owner_share": f"{cost - decision.contractor_pays:.2f}",
        "callout_fee": f"{decision.callout_fee:.2f}",
        "owner_pays": f"{decision.owner_pays:.2f}",
    }


def _record(claim: Claim, record: LossRecord) -> dict[str, Any]:
    parts = [claim.component] if claim.component is not None else record.choices
    return {
        "reasons": list(record.standing.reasons) if record.standing is not None else [],
        "parts": [_part(part) for part in parts],
        "checkups": sorted(_checkups(record), key=lambda one: one["on"], reverse=True),
        "findings": [finding.what for finding in record.findings],
        "photos": claim.photos.count(),
        "questions": [
            {"words": one.words, "answer": one.answer}
            for one in claim.questions.all()
            if one.answered_at is not None
        ],
    }


def _part(part: Component) -> str:
    serial = f"serial number {part.serial_number}" if part.serial_number else ""
    since = f"in since {day_in_words(part.in_on)}"
    words = ", ".join(word for word in (str(part.model or ""), serial, since) if word)
    return words[0].upper() + words[1:]


def _checkups(record: LossRecord) -> Sequence[dict[str, str]]:
    own = [{"on": done.done_on.isoformat(), "words": _own_checkup(done)} for done in record.checkups]
    others = [
        {
            "on": done.done_on.isoformat(),
            "words": "by us, on paper" if done.by_us else f"by {done.provider}, whose record we accepted",
        }
        for done in record.outside_records
    ]
    return [*own, *others]


def _own_checkup(done: CheckUp) -> str:
    is_passed = done.is_passed  # type: ignore[attr-defined]  # annotated
    return "by us, nothing left open" if is_passed else "by us, something found was left open"


def _appeal(claim: Claim, appeal: ClaimAppeal) -> dict[str, Any]:
    """What the owner wrote, what the second person says to it, and what had been decided first."""
    return {
        "received_on": appeal.received_on.isoformat(),
        "words": appeal.words,
        "because": appeal.because,
        "first": {
            "outcome": claim.outcome,
            "contractor_pays": f"{claim.contractor_pays:.2f}",
            "owner_pays": f"{claim.owner_pays:.2f}",
            "decided_by": claim.decided_by.name if claim.decided_by is not None else "",
        },
    }
