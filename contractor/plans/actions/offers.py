"""Writes about offers and renewal rules: draft, correct a draft, publish, withdraw; change a state's days."""

from collections.abc import Mapping
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.db import transaction

from contractor.accounts.models import Role, User
from contractor.core import audit
from contractor.core.audit import Actor
from contractor.plans.errors import (
    BadNoticeDays,
    ManagersDecide,
    NeverAWarranty,
    OfferEditionTaken,
    OfferFixed,
    OfferNotOpen,
    OfferSaysTooLittle,
    PriceNotPositive,
    TaxOutOfRange,
)
from contractor.plans.models import NoticeDays, PlanOffer
from contractor.plans.rules.terms import MOST_TAX_PERCENT, lacking, word_of_a_warranty

LONGEST_NOTICE_DAYS = 180


@transaction.atomic
def draft_offer(*, values: Mapping[str, Any], by: Actor, at: datetime) -> PlanOffer:
    """Keeps a new draft. Raises NeverAWarranty, PriceNotPositive, TaxOutOfRange or OfferEditionTaken."""
    _refuse_bad_values(values, but=None)
    offer = PlanOffer.objects.create(**values, created_at=at)
    _record(offer, verb="plan drafted", by=by, at=at, after=audit.snapshot(offer))
    return offer


@transaction.atomic
def change_offer(*, offer_id: int, values: Mapping[str, Any], by: Actor, at: datetime) -> PlanOffer:
    """Corrects a draft. Raises OfferFixed once published, and what ``draft_offer`` raises."""
    offer = PlanOffer.objects.select_for_update().get(pk=offer_id)
    if offer.published_at is not None:
        raise OfferFixed(offer.edition)
    _refuse_bad_values(values, but=offer_id)
    before = audit.snapshot(offer)
    for name, value in values.items():
        setattr(offer, name, value)
    offer.save()
    _record(offer, verb="draft plan changed", by=by, at=at, before=before, after=audit.snapshot(offer))
    return offer


@transaction.atomic
def publish_offer(*, offer_id: int, by_user: User, at: datetime) -> PlanOffer:
    """Publishes a draft for ever. Raises OfferFixed, ManagersDecide, or OfferSaysTooLittle, which names what lacks."""
    offer = PlanOffer.objects.select_for_update().get(pk=offer_id)
    if offer.published_at is not None:
        raise OfferFixed(offer.edition)
    if by_user.role != Role.MANAGER:
        raise ManagersDecide("publish a plan")
    missing = lacking(
        included=offer.included_lines,
        cancellation=offer.cancellation,
        disclosures=offer.disclosures,
        full_refund_days=offer.full_refund_days,
    )
    if missing:
        raise OfferSaysTooLittle(missing)
    before = audit.snapshot(offer)
    offer.published_at, offer.published_by = at, by_user
    offer.save()
    _record(offer, verb="plan published", by=by_user.actor, at=at, before=before, after=audit.snapshot(offer))
    return offer


@transaction.atomic
def withdraw_offer(*, offer_id: int, by_user: User, at: datetime) -> PlanOffer:
    """Offers a plan to nobody any more; who has it keeps it. Raises OfferNotOpen or ManagersDecide."""
    offer = PlanOffer.objects.select_for_update().get(pk=offer_id)
    if not offer.is_open:
        raise OfferNotOpen
    if by_user.role != Role.MANAGER:
        raise ManagersDecide("withdraw a plan")
    before = audit.snapshot(offer)
    offer.withdrawn_at = at
    offer.save()
    _record(offer, verb="plan withdrawn", by=by_user.actor, at=at, before=before, after=audit.snapshot(offer))
    return offer


@transaction.atomic
def change_notice_days(
    *, state: str, first_days: int, last_days: int, source: str, by_user: User, at: datetime
) -> NoticeDays:
    """Changes the days of a state's renewal notice. Raises BadNoticeDays or ManagersDecide."""
    if by_user.role != Role.MANAGER:
        raise ManagersDecide("change the renewal rules")
    if not 1 <= last_days < first_days <= LONGEST_NOTICE_DAYS:
        raise BadNoticeDays
    known = NoticeDays.objects.select_for_update().filter(state=state).first()
    before = audit.snapshot(known) if known is not None else None
    days = known or NoticeDays(state=state)
    days.first_days, days.last_days, days.source = first_days, last_days, source.strip()
    days.save()
    audit.record(
        by=by_user.actor,
        at=at,
        verb="renewal rule changed",
        subject=days,
        property_id=None,
        before=before,
        after=audit.snapshot(days),
    )
    return days


def _refuse_bad_values(values: Mapping[str, Any], *, but: int | None) -> None:
    if word := word_of_a_warranty(values["title"]):
        raise NeverAWarranty(word)
    if values["price"] <= 0:
        raise PriceNotPositive
    if not Decimal(0) <= values["tax_percent"] <= MOST_TAX_PERCENT:
        raise TaxOutOfRange
    others = PlanOffer.objects.filter(edition=values["edition"])
    if (others if but is None else others.exclude(pk=but)).exists():
        raise OfferEditionTaken(values["edition"])


def _record(offer: PlanOffer, **entry: Any) -> None:
    audit.record(subject=offer, property_id=None, **entry)
