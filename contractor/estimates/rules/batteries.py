"""By when a standby battery should be replaced: age in its basement, measured capacity, deep discharges, a failed test.

Chemistry decides what may be inferred: the voltage of a lithium iron phosphate battery tells nothing.
"""

from dataclasses import dataclass
from datetime import date

from contractor.engineering.battery_checks import Chemistry
from contractor.engineering.battery_life import DEEP_DISCHARGE_RULE, END_OF_LIFE_CAPACITY, battery_outlook
from contractor.engineering.errors import BadInput
from contractor.engineering.outlook import Outlook, day_after, years_between
from contractor.estimates.rules import assumed
from contractor.estimates.rules.facts import ASSUMED, MEASURED, ON_RECORD, BatteryFacts, Given, latest
from contractor.estimates.rules.found import is_at_its_end, with_what_was_found
from contractor.estimates.rules.pump_steps import slope_steps
from contractor.estimates.rules.reserves import basement_c
from contractor.estimates.rules.results import Dated, Input, Step
from contractor.estimates.rules.wording import Wording, entry, number, plain, step, words
from contractor.estimates.rules.workings import Workings

_HALVING_C = 15.0 / 1.8
_WARM_C = 25.0
NO_CHEMISTRY = "The battery's chemistry is not on record: flooded lead-acid is assumed, which lasts shortest."
NO_TEMPERATURE = "The basement's temperature was not measured; it is assumed."
VOLTAGE_TELLS_NOTHING = "A LiFePO4 battery's voltage tells nothing of its capacity: only a timed discharge does."
NO_RATING = "The battery's rating is not on record, so what was measured of its capacity can't be judged."
OWN_BASEMENTS = "The expected life is that of this company's own batteries, in the basements where they stood."


@dataclass(frozen=True, slots=True, kw_only=True)
class _Known:
    """What is known of a battery, as the outlook takes it."""

    chemistry: Given[str]
    temperature_c: Given[float]
    years: Given[float]
    shape: float
    years_at_25c: float
    capacities: tuple[tuple[date, float], ...]
    deep_discharges: int | None
    failed_test_on: date | None
    cautions: tuple[str, ...]

    @property
    def life_factor(self) -> float:
        """The part of its life at 25 °C that heat leaves."""
        return float(0.5 ** (max(self.temperature_c.value - _WARM_C, 0.0) / _HALVING_C))


def battery_estimate(battery: BatteryFacts, worked: Workings, say: Wording) -> Dated:
    """The date for one battery of a system, with everything that it was made from."""
    known = _known(battery, worked)
    outlook, troubles = _outlook(battery, known, worked.on)
    dated = Dated(
        component_id=battery.component_id,
        installed_on=battery.installed_on,
        replace_by=outlook.replace_by,
        earliest=outlook.earliest,
        latest=outlook.latest,
        governing=outlook.governing.value,
        reason=say.sentence(outlook.reason),
        inputs=_inputs(battery, known, say),
        steps=(
            *_age_steps(battery, known, say),
            *_capacity_steps(battery, known),
            *_discharge_steps(battery, known, worked.on),
            _date_step(outlook),
        ),
        cautions=say.sentences((*outlook.cautions, *known.cautions, *troubles)),
        shape=known.shape,
        has_failed=is_at_its_end(outlook),
    )
    return with_what_was_found(dated, battery.found, word=battery.word)


def _known(battery: BatteryFacts, worked: Workings) -> _Known:
    chemistry, temperature = assumed.chemistry_of(battery), basement_c(worked.facts)
    years, shape = assumed.expected_years(battery)
    is_lithium = chemistry.value == Chemistry.LIFEPO4
    cautions = [NO_CHEMISTRY] if chemistry.origin == ASSUMED else []
    if temperature.origin == ASSUMED:
        cautions.append(NO_TEMPERATURE)
    if is_lithium:
        cautions.append(VOLTAGE_TELLS_NOTHING)
    if battery.capacities and battery.capacity_ah is None:
        cautions.append(NO_RATING)
    own = years.origin == MEASURED
    if own:
        cautions.append(OWN_BASEMENTS)
    # The own records are of basements as they are: heat has been counted in them already.
    heat = 0.5 ** (max(temperature.value - _WARM_C, 0.0) / _HALVING_C) if own else 1.0
    return _Known(
        chemistry=chemistry,
        temperature_c=temperature,
        years=years,
        shape=shape,
        years_at_25c=years.value / heat,
        capacities=_capacities(battery),
        deep_discharges=_deep_discharges(battery),
        failed_test_on=None if is_lithium else _failed_test_on(battery),
        cautions=tuple(cautions),
    )


def _capacities(battery: BatteryFacts) -> tuple[tuple[date, float], ...]:
    if battery.capacity_ah is None:
        return ()
    return tuple((reading.on, reading.value / battery.capacity_ah.value) for reading in battery.capacities)


def _deep_discharges(battery: BatteryFacts) -> int | None:
    """How often it was run down since it went in: the counts of all check-ups added up."""
    if not battery.deep_discharges:
        return None
    return round(sum(reading.value for reading in battery.deep_discharges))


def _failed_test_on(battery: BatteryFacts) -> date | None:
    """The day of the last load test if it failed and nothing was put right since."""
    last = latest(battery.load_tests)
    return last.on if last is not None and last.good is False and battery.found is not None else None


def _outlook(battery: BatteryFacts, known: _Known, on: date) -> tuple[Outlook, tuple[str, ...]]:
    expected = None if known.years.origin == ASSUMED else known.years_at_25c
    chemistry = Chemistry(known.chemistry.value)
    try:
        outlook = battery_outlook(
            installed_on=battery.installed_on,
            on=on,
            chemistry=chemistry,
            temperature_c=known.temperature_c.value,
            expected_years=expected,
            capacities=known.capacities,
            deep_discharges=known.deep_discharges,
            failed_test_on=known.failed_test_on,
        )
    except BadInput as trouble:
        outlook = battery_outlook(
            installed_on=battery.installed_on, on=on, chemistry=chemistry, expected_years=expected
        )
        return outlook, (f"What was measured can't be used, so only its age counts: {plain(trouble)}",)
    return outlook, ()


def _inputs(battery: BatteryFacts, known: _Known, say: Wording) -> tuple[Input, ...]:
    chemistry = Chemistry(known.chemistry.value)
    inputs = [
        Input(name="In since", value=words(battery.installed_on), unit="", origin=ON_RECORD),
        entry("Chemistry", known.chemistry, say, word=chemistry.word),
        entry(
            f"Expected life at {say.temperature(_WARM_C)}", known.years, say, word=f"{number(known.years.value)} years"
        ),
        entry("Basement's temperature", known.temperature_c, say),
    ]
    if battery.capacity_ah is not None:
        inputs.append(entry("Rated capacity", battery.capacity_ah, say))
    inputs += [_read("Capacity measured", f"{number(one.value)} Ah", one.on) for one in battery.capacities]
    if chemistry is not Chemistry.LIFEPO4:
        inputs += [_read("Load test", f"{number(one.value)} V", one.on) for one in battery.load_tests]
    inputs += [
        _read("Deep discharges since the check-up before", number(one.value), one.on) for one in battery.deep_discharges
    ]
    return tuple(inputs)


def _read(name: str, value: str, on: date) -> Input:
    return Input(name=name, value=value, unit="", origin=MEASURED, on=on.isoformat())


def _age_steps(battery: BatteryFacts, known: _Known, say: Wording) -> tuple[Step, ...]:
    years = known.years_at_25c * known.life_factor
    temperature = number(known.temperature_c.value)
    return (
        step(
            f"Part of its life that heat leaves (1 up to {say.temperature(_WARM_C)})",
            "0.5^((T − 25) ÷ 8.333), in °C, at most 1",
            f"0.5^(({temperature} − 25) ÷ 8.333)",
            number(known.life_factor),
        ),
        step(
            "By age",
            "day it went in + expected life · that part · 365.25 days",
            f"{words(battery.installed_on)} + {number(known.years_at_25c)} · {number(known.life_factor)} · 365.25 days",
            words(day_after(battery.installed_on, years)),
        ),
        step(
            "Range of that",
            "0.6 and 1.4 of the expected life",
            f"0.6 · {number(years)} and 1.4 · {number(years)}",
            f"{number(0.6 * years)} and {number(1.4 * years)} years",
        ),
    )


def _capacity_steps(battery: BatteryFacts, known: _Known) -> tuple[Step, ...]:
    if not known.capacities or battery.capacity_ah is None:
        return ()
    day, last = known.capacities[-1]
    steps = [
        step(
            "Capacity as a part of the rating",
            "measured ÷ rated",
            f"{number(battery.capacities[-1].value)} ÷ {number(battery.capacity_ah.value)}",
            f"{last:.1%} on {words(day)}",
        )
    ]
    age = years_between(battery.installed_on, day)
    if len(known.capacities) < 3 and END_OF_LIFE_CAPACITY < last < 1.0 and age > 0:
        steps.append(
            step(
                "When it falls to 80 % of the rating, straight from full when new",
                "age then · 0.20 ÷ (1 − capacity)",
                f"{number(age)} · 0.20 ÷ (1 − {number(last)})",
                f"{number(age * (1.0 - END_OF_LIFE_CAPACITY) / (1.0 - last))} years after it went in",
            )
        )
    steps += slope_steps("capacity", known.capacities, END_OF_LIFE_CAPACITY)
    return tuple(steps)


def _discharge_steps(battery: BatteryFacts, known: _Known, on: date) -> tuple[Step, ...]:
    if not known.deep_discharges:
        return ()
    limit = DEEP_DISCHARGE_RULE[Chemistry(known.chemistry.value)]
    age = years_between(battery.installed_on, on)
    return (
        step(
            "When its deep discharges are used up",
            "age · discharges it can stand ÷ discharges so far",
            f"{number(age)} · {limit} ÷ {known.deep_discharges}",
            f"{_years_on(age * limit / known.deep_discharges)} after it went in",
        ),
    )


def _years_on(years: float) -> str:
    """Years to come; no part is planned further ahead than sixty."""
    return "more than 60 years" if years > 60 else f"{number(years)} years"


def _date_step(outlook: Outlook) -> Step:
    return step(
        "The earliest governs",
        "the first of the days by age, by capacity, by discharges and by test",
        outlook.governing.value,
        words(outlook.replace_by),
    )
