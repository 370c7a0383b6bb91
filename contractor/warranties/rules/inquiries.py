"""When a buyer or an agent may ask for the transfer of a warranty with a certificate, and when two ask the same."""

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

Closed = Literal["", "revoked", "void", "passed_on"]
ClosingSlip = Literal["", "long_ago", "years_ahead"]

# More open ones on one warranty than any honest sale has (common practice, no source).
MOST_OPEN = 5
# A closing further ahead is a slip of the year.
AHEAD = timedelta(days=366)


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """What is true of a certificate that somebody holds. ``holder_changed``: the warranty has passed on since."""

    is_revoked: bool
    is_void: bool
    holder_changed: bool


def closed_because(held: Held) -> Closed:
    """Why nothing can be asked for with a certificate, empty when it can.

    One that was superseded by a newer one of the same owner still can: what it was made for has not changed.
    """
    if held.is_revoked:
        return "revoked"
    if held.is_void:
        return "void"
    return "passed_on" if held.holder_changed else ""


def closing_slip(closing_on: date | None, *, began_on: date, today: date) -> ClosingSlip:
    """What is wrong with a closing day as typed; a day that has passed is no slip, many hear of it late."""
    if closing_on is None:
        return ""
    if closing_on < began_on:
        return "long_ago"
    return "years_ahead" if closing_on > today + AHEAD else ""


def added_words(known: str, more: str, *, closing: str, day: str) -> str:
    """The message of an open inquiry with what its asker says now put under it; the same again changes nothing.

    ``closing`` is a closing day in words that differs from the one on record, ``day`` the day of asking in words.
    """
    told = " ".join(part for part in (f"Closing day {closing}." if closing else "", more.strip()) if part)
    if not told or told in known:
        return known
    return f"{known}\n\nOn {day}: {told}".strip() if known else f"On {day}: {told}"
