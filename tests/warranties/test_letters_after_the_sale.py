"""Letters to a seller without e-mail, after the sale: they stand on Today, by name, until somebody has posted them."""

from collections.abc import Callable
from datetime import date, datetime

import pytest
from django.test import Client
from django.urls import reverse

from contractor.accounts.models import User
from contractor.core import clock
from contractor.core.audit import Actor
from contractor.notices.models import Notice
from contractor.office.queries import todays_desk
from contractor.properties.models import Person
from contractor.warranties.models import Transfer, Warranty
from tests.warranties.test_transfer import ask, complete, issue

pytestmark = pytest.mark.django_db


@pytest.fixture
def desk(
    nora: User, signed_in_as: Callable[[User], Client], monkeypatch: pytest.MonkeyPatch, on: date, at: datetime
) -> Client:
    monkeypatch.setattr(clock, "today", lambda: on)
    monkeypatch.setattr(clock, "now", lambda: at)
    return signed_in_as(nora)


@pytest.fixture
def sold(
    cared_for: Warranty, iris: Person, buyer: Person, theo: User, office: Actor, on: date, at: datetime
) -> Transfer:
    """Iris, who has no e-mail, sold to Ben, who has none either and lives in the house from now on."""
    for person in (iris, buyer):
        person.email = ""
        person.save()
    transfer = ask(cared_for, buyer, office, at)
    complete(transfer, theo, office, at)
    issue(transfer, office, at, on)
    return transfer


def hers(on: date) -> list[Notice]:
    return list(todays_desk(on=on).former_letters.rows)


def test_the_sellers_last_letter_stands_on_today_until_it_is_posted(
    sold: Transfer, desk: Client, iris: Person, on: date
) -> None:
    [letter] = hers(on)
    assert (letter.template, letter.person, letter.channel) == ("transfer_issued_seller", iris, "letter")
    today, page = reverse("office:today"), reverse("notices:notice", args=[letter.pk])
    shown = desk.get(today).content.decode()
    assert f'href="{page}"' in shown
    assert "to Iris Holloway, former owner" in shown
    assert f'href="{reverse("notices:post")}"' in shown
    # Looking at it or printing it is not posting it.
    desk.get(page)
    desk.get(reverse("notices:letter", args=[letter.pk]))
    assert hers(on) == [letter]
    desk.post(reverse("notices:posted", args=[letter.pk]))
    assert hers(on) == []
    assert "former owner" not in desk.get(today).content.decode()


def test_the_days_post_holds_it_and_marks_it(sold: Transfer, desk: Client, on: date) -> None:
    [letter] = hers(on)
    assert f'value="{letter.pk}"' in desk.get(reverse("notices:post")).content.decode()
    desk.post(reverse("notices:post"), {"letter": [letter.pk]})
    assert hers(on) == []


def test_its_page_says_that_the_address_is_the_old_one(sold: Transfer, desk: Client, iris: Person, on: date) -> None:
    [letter] = hers(on)
    page = reverse("notices:notice", args=[letter.pk])
    assert "the letter bears the old one" in desk.get(page).content.decode()
    iris.mail_address = "3 Quarry Street\nLarkmere, PA 17099"
    iris.save()
    shown = desk.get(page).content.decode()
    assert "The letter goes to their own address." in shown
    assert "3 Quarry Street" in shown


def test_the_new_owners_letter_is_one_of_the_ordinary_ones(sold: Transfer, buyer: Person, on: date) -> None:
    assert buyer.pk not in {letter.person_id for letter in hers(on)}
    his = Notice.objects.get(template="transfer_issued_buyer")
    assert (his.channel, his.state) == ("letter", "queued")
    assert todays_desk(on=on).letters >= 2


def test_a_letter_to_an_owner_of_today_is_not_among_them(
    cared_for: Warranty, iris: Person, buyer: Person, office: Actor, on: date, at: datetime
) -> None:
    iris.email = ""
    iris.save()
    ask(cared_for, buyer, office, at)
    assert Notice.objects.filter(person=iris, channel="letter", state="queued").exists()
    assert hers(on) == []
