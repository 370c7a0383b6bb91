"""What a check-up found of a part moves its date forward, never back."""

from calendar import isleap
from dataclasses import replace
from datetime import date
from typing import Final

from contractor.engineering.outlook import Governing, Outlook
from contractor.estimates.rules.facts import MEASURED, Found
from contractor.estimates.rules.results import Dated, Input, Step
from contractor.estimates.rules.wording import step, words

FOUND_BAD: Final = "found bad"
FOUND_WEAK: Final = "found weak"
_A_YEAR: Final = "One year for a part found weak is common practice; no source gives a figure."


def with_what_was_found(dated: Dated, found: Found | None, *, word: str) -> Dated:
    """A part found bad is to be replaced from that day; one found weak within a year of it, unless due before."""
    if found is None or found.condition not in {"bad", "watch"}:
        return dated
    seen = Input(
        name="Found at the last check-up",
        value=found.sentence or found.condition,
        unit="",
        origin=MEASURED,
        on=found.on.isoformat(),
    )
    if found.condition == "bad":
        return replace(
            dated,
            replace_by=found.on,
            earliest=found.on,
            latest=found.on,
            governing=FOUND_BAD,
            reason=f"The {word} was found bad on {words(found.on)}{_clause(found.sentence)} Replace it now.",
            inputs=(*dated.inputs, seen),
            steps=(*dated.steps, _step("Found bad", "replace by = day it was found bad", found.on, found.on)),
            cautions=(),
            has_failed=True,
        )
    by = a_year_after(found.on)
    if dated.replace_by <= by:
        return replace(dated, inputs=(*dated.inputs, seen))
    reason = (
        f"The {word} was found weak on {words(found.on)}{_clause(found.sentence)} "
        f"Replace it by {words(by)}, at the next yearly check-up at the latest."
    )
    return replace(
        dated,
        replace_by=by,
        earliest=found.on,
        latest=dated.replace_by,
        governing=FOUND_WEAK,
        reason=reason,
        inputs=(*dated.inputs, seen),
        steps=(*dated.steps, _step("Found weak", "replace by = day it was found weak + 1 year", found.on, by)),
        cautions=(*dated.cautions, _A_YEAR),
    )


def _step(name: str, formula: str, found_on: date, by: date) -> Step:
    return step(name, formula, words(found_on), words(by))


def a_year_after(day: date) -> date:
    """The same day a year on; the 28th for a leap day.

    >>> a_year_after(date(2024, 2, 29)).isoformat()
    '2025-02-28'
    """
    if (day.month, day.day) == (2, 29) and not isleap(day.year + 1):
        return date(day.year + 1, 2, 28)
    return day.replace(year=day.year + 1)


def is_at_its_end(outlook: Outlook) -> bool:
    """Whether a test or a measurement, rather than a reckoning, has set the date."""
    measured = outlook.governing in {Governing.TEST, Governing.FLOW, Governing.CAPACITY}
    return measured and outlook.earliest == outlook.replace_by == outlook.latest


def _clause(sentence: str) -> str:
    """What was found, after a colon and closed like a sentence; only the full stop when nothing was written."""
    sentence = sentence.strip()
    if not sentence:
        return "."
    return f": {sentence}" if sentence.endswith((".", "!", "?")) else f": {sentence}."
