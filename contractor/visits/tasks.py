"""Background work of visits. Safe to run twice."""

from contractor.celery import app
from contractor.core import clock
from contractor.properties.actions import locate_missing


@app.task
def locate_missing_houses() -> None:
    """Asks the geocoder, where there is one, for houses without a position: rounds are planned by it."""
    locate_missing(at=clock.now())
