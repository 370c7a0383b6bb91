"""Keeps an uploaded register where only the person who sent it can reach it, until it is done with.

Two files per upload: the register as it came, and how far its taking over has gone. They lie in the media folder,
which all workers share and which survives a restart; no address serves it.
"""

import json
import os
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path
from typing import Final
from uuid import UUID

from django.conf import settings

LASTS: Final = timedelta(hours=24)


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptRegister:
    """One upload: who sent which file when, and how far it was taken over.

    ``present_before`` counts the rows that were in the register when the taking over began, None before that;
    ``done_to_line`` is the last row that was dealt with; ``refused`` are sentences by row number.
    """

    upload_id: UUID
    user_id: int
    name: str
    sent_at: datetime
    data: bytes = field(repr=False)
    present_before: int | None = None
    done_to_line: int = 0
    refused: Mapping[int, str] = field(default_factory=dict)


def kept_register(*, user_id: int, upload_id: UUID, at: datetime) -> KeptRegister | None:
    """This person's upload; None when there is none with this number, or not any more."""
    state = _folder(user_id) / f"{upload_id}.json"
    try:
        known = json.loads(state.read_text(encoding="utf-8"))
        sent_at = datetime.fromisoformat(known["sent_at"])
        if _is_over(sent_at, at):
            return None
        data = state.with_suffix(".csv").read_bytes()
    except FileNotFoundError:
        return None
    return KeptRegister(
        upload_id=upload_id,
        user_id=user_id,
        name=known["name"],
        sent_at=sent_at,
        data=data,
        present_before=known["present_before"],
        done_to_line=known["done_to_line"],
        refused={int(line): sentence for line, sentence in known["refused"].items()},
    )


def latest_register(*, user_id: int, at: datetime) -> KeptRegister | None:
    """What this person sent last and neither finished with nor let expire."""
    found = [kept_register(user_id=user_id, upload_id=UUID(path.stem), at=at) for path in _states(_folder(user_id))]
    return max((kept for kept in found if kept), key=lambda kept: kept.sent_at, default=None)


def write_register(kept: KeptRegister) -> None:
    """Puts a new upload into its place. The state stands first, so that no register lies there unknown."""
    folder = _folder(kept.user_id)
    for private in (folder.parent, folder):
        private.mkdir(mode=0o700, parents=True, exist_ok=True)
    write_progress(kept)
    (folder / f"{kept.upload_id}.csv").write_bytes(kept.data)


def write_progress(kept: KeptRegister) -> None:
    """Notes how far the taking over has gone, whole or not at all."""
    state = _folder(kept.user_id) / f"{kept.upload_id}.json"
    known = {
        "name": kept.name,
        "sent_at": kept.sent_at.isoformat(),
        "present_before": kept.present_before,
        "done_to_line": kept.done_to_line,
        "refused": dict(kept.refused),
    }
    part = state.with_suffix(f".{os.getpid()}.part")
    part.write_text(json.dumps(known), encoding="utf-8")
    part.replace(state)


def remove_registers_of(user_id: int) -> None:
    """Removes everything that this person has sent."""
    for path in _states(_folder(user_id)):
        _remove(path)


def remove_expired_registers(at: datetime) -> None:
    """Removes everybody's uploads that are over."""
    root = _folder(0).parent
    for folder in root.iterdir() if root.is_dir() else ():
        for path in _states(folder):
            try:
                sent_at = datetime.fromisoformat(json.loads(path.read_text(encoding="utf-8"))["sent_at"])
            except FileNotFoundError:
                continue
            if _is_over(sent_at, at):
                _remove(path)


def _is_over(sent_at: datetime, at: datetime) -> bool:
    return at - sent_at > LASTS


def _folder(user_id: int) -> Path:
    return Path(settings.MEDIA_ROOT) / "imports" / str(user_id)


def _states(folder: Path) -> Iterator[Path]:
    return iter(sorted(folder.glob("*.json")))


def _remove(state: Path) -> None:
    """The register goes before its state, so that no register is left behind unknown."""
    for path in [*state.parent.glob(f"{state.stem}*.part"), state.with_suffix(".csv"), state]:
        path.unlink(missing_ok=True)
