"""Reads the demo scenario and counts its days from the day on which it is loaded."""

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from typing import Any

from dateutil.relativedelta import relativedelta

from contractor.estimates.rules.normals import Normals
from contractor.office.first_setup import read_fixture


@dataclass(frozen=True, slots=True, kw_only=True)
class DemoPerson:
    """An invented owner or buyer."""

    name: str
    email: str
    phone: str


@dataclass(frozen=True, slots=True, kw_only=True)
class DemoHouse:
    """One house of the scenario. ``installed_on`` is also the day on which its warranty was issued."""

    number: int
    story: str
    street: str
    city: str
    postcode: str
    latitude: float
    longitude: float
    access_notes: str
    owner: DemoPerson
    buyer: DemoPerson | None
    system_name: str
    installed_on: date
    parts: tuple[str, ...]
    walls: tuple[tuple[str, str, float], ...]

    def due_on(self, year: int) -> date:
        """The anniversary of the installation in the given year of the warranty (1 is the first)."""
        return self.installed_on + relativedelta(years=year)


@dataclass(frozen=True, slots=True, kw_only=True)
class Scenario:
    """Everything that the demo tells."""

    company: dict[str, Any]
    staff: tuple[dict[str, str], ...]
    weeks: tuple[dict[str, Any], ...]
    climates: tuple[Normals, ...]
    houses: tuple[DemoHouse, ...]


def read_scenario(*, on: date) -> Scenario:
    """The scenario as of a day."""
    data = read_fixture("demo/scenario.json")
    return Scenario(
        company=data["company"],
        staff=tuple(data["staff"]),
        weeks=tuple(data["weeks"]),
        climates=tuple(_climate(row) for row in data["climates"]),
        houses=tuple(_house(number, row, on) for number, row in enumerate(data["houses"], start=1)),
    )


def moment(on: date, hour: int = 15) -> datetime:
    """A moment on a day, in the working hours of a company on the east coast."""
    return datetime.combine(on, time(hour), tzinfo=UTC)


def _climate(row: dict[str, Any]) -> Normals:
    values: dict[str, Any] = {name: tuple(value) if isinstance(value, list) else value for name, value in row.items()}
    return Normals(**values)


def _house(number: int, row: dict[str, Any], on: date) -> DemoHouse:
    system = row["system"]
    anniversary = on + timedelta(days=system["days_to_anniversary"])
    # A new house has its first anniversary ahead of it.
    years = max(system["years"], 1)
    return DemoHouse(
        number=number,
        story=row["story"],
        street=row["street"],
        city=row["city"],
        postcode=row["postcode"],
        latitude=row["latitude"],
        longitude=row["longitude"],
        access_notes=row["access_notes"],
        owner=DemoPerson(**row["owner"]),
        buyer=DemoPerson(**row["buyer"]) if "buyer" in row else None,
        system_name=system["name"],
        installed_on=anniversary - relativedelta(years=years),
        parts=tuple(system["parts"]),
        walls=tuple((letter, name, length_m) for letter, name, length_m in system["walls"]),
    )
