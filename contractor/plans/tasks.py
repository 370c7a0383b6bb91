"""Background work of plans. Each is safe to run twice."""

from contractor.celery import app
from contractor.core import clock
from contractor.plans.actions import agreements, nightly


@app.task
def follow_house(*, property_id: int) -> None:
    """Ends the plan of an owner who has handed the house over."""
    agreements.end_with_sale(property_id=property_id, at=clock.now())


@app.task
def follow_the_calendar() -> None:
    """Renewal notices, renewals and reminders that are due."""
    nightly.follow_the_calendar(on=clock.today(), at=clock.now())
