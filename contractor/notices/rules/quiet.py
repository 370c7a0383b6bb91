"""The hours in which a telephone is not made to ring."""

from collections.abc import Sequence
from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

# 47 CFR 64.1200(c)(1): nothing that sells before 8 a.m. or after 9 p.m. where the person called is. Some states end at
# 8 p.m. (from memory), so ours do, for every text.
OPENS, CLOSES = time(8), time(20)


def is_quiet(at: datetime, zones: Sequence[ZoneInfo]) -> bool:
    """Whether it is night, early morning or evening in any of these zones."""
    return any(not OPENS <= at.astimezone(zone).time() < CLOSES for zone in zones)


def next_moment(at: datetime, zones: Sequence[ZoneInfo]) -> datetime:
    """The moment itself when nobody is disturbed, else the first one later at which it is day in every zone.

    Clocks that are put forward or back in the night are the zones' affair: eight o'clock is eight o'clock.
    """
    moment = at
    while is_quiet(moment, zones):
        moment = max(_opens_next(moment, zone) for zone in zones if is_quiet(moment, (zone,)))
    return moment


def _opens_next(at: datetime, zone: ZoneInfo) -> datetime:
    local = at.astimezone(zone)
    day = local.date() + timedelta(days=local.time() >= CLOSES)
    return datetime.combine(day, OPENS, tzinfo=zone).astimezone(UTC)
