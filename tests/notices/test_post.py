"""The day's post: one PDF, each letter on a right-hand page with its address in the window, posted in one go."""

import io
import re
from collections.abc import Callable
from datetime import date, datetime
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader

from contractor.accounts.models import User
from contractor.core import clock
from contractor.core.models import AuditEntry
from contractor.notices.actions import mark_letters_sent
from contractor.notices.errors import NotPrintedYet
from contractor.notices.models import Notice
from tests.factories import PropertyFactory
from tests.notices.factories import NoticeFactory

MM = 72 / 25.4
# What the window of a #10 envelope shows however the sheet lies, in mm from the left and the top (common practice).
WINDOW = (22.2, 111.1, 63.5, 80.4)


@pytest.fixture(autouse=True)
def now(monkeypatch: pytest.MonkeyPatch, at: datetime, on: date) -> None:
    monkeypatch.setattr(clock, "now", lambda: at)
    monkeypatch.setattr(clock, "today", lambda: on)


@pytest.fixture
def desk(nora: User, signed_in_as: Callable[[User], Client]) -> Client:
    return signed_in_as(nora)


def letters(count: int, text: str = "Dear owner, ...") -> list[Notice]:
    return [
        NoticeFactory(channel="letter", address="", property=PropertyFactory(), text=text, html="")
        for _ in range(count)
    ]


def test_each_letter_begins_on_a_right_hand_page_and_counts_its_own_pages(desk: Client) -> None:
    first, second = letters(1)[0], letters(1, "A line.\n\n" * 60)[0]
    third = letters(1)[0]
    reader = PdfReader(io.BytesIO(desk.get(reverse("notices:post_letters")).content))
    texts = [page.extract_text() for page in reader.pages]
    begins = [next(n for n, text in enumerate(texts) if one.person.name in text) for one in (first, second, third)]
    assert all(number % 2 == 0 for number in begins), begins
    assert texts[1].strip() == ""
    assert "Page 1 of 1" in texts[0]
    assert re.search(r"Page 1 of [23]$", texts[begins[1]], re.M)


def test_the_whole_address_stands_in_the_window(desk: Client) -> None:
    (letter,) = letters(1)
    letter.person.mail_address = "c/o Winterbourne & Daughters, Accountants\nPO Box 4\nLarkmere, PA 17099"
    letter.person.save()
    page = PdfReader(io.BytesIO(desk.get(reverse("notices:post_letters")).content)).pages[0]
    seen: dict[str, tuple[float, float]] = {}

    def look(text: str, matrix: Any, text_matrix: Any, font: Any, size: float) -> None:
        if text.strip():
            x = matrix[0] * text_matrix[4] + matrix[2] * text_matrix[5] + matrix[4]
            y = matrix[1] * text_matrix[4] + matrix[3] * text_matrix[5] + matrix[5]
            seen[text.strip()] = (x / MM, (792 - y) / MM)

    page.extract_text(visitor_text=look)
    lines = [letter.person.name, *letter.person.mail_address.splitlines()]
    places = [place for text, place in seen.items() if any(text in line or line in text for line in lines)]
    left, right, top, bottom = WINDOW
    assert len(places) >= len(lines)
    for x, baseline in places[:4]:
        assert left <= x < right
        assert top + 2 <= baseline <= bottom


def test_all_that_stood_on_the_page_are_posted_in_one_go_and_a_later_one_waits(desk: Client) -> None:
    shown = letters(2)
    page = desk.get(reverse("notices:post")).content.decode()
    later = letters(1)[0]
    ids = [str(one.pk) for one in shown if f'name="letter" value="{one.pk}"' in page]
    assert len(ids) == 2
    desk.post(reverse("notices:post"), {"letter": ids})
    assert set(Notice.objects.filter(state="sent")) == set(shown)
    assert AuditEntry.objects.filter(verb="letter posted").count() == 2
    later.refresh_from_db()
    assert later.state == "queued"


def test_nothing_printed_nothing_posted(desk: Client, nora: User, at: datetime) -> None:
    with pytest.raises(NotPrintedYet):
        mark_letters_sent(notice_ids=[], by=nora.actor, at=at)
    assert "No letter was chosen" in desk.post(reverse("notices:post")).content.decode()
    assert "Nothing to post" in desk.get(reverse("notices:post_letters")).content.decode()


def test_the_list_of_letters_takes_the_same_queries_whatever_it_holds(
    desk: Client, django_assert_num_queries: Any
) -> None:
    letters(1)
    with django_assert_num_queries(4):
        desk.get(reverse("notices:post"))
    letters(4)
    with django_assert_num_queries(4):
        desk.get(reverse("notices:post"))
