"""Moving one stop of a round a place up or down."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from contractor.visits.rules import moved_by_one

CASES: tuple[tuple[list[int], str, bool, list[int]], ...] = (
    # stops, which is moved, up?, the new order
    ([1, 2, 3], "2", True, [2, 1, 3]),
    ([1, 2, 3], "2", False, [1, 3, 2]),
    ([1, 2, 3], "1", False, [2, 1, 3]),
    ([1, 2, 3], "3", True, [1, 3, 2]),
    # at the end already
    ([1, 2, 3], "1", True, [1, 2, 3]),
    ([1, 2, 3], "3", False, [1, 2, 3]),
    ([7], "7", True, [7]),
    # not there
    ([1, 2, 3], "4", True, [1, 2, 3]),
    ([1, 2, 3], "", False, [1, 2, 3]),
    ([1, 2, 3], "-1", True, [1, 2, 3]),
    ([], "1", True, []),
    # a number inside another number is another stop
    ([11, 1, 12], "1", True, [1, 11, 12]),
)


@pytest.mark.parametrize(("stops", "moved", "up", "order"), CASES)
def test_one_stop_changes_places_with_its_neighbour(stops: list[int], moved: str, up: bool, order: list[int]) -> None:
    assert moved_by_one(stops, moved=moved, up=up) == order


@given(stops=st.lists(st.integers(1, 99), unique=True, min_size=2), data=st.data())
def test_down_undoes_up_and_no_stop_is_lost(stops: list[int], data: st.DataObject) -> None:
    moved = str(data.draw(st.sampled_from(stops[1:])))
    before = list(stops)
    up = moved_by_one(stops, moved=moved, up=True)
    assert sorted(up) == sorted(stops)
    assert up != stops
    assert moved_by_one(up, moved=moved, up=False) == stops == before
