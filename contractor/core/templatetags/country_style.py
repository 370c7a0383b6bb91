"""How days, hours and amounts are written for a company outside the United States, on its papers and on its pages.

By the Unicode Common Locale Data Repository, through Babel: short days and hours as in that country, and amounts with
the country's own sign in front ("CA$"), because a paper is read across the border as well.
"""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import date, time
from decimal import Decimal

from babel.dates import format_date, format_time
from babel.numbers import format_currency, get_currency_symbol, get_territory_currencies
from django.utils.functional import lazy
from django.utils.text import format_lazy

HOME = "US"
_country: ContextVar[Callable[[], str]] = ContextVar("country", default=lambda: HOME)


@contextmanager
def written_for(country: str) -> Iterator[None]:
    """What is rendered inside is a paper of a company in this country (ISO 3166-1, two letters)."""
    with written_as(lambda: country):
        yield


@contextmanager
def written_as(country_of: Callable[[], str]) -> Iterator[None]:
    """The same, with a country that is asked for only when something turns on it."""
    token = _country.set(country_of)
    try:
        yield
    finally:
        _country.reset(token)


def foreign_day(day: date) -> str | None:
    """A short day as that country writes it: "2031-05-14"; None at home."""
    country = _present()
    return None if country == HOME else str(format_date(day, "short", locale=f"en_{country}"))


def foreign_hour(hour: time) -> str | None:
    """An hour as that country writes it: "3:05 p.m."; None at home."""
    country = _present()
    return None if country == HOME else str(format_time(hour, "short", locale=f"en_{country}"))


def foreign_amount(amount: Decimal, country: str = "") -> str | None:
    """An amount in that country's money as it is written abroad: "CA$1,234.50"; None at home."""
    country = country or _present()
    if country == HOME:
        return None
    return str(format_currency(amount, _currency(country), locale=f"en_{HOME}")).replace("-", "−")


def amount_in_words(amount: Decimal, country: str = "") -> str:
    """An amount for a sentence: "$1,234.50", "CA$1,234.50"; of the present page's or paper's country, or of one."""
    return foreign_amount(amount, country) or f"${amount:,.2f}"


def in_money(words: str) -> str:
    """The label of a field for an amount, such as "Fee ({})", with the sign of the country's money; made when shown."""
    return format_lazy(words, lazy(money_sign, str)())  # type: ignore[return-value]  # a text that is made when shown


def money_sign() -> str:
    """The sign of the present country's money: "$", "CA$"."""
    return str(get_currency_symbol(_currency(_present()), locale=f"en_{HOME}"))


def _present() -> str:
    return _country.get()() or HOME


def _currency(country: str) -> str:
    return str(get_territory_currencies(country)[0])
