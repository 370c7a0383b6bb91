"""Writes about terms shown before a sale: which edition, to whom, when, how, and the exact document."""

import secrets
from datetime import datetime

from django.conf import settings
from django.core.files.base import ContentFile
from django.db import transaction
from django.urls import reverse

from contractor.accounts.models import User
from contractor.core import audit
from contractor.core.audit import Actor
from contractor.notices.actions import queue_notice
from contractor.properties.actions import register_person
from contractor.properties.models import Person
from contractor.warranties.acceptance_paper import document_sha256
from contractor.warranties.documents import terms_pdf
from contractor.warranties.errors import LinkNeedsEmail, NotPublished, ShownNobody
from contractor.warranties.models import TermsEdition, TermsShown
from contractor.warranties.rules.plain_data import terms_from_data


@transaction.atomic
def show_terms(
    *,
    terms_id: int,
    property_id: int | None,
    name: str,
    email: str,
    way: str,
    shown_by: User,
    at: datetime,
) -> TermsShown:
    """Records that somebody was shown a published edition, with the bytes of the document; a link goes by e-mail.

    Raises NotPublished, ShownNobody or LinkNeedsEmail.
    """
    edition = TermsEdition.objects.get(pk=terms_id)
    if edition.published_at is None:
        raise NotPublished(edition.edition)
    if not name.strip():
        raise ShownNobody
    if way == TermsShown.Way.LINK and not email.strip():
        raise LinkNeedsEmail
    document = terms_pdf(terms_from_data(edition.data), made_at=edition.published_at)
    fingerprint = document_sha256(document)
    shown = TermsShown(
        terms=edition,
        property_id=property_id,
        name=name.strip(),
        email=email.strip().lower(),
        way=way,
        shown_at=at,
        shown_by=shown_by,
        document_sha256=fingerprint,
        token=secrets.token_urlsafe(32),
    )
    same = TermsShown.objects.filter(terms=edition, document_sha256=fingerprint).first()
    if same is not None:
        shown.document = same.document.name
        shown.save()
    else:
        shown.document.save(f"{fingerprint}.pdf", ContentFile(document))
    audit.record(
        by=shown_by.actor,
        at=at,
        verb="terms shown before a sale",
        subject=shown,
        property_id=property_id,
        after=audit.snapshot(shown),
    )
    if way == TermsShown.Way.LINK:
        _send_link(shown, by=shown_by.actor, at=at)
    return shown


@transaction.atomic
def confirm_reading(*, token: str, at: datetime) -> TermsShown | None:
    """The reader of a link says that they can read the terms; noted once. None when no link has this token."""
    shown = TermsShown.objects.select_for_update().filter(token=token).first()
    if shown is None or shown.confirmed_at is not None:
        return shown
    before = audit.snapshot(shown)
    shown.confirmed_at = at
    shown.save()
    audit.record(
        by=Actor(f"reader:{shown.pk}", shown.name),
        at=at,
        verb="terms confirmed as readable",
        subject=shown,
        property_id=shown.property_id,
        before=before,
        after=audit.snapshot(shown),
    )
    return shown


def _send_link(shown: TermsShown, *, by: Actor, at: datetime) -> None:
    known = Person.objects.filter(email=shown.email, name__iexact=shown.name).order_by("pk").first()
    person = known or register_person(
        name=shown.name, email=shown.email, property_id=shown.property_id, by=by, at=at
    )
    queue_notice(
        occasion=f"terms shown:{shown.pk}",
        template="terms_to_read",
        person=person,
        property=shown.property,
        context={
            "title": shown.terms.title,
            "terms_link": settings.SITE_ADDRESS + reverse("portal:terms", args=[shown.token]),
        },
        by=by,
        at=at,
        asked_for=True,
    )
