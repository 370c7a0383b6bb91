"""What may be read from a 12 V standby battery on a check-up: voltage at rest, acid, load test, float charge, gas.

What a voltage tells depends on the chemistry. A lithium iron phosphate battery's voltage is nearly flat over its
whole charge, so nothing is inferred from it.
"""

from dataclasses import dataclass
from enum import StrEnum
from typing import Final, overload

import numpy as np

from contractor.engineering.inputs import FloatArray, Quantity, as_given, finite, not_negative, positive, warn, within


class Chemistry(StrEnum):
    """How a battery stores its charge."""

    FLOODED = "flooded"
    AGM = "agm"
    GEL = "gel"
    LIFEPO4 = "lifepo4"

    @property
    def word(self) -> str:
        """The name that people read."""
        return {"flooded": "flooded lead-acid", "agm": "AGM", "gel": "gel", "lifepo4": "LiFePO4"}[self.value]


class LoadTestVerdict(StrEnum):
    """What a load test showed."""

    PASSED = "passed"
    FAILED = "failed"
    INCONCLUSIVE = "inconclusive"


# Load test, half the cold-cranking current for 15 s: least voltage by temperature. Source: several vehicle makers'
# service manuals, which agree; printed in °F (and in rounded °C).
_LOAD_TEST_F: Final = (0.0, 10.0, 20.0, 30.0, 40.0, 50.0, 60.0, 70.0)
_LOAD_TEST_V: Final = (8.5, 8.7, 8.9, 9.1, 9.3, 9.4, 9.5, 9.6)
# Open-circuit voltage of a rested flooded 12 V battery at 80 °F. Source: table credited to the battery makers' council.
_REST_V: Final = (11.89, 12.06, 12.24, 12.45, 12.65)
_REST_CHARGE: Final = (0.0, 0.25, 0.50, 0.75, 1.0)
# AGM stands at 12.8 to 12.9 V when full (from memory); gel is taken to be the same (common practice, no source).
_SEALED_SHIFT_V: Final = 0.20
_CHARGE_FOR_LOAD_TEST: Final = 0.75
_LOAD_TEST_SECONDS: Final = 15.0
_FARADAY_C_MOL: Final = 96485.332
_GAS_J_MOL_K: Final = 8.314463
_ATMOSPHERE_PA: Final = 101325.0


def _fahrenheit(temperature_c: FloatArray) -> FloatArray:
    return temperature_c * 1.8 + 32.0


@dataclass(frozen=True, slots=True, kw_only=True)
class StateOfCharge:
    """Charge as a part of full, 0 to 1 (array for arrays); None where the voltage tells nothing."""

    fraction: Quantity | None
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadTest:
    """A judged load test: the verdict, the voltage it needed to hold, the volts to spare (negative: missing)."""

    verdict: LoadTestVerdict
    minimum_v: float | None
    margin_v: float | None
    reason: str
    cautions: tuple[str, ...] = ()


def state_of_charge_from_rest_v(volts: Quantity, chemistry: Chemistry) -> StateOfCharge:
    """Charge of a 12 V battery from its voltage at rest.

    Linear between 11.89 V (0), 12.06 (¼), 12.24 (½), 12.45 (¾) and 12.65 V (full) for flooded lead-acid at 27 °C;
    0.20 V higher for AGM and gel. Valid after at least 6 to 8 hours (better 24) without charge or load; no
    temperature correction. LiFePO4: no answer (``fraction`` None). Source: table credited to the battery makers'
    council; the shift for AGM and gel is from memory.

    >>> round(state_of_charge_from_rest_v(12.45, Chemistry.FLOODED).fraction, 2)
    0.75
    >>> state_of_charge_from_rest_v(13.2, Chemistry.LIFEPO4).fraction is None
    True
    """
    rest = positive("volts", volts)
    if chemistry is Chemistry.LIFEPO4:
        sentence = "A LiFePO4 battery's voltage hardly changes with its charge: measure its capacity instead."
        return StateOfCharge(fraction=None, cautions=(sentence,))
    cautions = []
    shift = 0.0
    if chemistry is not Chemistry.FLOODED:
        shift = _SEALED_SHIFT_V
        cautions.append("Sealed batteries stand about 0.2 V higher than flooded ones; the maker's own table is better.")
    if bool(np.any(rest > _REST_V[-1] + shift + 0.15)):
        cautions.append(
            "The voltage is above that of a full battery at rest: let it rest 6 hours or more off the charger."
        )
    if bool(np.any(rest < _REST_V[0] + shift)):
        cautions.append(
            "The voltage is below that of an empty battery: a cell may be dead. Charge fully and test again."
        )
    return StateOfCharge(fraction=as_given(np.interp(rest - shift, _REST_V, _REST_CHARGE)), cautions=tuple(cautions))


@overload
def gravity_at_27c(gravity: float, temperature_c: float) -> float: ...
@overload
def gravity_at_27c(gravity: Quantity, temperature_c: Quantity) -> Quantity: ...
def gravity_at_27c(gravity: Quantity, temperature_c: Quantity) -> Quantity:
    """Specific gravity of the acid as it would read at 80 °F (26.7 °C).

    SG80 = SG + 0.004 · (T°F − 80)/10; dimensionless, from °C. Valid for readings of 1.00 to 1.35 from −30 to 60 °C.
    Source: vehicle makers' service manuals (1.250 at 90 °F is 1.254; at 70 °F it is 1.246).

    >>> round(gravity_at_27c(1.250, 32.2222), 3)
    1.254
    """
    reading = within("gravity", gravity, 1.0, 1.4)
    temperature = finite("temperature_c", temperature_c)
    if bool(np.any((temperature < -30) | (temperature > 60))):
        warn(["The acid's temperature is outside −30 to 60 °C, for which the gravity correction is meant."])
    return as_given(reading + 0.0004 * (_fahrenheit(temperature) - 80.0))


@overload
def load_test_minimum_v(temperature_c: float) -> float: ...
@overload
def load_test_minimum_v(temperature_c: Quantity) -> Quantity: ...
def load_test_minimum_v(temperature_c: Quantity) -> Quantity:
    """Least voltage a good 12 V lead-acid battery holds for 15 s at half its cold-cranking current.

    Linear between 9.6 V at 70 °F (21 °C) and above, 9.5 at 60, 9.4 at 50, 9.3 at 40, 9.1 at 30, 8.9 at 20, 8.7 at
    10 and 8.5 V at 0 °F (−18 °C). Valid from −18 °C up; colder, 8.5 V is held and a caution issued. Meant for
    starting batteries that have such a rating. Source: several vehicle makers' service manuals.

    >>> load_test_minimum_v(10.0)
    9.4
    """
    fahrenheit = _fahrenheit(finite("temperature_c", temperature_c))
    if bool(np.any(fahrenheit < -0.5)):
        warn(["The battery is colder than −18 °C, the coldest for which the load test is given: warm it first."])
    return as_given(np.round(np.interp(fahrenheit, _LOAD_TEST_F, _LOAD_TEST_V), 6))


def _load_test_doubts(
    seconds: float, load_a: float | None, cold_cranking_a: float | None, charge: float | None
) -> tuple[list[str], list[str]]:
    """Sentences that forbid a pass, and sentences that forbid a fail."""
    no_pass, no_fail = [], []
    if seconds < _LOAD_TEST_SECONDS:
        no_pass.append(f"The load was held for {seconds:g} s only; the test needs 15 s.")
    if cold_cranking_a is None:
        sentence = "The battery has no cold-cranking rating: only a timed discharge tells its capacity."
        no_pass.append(sentence)
    elif load_a is not None and load_a < 0.5 * cold_cranking_a * 0.95:
        no_pass.append(
            f"The load of {load_a:g} A is less than half the cold-cranking current of {cold_cranking_a:g} A."
        )
    elif load_a is not None and load_a > 0.5 * cold_cranking_a * 1.05:
        no_fail.append(
            f"The load of {load_a:g} A is more than half the cold-cranking current of {cold_cranking_a:g} A."
        )
    if charge is not None and charge < _CHARGE_FOR_LOAD_TEST:
        no_fail.append(f"The battery was only {charge:.0%} charged; charge it to 75% or more and test again.")
    return no_pass, no_fail


def judge_load_test(
    *,
    volts: float,
    temperature_c: float,
    chemistry: Chemistry,
    seconds: float = 15.0,
    load_a: float | None = None,
    cold_cranking_a: float | None = None,
    state_of_charge: float | None = None,
) -> LoadTest:
    """Judge a load test, and say when it proves nothing.

    ``volts`` at the end of the load; ``temperature_c`` of the battery; ``seconds`` the load was held; ``load_a`` the
    load (None: taken to be half of ``cold_cranking_a``); ``cold_cranking_a`` the maker's rating (None: has none);
    ``state_of_charge`` before the test, 0 to 1 (None: not known).

    The minimum is ``load_test_minimum_v``. A voltage that holds proves nothing if the load was too short, too light
    or cannot be related to a rating; a voltage that falls proves nothing if the battery was not charged or the load
    was too heavy. LiFePO4 is not judged by voltage at all. Source: vehicle makers' service manuals; 75 % charge is
    from secondary copies.

    >>> judge_load_test(volts=9.1, temperature_c=10, chemistry=Chemistry.AGM, cold_cranking_a=600).verdict.value
    'failed'
    """
    measured = float(not_negative("volts", volts))
    held = float(positive("seconds", seconds))
    load = None if load_a is None else float(positive("load_a", load_a))
    cranking = None if cold_cranking_a is None else float(positive("cold_cranking_a", cold_cranking_a))
    charge = None if state_of_charge is None else float(within("state_of_charge", state_of_charge, 0.0, 1.0))
    if chemistry is Chemistry.LIFEPO4:
        reason = "A LiFePO4 battery is not judged by its voltage: measure its capacity by a timed discharge."
        return LoadTest(verdict=LoadTestVerdict.INCONCLUSIVE, minimum_v=None, margin_v=None, reason=reason)
    minimum = load_test_minimum_v(float(finite("temperature_c", temperature_c)))
    margin = round(measured - minimum, 6)
    no_pass, no_fail = _load_test_doubts(held, load, cranking, charge)
    held_up = margin >= 0
    doubts = no_pass if held_up else no_fail
    verdict = LoadTestVerdict.PASSED if held_up else LoadTestVerdict.FAILED
    reason = (
        f"It held {measured:.2f} V under load; a good battery holds {minimum:.2f} V or more at {temperature_c:.0f} °C."
        if held_up
        else f"It fell to {measured:.2f} V under load; a good battery holds {minimum:.2f} V at {temperature_c:.0f} °C."
    )
    if doubts:
        verdict, reason = LoadTestVerdict.INCONCLUSIVE, doubts[0]
    return LoadTest(
        verdict=verdict,
        minimum_v=minimum,
        margin_v=margin,
        reason=reason,
        cautions=tuple(no_pass + no_fail),
    )


@overload
def float_voltage_v(temperature_c: float, cells: int = ..., at_25c_per_cell: float = ...) -> float: ...
@overload
def float_voltage_v(temperature_c: Quantity, cells: Quantity = ..., at_25c_per_cell: Quantity = ...) -> Quantity: ...
def float_voltage_v(temperature_c: Quantity, cells: Quantity = 6, at_25c_per_cell: Quantity = 2.25) -> Quantity:
    """Voltage at which a charger should hold a lead-acid battery at a temperature.

    U = cells · (U25 − 0.003 · (T − 25)), V from °C. Valid from 0 to 40 °C and for the U25 that the battery's maker
    gives; outside, a caution. Not for LiFePO4. Source: makers' float-charge notes (2.30 V per cell at 25 °C is 2.27
    at 35 °C and 2.33 at 15 °C).

    >>> round(float_voltage_v(10.0), 2)
    13.77
    """
    temperature = finite("temperature_c", temperature_c)
    count, per_cell = positive("cells", cells), positive("at_25c_per_cell", at_25c_per_cell)
    if bool(np.any((temperature < 0) | (temperature > 40))):
        warn(["The float voltage is given for 0 to 40 °C; follow the battery's maker outside of it."])
    return as_given(count * (per_cell - 0.003 * (temperature - 25.0)))


@overload
def hydrogen_m3_h(current_a: float, cells: int, temperature_c: float = ...) -> float: ...
@overload
def hydrogen_m3_h(current_a: Quantity, cells: Quantity, temperature_c: Quantity = ...) -> Quantity: ...
def hydrogen_m3_h(current_a: Quantity, cells: Quantity, temperature_c: Quantity = 25.0) -> Quantity:
    """Most hydrogen that charging can give off, once a lead-acid battery is full and all current splits water.

    Faraday: 3600/(2·F) mol per Ah and cell at one atmosphere; 0.456 L per Ah and cell at 25 °C. m³/h from A and °C.
    Valid for vented cells; sealed cells recombine most of it. Keep the air below 1 %, a quarter of the 4 % at which
    it can explode. Source: Faraday's law; handbooks print 0.01474 ft³ (0.417 L) at 0 °C and 0.46 L at 25 °C.

    >>> round(hydrogen_m3_h(10.0, 6) * 1000, 1)
    27.4
    """
    current, count = not_negative("current_a", current_a), positive("cells", cells)
    kelvin = within("temperature_c", temperature_c, -40.0, 80.0) + 273.15
    moles_per_ah = 3600.0 / (2.0 * _FARADAY_C_MOL)
    return as_given(current * count * moles_per_ah * _GAS_J_MOL_K * kelvin / _ATMOSPHERE_PA)
