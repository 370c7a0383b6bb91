"""Calendar addresses of the staff: secret, shut by their owner, nothing beyond what a role may see."""

from collections.abc import Callable
from datetime import date, datetime, timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from contractor.accounts.models import User
from contractor.core import clock
from contractor.visits.actions.feeds import MOST, make_feed, revoke_feed
from contractor.visits.errors import FeedRevoked, TooManyFeeds
from contractor.visits.models import Appointment
from contractor.visits.owner_tables import CalendarFeed
from tests.factories import UserFactory
from tests.visits.factories import AppointmentFactory


@pytest.fixture(autouse=True)
def now(monkeypatch: pytest.MonkeyPatch, at: datetime, on: date) -> None:
    monkeypatch.setattr(clock, "now", lambda: at)
    monkeypatch.setattr(clock, "today", lambda: on)


@pytest.fixture
def stops(theo: User) -> list[Appointment]:
    """One visit of Theo's and one of another technician."""
    return [AppointmentFactory(technician=theo), AppointmentFactory(technician=UserFactory(role="technician"))]


def read(token: str, **headers: str) -> Any:
    return Client().get(reverse("visits:feed", args=[token]), headers=headers)


def test_a_technician_reads_their_own_visits_and_the_desk_all(
    stops: list[Appointment], theo: User, nora: User, at: datetime
) -> None:
    own = read(make_feed(user=theo, name="phone", at=at)).content.decode()
    every = read(make_feed(user=nora, name="desk", at=at)).content.decode()
    assert own.count("BEGIN:VEVENT") == 1
    assert str(stops[0].calendar_uid) in own
    assert every.count("BEGIN:VEVENT") == 2


def test_what_has_not_changed_is_not_sent_again(stops: list[Appointment], theo: User, at: datetime) -> None:
    token = make_feed(user=theo, name="phone", at=at)
    first = read(token)
    assert first["Cache-Control"] == "private, max-age=3600"
    assert "Last-Modified" in first
    again = read(token, **{"If-None-Match": first["ETag"]})
    assert (again.status_code, again.content) == (304, b"")
    Appointment.objects.filter(pk=stops[0].pk).update(calendar_sequence=1)
    assert read(token, **{"If-None-Match": first["ETag"]}).status_code == 200


def test_an_address_that_is_shut_unknown_or_of_somebody_who_left_answers_alike(theo: User, at: datetime) -> None:
    token = make_feed(user=theo, name="phone", at=at)
    assert token not in str(list(CalendarFeed.objects.values()))
    assert read(token).status_code == 200
    feed = CalendarFeed.objects.get()
    revoke_feed(feed_id=feed.pk, user=theo, at=at)
    shut = read(token)
    other = make_feed(user=theo, name="tablet", at=at)
    User.objects.filter(pk=theo.pk).update(is_active=False)
    assert [answer.status_code for answer in (shut, read("x" * 43), read(other))] == [404, 404, 404]
    assert shut.content == read(other).content
    with pytest.raises(FeedRevoked):
        revoke_feed(feed_id=feed.pk, user=theo, at=at)


def test_nobody_shuts_the_address_of_another_and_nobody_has_more_than_five(
    theo: User, nora: User, at: datetime, signed_in_as: Callable[[User], Client]
) -> None:
    for number in range(MOST):
        make_feed(user=theo, name=str(number), at=at + timedelta(minutes=number))
    with pytest.raises(TooManyFeeds):
        make_feed(user=theo, name="one more", at=at)
    feed = CalendarFeed.objects.first()
    assert feed is not None
    assert signed_in_as(nora).post(reverse("visits:revoke_feed", args=[feed.pk])).status_code == 404
    page = signed_in_as(theo).post(reverse("visits:my_calendar"), {"name": "one more"}).content.decode()
    assert "You have 5 calendar addresses already" in page
    assert signed_in_as(theo).post(reverse("visits:revoke_feed", args=[feed.pk])).status_code == 302


def test_the_address_is_shown_once(theo: User, signed_in_as: Callable[[User], Client]) -> None:
    browser = signed_in_as(theo)
    made = browser.post(reverse("visits:my_calendar"), {"name": "My phone"}).content.decode()
    address = made.split('calendar-address">')[1].split("<")[0]
    assert Client().get("/" + address.split("/", 3)[3]).status_code == 200
    later = browser.get(reverse("visits:my_calendar")).content.decode()
    assert "My phone" in later
    assert address not in later


def test_a_feed_stands_in_three_queries_whatever_it_holds(
    stops: list[Appointment], nora: User, at: datetime, django_assert_num_queries: Any
) -> None:
    token = make_feed(user=nora, name="desk", at=at)
    for _ in range(3):
        AppointmentFactory()
    with django_assert_num_queries(3):
        read(token)
