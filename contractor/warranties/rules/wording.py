"""How the rules write a day, a count, an amount and a part, so that all their sentences read alike."""

from datetime import date
from decimal import Decimal

from babel.numbers import format_currency

from contractor.systems.part_kinds import BY_CODE

# Own list: strftime would follow the machine's locale.
_MONTHS = (
    "January", "February", "March", "April", "May", "June",
    "July", "August", "September", "October", "November", "December",
)  # fmt: skip

LIFE_WORDS = {
    "structure": "for the life of the structure",
    "product": "for the life of the part",
    "ownership": "for as long as the owner named in it owns the house",
}


def day_in_words(day: date) -> str:
    """The day as people in the United States write it: "May 14, 2031"."""
    return f"{_MONTHS[day.month - 1]} {day.day}, {day.year}"


def through_in_words(last_day: date) -> str:
    """A last day that is itself included: "through and including May 14, 2031"."""
    return f"through and including {day_in_words(last_day)}"


def count_in_words(count: int, thing: str) -> str:
    """A number with its noun: "1 day", "30 days", "1,200 days"."""
    return f"{count:,} {thing}" if count == 1 else f"{count:,} {thing}s"


def money_in_words(amount: Decimal, jurisdiction: str = "US") -> str:
    """An amount in dollars and cents: "$1,234.50", under Canadian terms "CA$1,234.50"."""
    if jurisdiction == "CA":
        return str(format_currency(amount, "CAD", locale="en_US"))
    return f"${amount:,.2f}"


def part_in_words(part_kind: str) -> str:
    """The word people use for a part kind's code."""
    return BY_CODE[part_kind].word


def list_in_words(things: list[str], last: str = "and") -> str:
    """Things one after the other: "a", "a and b", "a, b and c"."""
    if len(things) < 2:
        return "".join(things)
    return f"{', '.join(things[:-1])} {last} {things[-1]}"
