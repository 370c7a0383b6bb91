"""The working days of the demo: everybody's usual week, and who is away soon."""

from datetime import datetime, time
from typing import Any

from contractor.accounts.models import User
from contractor.core.audit import Actor
from contractor.visits.actions.working_days import set_working_pattern
from contractor.visits.working import Depot, Rest


def give_usual_week(week: dict[str, Any], *, technician: User, by: Actor, at: datetime) -> None:
    """Gives a technician the week of the scenario, from the company's first day on."""
    begins, ends = (time.fromisoformat(hour) for hour in week["hours"])
    home = Depot(at="home", latitude=week["home"][0], longitude=week["home"][1]) if "home" in week else Depot()
    set_working_pattern(
        technician_id=technician.pk,
        valid_from=at.date(),
        hours=dict.fromkeys(week["weekdays"], (begins, ends)),
        rest=Rest(minutes=30, earliest=time(11, 30), latest=time(13, 30)),
        skills=week["skills"],
        room=week["room"],
        end=home,
        start=home,
        by=by,
        at=at,
    )
