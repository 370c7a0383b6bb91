"""The file that a tablet saves its work to when nothing else gets through.

One JSON object a line, in UTF-8: first ``{"tablet_export": 1, "device", "client", "made"}``, then a line
``{"event": {"id", "raw", "sha256"}}`` for each event and ``{"photo": {"id", "sha256", "base64"}}`` for each photo, last
``{"end": {"events", "photos"}}``. Every line stands for itself: a torn one loses nothing but itself, and a file without
its end is half a file, of which everything is taken that is there.
"""

import base64
import binascii
import json
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, BinaryIO
from uuid import UUID

from contractor.tablet.errors import UnreadableFile

# A photo of 25 MB in base64, with what stands around it.
LONGEST_LINE = 36 * 1024 * 1024


@dataclass(frozen=True, slots=True, kw_only=True)
class SavedEvent:
    """An event in the file, as a tablet hands it in: whatever stood there."""

    item: Any


@dataclass(frozen=True, slots=True, kw_only=True)
class SavedPhoto:
    """A photo in the file."""

    id: UUID
    sha256: str
    content: bytes


@dataclass(frozen=True, slots=True, kw_only=True)
class TornLine:
    """A line that could not be read, by its number from 1."""

    number: int


@dataclass(frozen=True, slots=True, kw_only=True)
class WholeFile:
    """The last line: the file is whole."""


Line = SavedEvent | SavedPhoto | TornLine | WholeFile


def read_export(file: BinaryIO) -> Iterator[Line]:
    """The lines of a saved file in their order. Raises UnreadableFile at once when it is not such a file."""
    head = _object(file.readline(LONGEST_LINE))
    if head is None or "tablet_export" not in head:
        raise UnreadableFile("its first line does not say so.")
    if head["tablet_export"] != 1:
        raise UnreadableFile("it is of a newer version than this server reads. Update the server first.")
    number = 1
    while line := file.readline(LONGEST_LINE):
        number += 1
        if line.strip():
            yield _line(_object(line)) or TornLine(number=number)


def _line(line: dict[str, Any] | None) -> Line | None:
    if line is None:
        return None
    if "end" in line:
        return WholeFile()
    if "event" in line:
        return SavedEvent(item=line["event"])
    try:
        photo = line["photo"]
        content = base64.b64decode(photo["base64"], validate=True)
        return SavedPhoto(id=UUID(photo["id"]), sha256=str(photo["sha256"]), content=content)
    except (KeyError, TypeError, ValueError, AttributeError, binascii.Error):
        return None


def _object(line: bytes) -> dict[str, Any] | None:
    try:
        found = json.loads(line)
    except (ValueError, RecursionError):
        return None
    return found if isinstance(found, dict) else None
