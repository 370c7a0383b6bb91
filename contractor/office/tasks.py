"""Background work of the desk. Safe to run twice."""

from contractor.celery import app
from contractor.core import clock
from contractor.office.actions import forget_expired_registers


@app.task
def forget_uploads() -> None:
    """Removes uploaded registers that nobody came back for: they are full of names and addresses."""
    forget_expired_registers(at=clock.now())
