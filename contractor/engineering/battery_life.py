"""When a standby battery should be replaced; and, from one door, everything that is computed about a battery."""

from collections.abc import Sequence
from datetime import date
from typing import Final, overload

import numpy as np

from contractor.engineering.battery_checks import (
    Chemistry,
    LoadTest,
    LoadTestVerdict,
    StateOfCharge,
    float_voltage_v,
    gravity_at_27c,
    hydrogen_m3_h,
    judge_load_test,
    load_test_minimum_v,
    state_of_charge_from_rest_v,
)
from contractor.engineering.battery_reserve import (
    Reserve,
    capacity_factor,
    capacity_from_reserve_minutes_ah,
    peukert_exponent,
    reserve_h,
    runtime_h,
)
from contractor.engineering.errors import BadInput
from contractor.engineering.inputs import FloatArray, Quantity, as_given, not_negative, positive, warn, within
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
from contractor.engineering.trends import FEWEST_VISITS, theil_sen

__all__ = [
    "Chemistry",
    "LoadTest",
    "LoadTestVerdict",
    "Outlook",
    "Reserve",
    "StateOfCharge",
    "battery_outlook",
    "capacity_factor",
    "capacity_from_reserve_minutes_ah",
    "float_voltage_v",
    "gravity_at_27c",
    "hydrogen_m3_h",
    "judge_load_test",
    "life_factor",
    "load_test_minimum_v",
    "peukert_exponent",
    "reserve_h",
    "runtime_h",
    "state_of_charge_from_rest_v",
]

# Replace when capacity is below 80 % of the rating. Source: Bureau of Reclamation storage-battery manual (a copy).
END_OF_LIFE_CAPACITY: Final = 0.80
# Years on float at 25 °C, used until the maker's figure is known. Common practice, no source.
AGE_RULE_YEARS: Final = {Chemistry.FLOODED: 5.0, Chemistry.AGM: 5.0, Chemistry.GEL: 5.0, Chemistry.LIFEPO4: 10.0}
# Deep discharges until worn. Source: sellers' pages of low authority; the low end is taken.
DEEP_DISCHARGE_RULE: Final = {
    Chemistry.FLOODED: 300,
    Chemistry.AGM: 500,
    Chemistry.GEL: 500,
    Chemistry.LIFEPO4: 1500,
}
# Spread of lives round the expected one: three to seven years for five. Common practice, no source.
_EARLIEST_PART, _LATEST_PART = 0.6, 1.4
# A timed discharge in a basement is good to about five points in a hundred. Common practice, no source.
_CAPACITY_DOUBT: Final = 0.05
_HALVING_C: Final = 15.0 / 1.8
_ASSUMED_BASEMENT_C: Final = 20.0


def _life_factor(temperature: FloatArray) -> FloatArray:
    factor: FloatArray = 0.5 ** (np.maximum(temperature - 25.0, 0.0) / _HALVING_C)
    return factor


def _life_cautions(temperature: FloatArray) -> list[str]:
    if bool(np.any((temperature < 0.0) | (temperature > 50.0))):
        return ["The temperature is outside 0 to 50 °C, for which the effect of heat on battery life is meant."]
    return []


@overload
def life_factor(temperature_c: float) -> float: ...
@overload
def life_factor(temperature_c: Quantity) -> Quantity: ...
def life_factor(temperature_c: Quantity) -> Quantity:
    """Part of its life at 25 °C that a lead-acid battery reaches at another temperature.

    0.5^((T − 25)/8.33), dimensionless from °C; 1 at 25 °C and below, because the rule is stated for heat and a cool
    basement earns no credit. Valid from 0 to 50 °C; outside, a caution. Source: halving per 15 °F above 77 °F
    (secondary copies; others halve per 10 °C).

    >>> round(life_factor(33.3333), 2), life_factor(12.0)
    (0.5, 1.0)
    """
    temperature = within("temperature_c", temperature_c, -40.0, 80.0)
    warn(_life_cautions(temperature))
    return as_given(_life_factor(temperature))


def battery_outlook(
    *,
    installed_on: date,
    on: date,
    chemistry: Chemistry,
    temperature_c: float | None = None,
    expected_years: float | None = None,
    capacities: Sequence[tuple[date, float]] = (),
    deep_discharges: int | None = None,
    rated_deep_discharges: int | None = None,
    failed_test_on: date | None = None,
) -> Outlook:
    """The day by which a standby battery should be replaced, and why.

    ``installed_on`` date in and ``on`` the day of the estimate. ``temperature_c`` of the basement where the battery
    stands (None: 20 °C assumed). ``expected_years`` the maker's life on float at 25 °C (None: the age rule of the
    chemistry). ``capacities`` measured days and capacities as parts of the rating (0.92 for 92 %).
    ``deep_discharges`` times it was run down since installation (None: not known) against ``rated_deep_discharges``
    (None: a low figure for the chemistry). ``failed_test_on`` the day it failed a load or capacity test and was not
    replaced.

    Age: expected years × ``life_factor``, from 0.6 to 1.4 of it. Capacity: the day it falls to 80 % of the rating,
    by the trend through three measurements or more, else straight from 100% when new. Discharges: the day the rated
    number is used up at the past rate. A failed test: that day. The earliest governs; ranges take the earliest of
    each. Source: 80 % from the Bureau of Reclamation's manual (a copy); spreads are common practice.

    >>> from datetime import date
    >>> outlook = battery_outlook(installed_on=date(2023, 5, 1), on=date(2026, 5, 1), chemistry=Chemistry.AGM,
    ...                           temperature_c=18.0)
    >>> outlook.replace_by.isoformat(), outlook.governing.value
    ('2028-04-30', 'age')
    """
    age_years = checked_days(installed_on, on)
    readings = checked_readings("capacities", capacities, installed_on, on)
    measured = bool(readings) or deep_discharges is not None or failed_test_on is not None
    age_span, cautions = _age_span(
        installed_on,
        age_years,
        chemistry=chemistry,
        temperature_c=temperature_c,
        expected_years=expected_years,
        measured=measured,
    )
    spans = [age_span]
    for span, doubts in (
        _capacity_span(installed_on, readings),
        _discharge_span(installed_on, age_years, chemistry, deep_discharges, rated_deep_discharges),
        _test_span(installed_on, on, failed_test_on),
    ):
        cautions += doubts
        if span is not None:
            spans.append(span)
    return earliest_governs(spans, cautions)


def _age_span(
    installed_on: date,
    age_years: float,
    *,
    chemistry: Chemistry,
    temperature_c: float | None,
    expected_years: float | None,
    measured: bool,
) -> tuple[Span, list[str]]:
    cautions = []
    if temperature_c is None:
        temperature_c = _ASSUMED_BASEMENT_C
        cautions.append(f"The basement's temperature was not measured; {_ASSUMED_BASEMENT_C:.0f} °C is assumed.")
    temperature = within("temperature_c", temperature_c, -40.0, 80.0)
    cautions += _life_cautions(temperature)
    if expected_years is None:
        expected_years = AGE_RULE_YEARS[chemistry]
        words = years_in_words(expected_years)
        cautions.append(f"The maker's expected life is not known; {words} at 25 °C is assumed (common practice).")
    years = float(positive("expected_years", expected_years)) * float(_life_factor(temperature))
    if chemistry is Chemistry.LIFEPO4 and temperature_c > 25.0:
        cautions.append("The effect of heat is that of lead-acid batteries; LiFePO4 may differ.")
    article = "an" if chemistry is Chemistry.AGM else "a"
    start = article.capitalize() if measured else f"Nothing has been measured, so the age rule decides: {article}"
    warm = f" ({years_in_words(expected_years)} at 25 °C)" if temperature_c > 25.0 else ""
    if not measured:
        cautions.append("Nothing has been measured on this battery: a load test or a timed discharge tells more.")
    reason = (
        f"{start} {chemistry.word} battery in a basement at {temperature_c:.0f} °C is expected "
        f"to last {years_in_words(years)}{warm}; this one is {years_in_words(age_years)} old."
    )
    span = Span(
        governing=Governing.AGE,
        earliest=day_after(installed_on, years * _EARLIEST_PART),
        replace_by=day_after(installed_on, years),
        latest=day_after(installed_on, years * _LATEST_PART),
        reason=reason,
    )
    return span, cautions


def _capacity_span(installed_on: date, readings: list[tuple[date, float]]) -> tuple[Span | None, list[str]]:
    if not readings:
        return None, []
    day, last = readings[-1]
    if float(not_negative("capacities", last)) <= END_OF_LIFE_CAPACITY:
        reason = f"Its capacity was measured at {last:.0%} of the rating on {in_words(day)}; below 80% it is worn out."
        return Span(governing=Governing.CAPACITY, earliest=day, replace_by=day, latest=day, reason=reason), []
    if len(readings) < FEWEST_VISITS:
        return _capacity_line(installed_on, day, last)
    trend = theil_sen(
        [(when - installed_on).days for when, _ in readings], [c for _, c in readings], argument="capacities"
    )
    crossing = trend.reaches(END_OF_LIFE_CAPACITY)
    if crossing is None:
        return None, []
    # The last reading was still above: the line may not say that it had fallen below by then.
    falling = max(day_after(installed_on, crossing.day / DAYS_PER_YEAR), day)
    earliest = max(day_after(installed_on, crossing.earliest_day / DAYS_PER_YEAR), day)
    latest_day = np.inf if crossing.latest_day is None else crossing.latest_day
    reason = (
        f"Its measured capacity falls by {-trend.slope_per_year:.0%} of the rating a year, {last:.0%} on "
        f"{in_words(day)}, and reaches 80% about {falling:%B %Y}."
    )
    span = Span(
        governing=Governing.CAPACITY,
        earliest=earliest,
        replace_by=falling,
        latest=max(day_after(installed_on, latest_day / DAYS_PER_YEAR), day),
        reason=reason,
    )
    return span, ["Capacity falls faster near the end of a battery's life than a straight trend says."]


def _capacity_line(installed_on: date, day: date, last: float) -> tuple[Span | None, list[str]]:
    """Straight from the full rating at installation through the last reading, five points either way."""
    age = years_between(installed_on, day)
    doubt = ["Fewer than three capacity measurements: the fall is drawn straight from 100% when new."]
    if last >= 1.0 or age <= 0.0:
        return None, doubt

    def at(capacity: float) -> date:
        lost = 1.0 - capacity
        return day_after(installed_on, age * (1.0 - END_OF_LIFE_CAPACITY) / lost if lost > 0 else 60.0)

    falling = at(last)
    reason = (
        f"Its capacity was {last:.0%} of the rating on {in_words(day)}; at that pace it reaches 80% "
        f"about {falling:%B %Y}."
    )
    span = Span(
        governing=Governing.CAPACITY,
        earliest=max(at(last - _CAPACITY_DOUBT), min(day, falling)),
        replace_by=falling,
        latest=at(last + _CAPACITY_DOUBT),
        reason=reason,
    )
    return span, doubt


def _discharge_span(
    installed_on: date, age_years: float, chemistry: Chemistry, used: int | None, rated: int | None
) -> tuple[Span | None, list[str]]:
    if used is None:
        return None, []
    count = float(not_negative("deep_discharges", used))
    doubts = []
    if rated is None:
        rated = DEEP_DISCHARGE_RULE[chemistry]
        doubts.append(f"The maker's number of deep discharges is not known; {rated} is assumed (sellers' figures).")
    limit = float(positive("rated_deep_discharges", rated))
    if count == 0 or age_years == 0:
        return None, doubts
    years = age_years * limit / count
    reason = (
        f"It has been run down {used} times in {years_in_words(age_years)}; at that pace the {rated} deep discharges "
        f"it can stand are used up about {day_after(installed_on, years):%B %Y}."
    )
    span = Span(
        governing=Governing.DISCHARGES,
        earliest=day_after(installed_on, years * _EARLIEST_PART),
        replace_by=day_after(installed_on, years),
        latest=day_after(installed_on, years * _LATEST_PART),
        reason=reason,
    )
    return span, doubts


def _test_span(installed_on: date, on: date, failed_on: date | None) -> tuple[Span | None, list[str]]:
    if failed_on is None:
        return None, []
    if not installed_on <= failed_on <= on:
        raise BadInput("failed_test_on", failed_on, f"must lie from {installed_on}, the installation, to {on}")
    reason = f"It failed its test on {in_words(failed_on)}: replace it now."
    return Span(governing=Governing.TEST, earliest=failed_on, replace_by=failed_on, latest=failed_on, reason=reason), []
