"""Fills an empty site for the offline tests, in its own process: two technicians, and stops of today for each.

Prints one JSON object: ``{"theo": {"id", "session", "visits"}, "ana": {…}}``.
"""

import json
from datetime import date, datetime
from typing import Any

import django

STOPS = 8


def person(name: str, email: str) -> Any:
    from contractor.accounts.models import Role
    from tests.factories import UserFactory

    made = UserFactory(name=name, email=email, role=Role.TECHNICIAN)
    made.set_password("dry-basement-demo")
    made.save()
    return made


def session_of(user: Any) -> str:
    from django.conf import settings
    from django.test import Client

    client = Client()
    client.force_login(user)
    return str(client.cookies[settings.SESSION_COOKIE_NAME].value)


def fill(on: date, at: datetime) -> dict[str, Any]:
    from tests.checkups import factories as made
    from tests.factories import CompanyFactory, SystemFactory
    from tests.visits.factories import AppointmentFactory, RequestFactory

    CompanyFactory()
    made.published_checklist(at)
    first = SystemFactory(installed_on=date(2020, 5, 14))
    made.parts_of(first)
    told = {}
    for name, user in (
        ("theo", person("Theo Marsh", "theo@example.com")),
        ("ana", person("Ana Delgado", "ana@example.com")),
    ):
        systems = [first] if name == "theo" else []
        systems += [SystemFactory(installed_on=date(2021, 5, 14)) for _ in range(STOPS - len(systems))]
        visits = [
            AppointmentFactory(
                request=RequestFactory(system=system, target_on=on), technician=user, on=on, stop_number=stop
            )
            for stop, system in enumerate(systems, start=1)
        ]
        told[name] = {"id": user.pk, "session": session_of(user), "visits": [str(visit.pk) for visit in visits]}
    return told


def main() -> None:
    django.setup()
    from contractor.core import clock

    print(json.dumps(fill(clock.today(), clock.now())))  # noqa: T201 - read by the tests


if __name__ == "__main__":
    main()
