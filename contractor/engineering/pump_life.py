"""When a pump should be replaced: worn by hours and starts, tired by age, or moving less water every year.

Hours, starts, age and flow compete: whatever runs out first ends the pump's life. No failure statistics of house sump
pumps were found in public; the age rule is the median of old appraisal tables, and says so.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final, TypeAlias, overload

import numpy as np
from numpy.typing import ArrayLike, NDArray

from contractor.engineering.errors import BadInput
from contractor.engineering.inputs import FloatArray, Quantity, as_given, not_negative, positive
from contractor.engineering.outlook import (
    DAYS_PER_YEAR,
    Governing,
    Outlook,
    Span,
    checked_days,
    checked_readings,
    day_after,
    earliest_governs,
    in_words,
    years_between,
    years_in_words,
)
from contractor.engineering.seasons import quarter_start_before, season_day_after, season_years, wettest_quarter
from contractor.engineering.trends import FEWEST_VISITS, Trend, theil_sen

__all__ = ["FlowTrend", "Outlook", "Wear", "failure_probability", "flow_trend", "pump_outlook", "wear"]

FlowTrend: TypeAlias = Trend

# Median service life of sump and well pumps, 10 years. Source: ASHRAE (1978 data), a home builders' list, and an
# appraisal table (8 low, 10 average, 12 good, 15 excellent); all from secondary copies, ASHRAE's own warning: dated.
AGE_RULE_YEARS: Final = 10.0
# Weibull shape for wear-out with age. Assumption: between 1.2 and 2, no published value for house pumps.
AGE_RULE_SHAPE: Final = 2.0
# A pump that moves less than this part of its new flow is replaced. Common practice, no source.
LEAST_FLOW_RATIO: Final = 0.70
# Makers' hours and starts are good to about a fifth either way. Common practice, no source.
_WEAR_EARLIEST, _WEAR_LATEST = 0.8, 1.2
_SHORT_COUNT_YEARS: Final = 0.25
_TWELFTHS: Final = (1.0 / 12.0,) * 12


@dataclass(frozen=True, slots=True, kw_only=True)
class Wear:
    """How much of a pump's rated life has been used.

    ``fraction`` is 1 when it is used up. ``governing`` is "run hours", "starts" or "nothing counted" (arrays of these
    words for arrays): the larger share.
    """

    fraction: Quantity
    governing: str | NDArray[np.str_]
    cautions: tuple[str, ...] = ()


def wear(
    run_hours: Quantity | None,
    starts: Quantity | None,
    rated_hours: Quantity | None,
    rated_starts: Quantity | None,
) -> Wear:
    """Share of its rated life that a pump has used by running and by starting.

    D = hours/rated hours + starts/rated starts (Palmgren–Miner), worn out at 1. A pair with a missing count or rating
    adds nothing, and a caution says so. Ratings are the maker's, for instance 100 000 switch cycles; there is no
    default. Valid for loads like those the ratings were tested under. Source: textbook, from memory.

    >>> used = wear(run_hours=650, starts=58_000, rated_hours=10_000, rated_starts=100_000)
    >>> round(used.fraction, 3), used.governing
    (0.645, 'starts')
    """
    by_hours, hour_doubts = _share("run_hours", run_hours, "rated_hours", rated_hours)
    by_starts, start_doubts = _share("starts", starts, "rated_starts", rated_starts)
    words = np.where(
        by_hours + by_starts == 0, "nothing counted", np.where(by_hours > by_starts, "run hours", "starts")
    )
    return Wear(
        fraction=as_given(by_hours + by_starts),
        governing=str(words) if words.ndim == 0 else words,
        cautions=(*hour_doubts, *start_doubts),
    )


def _share(
    count_name: str, count: Quantity | None, rating_name: str, rating: Quantity | None
) -> tuple[FloatArray, tuple[str, ...]]:
    word = count_name.replace("_", " ")
    counted = None if count is None else not_negative(count_name, count)
    rated = None if rating is None else positive(rating_name, rating)
    if counted is None:
        return np.asarray(0.0), (f"No counter of {word} was read: that wear is left out.",)
    if rated is None:
        return np.zeros_like(counted), (f"The maker's rating in {word} is not known: that wear is left out.",)
    share: FloatArray = counted / rated
    return share, ()


@overload
def failure_probability(age_years: float, horizon_years: float, shape: float, scale_years: float) -> float: ...
@overload
def failure_probability(
    age_years: Quantity, horizon_years: Quantity, shape: Quantity, scale_years: Quantity
) -> Quantity: ...
def failure_probability(
    age_years: Quantity, horizon_years: Quantity, shape: Quantity, scale_years: Quantity
) -> Quantity:
    """Probability that a part which works today fails within a time to come.

    P = 1 − exp{(a/η)^β − ((a + Δ)/η)^β} with age a, horizon Δ, shape β and scale η in years; 0 to 1. Valid for Weibull
    lives. Source: textbook (conditional Weibull reliability).

    >>> round(failure_probability(5, 1, shape=2, scale_years=10), 4)
    0.1042
    """
    age, horizon = not_negative("age_years", age_years), not_negative("horizon_years", horizon_years)
    exponent, scale = positive("shape", shape), positive("scale_years", scale_years)
    more = ((age + horizon) / scale) ** exponent - (age / scale) ** exponent
    return as_given(-np.expm1(-more))


def flow_trend(days: ArrayLike, flow_ratio: ArrayLike) -> FlowTrend:
    """How a pump's measured flow changes from visit to visit.

    Theil–Sen slope per year of the measured flow ÷ the new pump's flow at the same head, with its 95 % interval.
    ``days`` from any origin. Valid from three visits; with fewer a caution and no interval. ``reaches(0.7)`` gives the
    day the line falls to 0.7. Source: Sen (1968), through SciPy.

    >>> trend = flow_trend([0, 365, 730, 1096], [1.00, 0.96, 0.93, 0.88])
    >>> round(trend.slope_per_year, 3), round(trend.reaches(0.7).day / 365.25, 1)
    (-0.04, 7.6)
    """
    return theil_sen(days, not_negative("flow_ratio", flow_ratio), argument="flow_ratio")


def pump_outlook(
    *,
    installed_on: date,
    on: date,
    run_hours: float | None = None,
    starts: float | None = None,
    rated_hours: float | None = None,
    rated_starts: float | None = None,
    counted_on: date | None = None,
    flow_visits: Sequence[tuple[date, float]] = (),
    least_flow_ratio: float = LEAST_FLOW_RATIO,
    expected_years: float | None = None,
    shape: float = AGE_RULE_SHAPE,
    month_weights: ArrayLike | None = None,
) -> Outlook:
    """The day by which a pump should be replaced, and why.

    ``installed_on`` date in and ``on`` the day of the estimate. ``run_hours`` and ``starts`` since installation, as
    read on ``counted_on`` (None: on ``on``), against the maker's ``rated_hours`` and ``rated_starts``; None for any
    that is not known. ``flow_visits`` days and measured flows as parts of the new pump's flow at the same head;
    ``least_flow_ratio`` the part at which it is replaced, for instance the design inflow ÷ the new flow.
    ``expected_years`` the model's median life (None: the age rule, 10 years) and ``shape`` its Weibull shape.
    ``month_weights`` the twelve parts of a year's inflow (``seasons.inflow_weights``); None for an even year.

    Age: the median life, its range the ages by which a quarter and three quarters have failed. Wear: the day the rated
    life is used up at the past rate, spread over the months, its range 0.8 and 1.2 of it. Flow: the day the trend
    reaches the least ratio, from three visits, or the day it was measured there. The earliest governs, and a day in the
    wettest quarter moves to before it. Sources: at the constants of this module.

    >>> from datetime import date
    >>> outlook = pump_outlook(installed_on=date(2021, 4, 1), on=date(2026, 4, 1), starts=60_000, rated_starts=100_000)
    >>> outlook.replace_by.isoformat(), outlook.governing.value
    ('2029-08-01', 'starts')
    """
    age_years = checked_days(installed_on, on)
    visits = checked_readings("flow_visits", flow_visits, installed_on, on)
    counted = on if counted_on is None else counted_on
    if not installed_on <= counted <= on:
        raise BadInput("counted_on", counted, f"must lie from {installed_on}, the installation, to {on}")
    measured = bool(visits) or run_hours is not None or starts is not None
    age_span, cautions = _age_span(installed_on, age_years, expected_years, shape, measured)
    used = wear(run_hours, starts, rated_hours, rated_starts)
    wear_span, wear_doubts = _wear_span(installed_on, counted, used, month_weights)
    flow_span, flow_doubts = _flow_span(installed_on, visits, least_flow_ratio)
    cautions += [*(used.cautions if measured else ()), *wear_doubts, *flow_doubts]
    spans = [span for span in (wear_span, flow_span, age_span) if span is not None]
    outlook = earliest_governs(spans, cautions)
    return outlook if month_weights is None else _before_wet_quarter(outlook, on, month_weights)


def _age_span(
    installed_on: date, age_years: float, expected_years: float | None, shape: float, measured: bool
) -> tuple[Span, list[str]]:
    cautions = []
    if expected_years is None:
        expected_years = AGE_RULE_YEARS
        cautions.append("The model's own life is not known; the age rule of 10 years for sump pumps is assumed.")
    median, exponent = float(positive("expected_years", expected_years)), float(positive("shape", shape))
    scale = median / np.log(2.0) ** (1.0 / exponent)
    quarter, three_quarters = (float(scale * np.log(odds) ** (1.0 / exponent)) for odds in (4.0 / 3.0, 4.0))
    if measured:
        start = "Half of such pumps"
    else:
        start = "Nothing has been measured, so the age rule decides: half of such pumps"
        cautions.append(
            "Nothing has been measured on this pump: its flow, run hours and starts tell more than its age."
        )
    reason = (
        f"{start} have failed at {years_in_words(median)}, a quarter at {years_in_words(quarter)}; "
        f"this one is {years_in_words(age_years)} old."
    )
    span = Span(
        governing=Governing.AGE,
        earliest=day_after(installed_on, quarter),
        replace_by=day_after(installed_on, median),
        latest=day_after(installed_on, three_quarters),
        reason=reason,
    )
    return span, cautions


def _wear_span(
    installed_on: date, counted_on: date, used: Wear, month_weights: ArrayLike | None
) -> tuple[Span | None, list[str]]:
    """The day wear reaches 1, each month of past and future counting by its share of the year's inflow."""
    fraction = float(used.fraction)
    weights = _TWELFTHS if month_weights is None else month_weights
    if fraction == 0:
        return None, []
    if counted_on == installed_on:
        return None, ["The counters were read on the day of installation: they tell no pace."]
    doubts = []
    passed = season_years(installed_on, counted_on, weights)
    if passed < 1e-6:  # a dry season only: the weights would make the pace infinite
        weights = _TWELFTHS
        passed = season_years(installed_on, counted_on, weights)
    if passed < _SHORT_COUNT_YEARS:
        doubts.append("The counters cover less than a quarter of a year's pumping: the pace is uncertain.")
    earliest, worn_out, latest = (
        season_day_after(installed_on, passed * part / fraction, weights)
        for part in (_WEAR_EARLIEST, 1.0, _WEAR_LATEST)
    )
    reason = (
        f"It has used {fraction:.0%} of its rated life, mostly by {used.governing}, in "
        f"{years_in_words(years_between(installed_on, counted_on))}; at that pace it is used up "
        f"about {worn_out:%B %Y}."
    )
    governing = Governing.STARTS if used.governing == "starts" else Governing.RUN_HOURS
    return Span(governing=governing, earliest=earliest, replace_by=worn_out, latest=latest, reason=reason), doubts


def _flow_span(
    installed_on: date, visits: list[tuple[date, float]], least_flow_ratio: float
) -> tuple[Span | None, list[str]]:
    least = float(positive("least_flow_ratio", least_flow_ratio))
    if not visits:
        return None, []
    day, last = visits[-1]
    if float(not_negative("flow_visits", last)) <= least:
        reason = f"On {in_words(day)} it moved {last:.0%} of its new flow; at {least:.0%} or less it is replaced."
        return Span(governing=Governing.FLOW, earliest=day, replace_by=day, latest=day, reason=reason), []
    trend = flow_trend([(when - installed_on).days for when, _ in visits], [ratio for _, ratio in visits])
    crossing = trend.reaches(least)
    if trend.visits < FEWEST_VISITS or crossing is None:
        return None, list(trend.cautions)
    # On the last visit it still moved more than the least: the line may not say that it had sunk below by then.
    falls = max(_on_day(installed_on, crossing.day), day)
    earliest = max(_on_day(installed_on, crossing.earliest_day), day)
    reason = (
        f"Its measured flow falls by {-trend.slope_per_year:.0%} of the new flow a year, {last:.0%} "
        f"on {in_words(day)}, and reaches {least:.0%} about {falls:%B %Y}."
    )
    latest = max(_on_day(installed_on, np.inf if crossing.latest_day is None else crossing.latest_day), day)
    return Span(governing=Governing.FLOW, earliest=earliest, replace_by=falls, latest=latest, reason=reason), []


def _on_day(installed_on: date, days: float) -> date:
    return day_after(installed_on, days / DAYS_PER_YEAR)


def _before_wet_quarter(outlook: Outlook, on: date, month_weights: ArrayLike) -> Outlook:
    """The outlook with a date to come in the wettest quarter moved to the day before it, or to today within it."""
    quarter = wettest_quarter(month_weights)
    begins = quarter_start_before(outlook.replace_by, quarter)
    if begins is None or outlook.replace_by <= on:
        return outlook
    replace_by = max(begins - timedelta(days=1), on)
    first, last = date(2001, quarter[0], 1), date(2001, quarter[2], 1)
    return Outlook(
        replace_by=replace_by,
        earliest=min(outlook.earliest, replace_by),
        latest=outlook.latest,
        governing=outlook.governing,
        reason=f"{outlook.reason} Replace it before the wettest months, {first:%B} to {last:%B}.",
        cautions=outlook.cautions,
    )
