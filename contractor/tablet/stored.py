"""Reads of what has come in whole."""

from uuid import UUID

from contractor.tablet.models import PhotoUpload
from contractor.tablet.rules.events import TabletEvent
from contractor.tablet.rules.finish import named_photos


def photos_here(finish: TabletEvent | None) -> dict[str, str]:
    """The hash of each photo that a finishing names and that has come in whole."""
    named = [photo_id for name, _ in named_photos(finish) if (photo_id := _uuid(name))] if finish else []
    whole = PhotoUpload.objects.filter(pk__in=named, done_at__isnull=False)
    return {str(photo_id): sha256 for photo_id, sha256 in whole.values_list("pk", "sha256")}


def _uuid(text: str) -> UUID | None:
    try:
        return UUID(text)
    except ValueError:
        return None
