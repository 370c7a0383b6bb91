"""A real worker beside the site: what a commit begins is done by another process, once.

Needs a broker and a database server that two processes can share; `.ci/servers start FOLDER` starts both.
"""

import os
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from uuid import uuid4

import pytest
from django.core import mail
from django.db import connection, transaction

from contractor.celery import app, start
from contractor.core import clock
from contractor.core.audit import SYSTEM
from contractor.notices.actions import queue_notice
from contractor.notices.models import Notice
from contractor.properties.models import Ownership, Person, Property
from tests.notices.factories import NoticeFactory

ROOT = Path(__file__).resolve().parents[2]
DEADLINE_SECONDS = 60

pytestmark = [
    pytest.mark.skipif(
        not os.environ.get("CELERY_BROKER_URL"), reason="CELERY_BROKER_URL is not set: there is no broker to work with."
    ),
    pytest.mark.skipif(
        not os.environ.get("DATABASE_URL", "").startswith("postgres"),
        reason="The test database lives in this process (SQLite): a worker can't see it. Set DATABASE_URL.",
    ),
    pytest.mark.django_db(transaction=True),
]


@pytest.fixture(autouse=True)
def queue_name(tasks_at_once: None) -> Iterator[str]:
    """The one place where tasks are not done at once.

    Each test has its own queue, because tests that run at the same time share the broker but not the database: a
    worker would take the other's calls and find nothing to do.
    """
    usual = app.conf.task_default_queue
    app.conf.task_always_eager, app.conf.task_default_queue = False, f"journey-{uuid4()}"
    yield app.conf.task_default_queue
    app.conf.task_always_eager, app.conf.task_default_queue = True, usual


def database_url() -> str:
    """The address of the test database, as the settings read it."""
    known = connection.settings_dict
    who = f"{known['USER']}:{known['PASSWORD']}" if known["PASSWORD"] else known["USER"]
    return f"postgres://{who}@{known['HOST']}:{known['PORT']}/{known['NAME']}"


@pytest.fixture
def worker(tmp_path: Path, transactional_db: None, queue_name: str) -> Iterator[Path]:
    """A worker on the test database; gives the folder into which it writes its mail."""
    environment = {**os.environ, "DATABASE_URL": database_url(), "DATA_DIR": str(tmp_path), "EMAIL_HOST": ""}
    options = ["--pool", "solo", "--loglevel", "INFO", "--without-gossip", "--without-mingle", "--without-heartbeat"]
    with (tmp_path / "worker.log").open("w") as log:
        process = subprocess.Popen(
            [sys.executable, "-m", "celery", "-A", "contractor", "worker", "--queues", queue_name, *options],
            cwd=ROOT,
            env=environment,
            stdout=log,
            stderr=subprocess.STDOUT,
        )
        try:
            yield tmp_path / "mail"
        finally:
            process.terminate()
            try:
                process.wait(timeout=20)
            except subprocess.TimeoutExpired:
                process.kill()
                process.wait()


def wait_until(done: Callable[[], bool], log: Path) -> None:
    """Looks again and again until it is done; fails with the worker's own words when it never is."""
    ends = time.monotonic() + DEADLINE_SECONDS
    while not done():
        if time.monotonic() > ends:
            pytest.fail(f"The worker did not do it within {DEADLINE_SECONDS} seconds:\n{log.read_text()}")
        time.sleep(0.1)


def queue(person: Person, house: Property) -> Notice:
    return queue_notice(
        occasion="journey", template="owner_link", person=person, property=house, context={}, by=SYSTEM, at=clock.now()
    )


def is_sent(notice: Notice) -> bool:
    return Notice.objects.filter(pk=notice.pk, state=Notice.State.SENT).exists()


def test_a_worker_sends_what_a_commit_queues_and_a_call_that_comes_twice_sends_nothing_twice(
    worker: Path, ownership: Ownership, iris: Person, house: Property
) -> None:
    log = worker.parent / "worker.log"
    with transaction.atomic():
        notice = queue(iris, house)
        assert not is_sent(notice)
    wait_until(lambda: is_sent(notice), log)
    (message,) = worker.iterdir()
    text = message.read_text()
    assert "To: iris@example.com" in text
    assert "/home/link/" in text
    assert mail.outbox == []

    # The same call once more, as a broker may deliver it; what is called after it is done after it.
    start("contractor.notices.tasks.send_one_notice", notice_id=notice.pk)
    second = NoticeFactory(person=iris, property=house, queued_at=clock.now(), not_before=clock.now())
    start("contractor.notices.tasks.send_due_notices")
    wait_until(lambda: is_sent(second), log)
    written = "".join(path.read_text() for path in worker.iterdir())
    assert written.count("To: iris@example.com") == 2
    notice.refresh_from_db()
    assert notice.attempts == 1


def test_a_transaction_that_is_undone_begins_nothing(
    worker: Path, ownership: Ownership, iris: Person, house: Property
) -> None:
    log = worker.parent / "worker.log"
    with transaction.atomic():
        queue(iris, house)
        transaction.set_rollback(True)
    other = NoticeFactory(person=iris, property=house, queued_at=clock.now(), not_before=clock.now())
    start("contractor.notices.tasks.send_one_notice", notice_id=other.pk)
    wait_until(lambda: is_sent(other), log)
    assert [notice.pk for notice in Notice.objects.all()] == [other.pk]
    assert len(list(worker.iterdir())) == 1
