"""Writes about notices: queue once per occasion, send, and keep what happened."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime, timedelta
from email.utils import make_msgid
from typing import Any

from django.conf import settings
from django.core.mail import EmailMultiAlternatives
from django.db import transaction
from django.db.models import Q
from django.template.loader import render_to_string
from django.urls import reverse

from contractor.accounts.queries import the_company
from contractor.celery import start_after_commit
from contractor.core import audit
from contractor.core.audit import SYSTEM, Actor
from contractor.core.templatetags.country_style import written_for
from contractor.notices import personal_links
from contractor.notices.errors import NotFailed, StillSending
from contractor.notices.models import Notice
from contractor.properties.actions import make_owner_link
from contractor.properties.errors import NoEmail, NoOwner
from contractor.properties.models import Ownership, Person, Property

MOST_ATTEMPTS = 5
# A worker is stopped before this (settings.CELERY_TASK_TIME_LIMIT), so what is "sending" for longer is stuck.
SENDING_AT_MOST = timedelta(minutes=10)
OWNER_LINK = personal_links.marker("your-house")

# Notices that say nothing to somebody who no longer owns the house.
FOR_THE_PRESENT_OWNER = (
    "appointment_set",
    "appointment_moved",
    "appointment_cancelled",
    "checkup_due",
    "owner_link",
    "plan_renewal",
    "plan_unpaid",
    "report_ready",
    "warranty_issued",
)


@transaction.atomic
def queue_notice(
    *,
    occasion: str,
    template: str,
    person: Person,
    property: Property | None,
    context: Mapping[str, Any],
    by: Actor,
    at: datetime,
    not_before: datetime | None = None,
    asked_for: bool = False,
) -> Notice:
    """Writes a message from ``notices/<template>.subject.txt``, ``.txt`` and ``.html`` and queues it.

    The same occasion gives the same notice: the first one stays and nothing is sent twice. Without an e-mail
    address, or when the person doesn't want e-mail, it becomes a letter to print; a message that the person has
    ``asked_for`` goes by e-mail all the same.
    """
    known = Notice.objects.filter(occasion=occasion).first()
    if known is not None:
        return known
    by_email = bool(person.email) and (person.wants_email or asked_for)
    words = {
        **context,
        "person": person,
        "property": property,
        "company": the_company(),
        "site": settings.SITE_ADDRESS,
        "owner_link": OWNER_LINK,
    }
    # Two who write about one occasion in the same moment: the unique occasion lets one of them in.
    notice, is_new = Notice.objects.get_or_create(
        occasion=occasion,
        defaults={
            "template": template,
            "channel": Notice.Channel.EMAIL if by_email else Notice.Channel.LETTER,
            "person": person,
            "property": property,
            "address": person.email if by_email else "",
            **_written(template, words, with_links=by_email),
            "queued_at": at,
            "not_before": not_before or at,
        },
    )
    if not is_new:
        return notice
    audit.record(
        by=by,
        at=at,
        verb="notice queued",
        subject=notice,
        property_id=property.pk if property else None,
        after={"occasion": occasion, "template": template, "channel": notice.channel, "person_id": person.pk},
    )
    if by_email and notice.not_before <= at:
        _wake(notice.pk)
    return notice


def _written(template: str, words: Mapping[str, Any], *, with_links: bool) -> dict[str, str]:
    """Subject, text and HTML in the style of the company's country; the subject on one line, whatever its lines are."""
    with written_for(words["company"].country):
        subject = " ".join(render_to_string(f"notices/{template}.subject.txt", dict(words)).split())
        known = {**words, "subject": subject}
        bodies = {"text": f"notices/{template}.txt", "html": f"notices/{template}.html"}
        written = {name: str(render_to_string(body, known)) for name, body in bodies.items()}
    if not with_links:
        written = {name: personal_links.without_links(body) for name, body in written.items()}
    return {"subject": subject, **written}


def send_notice(*, notice_id: int, at: datetime) -> bool:
    """Sends one queued e-mail; True when it went out now.

    The claim is one compare-and-set, so two workers never send the same notice. After five attempts, or at once
    when the message itself can't be sent (a broken address), the notice lies in sight of the office as failed. A
    worker that dies while sending leaves the state "sending"; such a notice is never repeated by itself, because
    the message may have gone out.
    """
    claimed = Notice.objects.to_send(at).filter(pk=notice_id, channel=Notice.Channel.EMAIL)
    # While it is being sent, ``not_before`` is the moment of the claim.
    if not claimed.update(state=Notice.State.SENDING, not_before=at):
        return False
    notice = Notice.objects.get(pk=notice_id)
    text, html = personal_links.with_links(notice, at)
    message = EmailMultiAlternatives(
        subject=notice.subject,
        body=text,
        to=[notice.address],
        headers={"Message-ID": make_msgid(idstring=f"notice-{notice.pk}", domain="notices.invalid")},
    )
    message.attach_alternative(html, "text/html")
    notice.attempts += 1
    try:
        if not message.send():
            raise ValueError("There is no address to send it to.")
    except (OSError, ValueError) as problem:
        # Every trouble with a server is an OSError; a ValueError is about the message and won't mend by waiting.
        failed = notice.attempts >= MOST_ATTEMPTS or isinstance(problem, ValueError)
        notice.state = Notice.State.FAILED if failed else Notice.State.QUEUED
        notice.last_error = str(problem)
        notice.not_before = at + timedelta(minutes=2**notice.attempts)
        notice.save()
        return False
    notice.state, notice.sent_at, notice.last_error = Notice.State.SENT, at, ""
    notice.save()
    return True


@transaction.atomic
def try_again(*, notice_id: int, by: Actor, at: datetime) -> Notice:
    """Queues a notice that failed, or got stuck while being sent, once more by hand.

    Raises NotFailed, or StillSending while a worker may still be at it.
    """
    notice = Notice.objects.select_for_update().get(pk=notice_id)
    if notice.state == Notice.State.SENDING and at < notice.not_before + SENDING_AT_MOST:
        raise StillSending
    if notice.state not in {Notice.State.FAILED, Notice.State.SENDING}:
        raise NotFailed
    notice.state, notice.attempts, notice.not_before = Notice.State.QUEUED, 0, at
    notice.save()
    audit.record(
        by=by,
        at=at,
        verb="notice tried again",
        subject=notice,
        property_id=notice.property_id,
        after={"state": "queued"},
    )
    _wake(notice.pk)
    return notice


@transaction.atomic
def mark_letter_sent(*, notice_id: int, by: Actor, at: datetime) -> Notice:
    """Notes that a printed letter was posted."""
    notice = Notice.objects.select_for_update().get(pk=notice_id)
    if notice.channel == Notice.Channel.LETTER and notice.state == Notice.State.QUEUED:
        notice.state, notice.sent_at = Notice.State.SENT, at
        notice.save()
        audit.record(
            by=by, at=at, verb="letter posted", subject=notice, property_id=notice.property_id, after={"state": "sent"}
        )
    return notice


@transaction.atomic
def send_owner_link(*, ownership_id: int, occasion: str, by: Actor, at: datetime) -> Notice:
    """Writes to the present owner with a fresh secret link to their house. Raises NoEmail or NoOwner."""
    ownership = Ownership.objects.select_related("person", "property").get(pk=ownership_id)
    if ownership.until_on is not None:
        raise NoOwner
    if not ownership.person.email:
        raise NoEmail
    return queue_notice(
        occasion=occasion,
        template="owner_link",
        person=ownership.person,
        property=ownership.property,
        context={},
        by=by,
        at=at,
        asked_for=True,
    )


@transaction.atomic
def withdraw_for_former_owners(*, property_id: int, at: datetime) -> int:
    """Withdraws what still waits for somebody who has handed the house over; returns how much.

    Only what concerns the present owner: a seller still hears of their transfer and their claim.
    """
    present = Ownership.objects.open_ended().filter(property_id=property_id).values("person_id")
    former = Ownership.objects.filter(property_id=property_id, until_on__isnull=False).values("person_id")
    waiting = (
        Notice.objects.select_for_update()
        .filter(property_id=property_id, state=Notice.State.QUEUED, template__in=FOR_THE_PRESENT_OWNER)
        .filter(person_id__in=former)
        .exclude(person_id__in=present)
    )
    return _withdraw(waiting, because="The house was handed over before this went out.", at=at)


@transaction.atomic
def withdraw_waiting(*, occasions: Sequence[str], because: str, at: datetime, person: Person | None = None) -> int:
    """Withdraws what still waits to be sent or printed about these occasions and their parts ("sale:7", "sale:7:…").

    With ``person`` only what is for them. Returns how much.
    """
    about = Q(pk__in=[])
    for occasion in occasions:
        about |= Q(occasion=occasion) | Q(occasion__startswith=f"{occasion}:")
    waiting = Notice.objects.select_for_update().filter(about, state=Notice.State.QUEUED)
    if person is not None:
        waiting = waiting.filter(person=person)
    return _withdraw(waiting, because=because, at=at)


def _withdraw(waiting: Iterable[Notice], *, because: str, at: datetime) -> int:
    withdrawn = 0
    for notice in waiting:
        notice.state = Notice.State.WITHDRAWN
        notice.last_error = because
        notice.save()
        audit.record(
            by=SYSTEM,
            at=at,
            verb="notice withdrawn",
            subject=notice,
            property_id=notice.property_id,
            after={"state": notice.state},
        )
        withdrawn += 1
    return withdrawn


def house_link(*, notice: Notice, key: int | None, at: datetime) -> str | None:
    """A new secret link to the house of a message, while its reader owns it; for ``personal_links``."""
    if notice.property is None:
        return None
    ownership = notice.property.ownerships.open_ended().filter(person=notice.person).first()
    if ownership is None:
        return None
    return reverse("portal:link", args=[make_owner_link(ownership_id=ownership.pk, by=SYSTEM, at=at)])


def _wake(notice_id: int) -> None:
    start_after_commit("contractor.notices.tasks.send_one_notice", notice_id=notice_id)
