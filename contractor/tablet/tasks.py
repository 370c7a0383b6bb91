"""Background work of the tablet's door: safe to run twice, at any time."""

from contractor.celery import app
from contractor.core import clock
from contractor.tablet.actions import apply


@app.task
def apply_visit(*, appointment_id: int) -> None:
    """Makes of a visit's events what can be made of them by now, where any came since it was looked at."""
    apply.apply_news(appointment_id=appointment_id, at=clock.now())


@app.task
def apply_waiting_visits() -> None:
    """Looks again at visits whose wake-up call was missed, a few at a time."""
    apply.apply_waiting(most=50, at=clock.now())
