"""The working days of the demo: everybody's usual week, and who is away soon."""

from collections.abc import Sequence
from datetime import date, datetime, time, timedelta
from typing import Any

from contractor.accounts.models import User
from contractor.core.audit import Actor
from contractor.visits.actions.working_days import grant_leave, set_own_day, set_working_pattern
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


def note_absences(technicians: Sequence[User], *, on: date, by: Actor, at: datetime) -> None:
    """Who is away soon: a week of leave in three weeks, and a van in the workshop in two."""
    monday = on + timedelta(days=21 - on.weekday())
    grant_leave(
        technician_id=technicians[1].pk,
        first_on=monday,
        last_on=monday + timedelta(days=4),
        reason="Visiting her sister",
        by=by,
        at=at,
    )
    set_own_day(
        technician_id=technicians[0].pk,
        on=monday - timedelta(days=6),
        hours=None,
        because="Van in the workshop",
        by=by,
        at=at,
    )
