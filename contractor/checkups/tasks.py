"""Background work of check-ups. A report that is there already is not made again."""

from contractor.celery import app
from contractor.checkups.actions.reporting import make_report
from contractor.checkups.models import CheckUp
from contractor.core import clock


@app.task
def render_report(*, checkup_id: int) -> None:
    """Makes the report of one finished check-up."""
    make_report(checkup_id=checkup_id, at=clock.now())


@app.task
def render_missing_reports() -> None:
    """Makes reports that a wake-up call missed, a few at a time."""
    waiting = CheckUp.objects.finished().filter(report__isnull=True).order_by("-finished_at")
    for checkup_id in waiting.values_list("pk", flat=True)[:20]:
        make_report(checkup_id=checkup_id, at=clock.now())
