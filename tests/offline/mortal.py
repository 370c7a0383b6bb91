"""The site with a worker that dies in the middle of a request: SIGKILL at a chosen moment, as when memory runs out.

The moment stands in a file of the data folder (``Site.die_at``); the worker takes the file away and dies once.
"""

import os
import signal
from collections.abc import Callable
from typing import Any

from django.conf import settings

from contractor.wsgi import application
from tests.offline.moments import FILE

__all__ = ["application"]


def _die_at(moment: str) -> None:
    file = settings.DATA_DIR / FILE
    try:
        if file.read_text() == moment:
            file.unlink()
            os.kill(os.getpid(), signal.SIGKILL)
    except FileNotFoundError:
        return


def _mortal(owner: Any, name: str, moment: str, *, is_after: bool = False) -> None:
    """Puts the moment before, or after, everything that a function does."""
    whole: Callable[..., Any] = getattr(owner, name)

    def deadly(*args: Any, **kwargs: Any) -> Any:
        if not is_after:
            _die_at(moment)
        done = whole(*args, **kwargs)
        if is_after:
            _die_at(moment)
        return done

    setattr(owner, name, deadly)


def _arm() -> None:
    from contractor.tablet import views
    from contractor.tablet.actions import apply, door, photos

    _mortal(door, "note_events", "events written, not committed", is_after=True)
    _mortal(door, "_receipts", "events committed, no receipt")
    _mortal(views, "visits_told", "receipts made, no answer", is_after=True)
    _mortal(apply._Application, "_note", "check-up half made")
    _mortal(photos, "write_at", "photo on disk, not committed", is_after=True)
    _mortal(views, "_photo", "photo committed, no answer")


_arm()
