"""Who would be offered which plan for a house, by which way, in which words; and why not."""

from dataclasses import dataclass
from datetime import date

from contractor.accounts.queries import the_company
from contractor.core import clock
from contractor.notices.actions import may_sell, way_to, written_by_us
from contractor.notices.models import Notice
from contractor.notices.rules.channels import EMAIL
from contractor.plans.errors import HasPlan, OfferedAlready, OfferNotOpen
from contractor.plans.models import Agreement, PlanOffer
from contractor.plans.queries import open_offers
from contractor.plans.rules.offering import may_go_by_email, season_after, season_of
from contractor.properties.errors import NoOwner
from contractor.properties.models import Ownership, Person, Property
from contractor.properties.queries import present_ownership
from contractor.systems.models import System

TEMPLATE = "plan_offer"


@dataclass(frozen=True, slots=True, kw_only=True)
class ToOffer:
    """An offer that may be sent: ``never_by`` are ways that the law closes, ``way`` the one it goes."""

    offer: PlanOffer
    person: Person
    house: Property
    occasion: str
    never_by: tuple[str, ...]
    way: str

    def preview(self) -> dict[str, str]:
        """Subject and text as the owner reads them; links stand as words, because they are made when it is sent."""
        words = {"offer": self.offer, "person": self.person, "property": self.house}
        return written_by_us(TEMPLATE, words, by_letter=self.way != EMAIL, with_links=False)


def to_offer(*, property_id: int, offer_id: int, on: date) -> ToOffer:
    """What offering a plan on a day would send.

    Raises NoOwner, OfferNotOpen, HasPlan, OfferedAlready, NoPostalAddress or OffersNotWanted.
    """
    ownership = present_ownership(property_id=property_id)
    if ownership is None:
        raise NoOwner
    offer = open_offers().filter(pk=offer_id).first()
    if offer is None:
        raise OfferNotOpen
    running = Agreement.objects.not_over(on).filter(property=property_id).order_by("-until_on").first()
    if running is not None:
        raise HasPlan(running.through_on)
    year, season = season_of(on)
    occasion = f"plan offer:{property_id}:{ownership.person_id}:{year}:{season}"
    known = Notice.objects.filter(occasion=occasion).first()
    if known is not None:
        raise OfferedAlready(clock.day_of(known.queued_at), season_after(on))
    person = ownership.person
    may_sell(TEMPLATE, person)
    by_email = may_go_by_email(
        country=the_company().country, last_bought_on=_last_bought_on(ownership), on=on
    )
    never_by = () if by_email else (EMAIL,)
    return ToOffer(
        offer=offer,
        person=person,
        house=ownership.property,
        occasion=occasion,
        never_by=never_by,
        way=way_to(TEMPLATE, person, never_by=never_by),
    )


def _last_bought_on(ownership: Ownership) -> date | None:
    """When the owner last bought something of us for this house: a plan, or the system itself."""
    plans = Agreement.objects.filter(property=ownership.property_id, person=ownership.person_id)
    days = [clock.day_of(at) for at in plans.values_list("agreed_at", flat=True)]
    systems = System.objects.filter(property=ownership.property_id)
    days += [
        day
        for day in systems.values_list("installed_on", flat=True)
        if ownership.from_on is None or day >= ownership.from_on
    ]
    return max(days, default=None)
