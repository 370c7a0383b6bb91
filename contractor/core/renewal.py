"""What is derived above is renewed after facts below have changed, without anything low importing anything high.

An app that keeps a derived copy (standings, life estimates) registers a follower in its ``AppConfig.ready``; an
action that changes facts of a house says so with ``facts_changed``; followers run once the change is committed.
"""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar

from django.db import transaction

Follower = Callable[[int], None]
_followers: dict[str, Follower] = {}
_held: ContextVar[set[int] | None] = ContextVar("houses whose renewal is held back", default=None)


def follow(name: str, follower: Follower) -> None:
    """Registers what is to run with the property's id after its facts have changed. The name keeps it single."""
    _followers[name] = follower


def facts_changed(*, property_id: int) -> None:
    """Runs every follower for this house after the present transaction has been committed.

    A follower that fails must not undo or hide the fact that was written: it is logged, and the nightly
    refresh catches up.
    """
    held = _held.get()
    if held is not None:
        held.add(property_id)
        return
    for follower in _followers.values():
        transaction.on_commit(_calling(follower, property_id), robust=True)


@contextmanager
def once_at_the_end() -> Iterator[None]:
    """For a long piece of work on many facts, such as an import: each house is renewed once, when it is done."""
    houses: set[int] = set()
    token = _held.set(houses)
    try:
        yield
    finally:
        _held.reset(token)
        for property_id in sorted(houses):
            facts_changed(property_id=property_id)


def _calling(follower: Follower, property_id: int) -> Callable[[], None]:
    """Not a ``partial``: Django names the function that failed in its log, and a partial has no name."""

    def call() -> None:
        follower(property_id)

    return call
