"""Reads about notices."""

from datetime import datetime

from contractor.notices.models import Notice


def ids_to_send(*, at: datetime, most: int = 200) -> list[int]:
    """E-mails whose hour has come, oldest first."""
    waiting = Notice.objects.to_send(at).filter(channel=Notice.Channel.EMAIL)
    return list(waiting.order_by("queued_at").values_list("pk", flat=True)[:most])
