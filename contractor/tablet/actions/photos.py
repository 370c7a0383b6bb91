"""Photos come in by chunks: each is written where it belongs, and only a whole photo with the right hash is done."""

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.db import transaction

from contractor.accounts.models import User
from contractor.celery import start_after_commit
from contractor.checkups.photos import MOST_BYTES
from contractor.tablet.errors import PhotoSpoiled, PhotoTooBig, WrongOffset
from contractor.tablet.models import Event, PhotoUpload
from contractor.tablet.photo_store import name_of, sha256_of, size_of, write_at

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
    if upload is None:
        return NOTHING
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
    state = photo_state(photo_id=photo_id)
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
    for appointment_id in sorted(set(_visits_with(photo_id))):
        start_after_commit("contractor.tablet.tasks.apply_visit", appointment_id=appointment_id)
    return PhotoState(offset=length, is_done=True, sha256=stored)


def _visits_with(photo_id: UUID) -> list[int]:
    return list(Event.objects.filter(field=f"photo:{photo_id}").values_list("appointment_id", flat=True))
