"""A plan offered to the owner of a house by message."""

from datetime import datetime

from django.db import transaction

from contractor.core import clock
from contractor.core.audit import Actor
from contractor.notices.actions import queue_notice
from contractor.notices.models import Notice
from contractor.plans.to_offer import TEMPLATE, to_offer
from contractor.properties.models import Property


@transaction.atomic
def offer_plan(*, property_id: int, offer_id: int, by: Actor, at: datetime) -> Notice:
    """Writes to the present owner about a plan, once a season. At night it waits for the morning.

    Raises what ``to_offer`` raises: NoOwner, OfferNotOpen, HasPlan, OfferedAlready, NoPostalAddress, OffersNotWanted.
    """
    Property.objects.select_for_update().get(pk=property_id)
    found = to_offer(property_id=property_id, offer_id=offer_id, on=clock.day_of(at))
    return queue_notice(
        occasion=found.occasion,
        template=TEMPLATE,
        person=found.person,
        property=found.house,
        context={"offer": found.offer},
        never_by=found.never_by,
        by=by,
        at=at,
    )
