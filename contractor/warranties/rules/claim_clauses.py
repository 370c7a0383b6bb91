"""Which clause of the terms a decision rests on, in the words of the edition that was issued."""

from dataclasses import dataclass

from contractor.warranties.rules.claims import Claim, Decision, Ground
from contractor.warranties.rules.terms import Promise, Terms
from contractor.warranties.rules.wording import (
    LIFE_WORDS,
    count_in_words,
    list_in_words,
    money_in_words,
    part_in_words,
)

# What a person must show before missing care counts against an owner; see rules.claims.
LAW_ON_MISSING_CARE = (
    "Federal law lets a company refuse for missing care only where it can show that the missing care caused the loss "
    "(15 U.S.C. 2304(c), 16 CFR 700.10(c))."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Clause:
    """A place in the terms, as its heading there, and what it says."""

    heading: str
    words: str


def clauses_relied_on(terms: Terms, claim: Claim, decision: Decision, *, voided_clause: str = "") -> tuple[Clause, ...]:
    """The clauses behind a decision, the one that decided first; ``voided_clause`` is that of a void warranty."""
    promise = terms.promise_for(claim.part_kind)
    if promise is None:
        kinds = list_in_words([part_in_words(one.part_kind) for one in terms.promises])
        words = f"The terms make promises for: {kinds}. No other part is named."
        return (Clause(heading="What we promise", words=words),)
    part = part_in_words(claim.part_kind)
    promised = Clause(heading=f"The promise for the {part}", words=_promise_words(promise, terms))
    if decision.ground is Ground.EXCLUSION:
        sentence = next(one.sentence for one in terms.exclusions if one.code == claim.cause)
        return (Clause(heading="What is not covered", words=sentence), promised)
    if decision.ground is Ground.MISSING_CARE:
        care = Clause(heading="The yearly check-up", words=f"{terms.care_words} {LAW_ON_MISSING_CARE}".strip())
        return (care, promised)
    if decision.ground is Ground.COVER and voided_clause:
        return (Clause(heading="The clause by which it is void", words=voided_clause), promised)
    if decision.ground is Ground.PROMISE:
        return (promised, Clause(heading="What we do, and who pays", words=_remedy_words(terms)))
    return (promised,)


def _promise_words(promise: Promise, terms: Terms) -> str:
    if promise.months is None:
        lasts = f"It holds {LIFE_WORDS[promise.life_of or 'product']}."
    else:
        start = "the day this part was put in" if promise.starts == "component" else "the day of issue"
        lasts = f"It holds for {count_in_words(promise.months, 'month')} from {start}."
        if promise.full_months is not None:
            lasts += (
                f" We bear all of a repair for the first {count_in_words(promise.full_months, 'month')}; from then on "
                "our share falls evenly to nothing at the end."
            )
    fee = money_in_words(promise.callout_fee, terms.jurisdiction)
    fee = f" The call-out fee is {fee}." if promise.callout_fee else ""
    return f"{promise.covers} {lasts}{fee}".strip()


def _remedy_words(terms: Terms) -> str:
    unpaid = " ".join(terms.not_paid)
    return f"{terms.remedy} We do not pay: {unpaid}" if unpaid else terms.remedy
