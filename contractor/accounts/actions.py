"""Writes about staff and the company."""

from contextlib import suppress
from datetime import datetime, timedelta
from email.utils import make_msgid

from django.conf import settings
from django.core.mail import EmailMultiAlternatives
from django.db import transaction
from django.template.loader import render_to_string
from django.urls import reverse

from contractor.accounts import password_links
from contractor.accounts.errors import EmailTaken, LastManager, LinkClosed, SignInClosed, TooManyLinks
from contractor.accounts.models import Company, Role, User
from contractor.accounts.queries import the_company
from contractor.celery import start_after_commit
from contractor.core import audit
from contractor.core.audit import SYSTEM, Actor
from contractor.core.errors import Refusal
from contractor.core.models import AuditEntry

# Nobody's mailbox can be flooded from the sign-in page. What is counted are the entries of the trail: one is written
# for every link that is asked for, and none for one that is refused.
MOST_LINKS_AN_HOUR = 5
LINK_ASKED, LINK_SENT = "password link asked", "password link sent"


@transaction.atomic
def add_staff(*, email: str, name: str, role: str, password: str, by: Actor, at: datetime, phone: str = "") -> User:
    """Adds one of the staff, who can sign in at once.

    Raises EmailTaken when somebody already signs in with this address.
    """
    email = email.strip().lower()
    if User.objects.filter(email=email).exists():
        raise EmailTaken
    user = User(email=email, name=name.strip(), phone=phone.strip(), role=role)
    user.set_password(password)
    user.save(force_insert=True)
    audit.record(by=by, at=at, verb="staff added", subject=user, property_id=None, after=_shown(user))
    return user


@transaction.atomic
def change_staff(*, user_id: int, name: str, phone: str, role: str, is_active: bool, by: Actor, at: datetime) -> User:
    """Changes what one of the staff is called, may do, and whether they can sign in.

    Raises LastManager when nobody could run the set-up afterwards.
    """
    user = User.objects.select_for_update().get(pk=user_id)
    before = _shown(user)
    stays_manager = role == Role.MANAGER and is_active
    others = User.objects.filter(role=Role.MANAGER, is_active=True).exclude(pk=user.pk)
    if user.role == Role.MANAGER and not stays_manager and not others.exists():
        raise LastManager
    user.name, user.phone, user.role, user.is_active = name.strip(), phone.strip(), role, is_active
    user.save()
    audit.record(by=by, at=at, verb="staff changed", subject=user, property_id=None, before=before, after=_shown(user))
    return user


@transaction.atomic
def describe_company(*, by: Actor, at: datetime, **fields: str | float | None) -> Company:
    """Sets who the contractor is: what stands on every warranty, letter and page."""
    company = Company.objects.select_for_update().order_by("pk").first() or Company()
    before = audit.snapshot(company) if company.pk else None
    for name, value in fields.items():
        setattr(company, name, value)
    company.save()
    audit.record(
        by=by,
        at=at,
        verb="company described",
        subject=company,
        property_id=None,
        before=before,
        after=audit.snapshot(company),
    )
    return company


@transaction.atomic
def ask_password_link(*, user_id: int, by: Actor, at: datetime) -> None:
    """Has a link to set a new password sent to one of the staff, in the background.

    Raises SignInClosed for somebody who can't sign in, TooManyLinks after five within the hour.
    """
    user = User.objects.select_for_update().get(pk=user_id)
    if not user.is_active:
        raise SignInClosed
    asked = AuditEntry.objects.filter(stream=audit.reference(user), verb=LINK_ASKED, at__gt=at - timedelta(hours=1))
    if asked.count() >= MOST_LINKS_AN_HOUR:
        raise TooManyLinks
    entry = audit.record(by=by, at=at, verb=LINK_ASKED, subject=user, property_id=None)
    start_after_commit("contractor.accounts.tasks.mail_password_link", asked_id=entry.pk)


def forgot_password(*, email: str, at: datetime) -> None:
    """Has a link sent if one of the staff signs in with this address; says nothing of whether that is so."""
    user = User.objects.filter(email=email.strip().lower()).first()
    if user is not None:
        with suppress(Refusal):
            ask_password_link(user_id=user.pk, by=SYSTEM, at=at)


def mail_password_link(*, asked_id: int, at: datetime) -> bool:
    """Sends the link that an entry of the trail asks for; True when it went out now.

    The token is made here and stands in the message alone. A worker that dies between sending and noting it sends a
    second message, which does no harm: the first link that is used closes the other. OSError when the mail server
    can't be reached; the person asks again.
    """
    asked = AuditEntry.objects.get(pk=asked_id, verb=LINK_ASKED)
    user = User.objects.get(pk=asked.subject.partition(":")[2])
    sent = AuditEntry.objects.filter(stream=asked.stream, verb=LINK_SENT, body__after__asked=asked.number)
    if not user.is_active or sent.exists():
        return False
    _password_message(user, asked_by="" if asked.actor == SYSTEM.ref else asked.personal["actor_name"], at=at).send()
    audit.record(by=SYSTEM, at=at, verb=LINK_SENT, subject=user, property_id=None, after={"asked": asked.number})
    return True


@transaction.atomic
def set_password_by_link(*, user_id: int, token: str, password: str, at: datetime) -> User:
    """Sets the password of the person whose link this is.

    Django ties every session to the password, so all of that person's sessions end, and with them every other link.
    Raises LinkClosed when the link was used or has expired, or the person can no longer sign in.
    """
    user = User.objects.select_for_update().filter(pk=user_id).first()
    if user is None or not password_links.is_good(token, user, at=at):
        raise LinkClosed
    user.set_password(password)
    user.save(update_fields=["password"])
    audit.record(by=user.actor, at=at, verb="password set by link", subject=user, property_id=None)
    return user


def _password_message(user: User, *, asked_by: str, at: datetime) -> EmailMultiAlternatives:
    address = reverse("accounts:new_password", args=[user.pk, password_links.make_token(user, at=at)])
    words = {
        "person": user,
        "asked_by": asked_by,
        "company": the_company(),
        "button_url": settings.SITE_ADDRESS + address,
        "button_label": "Set a new password",
    }
    message = EmailMultiAlternatives(
        subject=" ".join(render_to_string("accounts/password_link.subject.txt", words).split()),
        body=render_to_string("accounts/password_link.txt", words),
        to=[user.email],
        headers={"Message-ID": make_msgid(idstring=f"staff-{user.pk}", domain="accounts.invalid")},
    )
    message.attach_alternative(render_to_string("accounts/password_link.html", words), "text/html")
    return message


def _shown(user: User) -> dict[str, object]:
    return {"email": user.email, "name": user.name, "phone": user.phone, "role": user.role, "is_active": user.is_active}
