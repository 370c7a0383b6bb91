"""Reads a date cell of an old register. What can be read two ways is never settled silently."""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final

from contractor.office.register_cells import given
from contractor.office.register_rows import Doubt, Read, caution, error, in_words

MONTHS: Final = (
    "january",
    "february",
    "march",
    "april",
    "may",
    "june",
    "july",
    "august",
    "september",
    "october",
    "november",
    "december",
)
WEEKDAYS: Final = r"(?:mon|tues?|wed(?:nes)?|thu(?:rs?)?|fri|sat(?:ur)?|sun)(?:day)?"
# Interior drainage of basements under warranty is younger than this (common practice, no source).
EARLIEST_ON: Final = date(1950, 1, 1)
# Day 0 of the 1900 date system of spreadsheets, in which 1900 wrongly is a leap year (ECMA-376, part 1, 18.17.4.1).
DAY_ZERO: Final = date(1899, 12, 30)
LIKELY_DAY_NUMBERS: Final = range(18264, 73051)  # January 1, 1950 to December 31, 2099
# Up to this share of dates against a file's order are slips; more are a second habit (our choice).
FEW: Final = 0.05
HOW_TO: Final = "Write it as month/day/year, for example 5/14/2019."

_TIME: Final = r"(?:[ T]\d{1,2}:\d{2}(?::\d{2}(?:\.\d+)?)?(?: ?[AaPp]\.?[Mm]\.?)?)?"
_YEAR_FIRST: Final = re.compile(rf"(\d{{4}})([-/.])(\d{{1,2}})\2(\d{{1,2}}){_TIME}")
_COMPACT: Final = re.compile(r"((?:19|20)\d{2})(\d{2})(\d{2})")
_YEAR_LAST: Final = re.compile(rf"(\d{{1,2}})([-/.])(\d{{1,2}})\2(\d{{4}}|\d{{2}}){_TIME}")
_MONTH_ONLY: Final = re.compile(
    r"(?:(?P<first_year>\d{4})[-/.](?P<last>\d{1,2})|(?P<first>\d{1,2})[-/.](?P<year>\d{4}))"
)


@dataclass(frozen=True, slots=True)
class DateOrder:
    """Whether day or month stands first in a file, told by its own dates that can be read one way only.

    ``day_first`` is None when as many say one thing as the other; ``contradicting`` counts those against it, and
    ``is_clear`` tells whether they are so few that a date which can be read both ways needs no look of its own.
    """

    day_first: bool | None = False
    is_clear: bool = True
    contradicting: int = 0


def order_of_dates(cells: Iterable[str]) -> DateOrder:
    """The order that a file's dates show; month first, as in the United States, when none shows any."""
    day_first = month_first = 0
    for cell in cells:
        match = _YEAR_LAST.fullmatch(given(cell))
        if match:
            first, second = int(match[1]), int(match[3])
            day_first += second <= 12 < first <= 31
            month_first += first <= 12 < second <= 31
    if day_first == month_first:
        return DateOrder(None, False, day_first) if day_first else DateOrder()
    fewer = min(day_first, month_first)
    return DateOrder(day_first > month_first, fewer <= FEW * (day_first + month_first), fewer)


def read_date(text: str, *, on: date, order: DateOrder) -> Read[date]:
    """The day that a cell names; ``on`` is the day of the import, after which nothing can have happened.

    A month without a day is read as its first day, with a caution; a season, a bare year, or a date whose year
    can't be told from its month and day is an error.
    """
    cell = given(text)
    if not cell:
        return Read(None)
    found = _numeric(cell, on=on, order=order) or _in_words(cell, on=on)
    if found is None:
        return _unreadable(cell)
    if found.value is None:
        return found
    if found.value > on:
        return Read(None, (error("date_future", f"{in_words(found.value)} has not come yet. Correct the date."),))
    if found.value < EARLIEST_ON:
        sentence = f"“{cell}” would be in {found.value.year}, which is too early. Write the year with four digits."
        return Read(None, (error("date_too_old", sentence),))
    return found


def _numeric(cell: str, *, on: date, order: DateOrder) -> Read[date] | None:
    if match := _YEAR_FIRST.fullmatch(cell):
        return _day(cell, int(match[1]), int(match[3]), int(match[4]))
    if match := _COMPACT.fullmatch(cell):
        return _day(cell, int(match[1]), int(match[2]), int(match[3]))
    if match := _MONTH_ONLY.fullmatch(cell):
        return _first_of_month(cell, int(match["first_year"] or match["year"]), int(match["last"] or match["first"]))
    if match := _YEAR_LAST.fullmatch(cell):
        return _year_last(cell, int(match[1]), int(match[3]), match[4], on=on, order=order)
    if re.fullmatch(r"\d{5}(\.\d+)?", cell) and int(float(cell)) in LIKELY_DAY_NUMBERS:
        day = DAY_ZERO + timedelta(days=int(float(cell)))
        sentence = f"“{cell}” is a spreadsheet's number for a day and was read as {in_words(day)}. Compare it once."
        return Read(day, (caution("day_number", sentence),))
    if re.fullmatch(r"\d{4}", cell):
        return _unreadable(cell, f"“{cell}” names no month. Write the month and the year at least, such as May {cell}.")
    return None


def _year_last(cell: str, first: int, second: int, year_text: str, *, on: date, order: DateOrder) -> Read[date]:
    year = int(year_text)
    if len(year_text) == 2:
        if max(first, second, year) <= 12 and not first == second == year:
            return _ambiguous(f"In “{cell}” any of the three can be the year. {HOW_TO}")
        year = _century(year, on)
    day_first_only, month_first_only = second <= 12 < first, first <= 12 < second
    if day_first_only or month_first_only:
        month, day = (second, first) if day_first_only else (first, second)
        against = order.day_first is not None and day_first_only != order.day_first
        doubts = (_order_caution(cell, year, month, day),) if against else ()
        return _day(cell, year, month, day, doubts)
    if order.day_first is None and first != second:
        return _ambiguous(f"“{cell}” can be read month first or day first, and this file writes both. {HOW_TO}")
    month, day = (second, first) if order.day_first else (first, second)
    doubts = () if order.is_clear or first == second else (_order_caution(cell, year, month, day),)
    return _day(cell, year, month, day, doubts)


def _order_caution(cell: str, year: int, month: int, day: int) -> Doubt:
    try:
        read_as = in_words(date(year, month, day))
    except ValueError:
        read_as = "no day at all"
    sentence = f"“{cell}” was read as {read_as}; this file writes dates month first and day first. Compare it once."
    return caution("date_order", sentence)


def _in_words(cell: str, *, on: date) -> Read[date] | None:
    text = re.sub(rf"\b{WEEKDAYS}\b\.?", " ", cell.casefold().replace("’", "'"))
    words = re.findall(r"[a-z]+", re.sub(r"(?<=\d)(?:st|nd|rd|th)\b", "", text))
    numbers = re.findall(r"'?\d+", text)
    months = [number for word in words if (number := _month(word))]
    leftover = re.sub(r"[a-z\d\s,.'/-]", "", text)
    if len(months) != 1 or len(words) - words.count("of") != 1 or leftover or not 1 <= len(numbers) <= 2:
        return None
    plain = [number.lstrip("'") for number in numbers]
    years = [place for place, number in enumerate(numbers) if len(number.lstrip("'")) == 4 or number[0] == "'"]
    if len(numbers) == 1:
        if not years:
            return _ambiguous(f"In “{cell}”, {plain[0]} can be a day or a year. {HOW_TO}")
        return _first_of_month(cell, _full_year(plain[0], on), months[0])
    if any(len(number) not in {1, 2, 4} for number in plain) or len(years) > 1:
        return None
    year_place = years[0] if years else 1
    return _day(cell, _full_year(plain[year_place], on), months[0], int(plain[1 - year_place]))


def _month(word: str) -> int | None:
    """The number of a month written out or cut to three letters or more."""
    if len(word) < 3:
        return None
    return next((number for number, name in enumerate(MONTHS, start=1) if name.startswith(word)), None)


def _full_year(text: str, on: date) -> int:
    return int(text) if len(text) == 4 else _century(int(text), on)


def _century(two_digits: int, on: date) -> int:
    """The latest year with these two last digits that has begun."""
    return 2000 + two_digits if 2000 + two_digits <= on.year else 1900 + two_digits


def _day(cell: str, year: int, month: int, day: int, doubts: tuple[Doubt, ...] = ()) -> Read[date]:
    try:
        return Read(date(year, month, day), doubts)
    except ValueError:
        return _unreadable(cell, f"There is no such day as “{cell}”. {HOW_TO}")


def _first_of_month(cell: str, year: int, month: int) -> Read[date]:
    found = _day(cell, year, month, 1)
    if found.value is None:
        return found
    sentence = f"“{cell}” names no day, so {in_words(found.value)} was taken. Write the day if you know it."
    return Read(found.value, (caution("day_unknown", sentence),))


def _unreadable(cell: str, sentence: str = "") -> Read[date]:
    return Read(None, (error("date_unreadable", sentence or f"“{cell}” names no day. {HOW_TO}"),))


def _ambiguous(sentence: str) -> Read[date]:
    return Read(None, (error("date_ambiguous", sentence),))
