"""The log of notices and one notice, as the desk sees them."""

import io
from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from pypdf import PdfReader

from contractor.accounts.models import User
from contractor.core import clock
from contractor.core.audit import Actor
from contractor.notices.actions import queue_notice
from contractor.notices.models import Notice
from contractor.properties.models import Ownership, Person, Property
from tests.notices.factories import MORNING, NoticeFactory

NAMES = ("log", "notice", "letter", "try_again", "posted")
ONLY_POSTED = {"try_again", "posted"}


@pytest.fixture(autouse=True)
def monday_morning(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(clock, "now", lambda: MORNING)


@pytest.fixture
def desk(nora: User, signed_in_as: Callable[[User], Client]) -> Client:
    return signed_in_as(nora)


@pytest.fixture
def failed(ownership: Ownership, iris: Person, house: Property) -> Notice:
    made: Notice = NoticeFactory(person=iris, property=house, state="failed", attempts=5, last_error="No such user")
    return made


def address_of(name: str, notice: Notice) -> str:
    return reverse(f"notices:{name}", args=[] if name == "log" else [notice.pk])


@pytest.mark.parametrize("name", NAMES)
def test_office_and_manager_come_in_a_technician_does_not_and_a_stranger_signs_in_first(
    failed: Notice, nora: User, ruth: User, theo: User, signed_in_as: Callable[[User], Client], name: str
) -> None:
    if name == "letter":
        Notice.objects.update(channel="letter")
    address, method = address_of(name, failed), "post" if name in ONLY_POSTED else "get"
    wrong = "get" if name in ONLY_POSTED else "post"
    stranger = getattr(Client(), method)(address)
    assert (stranger.status_code, stranger["Location"]) == (302, f"{reverse('accounts:sign_in')}?next={address}")
    assert getattr(signed_in_as(theo), method)(address).status_code == 403
    assert Notice.objects.get().state == "failed"
    for user in (nora, ruth):
        assert getattr(signed_in_as(user), method)(address).status_code in {200, 302, 409}
        assert getattr(signed_in_as(user), wrong)(address).status_code == 405


def test_an_empty_log_says_what_will_be_there(desk: Client) -> None:
    assert "No notices here" in desk.get(reverse("notices:log")).content.decode()


def test_the_log_is_narrowed_to_a_state_or_to_letters_that_wait(failed: Notice, desk: Client) -> None:
    letter = NoticeFactory(channel="letter")
    posted = NoticeFactory(channel="letter", state="sent")
    waiting = NoticeFactory()
    shown = {
        show: {row.pk for row in desk.get(reverse("notices:log"), {"show": show}).context["page"]}
        for show in ("", "letters", "queued", "sent", "failed", "withdrawn", "nonsense")
    }
    everything = {failed.pk, letter.pk, posted.pk, waiting.pk}
    assert shown == {
        "": everything,
        "letters": {letter.pk},
        "queued": {letter.pk, waiting.pk},
        "sent": {posted.pk},
        "failed": {failed.pk},
        "withdrawn": set(),
        "nonsense": everything,
    }


def test_the_newest_stands_first_and_pages_keep_what_the_log_is_narrowed_by(desk: Client) -> None:
    for number in range(51):
        NoticeFactory(queued_at=MORNING + timedelta(minutes=number), subject=f"Number {number}", state="sent")
    first = desk.get(reverse("notices:log"), {"show": "sent"})
    assert [row.subject for row in first.context["page"]][:2] == ["Number 50", "Number 49"]
    assert "?show=sent&amp;page=2" in first.content.decode()
    second = desk.get(reverse("notices:log"), {"show": "sent", "page": "2"})
    assert [row.subject for row in second.context["page"]] == ["Number 0"]
    for odd in ("x", "0", "-1", "99"):
        assert desk.get(reverse("notices:log"), {"page": odd}).status_code == 200


def test_the_log_takes_as_many_queries_for_fifty_rows_as_for_one(house: Property, desk: Client) -> None:
    def count() -> int:
        with CaptureQueriesContext(connection) as captured:
            assert desk.get(reverse("notices:log")).status_code == 200
        return len(captured)

    NoticeFactory(property=house)
    few = count()
    for state in Notice.State.values * 10:
        NoticeFactory(property=house, state=state)
    assert count() == few <= 8


def test_a_failed_notice_says_why_and_is_sent_again(failed: Notice, desk: Client) -> None:
    address = reverse("notices:notice", args=[failed.pk])
    text = desk.get(address).content.decode()
    assert "Could not be sent" in text
    assert "No such user" in text
    assert "iris@example.com" in text
    assert reverse("notices:try_again", args=[failed.pk]) in text
    answer = desk.post(reverse("notices:try_again", args=[failed.pk]))
    assert answer["Location"] == address
    failed.refresh_from_db()
    assert failed.state == "queued"
    again = desk.post(reverse("notices:try_again", args=[failed.pk]))
    assert (again.status_code, "could not be sent can be tried again" in again.content.decode()) == (409, True)


def test_a_notice_that_hangs_says_what_to_think_of_before_it_is_sent_again(failed: Notice, desk: Client) -> None:
    Notice.objects.update(state="sending", not_before=MORNING - timedelta(minutes=9))
    assert "ask before you send it again" in desk.get(reverse("notices:notice", args=[failed.pk])).content.decode()
    refused = desk.post(reverse("notices:try_again", args=[failed.pk]))
    assert (refused.status_code, "being sent right now" in refused.content.decode()) == (409, True)


def test_a_notice_that_waits_for_its_next_attempt_says_when(failed: Notice, desk: Client) -> None:
    Notice.objects.update(state="queued", attempts=2, not_before=datetime(2026, 5, 4, 18, 5, tzinfo=UTC))
    text = desk.get(reverse("notices:notice", args=[failed.pk])).content.decode()
    # Two o'clock in New York, where the company is.
    assert "tried again by itself on May 4, 2026, 2:05 PM" in text


@pytest.mark.parametrize(
    ("mail_address", "lines"),
    [
        ("", ["12 Millrace Lane", "Larkmere, PA 17099"]),
        ("P.O. Box 7\nStony Ford, PA 17001", ["P.O. Box 7", "Stony Ford"]),
    ],
)
def test_a_letter_shows_where_it_goes_and_is_posted(
    failed: Notice, iris: Person, desk: Client, mail_address: str, lines: list[str]
) -> None:
    iris.mail_address = mail_address
    iris.save()
    Notice.objects.update(channel="letter", state="queued", attempts=0, address="")
    address = reverse("notices:notice", args=[failed.pk])
    facts = desk.get(address).content.decode().split("<dt>To</dt>")[1].split("</dd>")[0]
    assert all(line in facts for line in lines)
    assert "It is in the post" in desk.get(address).content.decode()
    answer = desk.post(reverse("notices:posted", args=[failed.pk]), follow=True)
    assert "It is in the post" not in answer.content.decode()
    failed.refresh_from_db()
    assert (failed.state, failed.sent_at) == ("sent", MORNING)


def test_a_letter_is_printed_with_its_address_and_without_the_marks_of_an_e_mail(
    house: Property, iris: Person, office: Actor, at: datetime, desk: Client
) -> None:
    iris.email = ""
    notice = queue_notice(
        occasion="letter", template="owner_link", person=iris, property=house, context={}, by=office, at=at
    )
    answer = desk.get(reverse("notices:letter", args=[notice.pk]))
    assert answer["Content-Type"] == "application/pdf"
    reader = PdfReader(io.BytesIO(answer.content))
    text = reader.pages[0].extract_text()
    lines = [line.strip() for line in text.splitlines()]
    first = lines.index("Iris Holloway")
    assert lines[first : first + 3] == ["Iris Holloway", "12 Millrace Lane", "Larkmere, PA 17099"]
    assert "May 4, 2026" in lines
    assert "Dear Iris Holloway," in text
    assert "--" not in lines
    assert text.count("14 Foundry Row") == 1
    assert len(reader.pages) == 1


def test_an_e_mail_is_not_printed_as_a_letter(failed: Notice, desk: Client) -> None:
    assert desk.get(reverse("notices:letter", args=[failed.pk])).status_code == 404


def test_what_is_not_there_is_not_found(desk: Client) -> None:
    assert desk.get(reverse("notices:notice", args=[999_999])).status_code == 404
    for name in ONLY_POSTED:
        assert desk.post(reverse(f"notices:{name}", args=[999_999])).status_code == 404


def test_the_marker_of_a_personal_link_is_shown_as_what_it_is(failed: Notice, desk: Client) -> None:
    text = desk.get(reverse("notices:notice", args=[failed.pk])).content.decode()
    assert "{personal-link-to-your-house}" in text
    assert "/home/link/" not in text
