"""Background work of check-ups; each task is safe to run twice."""

from contractor.celery import app
from contractor.checkups import queries
from contractor.checkups.actions import reporting
from contractor.core import clock


@app.task
def make_checkup_report(*, checkup_id: int) -> None:
    """Makes the report of one finished check-up."""
    reporting.make_report(checkup_id=checkup_id, at=clock.now())


@app.task
def render_missing_reports() -> None:
    """Makes the reports that a lost wake-up call left out."""
    for checkup_id in queries.reports_missing():
        reporting.make_report(checkup_id=checkup_id, at=clock.now())
