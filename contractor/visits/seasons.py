"""The best part of a window: before the wettest months and before the first frost, when that leaves room to plan.

Pure: the region's months come in as data, because its climate lives in a room above.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

MONTHS = 12
LEAST_LEFT = timedelta(weeks=4)
# Nights fall some 5 °C below the day's mean (half of a usual daily range of 10 °C: common practice, no source), so the
# first frost is to be expected once the mean falls to this.
FROST_MEAN_C = 5.0
MONTH_DAYS = 30.4375


@dataclass(frozen=True, slots=True, kw_only=True)
class Season:
    """The days of a region on which its bad seasons begin: (month, day); None where there is none."""

    wettest_from: tuple[int, int] | None
    frost_from: tuple[int, int] | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Narrowed:
    """The last day of the better part of a window, and why."""

    best_until: date
    because: str


def season_of(rain_mm: Sequence[float], temperature_c: Sequence[float]) -> Season:
    """The season of a region from twelve monthly means of rain and temperature, January first.

    The wettest quarter is the three months in a row with the most rain, over the turn of the year as well (the
    "precipitation of wettest quarter" of the bioclimatic variables, BIO16). With the same rain all year there is none.
    """
    return Season(wettest_from=_wettest_from(rain_mm), frost_from=_frost_from(temperature_c))


def _wettest_from(rain_mm: Sequence[float]) -> tuple[int, int] | None:
    quarters = [sum(rain_mm[(first + step) % MONTHS] for step in range(3)) for first in range(MONTHS)]
    if max(quarters) - min(quarters) < 1e-9:
        return None
    return quarters.index(max(quarters)) + 1, 1


def _frost_from(temperature_c: Sequence[float]) -> tuple[int, int] | None:
    """The day in autumn on which the mean, a straight line from mid-month to mid-month, falls to the frost mark."""
    warmest = max(range(MONTHS), key=lambda month: temperature_c[month])
    for step in range(MONTHS - 1):
        this, following = (warmest + step) % MONTHS, (warmest + step + 1) % MONTHS
        before, after = temperature_c[this], temperature_c[following]
        if before > FROST_MEAN_C >= after:
            days = 14 + round((before - FROST_MEAN_C) / (before - after) * MONTH_DAYS)
            # Any year serves to count days; this one has no February 29.
            on = date(2025, this + 1, 1) + timedelta(days=days)
            return on.month, on.day
    return None


def narrowed(*, earliest_on: date, latest_on: date, season: Season) -> Narrowed | None:
    """The better part of a window, or None when no bad season begins inside it late enough to leave four weeks.

    The first bad season that leaves four weeks decides: what lies before it lies before the later one too.
    """
    starts = [
        (_next(season.wettest_from, earliest_on), "the wettest months begin"),
        (_next(season.frost_from, earliest_on), "the first frost is to be expected"),
    ]
    for start, what in sorted((start, what) for start, what in starts if start is not None):
        if start <= latest_on and start - earliest_on >= LEAST_LEFT:
            last = start - timedelta(days=1)
            return Narrowed(
                best_until=last, because=f"Best by {last:%B} {last.day}: {what} about {start:%B} {start.day}."
            )
    return None


def _next(month_and_day: tuple[int, int] | None, after: date) -> date | None:
    if month_and_day is None:
        return None
    month, day = month_and_day
    this_year = date(after.year, month, min(day, 28) if month == 2 else day)
    return this_year if this_year > after else this_year.replace(year=after.year + 1)
