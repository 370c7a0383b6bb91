"""Claims: was this part covered on the day of the loss, and who pays what.

Where care had a gap while the part was in service, the question is whether the missing care caused the loss. A
person answers it, with evidence, name, day and reason; the contractor has to show it (15 U.S.C. 2304(c),
16 CFR 700.10(c)), so without proof the loss is covered.
"""

from dataclasses import dataclass
from datetime import date
from decimal import ROUND_HALF_EVEN, Decimal
from enum import StrEnum
from fractions import Fraction

from contractor.warranties.rules.care import Gap, care_on
from contractor.warranties.rules.counting import ONE_DAY, completed_months
from contractor.warranties.rules.cover import ComponentTerm, Cover, CoverOn, component_terms, cover_on, promised
from contractor.warranties.rules.facts import Facts
from contractor.warranties.rules.reasons import cover_reasons
from contractor.warranties.rules.terms import CENT, Exclusion, Promise, Terms, refuse_bad_amount
from contractor.warranties.rules.wording import (
    count_in_words,
    day_in_words,
    list_in_words,
    money_in_words,
    part_in_words,
    through_in_words,
)

SHARE_STEP = Decimal("0.000001")


class Outcome(StrEnum):
    """What the record says about a claim."""

    COVERED = "covered"
    NOT_COVERED = "not_covered"
    NEEDS_JUDGEMENT = "needs_judgement"

    @property
    def word(self) -> str:
        """The outcome as people read it."""
        return {"needs_judgement": "needs a judgement"}.get(self.value, self.value.replace("_", " "))


class Ground(StrEnum):
    """What a decision rests on, by which the clause of the terms is found."""

    PROMISE = "promise"
    NO_PROMISE = "no_promise"
    NO_PART = "no_part"
    COVER = "cover"
    EXCLUSION = "exclusion"
    MISSING_CARE = "missing_care"


@dataclass(frozen=True, slots=True, kw_only=True)
class Claim:
    """A failure as reported. ``cost`` is that of the repair, in dollars.

    ``cause`` is the code of one of the terms' exclusions, or any other word where none applies. ``in_on`` is the day
    on which the failed component was put in, for when several of its kind carry different terms.
    """

    part_kind: str
    lost_on: date
    reported_on: date
    cost: Decimal
    cause: str
    in_on: date | None = None

    def __post_init__(self) -> None:
        refuse_bad_amount(self.cost, "The cost of a claim")
        if self.reported_on < self.lost_on:
            raise ValueError(f"A loss on {self.lost_on} cannot be reported on {self.reported_on}, before it happened.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Judgement:
    """A person's answer to whether missing care caused a loss, with the evidence it rests on."""

    caused_by_missing_care: bool
    evidence: str
    by: str
    on: date
    because: str

    def __post_init__(self) -> None:
        if not self.by.strip() or not self.because.strip():
            raise ValueError("A judgement needs the name of the person who made it, and a reason.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Decision:
    """What the record says, with the arithmetic in words.

    ``owner_pays`` and ``contractor_pays`` add up exactly to the cost plus ``callout_fee``. While the outcome needs
    a judgement, ``question`` is what a person must answer, and the amounts are those of an answer in the owner's
    favour. ``contractor_share`` is rounded to six places for show; the amounts come from the exact share.
    """

    outcome: Outcome
    contractor_share: Decimal
    owner_pays: Decimal
    contractor_pays: Decimal
    callout_fee: Decimal
    lines: tuple[str, ...]
    ground: Ground
    question: str = ""


def exact_share(promise: Promise, months_passed: int) -> Fraction:
    """The contractor's share of a repair after so many completed months, from 1 down to 0.

    All of it until ``full_months``; from there to ``months`` it falls linearly to nothing, without a jump:
    (months - passed) / (months - full_months). Source: the combination rebate of Blischke and Murthy, "Warranty Cost
    Analysis", 1994, chapter 4 (from memory).
    """
    if promise.months is None or promise.full_months is None or months_passed < promise.full_months:
        return Fraction(1)
    return Fraction(max(promise.months - months_passed, 0), promise.months - promise.full_months)


def to_cents(amount: Fraction) -> Decimal:
    """An exact amount rounded half-even to cents."""
    return (Decimal(round(amount * 100)) * CENT).quantize(CENT)


def share_examples(promise: Promise) -> tuple[tuple[int, Fraction], ...]:
    """Three points of a falling share, for the table printed in the terms: months passed and the share then.

    The last month at full cost, half-way down, and the last month before the end; empty when the share never falls.
    """
    if promise.months is None or promise.full_months is None:
        return ()
    points = (promise.full_months, (promise.full_months + promise.months) // 2, promise.months - 1)
    return tuple((months, exact_share(promise, months)) for months in dict.fromkeys(points))


def decide_claim(terms: Terms, facts: Facts, claim: Claim, judgement: Judgement | None = None) -> Decision:
    """Decide a claim from the record: cover on the day of loss, exclusions, care, then the shares."""
    lines = [_report_line(claim)]
    promise = terms.promise_for(claim.part_kind)
    if promise is None:
        no_promise = f"The terms make no promise for the {part_in_words(claim.part_kind)}."
        return _not_covered(terms, claim, Ground.NO_PROMISE, lines, no_promise)
    lost, which = _lost_components(terms, facts, promise, claim)
    if not lost:
        no_part = f"No {part_in_words(claim.part_kind)} was in place on that day."
        return _not_covered(terms, claim, Ground.NO_PART, lines, no_part)
    covers = [_cover_of(terms, facts, term, claim.lost_on) for term in lost]
    shares = [_share_of(promise, cover, claim.lost_on) for cover in covers]
    # Until it is known which one failed, the figures are those of the one that is best for the owner.
    best = max(range(len(lost)), key=lambda place: (covers[place].cover is Cover.IN_FORCE, shares[place]))
    cover, share, term = covers[best], shares[best], lost[best]
    if cover.cover is not Cover.IN_FORCE:
        return _not_covered(terms, claim, Ground.COVER, lines, *_cover_lines(facts, cover, claim.lost_on))
    lines += _cover_lines(facts, cover, claim.lost_on)
    exclusion = _exclusion_for(terms, claim)
    if exclusion is not None:
        excluded = f"Not covered by these terms: {exclusion.sentence}"
        return _not_covered(terms, claim, Ground.EXCLUSION, lines, excluded)
    gaps = gaps_in_service(terms, facts, term, claim.lost_on)
    question = ""
    if which and len({(one.cover, each) for one, each in zip(covers, shares, strict=True)}) > 1:
        question = which
    elif gaps:
        lines += [_gap_line(gap, claim.lost_on) for gap in gaps]
        if judgement is None:
            question = _care_question(claim, gaps)
        elif judgement.caused_by_missing_care and judgement.evidence.strip():
            return _not_covered(terms, claim, Ground.MISSING_CARE, lines, _judgement_line(judgement))
        else:
            lines.append(_judgement_line(judgement))
    return _covered(terms=terms, claim=claim, term=term, share=share, lines=lines, question=question)


def _lost_components(
    terms: Terms, facts: Facts, promise: Promise, claim: Claim
) -> tuple[tuple[ComponentTerm, ...], str]:
    """The components that may have failed, and the question to ask when there are several."""
    every = component_terms(terms, facts, promise.part_kind, claim.lost_on)
    if claim.in_on is not None:
        return tuple(term for term in every if _had(term, claim) and term.component.in_on == claim.in_on), ""
    there = tuple(term for term in every if _had(term, claim))
    # On the day of a swap it is the old part that failed, not the one that came in its place.
    older = tuple(term for term in there if term.component.in_on < claim.lost_on)
    lost = older or there
    part = part_in_words(promise.part_kind)
    days = list_in_words([day_in_words(term.component.in_on) for term in lost], last="or")
    return lost, f"Which {part} failed: the one put in on {days}?" if len(lost) > 1 else ""


def _had(term: ComponentTerm, claim: Claim) -> bool:
    out_on = term.component.out_on
    return term.component.in_on <= claim.lost_on and (out_on is None or claim.lost_on <= out_on)


def _cover_of(terms: Terms, facts: Facts, term: ComponentTerm, on: date) -> CoverOn:
    """Cover on a day of one component alone, as if it had still been in service at the end of that day."""
    part = term.component
    out_on = None if part.out_on == on else part.out_on
    alone = Facts(
        issued_on=facts.issued_on,
        components=(type(part)(part_kind=part.part_kind, in_on=part.in_on, out_on=out_on),),
        checkups=facts.checkups,
        transfers=facts.transfers,
        waivers=facts.waivers,
        voided_on=facts.voided_on,
        voided_because=facts.voided_because,
    )
    return cover_on(terms, alone, part.part_kind, on, care_on(terms.care, facts, on))


def _share_of(promise: Promise, cover: CoverOn, on: date) -> Fraction:
    if cover.cover is not Cover.IN_FORCE:
        return Fraction(0)
    return exact_share(promise, completed_months(cover.terms[0].counted_from_on, on))


def _exclusion_for(terms: Terms, claim: Claim) -> Exclusion | None:
    return next((exclusion for exclusion in terms.exclusions if exclusion.code == claim.cause), None)


def gaps_in_service(terms: Terms, facts: Facts, term: ComponentTerm, lost_on: date) -> tuple[Gap, ...]:
    """The gaps in care, up to a day of loss, while this component was in service."""
    gaps = care_on(terms.care, facts, lost_on).gaps
    return tuple(gap for gap in gaps if gap.until_on > term.component.in_on and gap.days > 0)


def _not_covered(terms: Terms, claim: Claim, ground: Ground, lines: list[str], *because: str) -> Decision:
    return Decision(
        outcome=Outcome.NOT_COVERED,
        contractor_share=Decimal(0),
        owner_pays=claim.cost.quantize(CENT),
        contractor_pays=Decimal("0.00"),
        callout_fee=Decimal("0.00"),
        ground=ground,
        lines=(*lines, *because, f"The owner pays the repair of {money_in_words(claim.cost, terms.jurisdiction)}."),
    )


def _covered(
    *, terms: Terms, claim: Claim, term: ComponentTerm, share: Fraction, lines: list[str], question: str
) -> Decision:
    promise = promised(terms, claim.part_kind)
    fee = Decimal("0.00") if terms.designation == "FULL" else promise.callout_fee
    contractor_pays = to_cents(Fraction(claim.cost) * share)
    owner_pays = claim.cost - contractor_pays + fee
    cost, ours, theirs, call_out = (
        money_in_words(amount, terms.jurisdiction)
        for amount in (claim.cost, contractor_pays, claim.cost - contractor_pays, fee)
    )
    amounts = [
        *_share_lines(promise, claim, term, share),
        f"Repair {cost}: the company pays {ours}, the owner {theirs}.",
    ]
    if fee:
        amounts.append(f"The owner also pays the call-out fee of {call_out}.")
    if question:
        amounts.insert(0, "The figures below hold if the question is answered in the owner's favor.")
    return Decision(
        outcome=Outcome.NEEDS_JUDGEMENT if question else Outcome.COVERED,
        contractor_share=(Decimal(share.numerator) / Decimal(share.denominator)).quantize(
            SHARE_STEP, rounding=ROUND_HALF_EVEN
        ),
        owner_pays=owner_pays,
        contractor_pays=contractor_pays,
        callout_fee=fee,
        ground=Ground.PROMISE,
        lines=(*lines, *amounts),
        question=question,
    )


def _report_line(claim: Claim) -> str:
    days = (claim.reported_on - claim.lost_on).days
    when = "the same day" if days == 0 else f"{count_in_words(days, 'day')} later"
    return f"The loss happened on {day_in_words(claim.lost_on)} and was reported {when}."


def _cover_lines(facts: Facts, cover: CoverOn, lost_on: date) -> list[str]:
    """The sentence on the term, and the state of cover it amounts to on the day of loss."""
    words = {
        Cover.IN_FORCE: "Cover was in force on that day.",
        Cover.SUSPENDED: "Cover was suspended on that day.",
        Cover.ENDED: "Cover had ended by that day.",
        Cover.VOID: "The warranty was void on that day.",
        Cover.NOT_STARTED: "Cover had not started on that day.",
    }
    return [*cover_reasons(facts, cover, lost_on), words[cover.cover]]


def _share_lines(promise: Promise, claim: Claim, term: ComponentTerm, share: Fraction) -> list[str]:
    if promise.months is None or promise.full_months is None:
        return ["The company bears all of the repair for as long as the promise holds."]
    passed = completed_months(term.counted_from_on, claim.lost_on)
    start = f"{count_in_words(passed, 'full month')} had passed since {day_in_words(term.counted_from_on)}"
    if passed < promise.full_months:
        return [f"{start}; the company bears all of the repair for the first {promise.full_months}."]
    percent = f"{float(share * 100):.2f} %"
    left, span = promise.months - passed, promise.months - promise.full_months
    return [
        f"{start}. From month {promise.full_months} to month {promise.months} the company's share falls evenly to "
        f"nothing: {left} of {span} months are left, so the company bears {percent}."
    ]


def _gap_line(gap: Gap, lost_on: date) -> str:
    last_on = gap.until_on - ONE_DAY
    days = count_in_words(gap.days, "day")
    if last_on >= lost_on:
        return f"No check-up had been done since the grace ended: a gap of {days} from {day_in_words(gap.from_on)}."
    return f"The record has a gap of {days} from {day_in_words(gap.from_on)} {through_in_words(last_on)}."


def _care_question(claim: Claim, gaps: tuple[Gap, ...]) -> str:
    days = count_in_words(sum(gap.days for gap in gaps), "day")
    return (
        f"The check-up was missing for {days}. Did the missing care cause the failure "
        f"of the {part_in_words(claim.part_kind)}? Without evidence that it did, the loss is covered."
    )


def _judgement_line(judgement: Judgement) -> str:
    who = f"{judgement.by} on {day_in_words(judgement.on)}"
    reason = judgement.because.strip().rstrip(".")
    if not judgement.caused_by_missing_care:
        return f"{who}: the missing care did not cause the loss. {reason}."
    if not judgement.evidence.strip():
        return f"{who}: no evidence is given that the missing care caused the loss, so it is covered. {reason}."
    evidence = judgement.evidence.strip().rstrip(".")
    return f"{who}: the missing care caused the loss. {reason}. Evidence: {evidence}."
