"""Appeals: until when one may be made, and what a second decision may not do."""

from datetime import date
from decimal import Decimal

from contractor.warranties.rules.counting import deadline

# Long enough to find papers and ask somebody: common practice, no source. It limits our own second look, never what
# the law gives an owner; no warranty may call the company's decision final (16 CFR 700.8, from memory).
APPEAL_DAYS = 60


def last_day_to_appeal(told_on: date) -> date:
    """The last day on which an appeal is in time: 60 days after the letter, run on to a business day."""
    return deadline(told_on, APPEAL_DAYS)


def is_in_time(*, told_on: date, received_on: date) -> bool:
    """Whether an appeal that came in on a day is in time."""
    return received_on <= last_day_to_appeal(told_on)


def leaves_worse_off(*, first_share: Decimal, second_share: Decimal) -> bool:
    """Whether a second decision gives the company a smaller share of the repair than the first.

    Nobody may lose by asking for a second look (common practice, no source). Shares are compared and not amounts,
    because the cost of the repair may be known better by then.
    """
    return second_share < first_share
