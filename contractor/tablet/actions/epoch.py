"""Writes of the epoch: which life of the database this is."""

from datetime import datetime
from uuid import uuid4

from django.db import transaction

from contractor.core import audit
from contractor.core.audit import SYSTEM
from contractor.tablet.models import ServerEpoch

FIRST = "The first life of this database."


@transaction.atomic
def new_epoch(*, because: str, at: datetime) -> ServerEpoch:
    """Begins a new life of the database, after a restore from a backup: every tablet offers again what it keeps."""
    last = ServerEpoch.objects.select_for_update().first()
    number = last.number + 1 if last else 1
    began = ServerEpoch.objects.create(number=number, epoch=uuid4(), began_at=at, because=because.strip())
    audit.record(
        by=SYSTEM, at=at, verb="new epoch", subject=began, property_id=None, after={"epoch": str(began.epoch)}
    )
    return began


def epoch_now(*, at: datetime) -> str:
    """The epoch that holds; the first is made when it is first asked for."""
    known = ServerEpoch.objects.first() or _first(at)
    return str(known.epoch)


@transaction.atomic
def _first(at: datetime) -> ServerEpoch:
    # Two who ask at once get the same: the number stands there once.
    ServerEpoch.objects.bulk_create([ServerEpoch(number=1, began_at=at, because=FIRST)], ignore_conflicts=True)
    return ServerEpoch.objects.latest("number")
