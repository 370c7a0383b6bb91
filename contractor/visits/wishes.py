"""The days that a repair is wished for: from a finding, or from the day by which a part should be replaced. Pure."""

from dataclasses import dataclass
from datetime import date, timedelta

# How long a finding may wait: something urgent a week, something bad six. Common practice, no source.
FINDING_TARGET = {"urgent": timedelta(days=2), "bad": timedelta(days=14)}
FINDING_LATEST = {"urgent": timedelta(days=7), "bad": timedelta(days=42)}
# A part is replaced two weeks ahead of its day where that can be; one whose day is near or past, within four weeks.
# Common practice, no source.
AHEAD_OF_ITS_DAY = timedelta(days=14)
AT_MOST = timedelta(days=28)
# Without a check-up in sight a part asks for a visit of its own this long before its day, as check-ups do.
IN_SIGHT = timedelta(weeks=10)
NEXT_CHECKUP = timedelta(days=365)
# Minutes to put right what was found, and to swap a part, with arriving and talking. Common practice, no source.
REPAIR_MINUTES = 45
SWAP_MINUTES = {"battery": 40, "primary_pump": 60, "standby_pump": 60}


@dataclass(frozen=True, slots=True, kw_only=True)
class Days:
    """The window of a wish and its wished day."""

    earliest_on: date
    target_on: date
    latest_on: date


def days_for_finding(severity: str, *, found_on: date) -> Days | None:
    """When a finding should be put right; None for one that is only to be watched."""
    if severity not in FINDING_TARGET:
        return None
    return Days(
        earliest_on=found_on,
        target_on=found_on + FINDING_TARGET[severity],
        latest_on=found_on + FINDING_LATEST[severity],
    )


def days_for_part(replace_by: date, *, asked_on: date) -> Days:
    """When a part should be replaced, asked for on a day; never later than its day, unless that is near or past."""
    latest_on = max(replace_by, asked_on + AT_MOST)
    return Days(
        earliest_on=asked_on,
        target_on=max(asked_on, min(replace_by - AHEAD_OF_ITS_DAY, latest_on)),
        latest_on=latest_on,
    )


def is_to_replace(replace_by: date, *, checkup_on: date | None, on: date) -> bool:
    """Whether a part asks for a visit now: it won't last until a year after the check-up that is in sight, or, with
    none in sight, its day comes within ten weeks.
    """
    if checkup_on is not None and replace_by <= checkup_on + NEXT_CHECKUP:
        return True
    return replace_by <= on + IN_SIGHT
