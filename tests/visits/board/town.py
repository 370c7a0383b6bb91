"""A small town for the board: Theo and Ana at work from Monday to Friday, and houses along a road to the north."""

from datetime import date, datetime, time

from contractor.accounts.models import Company, User
from contractor.core.audit import Actor
from contractor.visits.actions.working_days import Rest, set_working_pattern
from contractor.visits.models import Appointment, Request
from contractor.visits.skills import Skill
from tests.factories import OwnershipFactory
from tests.visits.factories import AppointmentFactory, RequestFactory

MONDAY, TUESDAY, WEDNESDAY, FRIDAY = date(2026, 5, 4), date(2026, 5, 5), date(2026, 5, 6), date(2026, 5, 8)
SUNDAY = date(2026, 5, 10)
LUNCH = Rest(minutes=30, earliest=time(11, 30), latest=time(13, 30))


def set_yard(company: Company) -> None:
    company.latitude, company.longitude = 40.91, -77.32
    company.save()


def put_to_work(technician: User, *, by: Actor, at: datetime, days: range = range(5)) -> None:
    set_working_pattern(
        technician_id=technician.pk,
        valid_from=date(2026, 1, 5),
        hours=dict.fromkeys(days, (time(8), time(17))),
        rest=LUNCH,
        skills=list(Skill),
        by=by,
        at=at,
    )


def wanted(number: int, *, city: str = "Larkmere", **changed: object) -> Request:
    """A request at a house with an owner, 550 m further along the road for each number."""
    place = {
        "system__property__latitude": 40.92 + number / 200,
        "system__property__longitude": -77.33,
        "system__property__street": f"{number} Quarry Lane",
        "system__property__city": city,
    }
    made: Request = RequestFactory(**{**place, **changed})
    OwnershipFactory(property=made.system.property)
    return made


def given(technician: User, number: int, *, on: date = TUESDAY, stop: int = 1, **changed: object) -> Appointment:
    made: Appointment = AppointmentFactory(
        request=wanted(number), technician=technician, on=on, stop_number=stop, **changed
    )
    return made


def name(request: Request) -> str:
    return f"request:{request.pk}"
