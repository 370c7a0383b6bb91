"""How long somebody is signed in on a tablet, and that a tablet that was lost reads nothing more."""

from collections.abc import Callable
from datetime import timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.conf import settings
from django.contrib.sessions.models import Session
from django.test import Client
from django.urls import reverse

from contractor.accounts.models import User
from contractor.core import clock
from contractor.tablet.actions.devices import allow_device_again, revoke_device
from contractor.tablet.models import OFFICE_DEVICE, SetAside
from contractor.visits.models import Appointment
from tests.tablet.hands import Tablet, registered

pytestmark = pytest.mark.django_db(transaction=True)

Browse = Callable[[User], Client]
ME, PACK = reverse("tablet:me"), reverse("tablet:pack")


@pytest.fixture
def fresh(visit: Appointment, theo: User) -> Tablet:
    """A tablet whose key is good now."""
    return registered(theo, visit, clock.now())


def reads(browser: Client, tablet: Tablet) -> int:
    return browser.get(PACK, {"device": str(tablet.device)}).status_code


def hand_in(tablet: Tablet) -> Any:
    assert tablet.key is not None
    headers = {"Authorization": f"Bearer {tablet.key.key}"}
    body = {"items": tablet.items(), "device": str(tablet.device)}
    return Client().post(reverse("tablet:events"), body, content_type="application/json", headers=headers)


def test_a_sign_in_lasts_a_week_and_its_end_stops_reading_but_not_handing_in(
    fresh: Tablet, theo: User, signed_in_as: Browse
) -> None:
    browser = signed_in_as(theo)
    assert timedelta(seconds=settings.SESSION_COOKIE_AGE) == timedelta(days=7)
    assert reads(browser, fresh) == 200
    Session.objects.update(expire_date=clock.now() - timedelta(seconds=1))
    assert (browser.get(ME).status_code, reads(browser, fresh)) == (401, 401)
    fresh.answer("mould", condition="good")
    assert hand_in(fresh).json()["receipts"][0]["status"] == "stored"


@pytest.mark.parametrize("by", ["fetching the rounds", "registering the tablet"])
def test_closing_a_tablet_ends_the_sign_in_on_it_and_no_other(
    fresh: Tablet, visit: Appointment, theo: User, nora: User, signed_in_as: Browse, by: str
) -> None:
    other = registered(theo, visit, clock.now(), name="Tablet 2")
    on_the_tablet, elsewhere = signed_in_as(theo), signed_in_as(theo)
    if by == "fetching the rounds":
        assert reads(on_the_tablet, fresh) == 200
    else:
        told = {"device": str(fresh.device), "name": "Van 2"}
        assert on_the_tablet.post(reverse("tablet:devices"), told, content_type="application/json").status_code == 200
    assert reads(elsewhere, other) == 200
    revoke_device(device_id=fresh.device, because="Lost on the train", by_user=nora, at=clock.now())
    assert (on_the_tablet.get(ME).status_code, reads(on_the_tablet, fresh)) == (401, 401)
    assert reads(elsewhere, other) == 200


def test_a_sign_in_that_calls_itself_another_tablet_still_ends_with_the_first(
    fresh: Tablet, theo: User, nora: User, signed_in_as: Browse
) -> None:
    taken = signed_in_as(theo)
    assert reads(taken, fresh) == 200
    told = {"device": str(uuid4()), "name": "Van 2"}
    assert taken.post(reverse("tablet:devices"), told, content_type="application/json").status_code == 200
    assert taken.get(PACK, {"device": told["device"]}).status_code == 200
    revoke_device(device_id=fresh.device, because="Lost on the train", by_user=nora, at=clock.now())
    assert taken.get(PACK, {"device": told["device"]}).status_code == 401


@pytest.mark.parametrize(
    "device",
    [None, "", "van 2", str(OFFICE_DEVICE), "7f9c24e8-3b12-4fef-91e0-56a2d5a1b0c3"],
    ids=["none", "empty", "no number", "the office's", "never registered"],
)
def test_a_sign_in_reads_no_rounds_on_a_tablet_that_the_office_does_not_know(
    visit: Appointment, theo: User, signed_in_as: Browse, device: str | None
) -> None:
    answer = signed_in_as(theo).get(PACK, {} if device is None else {"device": device})
    assert answer.status_code == 428
    assert answer.json() == {
        "sentence": "The office does not know this tablet yet. Open “Sign in”, give the tablet its name and get it "
        "ready; it gets its rounds then."
    }


def test_what_was_done_on_a_tablet_that_the_office_does_not_know_is_kept_in_its_sight(
    visit: Appointment, theo: User, signed_in_as: Browse
) -> None:
    unknown = Tablet(person=theo, visit=visit, clock=clock.now() - timedelta(hours=2))
    unknown.answer("mould", condition="good")
    body = {"items": unknown.items(), "device": str(unknown.device)}
    answer = signed_in_as(theo).post(reverse("tablet:events"), body, content_type="application/json")
    [receipt] = answer.json()["receipts"]
    assert receipt["sentence"] == "It was typed under the name of Theo Marsh, who never signed in on that tablet."
    aside = SetAside.objects.get()
    assert (bytes(aside.raw).decode(), aside.state) == (next(iter(unknown.kept.values())), "waiting")


def test_a_closed_tablet_gets_no_rounds_by_a_new_sign_in_until_it_is_allowed_again(
    fresh: Tablet, theo: User, nora: User, signed_in_as: Browse
) -> None:
    revoke_device(device_id=fresh.device, because="Lost on the train", by_user=nora, at=clock.now())
    browser = signed_in_as(theo)
    answer = browser.get(PACK, {"device": str(fresh.device)})
    assert answer.status_code == 403
    assert "closed" in answer.json()["sentence"]
    allow_device_again(device_id=fresh.device, by_user=nora, at=clock.now())
    assert reads(browser, fresh) == 200
