"""Where photos on their way lie: one file each under the media folder, written by offset and forced to the disk."""

import hashlib
import os
from pathlib import Path
from uuid import UUID

from django.conf import settings

FOLDER = "tablet/incoming"


def name_of(photo_id: UUID) -> str:
    """The place of a photo under the media folder."""
    return f"{FOLDER}/{photo_id}"


def write_at(name: str, offset: int, content: bytes) -> None:
    """Writes a chunk at its place, cuts off what an unfinished earlier try left behind it, and waits for the disk."""
    path = _path(name)
    path.parent.mkdir(parents=True, exist_ok=True)
    is_new = not path.exists()
    with path.open("r+b" if not is_new else "w+b") as file:
        file.seek(offset)
        file.write(content)
        file.truncate()
        file.flush()
        os.fsync(file.fileno())
    if is_new:
        folder = os.open(path.parent, os.O_RDONLY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)


def sha256_of(name: str) -> str:
    """The hash of the stored bytes, read back from the disk; empty when there is no such file."""
    path = _path(name)
    if not path.exists():
        return ""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def size_of(name: str) -> int:
    """How many bytes are stored."""
    path = _path(name)
    return path.stat().st_size if path.exists() else 0


def content_of(name: str) -> bytes:
    """The stored bytes."""
    return _path(name).read_bytes()


def forget(name: str) -> None:
    """Takes a file away whose bytes are kept elsewhere now."""
    _path(name).unlink(missing_ok=True)


def _path(name: str) -> Path:
    return Path(settings.MEDIA_ROOT) / name
