"""Writes about certificates: freeze the facts, issue, render the file once."""

import hashlib
from datetime import date, datetime

from django.conf import settings
from django.core.files.base import ContentFile
from django.db import transaction
from django.db.models.fields.files import FieldFile
from django.urls import reverse

from contractor.accounts.models import User
from contractor.accounts.queries import the_company
from contractor.celery import start_after_commit
from contractor.core import audit, clock
from contractor.core.audit import Actor
from contractor.properties.models import Ownership
from contractor.warranties.certificates import certificate_facts, certificate_pdf
from contractor.warranties.errors import CertificateFileLost, DayAhead, HolderUnknown, NothingInForce
from contractor.warranties.frozen_facts import freeze
from contractor.warranties.models import Certificate, Transfer, Warranty
from contractor.warranties.numbers import display_number, draw_number
from contractor.warranties.printed_codes import draw_check_code, draw_token
from contractor.warranties.queries import holder_of, last_certificate, overall_cover, promise_standings
from contractor.warranties.rules.cover import Cover
from contractor.warranties.signing import configured_timestamper, sign_file
from contractor.warranties.signing_keys import current_key


@transaction.atomic
def issue_certificate(
    *, warranty_id: int, on: date, by: Actor, at: datetime, issued_by: User | None = None
) -> Certificate:
    """Issues a certificate to the present holder, in the place of the one before it.

    Raises DayAhead, HolderUnknown when the house has another owner than the holder, or NothingInForce.
    """
    warranty = _locked(warranty_id)
    if on > clock.day_of(at):
        raise DayAhead("on")
    holder = holder_of(warranty)
    if holder.until_on is not None:
        raise HolderUnknown
    return _certify(warranty, holder=holder, transfer=None, on=on, by=by, at=at, issued_by=issued_by)


def certify_transfer(*, transfer: Transfer, on: date, by: Actor, at: datetime, issued_by: User | None) -> Certificate:
    """Issues the certificate of a transfer that has just been recorded; part of the transaction that issues it."""
    warranty = _locked(transfer.warranty_id)
    return _certify(warranty, holder=holder_of(warranty), transfer=transfer, on=on, by=by, at=at, issued_by=issued_by)


def certificate_file(*, certificate_id: int) -> FieldFile:
    """The certificate's PDF, made from its frozen facts and signed when first asked for, and kept with its SHA-256.

    The page is made outside a transaction, because that takes seconds; of two who ask at once the row keeps the first.
    There is one file for each number for ever: a lost one is made again only if that gives the same bytes. Raises
    CertificateFileLost, NoSigningKey, SigningKeyExpired, KeyUnreadable or TimestampFailed.
    """
    certificate = Certificate.objects.get(pk=certificate_id)
    if _is_kept(certificate.file):
        return certificate.file
    body = _signed(certificate)
    sha256 = hashlib.sha256(body).hexdigest()
    with transaction.atomic():
        locked = Certificate.objects.select_for_update().get(pk=certificate_id)
        if not _is_kept(locked.file):
            if locked.file_sha256 not in {"", sha256}:
                raise CertificateFileLost
            locked.file.save(f"{locked.number}.pdf", ContentFile(body), save=False)
            locked.file_sha256 = sha256
            locked.save(update_fields=["file", "file_sha256"])
    return locked.file


def _signed(certificate: Certificate) -> bytes:
    key = current_key(organisation=the_company().legal_name, at=certificate.issued_at)
    page = certificate_pdf(freeze(certificate.facts), certificate.facts)
    # A key that is younger than the certificate can't have signed on that day.
    moment = max(certificate.issued_at, key.certificate.not_valid_before_utc)
    return sign_file(page, key=key, moment=moment, timestamper=configured_timestamper())


def _is_kept(file: FieldFile) -> bool:
    return bool(file.name) and file.storage.exists(file.name or "")


def _locked(warranty_id: int) -> Warranty:
    """The warranty with its row locked: two certificates of one warranty are issued one after the other."""
    Warranty.objects.select_for_update().get(pk=warranty_id)
    return Warranty.objects.select_related("terms", "system__property", "issued_to__person").get(pk=warranty_id)


def _certify(
    warranty: Warranty,
    *,
    holder: Ownership,
    transfer: Transfer | None,
    on: date,
    by: Actor,
    at: datetime,
    issued_by: User | None,
) -> Certificate:
    standings = promise_standings(warranty=warranty, on=on)
    if overall_cover(one.standing for one in standings) not in {Cover.IN_FORCE, Cover.SUSPENDED}:
        raise NothingInForce(on)
    before = last_certificate(warranty)
    token = draw_token()
    names = _names(token, before)
    facts = certificate_facts(warranty=warranty, holder=holder, transfer=transfer, names=names, on=on, at=at)
    frozen = freeze(facts)
    certificate = Certificate.objects.create(
        number=names["number"],
        warranty=warranty,
        transfer=transfer,
        issued_to=holder,
        facts=facts,
        facts_sha256=frozen.sha256,
        check_code=names["check_code"],
        token=token,
        issued_on=on,
        issued_at=at,
        issued_by=issued_by,
        supersedes=before,
    )
    # The facts name the owner, so the trail keeps their hash and not the facts.
    kept = ("number", "warranty_id", "transfer_id", "issued_to_id", "issued_on", "facts_sha256", "supersedes_id")
    snapshot = audit.snapshot(certificate)
    audit.record(
        by=by,
        at=at,
        verb="certificate issued",
        subject=certificate,
        property_id=warranty.system.property_id,
        after={name: snapshot[name] for name in kept},
    )
    task = "contractor.warranties.tasks.render_certificate"
    start_after_commit(task, certificate_id=certificate.pk)
    return certificate


def _names(token: str, before: Certificate | None) -> dict[str, str]:
    """What belongs to this one paper: its number, its check code, and where it can be checked."""
    return {
        "number": _new_number(),
        "check_code": draw_check_code(),
        "check_url": settings.SITE_ADDRESS + reverse("portal:check_token", args=[token]),
        "check_page": settings.SITE_ADDRESS + reverse("portal:check"),
        "supersedes": display_number(before.number) if before is not None else "",
    }


def _new_number() -> str:
    while True:
        number = draw_number()
        if not Certificate.objects.filter(number=number).exists():
            return number
