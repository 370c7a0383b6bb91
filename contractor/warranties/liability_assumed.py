"""Reads for the warranty liability: what a repair of each part kind costs, and how long its parts last."""

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from fractions import Fraction

from django.db.models import Count

from contractor.core import clock
from contractor.engineering.survival import FEWEST_FAILURES, REFERENCE_SHAPE
from contractor.estimates.rules.lives import Life, LifeFit, life_fits
from contractor.systems.models import Component
from contractor.systems.part_kinds import PART_KINDS, PartKind
from contractor.warranties.models import Claim
from contractor.warranties.rules.claims import Outcome, to_cents
from contractor.warranties.rules.liability_reserve import (
    FEWEST_CLAIMS,
    Assumption,
    CostSource,
    LifeSource,
    scale_from_median,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Typed:
    """What a manager typed by part kind, for where the records don't tell: dollars a repair, years that half last."""

    costs: Mapping[str, Decimal] = field(default_factory=dict)
    years: Mapping[str, Decimal] = field(default_factory=dict)


def assumptions(*, on: date, typed: Typed) -> dict[str, Assumption]:
    """What every part kind is reckoned with on a day.

    The cost is the mean of the covered claims of the kind that were decided by then, from five on; else what was
    typed. The life is fitted to our own parts once five of the kind have failed; else what was typed, else the kind's
    plain age rule.
    """
    costs: dict[str, list[Decimal]] = defaultdict(list)
    covered = Claim.objects.filter(
        state=Claim.State.DECIDED, outcome=Outcome.COVERED.value, cost__isnull=False, decided_at__lt=clock.end_of(on)
    )
    for part_kind, cost in covered.values_list("part_kind", "cost"):
        costs[part_kind].append(cost or Decimal(0))
    fits = {fit.part_kind: fit for fit in life_fits(_lives(on))}
    return {kind.code: _assumption(kind, costs[kind.code], fits.get(kind.code), typed) for kind in PART_KINDS}


def _assumption(kind: PartKind, costs: Sequence[Decimal], fit: LifeFit | None, typed: Typed) -> Assumption:
    cost, cost_source = _cost(costs, typed.costs.get(kind.code))
    shape, scale, life_source = _life(kind, fit, typed.years.get(kind.code))
    return Assumption(
        part_kind=kind.code,
        cost=cost,
        cost_source=cost_source,
        claims=len(costs),
        shape=shape,
        scale_years=scale,
        life_source=life_source,
        failures=fit.failures if fit is not None else 0,
        units=fit.units if fit is not None else 0,
    )


def _cost(costs: Sequence[Decimal], typed: Decimal | None) -> tuple[Decimal | None, CostSource]:
    if len(costs) >= FEWEST_CLAIMS:
        return to_cents(Fraction(sum(costs)) / len(costs)), CostSource.CLAIMS
    return typed, CostSource.UNKNOWN if typed is None else CostSource.TYPED


def _life(kind: PartKind, fit: LifeFit | None, typed: Decimal | None) -> tuple[float | None, float | None, LifeSource]:
    if fit is not None:
        return fit.shape, fit.scale_years, LifeSource.RECORDS
    if typed is not None:
        return REFERENCE_SHAPE, scale_from_median(float(typed)), LifeSource.TYPED
    if kind.expected_years is not None:
        return REFERENCE_SHAPE, scale_from_median(kind.expected_years), LifeSource.AGE_RULE
    return None, None, LifeSource.UNKNOWN


def _lives(on: date) -> Iterator[Life]:
    """Every part of the kinds of which enough have failed by a day, as known on it.

    One already in the ground is under our eyes since registration.
    """
    failed_by_then = Component.objects.filter(failed=True, out_on__lte=on).order_by().values("part_kind")
    fitted = failed_by_then.annotate(failures=Count("pk")).filter(failures__gte=FEWEST_FAILURES)
    kinds = [one["part_kind"] for one in fitted]
    rows = Component.objects.filter(in_on__lte=on, part_kind__in=kinds).order_by("pk")
    names = ("part_kind", "in_on", "out_on", "failed", "system__created_at")
    for part_kind, in_on, out_on, failed, created_at in rows.values_list(*names).iterator():
        gone = out_on is not None and out_on <= on
        yield Life(
            part_kind=part_kind,
            model_id=None,
            in_on=in_on,
            seen_from=max(in_on, clock.day_of(created_at)),
            until=out_on if gone and out_on is not None else on,
            failed=gone and failed,
        )
