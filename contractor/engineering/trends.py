"""A straight trend through a few yearly readings that one bad reading cannot turn (Theil–Sen)."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import stats

from contractor.engineering.errors import BadInput
from contractor.engineering.inputs import finite, positive
from contractor.engineering.outlook import DAYS_PER_YEAR

FEWEST_VISITS = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Crossing:
    """When a trend reaches a level, in days on the trend's own scale.

    ``earliest_day`` follows the steep end of the slope's interval and ``latest_day`` the flat end; ``latest_day`` is
    None when the flat end never gets there, and both equal ``day`` when two visits give no interval.
    """

    day: float
    earliest_day: float
    latest_day: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Trend:
    """A trend of a ratio over time.

    ``slope_per_year`` change per year, from ``low`` to ``high`` with 95 % confidence (both None with fewer than three
    visits); ``middle_day`` and ``middle_ratio`` the medians through which the line runs; ``visits`` their number.
    """

    slope_per_year: float
    low: float | None
    high: float | None
    middle_day: float
    middle_ratio: float
    visits: int
    cautions: tuple[str, ...] = ()

    def at(self, day: float) -> float:
        """Ratio on the line at a day of the trend's own scale."""
        return self.middle_ratio + self.slope_per_year * (day - self.middle_day) / DAYS_PER_YEAR

    def reaches(self, ratio: float) -> Crossing | None:
        """When the falling line reaches a ratio; None when it does not fall."""
        level = float(positive("ratio", ratio))
        day = self._day_at(level, self.slope_per_year)
        if day is None:
            return None
        steep = self._day_at(level, self.slope_per_year if self.low is None else self.low)
        flat = self._day_at(level, self.slope_per_year if self.high is None else self.high)
        reached = [candidate for candidate in (steep, day, flat) if candidate is not None]
        return Crossing(day=day, earliest_day=min(reached), latest_day=None if flat is None else max(reached))

    def _day_at(self, ratio: float, slope_per_year: float) -> float | None:
        if slope_per_year >= 0:
            return None
        return self.middle_day + (ratio - self.middle_ratio) / slope_per_year * DAYS_PER_YEAR


def theil_sen(days: ArrayLike, ratio: ArrayLike, *, argument: str) -> Trend:
    """Trend through readings of one quantity; see ``Trend``.

    Slope: the median of the slopes of all pairs, its interval after Sen. ``days`` in any order and from any origin;
    ``argument`` names the readings in refusals. Fewer than three visits: a caution, and no interval. BadInput for
    lengths that differ, no readings, or two readings of the same day. Source: Sen (1968), through SciPy.
    """
    when, value = np.ravel(finite("days", days)), np.ravel(finite(argument, ratio))
    if when.size != value.size or when.size == 0:
        raise BadInput("days", when.size, f"must be as many as {argument} ({value.size}) and at least one")
    if np.unique(when).size < when.size:
        raise BadInput("days", when.tolist(), "must not name a day twice")
    if when.size < FEWEST_VISITS:
        slope = 0.0 if when.size == 1 else float((value[1] - value[0]) / (when[1] - when[0]))
        low = high = None
        visits = "is one" if when.size == 1 else "are two"
        cautions: tuple[str, ...] = (f"A trend needs three visits or more; there {visits} only.",)
    else:
        fit = stats.theilslopes(value, when, alpha=0.95)
        slope, cautions = float(fit.slope), ()
        low, high = float(fit.low_slope) * DAYS_PER_YEAR, float(fit.high_slope) * DAYS_PER_YEAR
    return Trend(
        slope_per_year=slope * DAYS_PER_YEAR,
        low=low,
        high=high,
        middle_day=float(np.median(when)),
        middle_ratio=float(np.median(value)),
        visits=int(when.size),
        cautions=cautions,
    )
