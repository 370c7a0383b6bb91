"""Weibull fits of this company's own parts, once enough of them have failed."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from contractor.engineering.outlook import DAYS_PER_YEAR
from contractor.engineering.survival import FEWEST_FAILURES, weibull


@dataclass(frozen=True, slots=True, kw_only=True)
class Life:
    """One part: in on ``in_on``, under our eyes from ``seen_from`` to ``until``, and whether it had ``failed`` then.

    A part that was replaced before it failed has not failed: its life is known only to be longer.
    """

    part_kind: str
    model_id: int | None
    in_on: date
    seen_from: date
    until: date
    failed: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class LifeFit:
    """A fit of one kind (``model_id`` None) or one model: Weibull shape and scale in years, with 95 % intervals."""

    part_kind: str
    model_id: int | None
    shape: float
    scale_years: float
    shape_low: float
    shape_high: float
    scale_low_years: float
    scale_high_years: float
    failures: int
    units: int


def life_fits(lives: Iterable[Life]) -> list[LifeFit]:
    """The fits of every kind and model of which five parts or more have failed; kinds first, then models.

    Ages in years of 365.25 days. A part that had gone before it came under our eyes tells nothing and is left out; one
    that failed on the day it went in counts as half a day old.
    """
    groups: dict[tuple[str, int | None], list[Life]] = defaultdict(list)
    for life in lives:
        if life.until < life.seen_from or (life.until == life.seen_from and life.seen_from > life.in_on):
            continue
        groups[life.part_kind, None].append(life)
        if life.model_id is not None:
            groups[life.part_kind, life.model_id].append(life)
    ordered = sorted(groups.items(), key=lambda pair: (pair[0][1] is not None, pair[0][0], pair[0][1] or 0))
    return [
        _fit(part_kind, model_id, group)
        for (part_kind, model_id), group in ordered
        if sum(life.failed for life in group) >= FEWEST_FAILURES
    ]


def _fit(part_kind: str, model_id: int | None, lives: list[Life]) -> LifeFit:
    fit = weibull(
        [(life.seen_from - life.in_on).days / DAYS_PER_YEAR for life in lives],
        [max((life.until - life.in_on).days, 0.5) / DAYS_PER_YEAR for life in lives],
        [life.failed for life in lives],
    )
    shape_low, shape_high = fit.shape_interval or (fit.shape, fit.shape)
    return LifeFit(
        part_kind=part_kind,
        model_id=model_id,
        shape=_kept(fit.shape),
        scale_years=_kept(fit.scale),
        shape_low=_kept(shape_low),
        shape_high=_kept(shape_high),
        scale_low_years=_kept(fit.scale_interval[0]),
        scale_high_years=_kept(fit.scale_interval[1]),
        failures=fit.failures,
        units=fit.units,
    )


def _kept(value: float) -> float:
    """Four decimals: the optimiser's last digits differ from machine to machine and mean nothing."""
    return round(value, 4)
