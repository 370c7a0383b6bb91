"""What tests of plans are made from: an offer's words, the consents of an owner, a moment on a day."""

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from typing import Any

from contractor.accounts.models import User
from contractor.core.audit import SYSTEM
from contractor.plans.actions.agreements import Consent
from contractor.plans.actions.offers import draft_offer, publish_offer
from contractor.plans.models import PlanOffer

YES = Consent(way="office", to_plan=True)
YES_TO_BOTH = Consent(way="office", to_plan=True, to_renewal=True)
VALUES: dict[str, Any] = {
    "edition": "yearly-care-2026",
    "title": "Yearly care",
    "visits_a_year": 1,
    "included": "The yearly check-up\nFirst call-out after an alarm",
    "minor_parts_up_to": Decimal("50.00"),
    "price": Decimal("365.00"),
    "tax_percent": Decimal("6"),
    "cancellation": "We give the money back in the way in which you paid.",
    "full_refund_days": 30,
    "disclosures": "Pumps and batteries are not included. We ask before it renews.",
}


def noon(on: date) -> datetime:
    return datetime.combine(on, datetime.min.time(), tzinfo=UTC) + timedelta(hours=17)


def new_offer(manager: User, at: datetime, **values: Any) -> PlanOffer:
    draft = draft_offer(values={**VALUES, **values}, by=SYSTEM, at=at)
    return publish_offer(offer_id=draft.pk, by_user=manager, at=at)
