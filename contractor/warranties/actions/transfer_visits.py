"""The visit that a sale asks for when the terms want a check-up and none is recent enough."""

from datetime import datetime, timedelta

from contractor.core import clock
from contractor.core.audit import Actor
from contractor.visits.actions.appointments import ask_for_visit, withdraw_request
from contractor.visits.durations import parts_key
from contractor.visits.models import Request, VisitKind
from contractor.visits.queries import checkup_durations
from contractor.visits.skills import checkup_skills
from contractor.warranties.care_visits import parts_at_house
from contractor.warranties.models import Transfer
from contractor.warranties.queries import facts_of, terms_of, transfer_lacks
from contractor.warranties.rules.wording import day_in_words

# When the last day of a transfer check has passed before it was asked for: still soon, for the manager to judge.
LATE_CHECK = timedelta(weeks=2)
# Before the closing if that can still be, so that buyer and seller know at the table.
BEFORE_CLOSING = timedelta(days=7)


def check_occasion(transfer: Transfer) -> str:
    """The occasion of the visit, by which it is found again."""
    return f"transfer:{transfer.pk}"


def request_missing_checkup(transfer: Transfer, *, by: Actor, at: datetime) -> None:
    """Asks for the transfer check that is missing; part of the transaction that opens the transfer."""
    need = next((one for one in transfer_lacks(transfer) if one.code == "checkup"), None)
    if need is None or need.by_on is None:
        return
    today = clock.day_of(at)
    rule = terms_of(transfer.warranty).transfer_limits
    days = rule.checkup_within_days if rule is not None and rule.checkup_within_days is not None else 0
    earliest_on = max(today, transfer.closing_on - timedelta(days=days))
    latest_on = need.by_on if need.by_on >= earliest_on else earliest_on + LATE_CHECK
    parts = parts_at_house(facts_of(transfer.warranty), today)
    takes = checkup_durations([parts])[parts_key(parts)]
    ask_for_visit(
        occasion=check_occasion(transfer),
        system_id=transfer.warranty.system_id,
        kind=VisitKind.TRANSFER,
        target_on=min(max(transfer.closing_on - BEFORE_CLOSING, earliest_on), latest_on),
        earliest_on=earliest_on,
        latest_on=latest_on,
        minutes=takes.minutes,
        minutes_because=takes.because,
        skills=checkup_skills(parts),
        reason=f"The house is being sold, closing on {day_in_words(transfer.closing_on)}. {need.sentence}",
        by=by,
        at=at,
    )


def withdraw_check(transfer: Transfer, *, because: str, by: Actor, at: datetime) -> None:
    """Calls the transfer check off when it is not wanted any more."""
    for request in Request.objects.wanting().filter(occasion=check_occasion(transfer)):
        withdraw_request(request_id=request.pk, because=because, by=by, at=at)
