"""How days, hours and amounts are written on the papers of a company outside the United States.

By the Unicode Common Locale Data Repository, through Babel: short days and hours as in that country, and amounts with
the country's own sign in front ("CA$"), because a paper is read across the border as well.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import date, time
from decimal import Decimal

from babel.dates import format_date, format_time
from babel.numbers import format_currency, get_territory_currencies

HOME = "US"
_country: ContextVar[str] = ContextVar("country", default=HOME)


@contextmanager
def written_for(country: str) -> Iterator[None]:
    """What is rendered inside is a paper of a company in this country (ISO 3166-1, two letters)."""
    token = _country.set(country or HOME)
    try:
        yield
    finally:
        _country.reset(token)


def foreign_day(day: date) -> str | None:
    """A short day as that country writes it: "2031-05-14"; None at home."""
    country = _country.get()
    return None if country == HOME else str(format_date(day, "short", locale=f"en_{country}"))


def foreign_hour(hour: time) -> str | None:
    """An hour as that country writes it: "3:05 p.m."; None at home."""
    country = _country.get()
    return None if country == HOME else str(format_time(hour, "short", locale=f"en_{country}"))


def foreign_amount(amount: Decimal) -> str | None:
    """An amount in that country's money as it is written abroad: "CA$1,234.50"; None at home."""
    country = _country.get()
    if country == HOME:
        return None
    return str(format_currency(amount, get_territory_currencies(country)[0], locale=f"en_{HOME}")).replace("-", "−")
