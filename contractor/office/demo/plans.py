"""The care plans of the demo: ten houses whose years are paid, open, ending, renewed, lapsed, cancelled."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from contractor.office.demo.cast import Cast
from contractor.office.demo.place import Place
from contractor.office.demo.scenario import moment
from contractor.plans.actions.agreements import Consent, agree, cancel
from contractor.plans.actions.invoices import record_payment, record_refund
from contractor.plans.actions.nightly import follow_the_calendar
from contractor.plans.actions.offering import offer_plan
from contractor.plans.actions.offers import draft_offer, publish_offer
from contractor.plans.models import Agreement, Invoice, PlanOffer
from contractor.plans.queries import balance_of

CANCELLATION = "The refund comes in the way in which you paid, within 30 days."
DISCLOSURES = (
    "Pumps, batteries and other parts above the amount named are not included, and neither is damage by water. "
    "We write to you before the year ends; whether it then renews is as you choose when you agree."
)
YEARLY = (
    "The yearly check-up with its report\nA call-out after an alarm, on working days\nThe pit cleaned at the visit"
)
TWICE = "A check-up in spring and one in fall, each with its report\nA call-out after an alarm, on any day"


@dataclass(frozen=True, slots=True, kw_only=True)
class Story:
    """One plan, in days before today: agreed, begun, paid (and how much of it), cancelled, given back."""

    agreed: int
    begins: int | None = None
    is_twice: bool = False
    renews: str = "asks"
    way: str = "page"
    paid: int | None = None
    paid_way: str = "check"
    part: Decimal | None = None
    cancelled: int | None = None
    given_back: int | None = None


STORIES = (
    Story(agreed=110, paid=95, way="office"),
    Story(agreed=210, renews="automatic", paid=205, paid_way="card", is_twice=True),
    Story(agreed=327, paid=310),
    Story(agreed=398, renews="automatic", paid=380, paid_way="transfer", is_twice=True),
    Story(agreed=421, paid=400, way="office"),
    Story(agreed=260, paid=250, cancelled=63, given_back=60),
    Story(agreed=58, way="office"),
    Story(agreed=160, paid=150, paid_way="card", cancelled=6, is_twice=True),
    Story(agreed=2, begins=-20, renews="no", way="office"),
    Story(agreed=75, paid=50, paid_way="cash", part=Decimal("120.00"), way="office"),
)
# The nights in which notices, renewals and reminders of these stories fall.
NIGHTS = 90
OFFERED_DAYS_AGO = 8


def sell_plans(places: Sequence[Place], *, cast: Cast, on: date, send: Callable[[], None]) -> None:
    """Publishes two plans and plays the stories day by day, with what a night does in between."""
    once, twice = _offers(cast, on)
    # Owners with an e-mail address: a notice that has to be posted waits for somebody to post it.
    good = [place for place in places if place.house.story == "good" and place.owner.email]
    homes = good[:: max(1, len(good) // len(STORIES))][: len(STORIES)]
    made: dict[int, Agreement] = {}
    for days in range(max(story.agreed for story in STORIES), -1, -1):
        day = on - timedelta(days=days)
        for number, (story, place) in enumerate(zip(STORIES, homes, strict=True)):
            if story.agreed == days:
                made[number] = _agree(story, place, twice if story.is_twice else once, day)
            if number in made:
                _money(story, place, made[number], days, day)
        if days <= NIGHTS:
            follow_the_calendar(on=day, at=moment(day))
            send()
    # Somebody who has none was written to last week.
    for place in [place for place in good if place not in homes][:1]:
        offer_plan(
            property_id=place.home.pk,
            offer_id=once.pk,
            by=place.desk.actor,
            at=moment(on - timedelta(days=OFFERED_DAYS_AGO)),
        )
        send()


def _offers(cast: Cast, on: date) -> tuple[PlanOffer, PlanOffer]:
    at = moment(on - timedelta(days=500))
    words = {"cancellation": CANCELLATION, "disclosures": DISCLOSURES, "full_refund_days": 30}
    drafts = (
        {"edition": "yearly-care-1", "title": "Yearly care", "visits_a_year": 1, "included": YEARLY, "price": "249.00"},
        {"edition": "two-seasons-1", "title": "Two seasons", "visits_a_year": 2, "included": TWICE, "price": "429.00"},
    )
    offers = []
    for draft in drafts:
        values = {
            **draft,
            **words,
            "price": Decimal(str(draft["price"])),
            "tax_percent": Decimal("6"),
            "minor_parts_up_to": Decimal("50.00"),
        }
        offer = draft_offer(values=values, by=cast.manager.actor, at=at)
        offers.append(publish_offer(offer_id=offer.pk, by_user=cast.manager, at=at))
    return offers[0], offers[1]


def _agree(story: Story, place: Place, offer: PlanOffer, day: date) -> Agreement:
    begins = day if story.begins is None else day + timedelta(days=story.agreed - story.begins)
    return agree(
        property_id=place.home.pk,
        offer_id=offer.pk,
        from_on=begins,
        renews=story.renews,
        consent=Consent(way=story.way, to_plan=True, to_renewal=story.renews == "automatic"),
        by=place.desk.actor,
        at=moment(day),
    )


def _money(story: Story, place: Place, agreement: Agreement, days: int, day: date) -> None:
    invoice = Invoice.objects.get(agreement=agreement, credits__isnull=True)
    entry: dict[str, Any] = {"way": story.paid_way, "on": day, "by_user": place.desk, "at": moment(day)}
    if story.paid == days:
        amount = story.part or invoice.total
        record_payment(invoice_id=invoice.pk, amount=amount, **entry)
    if story.cancelled == days:
        cancel(agreement_id=agreement.pk, way=story.way, because="", by=place.desk.actor, at=moment(day))
    if story.given_back == days:
        record_refund(invoice_id=invoice.pk, amount=balance_of(invoice).to_refund, **entry)
