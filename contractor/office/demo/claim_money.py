"""What the claims of the demo cost: booked in cash and in kind, once by mistake, and once given as goodwill."""

from datetime import date, timedelta
from decimal import Decimal

from contractor.office.demo.place import Place
from contractor.office.demo.scenario import moment
from contractor.warranties.actions import claim_costs, claims
from contractor.warranties.claim_money import ClaimCost
from contractor.warranties.models import Claim

LABOR = Decimal("96.00")
ELECTRICIAN = Decimal("118.50")


def book_repair(place: Place, claim: Claim, *, repaired_on: date) -> None:
    """Our hours, the pump at cost, and an electrician's invoice, which has not come yet at every second house.

    Where it has, a digit too many was typed first and undone the next day.
    """
    booked_on, hours = repaired_on + timedelta(days=3), "2 h at $48.00, on the claim call"
    pump = (claim.contractor_pays or Decimal(0)) - LABOR - ELECTRICIAN
    if pump <= 0:
        return
    _book(place, claim, "parts", pump, repaired_on, "Primary pump from stock, our share at cost", booked_on)
    if place.house.number % 2:
        wrong = _book(place, claim, "labor", 10 * LABOR, repaired_on, hours, booked_on)
        claim_costs.undo_cost(
            cost_id=wrong.pk,
            on=booked_on,
            because="A digit too many: $96.00, not $960.00",
            by_user=place.desk,
            at=moment(booked_on + timedelta(days=1)),
        )
        _book(place, claim, "invoice", ELECTRICIAN, booked_on, "Electrician, invoice 2207: new outlet", booked_on)
    _book(place, claim, "labor", LABOR, repaired_on, hours, booked_on + timedelta(days=1))


def goodwill_for_cut_line(place: Place) -> None:
    """A fence post went through the line: not covered by the terms, and the manager bears half of it all the same."""
    lost_on = place.on - timedelta(days=72 + place.house.number % 5)
    claim = claims.report_claim(
        warranty_id=place.warranty.pk,
        part_kind="discharge_line",
        lost_on=lost_on,
        reported_on=lost_on,
        what="The neighbor’s new fence post went through the discharge line; the water came back along the wall.",
        cause="blocked_outside",
        cost=Decimal("264.00"),
        by=place.desk.actor,
        at=moment(lost_on),
    )
    decided_on = lost_on + timedelta(days=4)
    claims.decide_claim(claim_id=claim.pk, cost=Decimal("264.00"), by_user=place.desk, at=moment(decided_on))
    given_on = decided_on + timedelta(days=2)
    claim_costs.give_goodwill(
        claim_id=claim.pk,
        amount=Decimal("132.00"),
        because="Every check-up in time since the system went in",
        by_user=place.cast.manager,
        at=moment(given_on),
    )
    note = f"Check {4471 + place.house.number} to the owner"
    _book(place, claim, "owner", Decimal("132.00"), given_on, note, given_on, is_goodwill=True)


def _book(
    place: Place,
    claim: Claim,
    kind: str,
    amount: Decimal,
    on: date,
    note: str,
    booked_on: date,
    *,
    is_goodwill: bool = False,
) -> ClaimCost:
    return claim_costs.book_cost(
        claim_id=claim.pk,
        kind=kind,
        amount=amount,
        on=on,
        note=note,
        is_goodwill=is_goodwill,
        is_last=kind in {"invoice", "owner"},
        by_user=place.desk,
        at=moment(booked_on),
    )
