"""Writes about a buyer's acceptance: on the screen, with the exact bytes that were shown, or on paper."""

from datetime import date, datetime
from typing import Any
from uuid import uuid4

from django.core.files.base import ContentFile
from django.db import transaction

from contractor.accounts.models import User
from contractor.accounts.queries import the_company
from contractor.checkups.photos import document_suffix
from contractor.core import audit, clock
from contractor.core.audit import Actor
from contractor.warranties.acceptance_paper import acceptance_pdf, consent_lines, document_sha256
from contractor.warranties.actions.transfer_messages import tell_accepted
from contractor.warranties.actions.transfers import accept_transfer
from contractor.warranties.errors import (
    AlreadyAccepted,
    ConsentNeeded,
    DocumentChanged,
    DocumentNotOpened,
    NameNeeded,
    NotAccepted,
    ReasonNeeded,
    TransferSettled,
)
from contractor.warranties.models import Acceptance, Transfer, TransferLink


def accept_electronically(
    *,
    transfer_id: int,
    name: str,
    has_consented: bool,
    has_intent: bool,
    shown_sha256: str,
    link: TransferLink,
    by: Actor,
    at: datetime,
) -> Acceptance:
    """The buyer takes the warranty over on the screen; what they were shown is kept byte for byte.

    ``shown_sha256`` is that of the document that was opened in this browser. The document is made outside the
    transaction, because that takes a second. Raises TransferSettled, AlreadyAccepted, ConsentNeeded, NameNeeded,
    DocumentNotOpened, or DocumentChanged when it reads otherwise by now.
    """
    transfer = _to_accept(transfer_id)
    if not (has_consented and has_intent):
        raise ConsentNeeded
    if not name.strip():
        raise NameNeeded
    if not shown_sha256:
        raise DocumentNotOpened
    document = acceptance_pdf(transfer)
    if document_sha256(document) != shown_sha256:
        raise DocumentChanged
    return _accept(
        transfer_id,
        document=document,
        suffix="pdf",
        accepted_on=clock.day_of(at),
        by=by,
        at=at,
        way=Acceptance.Way.ELECTRONIC,
        name=name.strip(),
        consent="\n".join(consent_lines(the_company())),
        consented_at=at,
        link=link,
    )


def accept_on_paper(
    *,
    transfer_id: int,
    name: str,
    accepted_on: date,
    document: bytes,
    by: Actor,
    at: datetime,
    link: TransferLink | None = None,
    recorded_by: User | None = None,
) -> Acceptance:
    """The buyer signed on paper; the scan or photo is kept exactly as it came.

    Raises TransferSettled, AlreadyAccepted, NameNeeded, DayAhead or UnreadableDocument.
    """
    _to_accept(transfer_id)
    return _accept(
        transfer_id,
        document=document,
        suffix=document_suffix(document),
        accepted_on=accepted_on,
        by=by,
        at=at,
        way=Acceptance.Way.PAPER,
        name=name.strip(),
        link=link,
        recorded_by=recorded_by,
    )


@transaction.atomic
def set_aside_acceptance(*, transfer_id: int, because: str, by: Actor, at: datetime) -> Transfer:
    """Puts an acceptance aside before the certificate is issued: taken back by the buyer, or unreadable paper.

    What was accepted stays in the trail by its hash, and the file stays where it is. Raises TransferSettled,
    ReasonNeeded or NotAccepted.
    """
    transfer = _open(transfer_id)
    if not because.strip():
        raise ReasonNeeded
    if transfer.accepted_on is None:
        raise NotAccepted
    return put_aside(transfer, because=because.strip(), by=by, at=at)


def put_aside(transfer: Transfer, *, because: str, by: Actor, at: datetime) -> Transfer:
    """The writes of it; part of the transaction that has the transfer locked."""
    given = Acceptance.objects.filter(transfer=transfer).first()
    before: dict[str, Any] = {"accepted_on": transfer.accepted_on}
    if given is not None:
        before |= {"way": given.way, "shown_sha256": given.shown_sha256, "shown": given.shown.name}
        given.delete()
    transfer.accepted_on, transfer.accepted_name = None, ""
    transfer.save()
    _record(
        transfer,
        verb="acceptance set aside",
        by=by,
        at=at,
        before=before,
        after={"accepted_on": None, "because": because},
    )
    return transfer


@transaction.atomic
def _accept(
    transfer_id: int, *, document: bytes, suffix: str, accepted_on: date, by: Actor, at: datetime, **words: Any
) -> Acceptance:
    _open(transfer_id)
    # Asked once more under the lock: two who accept at once.
    _to_accept(transfer_id)
    transfer = accept_transfer(transfer_id=transfer_id, accepted_on=accepted_on, name=words["name"], by=by, at=at)
    acceptance = Acceptance(transfer=transfer, shown_sha256=document_sha256(document), accepted_at=at, **words)
    acceptance.shown.save(f"{uuid4()}.{suffix}", ContentFile(document), save=False)
    acceptance.save(force_insert=True)
    _record(
        transfer,
        verb="acceptance kept",
        by=by,
        at=at,
        after={"way": acceptance.way, "shown_sha256": acceptance.shown_sha256, "link": acceptance.link_id},
    )
    tell_accepted(transfer, by=by, at=at)
    return acceptance


def _to_accept(transfer_id: int) -> Transfer:
    transfer = Transfer.objects.select_related(
        "warranty__terms", "warranty__system__property", "seller__person", "buyer"
    ).get(pk=transfer_id)
    _refuse_settled(transfer)
    if transfer.accepted_on is not None:
        raise AlreadyAccepted(transfer.accepted_on)
    return transfer


def _open(transfer_id: int) -> Transfer:
    transfer = Transfer.objects.select_for_update().get(pk=transfer_id)
    _refuse_settled(transfer)
    return transfer


def _refuse_settled(transfer: Transfer) -> None:
    if transfer.state != Transfer.State.ASKED:
        raise TransferSettled(transfer.get_state_display().lower())


def _record(transfer: Transfer, **entry: Any) -> None:
    audit.record(subject=transfer, property_id=transfer.seller.property_id, **entry)
