"""Background work of estimates. Both tasks write the same result however often they run."""

from contractor.celery import app
from contractor.core import clock
from contractor.estimates import actions
from contractor.systems.models import System


@app.task
def refresh_house_estimates(*, property_id: int) -> None:
    """Renews the estimates of one house after its facts have changed."""
    for system_id in System.objects.filter(property_id=property_id).values_list("pk", flat=True):
        actions.refresh_estimates(system_id=system_id, on=clock.today(), at=clock.now())


@app.task
def refresh_all_estimates() -> None:
    """The nightly renewal."""
    actions.refresh_all_estimates(on=clock.today(), at=clock.now())
