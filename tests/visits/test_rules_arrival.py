"""The hours that an owner is promised (two of them, and from when on: common practice, no source)."""

from datetime import time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from contractor.visits.arrival import promised
from contractor.visits.routing.problem import seconds_after_midnight

LAST_MINUTE = time(23, 59)


@pytest.mark.parametrize(
    ("begins", "day_begins", "expected"),
    [
        pytest.param(time(10, 0), time(7, 30), (time(9, 30), time(11, 30)), id="half an hour either way at least"),
        pytest.param(time(10, 29), time(7, 30), (time(9, 30), time(11, 30)), id="on the half hour before that"),
        pytest.param(time(10, 30), time(7, 30), (time(10, 0), time(12, 0)), id="the next half hour"),
        pytest.param(time(7, 37), time(7, 30), (time(7, 30), time(9, 30)), id="not before the technician sets out"),
        pytest.param(time(8, 5), time(8, 0), (time(8, 0), time(10, 0)), id="nor for another's working day"),
        pytest.param(time(7, 50), time(7, 45), (time(7, 30), time(9, 30)), id="a day that begins between is rounded"),
        pytest.param(time(0, 5), time(0, 0), (time(0, 0), time(2, 0)), id="a day begins at midnight at the earliest"),
        pytest.param(time(23, 30), time(20, 0), (time(23, 0), LAST_MINUTE), id="and ends at midnight"),
    ],
)
def test_an_owner_is_promised_two_hours(begins: time, day_begins: time, expected: tuple[time, time]) -> None:
    assert promised(seconds_after_midnight(begins), seconds_after_midnight(day_begins)) == expected


@given(day_begins=st.integers(0, 86_000), after=st.integers(0, 86_000))
def test_what_is_promised_is_kept_when_the_round_runs_as_planned(day_begins: int, after: int) -> None:
    begins = min(day_begins + after, seconds_after_midnight(LAST_MINUTE))
    first, last = (seconds_after_midnight(at) for at in promised(begins, day_begins))
    assert first <= begins <= last
