"""How long a lead-acid battery runs a pump: Peukert's law, the cold, and pumping only part of the time."""

from dataclasses import dataclass
from typing import Final, overload

import numpy as np

from contractor.engineering.inputs import (
    FloatArray,
    Quantity,
    as_given,
    finite,
    not_negative,
    positive,
    refuse_where,
    warn,
    within,
)

# Sizing factor kT = a·x³ + b·x² + c·x + d with x = T/100 °C. Source: documentation of a battery-sizing program; it
# agrees within 0.015 with the temperature table of IEEE 485 (table from memory).
_SIZING_POLYNOMIAL: Final = (-2.8117, 4.1916, -2.4941, 1.405)
_COLDEST_C, _HOTTEST_C = -3.9, 51.7
_LARGEST_EXPONENT: Final = 1.6


@dataclass(frozen=True, slots=True, kw_only=True)
class Reserve:
    """How long a battery keeps the pit from rising, and how much it lifts in that time.

    ``hours`` may be infinite (no water, no idle current). ``pumped_m3`` is None when the pump's flow was not given.
    """

    hours: Quantity
    pumped_m3: Quantity | None
    cautions: tuple[str, ...] = ()


def _factor_cautions(temperature: FloatArray) -> tuple[str, ...]:
    if bool(np.any((temperature < _COLDEST_C) | (temperature > _HOTTEST_C))):
        return ("The battery's temperature is outside −4 to 52 °C, for which the effect of cold on capacity is known.",)
    return ()


def _capacity_factor(temperature: FloatArray) -> FloatArray:
    factor: FloatArray = np.polyval(_SIZING_POLYNOMIAL, 0.25) / np.polyval(_SIZING_POLYNOMIAL, temperature / 100.0)
    return factor


@overload
def capacity_factor(temperature_c: float) -> float: ...
@overload
def capacity_factor(temperature_c: Quantity) -> Quantity: ...
def capacity_factor(temperature_c: Quantity) -> Quantity:
    """Part of its rated capacity that a lead-acid battery delivers at a temperature, 1 at 25 °C.

    1/kT with kT = −2.8117x³ + 4.1916x² − 2.4941x + 1.405, x = T/100 °C, scaled to 1 at 25 °C. Valid from −3.9 to
    51.7 °C; outside, a caution. Source: documentation of a battery-sizing program, within 0.015 of IEEE 485 table 1
    (from memory).

    >>> round(capacity_factor(10.0), 2), round(capacity_factor(25.0), 2)
    (0.84, 1.0)
    """
    temperature = within("temperature_c", temperature_c, -40.0, 60.0)
    warn(_factor_cautions(temperature))
    return as_given(_capacity_factor(temperature))


def _exponent(peukert: Quantity) -> FloatArray:
    exponent = finite("peukert", peukert)
    refuse_where(exponent < 1.0, "peukert", exponent, "must be 1 or more")
    return exponent


def _current_cautions(
    capacity: FloatArray, rate: FloatArray, current: FloatArray, exponent: FloatArray
) -> tuple[str, ...]:
    cautions = []
    if bool(np.any(current > capacity)):
        cautions.append("The current would empty the battery in less than an hour, where Peukert's law is uncertain.")
    if bool(np.any(current < 0.999 * capacity / rate)):
        cautions.append(
            "The current is below the one the capacity is rated at; the time beyond the rating is optimistic."
        )
    if bool(np.any(exponent > _LARGEST_EXPONENT)):
        cautions.append("The Peukert exponent is above 1.6, more than lead-acid batteries show.")
    return tuple(cautions)


def _runtime_h(capacity: FloatArray, rate: FloatArray, current: FloatArray, exponent: FloatArray) -> FloatArray:
    hours: FloatArray = rate * (capacity / (current * rate)) ** exponent
    return hours


@overload
def runtime_h(capacity_ah: float, rate_h: float, current_a: float, peukert: float) -> float: ...
@overload
def runtime_h(capacity_ah: Quantity, rate_h: Quantity, current_a: Quantity, peukert: Quantity) -> Quantity: ...
def runtime_h(capacity_ah: Quantity, rate_h: Quantity, current_a: Quantity, peukert: Quantity) -> Quantity:
    """How long a full battery supplies a constant current.

    Peukert: t = H · (C/(I·H))^k, in h, with C Ah rated over H h, I A and exponent k. Valid from the rated current
    C/H up to about C per hour, with a k fitted to two rates that bracket the current; outside, a caution. At the
    rated current the answer is H. Typical k: flooded 1.2 to 1.6, AGM 1.05 to 1.15, gel 1.1 to 1.25 (of low
    authority). Source: Peukert (1897), from memory, in the form for a capacity rated over H hours.

    >>> round(runtime_h(100, 20, 10, 1.2), 3), runtime_h(100, 20, 5, 1.2)
    (8.706, 20.0)
    """
    capacity, rate = positive("capacity_ah", capacity_ah), positive("rate_h", rate_h)
    current, exponent = positive("current_a", current_a), _exponent(peukert)
    warn(_current_cautions(capacity, rate, current, exponent))
    return as_given(_runtime_h(capacity, rate, current, exponent))


@overload
def peukert_exponent(current_1_a: float, hours_1: float, current_2_a: float, hours_2: float) -> float: ...
@overload
def peukert_exponent(
    current_1_a: Quantity, hours_1: Quantity, current_2_a: Quantity, hours_2: Quantity
) -> Quantity: ...
def peukert_exponent(current_1_a: Quantity, hours_1: Quantity, current_2_a: Quantity, hours_2: Quantity) -> Quantity:
    """Peukert exponent from two timed discharges.

    k = ln(t1/t2) / ln(I2/I1), dimensionless, from A and h. Valid between the two currents. BadInput for equal
    currents, or times that give k below 1 (a battery does not deliver more at a higher current); above 1.6 a
    caution. Source: Peukert's law solved for k.

    >>> round(peukert_exponent(5, 20, 25, 3), 4)
    1.1787
    """
    first, second = positive("current_1_a", current_1_a), positive("current_2_a", current_2_a)
    long, short = positive("hours_1", hours_1), positive("hours_2", hours_2)
    refuse_where(first == second, "current_2_a", second, "must differ from current_1_a")
    exponent = np.log(long / short) / np.log(second / first)
    rule = "must give a Peukert exponent of 1 or more together with the other test"
    refuse_where(exponent < 1.0 - 1e-9, "hours_2", short, rule)
    exponent = np.maximum(exponent, 1.0)
    if bool(np.any(exponent > _LARGEST_EXPONENT)):
        warn(["The two tests give a Peukert exponent above 1.6, more than lead-acid batteries show: check both tests."])
    return as_given(exponent)


@overload
def capacity_from_reserve_minutes_ah(minutes: float, peukert: float) -> float: ...
@overload
def capacity_from_reserve_minutes_ah(minutes: Quantity, peukert: Quantity) -> Quantity: ...
def capacity_from_reserve_minutes_ah(minutes: Quantity, peukert: Quantity) -> Quantity:
    """Twenty-hour capacity of a battery that is rated in reserve minutes at 25 A.

    C20 = 500 · (RC/1200)^(1/k), in Ah. Valid for a k that holds from 25 A down to the 20-hour current, and for
    RC up to 1200 min. Source: Peukert's law; reserve capacity is minutes at 25 A and 80 °F down to 10.5 V.

    >>> round(capacity_from_reserve_minutes_ah(120, 1.20), 1)
    73.4
    """
    reserve = positive("minutes", minutes)
    if bool(np.any(reserve > 1200.0)):
        warn(["A reserve of more than 1200 minutes is beyond what the conversion to 20 hours is meant for."])
    return as_given(500.0 * (reserve / 1200.0) ** (1.0 / _exponent(peukert)))


def reserve_h(
    capacity_ah: Quantity,
    rate_h: Quantity,
    current_a: Quantity,
    peukert: Quantity,
    duty: Quantity,
    *,
    health: Quantity = 1.0,
    temperature_c: Quantity = 25.0,
    idle_a: Quantity = 0.0,
    pump_flow_m3_s: Quantity | None = None,
) -> Reserve:
    """How long a full battery keeps up when its pump runs part of the time.

    t = I·t_c / (I·D + I0·(1 − D)), in h, where t_c is ``runtime_h`` at the pump's own current I with the capacity
    C · health · capacity_factor. ``duty`` D is inflow ÷ standby flow at the real head and voltage, 0 to 1; at
    1 or more the pump never stops, the pit overflows whatever the battery, and a caution says so. ``health`` is the
    measured part of the rated capacity. ``idle_a`` I0 is what the controller draws while the pump stands still.
    With ``pump_flow_m3_s`` the water lifted is given too. Treating the load as if it ran at the pump's current is the
    careful choice; Peukert on the mean current would promise more. Valid for lead-acid.
    Source: Peukert's law and a charge balance.

    >>> reserve = reserve_h(75, 20, 15, 1.2, duty=0.25, pump_flow_m3_s=0.001)
    >>> round(reserve.hours, 2), round(reserve.pumped_m3, 1)
    (15.16, 13.6)
    """
    capacity = positive("capacity_ah", capacity_ah) * positive("health", health)
    rate, current, exponent = positive("rate_h", rate_h), positive("current_a", current_a), _exponent(peukert)
    idle, wanted = not_negative("idle_a", idle_a), not_negative("duty", duty)
    temperature = within("temperature_c", temperature_c, -40.0, 60.0)
    running = np.minimum(wanted, 1.0)
    available = capacity * _capacity_factor(temperature)
    continuous = _runtime_h(available, rate, current, exponent)
    mean_current = current * running + idle * (1.0 - running)
    with np.errstate(divide="ignore"):
        hours = np.where(mean_current > 0, continuous * current / mean_current, np.inf)
    cautions = _factor_cautions(temperature) + _current_cautions(available, rate, current, exponent)
    if bool(np.any(wanted >= 1.0)):
        cautions += ("More water comes in than the standby pump lifts: the pit overflows whatever the battery.",)
    if bool(np.any(positive("health", health) < 0.8)):
        cautions += ("The battery holds less than 80% of its rating: replace it.",)
    pumped = _pumped_m3(hours, running, pump_flow_m3_s)
    if pumped is not None:
        hours = hours + np.zeros_like(pumped)  # an entry for each flow, like the water
    return Reserve(hours=as_given(hours), pumped_m3=pumped, cautions=cautions)


def _pumped_m3(hours: FloatArray, duty: FloatArray, pump_flow_m3_s: Quantity | None) -> Quantity | None:
    if pump_flow_m3_s is None:
        return None
    flow = not_negative("pump_flow_m3_s", pump_flow_m3_s)
    running_h = np.where(duty > 0, hours, 0.0) * duty
    return as_given(flow * running_h * 3600.0)
