"""What tests of plans share: a published offer, and an owner who agrees to it."""

from collections.abc import Callable
from datetime import date, datetime

import pytest

from contractor.accounts.models import User
from contractor.plans.actions.agreements import agree
from contractor.plans.models import Agreement, PlanOffer
from contractor.properties.models import Ownership
from tests.plans.made import YES, YES_TO_BOTH, new_offer, noon


@pytest.fixture
def offer(ruth: User, at: datetime) -> PlanOffer:
    return new_offer(ruth, at)


@pytest.fixture
def agreed(offer: PlanOffer, ownership: Ownership, nora: User) -> Callable[..., Agreement]:
    """Iris agrees to the plan on a day, that day being its first unless another is given."""

    def make(on: date = date(2026, 5, 4), *, renews: str = "asks", from_on: date | None = None) -> Agreement:
        return agree(
            property_id=ownership.property_id,
            offer_id=offer.pk,
            from_on=from_on or on,
            renews=renews,
            consent=YES_TO_BOTH if renews == "automatic" else YES,
            by=nora.actor,
            at=noon(on),
        )

    return make
