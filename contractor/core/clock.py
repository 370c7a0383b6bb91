"""The only place where the time is read. Everything below a view or a task takes it as an argument."""

from datetime import date, datetime

from django.utils import timezone


def now() -> datetime:
    """This moment, aware, in UTC."""
    return timezone.now()


def today() -> date:
    """Today's date where the company is (Django's current time zone)."""
    return timezone.localdate()


def day_of(moment: datetime) -> date:
    """The day that an aware moment falls on where the company is."""
    return timezone.localdate(moment)
