"""A house of the demo: registered with its owner, its system and its first warranty."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from contractor.accounts.models import User
from contractor.core.audit import Actor
from contractor.office.demo.basements import Basement, basement_of
from contractor.office.demo.cast import Cast
from contractor.office.demo.scenario import DemoHouse, DemoPerson, moment
from contractor.office.demo.visits import Visitor
from contractor.properties import actions as properties
from contractor.properties.models import Person, Property
from contractor.systems import actions as systems
from contractor.systems.models import System
from contractor.warranties.actions import issuing
from contractor.warranties.models import Warranty


@dataclass(slots=True, kw_only=True)
class Place:
    """A house of the demo while its story is told."""

    house: DemoHouse
    home: Property
    owner: Person
    system: System
    warranty: Warranty
    cast: Cast
    visitor: Visitor
    basement: Basement
    on: date

    @property
    def technician(self) -> User:
        """Whoever usually comes to this house."""
        return self.cast.technicians[self.house.number % len(self.cast.technicians)]

    @property
    def desk(self) -> User:
        """Whoever in the office looks after this house."""
        return self.cast.office[self.house.number % len(self.cast.office)]

    @property
    def years(self) -> int:
        """How many due days have come and gone."""
        year = 0
        while self.house.due_on(year + 1) <= self.on:
            year += 1
        return year


def begin(house: DemoHouse, *, cast: Cast, visitor: Visitor, on: date) -> Place:
    """Registers a house as it was on the day of its installation."""
    desk, at = cast.office[house.number % len(cast.office)], moment(house.installed_on)
    home = properties.register_property(
        street=house.street,
        city=house.city,
        state=cast.company.state,
        postcode=house.postcode,
        access_notes=house.access_notes,
        latitude=house.latitude,
        longitude=house.longitude,
        position_source=Property.PositionSource.BY_HAND,
        by=desk.actor,
        at=at,
    )
    owner = register_person(house.owner, home, desk.actor, house.installed_on)
    bought_on = house.installed_on - timedelta(days=200 + 37 * (house.number % 40))
    properties.begin_ownership(property_id=home.pk, person_id=owner.pk, on=bought_on, by=desk.actor, at=at)
    system = _install(house, home, cast=cast, visitor=visitor, by=desk.actor, at=at)
    warranty = issuing.issue_warranty(
        system_id=system.pk,
        terms_id=cast.terms.pk,
        issued_on=house.installed_on,
        by=desk.actor,
        at=at,
        issued_by=desk,
    )
    return Place(
        house=house,
        home=home,
        owner=owner,
        system=system,
        warranty=warranty,
        cast=cast,
        visitor=visitor,
        basement=basement_of(house, cast=cast),
        on=on,
    )


def measure(place: Place) -> None:
    """Writes down what was measured of the line and pit: at the last visit, or when the system was built."""
    recorded = {name: place.basement.built[name] for name in place.basement.recorded}
    if not recorded:
        return
    last = place.system.checkups.filter(finished_at__isnull=False).order_by("-done_on").first()
    on = last.done_on if last else place.house.installed_on
    by_user = last.technician if last else place.technician
    systems.measure_as_built(
        system_id=place.system.pk, values=recorded, on=on, by_user=by_user, by=by_user.actor, at=moment(on, 15)
    )


def _install(house: DemoHouse, home: Property, *, cast: Cast, visitor: Visitor, by: Actor, at: datetime) -> System:
    system = systems.install_system(
        property_id=home.pk, installed_on=house.installed_on, name=house.system_name, by=by, at=at
    )
    for kind in house.parts:
        model = cast.model_for(kind, house.number)
        systems.install_component(
            system_id=system.pk,
            part_kind=kind,
            on=house.installed_on,
            model=model,
            serial_number=visitor.serial(kind) if model.kind.serial else "",
            in_by=cast.technicians[house.number % len(cast.technicians)],
            by=by,
            at=at,
        )
    for letter, name, length_m in house.walls:
        systems.treat_wall(
            system_id=system.pk,
            letter=letter,
            name=name,
            length_m=length_m,
            has_liner="liner" in house.parts,
            by=by,
            at=at,
        )
    return system


def register_person(person: DemoPerson, home: Property, by: Actor, on: date) -> Person:
    """Registers an owner or buyer of the demo."""
    return properties.register_person(
        name=person.name, email=person.email, phone=person.phone, property_id=home.pk, by=by, at=moment(on)
    )
