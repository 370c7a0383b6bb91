"""The stories of the demo: what happened at each house, year by year. Every write goes through an action."""

from collections.abc import Callable, Mapping
from datetime import date, timedelta
from decimal import Decimal

from contractor.checkups.actions import records
from contractor.checkups.models import CheckUp
from contractor.core.audit import Actor
from contractor.office.demo.cast import Cast
from contractor.office.demo.claim_money import book_repair, goodwill_for_cut_line
from contractor.office.demo.messages import send_what_was_queued
from contractor.office.demo.place import Place, begin, measure, register_person
from contractor.office.demo.scenario import DemoHouse, moment
from contractor.office.demo.visits import Found, Visitor
from contractor.properties.models import Person
from contractor.systems import actions as systems
from contractor.systems.models import Component
from contractor.visits.actions import appointments as visits
from contractor.visits.actions.finishing import finish_by_hand
from contractor.visits.models import VisitKind
from contractor.warranties.actions import claims, transfers
from contractor.warranties.actions.closing import change_closing

WEAK_BATTERY = Found(
    typed="9.1", what="The battery fell below its least voltage under load.", swap="Tested weak under load"
)
FLOODED_WEAK: Mapping[str, Found] = {
    "battery-load-test": WEAK_BATTERY,
    "battery-running-volts": Found(
        typed="11.0", what="The battery sagged while the pump ran.", swap="Sagged while the pump ran"
    ),
}
# A battery is replaced at the check-up of this year, unless the story is about its end.
BATTERY_YEARS = 5
BATTERY_STORIES = frozenset({"battery_nearly_done", "battery_swapped"})


def tell(house: DemoHouse, *, cast: Cast, visitor: Visitor, on: date) -> Place:
    """Registers a house with its system and warranty, and plays its story up to a day."""
    place = begin(house, cast=cast, visitor=visitor, on=on)
    STORIES[house.story](place)
    measure(place)
    return place


def _year(
    place: Place, year: int, *, days: int | None = None, found: Mapping[str, Found] | None = None
) -> CheckUp | None:
    """The check-up of one year, some days round its due day: on the tablet lately, on paper before."""
    due_on = place.house.due_on(year)
    shift = place.visitor.source.randint(-24, 18) if days is None else days
    on = min(due_on + timedelta(days=shift), place.on - timedelta(days=1))
    if year == BATTERY_YEARS and place.house.story not in BATTERY_STORIES:
        _new_battery_as_planned(place, on)
    # The contractor tried the tablet out in a few houses four years ago and went from paper to it two years ago in half
    # of the county, a year ago in the rest; what was on paper was taken over as records of our own.
    days_on_the_tablet = 1462 if place.house.number % 10 == 1 else 731 if place.house.number % 2 else 366
    if due_on < place.on - timedelta(days=days_on_the_tablet) and found is None:
        _paper(place, on, provider=place.cast.company.name, by_us=True)
        return None
    return place.visitor.check_up(
        system=place.system,
        basement=place.basement,
        occasion=f"checkup:{place.warranty.pk}:{due_on.isoformat()}",
        target_on=due_on,
        on=on,
        technician=place.technician,
        desk=place.desk,
        found=found,
    )


def _new_battery_as_planned(place: Place, on: date) -> None:
    battery = Component.objects.in_place(on).filter(system=place.system, part_kind="battery").first()
    if battery is None:
        return
    systems.replace_component(
        component_id=battery.pk,
        on=on,
        because="Five years old: replaced as planned",
        failed=False,
        model=battery.model,
        serial_number=place.visitor.serial("battery"),
        swapped_by=place.technician,
        by=place.technician.actor,
        at=moment(on, 13),
    )


def _paper(place: Place, on: date, *, provider: str, by_us: bool, decide: bool = True) -> None:
    record = records.send_outside_record(
        system_id=place.system.pk,
        provider=provider,
        done_on=on,
        what="Yearly check-up, kept on paper: pumps run, battery tested, discharge and fittings seen."
        if by_us
        else "Primary pump and standby pump run, battery load tested, pit cleaned. Invoice enclosed by letter.",
        sent_by=place.desk.actor if by_us else Actor(f"owner:{place.owner.pk}", place.owner.name),
        at=moment(on + timedelta(days=9)),
        by_us=by_us,
    )
    if decide:
        records.decide_outside_record(
            record_id=record.pk,
            accepted=True,
            because="Taken over from the paper file." if by_us else "The invoice names the checks and the readings.",
            by_user=place.desk,
            at=moment(on + timedelta(days=12)),
        )


def _all_years(place: Place, *, but: tuple[int, ...] = (), last: int | None = None) -> None:
    for year in range(1, (place.years if last is None else last) + 1):
        if year not in but:
            _year(place, year)


def good(place: Place) -> None:
    """Every check-up in time, nothing found."""
    _all_years(place)


def in_grace(place: Place) -> None:
    """The due day has passed a few days ago and nobody has been there yet."""
    _all_years(place, last=place.years - 1)


def battery_swapped(place: Place) -> None:
    """The last check-up found the battery weak; it was swapped on the spot."""
    _all_years(place, last=place.years - 1)
    _year(place, place.years, found=FLOODED_WEAK)


def failed_primary_pump(place: Place) -> None:
    """The primary pump failed in a storm; the claim was decided from the record."""
    _all_years(place)
    lost_on = place.on - timedelta(days=40 + 5 * (place.house.number % 6))
    pump = Component.objects.in_place(lost_on).get(system=place.system, part_kind="primary_pump")
    claim = claims.report_claim(
        warranty_id=place.warranty.pk,
        part_kind="primary_pump",
        component_id=pump.pk,
        lost_on=lost_on,
        reported_on=lost_on,
        what="The primary pump hummed and did not lift in the storm of that night. The standby pump held the water.",
        cause="part_failed",
        by=place.desk.actor,
        at=moment(lost_on),
    )
    repaired_on = lost_on + timedelta(days=1)
    _replace_failed_pump(place, pump, claim_id=claim.pk, lost_on=lost_on, repaired_on=repaired_on)
    decided = claims.decide_claim(
        claim_id=claim.pk, cost=Decimal("486.50"), by_user=place.desk, at=moment(repaired_on + timedelta(days=2))
    )
    book_repair(place, decided, repaired_on=repaired_on)


def _replace_failed_pump(place: Place, pump: Component, *, claim_id: int, lost_on: date, repaired_on: date) -> None:
    """The claim call: somebody goes the next day and puts a new pump in."""
    request = visits.ask_for_visit(
        occasion=f"claim:{claim_id}",
        system_id=place.system.pk,
        kind=VisitKind.CLAIM,
        target_on=repaired_on,
        earliest_on=lost_on,
        latest_on=lost_on + timedelta(days=3),
        minutes=75,
        reason="The primary pump failed; the standby pump carries the house.",
        carry=f"primary pump ({pump.model})",
        by=place.desk.actor,
        at=moment(lost_on),
    )
    appointment = visits.give_to_technician(
        request_id=request.pk,
        technician_id=place.technician.pk,
        on=repaired_on,
        made_by=place.desk,
        by=place.desk.actor,
        at=moment(lost_on),
    )
    send_what_was_queued()
    _put_in_new_pump(place, pump, on=repaired_on)
    finish_by_hand(
        appointment_id=appointment.pk,
        minutes_taken=105,
        work_done="New primary pump set and run twice from the float; check valve and outlet looked at.",
        office_note="The old pump is in the van, for its maker.",
        by=place.technician.actor,
        at=moment(repaired_on),
    )


def _put_in_new_pump(place: Place, pump: Component, *, on: date) -> None:
    systems.replace_component(
        component_id=pump.pk,
        on=on,
        because="Seized bearing: failed in a storm",
        failed=True,
        model=pump.model,
        serial_number=place.visitor.serial("primary_pump"),
        swapped_by=place.technician,
        by=place.technician.actor,
        at=moment(on),
    )


def frozen_discharge(place: Place) -> None:
    """The discharge froze in the winter; the fitting was put right and the outlet raised."""
    _all_years(place, last=place.years - 1)
    _year(
        place,
        place.years,
        found={
            "relief-open": Found(
                what="The freeze-relief fitting was packed with ice and leaves; the line beyond it was frozen.",
                repaired="Thawed and cleaned the fitting, freed the line, raised the outlet above the snow.",
            )
        },
    )
    goodwill_for_cut_line(place)


def open_finding(place: Place) -> None:
    """The last check-up found a discharge outlet that washes back to the wall; it is still to be mended."""
    _all_years(place, last=place.years - 1)
    _year(
        place,
        place.years,
        found={"line-outlet": Found(what="The outlet is buried in mulch; water comes back along the wall.")},
    )


def gap_in_care(place: Place) -> None:
    """One year nobody came; the check-ups went on the year after. Cover stays, the gap stays on the record."""
    _all_years(place, but=(place.years - 1,))


def outside_record(place: Place) -> None:
    """The owner changed technicians for a year and sent the record in; a second record waits to be looked at."""
    _all_years(place, last=place.years - 2)
    _paper(place, place.house.due_on(place.years - 1) + timedelta(days=6), provider="Tillman Pump & Drain", by_us=False)
    _year(place, place.years)
    _paper(place, place.on - timedelta(days=20), provider="Tillman Pump & Drain", by_us=False, decide=False)


def sold_properly(place: Place) -> None:
    """The house was sold after its check-up; the warranty went over to the buyer and the certificate was issued."""
    _all_years(place)
    closing_on = min(place.house.due_on(place.years) + timedelta(days=45), place.on - timedelta(days=3))
    transfer, buyer = _ask_transfer(place, closing_on)
    send_what_was_queued()
    told_on = closing_on - timedelta(days=12)
    transfers.record_transfer_fee(transfer_id=transfer, paid_on=told_on, by=place.desk.actor, at=moment(told_on))
    transfers.accept_transfer(
        transfer_id=transfer, accepted_on=closing_on, name=buyer.name, by=place.desk.actor, at=moment(closing_on)
    )
    send_what_was_queued()
    transfers.issue_transfer(
        transfer_id=transfer, on=closing_on, by=place.desk.actor, at=moment(closing_on, 19), issued_by=place.desk
    )


def transfer_open(place: Place) -> None:
    """The house is being sold: check and fee are done, the closing was put off a week, the buyer has to accept."""
    _all_years(place)
    transfer, _ = _ask_transfer(place, place.on + timedelta(days=9))
    place.visitor.check_up(
        system=place.system,
        basement=place.basement,
        occasion=f"transfer check:{transfer}",
        target_on=place.on - timedelta(days=3),
        on=place.on - timedelta(days=3),
        technician=place.technician,
        desk=place.desk,
        kind=VisitKind.TRANSFER,
    )
    paid_on = place.on - timedelta(days=4)
    transfers.record_transfer_fee(transfer_id=transfer, paid_on=paid_on, by=place.desk.actor, at=moment(paid_on))
    put_off_at = moment(place.on - timedelta(days=2))
    put_off_to = place.on + timedelta(days=16)
    change_closing(transfer_id=transfer, closing_on=put_off_to, by=place.desk.actor, at=put_off_at)


def sold_missing_checkup(place: Place) -> None:
    """The house is sold but last year's check-up is missing; the transfer waits for it."""
    _all_years(place, last=place.years - 1)
    _ask_transfer(place, place.on + timedelta(days=9))


def _ask_transfer(place: Place, closing_on: date) -> tuple[int, Person]:
    if place.house.buyer is None:
        raise ValueError(f"House {place.house.number} of the scenario is sold but has no buyer.")
    told_on = min(closing_on - timedelta(days=20), place.on - timedelta(days=5))
    buyer = register_person(place.house.buyer, place.home, place.desk.actor, told_on)
    transfer = transfers.ask_transfer(
        warranty_id=place.warranty.pk,
        buyer_id=buyer.pk,
        closing_on=closing_on,
        notified_on=told_on,
        by=place.desk.actor,
        at=moment(told_on),
    )
    return transfer.pk, buyer


STORIES: dict[str, Callable[[Place], None]] = {
    "good": good,
    "new": good,
    "due_soon": good,
    "battery_nearly_done": good,
    "in_grace": in_grace,
    "battery_swapped": battery_swapped,
    "failed_primary_pump": failed_primary_pump,
    "frozen_discharge": frozen_discharge,
    "open_finding": open_finding,
    "gap_in_care": gap_in_care,
    "outside_record": outside_record,
    "sold_properly": sold_properly,
    "transfer_open": transfer_open,
    "sold_missing_checkup": sold_missing_checkup,
}
