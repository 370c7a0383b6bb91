"""Editions of a plan and the renewal rules: drafted, published for ever, withdrawn; every refusal."""

from datetime import datetime
from decimal import Decimal
from typing import Any

import pytest

from contractor.accounts.models import User
from contractor.core.audit import SYSTEM
from contractor.plans import errors
from contractor.plans.actions.offers import (
    change_notice_days,
    change_offer,
    draft_offer,
    publish_offer,
    withdraw_offer,
)
from contractor.plans.models import PlanOffer
from contractor.plans.queries import all_rules
from tests.plans.made import VALUES

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(
    ("values", "refusal"),
    [
        ({"title": "Lifetime warranty plus"}, errors.NeverAWarranty),
        ({"price": Decimal("-1.00")}, errors.PriceNotPositive),
        ({"price": Decimal("0.00")}, errors.PriceNotPositive),
        ({"tax_percent": Decimal("-0.1")}, errors.TaxOutOfRange),
        ({"tax_percent": Decimal("30.1")}, errors.TaxOutOfRange),
    ],
)
def test_a_draft_that_cannot_be_is_not_kept(
    at: datetime, values: dict[str, Any], refusal: type[Exception]
) -> None:
    with pytest.raises(refusal):
        draft_offer(values={**VALUES, **values}, by=SYSTEM, at=at)
    assert not PlanOffer.objects.exists()


def test_an_edition_is_named_once(at: datetime) -> None:
    draft = draft_offer(values=VALUES, by=SYSTEM, at=at)
    with pytest.raises(errors.OfferEditionTaken):
        draft_offer(values=VALUES, by=SYSTEM, at=at)
    change_offer(offer_id=draft.pk, values={**VALUES, "price": Decimal("370.00")}, by=SYSTEM, at=at)
    assert PlanOffer.objects.get().price == Decimal("370.00")


def test_a_published_edition_stays_as_it_is(offer: PlanOffer, ruth: User, at: datetime) -> None:
    with pytest.raises(errors.OfferFixed):
        change_offer(offer_id=offer.pk, values={**VALUES, "price": Decimal("1.00")}, by=SYSTEM, at=at)
    with pytest.raises(errors.OfferFixed):
        publish_offer(offer_id=offer.pk, by_user=ruth, at=at)


def test_only_a_manager_publishes_withdraws_and_changes_rules(
    offer: PlanOffer, nora: User, ruth: User, at: datetime
) -> None:
    draft = draft_offer(values={**VALUES, "edition": "next"}, by=SYSTEM, at=at)
    with pytest.raises(errors.ManagersDecide):
        publish_offer(offer_id=draft.pk, by_user=nora, at=at)
    with pytest.raises(errors.ManagersDecide):
        withdraw_offer(offer_id=offer.pk, by_user=nora, at=at)
    with pytest.raises(errors.ManagersDecide):
        change_notice_days(state="NY", first_days=30, last_days=15, source="x", by_user=nora, at=at)
    withdraw_offer(offer_id=offer.pk, by_user=ruth, at=at)
    with pytest.raises(errors.OfferNotOpen):
        withdraw_offer(offer_id=offer.pk, by_user=ruth, at=at)


def test_a_plan_that_says_too_little_is_not_published_and_everything_it_lacks_is_named(
    ruth: User, at: datetime
) -> None:
    draft = draft_offer(values={**VALUES, "cancellation": "", "full_refund_days": 3}, by=SYSTEM, at=at)
    with pytest.raises(errors.OfferSaysTooLittle) as refused:
        publish_offer(offer_id=draft.pk, by_user=ruth, at=at)
    assert "how it is cancelled" in refused.value.sentence
    assert "16 CFR 429" in refused.value.sentence


@pytest.mark.parametrize(("first", "last"), [(15, 15), (15, 30), (181, 30), (30, 0), (30, -1)])
def test_notice_days_that_make_no_window_are_refused(ruth: User, at: datetime, first: int, last: int) -> None:
    with pytest.raises(errors.BadNoticeDays):
        change_notice_days(state="NY", first_days=first, last_days=last, source="x", by_user=ruth, at=at)


def test_changed_days_take_the_place_of_the_tables(ruth: User, at: datetime) -> None:
    change_notice_days(state="NY", first_days=40, last_days=20, source="Our lawyer", by_user=ruth, at=at)
    change_notice_days(state="NY", first_days=41, last_days=21, source="Our lawyer", by_user=ruth, at=at)
    rule = next(rule for rule in all_rules() if rule.state == "NY")
    assert (rule.first_days, rule.last_days, rule.is_read) == (41, 21, True)
    assert all_rules()[-1].state == ""
