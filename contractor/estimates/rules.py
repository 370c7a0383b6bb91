"""By when a battery or pump should be replaced: the plain form, from its age and from what was found.

The date is the earlier of two: the age at which parts of this kind are expected to be worn out, and what the last
check-up found. Deeper estimates (wear by hours and starts, capacity over time) take the place of these functions
and answer with the same ``Estimate``.
"""

from calendar import isleap
from dataclasses import dataclass
from datetime import date, timedelta

DAYS_A_YEAR = 365.2425
MEASURED, DECLARED, ASSUMED, ON_RECORD = "measured", "declared by the maker", "assumed", "on record"

# Expected service life when the maker declares none, and how far real lives lie around it (as factors).
# Pumps: 10 years is the median service life of "pumps, sump and well" in the ASHRAE Handbook's table (HVAC
# Applications, owning and operating costs, Akalin 1978 data); 8 and 12 years are the low and good life of the same
# pumps in the Marshall & Swift life expectancy guidelines of October 2012.
# Batteries: 5 years on float at 25 °C and 0.7 to 1.3 around it: common practice, no source.
EXPECTED_YEARS: dict[str, float] = {"primary_pump": 10.0, "standby_pump": 10.0, "battery": 5.0}
SPREAD: dict[str, tuple[float, float]] = {
    "primary_pump": (0.8, 1.2),
    "standby_pump": (0.8, 1.2),
    "battery": (0.7, 1.3),
}
# No pump or battery is declared for longer; a larger number was typed in other units.
MOST_DECLARED_YEARS = 50.0
DECLARED_LIFE_KEYS = ("expected_years", "expected_years_at_25c")


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """What the last check-up found of a part: a condition word, the sentence that goes with it, and the day."""

    condition: str
    sentence: str
    on: date


@dataclass(frozen=True, slots=True, kw_only=True)
class PartInUse:
    """A battery or pump in the house. ``declared_years`` is the maker's expected life, None when not declared."""

    part_kind: str
    word: str
    installed_on: date
    declared_years: float | None = None
    found: Found | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Input:
    """One thing an estimate was made from; ``origin`` says where it came from (measured, on record, ...)."""

    name: str
    value: str
    unit: str
    origin: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """Replace by ``replace_by``; the true date lies between ``earliest`` and ``latest`` if nothing unusual happens."""

    replace_by: date
    earliest: date
    latest: date
    governing: str
    reason: str
    inputs: tuple[Input, ...]
    cautions: tuple[str, ...]


def estimated_kinds() -> tuple[str, ...]:
    """The part kinds whose life is estimated."""
    return tuple(EXPECTED_YEARS)


def declared_years(declared: dict[str, object]) -> float | None:
    """The life in years that a maker declares in catalogue data; None when there is no number that can be meant."""
    for key in DECLARED_LIFE_KEYS:
        value = declared.get(key)
        is_number = isinstance(value, int | float) and not isinstance(value, bool)
        if is_number and 0 < value <= MOST_DECLARED_YEARS:  # type: ignore[operator]
            return float(value)  # type: ignore[arg-type]
    return None


def estimate(part: PartInUse) -> Estimate:
    """The date by which this part should be replaced. ValueError for a kind whose life is not estimated."""
    if part.part_kind not in EXPECTED_YEARS:
        raise ValueError(f"The life of part kind {part.part_kind!r} is not estimated.")
    by_age = _by_age(part)
    found = part.found
    if found is None or found.condition not in {"bad", "watch"}:
        return by_age
    seen = Input(name="Found at the last check-up", value=found.sentence or found.condition, unit="", origin=MEASURED)
    if found.condition == "bad":
        return Estimate(
            replace_by=found.on,
            earliest=found.on,
            latest=found.on,
            governing="found bad",
            reason=f"The {part.word} was found bad on {_words(found.on)}{_clause(found.sentence)} Replace it now.",
            inputs=(*by_age.inputs, seen),
            cautions=(),
        )
    a_year_on = _years_after(found.on, 1.0)
    if by_age.replace_by <= a_year_on:
        return by_age
    return Estimate(
        replace_by=a_year_on,
        earliest=found.on,
        latest=by_age.replace_by,
        governing="found weak",
        reason=(
            f"The {part.word} was found weak on {_words(found.on)}{_clause(found.sentence)} "
            f"Replace it by {_words(a_year_on)}, at the next yearly check-up at the latest."
        ),
        inputs=(*by_age.inputs, seen),
        cautions=(*_age_cautions(part), "One year for a part found weak is common practice; no source gives a figure."),
    )


def _by_age(part: PartInUse) -> Estimate:
    years = EXPECTED_YEARS[part.part_kind] if part.declared_years is None else part.declared_years
    origin = ASSUMED if part.declared_years is None else DECLARED
    low, high = SPREAD[part.part_kind]
    replace_by = _years_after(part.installed_on, years)
    by_whom = "by the maker's figure" if origin == DECLARED else "as parts of this kind usually do"
    return Estimate(
        replace_by=replace_by,
        earliest=_years_after(part.installed_on, years * low),
        latest=_years_after(part.installed_on, years * high),
        governing="age",
        reason=(
            f"In since {_words(part.installed_on)}; a {part.word} lasts about {_number(years)} years {by_whom}, "
            f"so replace it by {_words(replace_by)}."
        ),
        inputs=(
            Input(name="In since", value=_words(part.installed_on), unit="", origin=ON_RECORD),
            Input(name="Expected life", value=_number(years), unit="years", origin=origin),
            Input(name="Shortest usual life", value=_number(low), unit="of the expected", origin=ASSUMED),
            Input(name="Longest usual life", value=_number(high), unit="of the expected", origin=ASSUMED),
        ),
        cautions=(
            "From age alone: nothing that was measured on this part is used to move the date forward or back.",
            *_age_cautions(part),
        ),
    )


def _age_cautions(part: PartInUse) -> tuple[str, ...]:
    cautions = []
    if part.declared_years is None:
        years = _number(EXPECTED_YEARS[part.part_kind])
        cautions.append(f"The expected life of {years} years is assumed; the maker's figure is not on record.")
    if part.part_kind == "battery":
        cautions.append("A warm basement shortens a battery's life; the figure holds for 25 °C (77 °F).")
    return tuple(cautions)


def _years_after(day: date, years: float) -> date:
    """Whole years by the calendar (February 29 becomes the 28th), the rest of a year by its share of days."""
    whole, rest = divmod(round(years, 6), 1)
    year = day.year + int(whole)
    anniversary = date(year, 2, 28) if (day.month, day.day) == (2, 29) and not isleap(year) else day.replace(year=year)
    return anniversary + timedelta(days=round(rest * DAYS_A_YEAR))


def _number(value: float) -> str:
    return f"{value:g}"


def _clause(sentence: str) -> str:
    """What was found, after a colon and closed like a sentence; only the full stop when nothing was written."""
    sentence = sentence.strip()
    if not sentence:
        return "."
    return f": {sentence}" if sentence.endswith((".", "!", "?")) else f": {sentence}."


def _words(on: date) -> str:
    return f"{on:%B} {on.day}, {on.year}"
