"""An outlook: the day by which a part should be replaced, its range, and the one reason in a sentence.

Several things can end a part's life. Each that is known gives a span; the earliest governs. An outlook is an
estimate to act on early, never a promise that a part will last.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum
from typing import Final

from contractor.engineering.errors import BadInput

DAYS_PER_YEAR: Final = 365.25
# No part of this trade is planned further ahead than this; a later day is given as this one.
_HORIZON_YEARS: Final = 60.0


class Governing(StrEnum):
    """What sets the replacement date."""

    AGE = "age"
    RUN_HOURS = "run hours"
    STARTS = "starts"
    FLOW = "flow"
    CAPACITY = "capacity"
    DISCHARGES = "discharges"
    TEST = "test"


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """One thing that may end a part's life, and when."""

    governing: Governing
    earliest: date
    replace_by: date
    latest: date
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlook:
    """When a part should be replaced, and why.

    ``replace_by`` is the planning date; a day that is not after the day of the estimate means now. The need may
    come as early as ``earliest`` and, with luck, as late as ``latest``. ``governing`` names what sets the date and
    ``reason`` says so in one or two sentences. ``cautions`` say what was assumed or is doubtful.
    """

    replace_by: date
    earliest: date
    latest: date
    governing: Governing
    reason: str
    cautions: tuple[str, ...] = ()


def years_between(start: date, end: date) -> float:
    """Years of 365.25 days from one day to another."""
    return (end - start).days / DAYS_PER_YEAR


def day_after(start: date, years: float) -> date:
    """The day a number of years after another, at most sixty.

    >>> day_after(date(2020, 1, 1), 5.0)
    datetime.date(2024, 12, 31)
    """
    return start + timedelta(days=round(min(years, _HORIZON_YEARS) * DAYS_PER_YEAR))


def in_words(day: date) -> str:
    """A day as people read it.

    >>> in_words(date(2026, 3, 5))
    'March 5, 2026'
    """
    return f"{day:%B} {day.day}, {day.year}"


def years_in_words(years: float) -> str:
    """Years with one decimal, without a needless one.

    >>> years_in_words(5.0), years_in_words(2.46), years_in_words(1.0)
    ('5 years', '2.5 years', '1 year')
    """
    number = f"{years:.1f}".removesuffix(".0")
    return f"{number} year" if number == "1" else f"{number} years"


def checked_days(installed_on: date, on: date) -> float:
    """Age in years; BadInput when the part would be installed after the day of the estimate."""
    if installed_on > on:
        raise BadInput("installed_on", installed_on, f"must not be after the day of the estimate, {on}")
    return years_between(installed_on, on)


def checked_readings(
    argument: str, readings: Sequence[tuple[date, float]], installed_on: date, on: date
) -> list[tuple[date, float]]:
    """Readings in order of their days; BadInput for one taken before installation or after the estimate's day."""
    for day, _value in readings:
        if not installed_on <= day <= on:
            raise BadInput(argument, day, f"must be read from {installed_on}, the installation, to {on}")
    return sorted(readings)


def earliest_governs(spans: Sequence[Span], cautions: Sequence[str]) -> Outlook:
    """The outlook of several spans that compete: whatever comes first ends the part's life."""
    first = min(spans, key=lambda span: (span.replace_by, span.earliest))
    return Outlook(
        replace_by=first.replace_by,
        earliest=min(span.earliest for span in spans),
        latest=min(span.latest for span in spans),
        governing=first.governing,
        reason=first.reason,
        cautions=tuple(dict.fromkeys(cautions)),
    )
