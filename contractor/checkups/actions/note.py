"""The technician's own words to the owner, which the report prints."""

from datetime import datetime

from django.db import transaction

from contractor.accounts.models import User
from contractor.checkups.actions.own_checkup import open_checkup, record
from contractor.checkups.models import CheckUp
from contractor.core import audit


@transaction.atomic
def write_to_owner(
    *, checkup_id: int, text: str, by_user: User, at: datetime, is_handed_in: bool = False
) -> CheckUp:
    """Keeps what the technician says to the owner; empty takes it back. The same words once more change nothing.

    Raises AlreadyFinished, or NotYourVisit unless a tablet hands it in.
    """
    checkup = open_checkup(checkup_id, by_user, is_handed_in=is_handed_in)
    words = text.strip()
    if checkup.note_to_owner == words:
        return checkup
    before = audit.snapshot(checkup)
    checkup.note_to_owner = words
    checkup.save()
    record(
        checkup, checkup, verb="note to owner written", by=by_user.actor, at=at, before=before,
        after=audit.snapshot(checkup),
    )
    return checkup
