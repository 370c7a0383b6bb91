"""Fills an empty site for the offline tests, in its own process: two technicians, stops of today for each, an office.

Ana was to go to Theo's last stop before it was given back to him. Prints one JSON object:
``{"theo": {"id", "session", "visits"}, "ana": {…}, "nora": {…}}``.
"""

import json
from datetime import date, datetime
from typing import Any

import django

STOPS = 8


def person(name: str, email: str, *, role: str = "technician") -> Any:
    from tests.factories import UserFactory

    made = UserFactory(name=name, email=email, role=role)
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
    from contractor.visits.actions.appointments import move_appointment
    from tests.checkups import factories as made
    from tests.factories import CompanyFactory, SystemFactory
    from tests.visits.factories import AppointmentFactory, RequestFactory

    CompanyFactory()
    made.published_checklist(at)
    first = SystemFactory(installed_on=date(2020, 5, 14))
    made.parts_of(first)
    nora = person("Nora Vance", "nora@example.com", role="office")
    told: dict[str, Any] = {"nora": {"id": nora.pk, "session": session_of(nora), "visits": []}}
    technicians = {
        "theo": person("Theo Marsh", "theo@example.com"),
        "ana": person("Ana Delgado", "ana@example.com"),
    }
    for name, user in technicians.items():
        systems = [first] if name == "theo" else []
        systems += [SystemFactory(installed_on=date(2021, 5, 14)) for _ in range(STOPS - len(systems))]
        visits = [
            AppointmentFactory(
                request=RequestFactory(system=system, target_on=on), technician=user, on=on, stop_number=stop
            )
            for stop, system in enumerate(systems, start=1)
        ]
        told[name] = {"id": user.pk, "session": session_of(user), "visits": [str(visit.pk) for visit in visits]}
    shared = int(told["theo"]["visits"][-1])
    for name in ("ana", "theo"):
        move_appointment(
            appointment_id=shared, technician_id=technicians[name].pk, on=on, by=nora.actor, at=at
        )
    return told


def main() -> None:
    django.setup()
    from contractor.core import clock

    print(json.dumps(fill(clock.today(), clock.now())))  # noqa: T201 - read by the tests


if __name__ == "__main__":
    main()
