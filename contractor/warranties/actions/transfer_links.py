"""Writes about the secret links of a sale: each outside person has links to their own part and to nothing else."""

import secrets
from datetime import datetime, timedelta

from django.db import transaction
from django.urls import reverse

from contractor.accounts.models import User
from contractor.core import audit
from contractor.core.audit import SYSTEM, Actor
from contractor.notices.actions import queue_notice
from contractor.notices.models import Notice
from contractor.notices.personal_links import marker
from contractor.properties.actions import register_person, token_sha256
from contractor.properties.errors import NoEmail
from contractor.properties.models import Person
from contractor.warranties.errors import LinkGone, TransferSettled
from contractor.warranties.models import Transfer, TransferLink

LINK_LASTS = timedelta(days=30)
# The kind of link that a marker in a message stands for; its number is that of the reader's latest link row.
SALE_LINK = "your-part-of-the-sale"


@transaction.atomic
def make_transfer_link(
    *,
    transfer_id: int,
    role: str,
    name: str,
    email: str,
    by: Actor,
    at: datetime,
    made_by: User | None = None,
) -> str:
    """Makes a secret link to one person's part of a sale and returns its token, which is kept nowhere.

    The token is 256 random bits; the table holds its SHA-256, which needs no slow hash at that length.
    Raises TransferSettled.
    """
    transfer = Transfer.objects.select_for_update().get(pk=transfer_id)
    if transfer.state != Transfer.State.ASKED:
        raise TransferSettled(transfer.get_state_display().lower())
    token = secrets.token_urlsafe(32)
    _keep(transfer, token=token, role=role, name=name, email=email, by=by, at=at, made_by=made_by)
    return token


def invite(transfer: Transfer, *, role: str, person: Person, by: Actor, at: datetime) -> str:
    """Gives a person a part in the sale and the marker that becomes a fresh link in each message to them.

    The row stands for the person from now on; its own token is thrown away unseen, and each message that is sent
    makes another. Part of the transaction that writes the message.
    """
    link = transfer.links.filter(role=role, email=person.email).order_by("pk").last()
    if link is None or link.revoked_at is not None:
        token = secrets.token_urlsafe(32)
        link = _keep(transfer, token=token, role=role, name=person.name, email=person.email, by=by, at=at)
    return marker(SALE_LINK, link.pk)


@transaction.atomic
def invite_agent(*, transfer_id: int, name: str, email: str, by: Actor, at: datetime) -> Notice:
    """Gives the agent who closes the sale a part in it and writes to them. Raises NoEmail or TransferSettled."""
    transfer = _open(transfer_id)
    if not email.strip():
        raise NoEmail
    known = Person.objects.filter(email=email.strip().lower(), name__iexact=name.strip()).order_by("pk").first()
    person = known or register_person(name=name, email=email, property_id=transfer.seller.property_id, by=by, at=at)
    return _write_link(transfer, role=TransferLink.Role.AGENT, person=person, by=by, at=at)


@transaction.atomic
def send_transfer_link(
    *, transfer_id: int, role: str, email: str, by: Actor, at: datetime, once_in: str = ""
) -> Notice:
    """Writes to one person of the sale with a fresh link; their earlier ones stay as they are.

    Asked for twice in a minute, or in the stretch of time that ``once_in`` names, it is sent once. Raises
    TransferSettled, NoEmail or LinkGone.
    """
    transfer = _open(transfer_id)
    person = _person(transfer, role, email)
    return _write_link(transfer, role=role, person=person, by=by, at=at, once_in=once_in)


@transaction.atomic
def revoke_transfer_links(*, transfer_id: int, role: str, email: str, by: Actor, at: datetime) -> int:
    """Stops every link of one person from opening their part; returns how many there were. Raises LinkGone.

    A seller or a buyer may ask for a new one; an agent is out of the sale until invited again.
    """
    transfer = Transfer.objects.select_for_update().get(pk=transfer_id)
    if not transfer.links.filter(role=role, email=email).exists():
        raise LinkGone
    count = transfer.links.filter(role=role, email=email, revoked_at__isnull=True).update(revoked_at=at)
    _record(transfer, verb="transfer links revoked", by=by, at=at, after={"role": role, "links": count})
    return count


def end_transfer_links(transfer: Transfer, *, by: Actor, at: datetime) -> None:
    """Ends everybody's links when the transfer is settled; part of the transaction that settles it."""
    count = transfer.links.filter(revoked_at__isnull=True).update(revoked_at=at)
    if count:
        _record(transfer, verb="transfer links ended", by=by, at=at, after={"links": count})


@transaction.atomic
def open_transfer_link(*, token: str, at: datetime) -> TransferLink | None:
    """The link that this token opens now, noted in the trail; None when it is wrong, expired or revoked."""
    link = (
        TransferLink.objects.usable(at)
        .select_related("transfer__seller")
        .filter(token_sha256=token_sha256(token))
        .first()
    )
    if link is not None:
        by = Actor(f"{link.role}:{link.pk}", link.name)
        _record(link.transfer, verb="transfer link opened", by=by, at=at, after={"role": link.role, "link": link.pk})
    return link


def sale_link(*, notice: Notice, key: int | None, at: datetime) -> str | None:
    """The path of a fresh link for the reader of a message; None when they have no part in the sale any more.

    The address of the message must be that of the link: a marker that somebody typed into a text opens nothing.
    """
    theirs = TransferLink.objects.filter(email=notice.address, revoked_at__isnull=True)
    invited = theirs.filter(pk=key).first() if key is not None and notice.address else None
    if invited is None or invited.transfer.state != Transfer.State.ASKED:
        return None
    token = make_transfer_link(
        transfer_id=invited.transfer_id, role=invited.role, name=invited.name, email=invited.email, by=SYSTEM, at=at
    )
    return reverse("portal:transfer_link", args=[token])


def _open(transfer_id: int) -> Transfer:
    Transfer.objects.select_for_update().get(pk=transfer_id)
    transfer = Transfer.objects.select_related("warranty__terms", "seller__property", "seller__person", "buyer").get(
        pk=transfer_id
    )
    if transfer.state != Transfer.State.ASKED:
        raise TransferSettled(transfer.get_state_display().lower())
    return transfer


def _person(transfer: Transfer, role: str, email: str) -> Person:
    """Who plays this role: the seller or the buyer on record, or an agent who was given a part."""
    if role == TransferLink.Role.SELLER:
        return transfer.seller.person
    if role == TransferLink.Role.BUYER:
        return transfer.buyer
    link = transfer.links.filter(role=TransferLink.Role.AGENT, email=email).order_by("pk").last()
    agent = Person.objects.filter(email=email, name=link.name).order_by("pk").first() if link is not None else None
    if agent is None:
        raise LinkGone
    return agent


def _write_link(transfer: Transfer, *, role: str, person: Person, by: Actor, at: datetime, once_in: str = "") -> Notice:
    if not person.email:
        raise NoEmail
    once_in = once_in or at.strftime("%Y-%m-%dT%H:%M")
    return queue_notice(
        occasion=f"transfer link:{transfer.pk}:{role}:{person.pk}:{once_in}",
        template="transfer_link",
        person=person,
        property=transfer.seller.property,
        context={
            "role": role,
            "transfer": transfer,
            "sale_link": invite(transfer, role=role, person=person, by=by, at=at),
        },
        by=by,
        at=at,
        asked_for=True,
    )


def _keep(
    transfer: Transfer,
    *,
    token: str,
    role: str,
    name: str,
    email: str,
    by: Actor,
    at: datetime,
    made_by: User | None = None,
) -> TransferLink:
    link = TransferLink.objects.create(
        transfer=transfer,
        role=role,
        name=name,
        email=email,
        token_sha256=token_sha256(token),
        made_at=at,
        made_by=made_by,
        expires_at=at + LINK_LASTS,
    )
    _record(
        transfer,
        verb="transfer link made",
        by=by,
        at=at,
        after={"link": link.pk, "role": role, "expires_at": link.expires_at},
    )
    return link


def _record(transfer: Transfer, **entry: object) -> None:
    audit.record(subject=transfer, property_id=transfer.seller.property_id, **entry)  # type: ignore[arg-type]
