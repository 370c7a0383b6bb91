"""Iris Holloway's browser, in which her personal link was opened, and papers that belong to her house."""

from collections.abc import Callable
from datetime import date, datetime

import pytest
from django.test import Client
from django.urls import reverse

from contractor.accounts.models import User
from contractor.checkups.models import CheckUp
from contractor.core import clock
from contractor.core.audit import SYSTEM, Actor
from contractor.properties.actions import make_owner_link
from contractor.properties.models import Ownership
from contractor.systems.models import System
from contractor.warranties.actions import issuing
from contractor.warranties.models import Warranty
from tests.warranties.factories import checkup_done, furnish, published_terms

OpenHouse = Callable[[Ownership], Client]


@pytest.fixture(autouse=True)
def standing_clock(monkeypatch: pytest.MonkeyPatch, on: date, at: datetime) -> None:
    """The clock stands still on the day of the tests."""
    monkeypatch.setattr(clock, "today", lambda: on)
    monkeypatch.setattr(clock, "now", lambda: at)


@pytest.fixture
def link_of(at: datetime) -> Callable[[Ownership], str]:
    """The address of a fresh link to the house of this ownership."""

    def make(ownership: Ownership) -> str:
        token = make_owner_link(ownership_id=ownership.pk, by=SYSTEM, at=at)
        return reverse("portal:link", args=[token])

    return make


@pytest.fixture
def open_house(link_of: Callable[[Ownership], str]) -> OpenHouse:
    """A browser in which the link of this ownership was opened."""

    def opened(ownership: Ownership) -> Client:
        browser = Client()
        browser.post(link_of(ownership))
        return browser

    return opened


@pytest.fixture
def hers(ownership: Ownership, open_house: OpenHouse) -> Client:
    return open_house(ownership)


@pytest.fixture
def warranty(system: System, office: Actor, at: datetime) -> Warranty:
    """Issued to Iris on the day of installation, with parts and walls."""
    terms = published_terms()
    furnish(system)
    return issuing.issue_warranty(system_id=system.pk, terms_id=terms.pk, issued_on=date(2020, 5, 14), by=office, at=at)


@pytest.fixture
def checked(system: System, theo: User) -> CheckUp:
    """Her house's check-up of last year."""
    return checkup_done(system, date(2025, 5, 10), theo)
