"""Background work of notices. The rows decide; each task is safe to run twice."""

from contractor.celery import app
from contractor.core import clock
from contractor.notices import actions, queries


@app.task
def send_one_notice(*, notice_id: int) -> None:
    """Sends one notice if it still waits."""
    actions.send_notice(notice_id=notice_id, at=clock.now())


@app.task
def withdraw_for_former_owners(*, property_id: int) -> None:
    """Withdraws what waits for somebody who has handed this house over."""
    actions.withdraw_for_former_owners(property_id=property_id, at=clock.now())


@app.task
def send_due_notices() -> None:
    """Sends what a wake-up call missed or an earlier attempt left, and withdraws letters that say what is not so."""
    actions.withdraw_stale_letters(at=clock.now())
    for notice_id in queries.ids_to_send(at=clock.now()):
        actions.send_notice(notice_id=notice_id, at=clock.now())
