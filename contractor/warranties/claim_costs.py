"""Reads about the money of claims: what is decided, given and booked, and the entries of a period."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.db.models import Count, DecimalField, Q, QuerySet, Sum
from django.db.models.functions import Coalesce

from contractor.core import clock
from contractor.warranties.claim_money import ClaimCost, Goodwill
from contractor.warranties.models import Claim, LiabilityYear
from contractor.warranties.queries import jurisdiction_of
from contractor.warranties.rules.claim_costs import NOTHING, ClaimMoney, Entry, cautions


@dataclass(frozen=True, slots=True, kw_only=True)
class CostLine:
    """An entry as the page shows it; ``is_undone`` and ``is_counter`` say whether it is one half of a pair."""

    cost: ClaimCost
    is_counter: bool
    is_undone: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class GoodwillLine:
    """Goodwill as the page shows it, or the entry that took it back."""

    goodwill: Goodwill
    is_counter: bool
    is_undone: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class ClaimCosts:
    """All money of one claim."""

    money: ClaimMoney
    lines: Sequence[CostLine]
    goodwill: Sequence[GoodwillLine]
    in_cash: Decimal
    in_kind: Decimal
    cautions: Sequence[str]

    @property
    def may_book(self) -> bool:
        """Whether there is anything that a cost can be booked under."""
        return self.money.is_decided and bool(self.money.decided or self.money.goodwill)


def costs_of(claim: Claim) -> ClaimCosts:
    """The entries and the goodwill of a claim with their sums, in two queries."""
    costs = list(claim.costs.select_related("booked_by", "undoes"))
    given = list(claim.goodwill.select_related("given_by"))
    undone, taken_back = {one.undoes_id for one in costs}, {one.undoes_id for one in given}
    money = _money(claim, costs, given)
    return ClaimCosts(
        money=money,
        lines=[
            CostLine(cost=one, is_counter=one.undoes_id is not None, is_undone=one.pk in undone) for one in costs
        ],
        goodwill=[
            GoodwillLine(goodwill=one, is_counter=one.undoes_id is not None, is_undone=one.pk in taken_back)
            for one in given
        ],
        in_cash=sum((one.amount for one in costs if one.paid_in == "cash"), NOTHING),
        in_kind=sum((one.amount for one in costs if one.paid_in == "kind"), NOTHING),
        cautions=cautions(money, jurisdiction=jurisdiction_of(claim)),
    )


def goodwill_told(claim: Claim) -> list[Goodwill]:
    """The goodwill that stands, as its owner reads it."""
    return list(claim.goodwill.filter(undoes__isnull=True, undone_by__isnull=True))


def money_of(claim: Claim) -> ClaimMoney:
    """The money of a claim as it stands, in two queries."""
    return _money(claim, list(claim.costs.all()), list(claim.goodwill.all()))


def money_on(claims: Sequence[Claim], on: date) -> dict[int, ClaimMoney]:
    """The money of many claims on the evening of a day, from what had been decided, given and spent by then.

    Two queries, however many claims there are.
    """
    pks = {claim.pk for claim in claims}
    costs: dict[int, list[ClaimCost]] = defaultdict(list)
    for cost in ClaimCost.objects.filter(on__lte=on):
        if cost.claim_id in pks:
            costs[cost.claim_id].append(cost)
    given: dict[int, list[Goodwill]] = defaultdict(list)
    for one in Goodwill.objects.filter(given_at__lt=clock.end_of(on)):
        given[one.claim_id].append(one)
    return {claim.pk: _money(claim, costs[claim.pk], given[claim.pk]) for claim in claims}


def entry_of(cost: ClaimCost) -> Entry:
    """A booked cost as the rules look at it; the row comes with ``undone_by``."""
    return Entry(
        on=cost.on,
        amount=cost.amount,
        note=cost.note,
        is_goodwill=cost.is_goodwill,
        is_last=cost.is_last,
        is_counter=cost.undoes_id is not None,
        is_undone=hasattr(cost, "undone_by"),
    )


def closed_through() -> date | None:
    """The last day of the last closed year of the liability."""
    return LiabilityYear.objects.order_by("-until_on").values_list("until_on", flat=True).first()


def booked_between(from_on: date, until_on: date) -> QuerySet[ClaimCost]:
    """The entries of a period, by their own day, with house and claim."""
    entries = ClaimCost.objects.filter(on__range=(from_on, until_on))
    return entries.select_related("claim__warranty__system__property", "booked_by").order_by("on", "pk")


@dataclass(frozen=True, slots=True, kw_only=True)
class CostSums:
    """What entries come to: in cash, in kind, where nobody wrote down which, and how much of all is goodwill."""

    count: int
    in_cash: Decimal
    in_kind: Decimal
    untold: Decimal
    goodwill: Decimal

    @property
    def total(self) -> Decimal:
        """All of it."""
        return self.in_cash + self.in_kind + self.untold


def sums_of(entries: QuerySet[ClaimCost]) -> CostSums:
    """The sums of entries, in one query."""

    def total(*kinds: str) -> Coalesce:
        return Coalesce(Sum("amount", filter=Q(kind__in=kinds)), NOTHING, output_field=DecimalField())

    in_kind = [kind.value for kind in ClaimCost.IN_KIND]
    in_cash = [ClaimCost.Kind.INVOICE.value, ClaimCost.Kind.OWNER.value]
    found = entries.order_by().aggregate(
        count=Count("pk"),
        in_cash=total(*in_cash),
        in_kind=total(*in_kind),
        untold=total(ClaimCost.Kind.CARRIED.value),
        goodwill=Coalesce(Sum("amount", filter=Q(is_goodwill=True)), NOTHING, output_field=DecimalField()),
    )
    return CostSums(**found)


def _money(claim: Claim, costs: Iterable[ClaimCost], given: Iterable[Goodwill]) -> ClaimMoney:
    costs = list(costs)
    undone = {one.undoes_id for one in costs if one.undoes_id is not None}
    booked: Mapping[bool, Decimal] = {
        is_goodwill: sum((one.amount for one in costs if one.is_goodwill == is_goodwill), NOTHING)
        for is_goodwill in (False, True)
    }
    return ClaimMoney(
        is_decided=claim.state == Claim.State.DECIDED,
        reported_on=claim.reported_on,
        decided=claim.contractor_pays or NOTHING,
        goodwill=sum((one.amount for one in given), NOTHING),
        booked_decided=booked[False],
        booked_goodwill=booked[True],
        is_finished=any(one.is_last and one.pk not in undone for one in costs),
    )
