"""A file that a tablet saved, handed in at the office: through the same door as everything else."""

from collections import Counter
from dataclasses import dataclass
from datetime import datetime
from typing import Any, BinaryIO

from contractor.accounts.models import User
from contractor.core.errors import Refusal
from contractor.tablet.actions.door import DUPLICATE, QUARANTINED, STORED, Sender, take_items
from contractor.tablet.actions.photos import take_chunk
from contractor.tablet.export_file import SavedEvent, SavedPhoto, TornLine, read_export

AT_ONCE = 50


@dataclass(frozen=True, slots=True, kw_only=True)
class Imported:
    """What became of a file: how many events were new, known before, or set aside; photos; lines
    that were torn; and whether the file had its end."""

    new: int
    known: int
    set_aside: int
    photos: int
    torn: tuple[int, ...]
    spoiled_photos: int
    is_whole: bool


def import_export(*, file: BinaryIO, by_user: User, at: datetime) -> Imported:
    """Takes every line of a saved file. The same file again changes nothing. Raises UnreadableFile."""
    counted: Counter[str] = Counter()
    torn: list[int] = []
    waiting: list[Any] = []
    sender = Sender(person=by_user, is_office=True)

    def hand_in() -> None:
        counted.update(receipt.status for receipt in take_items(items=waiting, sender=sender, at=at))
        waiting.clear()

    for item in read_export(file):
        if isinstance(item, TornLine):
            torn.append(item.number)
        elif isinstance(item, SavedPhoto):
            counted["photo" if _take_photo(item, by_user, at) else "spoiled"] += 1
        elif isinstance(item, SavedEvent):
            waiting.append(item.item)
            if len(waiting) == AT_ONCE:
                hand_in()
        else:
            counted["end"] += 1
    if waiting:
        hand_in()
    return Imported(
        new=counted[STORED],
        known=counted[DUPLICATE],
        set_aside=counted[QUARANTINED],
        photos=counted["photo"],
        torn=tuple(torn),
        spoiled_photos=counted["spoiled"],
        is_whole=bool(counted["end"]),
    )


def _take_photo(photo: SavedPhoto, by_user: User, at: datetime) -> bool:
    try:
        taken = take_chunk(
            photo_id=photo.id,
            offset=0,
            length=len(photo.content),
            sha256=photo.sha256,
            content=photo.content,
            person=by_user,
            at=at,
            is_from_the_start=True,
        )
    except Refusal:
        return False
    return taken.is_done
