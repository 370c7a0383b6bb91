"""Makes check-ups of events."""

from datetime import datetime


def apply_visit(*, appointment_id: int, at: datetime) -> None:
    """Nothing yet."""


def waiting(*, most: int) -> list[int]:
    """Visits to look at again."""
    return []
