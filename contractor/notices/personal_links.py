"""Secret links inside messages: a marker stands in the stored text, and the link is made when the message is sent.

So a token is in nobody's database or log. A room says at start-up which of its functions makes which kind of link;
the function is named, not imported, because rooms above this one have links of their own.
"""

import re
from collections.abc import Callable
from datetime import datetime
from importlib import import_module

from django.conf import settings
from django.urls import reverse

from contractor.notices.models import Notice

MARKER = re.compile(r"\{personal-link-to-([a-z-]+)(?::(\d+))?\}")

_makers: dict[str, str] = {}


def make_by(kind: str, function: str) -> None:
    """Says which function makes links of a kind: its dotted name.

    It is called with ``notice``, ``key`` (the number in the marker, None without one) and ``at``, and gives the path
    of a fresh link, or None when the reader of this message may not have one any more.
    """
    _makers[kind] = function


def marker(kind: str, key: int | None = None) -> str:
    """What stands in a stored text where a link of this kind goes."""
    return f"{{personal-link-to-{kind}}}" if key is None else f"{{personal-link-to-{kind}:{key}}}"


def public_address() -> str:
    """Where anybody asks for a link: it takes the place of a marker on paper, and of one that came too late."""
    return settings.SITE_ADDRESS + reverse("portal:ask_link")


def without_links(text: str) -> str:
    """The text for paper, where a link that lasts some weeks is no use: it names the page to ask at."""
    return MARKER.sub(lambda found: public_address(), text)


def with_links(notice: Notice, at: datetime) -> tuple[str, str, str]:
    """Text, HTML and text message with a fresh link for each marker; the same marker gives the same link in all."""
    bodies = (notice.text, notice.html) if notice.channel != Notice.Channel.TEXT else (notice.short,)
    markers = {found.group(): found for body in bodies for found in MARKER.finditer(body)}
    made = {text: _address(notice, found, at) for text, found in markers.items()}
    text, html, short = (
        MARKER.sub(lambda found: made.get(found.group(), public_address()), body)
        for body in (notice.text, notice.html, notice.short)
    )
    return text, html, short


def address_of(notice: Notice, kind: str, at: datetime) -> str:
    """A link of a kind by itself, for a header."""
    found = MARKER.fullmatch(marker(kind))
    return _address(notice, found, at) if found is not None else public_address()


def _address(notice: Notice, found: re.Match[str], at: datetime) -> str:
    function = _makers.get(found[1])
    if function is None:
        return public_address()
    module, _, name = function.rpartition(".")
    make: Callable[..., str | None] = getattr(import_module(module), name)
    path = make(notice=notice, key=int(found[2]) if found[2] else None, at=at)
    return settings.SITE_ADDRESS + path if path is not None else public_address()
