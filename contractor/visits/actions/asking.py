"""The write behind a visit asked for by hand: refused when the same one stands already."""

from collections.abc import Sequence
from datetime import date, datetime

from django.db import transaction

from contractor.core.audit import Actor
from contractor.systems.models import System
from contractor.visits.actions.appointments import ask_for_visit
from contractor.visits.errors import AlreadyAsked
from contractor.visits.models import Request
from contractor.visits.rules import is_the_same_wish


@transaction.atomic
def ask_by_hand(
    *,
    occasion: str,
    system_id: int,
    kind: str,
    target_on: date,
    earliest_on: date,
    latest_on: date,
    minutes: int,
    reason: str,
    by: Actor,
    at: datetime,
    carry: str = "",
    skills: Sequence[str] = (),
) -> Request:
    """Asks for a visit of any kind. Raises WindowBackwards, or AlreadyAsked when the same one stands at the system."""
    # The system is locked, so that two people who ask for the same at once see each other.
    System.objects.select_for_update().get(pk=system_id)
    standing = Request.objects.wanting().filter(
        system=system_id, kind=kind, earliest_on__lte=latest_on, latest_on__gte=earliest_on
    )
    for other in standing.exclude(occasion=occasion).order_by("pk"):
        if is_the_same_wish(kind, reason, other.reason):
            raise AlreadyAsked(other.get_kind_display(), other.latest_on, other.pk)
    return ask_for_visit(
        occasion=occasion,
        system_id=system_id,
        kind=kind,
        target_on=target_on,
        earliest_on=earliest_on,
        latest_on=latest_on,
        minutes=minutes,
        minutes_because="As the office reckons it.",
        reason=reason,
        carry=carry,
        skills=skills,
        by=by,
        at=at,
    )
