"""Background work of visits. The rows decide; each task is safe to run twice."""

from contractor.celery import app
from contractor.core import clock
from contractor.visits.actions import telling


@app.task
def remind_of_visits() -> None:
    """Reminds owners of visits two days ahead."""
    telling.remind_of_visits(at=clock.now())
