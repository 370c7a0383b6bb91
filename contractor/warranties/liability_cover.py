"""Reads for the warranty liability: the balance on the evening of a day, part by part and open claim by open claim."""

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from contractor.engineering.outlook import DAYS_PER_YEAR
from contractor.systems.models import Component
from contractor.warranties.models import Claim, TermsEdition, Transfer, Warranty
from contractor.warranties.queries import facts_of_many, terms_by_edition
from contractor.warranties.rules.claims import Claim as ReportedClaim
from contractor.warranties.rules.claims import decide_claim
from contractor.warranties.rules.cover import ComponentTerm, component_terms
from contractor.warranties.rules.facts import ComponentSpan, Facts, TransferDone
from contractor.warranties.rules.liability_reserve import Assumption, Covered, ReserveRow, reserve_rows
from contractor.warranties.rules.plain_data import terms_from_data
from contractor.warranties.rules.terms import Terms

CHUNK = 2000


@dataclass(frozen=True, slots=True, kw_only=True)
class Balance:
    """The rows of a balance, and how many parts and claims of each kind could not be reckoned."""

    rows: tuple[ReserveRow, ...]
    not_reckoned: Mapping[str, int]

    @property
    def by_warranty(self) -> dict[int, Decimal]:
        """The balance of each warranty."""
        sums: dict[int, Decimal] = {}
        for row in self.rows:
            sums[row.warranty_id] = sums.get(row.warranty_id, Decimal("0.00")) + row.amount
        return sums


@dataclass(frozen=True, slots=True, kw_only=True)
class _Written:
    """A warranty with what its cover rests on; ``parts`` are the numbers of the components by their spans."""

    pk: int
    terms: Terms
    facts: Facts
    parts: Mapping[ComponentSpan, Sequence[int]]


def balance(*, on: date, assumed: Mapping[str, Assumption]) -> Balance:
    """What is expected to come on the evening of a day, from what had happened by then.

    A part whose claim is open on that day is no longer at risk: the claim stands in its place.
    """
    claims, claimed, not_reckoned = _open_claims(on, assumed)
    rows: list[ReserveRow] = []
    for some in _written(on):
        parts = [part for one in some for part in _covered(one, on) if part.component_id not in claimed]
        for part in parts:
            not_reckoned[part.part_kind] += not assumed[part.part_kind].is_complete
        rows += reserve_rows(parts, assumed)
    missing = {part_kind: count for part_kind, count in not_reckoned.items() if count}
    return Balance(rows=(*rows, *claims), not_reckoned=missing)


def _written(on: date) -> Iterator[list[_Written]]:
    """Every warranty issued by a day and not void on it, chunk by chunk, in three queries each."""
    editions = {edition.pk: terms_from_data(edition.data) for edition in TermsEdition.objects.published()}
    after = 0
    while True:
        found = Warranty.objects.filter(pk__gt=after, issued_on__lte=on).order_by("pk")
        rows = list(found.values_list("pk", "system_id", "terms_id", "issued_on", "voided_on")[:CHUNK])
        if not rows:
            return
        parts, transfers = _parts({row[1] for row in rows}, on), _transfers([row[0] for row in rows])
        yield [
            _Written(
                pk=pk,
                terms=editions[terms_id],
                facts=Facts(issued_on=issued_on, components=tuple(parts[system_id]), transfers=tuple(transfers[pk])),
                parts=parts[system_id],
            )
            for pk, system_id, terms_id, issued_on, voided_on in rows
            if voided_on is None or voided_on > on
        ]
        after = rows[-1][0]


def _parts(systems: set[int], on: date) -> dict[int, dict[ComponentSpan, list[int]]]:
    parts: dict[int, dict[ComponentSpan, list[int]]] = defaultdict(dict)
    rows = Component.objects.in_place(on).filter(system_id__in=systems).order_by("pk")
    for pk, system_id, part_kind, in_on in rows.values_list("pk", "system_id", "part_kind", "in_on"):
        # When it came out later is not known on that day.
        span = ComponentSpan(part_kind=part_kind, in_on=in_on)
        parts[system_id].setdefault(span, []).append(pk)
    return parts


def _transfers(warranties: Sequence[int]) -> dict[int, list[TransferDone]]:
    transfers: dict[int, list[TransferDone]] = defaultdict(list)
    issued = Transfer.objects.filter(warranty_id__in=warranties, state=Transfer.State.ISSUED)
    for warranty_id, closing_on in issued.values_list("warranty_id", "closing_on"):
        transfers[warranty_id].append(TransferDone(on=closing_on))
    return transfers


def _covered(one: _Written, on: date) -> Iterator[Covered]:
    """The parts that are covered on a day. Suspended cover counts: a check-up would bring it back."""
    for part_kind in sorted({span.part_kind for span in one.parts}):
        if one.terms.promise_for(part_kind) is None:
            continue
        for term in component_terms(one.terms, one.facts, part_kind, on):
            if term.holds(on):
                for component_id in one.parts[term.component]:
                    yield _part(one, term, component_id, on)


def _part(one: _Written, term: ComponentTerm, component_id: int, on: date) -> Covered:
    promise = one.terms.promise_for(term.component.part_kind)
    left = None if term.through_on is None else (term.through_on - on).days / DAYS_PER_YEAR
    return Covered(
        warranty_id=one.pk,
        component_id=component_id,
        part_kind=term.component.part_kind,
        issue_year=one.facts.issued_on.year,
        age_years=(on - term.component.in_on).days / DAYS_PER_YEAR,
        counted_years=(on - term.counted_from_on).days / DAYS_PER_YEAR,
        left_years=left,
        months=term.months,
        full_months=promise.full_months if promise is not None else None,
    )


def _open_claims(
    on: date, assumed: Mapping[str, Assumption]
) -> tuple[list[ReserveRow], set[int | None], dict[str, int]]:
    """A row for every claim open on a day, the components they are about, and how many have no known cost."""
    reported = Claim.objects.filter(reported_on__lte=on).exclude(state=Claim.State.WITHDRAWN)
    reported = reported.exclude(decided_at__date__lte=on).select_related("warranty__terms", "component").order_by("pk")
    claims = list(reported)
    warranties = list({claim.warranty_id: claim.warranty for claim in claims}.values())
    facts, terms = facts_of_many(warranties), terms_by_edition(warranties)
    rows: list[ReserveRow] = []
    unknown: dict[str, int] = defaultdict(int)
    for claim in claims:
        cost = claim.cost if claim.cost is not None else assumed[claim.part_kind].cost
        if cost is None:
            unknown[claim.part_kind] += 1
        else:
            rows.append(_claim_row(claim, cost, terms[claim.warranty.terms_id], facts[claim.warranty_id]))
    return rows, {claim.component_id for claim in claims if claim.component_id is not None}, unknown


def _claim_row(claim: Claim, cost: Decimal, terms: Terms, facts: Facts) -> ReserveRow:
    reported = ReportedClaim(
        part_kind=claim.part_kind,
        lost_on=claim.lost_on,
        reported_on=claim.reported_on,
        cost=cost,
        cause=claim.cause,
        in_on=claim.component.in_on if claim.component is not None else None,
    )
    # Where a question is open, these are the amounts of an answer in the owner's favour.
    decision = decide_claim(terms, facts, reported)
    return ReserveRow(
        warranty_id=claim.warranty_id,
        component_id=None,
        claim_id=claim.pk,
        part_kind=claim.part_kind,
        issue_year=claim.warranty.issued_on.year,
        chance=Decimal(1),
        share=decision.contractor_share,
        amount=decision.contractor_pays,
    )
