"""Followers run after the commit, once per fact, and never undo what was written."""

from collections.abc import Iterator

import pytest
from django.db import transaction

from contractor.core import renewal


@pytest.fixture(autouse=True)
def own_followers() -> Iterator[None]:
    """Each test begins without the followers that the apps registered, and puts them back."""
    kept = dict(renewal._followers)
    renewal._followers.clear()
    yield
    renewal._followers.clear()
    renewal._followers.update(kept)


@pytest.mark.django_db
def test_a_follower_runs_with_the_house_after_the_commit_and_not_before(
    django_capture_on_commit_callbacks: object,
) -> None:
    seen: list[int] = []
    renewal.follow("standing", seen.append)
    with django_capture_on_commit_callbacks(execute=True):  # type: ignore[operator]
        renewal.facts_changed(property_id=7)
        assert seen == []
    assert seen == [7]


@pytest.mark.django_db(transaction=True)
def test_nothing_runs_when_the_change_was_rolled_back() -> None:
    seen: list[int] = []
    renewal.follow("standing", seen.append)
    with transaction.atomic():
        renewal.facts_changed(property_id=7)
        transaction.set_rollback(True)
    assert seen == []


@pytest.mark.django_db(transaction=True)
def test_a_follower_that_fails_stops_neither_the_write_nor_the_others() -> None:
    seen: list[int] = []

    def failing(property_id: int) -> None:
        raise RuntimeError("estimate broke")

    renewal.follow("estimates", failing)
    renewal.follow("standing", seen.append)
    with transaction.atomic():
        renewal.facts_changed(property_id=7)
    assert seen == [7]


@pytest.mark.django_db(transaction=True)
def test_a_name_registered_twice_runs_once() -> None:
    first: list[int] = []
    second: list[int] = []
    renewal.follow("standing", first.append)
    renewal.follow("standing", second.append)
    with transaction.atomic():
        renewal.facts_changed(property_id=7)
    assert (first, second) == ([], [7])


@pytest.mark.django_db(transaction=True)
def test_a_long_piece_of_work_renews_each_house_once_when_it_is_done() -> None:
    seen: list[int] = []
    renewal.follow("standing", seen.append)
    with renewal.once_at_the_end():
        for property_id in (9, 7, 9, 7, 9):
            with transaction.atomic():
                renewal.facts_changed(property_id=property_id)
        assert seen == []
    assert seen == [7, 9]


@pytest.mark.django_db(transaction=True)
def test_what_was_written_before_a_long_piece_of_work_broke_off_is_renewed_all_the_same() -> None:
    seen: list[int] = []
    renewal.follow("standing", seen.append)

    def break_off() -> None:
        with renewal.once_at_the_end():
            renewal.facts_changed(property_id=7)
            raise RuntimeError

    with pytest.raises(RuntimeError):
        break_off()
    assert seen == [7]
