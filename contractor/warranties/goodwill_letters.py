"""The letter that tells an owner what a manager gives beyond the terms: its facts, and the PDF made from nothing else.

A lawyer should read what it says before it goes to anybody, as GOODWILL_WORDS of the rules: that it is given freely,
admits nothing, changes nothing in the warranty, and takes no right away.
"""

import hashlib
from collections.abc import Mapping
from datetime import date, datetime
from typing import Any

from contractor.core import clock
from contractor.notices.printing import render_pdf
from contractor.warranties.claim_letters import addressee, letterhead
from contractor.warranties.claim_money import Goodwill
from contractor.warranties.frozen_facts import fingerprint
from contractor.warranties.models import Claim
from contractor.warranties.printed_codes import display_warranty_number
from contractor.warranties.queries import terms_of

DAYS = ("lost_on", "decided_on", "given_on", "appeal_by")


def goodwill_facts(claim: Claim, given: Goodwill, *, at: datetime, appeal_by: date | None) -> dict[str, Any]:
    """Everything the letter says, as JSON data: days as ISO 8601 text, amounts as text.

    ``appeal_by`` is the last day on which the decision itself may still be appealed, None when it no longer may.
    """
    return {
        "company": letterhead(),
        "owner": addressee(claim),
        "house": claim.warranty.system.property.address_line,
        "street": claim.warranty.system.property.street_line,
        "warranty": display_warranty_number(claim.warranty.number),
        "part": claim.get_part_kind_display(),
        "lost_on": claim.lost_on.isoformat(),
        "decided_on": clock.day_of(claim.decided_at or at).isoformat(),
        "outcome": claim.outcome,
        "contractor_pays": f"{claim.contractor_pays or 0:.2f}",
        "owner_pays": f"{claim.owner_pays or 0:.2f}",
        "amount": f"{given.amount:.2f}",
        "because": given.because,
        "words": given.words,
        "rights": terms_of(claim.warranty).rights_sentence,
        "appeal_by": appeal_by.isoformat() if appeal_by is not None else None,
        "given_by": given.given_by.name,
        "given_on": clock.day_of(at).isoformat(),
        "given_at": at.isoformat(),
    }


def goodwill_pdf(facts: Mapping[str, Any], facts_sha256: str) -> bytes:
    """The letter on one page; the same facts give the same bytes."""
    words = {name: date.fromisoformat(facts[name]) if facts[name] else None for name in DAYS}
    return render_pdf(
        "warranties/goodwill_letter.html",
        {"facts": facts, "company": facts["company"], **words, "fingerprint": fingerprint(facts_sha256)},
        pdf_identifier=hashlib.sha256(facts_sha256.encode()).digest()[:16],
    )
