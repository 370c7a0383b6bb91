"""The only place where the time is read. Everything below a view or a task takes it as an argument."""

from datetime import date, datetime, time, timedelta

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


def end_of(day: date) -> datetime:
    """The moment at which a day is over where the company is: the first one that ``day_of`` gives to the next day."""
    midnight = datetime.combine(day + timedelta(days=1), time())
    return timezone.make_aware(midnight)
