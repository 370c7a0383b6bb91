"""Numbers that makers declare in catalogue data, and which of them can be meant."""

from collections.abc import Mapping
from math import isfinite
from typing import Any, Final

# No pump or battery is declared for longer; a larger number was typed in other units.
MOST_DECLARED_YEARS: Final = 50.0
DECLARED_LIFE_KEYS: Final = ("expected_years", "expected_years_at_25c")


def declared_number(data: Mapping[str, Any], name: str) -> float | None:
    """A declared figure as a number; None when there is none, or none that can be meant (all are above zero)."""
    value = data.get(name)
    if not isinstance(value, int | float) or isinstance(value, bool) or not isfinite(value) or value <= 0:
        return None
    return float(value)


def declared_years(data: Mapping[str, Any]) -> float | None:
    """The life in years that a maker declares; None when there is no number that can be meant."""
    for key in DECLARED_LIFE_KEYS:
        years = declared_number(data, key)
        if years is not None and years <= MOST_DECLARED_YEARS:
            return years
    return None
