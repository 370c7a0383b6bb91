"""What the owner is told about a claim: once per occasion, and only whoever owned the house when it was reported."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from contractor.core import clock
from contractor.core.audit import Actor
from contractor.notices.actions import queue_notice
from contractor.warranties.claim_money import Goodwill
from contractor.warranties.claim_record import claimant
from contractor.warranties.claim_tables import ClaimAppeal, ClaimLetter, ClaimQuestion
from contractor.warranties.models import Claim
from contractor.warranties.rules.claims import Outcome


def tell_asked(claim: Claim, question: ClaimQuestion, *, by: Actor, at: datetime) -> None:
    """The office has a question before it decides."""
    _tell(claim, f"claim question:{question.pk}", "claim_question", {"question": question}, by=by, at=at)


def tell_decided(claim: Claim, letter: ClaimLetter, *, by: Actor, at: datetime) -> None:
    """The claim is decided; how to appeal stands in the message as it stands in the letter."""
    _tell(claim, f"claim decided:{claim.pk}", "claim_decided", _decision_words(claim, letter), by=by, at=at)


def tell_appeal_received(claim: Claim, appeal: ClaimAppeal, *, by: Actor, at: datetime) -> None:
    """The appeal came in, and somebody else looks at it."""
    _tell(claim, f"claim appeal received:{appeal.pk}", "claim_appeal_received", {"appeal": appeal}, by=by, at=at)


def tell_appeal_decided(claim: Claim, letter: ClaimLetter, *, by: Actor, at: datetime) -> None:
    """The appeal is decided."""
    words = {**_decision_words(claim, letter), "appeal": letter.appeal}
    _tell(claim, f"claim appeal decided:{letter.appeal_id}", "claim_appeal_decided", words, by=by, at=at)


def tell_goodwill(claim: Claim, letter: ClaimLetter, *, by: Actor, at: datetime) -> None:
    """Something is given beyond the terms; its letter says what and why."""
    words = {"given": letter.goodwill, "letter": letter}
    _tell(claim, f"claim goodwill:{letter.goodwill_id}", "claim_goodwill", words, by=by, at=at)


def tell_goodwill_taken_back(claim: Claim, counter: Goodwill, *, by: Actor, at: datetime) -> None:
    """What was given by mistake is taken back; whoever was told of it hears that too."""
    given = counter.undoes
    if given is None or not ClaimLetter.objects.filter(goodwill=given).exists():
        return
    words = {"given": given, "given_on": clock.day_of(given.given_at), "because": counter.because}
    _tell(claim, f"claim goodwill taken back:{given.pk}", "claim_goodwill_taken_back", words, by=by, at=at)


def _decision_words(claim: Claim, letter: ClaimLetter) -> dict[str, Any]:
    return {"letter": letter, "is_covered": claim.outcome == Outcome.COVERED.value, "lines": letter.facts["lines"]}


def _tell(
    claim: Claim, occasion: str, template: str, words: Mapping[str, Any], *, by: Actor, at: datetime
) -> None:
    """``has_page`` is False for somebody who sold the house since: their link opens nothing any more."""
    ownership = claimant(claim)
    if ownership is None:
        return
    queue_notice(
        occasion=occasion,
        template=template,
        person=ownership.person,
        property=claim.warranty.system.property,
        context={
            "claim": claim,
            "part": claim.get_part_kind_display(),
            "has_page": ownership.until_on is None,
            **words,
        },
        by=by,
        at=at,
    )
