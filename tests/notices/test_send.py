"""Sending: one claim per message, back-off, the personal link made at the last moment, letters posted by hand."""

import re
from datetime import date, datetime, timedelta
from smtplib import SMTPRecipientsRefused, SMTPServerDisconnected
from typing import Any

import pytest
from django.conf import settings
from django.core import mail
from django.core.mail import EmailMultiAlternatives
from django.core.mail.backends.smtp import EmailBackend
from django.urls import reverse

from contractor.core import clock
from contractor.core.audit import Actor
from contractor.core.models import AuditEntry
from contractor.notices import tasks
from contractor.notices.actions import (
    MOST_ATTEMPTS,
    OWNER_LINK,
    SENDING_AT_MOST,
    mark_letter_sent,
    send_notice,
    try_again,
)
from contractor.notices.errors import NotFailed, StillSending
from contractor.notices.models import Notice
from contractor.properties.actions import hand_over, open_owner_link
from contractor.properties.models import OwnerLink, Ownership, Person, Property
from tests.notices.factories import NoticeFactory

LINK = re.compile(r"/home/link/([A-Za-z0-9_-]+)/")


@pytest.fixture
def waiting(ownership: Ownership, iris: Person, house: Property) -> Notice:
    """A message to Iris with a personal link in it."""
    made: Notice = NoticeFactory(person=iris, property=house)
    return made


@pytest.fixture
def dead_server(monkeypatch: pytest.MonkeyPatch) -> list[EmailMultiAlternatives]:
    """A mail server that hangs up; the list holds what was tried."""
    tried: list[EmailMultiAlternatives] = []

    def hang_up(message: EmailMultiAlternatives) -> int:
        tried.append(message)
        raise SMTPServerDisconnected("Connection unexpectedly closed")

    monkeypatch.setattr(EmailMultiAlternatives, "send", hang_up)
    return tried


def test_a_message_is_sent_once(waiting: Notice, at: datetime) -> None:
    assert send_notice(notice_id=waiting.pk, at=at) is True
    assert send_notice(notice_id=waiting.pk, at=at) is False
    assert len(mail.outbox) == 1
    waiting.refresh_from_db()
    assert (waiting.state, waiting.sent_at, waiting.attempts) == ("sent", at, 1)


@pytest.mark.parametrize("state", ["sending", "sent", "failed", "withdrawn"])
def test_only_a_waiting_message_is_claimed(waiting: Notice, at: datetime, state: str) -> None:
    Notice.objects.update(state=state, sent_at=at)
    assert send_notice(notice_id=waiting.pk, at=at) is False
    assert mail.outbox == []


def test_a_letter_and_a_message_for_later_are_not_sent(waiting: Notice, at: datetime) -> None:
    Notice.objects.update(channel="letter")
    assert send_notice(notice_id=waiting.pk, at=at) is False
    Notice.objects.update(channel="email", not_before=at + timedelta(seconds=1))
    assert send_notice(notice_id=waiting.pk, at=at) is False
    assert send_notice(notice_id=999_999, at=at) is False
    assert mail.outbox == []


def test_a_second_worker_finds_the_message_taken_while_the_first_sends_it(
    waiting: Notice, at: datetime, monkeypatch: pytest.MonkeyPatch
) -> None:
    second: list[bool] = []
    monkeypatch.setattr(
        EmailMultiAlternatives, "send", lambda message: second.append(send_notice(notice_id=waiting.pk, at=at)) or 1
    )
    assert send_notice(notice_id=waiting.pk, at=at) is True
    assert second == [False]


def test_both_halves_hold_the_same_fresh_link_and_no_table_holds_its_token(waiting: Notice, at: datetime) -> None:
    assert not OwnerLink.objects.exists()
    send_notice(notice_id=waiting.pk, at=at)
    (message,) = mail.outbox
    html = str(message.alternatives[0][0])  # type: ignore[attr-defined]
    (token,) = LINK.findall(str(message.body))
    assert LINK.findall(html) == [token]
    assert f"{settings.SITE_ADDRESS}/home/link/{token}/" in html
    link = open_owner_link(token=token, at=at)
    assert link is not None
    assert link.ownership.person.name == "Iris Holloway"
    rows = [
        *Notice.objects.values(),
        *OwnerLink.objects.values(),
        *AuditEntry.objects.values(),
    ]
    assert token not in str(rows)
    waiting.refresh_from_db()
    assert OWNER_LINK in waiting.text


def test_a_message_without_a_link_makes_none(waiting: Notice, at: datetime) -> None:
    Notice.objects.update(text="No link here", html="<p>No link here</p>")
    send_notice(notice_id=waiting.pk, at=at)
    assert not OwnerLink.objects.exists()


def test_a_message_that_is_sent_after_the_sale_opens_nothing_for_the_seller(
    waiting: Notice, house: Property, buyer: Person, office: Actor, at: datetime
) -> None:
    hand_over(property_id=house.pk, person_id=buyer.pk, on=date(2026, 5, 4), by=office, at=at)
    send_notice(notice_id=waiting.pk, at=at)
    assert not OwnerLink.objects.exists()
    body = str(mail.outbox[0].body)
    assert LINK.findall(body) == []
    assert body.endswith(settings.SITE_ADDRESS + reverse("portal:ask_link"))


def test_a_dead_mail_server_is_tried_five_times_at_growing_distances(
    waiting: Notice, at: datetime, dead_server: list[EmailMultiAlternatives]
) -> None:
    moment = at
    for attempt, minutes in ((1, 2), (2, 4), (3, 8), (4, 16)):
        assert send_notice(notice_id=waiting.pk, at=moment) is False
        waiting.refresh_from_db()
        assert (waiting.state, waiting.attempts) == ("queued", attempt)
        assert waiting.not_before == moment + timedelta(minutes=minutes)
        assert waiting.last_error == "Connection unexpectedly closed"
        assert send_notice(notice_id=waiting.pk, at=waiting.not_before - timedelta(seconds=1)) is False
        moment = waiting.not_before
    send_notice(notice_id=waiting.pk, at=moment)
    waiting.refresh_from_db()
    assert (waiting.state, waiting.attempts) == ("failed", MOST_ATTEMPTS)
    assert send_notice(notice_id=waiting.pk, at=moment + timedelta(days=9)) is False
    assert len(dead_server) == MOST_ATTEMPTS == 5
    assert "{" not in str(dead_server[0].body)


def test_once_the_server_is_back_the_message_goes_out(
    waiting: Notice, at: datetime, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(message: EmailMultiAlternatives) -> int:
        raise SMTPRecipientsRefused({"iris@example.com": (451, b"Try again later")})

    with monkeypatch.context() as patch:
        patch.setattr(EmailMultiAlternatives, "send", refuse)
        send_notice(notice_id=waiting.pk, at=at)
    assert send_notice(notice_id=waiting.pk, at=at + timedelta(minutes=2)) is True
    waiting.refresh_from_db()
    assert (waiting.state, waiting.last_error) == ("sent", "")


@pytest.mark.parametrize("address", ["", "iris@example.com and ben@example.com"])
def test_an_address_that_can_not_be_written_to_fails_at_once(
    waiting: Notice, at: datetime, settings: Any, monkeypatch: pytest.MonkeyPatch, address: str
) -> None:
    # Django's SMTP backend refuses such an address before it speaks to the server, and sends nothing to none.
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    monkeypatch.setattr(EmailBackend, "open", lambda backend: setattr(backend, "connection", object()) or True)
    monkeypatch.setattr(EmailBackend, "close", lambda backend: None)
    Notice.objects.update(address=address)
    assert send_notice(notice_id=waiting.pk, at=at) is False
    waiting.refresh_from_db()
    assert (waiting.state, waiting.attempts) == ("failed", 1)
    assert waiting.last_error


def test_a_failed_message_is_tried_again_by_hand_from_the_first_attempt(
    waiting: Notice, office: Actor, at: datetime, django_capture_on_commit_callbacks: Any
) -> None:
    Notice.objects.update(state="failed", attempts=5, last_error="x")
    with django_capture_on_commit_callbacks(execute=True):
        again = try_again(notice_id=waiting.pk, by=office, at=at)
    assert (again.state, again.attempts) == ("queued", 0)
    assert AuditEntry.objects.filter(verb="notice tried again", actor=office.ref).count() == 1
    assert len(mail.outbox) == 1


@pytest.mark.parametrize("state", ["queued", "sent", "withdrawn"])
def test_what_has_not_failed_is_not_tried_again(waiting: Notice, office: Actor, at: datetime, state: str) -> None:
    Notice.objects.update(state=state, sent_at=at)
    with pytest.raises(NotFailed):
        try_again(notice_id=waiting.pk, by=office, at=at)


def test_a_message_that_is_being_sent_is_tried_again_only_when_no_worker_can_be_at_it_any_more(
    waiting: Notice, office: Actor, at: datetime, monkeypatch: pytest.MonkeyPatch
) -> None:
    def die(message: EmailMultiAlternatives) -> int:
        raise SystemExit

    monkeypatch.setattr(EmailMultiAlternatives, "send", die)
    with pytest.raises(SystemExit):
        send_notice(notice_id=waiting.pk, at=at)
    waiting.refresh_from_db()
    assert waiting.state == "sending"
    with pytest.raises(StillSending):
        try_again(notice_id=waiting.pk, by=office, at=at + SENDING_AT_MOST - timedelta(seconds=1))
    assert try_again(notice_id=waiting.pk, by=office, at=at + SENDING_AT_MOST).state == "queued"
    assert timedelta(seconds=settings.CELERY_TASK_TIME_LIMIT) < SENDING_AT_MOST


def test_a_letter_is_posted_once(waiting: Notice, office: Actor, at: datetime) -> None:
    Notice.objects.update(channel="letter")
    for later in (0, 1):
        mark_letter_sent(notice_id=waiting.pk, by=office, at=at + timedelta(hours=later))
    waiting.refresh_from_db()
    assert (waiting.state, waiting.sent_at) == ("sent", at)
    assert AuditEntry.objects.get().verb == "letter posted"


def test_an_e_mail_is_not_posted(waiting: Notice, office: Actor, at: datetime) -> None:
    mark_letter_sent(notice_id=waiting.pk, by=office, at=at)
    waiting.refresh_from_db()
    assert waiting.state == "queued"
    assert not AuditEntry.objects.exists()


def test_the_sweep_sends_what_is_due_and_one_that_can_not_be_sent_keeps_nothing_back(
    waiting: Notice, monkeypatch: pytest.MonkeyPatch, at: datetime
) -> None:
    monkeypatch.setattr(clock, "now", lambda: at)
    broken = NoticeFactory(queued_at=at - timedelta(hours=1))
    later = NoticeFactory(not_before=at + timedelta(hours=1))
    letter = NoticeFactory(channel="letter")
    sent: list[str] = []

    def send(message: EmailMultiAlternatives) -> int:
        if message.to == [broken.address]:
            raise ValueError("Invalid address")
        sent.extend(message.to)
        return 1

    monkeypatch.setattr(EmailMultiAlternatives, "send", send)
    for _ in range(2):
        tasks.send_due_notices()
    assert sent == ["iris@example.com"]
    states = dict(Notice.objects.values_list("pk", "state"))
    assert states == {waiting.pk: "sent", broken.pk: "failed", later.pk: "queued", letter.pk: "queued"}


def test_the_wake_up_call_names_one_message(waiting: Notice, monkeypatch: pytest.MonkeyPatch, at: datetime) -> None:
    monkeypatch.setattr(clock, "now", lambda: at)
    NoticeFactory()
    tasks.send_one_notice(notice_id=waiting.pk)
    assert [message.to for message in mail.outbox] == [["iris@example.com"]]
