"""A few houses of the demo with their histories, for journeys in a browser: rich pages without the wait for sixty."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, datetime
from random import Random

from contractor.accounts.models import User
from contractor.celery import app
from contractor.core import renewal
from contractor.core.audit import SYSTEM
from contractor.estimates.actions import refresh_all_estimates
from contractor.notices.actions import send_notice
from contractor.notices.models import Notice
from contractor.office.demo.cast import Cast, gather
from contractor.office.demo.place import Place
from contractor.office.demo.scenario import moment, read_scenario
from contractor.office.demo.stories import tell
from contractor.office.demo.visits import Visitor
from contractor.visits.actions.appointments import give_to_technician
from contractor.visits.models import Request
from contractor.warranties.actions.care import raise_due_requests
from contractor.warranties.actions.standing import refresh_all_standings


@dataclass(frozen=True)
class Town:
    """The houses by what happened there, and who looks after them."""

    cast: Cast
    places: dict[str, Place]

    @property
    def nora(self) -> User:
        return self.cast.office[0]

    @property
    def theo(self) -> User:
        return self.cast.technicians[0]

    @property
    def ruth(self) -> User:
        return self.cast.manager


@contextmanager
def nothing_in_the_background() -> Iterator[None]:
    """What each write of the past would begin is done once for all at the end."""
    before = app.conf.task_always_eager, app.conf.broker_url
    app.conf.task_always_eager, app.conf.broker_url = False, "memory://localhost/"
    try:
        yield
    finally:
        app.conf.task_always_eager, app.conf.broker_url = before


def build(*stories: str, on: date, at: datetime, stop_today: bool = True) -> Town:
    """Plays the first house of each story; check-ups that are due are asked for.

    With ``stop_today`` the most pressing of them is a stop of Theo's today.
    """
    scenario = read_scenario(on=on)
    chosen = {story: next(house for house in scenario.houses if house.story == story) for story in stories}
    with nothing_in_the_background():
        with renewal.once_at_the_end():
            cast = gather(scenario, at=moment(min(house.installed_on for house in chosen.values())))
            visitor = Visitor(source=Random(7))
            places = {story: tell(house, cast=cast, visitor=visitor, on=on) for story, house in chosen.items()}
        raise_due_requests(on=on, at=at)
        refresh_all_standings(on=on)
        refresh_all_estimates(on=on, at=at)
        town = Town(cast, places)
        request = Request.objects.without_appointment().filter(kind="checkup").order_by("target_on").first()
        if request is not None and stop_today:
            give_to_technician(
                request_id=request.pk, technician_id=town.theo.pk, on=on, made_by=town.nora, by=SYSTEM, at=at
            )
        for notice_id, queued_at in Notice.objects.filter(state="queued").values_list("pk", "queued_at"):
            send_notice(notice_id=notice_id, at=queued_at)
    return town
