"""A plan offered by message: what the office sees before it goes, and everybody to whom it does not."""

from collections.abc import Callable
from datetime import date, datetime

import pytest
from django.core import mail
from django.test import Client
from django.urls import reverse

from contractor.accounts.models import Company, User
from contractor.core import clock
from contractor.notices.actions import send_notice, stop
from contractor.notices.errors import NoPostalAddress, OffersNotWanted
from contractor.notices.models import Notice
from contractor.plans.actions.offering import offer_plan
from contractor.plans.actions.offers import withdraw_offer
from contractor.plans.errors import HasPlan, OfferedAlready, OfferNotOpen
from contractor.plans.models import Agreement, PlanOffer
from contractor.plans.rules.offering import may_go_by_email, season_after, season_of
from contractor.properties.errors import NoOwner
from contractor.properties.models import Ownership, Person
from tests.plans.made import noon

pytestmark = pytest.mark.django_db
SignIn = Callable[[User], Client]
MAY = date(2026, 5, 4)


@pytest.mark.parametrize(
    ("on", "season", "after"),
    [
        # The meteorological seasons of the northern half: whole months, winter from December.
        (date(2026, 2, 28), (2026, "winter"), "spring"),
        (date(2026, 3, 1), (2026, "spring"), "summer"),
        (date(2026, 8, 31), (2026, "summer"), "fall"),
        (date(2026, 11, 30), (2026, "fall"), "winter"),
        (date(2026, 12, 1), (2027, "winter"), "spring"),
        (date(2027, 1, 31), (2027, "winter"), "spring"),
    ],
)
def test_a_season_is_three_months_and_december_belongs_to_the_next_years_winter(
    on: date, season: tuple[int, str], after: str
) -> None:
    assert season_of(on) == season
    assert season_after(on) == after


@pytest.mark.parametrize(
    ("country", "last_bought_on", "may"),
    [
        # 15 U.S.C. 7704: until the reader says no.
        ("US", None, True),
        ("US", date(2001, 1, 1), True),
        # S.C. 2010, c. 23, s. 10(10)(a), from memory: within two years of a purchase.
        ("CA", None, False),
        ("CA", date(2024, 5, 4), True),
        ("CA", date(2024, 5, 3), False),
        ("CA", MAY, True),
    ],
)
def test_an_offer_goes_unasked_by_email_where_the_law_lets_it(
    country: str, last_bought_on: date | None, may: bool
) -> None:
    assert may_go_by_email(country=country, last_bought_on=last_bought_on, on=MAY) is may


@pytest.fixture
def send(ownership: Ownership, offer: PlanOffer, nora: User) -> Callable[..., Notice]:
    def write(on: date = MAY) -> Notice:
        return offer_plan(property_id=ownership.property_id, offer_id=offer.pk, by=nora.actor, at=noon(on))

    return write


def test_it_goes_once_a_season_and_again_in_the_next(send: Callable[..., Notice]) -> None:
    sent = send()
    assert (sent.template, sent.channel) == ("plan_offer", "email")
    with pytest.raises(OfferedAlready, match=r"on May 4, 2026\. One offer a season is enough; the summer brings"):
        send(date(2026, 5, 31))
    assert send(date(2026, 6, 1)).pk != sent.pk


def test_it_carries_the_postal_address_and_the_way_out(send: Callable[..., Notice]) -> None:
    """15 U.S.C. 7704(a)(3) and (5)."""
    sent = send()
    assert send_notice(notice_id=sent.pk, at=noon(MAY))
    (message,) = mail.outbox
    assert "14 Foundry Row, Larkmere, PA 17099" in message.body
    assert "List-Unsubscribe" in message.extra_headers
    assert "not a warranty" in message.body


def test_at_night_it_waits_for_the_morning(ownership: Ownership, offer: PlanOffer, nora: User) -> None:
    """47 CFR 64.1200(c)(1), which ours hold to by e-mail too."""
    night = datetime.fromisoformat("2026-05-04T23:30:00-04:00")
    sent = offer_plan(property_id=ownership.property_id, offer_id=offer.pk, by=nora.actor, at=night)
    assert send_notice(notice_id=sent.pk, at=night) is False
    sent.refresh_from_db()
    assert (sent.state, sent.not_before) == ("queued", datetime.fromisoformat("2026-05-05T08:00:00-04:00"))


def test_who_said_no_to_offers_hears_of_none(send: Callable[..., Notice], iris: Person, at: datetime) -> None:
    stop(what="offers", address=iris.email, at=at)
    with pytest.raises(OffersNotWanted):
        send()
    assert not Notice.objects.exists()


def test_without_our_postal_address_nothing_is_sold(send: Callable[..., Notice]) -> None:
    Company.objects.update(street="")
    with pytest.raises(NoPostalAddress):
        send()


def test_a_house_that_has_a_plan_is_offered_none(
    send: Callable[..., Notice], agreed: Callable[..., Agreement]
) -> None:
    agreed()
    with pytest.raises(HasPlan, match="through May 3, 2027"):
        send()


def test_a_plan_that_is_withdrawn_and_a_house_without_an_owner(
    send: Callable[..., Notice], ownership: Ownership, offer: PlanOffer, ruth: User, at: datetime
) -> None:
    withdraw_offer(offer_id=offer.pk, by_user=ruth, at=at)
    with pytest.raises(OfferNotOpen):
        send()
    Ownership.objects.update(until_on=MAY)
    with pytest.raises(NoOwner):
        send()


def test_in_canada_it_is_a_letter_once_the_purchase_is_two_years_old(send: Callable[..., Notice]) -> None:
    Company.objects.update(country="CA")
    assert send().channel == "letter"


# ---- the page ----


@pytest.fixture
def in_may(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(clock, "today", lambda: MAY)
    monkeypatch.setattr(clock, "now", lambda: noon(MAY))


@pytest.mark.usefixtures("in_may")
def test_the_office_reads_it_before_it_goes_and_the_button_sends_it_once(
    ownership: Ownership, offer: PlanOffer, nora: User, signed_in_as: SignIn
) -> None:
    desk, page = signed_in_as(nora), reverse("plans:offer_to_house", args=[ownership.property_id])
    house = reverse("office:house", args=[ownership.property_id])
    assert f'href="{page}">Offer this plan' in desk.get(house).content.decode()
    text = desk.get(page).content.decode()
    for words in ("An offer: Yearly care", "First call-out after an alarm", "by e-mail to iris@example.com"):
        assert words in text
    assert not Notice.objects.exists()
    answer = desk.post(page, {"offer": offer.pk})
    assert answer["Location"] == f"{house}#plan"
    again = desk.get(page).content.decode()
    assert "One offer a season is enough" in again
    assert "Send this offer" not in again
    assert "One offer a season is enough" in desk.post(page, {"offer": offer.pk}).content.decode()
    assert Notice.objects.count() == 1


@pytest.mark.usefixtures("in_may")
@pytest.mark.parametrize("asked", ["x", "0", "999999", "9" * 50])
def test_nonsense_offers_nothing(
    ownership: Ownership, offer: PlanOffer, nora: User, signed_in_as: SignIn, asked: str
) -> None:
    desk, page = signed_in_as(nora), reverse("plans:offer_to_house", args=[ownership.property_id])
    assert "not offered now" in desk.post(page, {"offer": asked}).content.decode()
    assert not Notice.objects.exists()
