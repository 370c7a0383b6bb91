"""Writes about a closing day that has moved: deadlines, the visit and the messages follow; the links stay."""

from datetime import date, datetime

from django.db import transaction

from contractor.core import audit, clock
from contractor.core.audit import Actor
from contractor.warranties.actions.acceptance import put_aside
from contractor.warranties.actions.transfer_messages import tell_moved
from contractor.warranties.actions.transfer_visits import renew_check
from contractor.warranties.actions.transfers import open_transfer, refuse_closing
from contractor.warranties.errors import ClosingOfRecord, ClosingSame
from contractor.warranties.models import Transfer, Warranty
from contractor.warranties.rules.moved_closing import TakenLine, acceptance_stands
from contractor.warranties.taking_over import taking_over

WORSE = "The closing has moved, and something that the buyer accepted would end sooner."


@transaction.atomic
def change_closing(*, transfer_id: int, closing_on: date, by: Actor, at: datetime) -> Transfer:
    """Moves the closing day of a sale that is not issued: every day that is reckoned from it follows.

    Everybody's links stay. What a manager let go stays let go. The buyer's acceptance stays unless something that
    they accepted would be over or end sooner. The transfer check gets its new window; an appointment outside of it
    is called off. Seller, buyer and agents are told. Raises TransferSettled, ClosingSame, ClosingOfRecord,
    ClosingTooEarly or ClosingTooFar.
    """
    transfer = open_transfer(transfer_id)
    Warranty.objects.select_for_update().get(pk=transfer.warranty_id)
    before_on = transfer.closing_on
    if closing_on == before_on:
        raise ClosingSame(before_on)
    # The house was handed over on record already: by another system's transfer, or at the desk.
    handed_over_on = transfer.seller.until_on
    if handed_over_on is not None and closing_on != handed_over_on:
        raise ClosingOfRecord(handed_over_on)
    refuse_closing(transfer.warranty, transfer.seller, closing_on, today=clock.day_of(at))
    accepted = _lines(transfer)
    transfer.closing_on = closing_on
    transfer.save(update_fields=["closing_on"])
    audit.record(
        by=by,
        at=at,
        verb="closing day moved",
        subject=transfer,
        property_id=transfer.seller.property_id,
        before={"closing_on": before_on},
        after={"closing_on": closing_on},
    )
    is_put_aside = transfer.accepted_on is not None and not acceptance_stands(accepted, _lines(transfer))
    if is_put_aside:
        transfer = put_aside(transfer, because=WORSE, by=by, at=at)
    renew_check(transfer, by=by, at=at)
    tell_moved(transfer, before_on=before_on, accept_again=is_put_aside, by=by, at=at)
    return transfer


def _lines(transfer: Transfer) -> list[TakenLine]:
    promises = taking_over(transfer).promises
    return [TakenLine(is_covered=one.is_covered, through_on=one.through_on) for one in promises]
