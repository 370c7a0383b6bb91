"""The year of a basement: when water comes, from rain and melting snow, and which months suit a check-up.

Months are numbered 1 to 12; lists of twelve start with January. The weights say which part of a year's pumping falls
into each month. They are a proposal of this project, without a published source: calibrate them to counter readings.
"""

from calendar import monthrange
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final, overload

import numpy as np
from numpy.typing import ArrayLike

from contractor.engineering.errors import BadInput
from contractor.engineering.inputs import FloatArray, Quantity, as_given, finite, not_negative, positive, warn, within

# Melt per degree above 0 °C and day when nothing better is known (0.060 in per °F and day). Source: NEH 630 chapter 11
# (2004), from memory; measured in the field, 2.42 in forest and 3.51 in the open (Kuusisto 1980, abstract).
MELT_MM_PER_C_DAY: Final = 2.74
# Below this mean temperature precipitation falls as snow. Source: National Weather Service training, default.
SNOW_BELOW_C: Final = 1.0
# A month this cool has frosty nights: a monthly mean of 7 °C (45 °F). Common practice, no source.
FROST_MONTH_MEAN_C: Final = 7.0
_MONTH_DAYS: Final = (31.0, 28.25, 31.0, 30.0, 31.0, 30.0, 31.0, 31.0, 30.0, 31.0, 30.0, 31.0)
_MOST_MELT_FACTOR: Final = 6.0
_FURTHEST_YEARS: Final = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckupSeason:
    """Months in which a check-up does most good, best first, and what they come before.

    ``wettest_quarter`` the three months with most inflow; ``first_frost_month`` None where no month is cold.
    """

    months: tuple[int, ...]
    wettest_quarter: tuple[int, int, int]
    first_frost_month: int | None
    cautions: tuple[str, ...] = ()


@overload
def melt_mm(
    temperature_c: float, snow_water_mm: float, days: float = ..., factor_mm_per_c_day: float = ...
) -> float: ...
@overload
def melt_mm(
    temperature_c: Quantity, snow_water_mm: Quantity, days: Quantity = ..., factor_mm_per_c_day: Quantity = ...
) -> Quantity: ...
def melt_mm(
    temperature_c: Quantity,
    snow_water_mm: Quantity,
    days: Quantity = 1.0,
    factor_mm_per_c_day: Quantity = MELT_MM_PER_C_DAY,
) -> Quantity:
    """Snow that melts, as a depth of water.

    M = min(C · max(T, 0) · days, snow on the ground), in mm from °C, mm of water and mm/(°C·day). Valid without rain on
    the snow, for C from 1.6 to 6.0; above, a caution. Source: degree-day method, EM 1110-2-1406 chapter 6; NEH 630
    chapter 11 for C (from memory).

    >>> round(melt_mm(4.4444, 100.0), 1)
    12.2
    """
    temperature, snow = finite("temperature_c", temperature_c), not_negative("snow_water_mm", snow_water_mm)
    factor = not_negative("factor_mm_per_c_day", factor_mm_per_c_day)
    if bool(np.any(factor > _MOST_MELT_FACTOR)):
        warn(["A melt factor above 6 mm per °C and day is more than was published for melt without rain."])
    return as_given(np.minimum(factor * np.maximum(temperature, 0.0) * not_negative("days", days), snow))


def _twelve(argument: str, values: FloatArray) -> FloatArray:
    if values.ndim == 0 or values.shape[-1] != 12:
        raise BadInput(argument, values.tolist(), "must have twelve months, January first, along its last axis")
    return values


def monthly_evapotranspiration_mm(temperature_c: ArrayLike, latitude_deg: float = 41.0) -> FloatArray:
    """Water that plants and ground give back to the air in each month when they have enough of it.

    Thornthwaite: 16 · (10·T/I)^a · (day length / 12 h) · (days / 30), mm a month, with I = Σ (T/5)^1.514 and
    a = 6.75e-7·I³ − 7.71e-5·I² + 0.01792·I + 0.49239; nothing in months at or below 0 °C. Last axis: twelve monthly
    mean temperatures in °C. Valid for monthly means up to 26.5 °C and latitudes up to 60°; above 26.5 °C a caution.
    Source: Thornthwaite (1948), from memory.

    >>> monthly_evapotranspiration_mm([-3, -2, 3, 9, 15, 20, 22, 21, 17, 11, 5, -1]).round().astype(int).tolist()
    [0, 0, 10, 40, 84, 120, 136, 120, 81, 44, 15, 0]
    """
    temperature = _twelve("temperature_c", finite("temperature_c", temperature_c))
    latitude = float(within("latitude_deg", latitude_deg, -60.0, 60.0))
    warm = np.maximum(temperature, 0.0)
    if bool(np.any(warm > 26.5)):
        warn(["A month is warmer than 26.5 °C, for which Thornthwaite's formula overstates evaporation."])
    index = ((warm / 5.0) ** 1.514).sum(axis=-1, keepdims=True)
    power = 6.75e-7 * index**3 - 7.71e-5 * index**2 + 0.01792 * index + 0.49239
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = np.where(index > 0, 10.0 * warm / index, 0.0)
    month_part = _day_hours(latitude) / 12.0 * np.array(_MONTH_DAYS) / 30.0
    amount: FloatArray = 16.0 * ratio**power * month_part
    return amount


def _day_hours(latitude_deg: float) -> FloatArray:
    """Hours of daylight in the middle of each month, from the sun's declination."""
    middle = np.cumsum(_MONTH_DAYS) - np.array(_MONTH_DAYS) / 2.0
    declination = np.radians(23.44) * np.sin(2.0 * np.pi * (middle - 81.0) / 365.25)
    cosine = np.clip(-np.tan(np.radians(latitude_deg)) * np.tan(declination), -1.0, 1.0)
    hours: FloatArray = 24.0 / np.pi * np.arccos(cosine)
    return hours


def inflow_weights(
    rain_mm: ArrayLike,
    temperature_c: ArrayLike,
    *,
    evapotranspiration_mm: ArrayLike | None = None,
    latitude_deg: float = 41.0,
    melt_factor_mm_per_c_day: float = MELT_MM_PER_C_DAY,
) -> FloatArray:
    """Part of a year's inflow that falls into each month, twelve weights that add up to 1.

    w = max(rain + melt − evapotranspiration, 0) / Σ. ``rain_mm`` is all precipitation; in months at or below 1 °C it
    lies as snow until it melts (``melt_mm``). ``evapotranspiration_mm`` None: by ``monthly_evapotranspiration_mm``.
    Last axis: twelve months, January first; more axes for more houses. Where nothing is left over every month counts
    the same, with a caution. Frozen ground delays inflow, which is left out.
    Source: own proposal, no published source; its parts have theirs.

    >>> weights = inflow_weights([90] * 12, [-5, -4, 2, 9, 15, 20, 22, 21, 17, 11, 5, -2])
    >>> int(weights.argmax()) + 1, round(float(weights.sum()), 6)
    (3, 1.0)
    """
    rain = _twelve("rain_mm", not_negative("rain_mm", rain_mm))
    temperature = _twelve("temperature_c", finite("temperature_c", temperature_c))
    lost = (
        monthly_evapotranspiration_mm(temperature, latitude_deg)
        if evapotranspiration_mm is None
        else _twelve("evapotranspiration_mm", not_negative("evapotranspiration_mm", evapotranspiration_mm))
    )
    rain, temperature, lost = np.broadcast_arrays(rain, temperature, lost)
    left = np.maximum(_rain_and_melt_mm(rain, temperature, melt_factor_mm_per_c_day) - lost, 0.0)
    total = left.sum(axis=-1, keepdims=True)
    if bool(np.any(total == 0)):
        warn(["No month has water left over: every month is given the same weight."])
    weights: FloatArray = np.where(total > 0, left / np.where(total > 0, total, 1.0), 1.0 / 12.0)
    return weights


def _rain_and_melt_mm(rain: FloatArray, temperature: FloatArray, factor: float) -> FloatArray:
    """Liquid water by month; the second of two years, so that the snow of December is there in January."""
    water = np.zeros_like(rain)
    snow = np.zeros(rain.shape[:-1])
    for month in (*range(12), *range(12)):
        falls_as_snow = temperature[..., month] <= SNOW_BELOW_C
        snow = snow + np.where(falls_as_snow, rain[..., month], 0.0)
        melted = melt_mm(temperature[..., month], snow, days=_MONTH_DAYS[month], factor_mm_per_c_day=factor)
        snow = snow - melted
        water[..., month] = np.where(falls_as_snow, 0.0, rain[..., month]) + melted
    return water


def _year(weights: ArrayLike) -> FloatArray:
    year = _twelve("weights", not_negative("weights", weights))
    if year.ndim != 1 or not np.isclose(year.sum(), 1.0, atol=1e-3):
        raise BadInput("weights", year.tolist(), "must be twelve parts of a year that add up to 1")
    return year


def wettest_quarter(weights: ArrayLike) -> tuple[int, int, int]:
    """The three months in a row with most inflow, for twelve weights of ``inflow_weights``. Source: definition.

    >>> wettest_quarter([0.05, 0.1, 0.2, 0.2, 0.1, 0.05, 0.05, 0.05, 0.05, 0.05, 0.05, 0.05])
    (2, 3, 4)
    """
    year = _year(weights)
    first = int(np.argmax(year + np.roll(year, -1) + np.roll(year, -2)))
    return first + 1, (first + 1) % 12 + 1, (first + 2) % 12 + 1


def best_checkup_months(weights: ArrayLike, temperature_c: ArrayLike) -> CheckupSeason:
    """Months for a check-up: before the wettest quarter, and before the first frost.

    ``weights`` twelve of ``inflow_weights`` and ``temperature_c`` twelve monthly means. The month before the wettest
    quarter comes first, because pumps and battery are wanted then; next the month before the first one from August on
    whose mean is below 7 °C, because a frozen discharge line is found too late. Source: a state university's extension
    service (test before snowmelt); the frost limit is common practice.

    >>> wet_march = [0.05, 0.1, 0.2, 0.2, 0.1, 0.05, 0.05, 0.05, 0.05, 0.05, 0.05, 0.05]
    >>> best_checkup_months(wet_march, [-3, -2, 3, 9, 15, 20, 22, 21, 17, 11, 5, -1]).months
    (1, 10)
    """
    year = _year(weights)
    temperature = _twelve("temperature_c", finite("temperature_c", temperature_c))
    quarter = wettest_quarter(year)
    cold = temperature < FROST_MONTH_MEAN_C
    months = [_month_before(quarter[0])]
    frost = None
    cautions = []
    if year.max() - year.min() < 1e-6:
        cautions.append("Every month is equally wet: the wettest quarter is arbitrary.")
    if cold.any() and not cold.all():
        frost = next(month for month in (8, 9, 10, 11, 12, 1, 2, 3, 4, 5, 6, 7) if cold[month - 1])
        months.append(_month_before(frost))
    return CheckupSeason(
        months=tuple(dict.fromkeys(months)),
        wettest_quarter=quarter,
        first_frost_month=frost,
        cautions=tuple(cautions),
    )


def _month_before(month: int) -> int:
    return (month - 2) % 12 + 1


def season_years(start: date, end: date, weights: ArrayLike) -> float:
    """Years of pumping from one day to another, when pumping is spread over the months as the weights say.

    A whole year counts 1, whatever its start; a wet month more than a twelfth. Years from days and twelve weights.
    Source: definition.

    >>> from datetime import date
    >>> round(season_years(date(2025, 3, 1), date(2025, 4, 1), [0.05, 0.1, 0.2, 0.2] + [0.05625] * 8), 2)
    0.2
    """
    year = _year(weights)
    if end < start:
        raise BadInput("end", end, f"must not be before the start, {start}")
    return float(_since_year_zero(end, year) - _since_year_zero(start, year))


def _since_year_zero(day: date, year: FloatArray) -> float:
    month = day.month - 1
    into_month = (day.day - 1) / monthrange(day.year, day.month)[1]
    return day.year + float(year[:month].sum() + year[month] * into_month)


def season_day_after(start: date, years: float, weights: ArrayLike) -> date:
    """The first day by which a number of ``season_years`` have passed since another, sixty years ahead at most.

    Source: inverse of ``season_years``.

    >>> from datetime import date
    >>> season_day_after(date(2025, 1, 1), 0.15, [0.05, 0.1, 0.2, 0.2] + [0.05625] * 8)
    datetime.date(2025, 3, 1)
    """
    year = _year(weights)
    wanted = _since_year_zero(start, year) + float(not_negative("years", min(years, _FURTHEST_YEARS))) - 1e-9
    low, high = start, start + timedelta(days=366 * (_FURTHEST_YEARS + 1))
    while low < high:
        middle = low + (high - low) // 2
        if _since_year_zero(middle, year) >= wanted:
            high = middle
        else:
            low = middle + timedelta(days=1)
    return low


def quarter_start_before(day: date, quarter: Sequence[int]) -> date | None:
    """First day of the three-month quarter that a day falls into; None when it falls outside of it.

    Source: the calendar.

    >>> from datetime import date
    >>> quarter_start_before(date(2026, 1, 20), (12, 1, 2))
    datetime.date(2025, 12, 1)
    """
    if day.month not in quarter:
        return None
    first = int(positive("quarter", quarter[0]))
    return date(day.year if day.month >= first else day.year - 1, first, 1)
