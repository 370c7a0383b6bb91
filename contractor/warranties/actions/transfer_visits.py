"""The visit that a sale asks for when the terms want a check-up and none is recent enough."""

from datetime import date, datetime, timedelta
from typing import NamedTuple

from contractor.core import clock
from contractor.core.audit import Actor
from contractor.visits.actions.appointments import ask_for_visit, move_window, withdraw_request
from contractor.visits.durations import parts_key
from contractor.visits.models import Request, VisitKind
from contractor.visits.queries import checkup_durations
from contractor.visits.skills import checkup_skills
from contractor.warranties.care_visits import parts_at_house
from contractor.warranties.models import Transfer
from contractor.warranties.queries import facts_of, terms_of, transfer_lacks
from contractor.warranties.rules.transfers import Requirement
from contractor.warranties.rules.wording import day_in_words
from contractor.warranties.transfer_checks import check_occasion, transfer_checks

# When the last day of a transfer check has passed before it was asked for: still soon, for the manager to judge.
LATE_CHECK = timedelta(weeks=2)
# Before the closing if that can still be, so that buyer and seller know at the table.
BEFORE_CLOSING = timedelta(days=7)


class Window(NamedTuple):
    """The days of a visit: the best one, the first and the last."""

    target_on: date
    earliest_on: date
    latest_on: date


def request_missing_checkup(transfer: Transfer, *, by: Actor, at: datetime) -> None:
    """Asks for the transfer check that is missing; part of the transaction that opens the transfer."""
    need = _missing_checkup(transfer)
    if need is not None:
        _ask(transfer, need, by=by, at=at)


def renew_check(transfer: Transfer, *, by: Actor, at: datetime) -> None:
    """Brings the transfer check into step with a closing day that has moved; part of that transaction.

    A standing visit gets its new window, one that is not needed any more is called off, and one that is needed now is
    asked for.
    """
    need = _missing_checkup(transfer)
    standing = Request.objects.wanting().filter(transfer_checks(transfer)).first()
    if need is None:
        withdraw_check(transfer, because="A check-up that counts for the new closing day is on record.", by=by, at=at)
    elif standing is None:
        _ask(transfer, need, by=by, at=at)
    else:
        window = _window(transfer, need, clock.day_of(at))
        because = f"The closing of the sale has moved to {day_in_words(transfer.closing_on)}."
        move_window(
            request_id=standing.pk, reason=_reason(transfer, need), because=because, by=by, at=at, **window._asdict()
        )


def withdraw_check(transfer: Transfer, *, because: str, by: Actor, at: datetime) -> None:
    """Calls the transfer check off when it is not wanted any more."""
    for request in Request.objects.wanting().filter(transfer_checks(transfer)):
        withdraw_request(request_id=request.pk, because=because, by=by, at=at)


def _missing_checkup(transfer: Transfer) -> Requirement | None:
    return next((one for one in transfer_lacks(transfer) if one.code == "checkup" and one.by_on is not None), None)


def _ask(transfer: Transfer, need: Requirement, *, by: Actor, at: datetime) -> None:
    today = clock.day_of(at)
    parts = parts_at_house(facts_of(transfer.warranty), today)
    takes = checkup_durations([parts])[parts_key(parts)]
    before = Request.objects.filter(transfer_checks(transfer)).count()
    ask_for_visit(
        # One that was called off stays called off, so the next has a name of its own.
        occasion=f"{check_occasion(transfer)}:{before + 1}" if before else check_occasion(transfer),
        system_id=transfer.warranty.system_id,
        kind=VisitKind.TRANSFER,
        minutes=takes.minutes,
        minutes_because=takes.because,
        skills=checkup_skills(parts),
        reason=_reason(transfer, need),
        by=by,
        at=at,
        **_window(transfer, need, today)._asdict(),
    )


def _window(transfer: Transfer, need: Requirement, today: date) -> Window:
    """The days on which the check counts, from today on; still soon when the last of them has passed."""
    rule = terms_of(transfer.warranty).transfer_limits
    days = rule.checkup_within_days if rule is not None and rule.checkup_within_days is not None else 0
    earliest_on = max(today, transfer.closing_on - timedelta(days=days))
    by_on = need.by_on or transfer.closing_on
    latest_on = by_on if by_on >= earliest_on else earliest_on + LATE_CHECK
    target_on = min(max(transfer.closing_on - BEFORE_CLOSING, earliest_on), latest_on)
    return Window(target_on=target_on, earliest_on=earliest_on, latest_on=latest_on)


def _reason(transfer: Transfer, need: Requirement) -> str:
    return f"The house is being sold, closing on {day_in_words(transfer.closing_on)}. {need.sentence}"
