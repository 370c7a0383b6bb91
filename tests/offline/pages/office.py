"""Whether the office's side is still at work: a tablet that was told too late goes on, and so does the request."""

import threading
import time
from typing import Any

from django.core.signals import request_finished, request_started

PAUSE_S, DEADLINE_S = 0.1, 60.0


class _Desk:
    """Counts the requests that are being answered."""

    def __init__(self) -> None:
        self._lock, self._at_work = threading.Lock(), 0
        request_started.connect(self._begun)
        request_finished.connect(self._ended)

    def _begun(self, **_: Any) -> None:
        with self._lock:
            self._at_work += 1

    def _ended(self, **_: Any) -> None:
        with self._lock:
            self._at_work = max(0, self._at_work - 1)

    def forget_earlier(self) -> None:
        """Counts from here on."""
        with self._lock:
            self._at_work = 0

    def wait_until_idle(self) -> None:
        """Returns when no request is under way. Raises TimeoutError after a minute."""
        until = time.monotonic() + DEADLINE_S
        while self._at_work:
            if time.monotonic() > until:
                raise TimeoutError("The office is still at work.")
            time.sleep(PAUSE_S)


DESK = _Desk()
