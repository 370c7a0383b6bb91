"""Readings, limits and units in words, as pages and reports show them."""

from collections.abc import Sequence

from contractor.checkups.rules.items import FORMULAS, Item
from contractor.checkups.rules.verdicts import NOT_POSSIBLE, Reading, Verdict
from contractor.core.units import UNITS, Unit, display_unit, shown


def result_unit(item: Item, system: str) -> str:
    """The unit code in which an item's result is read: that of the gauge, or of the flow that is computed from it."""
    result = FORMULAS.get(item.formula or "", item.quantity or "")
    if item.quantity and result == item.quantity:
        return item.unit(system) or display_unit(result, system)
    return display_unit(result, system) if result else ""


def value_in_words(item: Item, reading: Reading, verdict: Verdict, system: str) -> str:
    """What a line says in few words: a figure with its unit, a word, or a note."""
    if verdict.word == NOT_POSSIBLE:
        return f"not possible: {reading.because}" if reading.because else "not judged"
    if verdict.value_si is not None:
        return shown(verdict.value_si, result_unit(item, system))
    if item.kind == "note":
        return reading.text
    if item.kind == "photo":
        return "1 photo" if reading.photos == 1 else f"{reading.photos} photos"
    return verdict.word


def limits_in_words(item: Item, system: str) -> str:
    """The limits of good, such as "12.4 V to 13 V", "at least 2", "at most 15 s"; empty where nothing bounds."""
    if item.formula == "load_test":
        return "at least what the temperature asks for"
    if item.good_low is None and item.good_high is None:
        return ""
    unit = result_unit(item, system)
    if item.good_low is None:
        return f"at most {shown(item.good_high or 0.0, unit)}"
    if item.good_high is None:
        return f"at least {shown(item.good_low, unit)}"
    return f"{shown(item.good_low, unit)} to {shown(item.good_high, unit)}"


def units_to_type(item: Item) -> Sequence[Unit]:
    """The units in which a gauge may show the quantity of an item."""
    return tuple(unit for unit in UNITS.values() if unit.quantity == item.quantity)
