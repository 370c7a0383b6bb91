"""Many warranties at once for the benchmarks: houses, owners, systems, parts, check-ups, and terms as they ship."""

from collections.abc import Sequence
from datetime import UTC, date, datetime, time, timedelta
from random import Random

from contractor.accounts.models import User
from contractor.checkups.models import Checklist, CheckUp
from contractor.properties.models import Ownership, Person, Property
from contractor.systems.models import Component, System
from contractor.visits.models import Appointment
from contractor.visits.models import Request as VisitRequest
from contractor.warranties.models import TermsEdition, Warranty
from tests.factories import LONG_AGO
from tests.visits.factories import AppointmentFactory, RequestFactory

ON = date(2026, 5, 4)
KINDS = ("channel", "liner", "pit", "primary_pump", "float_switch", "standby_pump", "battery")
TOWNS = ("Larkmere", "Alder Falls", "Quarry Bend", "Tamarack", "Millbrook Heights")
AT_ONCE = 10_000


def many_warranties(
    terms: TermsEdition, technician: User, count: int, *, checked_years_ago: Sequence[int] = (2, 1)
) -> None:
    """Writes ``count`` houses, each with a warranty of 2 to 13 years, seven parts and the check-ups of two years.

    Every tenth was not checked last year; every twentieth has a battery that replaced an earlier one.
    """
    checklist, _ = Checklist.objects.get_or_create(
        edition=1, defaults={"name": "Yearly check-up", "created_at": LONG_AGO, "published_at": LONG_AGO}
    )
    source = Random(4)
    for start in range(0, count, AT_ONCE):
        systems = _systems(range(start, min(start + AT_ONCE, count)), source)
        _issue(terms, systems)
        _parts(systems)
        for years_ago in checked_years_ago:
            seen = [one for number, one in enumerate(systems) if years_ago == 2 or number % 10]
            _check_ups(seen, technician, checklist, years_ago)


def _systems(numbers: Sequence[int], source: Random) -> list[System]:
    houses = Property.objects.bulk_create(
        Property(
            street=f"{number} Long Lane",
            city=TOWNS[number % len(TOWNS)],
            state="PA",
            postcode="17099",
            created_at=LONG_AGO,
            address_key=f"long-lane-{number}",
        )
        for number in numbers
    )
    people = Person.objects.bulk_create(Person(name=f"Owner {number}", created_at=LONG_AGO) for number in numbers)
    days = [ON - timedelta(days=source.randint(800, 4800)) for _ in houses]
    Ownership.objects.bulk_create(
        Ownership(property=house, person=person, from_on=day)
        for house, person, day in zip(houses, people, days, strict=True)
    )
    return System.objects.bulk_create(
        System(property=house, installed_on=day, created_at=datetime.combine(day, time(15), tzinfo=UTC))
        for house, day in zip(houses, days, strict=True)
    )


def _issue(terms: TermsEdition, systems: Sequence[System]) -> None:
    owners = dict(Ownership.objects.filter(property_id__gte=systems[0].property_id).values_list("property_id", "pk"))
    Warranty.objects.bulk_create(
        Warranty(
            number=f"L{system.pk}",
            system=system,
            terms=terms,
            issued_on=system.installed_on,
            issued_to_id=owners[system.property_id],
            issued_at=LONG_AGO,
        )
        for system in systems
    )


def _parts(systems: Sequence[System]) -> None:
    Component.objects.bulk_create(
        (Component(system=one, part_kind=kind, in_on=one.installed_on) for one in systems for kind in KINDS),
        batch_size=AT_ONCE,
    )
    Component.objects.bulk_create(
        Component(
            system=one,
            part_kind="battery",
            in_on=one.installed_on - timedelta(days=700),
            out_on=one.installed_on + timedelta(days=1),
            out_because="Weak.",
            failed=one.pk % 3 == 0,
        )
        for one in systems[::20]
    )


def _check_ups(systems: Sequence[System], technician: User, checklist: Checklist, years_ago: int) -> None:
    day = ON - timedelta(days=365 * years_ago - 20)
    moment = datetime.combine(day, time(15), tzinfo=UTC)
    visits = VisitRequest.objects.bulk_create(RequestFactory.build(system=one, target_on=day) for one in systems)
    stops = Appointment.objects.bulk_create(
        AppointmentFactory.build(request=visit, technician=technician, on=day, state="done") for visit in visits
    )
    CheckUp.objects.bulk_create(
        CheckUp(
            appointment=stop,
            system=one,
            kind="checkup",
            checklist=checklist,
            technician=technician,
            started_at=moment,
            done_on=day,
            finished_at=moment,
        )
        for stop, one in zip(stops, systems, strict=True)
    )
