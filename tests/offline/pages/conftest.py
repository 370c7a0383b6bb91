"""The tablet's screens in a real Chromium, with the real store behind them and, where it matters, no network."""

from tests.journeys.conftest import Window, chromium, window

__all__ = ["Window", "chromium", "window"]
