"""The board and a real worker: a stretch is planned by another process, and a worker that is killed loses nothing.
Where there is no worker, a thread beside the request plans it.

Needs a broker and a database server that two processes can share; `.ci/servers start FOLDER` starts both.
"""

import os
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import timedelta
from pathlib import Path

import pytest
from django.test import Client
from django.urls import reverse

from contractor.accounts.models import Company, User
from contractor.celery import app, beside
from contractor.core import clock
from contractor.core.audit import Actor
from contractor.visits.board.pages import week_to_plan
from contractor.visits.models import Appointment, Draft
from tests.journeys.test_background_work import (  # noqa: F401  # its marks and its queue are those of this file too
    ROOT,
    database_url,
    pytestmark,
    queue_name,
    wait_until,
)
from tests.visits.board.town import put_to_work, set_yard, wanted

BY_SCRIPT = {"HX-Request": "true"}


@contextmanager
def worker(folder: Path, queue: str) -> Iterator[subprocess.Popen[bytes]]:
    """A worker on the test database that takes from one queue."""
    environment = {**os.environ, "DATABASE_URL": database_url(), "DATA_DIR": str(folder), "EMAIL_HOST": ""}
    options = ["--pool", "solo", "--loglevel", "INFO", "--without-gossip", "--without-mingle", "--without-heartbeat"]
    with (folder / "worker.log").open("w") as log:
        process = subprocess.Popen(
            [sys.executable, "-m", "celery", "-A", "contractor", "worker", "--queues", queue, *options],
            cwd=ROOT,
            env=environment,
            stdout=log,
            stderr=subprocess.STDOUT,
        )
        try:
            yield process
        finally:
            process.kill()
            process.wait()


@pytest.fixture
def desk(
    company: Company, theo: User, nora: User, office: Actor, signed_in_as: Callable[[User], Client]
) -> Client:
    """Nora's browser, with Theo at work and ten visits that nobody has been given."""
    set_yard(company)
    put_to_work(theo, by=office, at=clock.now())
    for number in range(1, 11):
        wanted(number, target_on=clock.today() + timedelta(days=2 * number))
    return signed_in_as(nora)


def begin(desk: Client) -> Draft:
    """A month, begun as the page does: at a weekend with the week that comes."""
    asked = {"first_on": week_to_plan(clock.today()).isoformat(), "weeks": "5", "effort": "steps"}
    made = desk.post(reverse("visits:plan_stretch"), asked)
    draft = Draft.objects.get()
    assert made["Location"] == reverse("visits:draft", args=[draft.pk])
    return draft


def state_of(draft: Draft) -> str:
    draft.refresh_from_db()
    return draft.state


def test_a_month_is_planned_by_the_worker_while_the_page_shows_its_progress(
    desk: Client, queue_name: str, tmp_path: Path  # noqa: F811
) -> None:
    draft = begin(desk)
    page, progress = (reverse(f"visits:{name}", args=[draft.pk]) for name in ("draft", "draft_progress"))
    assert "0 per cent done" in desk.get(page).content.decode()
    assert state_of(draft) == Draft.State.PLANNING
    with worker(tmp_path, queue_name):
        wait_until(lambda: state_of(draft) != Draft.State.PLANNING, tmp_path / "worker.log")
    assert (draft.state, draft.progress["share"], draft.progress["planned"]) == (Draft.State.READY, 100, 10)
    assert desk.get(progress, headers=BY_SCRIPT)["HX-Redirect"] == page
    text = desk.get(page).content.decode()
    assert "Planned: 10 visits" in text
    assert "1 of 5" in text
    assert not Appointment.objects.exists()


def test_a_worker_killed_in_the_middle_is_told_of_and_the_search_is_begun_again(
    desk: Client, queue_name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch  # noqa: F811
) -> None:
    draft = begin(desk)
    # Long enough that nobody has to hurry to kill it.
    Draft.objects.filter(pk=draft.pk).update(iterations=None, seconds=120)
    page, again = (reverse(f"visits:{name}", args=[draft.pk]) for name in ("draft", "draft_retry"))
    with worker(tmp_path, queue_name) as process:

        def is_begun() -> bool:
            draft.refresh_from_db()
            return draft.progress.get("attempts") == 1

        wait_until(is_begun, tmp_path / "worker.log")
        process.kill()
        process.wait()
    assert state_of(draft) == Draft.State.PLANNING
    assert "Nothing was heard" not in desk.get(page).content.decode()
    assert "heard of just now" in desk.post(again, follow=True).content.decode()
    later = clock.now() + timedelta(minutes=2)
    monkeypatch.setattr(clock, "now", lambda: later)
    text = desk.get(page).content.decode()
    assert "Nothing was heard of this search since" in text
    assert "The book has not changed." in text
    assert again in text
    Draft.objects.filter(pk=draft.pk).update(seconds=None, iterations=60)
    assert desk.post(again)["Location"] == page
    with worker(tmp_path, queue_name):
        wait_until(lambda: state_of(draft) != Draft.State.PLANNING, tmp_path / "worker.log")
    assert (draft.state, draft.progress["attempts"], draft.progress["planned"]) == (Draft.State.READY, 2, 10)
    assert not Appointment.objects.exists()


def test_without_a_worker_the_page_shows_the_progress_of_a_thread_beside_the_request(
    desk: Client, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    app.conf.task_always_eager = True
    monkeypatch.setattr("contractor.celery.beside", beside)
    asked = {"first_on": week_to_plan(clock.today()).isoformat(), "weeks": "1", "effort": "quick"}
    page = desk.post(reverse("visits:plan_stretch"), asked)["Location"]
    draft = Draft.objects.get()
    # The search takes ten seconds by the clock, and the answer did not wait for it.
    assert draft.state == Draft.State.PLANNING
    assert "0 per cent done" in desk.get(page).content.decode()
    no_log = tmp_path / "worker.log"
    no_log.touch()
    wait_until(lambda: state_of(draft) != Draft.State.PLANNING, no_log)
    assert (draft.state, draft.progress["share"]) == (Draft.State.READY, 100)
    assert f"Planned: {draft.progress['planned']} visits" in desk.get(page).content.decode()
