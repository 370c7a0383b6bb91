"""Closing a year of the warranty liability: its table and rows are kept as they are, for ever."""

from datetime import date, datetime

from django.db import IntegrityError, transaction

from contractor.accounts.models import Role, User
from contractor.core import audit, clock
from contractor.warranties.actions.claim_costs import hold_the_books
from contractor.warranties.errors import (
    LiabilityYearClosed,
    LiabilityYearSkipped,
    ManagersOnly,
    NotRead,
    PeriodNotOver,
)
from contractor.warranties.liability_assumed import Typed
from contractor.warranties.liability_facts import reckoned_liability, year_hash
from contractor.warranties.models import LiabilityYear
from contractor.warranties.rules.counting import ONE_DAY
from contractor.warranties.rules.liability import refuse_bad_period
from contractor.warranties.rules.liability_data import rows_to_data, table_to_data


@transaction.atomic
def close_liability_year(
    *, from_on: date, until_on: date, typed: Typed, is_read: bool, by_user: User, at: datetime
) -> LiabilityYear:
    """Reckons a year that is over once more and keeps it with every row and what was typed.

    ``is_read``: the manager says that somebody who knows has looked at the figures. Raises ManagersOnly, NotRead,
    PeriodBackwards, PeriodTooLong, PeriodNotOver, LiabilityYearClosed, or LiabilityYearSkipped.
    """
    if by_user.role != Role.MANAGER:
        raise ManagersOnly("close a year of the liability")
    if not is_read:
        raise NotRead
    refuse_bad_period(from_on, until_on, max(until_on, clock.day_of(at)))
    if until_on >= clock.day_of(at):
        raise PeriodNotOver(until_on)
    hold_the_books()
    _refuse_out_of_order(from_on)
    liability = reckoned_liability(from_on=from_on, until_on=until_on, typed=typed)
    table, rows = table_to_data(liability), rows_to_data(liability)
    year = LiabilityYear(
        from_on=from_on,
        until_on=until_on,
        table=table,
        rows=rows,
        sha256=year_hash(from_on, until_on, table, rows),
        closed_at=at,
        closed_by=by_user,
    )
    try:
        with transaction.atomic():
            year.save(force_insert=True)
    except IntegrityError as error:
        # Two people pressed at once: the constraint let the other one through.
        raise LiabilityYearClosed(until_on + ONE_DAY) from error
    audit.record(
        subject=year,
        property_id=None,
        verb="liability year closed",
        by=by_user.actor,
        at=at,
        after={"from_on": from_on, "until_on": until_on, "lines": table["lines"], "sha256": year.sha256},
    )
    return year


def _refuse_out_of_order(from_on: date) -> None:
    last = LiabilityYear.objects.defer("rows", "table").order_by("-until_on").first()
    if last is None:
        return
    next_on = last.until_on + ONE_DAY
    if from_on < next_on:
        raise LiabilityYearClosed(next_on)
    if from_on > next_on:
        raise LiabilityYearSkipped(next_on)
