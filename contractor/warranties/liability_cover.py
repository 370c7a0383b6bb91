"""Reads for the warranty liability: the balance on the evening of a day, part by part and claim by claim."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

import numpy as np
from django.db.models import Q

from contractor.core import clock
from contractor.warranties.claim_costs import money_on
from contractor.warranties.liability_register import Register
from contractor.warranties.models import Claim
from contractor.warranties.queries import facts_of_many, terms_by_edition
from contractor.warranties.rules.claims import Claim as ReportedClaim
from contractor.warranties.rules.claims import decide_claim
from contractor.warranties.rules.facts import Facts
from contractor.warranties.rules.liability import NOTHING
from contractor.warranties.rules.liability_reserve import Assumption, Reckoned, ReserveRow, reckon
from contractor.warranties.rules.terms import Terms


@dataclass(frozen=True, slots=True, kw_only=True)
class Balance:
    """What is expected of covered parts and of claims, and how many of each kind could not be reckoned."""

    parts: tuple[Reckoned, ...]
    claims: tuple[ReserveRow, ...]
    not_reckoned: Mapping[str, int]

    @property
    def rows(self) -> tuple[ReserveRow, ...]:
        """The rows of the balance: the parts of each warranty in their order, then the claims."""
        parts = [row for some in self.parts for row in some.rows()]
        return (*sorted(parts, key=lambda row: (row.warranty_id, row.component_id or 0)), *self.claims)

    @property
    def by_warranty(self) -> dict[int, Decimal]:
        """The balance of each warranty."""
        sums: dict[int, Decimal] = {}
        if self.parts:
            warranties = np.concatenate([some.parts.warranty_id for some in self.parts])
            numbers, place = np.unique(warranties, return_inverse=True)
            cents = np.zeros(numbers.size, dtype=np.int64)
            np.add.at(cents, place, np.concatenate([some.cents for some in self.parts]))
            amounts = (Decimal(one).scaleb(-2) for one in cents.tolist())
            sums = dict(zip(numbers.tolist(), amounts, strict=True))
        for row in self.claims:
            sums[row.warranty_id] = sums.get(row.warranty_id, NOTHING) + row.amount
        return sums


@dataclass(frozen=True, slots=True, kw_only=True)
class _Claims:
    """Claims in a balance, the components that they are about, and how many of each kind have no known cost."""

    rows: tuple[ReserveRow, ...]
    components: frozenset[int]
    unknown: Mapping[str, int]


def balance(*, on: date, assumed: Mapping[str, Assumption], register: Register) -> Balance:
    """What is expected to come on the evening of a day, from what had happened by then.

    A part whose claim is open on that day, or decided and not all booked, is no longer at risk: the claim stands in
    its place.
    """
    undecided, decided = _undecided(on, assumed), _decided(on)
    not_reckoned: dict[str, int] = defaultdict(int, undecided.unknown)
    reckoned: list[Reckoned] = []
    for every in register.covered(on):
        parts = every.without(undecided.components | decided.components)
        assumption = assumed[parts.part_kind]
        if assumption.is_complete:
            reckoned.append(reckon(parts, assumption))
        else:
            not_reckoned[parts.part_kind] += len(parts)
    return Balance(
        parts=tuple(reckoned),
        claims=(*undecided.rows, *decided.rows),
        not_reckoned={part_kind: count for part_kind, count in not_reckoned.items() if count},
    )


def _decided(on: date) -> _Claims:
    """Claims decided by a day of whose decision or goodwill something is not booked on it."""
    claims = Claim.objects.filter(state=Claim.State.DECIDED, decided_at__lt=clock.end_of(on))
    owed = claims.filter(Q(contractor_pays__gt=0) | Q(goodwill__isnull=False)).distinct().order_by("pk")
    found = list(owed.select_related("warranty").defer("decision", "judgement", "what"))
    money = money_on(found, on)
    left = [claim for claim in found if money[claim.pk].to_come]
    rows = tuple(
        ReserveRow(
            warranty_id=claim.warranty_id,
            component_id=None,
            claim_id=claim.pk,
            part_kind=claim.part_kind,
            issue_year=claim.warranty.issued_on.year,
            chance=Decimal(1),
            share=Decimal(1),
            amount=money[claim.pk].to_come,
            is_decided=True,
        )
        for claim in left
    )
    return _Claims(rows=rows, components=_components(left), unknown={})


def _undecided(on: date, assumed: Mapping[str, Assumption]) -> _Claims:
    """Claims reported by a day and not decided on it."""
    reported = Claim.objects.filter(reported_on__lte=on).exclude(state=Claim.State.WITHDRAWN)
    reported = reported.exclude(decided_at__lt=clock.end_of(on)).select_related("warranty__terms", "component")
    claims = list(reported.order_by("pk"))
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
    return _Claims(rows=tuple(rows), components=_components(claims), unknown=unknown)


def _components(claims: Sequence[Claim]) -> frozenset[int]:
    return frozenset(claim.component_id for claim in claims if claim.component_id is not None)


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
