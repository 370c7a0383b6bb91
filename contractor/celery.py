"""The Celery application and its clock work.

Without a broker every task runs in process, at once, but for work of minutes, which runs in a thread beside the
request; with ``CELERY_BROKER_URL`` a worker and one beat run them.
The rows that are due decide what is done, not the tick: a missed tick is caught up by the next.
"""

import os
from collections.abc import Callable
from importlib import import_module
from threading import Thread

from celery import Celery
from celery.schedules import crontab
from django.db import connections, transaction

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "contractor.settings")

app = Celery("contractor")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks()


def start(task: str, **ids: int) -> None:
    """Begins a task by its name, such as ``contractor.notices.tasks.send_one_notice``, with ids by keyword.

    By name, because tasks call actions and an action that begins a task must not import it back; the module is
    imported when its first task is begun.
    """
    module, _, name = task.rpartition(".")
    getattr(import_module(module), name).delay(**ids)


def start_after_commit(task: str, **ids: int) -> None:
    """Begins a task once the present transaction is committed; a broker that can't be reached stops no write.

    Not a ``partial``: Django names the function that failed in its log, and a partial has no name.
    """

    def begin() -> None:
        start(task, **ids)

    transaction.on_commit(begin, robust=True)


def start_long_after_commit(task: str, **ids: int) -> None:
    """The same for work of minutes, which somebody watches: where no worker takes it, the request does not wait for it.

    A process that ends takes such work with it, so its rows must say that it is not done, and it must be safe to begin
    again.
    """

    def begin() -> None:
        if app.conf.task_always_eager:
            beside(lambda: start(task, **ids))
        else:
            start(task, **ids)

    transaction.on_commit(begin, robust=True)


def beside(work: Callable[[], None]) -> None:
    """Does something in a thread of its own, with database connections of its own."""

    def run() -> None:
        try:
            work()
        finally:
            connections.close_all()

    # A daemon, so that a server that is told to end does not wait for minutes.
    Thread(target=run, daemon=True).start()


app.conf.beat_schedule = {
    "refresh standings and due requests": {
        "task": "contractor.warranties.tasks.refresh_all_standings",
        "schedule": crontab(hour=2, minute=10),
    },
    "remind of sales": {
        "task": "contractor.warranties.tasks.remind_of_transfers",
        # In the morning, when people can call back (common practice, no source).
        "schedule": crontab(hour=9, minute=20),
    },
    "remind of visits": {
        "task": "contractor.visits.tasks.remind_of_visits",
        # In the morning, when the office can be called; a later tick on the same day catches up what a missed one left.
        "schedule": crontab(hour="9-19", minute=5),
    },
    "follow care plans": {
        "task": "contractor.plans.tasks.follow_the_calendar",
        "schedule": crontab(hour=9, minute=40),
    },
    "refresh life estimates": {
        "task": "contractor.estimates.tasks.refresh_all_estimates",
        "schedule": crontab(hour=2, minute=40),
    },
    "find houses on the map": {
        "task": "contractor.visits.tasks.locate_missing_houses",
        "schedule": crontab(minute=25),
    },
    "ask for repairs": {
        "task": "contractor.checkups.tasks.ask_for_all_repairs",
        "schedule": crontab(hour=2, minute=30),
    },
    "send notices that are due": {
        "task": "contractor.notices.tasks.send_due_notices",
        "schedule": 60.0,
    },
    "make reports that are missing": {
        "task": "contractor.checkups.tasks.render_missing_reports",
        "schedule": crontab(minute="*/10"),
    },
    "make check-ups of what tablets sent": {
        "task": "contractor.tablet.tasks.apply_waiting_visits",
        "schedule": crontab(minute="*/5"),
    },
    "plan drafts that were lost": {
        "task": "contractor.visits.tasks.plan_silent_drafts",
        "schedule": 120.0,
    },
    "forget uploaded registers": {
        "task": "contractor.office.tasks.forget_uploads",
        "schedule": crontab(hour=3, minute=10),
    },
}
