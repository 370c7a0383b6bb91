"""Photos come in by chunks: each is written where it belongs, and only a whole photo with the right hash is done."""

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.db import transaction

from contractor.accounts.models import User
from contractor.checkups.photos import MOST_BYTES
from contractor.tablet.actions.door import note_events
from contractor.tablet.errors import PhotoSpoiled, PhotoTooBig, WrongOffset
from contractor.tablet.models import Event, PhotoUpload, TabletVisit
from contractor.tablet.photo_store import name_of, sha256_of, size_of, write_at
from contractor.tablet.rules.events import read_event
from contractor.tablet.rules.finish import named_photos
from contractor.tablet.stored import photos_here

CHUNK_BYTES = 256 * 1024


@dataclass(frozen=True, slots=True, kw_only=True)
class PhotoState:
    """How far a photo has come: ``sha256`` is that of the stored bytes once it is whole."""

    offset: int
    is_done: bool
    sha256: str | None


NOTHING = PhotoState(offset=0, is_done=False, sha256=None)


def photo_state(*, photo_id: UUID) -> PhotoState:
    """How far a photo has come. What was lost from the disk is asked for again."""
    upload = PhotoUpload.objects.filter(pk=photo_id).first()
    return NOTHING if upload is None else _state(upload)


def _state(upload: PhotoUpload) -> PhotoState:
    there = size_of(upload.file)
    if upload.done_at is not None and there == upload.length:
        return PhotoState(offset=upload.length, is_done=True, sha256=upload.sha256)
    return PhotoState(offset=min(upload.offset, there), is_done=False, sha256=None)


def take_chunk(
    *,
    photo_id: UUID,
    offset: int,
    length: int,
    sha256: str,
    content: bytes,
    person: User,
    at: datetime,
    is_from_the_start: bool = False,
) -> PhotoState:
    """Adds a chunk to a photo and says how far it is; ``is_from_the_start`` begins a half-sent photo anew.

    Raises PhotoTooBig, WrongOffset with the offset to go on from, or PhotoSpoiled when the whole has another hash
    than was announced and has to come again.
    """
    if not 0 < length <= MOST_BYTES:
        raise PhotoTooBig(MOST_BYTES // 1024 // 1024)
    state = _add(photo_id, offset, length, sha256, content, person, at, is_from_the_start)
    if state is None:
        raise PhotoSpoiled
    return state


@transaction.atomic
def _add(
    photo_id: UUID,
    offset: int,
    length: int,
    sha256: str,
    content: bytes,
    person: User,
    at: datetime,
    is_from_the_start: bool,
) -> PhotoState | None:
    PhotoUpload.objects.bulk_create(
        [
            PhotoUpload(
                id=photo_id,
                length=length,
                announced_sha256=sha256,
                file=name_of(photo_id),
                begun_at=at,
                uploaded_by=person,
            )
        ],
        ignore_conflicts=True,
    )
    upload = PhotoUpload.objects.select_for_update().get(pk=photo_id)
    state = _state(upload)
    if state.is_done:
        return state
    if is_from_the_start or (upload.length, upload.announced_sha256) != (length, sha256):
        upload.length, upload.announced_sha256, upload.offset = length, sha256, 0
        upload.save()
        state = NOTHING
    if offset != state.offset or offset + len(content) > length:
        raise WrongOffset(state.offset)
    write_at(upload.file, offset, content)
    upload.offset = offset + len(content)
    if upload.offset < length:
        upload.save()
        return PhotoState(offset=upload.offset, is_done=False, sha256=None)
    stored = sha256_of(upload.file)
    if stored != sha256:
        upload.offset, upload.spoiled = 0, min(upload.spoiled + 1, 30_000)
        upload.save()
        return None
    upload.sha256, upload.done_at = stored, at
    upload.save()
    _note_whole(photo_id, at)
    return PhotoState(offset=length, is_done=True, sha256=stored)


def _note_whole(photo_id: UUID, at: datetime) -> None:
    """Wakes who makes check-ups once no photo is missing that a finishing names; before that there is nothing to do.

    Sixty photos would otherwise look at their visit sixty times. It is noted with the photo itself, so that the sweeper
    finds the visit should the wake-up call be lost.
    """
    named = Event.objects.filter(kind="photo", field=f"photo:{photo_id}").values_list("appointment_id", flat=True)
    for appointment_id in sorted(set(named)):
        # Locked, so that of two last photos at once the second sees the first.
        TabletVisit.objects.select_for_update().get(appointment_id=appointment_id)
        finishings = Event.objects.filter(appointment_id=appointment_id, kind="finish")
        if any(_has_its_photos(raw) for raw in finishings.values_list("raw", flat=True)):
            note_events(appointment_id, at)


def _has_its_photos(raw: str) -> bool:
    finish = read_event(raw)
    here = photos_here(finish)
    return all(here.get(name) == sha256 for name, sha256 in named_photos(finish))
