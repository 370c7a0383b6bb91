"""The messages of the demo: what the past wrote went out in the past."""

from datetime import datetime

from contractor.core.audit import SYSTEM
from contractor.notices import queries
from contractor.notices.actions import mark_letter_sent, send_notice
from contractor.notices.models import Notice


def send_what_was_queued() -> None:
    """Sends every message at its own moment; called before anything would withdraw those that went out long ago."""
    for notice_id, queued_at in Notice.objects.filter(state=Notice.State.QUEUED).values_list("pk", "queued_at"):
        send_notice(notice_id=notice_id, at=queued_at)


def post_letters_of_the_past(*, before: datetime) -> None:
    """Marks the letters of earlier days as posted."""
    for notice_id, queued_at in queries.letters_to_post().filter(queued_at__lt=before).values_list("pk", "queued_at"):
        mark_letter_sent(notice_id=notice_id, by=SYSTEM, at=queued_at)
