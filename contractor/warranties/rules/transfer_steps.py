"""Whose turn it is in a sale, and when somebody is to be reminded of what is missing."""

from collections.abc import Sequence
from datetime import date, timedelta
from typing import Literal

from contractor.warranties.rules.transfers import Requirement

Role = Literal["seller", "buyer", "agent"]

# Reminded two weeks before the closing, and in the last week of a deadline after it (common practice, no source).
BEFORE_CLOSING = timedelta(days=14)
BEFORE_LAST_DAY = timedelta(days=7)


def whose_turn(code: str, *, closing_on: date, on: date) -> tuple[Role, ...]:
    """Who can meet a requirement; empty where it is the company's to look into.

    A check-up needs somebody who opens the door: until the closing the seller, from then on the buyer.
    """
    if code == "accepted":
        return ("buyer",)
    if code == "fee":
        return ("seller", "buyer")
    if code in {"checkup", "in_force"}:
        return ("seller",) if on < closing_on else ("buyer",)
    return ()


def reminder_due(missing: Sequence[Requirement], *, closing_on: date, on: date) -> str:
    """The name of the reminder that is due on a day, empty for none; each name is used once in a sale.

    "closing ..." from two weeks before the closing until it, "last day ..." in the last week before a requirement's
    last day, and "after closing ..." once when something without a day of its own is still missing then. Each names
    its day, so that a closing that moves has reminders of its own.
    """
    if not missing:
        return ""
    if on <= closing_on:
        return f"closing {closing_on}" if closing_on - on <= BEFORE_CLOSING else ""
    near = [one.by_on for one in missing if one.by_on is not None and one.by_on - BEFORE_LAST_DAY <= on <= one.by_on]
    return f"last day {min(near)}" if near else f"after closing {closing_on}"
