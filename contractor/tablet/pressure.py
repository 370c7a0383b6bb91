"""How many tablets a server process serves at once. The others are told at once to come again.

Two hundred tablets that come home in one moment would otherwise stand in line for every thread of the server, in front
of whoever opens a page, until the first of them give up: then the server works on for tablets that have gone.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from threading import BoundedSemaphore
from typing import Final

from contractor.tablet.errors import Busy

# Of the eight threads that a process has (README): the others answer the office, and send tablets away.
MOST_AT_ONCE: Final = 6
AGAIN_SECONDS: Final = 5

PLACES: Final = BoundedSemaphore(MOST_AT_ONCE)


@contextmanager
def a_place() -> Iterator[None]:
    """One of the places at the door, for as long as the block runs. Raises Busy at once when all are taken."""
    if not PLACES.acquire(blocking=False):
        raise Busy(AGAIN_SECONDS)
    try:
        yield
    finally:
        PLACES.release()
