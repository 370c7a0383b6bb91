"""The visits of a claim: somebody looks before it is decided, and the repair once it is covered."""

from datetime import date, datetime

from django.db import transaction

from contractor.core.audit import Actor
from contractor.visits.actions.appointments import ask_for_visit, withdraw_request
from contractor.visits.models import Request, VisitKind
from contractor.visits.skills import BY_PART_KIND, in_order
from contractor.warranties.claim_errors import NothingToRepair
from contractor.warranties.claim_file import visits_of
from contractor.warranties.errors import ClaimSettled
from contractor.warranties.models import Claim
from contractor.warranties.rules.claims import Outcome


@transaction.atomic
def ask_for_claim_visit(
    *,
    claim_id: int,
    target_on: date,
    earliest_on: date,
    latest_on: date,
    minutes: int,
    reason: str,
    by: Actor,
    at: datetime,
    carry: str = "",
) -> Request:
    """Asks for somebody at the house: to look while the claim waits, to repair once it is covered.

    One standing visit for each purpose; asked for again, it is the same. Raises ClaimSettled for a withdrawn claim,
    NothingToRepair for one that is not covered, or WindowBackwards.
    """
    claim = Claim.objects.select_for_update(of=("self",)).select_related("warranty__system").get(pk=claim_id)
    if claim.state == Claim.State.WITHDRAWN:
        raise ClaimSettled
    if claim.state == Claim.State.DECIDED and claim.outcome != Outcome.COVERED.value:
        raise NothingToRepair
    skill = BY_PART_KIND.get(claim.part_kind)
    return ask_for_visit(
        occasion=_occasion(claim),
        system_id=claim.warranty.system_id,
        kind=VisitKind.CLAIM,
        target_on=target_on,
        earliest_on=earliest_on,
        latest_on=latest_on,
        minutes=minutes,
        skills=in_order([skill]) if skill is not None else (),
        reason=reason,
        carry=carry,
        by=by,
        at=at,
    )


def withdraw_visits(claim: Claim, *, because: str, by: Actor, at: datetime) -> None:
    """Calls the visits of a claim off that nobody has made; part of the transaction that withdraws it."""
    standing = Request.objects.wanting().filter(pk__in=[one.pk for one in visits_of(claim)])
    for request in standing.order_by("pk"):
        withdraw_request(request_id=request.pk, because=because, by=by, at=at)


def _occasion(claim: Claim) -> str:
    """One for each purpose; a new one only when the visit before it was called off or made."""
    purpose = "repair" if claim.state == Claim.State.DECIDED else "look"
    asked = visits_of(claim).filter(occasion__startswith=f"claim:{claim.pk}:{purpose}:")
    past = asked.exclude(pk__in=Request.objects.wanting().values("pk")).count()
    return f"claim:{claim.pk}:{purpose}:{past + 1}"
