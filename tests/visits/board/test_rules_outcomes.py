"""What an owner was told, and when it still holds."""

from datetime import date, time, timedelta

import pytest

from contractor.visits.board.outcomes import Held, still_holds
from contractor.visits.routing.problem import seconds_after_midnight

DAY = date(2026, 5, 5)
HOURS = (time(8), time(10))


@pytest.mark.parametrize(
    ("hours", "is_begun", "days_on", "begins", "holds"),
    [
        pytest.param(HOURS, False, 0, time(8), True, id="from the first minute"),
        pytest.param(HOURS, False, 0, time(10), True, id="to the last"),
        pytest.param(HOURS, False, 0, time(7, 59), False, id="not before"),
        pytest.param(HOURS, False, 0, time(10, 1), False, id="nor after"),
        pytest.param(HOURS, False, 1, time(9), False, id="not on another day at the same hour"),
        pytest.param((None, None), False, 0, time(15), True, id="only the day was told"),
        pytest.param((None, None), False, -1, time(15), False, id="and that is another"),
        pytest.param(HOURS, True, 0, time(11), True, id="somebody is there already"),
    ],
)
def test_what_an_owner_was_told_holds(
    hours: tuple[time | None, time | None], is_begun: bool, days_on: int, begins: time, holds: bool
) -> None:
    held = Held(
        appointment_id=1,
        technician="theo",
        day=DAY,
        arrive_from=hours[0],
        arrive_until=hours[1],
        is_begun=is_begun,
    )
    assert still_holds(held, DAY + timedelta(days=days_on), seconds_after_midnight(begins)) is holds
