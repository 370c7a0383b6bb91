"""Background work of visits. The rows decide; each task is safe to run twice."""

from contractor.celery import app
from contractor.core import clock
from contractor.properties.actions import locate_missing
from contractor.visits.board import queries
from contractor.visits.board.actions import drafts


@app.task
def plan_draft(*, draft_id: int) -> None:
    """Plans a draft of the board if it still waits for that."""
    drafts.plan_draft(draft_id=draft_id, now=clock.now)


@app.task
def plan_silent_drafts() -> None:
    """Plans drafts that a wake-up call missed or whose worker was lost."""
    for draft_id in queries.silent_draft_ids(at=clock.now()):
        drafts.plan_draft(draft_id=draft_id, now=clock.now)


@app.task
def locate_missing_houses() -> None:
    """Asks the geocoder, where there is one, for houses without a position: rounds are planned by it."""
    locate_missing(at=clock.now())
