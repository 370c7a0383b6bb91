"""Rows of visits for tests: a request whose window lies around its wished day, and appointments."""

from datetime import date, timedelta

import factory
from factory.django import DjangoModelFactory

from contractor.accounts.models import Role
from contractor.visits.models import Appointment, Request
from tests.factories import LONG_AGO, SystemFactory, UserFactory


class RequestFactory(DjangoModelFactory):
    class Meta:
        model = Request

    occasion = factory.Sequence(lambda n: f"test:{n}")
    # A street of its own: the cast of conftest lives in Millrace Lane.
    system = factory.SubFactory(SystemFactory, property__street=factory.Sequence(lambda n: f"{n + 1} Quarry Lane"))
    kind = "checkup"
    target_on = date(2026, 5, 14)
    earliest_on = factory.LazyAttribute(lambda row: row.target_on - timedelta(days=60))
    latest_on = factory.LazyAttribute(lambda row: row.target_on + timedelta(days=60))
    minutes = 55
    reason = "The yearly check-up."
    created_at = LONG_AGO


class AppointmentFactory(DjangoModelFactory):
    class Meta:
        model = Appointment

    request = factory.SubFactory(RequestFactory)
    technician = factory.SubFactory(UserFactory, role=Role.TECHNICIAN)
    on = date(2026, 5, 12)
    stop_number = 1
    made_at = LONG_AGO
