"""The tablet's screens in a real Chromium, with the real store behind them and, where it matters, no network."""

import pytest

from tests.journeys.conftest import Window, chromium, window
from tests.offline.pages.office import DESK

__all__ = ["Window", "chromium", "window"]


@pytest.fixture(autouse=True)
def only_requests_of_this_test() -> None:
    """An answer that a test of another kind never read to its end counts as under way for ever."""
    DESK.forget_earlier()
