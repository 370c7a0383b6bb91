"""Figures in the units that the company reads, and the same figures in base units for steps that are done by hand."""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from contractor.core.units import from_si, shown
from contractor.engineering.errors import BadInput
from contractor.engineering.outlook import in_words
from contractor.estimates.rules.facts import Given
from contractor.estimates.rules.results import Input, Step

_UNIT_OF_NAME = re.compile(r"_(m3_s|m3|m|c|ah|h|a|v|days|years)$")
_DEGREES = re.compile(r"(−?-?\d+(?:\.\d+)?)(?: to (−?\d+(?:\.\d+)?))? °C(?: \(-?\d+ °F\))?")
# Further than this a reserve is only arithmetic: self-discharge and the controller's own draw empty the battery.
_LONGEST_SAID_H = 72.0
_METRES = re.compile(r"(\d+\.\d) m\b(?!/)")


@dataclass(frozen=True, slots=True)
class Wording:
    """How figures are written; ``units`` is "US" or "metric"."""

    units: str

    @property
    def is_us(self) -> bool:
        return self.units == "US"

    def flow(self, flow_m3_s: float) -> str:
        return shown(flow_m3_s, "gal/min" if self.is_us else "L/min")

    def run(self, length_m: float) -> str:
        """A length that is walked: feet or metres."""
        return shown(length_m, "ft" if self.is_us else "m")

    def size(self, length_m: float) -> str:
        """A length that is held: inches or millimetres."""
        return f"{number(length_m / 0.0254, 3)} in" if self.is_us else f"{number(length_m * 1000.0, 3)} mm"

    def temperature(self, temperature_c: float) -> str:
        return shown(temperature_c, "degF" if self.is_us else "degC")

    def speed(self, velocity_m_s: float) -> str:
        return f"{velocity_m_s / 0.3048:.1f} ft/s" if self.is_us else f"{velocity_m_s:.2f} m/s"

    def sentence(self, text: str) -> str:
        """A sentence of the engineering core, with its °C and metres as the company reads them."""
        if not self.is_us:
            return text
        return _METRES.sub(lambda found: self.run(float(found[1])), _DEGREES.sub(_fahrenheit, text))

    def sentences(self, texts: Iterable[str]) -> tuple[str, ...]:
        """Several sentences, each once."""
        return tuple(dict.fromkeys(self.sentence(text) for text in texts))

    def value(self, value: float, unit: str) -> str:
        """A value in the unit that people read for it; a bare number for no unit."""
        writers = {"m3/s": self.flow, "m": self.run, "degC": self.temperature}
        if unit in writers:
            return writers[unit](value)
        if unit == "h":
            return f"{value:,.0f} h" if value >= 100 else f"{number(value, 3)} h"
        return shown(value, unit) if unit else number(value, 6)


def _fahrenheit(found: re.Match[str]) -> str:
    low, high = (part and f"{from_si(float(part.replace('−', '-')), 'degF'):.0f}" for part in found.groups())
    return f"{low} to {high} °F" if high else f"{low} °F"


def number(value: float, digits: int = 4) -> str:
    """A bare number with a few significant digits and no needless zeros.

    >>> number(0.00012345678), number(3.0), number(24123.7)
    ('0.0001235', '3', '24120')
    """
    if value == 0:
        return "0"
    text = f"{value:.{digits}g}"
    if "e" in text:
        text = f"{float(text):.12f}" if abs(value) < 1 else f"{float(text):.0f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def hours(value: float) -> str:
    """Hours as people say them: no more exact than they are known.

    >>> hours(7.26), hours(0.4), hours(1.0), hours(12.4), hours(400.0)
    ('7 hours', '25 minutes', '1 hour', '12 hours', 'three days or more')
    """
    if value >= _LONGEST_SAID_H:
        return "three days or more"
    if value < 1.0:
        return f"{max(round(value * 12) * 5, 5)} minutes"
    return "1 hour" if round(value) == 1 else f"{value:.0f} hours"


def plain(trouble: BadInput) -> str:
    """A refusal of the engineering core with the argument's name as people say it.

    >>> plain(BadInput("static_lift_m", -1.0, "must not be negative"))
    'static lift must not be negative, but is -1.0.'
    """
    said = _UNIT_OF_NAME.sub("", trouble.argument).replace("_", " ")
    return str(trouble).replace(trouble.argument, said, 1)


def words(day: date) -> str:
    """A day as people read it."""
    return in_words(day)


def entry(
    name: str, given: Given[float] | Given[bool] | Given[str], say: Wording, *, held: bool = False, word: str = ""
) -> Input:
    """A fact as an input; ``held`` for a length in inches or millimetres, ``word`` in place of the bare value."""
    value = given.value
    if word:
        text = word
    elif isinstance(value, bool):
        text = "yes" if value else "no"
    elif isinstance(value, str):
        text = value
    else:
        text = say.size(value) if held else say.value(value, given.unit)
    return Input(
        name=name,
        value=text,
        unit="",
        origin=given.origin,
        on=given.on.isoformat() if given.on else "",
        note=given.note,
    )


def step(name: str, formula: str, with_numbers: str, result: str) -> Step:
    """One line of a computation."""
    return Step(name=name, formula=formula, with_numbers=with_numbers, result=result)
