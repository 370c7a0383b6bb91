"""Units at the edge: what people type and read on one side, what the computations take on the other.

Inside, every quantity is a plain float in one base unit: metre, m³/s, volt, ampere, °C, second, ampere-hour,
m³, pascal, m², and a bare ratio for slope, share (relative humidity) and specific gravity. ``UNITS`` lists what
may be typed and shown; its codes are what tables, checklists and the tablet store. Factors come from pint.
"""

import math
import re
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from typing import Any, Final

import pint

from contractor.core.errors import Refusal


class UnreadableMeasurement(Refusal):
    """What was typed is no measurement of the kind that was asked for; the sentence says how to type it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Unit:
    """One unit: ``code`` is stored, ``symbol`` is shown, ``word`` is read aloud.

    ``digits`` are the decimals shown at most; ``fixed`` keeps trailing zeros where the trade writes them.
    """

    code: str
    symbol: str
    word: str
    quantity: str
    pint_name: str
    digits: int
    also: tuple[str, ...] = ()
    fixed: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Typed:
    """A measurement as it came in: the text, the number and unit it says, and the value in the base unit."""

    text: str
    value: float
    unit: str
    si: float


BASE_PINT_NAMES: Final[dict[str, str]] = {
    "length": "meter",
    "flow": "meter ** 3 / second",
    "voltage": "volt",
    "current": "ampere",
    "temperature": "degree_Celsius",
    "time": "second",
    "count": "dimensionless",
    "capacity": "ampere_hour",
    "volume": "meter ** 3",
    "pressure": "pascal",
    "area": "meter ** 2",
    "slope": "dimensionless",
    "share": "dimensionless",
    "specific_gravity": "dimensionless",
}

QUANTITY_WORDS: Final[dict[str, str]] = {
    "length": "a length",
    "flow": "a flow",
    "voltage": "a voltage",
    "current": "a current",
    "temperature": "a temperature",
    "time": "a time",
    "count": "a whole number",
    "capacity": "a battery capacity",
    "volume": "a volume",
    "pressure": "a pressure",
    "area": "an area",
    "slope": "a slope",
    "share": "a percentage",
    "specific_gravity": "a specific gravity",
}

# Only these can be below zero: a cold cellar, wires crossed, a line that falls the wrong way.
SIGNED: Final = frozenset({"temperature", "voltage", "current", "slope"})
ABSOLUTE_ZERO_C: Final = -273.15


def _unit(
    code: str,
    quantity: str,
    pint_name: str,
    digits: int,
    word: str,
    *,
    symbol: str | None = None,
    also: tuple[str, ...] = (),
    fixed: bool = False,
) -> Unit:
    symbol = code if symbol is None else symbol
    return Unit(
        code=code,
        symbol=symbol,
        word=word,
        quantity=quantity,
        pint_name=pint_name,
        digits=digits,
        also=also,
        fixed=fixed,
    )


UNITS: Final[dict[str, Unit]] = {
    unit.code: unit
    for unit in (
        _unit("in", "length", "inch", 2, "inches", also=("inch", "inches", '"', "″", "''")),
        _unit("ft", "length", "foot", 1, "feet", also=("foot", "feet", "'", "′")),
        _unit("mm", "length", "millimeter", 1, "millimetres"),
        _unit("cm", "length", "centimeter", 1, "centimetres"),
        _unit("m", "length", "meter", 2, "metres"),
        _unit("gal/h", "flow", "US_liquid_gallon / hour", 0, "gallons an hour", also=("gph", "gal/hr")),
        _unit("gal/min", "flow", "US_liquid_gallon / minute", 1, "gallons a minute", also=("gpm",)),
        _unit("L/min", "flow", "liter / minute", 1, "litres a minute", also=("lpm",)),
        _unit("L/s", "flow", "liter / second", 2, "litres a second"),
        _unit("m3/s", "flow", "meter ** 3 / second", 6, "cubic metres a second", symbol="m³/s"),
        _unit("V", "voltage", "volt", 2, "volts", also=("volt", "volts")),
        _unit("A", "current", "ampere", 1, "amperes", also=("amp", "amps")),
        _unit("degF", "temperature", "degree_Fahrenheit", 0, "degrees Fahrenheit", symbol="°F", also=("f", "deg f")),
        _unit("degC", "temperature", "degree_Celsius", 1, "degrees Celsius", symbol="°C", also=("c", "deg c")),
        _unit("s", "time", "second", 0, "seconds", also=("sec", "second", "seconds")),
        _unit("min", "time", "minute", 1, "minutes", also=("minute", "minutes")),
        _unit("h", "time", "hour", 1, "hours", also=("hr", "hrs", "hour", "hours")),
        _unit("count", "count", "dimensionless", 0, "whole number", symbol="", also=("times", "x")),
        _unit("Ah", "capacity", "ampere_hour", 1, "ampere-hours"),
        _unit("gal", "volume", "US_liquid_gallon", 1, "gallons", also=("gallon", "gallons")),
        _unit("L", "volume", "liter", 1, "litres", also=("liter", "liters", "litre", "litres")),
        _unit("m3", "volume", "meter ** 3", 3, "cubic metres", symbol="m³"),
        _unit("psi", "pressure", "pound_force_per_square_inch", 1, "pounds per square inch"),
        _unit("kPa", "pressure", "kilopascal", 1, "kilopascals"),
        _unit("ft2", "area", "foot ** 2", 1, "square feet", symbol="ft²", also=("sq ft",)),
        _unit("m2", "area", "meter ** 2", 2, "square metres", symbol="m²"),
        _unit("in/ft", "slope", "inch / foot", 3, "inches per foot"),
        _unit("mm/m", "slope", "millimeter / meter", 0, "millimetres per metre"),
        _unit("%", "share", "percent", 0, "percent", symbol="%", also=("percent",)),
        _unit("SG", "specific_gravity", "dimensionless", 3, "specific gravity", symbol="", fixed=True),
    )
}

# What a company reads when it has not chosen otherwise, per quantity: US, metric.
DISPLAY_UNITS: Final[dict[str, tuple[str, str]]] = {
    "length": ("in", "mm"),
    "flow": ("gal/min", "L/min"),
    "voltage": ("V", "V"),
    "current": ("A", "A"),
    "temperature": ("degF", "degC"),
    "time": ("s", "s"),
    "count": ("count", "count"),
    "capacity": ("Ah", "Ah"),
    "volume": ("gal", "L"),
    "pressure": ("psi", "kPa"),
    "area": ("ft2", "m2"),
    "slope": ("in/ft", "mm/m"),
    "share": ("%", "%"),
    "specific_gravity": ("SG", "SG"),
}

SYSTEMS: Final = ("US", "metric")
# Fractions keep definitions exact: a US gallon is 231 cubic inches and an inch 25.4 mm, to the last digit.
_REGISTRY: Final[pint.UnitRegistry[Any]] = pint.UnitRegistry(non_int_type=Fraction)


def display_unit(quantity: str, system: str) -> str:
    """The unit code in which a company on ``system`` ("US" or "metric") reads a quantity."""
    return DISPLAY_UNITS[quantity][SYSTEMS.index(system)]


@cache
def factor_and_offset(unit: str) -> tuple[float, float]:
    """The two numbers that make the base unit: ``si = value * factor + offset``; for the tablet as well."""
    known = UNITS[unit]
    base = BASE_PINT_NAMES[known.quantity]
    nothing, one = (_REGISTRY.Quantity(Fraction(n), known.pint_name).to(base).magnitude for n in (0, 1))
    return float(one - nothing), float(nothing)


def to_si(value: float, unit: str) -> float:
    """A value in ``unit`` (a code of ``UNITS``) as a value in its quantity's base unit."""
    factor, offset = factor_and_offset(unit)
    return value * factor + offset


def from_si(value_si: float, unit: str) -> float:
    """A value in the base unit as a value in ``unit`` (a code of ``UNITS``)."""
    factor, offset = factor_and_offset(unit)
    return (value_si - offset) / factor


def shown(value_si: float, unit: str, *, more_digits: int = 0) -> str:
    """A value in the base unit as people read it in ``unit``: "12.6 V", "40 °F", "114,256".

    Decimals are those the trade's gauges give, trailing zeros dropped; a value too small for them keeps one
    significant digit rather than becoming 0. ``more_digits`` sets two close values apart.
    """
    known = UNITS[unit]
    value = from_si(value_si, unit)
    digits = known.digits + more_digits
    if known.quantity != "temperature" and 1e-9 < abs(value) < 0.5 * 10.0**-digits:
        digits = -math.floor(math.log10(abs(value)))
    number = f"{value:,.{digits}f}" if known.quantity == "count" else f"{value:.{digits}f}"
    if "." in number and not known.fixed:
        number = number.rstrip("0").rstrip(".")
    if not number.strip("-0."):
        number = number.lstrip("-")
    return _with_symbol(number, known)


def _with_symbol(number: str, unit: Unit) -> str:
    if not unit.symbol:
        return number
    return f"{number}%" if unit.symbol == "%" else f"{number} {unit.symbol}"


def parse(text: str, unit: str) -> Typed:
    """Read what a person typed into a field that is labelled with ``unit``.

    Takes a decimal point or comma, common fractions ("5 1/2", "5½"), the unit behind the number, another unit
    of the same quantity ("32 cm" in a field in inches), two of them ("5 ft 6 in", "2 min 30 s") and a stopwatch
    reading ("1:30", minutes and seconds). Raises ``UnreadableMeasurement``, whose sentence says what to type.
    """
    asked = UNITS[unit]
    cleaned = _cleaned(text)
    if not cleaned:
        raise UnreadableMeasurement(f"Nothing was typed: {_how_to(asked)}")
    if len(cleaned) > 40:
        raise UnreadableMeasurement(f"This is too long for {QUANTITY_WORDS[asked.quantity]}: {_how_to(asked)}")
    stopwatch = re.fullmatch(r"(\d{1,3}):([0-5]\d(?:\.\d+)?)", cleaned)
    if stopwatch and unit in {"s", "min"}:
        si = 60.0 * int(stopwatch[1]) + float(stopwatch[2])
        return Typed(text=text, value=from_si(si, unit), unit=unit, si=si)
    amounts = _amounts(cleaned, text, asked)
    if len(amounts) == 1:
        value, found = amounts[0]
        si = to_si(value, found.code)
        return _believable(Typed(text=text, value=value, unit=found.code, si=si), asked)
    (large, large_unit), (small, small_unit) = amounts
    si = to_si(large, large_unit.code) + to_si(small, small_unit.code)
    value = round(from_si(si, small_unit.code), 9)
    return _believable(Typed(text=text, value=value, unit=small_unit.code, si=si), asked)


_FRACTIONS: Final = {"½": "1/2", "¼": "1/4", "¾": "3/4", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8"}
_NUMBER: Final = (
    r"(?P<whole{0}>\d+)[ -](?P<top{0}>\d+)/(?P<under{0}>\d+)"
    r"|(?P<alone{0}>\d+)/(?P<below{0}>\d+)"
    r"|(?P<plain{0}>\d+(?:[.,]\d+)*|[.,]\d+)"
)
_ONE: Final = re.compile(rf"(?P<sign>-?)\s*(?:{_NUMBER.format(1)})\s*(?P<unit1>[^\d\s].*)?")
_TWO: Final = re.compile(
    rf"(?P<sign>-?)\s*(?:{_NUMBER.format(1)})\s*(?P<unit1>[^\d\s]+)[\s-]*"
    rf"(?:{_NUMBER.format(2)})\s*(?P<unit2>[^\d\s].*)"
)


def _cleaned(text: str) -> str:
    text = " ".join(text.replace("−", "-").replace("–", "-").split())
    for sign, plain in _FRACTIONS.items():
        text = re.sub(rf"(?<=\d) ?{sign}", f" {plain}", text).replace(sign, plain)
    return text


def _amounts(cleaned: str, text: str, asked: Unit) -> list[tuple[float, Unit]]:
    one = _ONE.fullmatch(cleaned)
    if one:
        found = _unit_named(one["unit1"], asked) if one["unit1"] else asked
        if found:
            value = _value(one, 1, text, found)
            return [(-value if one["sign"] else value, found)]
    two = _TWO.fullmatch(cleaned)
    if two and not two["sign"]:
        large, small = _unit_named(two["unit1"], asked), _unit_named(two["unit2"], asked)
        sizes = large and small and factor_and_offset(large.code)[0] > factor_and_offset(small.code)[0]
        if large and small and sizes and asked.quantity != "temperature":
            return [(_value(two, 1, text, large), large), (_value(two, 2, text, small), small)]
    words = QUANTITY_WORDS[asked.quantity]
    raise UnreadableMeasurement(f"“{text.strip()}” cannot be read as {words}: {_how_to(asked)}")


def _value(match: re.Match[str], place: int, text: str, unit: Unit) -> float:
    whole, top, under = match[f"whole{place}"], match[f"top{place}"], match[f"under{place}"]
    if match[f"alone{place}"]:
        whole, top, under = "0", match[f"alone{place}"], match[f"below{place}"]
    if whole is None:
        return _decimal(match[f"plain{place}"], text, unit)
    if int(under) == 0:
        raise UnreadableMeasurement(f"“{text.strip()}” divides by zero: {_how_to(unit)}")
    return int(whole) + int(top) / int(under)


def _decimal(number: str, text: str, unit: Unit) -> float:
    """A number with points and commas. "1,250" is 1250 to some and 1.25 to others, so it is asked back."""
    thousands = re.fullmatch(r"[1-9]\d{0,2}(,\d{3})+(\.\d+)?", number)
    if thousands and (number.count(",") > 1 or "." in number or unit.quantity == "count"):
        return float(number.replace(",", ""))
    if thousands:
        plain, decimal = number.replace(",", ""), number.replace(",", ".")
        raise UnreadableMeasurement(f"“{text.strip()}” can be read two ways: type {plain} or {decimal}.")
    number = number.replace(",", ".")
    if number.count(".") > 1:
        raise UnreadableMeasurement(f"“{text.strip()}” has more than one decimal point: {_how_to(unit)}")
    return float(number)


def _unit_named(name: str, asked: Unit) -> Unit | None:
    """The unit that someone wrote behind a number; a unit of another quantity is refused by name."""
    wanted = name.strip().rstrip(".").casefold()
    matches = [unit for unit in UNITS.values() if wanted in _names(unit)]
    for unit in matches:
        if unit.quantity == asked.quantity:
            return unit
    if matches:
        found, wants = QUANTITY_WORDS[matches[0].quantity], QUANTITY_WORDS[asked.quantity]
        raise UnreadableMeasurement(f"“{name.strip()}” stands for {found}; here {wants} is asked for: {_how_to(asked)}")
    return None


def _names(unit: Unit) -> set[str]:
    return {name.casefold() for name in (unit.code, unit.symbol, unit.word, *unit.also) if name}


def _believable(typed: Typed, asked: Unit) -> Typed:
    if typed.si < 0 and asked.quantity not in SIGNED:
        raise UnreadableMeasurement(f"{_sentence_start(asked)} cannot be less than nothing: {_how_to(asked)}")
    if asked.quantity == "temperature" and typed.si < ABSOLUTE_ZERO_C:
        raise UnreadableMeasurement(f"No temperature is as low as “{typed.text.strip()}”: {_how_to(asked)}")
    if asked.quantity == "count" and typed.value != int(typed.value):
        raise UnreadableMeasurement(f"“{typed.text.strip()}” is not a whole number: type how many, such as 12.")
    return typed


def _sentence_start(unit: Unit) -> str:
    words = QUANTITY_WORDS[unit.quantity]
    return words[0].upper() + words[1:]


def _in_words(unit: Unit) -> str:
    return "" if unit.quantity in {"count", "specific_gravity"} else f" in {unit.word}"


def _how_to(unit: Unit) -> str:
    examples = {"count": "12", "specific_gravity": "1.265", "temperature": _with_symbol("50", unit)}
    example = examples.get(unit.quantity) or _with_symbol("12.5", unit)
    return f"type a number{_in_words(unit)}, such as {example}."
