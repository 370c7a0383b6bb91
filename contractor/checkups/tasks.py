"""Background work of check-ups. A report that is there already is not made again."""

from contractor.celery import app
from contractor.checkups.actions import repairs
from contractor.checkups.actions.reporting import make_report
from contractor.checkups.models import CheckUp
from contractor.core import clock
from contractor.systems.models import System


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


@app.task
def ask_for_repairs(*, property_id: int) -> None:
    """Renews what the findings of one house ask of visits, after its facts have changed."""
    systems = System.objects.filter(property_id=property_id).values_list("pk", flat=True)
    repairs.ask_for_repairs(system_ids=systems, on=clock.today(), at=clock.now())


@app.task
def ask_for_all_repairs() -> None:
    """The nightly renewal."""
    repairs.ask_for_all_repairs(on=clock.today(), at=clock.now())
