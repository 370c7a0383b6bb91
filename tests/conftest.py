"""The small cast that every test knows.

Nora Vance works in the office, Theo Marsh is a technician and Ruth Adair the manager of Harrow Creek Dry Basements.
Iris Holloway owns the house at 12 Millrace Lane with its system of May 14, 2020; Ben Okafor is the buyer;
the neighbour at 14 Millrace Lane must see nothing of it.
"""

from collections.abc import Callable
from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from django.core.cache import cache
from django.test import Client, override_settings
from hypothesis import settings as hypothesis_settings

from contractor.accounts.models import Company, Role, User
from contractor.celery import app
from contractor.core import clock
from contractor.core.audit import Actor
from contractor.properties.models import Ownership, Person, Property
from contractor.systems.models import System
from contractor.warranties.signing_keys import make_key
from tests.factories import (
    CompanyFactory,
    OwnershipFactory,
    PersonFactory,
    PropertyFactory,
    SystemFactory,
    UserFactory,
)

# How long an example takes says how busy the machine is, and nothing about the code.
hypothesis_settings.register_profile("suite", deadline=None)
hypothesis_settings.load_profile("suite")


@pytest.fixture(scope="session")
def signing_keys(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a real signing key, made now: journeys happen today, and older certificates it may sign too."""
    folder = tmp_path_factory.mktemp("keys")
    with override_settings(SIGNING_KEY_DIR=folder):
        make_key(organisation="Harrow Creek Dry Basements LLC", at=clock.now())
    return folder


@pytest.fixture(autouse=True)
def own_folders(settings: object, tmp_path: Path, signing_keys: Path) -> None:
    """Photos, documents and mail of a test go to its own folder; certificates are signed with the tests' key."""
    settings.MEDIA_ROOT = tmp_path / "media"  # type: ignore[attr-defined]
    settings.SIGNING_KEY_DIR = signing_keys  # type: ignore[attr-defined]
    settings.EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"  # type: ignore[attr-defined]


@pytest.fixture(autouse=True)
def nothing_in_the_cache() -> None:
    """Wrong tries on the check page that an earlier test counted are forgotten."""
    cache.clear()


@pytest.fixture(autouse=True)
def tasks_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Background work is done in the test's own process, at once, whatever broker the environment names."""
    app.conf.task_always_eager = True
    monkeypatch.setattr("contractor.celery.beside", lambda work: work())


@pytest.fixture
def on() -> date:
    """The day on which tests happen."""
    return date(2026, 5, 4)


@pytest.fixture
def at() -> datetime:
    """The moment at which tests happen: the morning of ``on`` where the company is."""
    return datetime(2026, 5, 4, 14, 0, tzinfo=UTC)


@pytest.fixture
def company(db: None) -> Company:
    return CompanyFactory()


@pytest.fixture
def nora(company: Company) -> User:
    return UserFactory(name="Nora Vance", email="nora@example.com", role=Role.OFFICE)


@pytest.fixture
def theo(company: Company) -> User:
    return UserFactory(name="Theo Marsh", email="theo@example.com", role=Role.TECHNICIAN)


@pytest.fixture
def ruth(company: Company) -> User:
    return UserFactory(name="Ruth Adair", email="ruth@example.com", role=Role.MANAGER)


@pytest.fixture
def office(nora: User) -> Actor:
    return nora.actor


@pytest.fixture
def iris(db: None) -> Person:
    return PersonFactory(name="Iris Holloway", email="iris@example.com")


@pytest.fixture
def buyer(db: None) -> Person:
    return PersonFactory(name="Ben Okafor", email="ben@example.com")


@pytest.fixture
def house(company: Company) -> Property:
    return PropertyFactory(street="12 Millrace Lane")


@pytest.fixture
def neighbour(company: Company) -> Ownership:
    """The house next door and who owns it."""
    return OwnershipFactory(
        property=PropertyFactory(street="14 Millrace Lane"),
        person=PersonFactory(name="Mr. Nextdoor", email="nextdoor@example.com"),
    )


@pytest.fixture
def ownership(house: Property, iris: Person) -> Ownership:
    return OwnershipFactory(property=house, person=iris, from_on=date(2019, 6, 1))


@pytest.fixture
def system(house: Property, ownership: Ownership) -> System:
    return SystemFactory(property=house, installed_on=date(2020, 5, 14))


@pytest.fixture
def signed_in_as() -> Callable[[User], Client]:
    """A browser in which this member of staff is signed in."""

    def sign_in(user: User) -> Client:
        client = Client()
        client.force_login(user)
        return client

    return sign_in
