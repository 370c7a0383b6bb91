"""What the record says about a claim: the decision as it would come out, and everything known on the day of loss."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from contractor.checkups.models import CheckUp, Finding, OutsideRecord, Photo
from contractor.core import clock
from contractor.properties.models import Ownership
from contractor.systems.models import Component
from contractor.warranties.models import Claim, Warranty
from contractor.warranties.queries import facts_of, terms_of
from contractor.warranties.rules import claims as rules
from contractor.warranties.rules.care import CareOn, care_on
from contractor.warranties.rules.claims import Decision, Judgement
from contractor.warranties.rules.standing import Standing, standing_on
from contractor.warranties.rules.terms import Promise

CHECKUPS_SHOWN = 5
PHOTOS_SHOWN = 12
# Causes that no exclusion of the terms names.
OWN_CAUSES = {
    "part_failed": "The part failed by itself",
    "workmanship": "Our own work failed",
    "not_known": "Not known yet",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class LossRecord:
    """The record on the day of loss. ``standing`` and ``promise`` are None when the terms promise nothing for the kind.

    ``choices`` are the parts that may have failed; ``findings`` those open on that day or raised before it.
    ``waiting_records`` are check-ups by others of before the loss that the owner sent in and nobody has decided on.
    """

    promise: Promise | None
    standing: Standing | None
    care: CareOn
    choices: Sequence[Component]
    checkups: Sequence[CheckUp]
    outside_records: Sequence[OutsideRecord]
    waiting_records: Sequence[OutsideRecord]
    findings: Sequence[Finding]
    photos: Sequence[Photo]


def loss_record(claim: Claim) -> LossRecord:
    """Gathers the evidence for a claim in a fixed number of queries."""
    warranty, on = claim.warranty, claim.lost_on
    terms, facts = terms_of(warranty), facts_of(warranty)
    promise = terms.promise_for(claim.part_kind)
    system = warranty.system
    of_kind = system.components.filter(part_kind=claim.part_kind, in_on__lte=on).select_related("model")
    # A part taken out on the very day of the loss is the one that failed.
    there = [part for part in of_kind if part.out_on is None or part.out_on >= on]
    findings = Finding.objects.filter(checkup__system=system, checkup__done_on__lte=on).select_related("component")
    photos = Photo.objects.filter(checkup__system=system, checkup__done_on__lte=on).select_related("component")
    outside = OutsideRecord.objects.accepted().filter(system=system, done_on__lte=on)
    return LossRecord(
        promise=promise,
        standing=standing_on(terms, facts, claim.part_kind, on) if promise is not None else None,
        care=care_on(terms.care, facts, on),
        choices=there,
        checkups=list(
            CheckUp.objects.finished()
            .with_passed()
            .filter(system=system, done_on__lte=on)
            .select_related("technician")
            .order_by("-done_on", "-pk")[:CHECKUPS_SHOWN]
        ),
        outside_records=list(outside.order_by("-done_on")[:CHECKUPS_SHOWN]),
        waiting_records=waiting_records(claim),
        findings=[one for one in findings if one.done_at is None or clock.day_of(one.done_at) >= on],
        photos=list(photos.filter(component__in=there).order_by("-taken_at")[:PHOTOS_SHOWN]),
    )


def waiting_records(claim: Claim) -> list[OutsideRecord]:
    """Check-ups by others of before the loss that wait for the office's word, the earliest first."""
    system_id = claim.warranty.system_id
    return list(OutsideRecord.objects.waiting().filter(system_id=system_id, done_on__lte=claim.lost_on))


def claimant(claim: Claim) -> Ownership | None:
    """Whoever owned the house when the loss was reported: theirs is the claim, also after they sold the house.

    Not the buyer's, who bears nothing of it and has no business reading it.
    """
    house = claim.warranty.system.property
    return Ownership.objects.current(claim.reported_on).filter(property=house).select_related("person").first()


def cause_choices(warranty: Warranty) -> list[tuple[str, str]]:
    """Causes to choose from: our own words first, then the exclusions of the terms in their own words."""
    excluded = [(one.code, f"Excluded: {one.sentence}") for one in terms_of(warranty).exclusions]
    return [*OWN_CAUSES.items(), *excluded]


def cause_in_words(claim: Claim) -> str:
    """The cause as people read it."""
    return dict(cause_choices(claim.warranty)).get(claim.cause, claim.cause)


def worked_out(claim: Claim, *, cost: Decimal, judgement: Judgement | None = None) -> Decision:
    """The decision that the record and the terms lead to; nothing is kept."""
    return rules.decide_claim(terms_of(claim.warranty), facts_of(claim.warranty), ruled_claim(claim, cost), judgement)


def rests_on_gap(claim: Claim, decision: Decision) -> bool:
    """Whether a gap in care has anything to do with a decision: only a loss that is covered otherwise turns on it."""
    is_covered_otherwise = decision.ground in {rules.Ground.PROMISE, rules.Ground.MISSING_CARE}
    gaps = care_on(terms_of(claim.warranty).care, facts_of(claim.warranty), claim.lost_on).gaps
    return is_covered_otherwise and any(gap.days > 0 for gap in gaps)


def ruled_claim(claim: Claim, cost: Decimal) -> rules.Claim:
    """The claim as the rules see it."""
    return rules.Claim(
        part_kind=claim.part_kind,
        lost_on=claim.lost_on,
        reported_on=claim.reported_on,
        cost=cost,
        cause=claim.cause,
        in_on=claim.component.in_on if claim.component is not None else None,
    )
