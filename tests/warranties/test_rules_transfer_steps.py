"""Whose turn it is in a sale, and the days on which somebody is reminded: the table of cases, no database.

Two weeks before the closing and the last week of a deadline are common practice, no source. Closing day of the table:
Friday, December 11, 2026; 30 days on is Sunday, January 10, 2027, so the last day is Monday, January 11.
"""

from datetime import date

import pytest

from contractor.warranties.rules.counting import deadline
from contractor.warranties.rules.transfer_steps import reminder_due, whose_turn
from contractor.warranties.rules.transfers import Requirement

CLOSING = date(2026, 12, 11)
LAST_DAY = date(2027, 1, 11)


def need(code: str, by_on: date | None = None) -> Requirement:
    return Requirement(code=code, met=False, by_on=by_on, sentence="To do.")


ACCEPTED, CHECKUP = need("accepted"), need("checkup", LAST_DAY)


@pytest.mark.parametrize(
    ("code", "on", "whose"),
    [
        ("accepted", CLOSING, ("buyer",)),
        ("fee", CLOSING, ("seller", "buyer")),
        ("checkup", date(2026, 12, 10), ("seller",)),
        ("checkup", CLOSING, ("buyer",)),
        ("in_force", date(2026, 12, 10), ("seller",)),
        ("in_force", date(2026, 12, 12), ("buyer",)),
        ("told_in_time", CLOSING, ()),
        ("transfers_left", CLOSING, ()),
        ("allowed", CLOSING, ()),
        ("seller", CLOSING, ()),
    ],
)
def test_whose_turn_it_is(code: str, on: date, whose: tuple[str, ...]) -> None:
    assert whose_turn(code, closing_on=CLOSING, on=on) == whose


@pytest.mark.parametrize(
    ("missing", "on", "reminder"),
    [
        ((), date(2026, 12, 10), ""),
        ((ACCEPTED,), date(2026, 11, 26), ""),
        ((ACCEPTED,), date(2026, 11, 27), "closing 2026-12-11"),
        ((ACCEPTED, CHECKUP), CLOSING, "closing 2026-12-11"),
        ((ACCEPTED,), date(2026, 12, 12), "after closing 2026-12-11"),
        ((CHECKUP,), date(2026, 12, 12), "after closing 2026-12-11"),
        ((CHECKUP,), date(2027, 1, 3), "after closing 2026-12-11"),
        ((CHECKUP,), date(2027, 1, 4), "last day 2027-01-11"),
        ((ACCEPTED, CHECKUP), LAST_DAY, "last day 2027-01-11"),
        ((CHECKUP,), date(2027, 1, 12), "after closing 2026-12-11"),
        ((CHECKUP, need("told_in_time", date(2027, 1, 8))), date(2027, 1, 4), "last day 2027-01-08"),
    ],
)
def test_the_reminder_of_a_day(missing: tuple[Requirement, ...], on: date, reminder: str) -> None:
    assert reminder_due(missing, closing_on=CLOSING, on=on) == reminder


@pytest.mark.parametrize(
    ("closing_on", "days", "last_day"),
    [
        # A plain weekday stays: 30 days after Monday, March 1, 2027 is Wednesday, March 31.
        (date(2027, 3, 1), 30, date(2027, 3, 31)),
        # Sunday, January 10, 2027 runs to Monday.
        (CLOSING, 30, LAST_DAY),
        # Saturday runs over Sunday to Monday: November 14, 2026 is a Saturday.
        (date(2026, 10, 15), 30, date(2026, 11, 16)),
        # 5 U.S.C. 6103: Thanksgiving, the fourth Thursday of November, is November 26, 2026; the day after is none.
        (date(2026, 10, 27), 30, date(2026, 11, 27)),
        # Christmas Day 2026 is a Friday: over the weekend to Monday, December 28.
        (date(2026, 11, 25), 30, date(2026, 12, 28)),
        # July 4, 2026 is a Saturday, observed on Friday, July 3 (5 U.S.C. 6103(b)): July 3 runs to Monday, July 6.
        (date(2026, 6, 3), 30, date(2026, 7, 6)),
    ],
)
def test_the_last_day_after_a_closing_waits_for_weekends_and_federal_holidays(
    closing_on: date, days: int, last_day: date
) -> None:
    assert deadline(closing_on, days) == last_day
