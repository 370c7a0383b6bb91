"""How long a visit takes: the median of past ones to systems with the same parts, else the table. Pure."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from statistics import median

from contractor.visits.rules import checkup_minutes

# Fewer say little, and what lies outside was begun and forgotten, or typed up later: common practice, no source.
LEAST_VISITS = 5
SHORTEST, LONGEST = timedelta(minutes=10), timedelta(hours=5)
STEP = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class Duration:
    """Minutes at the house, and where the figure comes from."""

    minutes: int
    because: str


def parts_key(part_kinds: Iterable[str]) -> str:
    """The same for every system with these parts, in whatever order they are read; two batteries differ from one."""
    return "+".join(sorted(part_kinds))


def duration(part_kinds: Sequence[str], past: Iterable[tuple[datetime, datetime]]) -> Duration:
    """How long a check-up of these parts takes, from the beginnings and ends of past ones to systems with the same.

    The median, rounded up to five minutes, once there are five believable ones; until then the table of the trade.
    """
    believable = [ended - begun for begun, ended in past if SHORTEST <= ended - begun <= LONGEST]
    if len(believable) < LEAST_VISITS:
        return Duration(
            minutes=checkup_minutes(part_kinds), because="From the usual minutes for each part; too few past visits."
        )
    middle = median(span.total_seconds() / 60 for span in believable)
    minutes = -(-round(middle, 6) // STEP) * STEP
    return Duration(
        minutes=int(minutes), because=f"The median of {len(believable)} past visits to systems with the same parts."
    )
