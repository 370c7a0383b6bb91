"""A house with a pit, a primary pump and a battery, and its check-up as Theo has just begun it."""

from datetime import date, datetime

import pytest

from contractor.accounts.models import Role, User
from contractor.checkups.models import CheckUp
from contractor.systems.models import Component, System
from tests.checkups import factories as made
from tests.factories import UserFactory


@pytest.fixture
def parts(system: System) -> dict[str, Component]:
    return made.parts_of(system)


@pytest.fixture
def checkup(system: System, parts: dict[str, Component], theo: User, on: date, at: datetime) -> CheckUp:
    made.published_checklist(at)
    return made.begun(system, theo, on, at)


@pytest.fixture
def ana(theo: User) -> User:
    """Another technician, who must see nothing of Theo's check-ups."""
    return UserFactory(name="Ana Delgado", email="ana@example.com", role=Role.TECHNICIAN)
