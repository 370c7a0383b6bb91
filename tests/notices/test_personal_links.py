"""Markers in messages: filled at sending by whoever makes that kind of link, never on paper, never for strangers."""

from datetime import datetime
from typing import Any

import pytest
from django.conf import settings
from django.core import mail
from django.urls import reverse

from contractor.core.audit import Actor
from contractor.notices import personal_links
from contractor.notices.actions import queue_notice, send_notice
from contractor.notices.models import Notice
from contractor.properties.models import Ownership, Person, Property
from tests.notices.factories import NoticeFactory

pytestmark = pytest.mark.django_db
ASK = settings.SITE_ADDRESS + reverse("portal:ask_link")
calls: list[int | None] = []


def made_here(*, notice: Notice, key: int | None, at: datetime) -> str | None:
    calls.append(key)
    return None if key == 13 else f"/somewhere/{key}/"


@pytest.fixture(autouse=True)
def kind(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(personal_links, "_makers", dict(personal_links._makers))
    personal_links.make_by("your-test", f"{__name__}.made_here")
    calls.clear()


def sent(at: datetime, **words: Any) -> tuple[str, str]:
    notice = NoticeFactory(**words)
    assert send_notice(notice_id=notice.pk, at=at)
    message = mail.outbox[-1]
    return str(message.body), str(message.alternatives[0][0])  # type: ignore[attr-defined]


def test_the_same_marker_is_the_same_link_in_text_and_html_and_two_are_two(at: datetime, company: object) -> None:
    one, two = personal_links.marker("your-test", 4), personal_links.marker("your-test", 5)
    text, html = sent(at, text=f"{one} {two}", html=f"<a href='{one}'>x</a>{two}")
    first, second = f"{settings.SITE_ADDRESS}/somewhere/4/", f"{settings.SITE_ADDRESS}/somewhere/5/"
    assert (text, html) == (f"{first} {second}", f"<a href='{first}'>x</a>{second}")
    assert calls == [4, 5]


def test_a_link_that_its_reader_may_not_have_and_a_kind_that_nobody_makes_name_the_page_to_ask_at(
    at: datetime, company: object
) -> None:
    refused, unknown = personal_links.marker("your-test", 13), personal_links.marker("your-moon")
    assert sent(at, text=f"{refused} {unknown}", html="-") == (f"{ASK} {ASK}", "-")


def test_on_paper_there_is_no_marker_and_no_link(
    ownership: Ownership, iris: Person, house: Property, office: Actor, at: datetime, company: object
) -> None:
    iris.email = ""
    iris.save()
    notice = queue_notice(
        occasion="paper", template="owner_link", person=iris, property=house, context={}, by=office, at=at
    )
    assert notice.channel == Notice.Channel.LETTER
    assert "{personal-link" not in notice.text + notice.html
    assert ASK in notice.text
