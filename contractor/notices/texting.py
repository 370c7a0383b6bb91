"""Hands text messages to whoever carries them.

``settings.TEXT_GATEWAY`` names a class with ``send``; a carrier's own is written beside this one, in a few lines. The
default writes each message into a file that a person can read.
"""

from importlib import import_module
from typing import Protocol

from django.conf import settings


class TextNotSent(Exception):
    """A message was not taken. ``for_good``: trying again won't help (no such number, a landline, blocked)."""

    def __init__(self, reason: str, *, for_good: bool) -> None:
        super().__init__(reason)
        self.for_good = for_good


class Gateway(Protocol):
    """Carries text messages."""

    def send(self, *, to: str, text: str, reference: str) -> None:
        """Hands a message over for a number such as +15555550142. ``reference`` comes back in reports of failure.

        Raises TextNotSent.
        """


class FileGateway:
    """Writes messages into ``settings.TEXT_FILE_PATH``, one file each."""

    def send(self, *, to: str, text: str, reference: str) -> None:
        """Writes the number and the text."""
        settings.TEXT_FILE_PATH.mkdir(parents=True, exist_ok=True)
        (settings.TEXT_FILE_PATH / f"{reference}.txt").write_text(f"To: {to}\n\n{text}\n", encoding="utf-8")


def gateway() -> Gateway:
    """The gateway of this installation."""
    module, _, name = settings.TEXT_GATEWAY.rpartition(".")
    made: Gateway = getattr(import_module(module), name)()
    return made
