"""When somebody comes, as moments and in words. Hours on record are those where the company is, as the rounds are."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

HALF_HOUR = 1800
# How long an owner is asked to be at home, from the half hour before the work is planned to begin, so that a round
# which runs a little before or behind its hours keeps its word (common practice, no source).
PROMISED_SECONDS = 2 * 3600
LAST_MINUTE = 24 * 3600 - 60


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """From the first moment of arrival until the work is done at the latest, in UTC."""

    begins: datetime
    ends: datetime


def span_of(
    on: date, arrive_from: time | None, arrive_until: time | None, minutes: int, zone: ZoneInfo
) -> Span | None:
    """The hours of a visit; None when any time of the day is right."""
    if arrive_from is None or arrive_until is None:
        return None
    begins = datetime.combine(on, arrive_from, tzinfo=zone).astimezone(UTC)
    latest = datetime.combine(on, arrive_until, tzinfo=zone).astimezone(UTC)
    return Span(begins=begins, ends=latest + timedelta(minutes=minutes))


def promised(begins: int, day_begins: int) -> tuple[time, time]:
    """The hours promised for work planned to begin then, in the working day of a technician who sets out at
    ``day_begins``: two, on the half hour, and none before anybody could come. Both in seconds after midnight.
    """
    first = max(begins - HALF_HOUR, day_begins) // HALF_HOUR * HALF_HOUR
    return _time(first), _time(min(first + PROMISED_SECONDS, LAST_MINUTE))


def hours_in_words(arrive_from: time | None, arrive_until: time | None) -> str:
    """The hours in short words, "8-10 AM"; empty when any time is right."""
    if arrive_from is None or arrive_until is None:
        return ""
    first, last = clock_in_words(arrive_from), clock_in_words(arrive_until)
    if first[-2:] == last[-2:]:
        first = first[:-3]
    return f"{first}-{last}"


def clock_in_words(at: time) -> str:
    """A time of day in short words: 8 AM, 7:30 AM."""
    hour = at.hour % 12 or 12
    minutes = f":{at.minute:02}" if at.minute else ""
    return f"{hour}{minutes} {'AM' if at.hour < 12 else 'PM'}"


def zone_in_words(on: date, company: ZoneInfo, house: Sequence[ZoneInfo]) -> str:
    """The name of the company's time ("EDT") when clocks at the house may show another on that day; else empty."""
    noon = datetime.combine(on, time(12), tzinfo=company)
    same = all(noon.astimezone(zone).utcoffset() == noon.utcoffset() for zone in house)
    return "" if same else noon.strftime("%Z")


def _time(seconds: int) -> time:
    return time(seconds // 3600, seconds % 3600 // 60)
