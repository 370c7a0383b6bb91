"""Counting time as a written warranty does: months from an anchor, days to a deadline."""

from calendar import monthrange
from datetime import date, timedelta

import holidays

ONE_DAY = timedelta(days=1)
SATURDAY, SUNDAY = 5, 6

# Both the day itself and the day on which it is observed: a deadline waits for either.
_FEDERAL_HOLIDAYS = holidays.country_holidays("US")


def add_months(day: date, months: int) -> date:
    """The same day of the month ``months`` months on (or back), or that month's last day when it has none.

    A term of n months from a start day excludes that day and includes the anniversary: it runs through
    ``add_months(start, n)``. Count a series from its anchor, never from its last member: January 31 + 1 and + 2
    months are the end of February and March 31. Source: XML Schema Part 2, appendix E ("pinned to be within
    range"); Canada Interpretation Act s. 28. Raises OverflowError beyond the years 1 to 9999.
    """
    year, month_index = divmod(day.year * 12 + day.month - 1 + months, 12)
    if not date.min.year <= year <= date.max.year:
        raise OverflowError(f"{months} months from {day} lies outside the years 1 to 9999.")
    month = month_index + 1
    return date(year, month, min(day.day, monthrange(year, month)[1]))


def completed_months(start: date, on: date) -> int:
    """The whole months that have passed from ``start`` to ``on``: the largest n with add_months(start, n) <= on.

    Negative when ``on`` lies before ``start``.
    """
    months = (on.year - start.year) * 12 + on.month - start.month
    return months if add_months(start, months) <= on else months - 1


def is_federal_holiday(day: date) -> bool:
    """Whether ``day`` is a US federal holiday, or the day on which one is observed."""
    return day in _FEDERAL_HOLIDAYS


def deadline(day: date, days: int) -> date:
    """The last day to act within ``days`` days of ``day``.

    The first day is excluded; a last day on a Saturday, Sunday or federal holiday runs to the next day that is
    none of these (the rule of N.Y. General Construction Law 25-a; common in contracts).
    """
    last = day + timedelta(days=days)
    while last.weekday() in {SATURDAY, SUNDAY} or is_federal_holiday(last):
        last += ONE_DAY
    return last


def business_days_after(day: date, count: int) -> date:
    """The ``count``-th business day after ``day`` where Saturdays count and Sundays and holidays do not.

    This is how the three days to cancel a sale made at the buyer's home are counted (16 CFR 429.0).
    """
    while count > 0:
        day += ONE_DAY
        if day.weekday() != SUNDAY and not is_federal_holiday(day):
            count -= 1
    return day
