"""Background work of accounts. The trail decides; each task is safe to run twice."""

from contractor.accounts import actions
from contractor.celery import app
from contractor.core import clock


@app.task
def mail_password_link(*, asked_id: int) -> None:
    """Sends the link that was asked for, if it hasn't gone out yet."""
    actions.mail_password_link(asked_id=asked_id, at=clock.now())
