"""An owner's pages about one appointment: looking changes nothing, every answer is one press of a button."""

import re
from collections.abc import Callable
from datetime import date, datetime, time, timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from contractor.accounts.models import Company, User
from contractor.core import clock
from contractor.core.audit import Actor
from contractor.core.models import AuditEntry
from contractor.properties.actions import hand_over
from contractor.properties.models import Ownership, Person
from contractor.systems.models import System
from contractor.visits.actions.owner_answers import make_visit_link
from contractor.visits.models import Appointment
from contractor.visits.owner_tables import OwnerWish, VisitLink
from tests.visits.factories import AppointmentFactory, RequestFactory

DAY = date(2026, 5, 12)
PAGES = ("visit", "visit_days", "visit_wish", "visit_call", "visit_off", "visit_calendar")


@pytest.fixture(autouse=True)
def now(monkeypatch: pytest.MonkeyPatch, at: datetime, on: date) -> None:
    monkeypatch.setattr(clock, "now", lambda: at)
    monkeypatch.setattr(clock, "today", lambda: on)


@pytest.fixture
def appointment(system: System, theo: User, company: Company) -> Appointment:
    made: Appointment = AppointmentFactory(
        request=RequestFactory(system=system), technician=theo, on=DAY, arrive_from=time(8), arrive_until=time(10)
    )
    return made


@pytest.fixture
def token(appointment: Appointment, ownership: Ownership, at: datetime) -> str:
    return make_visit_link(appointment=appointment, ownership=ownership, at=at)


def page(token: str, name: str = "visit") -> str:
    return reverse(f"portal:{name}", args=[token])


def shown(text: str) -> dict[str, str]:
    """What the form of the page sends."""
    return dict(re.findall(r'name="(on|arrive_from|arrive_until)" value="(.*?)"', text))


def test_scanners_that_open_links_confirm_nothing(token: str, appointment: Appointment) -> None:
    before = AuditEntry.objects.count()
    for name in PAGES:
        assert Client().get(page(token, name)).status_code == 200
        Client().head(page(token, name))
    assert Appointment.objects.get().state == "planned"
    assert AuditEntry.objects.count() == before
    # A scanner that posts an empty form to everything says yes to no day.
    assert Client().post(page(token)).status_code == 302
    assert Appointment.objects.get().state == "planned"


def test_one_tap_says_yes(token: str) -> None:
    browser = Client()
    text = browser.get(page(token)).content.decode()
    assert "Tuesday, May 12, 2026" in text
    after = browser.post(page(token), shown(text), follow=True).content.decode()
    assert "See you then" in after
    assert "You said yes" in after
    assert Appointment.objects.get().state == "confirmed"


def test_what_was_moved_meanwhile_is_shown_and_not_confirmed(token: str) -> None:
    browser = Client()
    form = shown(browser.get(page(token)).content.decode())
    Appointment.objects.update(on=date(2026, 5, 13))
    after = browser.post(page(token), form, follow=True).content.decode()
    assert "We moved this visit while you were looking" in after
    assert "which said Tuesday, May 12, 2026" in after
    assert "Wednesday, May 13, 2026" in after
    assert Appointment.objects.get().state == "planned"


ENDED = [
    ("cancelled", DAY, "This visit is called off"),
    ("done", DAY, "This visit is done"),
    ("could_not", DAY, "We could not do this visit"),
    ("planned", date(2026, 5, 3), "The day of this visit is past"),
]


@pytest.mark.parametrize(("state", "day", "words"), ENDED)
def test_what_is_over_answers_plainly_on_every_page(token: str, state: str, day: date, words: str) -> None:
    Appointment.objects.update(state=state, on=day)
    for name in ("visit", "visit_days", "visit_wish", "visit_call", "visit_off"):
        for method in ("get", "post"):
            answer = getattr(Client(), method)(page(token, name), follow=True)
            assert answer.status_code == 200
            assert words in answer.content.decode()


def test_a_link_closes_with_the_sale_with_time_and_for_whoever_guesses(
    token: str, house: Any, buyer: Person, office: Actor, at: datetime
) -> None:
    VisitLink.objects.update(expires_at=at)
    assert Client().get(page(token)).status_code == 410
    VisitLink.objects.update(expires_at=at + timedelta(days=1))
    assert Client().get(page(token)).status_code == 200
    hand_over(property_id=house.pk, person_id=buyer.pk, on=date(2026, 5, 4), by=office, at=at)
    for one in (token, "x" * 22):
        for name in PAGES:
            answer = Client().get(page(one, name))
            assert answer.status_code == 410
            assert "no longer opens" in answer.content.decode()
            assert answer["X-Robots-Tag"] == "noindex, nofollow"


def test_full_rounds_lead_to_a_wish_or_a_call(token: str) -> None:
    """Nobody has working days here, so no day is free."""
    browser = Client()
    assert "No other day is free" in browser.get(page(token, "visit_days")).content.decode()
    refused = browser.post(page(token, "visit_days"), {"day": "2026-05-14"}).content.decode()
    assert "This day is taken meanwhile" in refused
    empty = browser.post(page(token, "visit_wish"), {"words": " "}).content.decode()
    assert "which days or hours suit you" in empty
    after = browser.post(page(token, "visit_wish"), {"words": "A Friday"}, follow=True).content.decode()
    assert "The office has your message" in after
    assert "“A Friday”" in after
    browser.post(page(token, "visit_call"), {"words": ""})
    assert set(OwnerWish.objects.values_list("kind", flat=True)) == {"other_day", "telephone"}


def test_calling_off_asks_why(token: str) -> None:
    browser = Client()
    assert "Say why in a few words" in browser.post(page(token, "visit_off"), {}).content.decode()
    after = browser.post(page(token, "visit_off"), {"because": "We are away."}, follow=True).content.decode()
    assert "This visit is called off" in after
    assert "The reason given: We are away." in after


def test_the_visit_as_a_file(token: str) -> None:
    answer = Client().get(page(token, "visit_calendar"))
    assert answer["Content-Type"] == "text/calendar; charset=utf-8; method=PUBLISH"
    assert "METHOD:PUBLISH" in answer.content.decode()


def test_the_page_stands_in_four_queries(token: str, django_assert_num_queries: Any) -> None:
    with django_assert_num_queries(4):
        Client().get(page(token))


def test_the_desk_sees_wishes_in_two_queries_and_settles_them(
    token: str, nora: User, signed_in_as: Callable[[User], Client], django_assert_num_queries: Any
) -> None:
    Client().post(page(token, "visit_call"), {"words": "After 5"})
    desk = signed_in_as(nora)
    address = reverse("visits:wishes")
    # Session and user, the company, and the wishes.
    with django_assert_num_queries(4):
        text = desk.get(address).content.decode()
    assert "After 5" in text
    desk.post(reverse("visits:settle_wish", args=[OwnerWish.objects.get().pk]))
    assert "Nobody waits for an answer" in desk.get(address).content.decode()


def test_on_the_way_from_the_round(
    appointment: Appointment, nora: User, theo: User, signed_in_as: Callable[[User], Client]
) -> None:
    address = reverse("visits:on_the_way", args=[appointment.pk])
    refused = signed_in_as(nora).post(address)
    assert refused.status_code == 409
    assert "This visit is on Tuesday, May 12, 2026" in refused.content.decode()
    Appointment.objects.update(on=date(2026, 5, 4))
    assert signed_in_as(nora).post(address)["Location"].endswith(f"/visits/rounds/{theo.pk}/2026-05-04/")
    assert signed_in_as(theo).post(address)["Location"] == reverse("checkups:my_round")
