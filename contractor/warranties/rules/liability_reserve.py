"""What the promises that are open on a day are expected to cost: failures to come, times cost, times share.

Of each covered part the chance of failing while it is covered follows from a Weibull life and the age it has reached;
the company's share in each month from the promise (``claims.exact_share``). Left out, and said so where the figures
are shown: a part that fails again within the same cover, inflation, and discounting. The formula is the combination
rebate of Blischke and Murthy, "Warranty Cost Analysis", 1994, chapter 4 (from memory), in whole months as the terms
count them and for parts of any age.
"""

from collections.abc import Collection
from dataclasses import dataclass, replace
from decimal import Decimal
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from contractor.engineering.inputs import FloatArray
from contractor.engineering.outlook import DAYS_PER_YEAR
from contractor.engineering.survival import REFERENCE_SHAPE

IntArray = NDArray[np.int64]

# A promise for a life has no last month; it is reckoned this far ahead. Assumption of this project, no source.
LIFE_YEARS = 25.0
MONTHS_PER_YEAR = 12
FEWEST_CLAIMS = 5
_MILLION = 1_000_000
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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CoveredParts:
    """Parts of one kind that one promise covers on the day: one place in each array for each part.

    ``counted_days`` have passed since the day from which the promise counts, ``age_days`` since the part went in;
    cover lasts ``left_days`` more, NaN for a life. ``months`` and ``full_months`` are those of the promise.
    """

    part_kind: str
    months: int | None
    full_months: int | None
    warranty_id: IntArray
    component_id: IntArray
    issue_year: IntArray
    age_days: IntArray
    counted_days: IntArray
    left_days: FloatArray

    def __len__(self) -> int:
        return int(self.component_id.size)

    def without(self, components: Collection[int]) -> "CoveredParts":
        """The same without these components."""
        kept = ~np.isin(self.component_id, list(components))
        arrays = ("warranty_id", "component_id", "issue_year", "age_days", "counted_days", "left_days")
        return replace(self, **{name: getattr(self, name)[kept] for name in arrays})


@dataclass(frozen=True, slots=True, kw_only=True)
class ReserveRow:
    """What one covered part, or one claim that is not decided yet, is expected to cost the company.

    ``chance`` of failing while covered; ``share`` is that chance weighted with the company's share in each month.
    Exactly one of ``component_id`` and ``claim_id`` is set; a claim has happened, so both figures are those known.
    ``is_decided``: the claim is decided, and the amount is what is not booked yet of the decision and of goodwill.
    """

    warranty_id: int
    component_id: int | None
    claim_id: int | None
    part_kind: str
    issue_year: int
    chance: Decimal
    share: Decimal
    amount: Decimal
    is_decided: bool = False


def scale_from_median(years: float, shape: float = REFERENCE_SHAPE) -> float:
    """The Weibull scale of parts of which half last this many years."""
    return float(years / np.log(2.0) ** (1.0 / shape))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Reckoned:
    """Covered parts with what is expected of each, in whole millionths and whole cents."""

    parts: CoveredParts
    chance_millionths: IntArray
    share_millionths: IntArray
    cents: IntArray

    def rows(self) -> list[ReserveRow]:
        """A row for each part."""
        parts = self.parts
        columns = (parts.warranty_id, parts.component_id, parts.issue_year, self.chance_millionths)
        return [
            ReserveRow(
                warranty_id=warranty_id,
                component_id=component_id,
                claim_id=None,
                part_kind=parts.part_kind,
                issue_year=issue_year,
                chance=Decimal(chance).scaleb(-6),
                share=Decimal(share).scaleb(-6),
                amount=Decimal(cents).scaleb(-2),
            )
            for warranty_id, component_id, issue_year, chance, share, cents in zip(
                *(column.tolist() for column in (*columns, self.share_millionths, self.cents)), strict=True
            )
        ]


def reckon(parts: CoveredParts, assumption: Assumption) -> Reckoned:
    """The expected cost of covered parts of a kind of which cost and life are known."""
    if assumption.cost is None:
        raise ValueError(f"No cost is known for the part kind {assumption.part_kind}.")
    # Parts that went in and count from the same days are alike: each such pair of days is reckoned once.
    days = np.stack([parts.age_days, parts.counted_days, np.nan_to_num(parts.left_days, nan=-1.0)])
    alike, place = np.unique(days, axis=1, return_inverse=True)
    place = place.ravel()
    age, counted, left = alike / DAYS_PER_YEAR
    left = np.where(alike[2] < 0, LIFE_YEARS, left)
    chances, shares = expected_shares(
        age, counted, left, assumption, months=parts.months, full_months=parts.full_months
    )
    # The cents follow from the share in the six places that the row shows.
    share_millionths = np.rint(shares * _MILLION).astype(np.int64)
    return Reckoned(
        parts=parts,
        chance_millionths=np.rint(chances * _MILLION).astype(np.int64)[place],
        share_millionths=share_millionths[place],
        cents=expected_cents(int(assumption.cost.scaleb(2)), share_millionths)[place],
    )


def expected_cents(cost_cents: int, share_millionths: IntArray) -> IntArray:
    """Cost times the expected share, rounded half-even to cents, without leaving whole numbers.

    >>> expected_cents(85000, np.array([63053])).tolist()  # $850.00 times 0.063053
    [5360]
    """
    cents, rest = np.divmod(cost_cents * share_millionths, _MILLION)
    is_up = (2 * rest > _MILLION) | ((2 * rest == _MILLION) & (cents % 2 == 1))
    rounded: IntArray = cents + is_up
    return rounded


def expected_shares(
    age_years: FloatArray,
    counted_years: FloatArray,
    left_years: FloatArray,
    assumption: Assumption,
    *,
    months: int | None,
    full_months: int | None,
) -> tuple[FloatArray, FloatArray]:
    """Chance of failing while covered, and the same weighted with the company's share, of parts under one promise.

    With cumulative hazard H(t) = (t/scale)^shape, a part of age a is still there after a time τ with probability
    exp(H(a) − H(a + τ)). The share falls by whole months, so the sum over months is exact. In years, one place for each
    part; ValueError when no life is known.
    """
    if assumption.shape is None or assumption.scale_years is None:
        raise ValueError(f"No life is known for the part kind {assumption.part_kind}.")
    steps, step_shares = _share_steps(months, full_months)
    chances, shares = np.empty(age_years.size), np.empty(age_years.size)
    for start in range(0, age_years.size, _AT_ONCE):
        some = slice(start, start + _AT_ONCE)
        age, counted, left = (of[some, None] for of in (age_years, counted_years, left_years))
        # The end of each month of the promise, seen from today, and never beyond the end of cover.
        ends = np.clip(steps[None, :] - counted, 0.0, left)
        ends = np.concatenate([np.zeros_like(age), ends, left], axis=1)
        scale, shape = assumption.scale_years, assumption.shape
        there = np.exp((age / scale) ** shape - ((age + ends) / scale) ** shape)
        chances[some] = 1.0 - there[:, -1]
        shares[some] = (there[:, :-1] - there[:, 1:]) @ step_shares
    return chances, shares


def _share_steps(months: int | None, full_months: int | None) -> tuple[FloatArray, FloatArray]:
    """The years at which the share changes, and the share before the first, between them, and after the last."""
    if months is None or full_months is None:
        return np.empty(0), np.ones(1)
    changes = np.arange(full_months, months + 1)
    falling = (months - changes) / (months - full_months)
    # Through the month before ``full_months`` all of it; in the month that begins at m, (months - m)/(months - full).
    return changes / MONTHS_PER_YEAR, np.concatenate([np.ones(1), falling])
