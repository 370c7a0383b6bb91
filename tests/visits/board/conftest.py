from datetime import datetime

import pytest

from contractor.accounts.models import Company, Role, User
from contractor.core.audit import Actor
from tests.factories import UserFactory
from tests.visits.board.town import put_to_work, set_yard


@pytest.fixture
def ana(company: Company) -> User:
    made: User = UserFactory(name="Ana Delgado", email="ana@example.com", role=Role.TECHNICIAN)
    return made


@pytest.fixture
def at_work(company: Company, theo: User, ana: User, office: Actor, at: datetime) -> None:
    set_yard(company)
    put_to_work(theo, by=office, at=at)
    put_to_work(ana, by=office, at=at)
