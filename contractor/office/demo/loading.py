"""Loads the demo: plays every story, then does what a night and a morning in the office would do."""

from datetime import date, datetime, time, timedelta
from random import Random

from django.db import transaction

from contractor.checkups.actions.repairs import ask_for_all_repairs
from contractor.core import renewal
from contractor.core.audit import SYSTEM
from contractor.estimates.actions import refresh_all_estimates
from contractor.office.demo.cast import Cast, gather
from contractor.office.demo.claims import claim_something
from contractor.office.demo.inquiries import ask_with_certificates
from contractor.office.demo.messages import post_letters_of_the_past, send_what_was_queued
from contractor.office.demo.owners import answer, wish_for_ways
from contractor.office.demo.place import Place
from contractor.office.demo.plans import sell_plans
from contractor.office.demo.repairs import ring_up
from contractor.office.demo.scenario import moment, read_scenario
from contractor.office.demo.selling import sell
from contractor.office.demo.stories import tell
from contractor.office.demo.tablets import hand_in_from_tablets
from contractor.office.demo.visits import Visitor
from contractor.office.demo.weeks import note_absences
from contractor.visits.actions import appointments as visits
from contractor.visits.models import Request, VisitKind
from contractor.visits.shifts import shifts_between
from contractor.warranties.actions.care import raise_due_requests
from contractor.warranties.actions.standing import refresh_all_standings

# How many stops each technician has on the next days: today first.
STOPS = ((3, 2, 2), (2, 2, 1), (2, 1, 0), (1, 0, 1))


def load(*, on: date, at: datetime) -> list[Place]:
    """Plays the whole scenario in one transaction and returns its houses.

    The messages of the past went out in the past: each is marked sent at its own moment, and the caller sees to
    it that no real mail leaves.
    """
    scenario = read_scenario(on=on)
    with transaction.atomic():
        with renewal.once_at_the_end():
            cast = gather(scenario, at=moment(min(house.installed_on for house in scenario.houses)))
            visitor = Visitor(source=Random(20))  # noqa: S311  # the same demo at every load
            places = [tell(house, cast=cast, visitor=visitor, on=on) for house in scenario.houses]
        sell(places, cast=cast, on=on)
        ask_with_certificates(places, on=on)
        claim_something(places, on=on)
        send_what_was_queued()
        sell_plans(places, cast=cast, on=on, send=send_what_was_queued)
        raise_due_requests(on=on, at=at)
        ask_for_all_repairs(on=on, at=at)
        refresh_all_standings(on=on)
        refresh_all_estimates(on=on, at=at)
        _give_out_visits(cast, on=on, at=at)
        ring_up(places, desk=cast.office[0], on=on, at=at)
        note_absences(cast.technicians, on=on, by=cast.office[0].actor, at=at)
        hand_in_from_tablets(cast, on=on, at=at)
        send_what_was_queued()
        answer(on=on, at=at)
        send_what_was_queued()
        post_letters_of_the_past(before=at)
    return places


def _give_out_visits(cast: Cast, *, on: date, at: datetime) -> None:
    """Fills the rounds of today and the next working days with the check-ups that are due, the most pressing first.

    Today has rounds even on a Sunday: whoever loads the demo wants to see a day's work.
    """
    waiting = list(
        Request.objects.without_appointment().filter(kind=VisitKind.CHECKUP).order_by("target_on", "pk")[:40]
    )
    wish_for_ways(waiting, at=at)
    at_work = {(int(shift.technician), shift.day) for shift in shifts_between(on, on + timedelta(days=2 * len(STOPS)))}
    day = on
    for stops in STOPS:
        while day != on and day.weekday() >= 5:
            day += timedelta(days=1)
        for technician, count in zip(cast.technicians, stops, strict=True):
            for stop in range(count if day == on or (technician.pk, day) in at_work else 0):
                if not waiting:
                    return
                request = waiting.pop(0)
                given = visits.give_to_technician(
                    request_id=request.pk,
                    technician_id=technician.pk,
                    on=day,
                    arrive_from=time(8 + 2 * stop),
                    arrive_until=time(10 + 2 * stop),
                    made_by=cast.office[0],
                    by=SYSTEM,
                    at=at,
                )
                if stop == 1:
                    visits.confirm_appointment(appointment_id=given.pk, by=SYSTEM, at=at)
        day += timedelta(days=1)
