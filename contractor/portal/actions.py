"""What owners themselves start."""

from datetime import datetime

from contractor.core.audit import SYSTEM
from contractor.notices.actions import send_owner_link
from contractor.properties.models import Ownership


def ask_for_link(*, email: str, at: datetime) -> int:
    """Sends a fresh link to each house that the owner with this address has now; returns how many there are.

    Asking again within the hour changes nothing, so nobody's mailbox can be flooded from here. The caller shows
    the same words whatever the number is.
    """
    houses = Ownership.objects.open_ended().filter(person__email=email.strip().lower())
    for ownership in houses:
        hour = at.strftime("%Y-%m-%dT%H")
        send_owner_link(ownership_id=ownership.pk, occasion=f"link asked:{ownership.pk}:{hour}", by=SYSTEM, at=at)
    return houses.count()
