"""Theo's tablet with a visit to Iris's house on it, where a pit, a primary pump and a battery are in."""

from datetime import date, datetime

import pytest

from contractor.accounts.models import Role, User
from contractor.checkups.models import Checklist
from contractor.systems.models import Component, System
from contractor.visits.models import Appointment
from tests.checkups import factories as made
from tests.factories import UserFactory
from tests.tablet.hands import Tablet, registered


@pytest.fixture
def parts(system: System) -> dict[str, Component]:
    return made.parts_of(system)


@pytest.fixture
def checklist(company: object, at: datetime) -> Checklist:
    return made.published_checklist(at)


@pytest.fixture
def visit(system: System, parts: dict[str, Component], theo: User, checklist: Checklist, on: date) -> Appointment:
    return made.appointment_for(system, theo, on)


@pytest.fixture
def ana(theo: User) -> User:
    """Another technician, who was never sent to this house."""
    return UserFactory(name="Ana Delgado", email="ana@example.com", role=Role.TECHNICIAN)


@pytest.fixture
def tablet(visit: Appointment, theo: User, at: datetime) -> Tablet:
    return registered(theo, visit, at)
