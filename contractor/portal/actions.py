"""What owners themselves start."""

from collections.abc import Mapping
from datetime import date, datetime

from contractor.core.audit import SYSTEM, Actor
from contractor.notices.actions import send_owner_link
from contractor.properties.models import Ownership, Person
from contractor.warranties.actions.transfer_links import send_transfer_link
from contractor.warranties.actions.transfers import ask_transfer_to
from contractor.warranties.errors import BuyerIsSeller
from contractor.warranties.models import Transfer
from contractor.warranties.transfer_people import parts_with_address


def ask_for_link(*, email: str, at: datetime) -> int:
    """Sends a fresh link to each house that the owner with this address has now, and to each part in a sale.

    Returns how many there are. Asking again within the hour changes nothing, so nobody's mailbox can be flooded
    from here. The caller shows the same words whatever the number is.
    """
    address, hour = email.strip().lower(), at.strftime("%Y-%m-%dT%H")
    houses = Ownership.objects.open_ended().filter(person__email=address)
    for ownership in houses:
        send_owner_link(ownership_id=ownership.pk, occasion=f"link asked:{ownership.pk}:{hour}", by=SYSTEM, at=at)
    parts = parts_with_address(address)
    for transfer_id, role in parts:
        send_transfer_link(transfer_id=transfer_id, role=role, email=address, by=SYSTEM, at=at, once_in=hour)
    return len(houses) + len(parts)


def start_sale(
    *,
    ownership: Ownership,
    warranty_id: int,
    buyer_name: str,
    buyer_email: str,
    closing_on: date,
    agent: Mapping[str, str] | None,
    on: date,
    at: datetime,
) -> Transfer:
    """The owner asks for the transfer to a buyer, as the desk does; the company was told today.

    Somebody who is registered under this name and address already is not registered twice; the seller learns nothing
    of that. Raises BuyerIsSeller and what ``ask_transfer`` raises.
    """
    address = buyer_email.strip().lower()
    if address == ownership.person.email:
        raise BuyerIsSeller
    known = Person.objects.filter(email=address, name__iexact=buyer_name.strip()).order_by("pk").first()
    return ask_transfer_to(
        warranty_id=warranty_id,
        buyer={"name": buyer_name, "email": address},
        known_person_id=known.pk if known is not None else None,
        closing_on=closing_on,
        notified_on=on,
        agent=agent,
        by=Actor(f"owner:{ownership.person_id}", ownership.person.name),
        at=at,
    )
