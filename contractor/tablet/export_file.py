"""The file that a tablet saves its work to when nothing else gets through.

NDJSON in UTF-8, one object a line: first ``{"kind": "tablet-export", "v": 1, "device", "person", "made"}``, then
``{"kind": "event", "id", "raw", "sha256"}`` for each event and ``{"kind": "photo", "id", "sha256", "base64"}`` for each
photo. Every line stands for itself, so a torn one loses nothing but itself.
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
class SavedPhoto:
    """A photo in the file."""

    id: UUID
    sha256: str
    content: bytes


@dataclass(frozen=True, slots=True, kw_only=True)
class TornLine:
    """A line that could not be read, by its number from 1."""

    number: int


def read_export(file: BinaryIO) -> Iterator[dict[str, Any] | SavedPhoto | TornLine]:
    """The items of a saved file in their order: events as a tablet hands them in, photos, and lines that are torn.

    Raises UnreadableFile at once when it is not such a file.
    """
    head = _object(file.readline(LONGEST_LINE))
    if head is None or head.get("kind") != "tablet-export":
        raise UnreadableFile("its first line does not say so.")
    if head.get("v") != 1:
        raise UnreadableFile("it is of a newer version than this server reads. Update the server first.")
    number = 1
    while line := file.readline(LONGEST_LINE):
        number += 1
        if line.strip():
            yield _item(_object(line)) or TornLine(number=number)


def _item(line: dict[str, Any] | None) -> dict[str, Any] | SavedPhoto | None:
    if line is None:
        return None
    if line.get("kind") == "event":
        return {"id": line.get("id"), "raw": line.get("raw"), "sha256": line.get("sha256")}
    if line.get("kind") != "photo":
        return None
    try:
        content = base64.b64decode(line["base64"], validate=True)
        return SavedPhoto(id=UUID(line["id"]), sha256=str(line["sha256"]), content=content)
    except (KeyError, TypeError, ValueError, AttributeError, binascii.Error):
        return None


def _object(line: bytes) -> dict[str, Any] | None:
    try:
        found = json.loads(line)
    except (ValueError, RecursionError):
        return None
    return found if isinstance(found, dict) else None
