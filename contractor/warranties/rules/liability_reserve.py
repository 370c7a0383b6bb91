"""What the promises that are open on a day are expected to cost: failures to come, times cost, times share.

Of each covered part the chance of failing while it is covered follows from a Weibull life and the age it has reached;
the company's share in each month from the promise (``claims.exact_share``). Left out, and said so where the figures
are shown: a part that fails again within the same cover, inflation, and discounting. The formula is the combination
rebate of Blischke and Murthy, "Warranty Cost Analysis", 1994, chapter 4 (from memory), in whole months as the terms
count them and for parts of any age.
"""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Decimal
from enum import StrEnum
from fractions import Fraction

import numpy as np

from contractor.engineering.inputs import FloatArray
from contractor.engineering.survival import REFERENCE_SHAPE
from contractor.warranties.rules.claims import to_cents

# A promise for a life has no last month; it is reckoned this far ahead. Assumption of this project, no source.
LIFE_YEARS = 25.0
MONTHS_PER_YEAR = 12
FEWEST_CLAIMS = 5
_SIX_PLACES = Decimal("0.000001")
_AT_ONCE = 4096


class CostSource(StrEnum):
    """Where the cost of a repair comes from."""

    CLAIMS = "claims"
    TYPED = "typed"
    UNKNOWN = "unknown"


class LifeSource(StrEnum):
    """Where the life of a part kind comes from."""

    RECORDS = "records"
    TYPED = "typed"
    AGE_RULE = "age_rule"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True, kw_only=True)
class Assumption:
    """What one part kind is reckoned with, and where it comes from.

    ``cost`` is what a repair costs in dollars, None when nobody knows; ``claims`` how many decided claims gave it.
    ``shape`` and ``scale_years`` are the Weibull life, None when nobody knows; ``failures`` and ``units`` gave it.
    """

    part_kind: str
    cost: Decimal | None
    cost_source: CostSource
    claims: int
    shape: float | None
    scale_years: float | None
    life_source: LifeSource
    failures: int
    units: int

    @property
    def median_years(self) -> float | None:
        """The age that half of the parts reach."""
        if self.shape is None or self.scale_years is None:
            return None
        return float(self.scale_years * np.log(2.0) ** (1.0 / self.shape))

    @property
    def is_complete(self) -> bool:
        """Whether this kind can be reckoned at all."""
        return self.cost is not None and self.scale_years is not None


@dataclass(frozen=True, slots=True, kw_only=True)
class Covered:
    """One part that a promise covers on the day.

    ``counted_years`` have passed since the day from which the promise counts, ``age_years`` since the part went in;
    cover lasts ``left_years`` more, None for a life. ``months`` and ``full_months`` are those of the promise.
    """

    warranty_id: int
    component_id: int
    part_kind: str
    issue_year: int
    age_years: float
    counted_years: float
    left_years: float | None
    months: int | None
    full_months: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class ReserveRow:
    """What one covered part, or one claim that is not decided yet, is expected to cost the company.

    ``chance`` of failing while covered; ``share`` is that chance weighted with the company's share in each month.
    Exactly one of ``component_id`` and ``claim_id`` is set; a claim has happened, so both figures are those known.
    """

    warranty_id: int
    component_id: int | None
    claim_id: int | None
    part_kind: str
    issue_year: int
    chance: Decimal
    share: Decimal
    amount: Decimal


def expected_amount(cost: Decimal, share: Decimal) -> Decimal:
    """Cost times the expected share, rounded half-even to cents.

    >>> expected_amount(Decimal("850.00"), Decimal("0.063053"))
    Decimal('53.60')
    """
    return to_cents(Fraction(cost) * Fraction(share))


def scale_from_median(years: float, shape: float = REFERENCE_SHAPE) -> float:
    """The Weibull scale of parts of which half last this many years."""
    return float(years / np.log(2.0) ** (1.0 / shape))


def reserve_rows(parts: Sequence[Covered], assumptions: Mapping[str, Assumption]) -> list[ReserveRow]:
    """The expected cost of every covered part, in the order given; kinds without cost or life are left out."""
    groups: dict[tuple[str, int | None, int | None], list[int]] = defaultdict(list)
    for place, part in enumerate(parts):
        if assumptions[part.part_kind].is_complete:
            groups[part.part_kind, part.months, part.full_months].append(place)
    rows: dict[int, ReserveRow] = {}
    for (part_kind, _, _), places in groups.items():
        for start in range(0, len(places), _AT_ONCE):
            some = places[start : start + _AT_ONCE]
            chances, shares = expected_shares([parts[place] for place in some], assumptions[part_kind])
            for place, chance, share in zip(some, chances, shares, strict=True):
                rows[place] = _row(parts[place], chance, share, assumptions[part_kind])
    return [rows[place] for place in sorted(rows)]


def expected_shares(parts: Sequence[Covered], assumption: Assumption) -> tuple[FloatArray, FloatArray]:
    """Chance of failing while covered, and the same weighted with the company's share, of parts under one promise.

    With cumulative hazard H(t) = (t/scale)^shape, a part of age a is still there after a time τ with probability
    exp(H(a) − H(a + τ)). The share falls by whole months, so the sum over months is exact.
    """
    if assumption.shape is None or assumption.scale_years is None:
        raise ValueError(f"No life is known for the part kind {assumption.part_kind}.")
    shape, scale = assumption.shape, assumption.scale_years
    age = np.array([part.age_years for part in parts])[:, None]
    counted = np.array([part.counted_years for part in parts])[:, None]
    left = np.array([LIFE_YEARS if part.left_years is None else part.left_years for part in parts])[:, None]
    steps, step_shares = _share_steps(parts[0].months, parts[0].full_months)
    # The end of each month of the promise, seen from today, and never beyond the end of cover.
    ends = np.clip(steps[None, :] - counted, 0.0, left)
    ends = np.concatenate([np.zeros_like(age), ends, left], axis=1)
    there = np.exp((age / scale) ** shape - ((age + ends) / scale) ** shape)
    failing = there[:, :-1] - there[:, 1:]
    return 1.0 - there[:, -1], failing @ step_shares


def _share_steps(months: int | None, full_months: int | None) -> tuple[FloatArray, FloatArray]:
    """The years at which the share changes, and the share before the first, between them, and after the last."""
    if months is None or full_months is None:
        return np.empty(0), np.ones(1)
    changes = np.arange(full_months, months + 1)
    falling = (months - changes) / (months - full_months)
    # Through the month before ``full_months`` all of it; in the month that begins at m, (months - m)/(months - full).
    return changes / MONTHS_PER_YEAR, np.concatenate([np.ones(1), falling])


def _row(part: Covered, chance: float, share: float, assumption: Assumption) -> ReserveRow:
    kept = _six_places(share)
    return ReserveRow(
        warranty_id=part.warranty_id,
        component_id=part.component_id,
        claim_id=None,
        part_kind=part.part_kind,
        issue_year=part.issue_year,
        chance=_six_places(chance),
        share=kept,
        amount=expected_amount(assumption.cost or Decimal(0), kept),
    )


def _six_places(value: float) -> Decimal:
    # By way of text: the cents of a row must follow from the figures that the row shows.
    return Decimal(repr(float(value))).quantize(_SIX_PLACES, rounding=ROUND_HALF_EVEN)
