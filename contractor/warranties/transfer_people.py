"""Reads about the people of a sale: who plays which part, and whether their links still open it."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Q

from contractor.properties.models import Person
from contractor.warranties.models import Transfer, TransferLink
from contractor.warranties.rules.transfer_steps import Role

ROLES: dict[Role, str] = {"seller": "Seller", "buyer": "Buyer", "agent": "Agent"}


@dataclass(frozen=True, slots=True, kw_only=True)
class PersonInSale:
    """One person at the desk's list. ``opens_until`` is None when no link of theirs opens anything now."""

    role: Role
    word: str
    name: str
    email: str
    phone: str
    opens_until: datetime | None
    is_revoked: bool
    gets_letters: bool


def people_of(transfer: Transfer) -> Iterator[tuple[Role, Person]]:
    """Seller, buyer, and every agent who has a part in the sale, or had one until it was issued."""
    yield "seller", transfer.seller.person
    yield "buyer", transfer.buyer
    for link in _agents(transfer):
        person = Person.objects.filter(name=link.name, email=link.email).order_by("pk").first()
        if person is not None:
            yield "agent", person


def people_in_sale(transfer: Transfer, *, at: datetime) -> list[PersonInSale]:
    """The people of a sale as the desk sees them."""
    rows = [
        _row(transfer, role, person.name, person.email, person.phone, at, gets_letters=not person.wants_email)
        for role, person in (("seller", transfer.seller.person), ("buyer", transfer.buyer))
    ]
    agents = {(link.name, link.email) for link in transfer.links.filter(role=TransferLink.Role.AGENT)}
    return rows + [_row(transfer, "agent", name, email, "", at) for name, email in sorted(agents)]


def parts_with_address(email: str) -> list[tuple[int, str]]:
    """The parts in open sales that go to an e-mail address: transfer and role. An agent who was shut out has none."""
    if not email:
        return []
    open_sales = Transfer.objects.filter(state=Transfer.State.ASKED)
    sellers = open_sales.filter(seller__person__email=email).values_list("pk", flat=True)
    buyers = open_sales.filter(buyer__email=email).values_list("pk", flat=True)
    agents = (
        TransferLink.objects.filter(role=TransferLink.Role.AGENT, email=email, revoked_at__isnull=True)
        .filter(transfer__state=Transfer.State.ASKED)
        .order_by("transfer_id")
        .values_list("transfer_id", flat=True)
        .distinct()
    )
    return [
        *((pk, TransferLink.Role.SELLER.value) for pk in sellers),
        *((pk, TransferLink.Role.BUYER.value) for pk in buyers),
        *((pk, TransferLink.Role.AGENT.value) for pk in agents),
    ]


def is_reached(transfer: Transfer, person: Person) -> bool:
    """Whether a message finds its reader. A letter to a buyer would go to the house, where the seller still lives."""
    by_email = bool(person.email) and person.wants_email
    is_early_buyer = person.pk == transfer.buyer_id and transfer.issued_at is None
    return by_email or bool(person.mail_address.strip()) or not is_early_buyer


def _agents(transfer: Transfer) -> list[TransferLink]:
    until_issued = Q(revoked_at__isnull=True)
    if transfer.issued_at is not None:
        until_issued |= Q(revoked_at__gte=transfer.issued_at)
    links = transfer.links.filter(until_issued, role=TransferLink.Role.AGENT).order_by("pk")
    return list({link.email: link for link in links}.values())


def _row(
    transfer: Transfer, role: str, name: str, email: str, phone: str, at: datetime, *, gets_letters: bool = False
) -> PersonInSale:
    theirs = transfer.links.filter(role=role, email=email)
    usable = theirs.usable(at).order_by("expires_at").last()
    return PersonInSale(
        role=role,  # type: ignore[arg-type]
        word=ROLES[role],  # type: ignore[index]
        name=name,
        email=email,
        phone=phone,
        opens_until=usable.expires_at if usable is not None else None,
        is_revoked=theirs.exists() and not theirs.filter(revoked_at__isnull=True).exists(),
        gets_letters=gets_letters or not email,
    )
