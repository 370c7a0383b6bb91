"""What rooms above this one say about their messages: whether one still holds, and what is attached to it.

Their functions are named, not imported, as in ``personal_links``. They are called when the message is sent, so that
they know what is true at that moment.
"""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from importlib import import_module
from typing import Any

from contractor.notices.models import Notice

_doubts: dict[str, str] = {}
_attachments: dict[str, str] = {}


@dataclass(frozen=True, slots=True, kw_only=True)
class Attachment:
    """A text file beside a message; ``kind`` and ``parameters`` become its MIME type."""

    name: str
    content: str
    kind: str
    parameters: dict[str, str]


def doubted_by(template: str, function: str) -> None:
    """Says which function (``notice``, ``at``) gives the reason why a message of this template is not to go out any
    more, or an empty text."""
    _doubts[template] = function


def attached_by(template: str, function: str) -> None:
    """Says which function (``notice``, ``at``) makes the attachment of a message of this template, or None."""
    _attachments[template] = function


def doubt(notice: Notice, at: datetime) -> str:
    """Why a message is not to go out any more; empty when it may."""
    function = _doubts.get(notice.template)
    return str(_named(function)(notice=notice, at=at)) if function else ""


def attachment(notice: Notice, at: datetime) -> Attachment | None:
    """What goes with a message."""
    function = _attachments.get(notice.template)
    made: Attachment | None = _named(function)(notice=notice, at=at) if function else None
    return made


def _named(function: str) -> Callable[..., Any]:
    module, _, name = function.rpartition(".")
    made: Callable[..., Any] = getattr(import_module(module), name)
    return made
