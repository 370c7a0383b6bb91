"""The server's own troubles: a database that is gone, a full disk, a program error, a wake-up call that was lost."""

import errno
import json
import threading
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack
from datetime import datetime, timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.db import OperationalError, connection, connections, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from contractor.accounts.models import User
from contractor.checkups.actions import checkup as checkups
from contractor.checkups.models import CheckUp
from contractor.core import clock
from contractor.systems.models import Component
from contractor.tablet.actions import apply, door, photos
from contractor.tablet.models import Event, PhotoUpload, TabletVisit
from contractor.tablet.pressure import MOST_AT_ONCE, a_place
from contractor.tablet.tasks import apply_visit, apply_waiting_visits
from contractor.visits.models import Appointment
from tests.checkups.factories import appointment_for
from tests.factories import SystemFactory
from tests.tablet.hands import Tablet, registered, sha256, whole_checkup

pytestmark = pytest.mark.django_db(transaction=True)
only_postgresql = pytest.mark.skipif(connection.vendor != "postgresql", reason="only a server can hang up")


@pytest.fixture
def fresh(visit: Appointment, theo: User) -> Tablet:
    """A tablet whose key is good now."""
    return registered(theo, visit, clock.now())


def post(tablet: Tablet) -> Any:
    assert tablet.key is not None
    body = json.dumps({"items": tablet.items(), "device": str(tablet.device)})
    headers = {"Authorization": f"Bearer {tablet.key.key}"}
    return Client().post(reverse("tablet:events"), body, content_type="application/json", headers=headers)


def send_photo(tablet: Tablet, name: str, content: bytes) -> Any:
    assert tablet.key is not None
    headers = {
        "Authorization": f"Bearer {tablet.key.key}",
        "Upload-Offset": "0",
        "Upload-Length": str(len(content)),
        "Upload-Sha256": sha256(content),
    }
    kind = "application/offset+octet-stream"
    return Client().patch(reverse("tablet:photo", args=[name]), content, content_type=kind, headers=headers)


def busy(answer: Any) -> bool:
    return answer.status_code == 503 and int(answer["Retry-After"]) > 0 and "stays on this tablet" in str(answer.json())


def test_a_database_that_does_not_answer_is_later_and_not_an_error(
    fresh: Tablet, monkeypatch: pytest.MonkeyPatch
) -> None:
    fresh.answer("mould", condition="good")
    with monkeypatch.context() as broken:
        broken.setattr(door, "take_items", _raising(OperationalError("canceling statement due to lock timeout")))
        assert busy(post(fresh))
    assert post(fresh).json()["receipts"][0]["status"] == "stored"


def test_a_full_disk_is_later_and_the_photo_goes_on_where_it_was(
    fresh: Tablet, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert fresh.key is not None
    content, address = b"p" * 1000, reverse("tablet:photo", args=[uuid4()])
    headers = {"Authorization": f"Bearer {fresh.key.key}", "Upload-Length": "1000", "Upload-Sha256": sha256(content)}

    def patch(offset: int, chunk: bytes) -> Any:
        return Client().patch(address, chunk, headers={**headers, "Upload-Offset": str(offset)})

    assert patch(0, content[:400]).json()["offset"] == 400
    with monkeypatch.context() as full:
        full.setattr(photos, "write_at", _raising(OSError(errno.ENOSPC, "No space left on device")))
        assert busy(patch(400, content[400:]))
    assert Client().get(address, headers=headers).json()["offset"] == 400
    assert patch(400, content[400:]).json() == {"offset": 1000, "done": True, "sha256": sha256(content)}


def _raising(problem: Exception) -> Callable[..., Any]:
    def fails(*_: Any, **__: Any) -> Any:
        raise problem

    return fails


def _hang_up() -> None:
    """The database ends this connection, as when it is started anew."""
    number = connection.connection.info.backend_pid
    other = connections.create_connection("default")
    with other.cursor() as cursor:
        cursor.execute("SELECT pg_terminate_backend(%s)", [number])
    other.close()


@only_postgresql
@pytest.mark.parametrize(
    ("moment", "stored"), [("note_events", 0), ("_receipts", 1)], ids=["before the commit", "after the commit"]
)
def test_a_connection_that_is_dropped_in_the_middle_promises_nothing(
    fresh: Tablet, monkeypatch: pytest.MonkeyPatch, moment: str, stored: int
) -> None:
    one = fresh.answer("mould", condition="good")
    whole = getattr(door, moment)

    def dropped(*args: Any) -> Any:
        _hang_up()
        return whole(*args)

    with monkeypatch.context() as broken:
        broken.setattr(door, moment, dropped)
        assert busy(post(fresh))
    connection.close()
    assert Event.objects.count() == stored
    [receipt] = post(fresh).json()["receipts"]
    assert (receipt["id"], receipt["sha256"]) == (one, sha256(fresh.kept[one]))
    assert receipt["status"] == ("duplicate" if stored else "stored")
    assert Event.objects.get().raw == fresh.kept[one]


@only_postgresql
def test_the_door_and_the_making_of_a_check_up_do_not_wait_for_each_other_in_a_circle(
    tablet: Tablet, at: datetime
) -> None:
    """One holds the visit's row and wants the appointment; the other comes with an event about both.

    Foreign keys are looked at when the row is written and not when all is committed: an installation may say so, and
    the order of the locks must not hang on it.
    """
    tablet.answer("mould", condition="good")
    tablet.send(at)
    tablet.answer("temperature", number="68", unit="degF")

    def hand_in() -> list[str]:
        try:
            with transaction.atomic(), connection.cursor() as cursor:
                cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
                return [receipt.status for receipt in tablet.send(at)]
        finally:
            connection.close()

    with ThreadPoolExecutor(1) as pool, transaction.atomic():
        TabletVisit.objects.select_for_update().get()
        handed_in = pool.submit(hand_in)
        _wait_until_somebody_waits()
        Appointment.objects.select_for_update().get(pk=tablet.visit.pk)
        transaction.set_rollback(True)
    assert handed_in.result() == ["duplicate", "stored"]


def _wait_until_somebody_waits() -> None:
    with connection.cursor() as cursor:
        for _ in range(200):
            cursor.execute("SELECT count(*) FROM pg_locks WHERE NOT granted")
            if cursor.fetchone()[0]:
                return
            time.sleep(0.05)
    raise AssertionError("Nobody waits for a lock.")


@pytest.fixture
def another(theo: User, at: datetime, visit: Appointment) -> Tablet:
    """Another house of Theo's, handed in later."""
    stop = appointment_for(SystemFactory(), theo, visit.on)
    return registered(theo, stop, at)


def test_an_error_of_the_program_at_one_visit_is_seen_and_holds_up_no_other(
    tablet: Tablet, another: Tablet, parts: dict[str, Component], at: datetime, monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as asleep:
        asleep.setattr(door, "start_after_commit", lambda *_, **__: None)
        for one in (tablet, another):
            one.answer("mould", condition="good")
            one.send(at)
    start = checkups.start_checkup

    def breaks_at_one(**words: Any) -> CheckUp:
        if words["appointment_id"] == tablet.visit.pk:
            raise KeyError("a mistake")
        return start(**words)

    with monkeypatch.context() as broken:
        broken.setattr(checkups, "start_checkup", breaks_at_one)
        apply_waiting_visits()
    assert {row.appointment_id for row in CheckUp.objects.all()} == {another.visit.pk}
    row = TabletVisit.objects.get(appointment=tablet.visit)
    assert row.needs_office
    assert row.problems[-1]["code"] == "stopped"
    assert "KeyError" in row.problems[-1]["sentence"]
    # Nothing goes round in circles, and with the next event it is tried again.
    assert apply.waiting(most=9) == []
    tablet.answer("temperature", number="68", unit="degF")
    tablet.send(at)
    assert CheckUp.objects.filter(appointment=tablet.visit).exists()
    row.refresh_from_db()
    assert (row.problems, row.needs_office) == ([], False)


def test_a_database_that_does_not_answer_leaves_the_visit_to_the_sweeper(
    tablet: Tablet, at: datetime, monkeypatch: pytest.MonkeyPatch
) -> None:
    tablet.answer("mould", condition="good")
    with monkeypatch.context() as broken:
        broken.setattr(checkups, "start_checkup", _raising(OperationalError("server closed the connection")))
        tablet.send(at)  # the receipt does not depend on it
        with pytest.raises(OperationalError):
            apply.apply_visit(appointment_id=tablet.visit.pk, at=at)
    assert apply.waiting(most=9) == [tablet.visit.pk]
    apply_waiting_visits()
    assert CheckUp.objects.exists()


@pytest.mark.parametrize("lost_at", ["finish", "photo"])
def test_a_wake_up_call_that_was_lost_is_caught_up_by_the_sweeper(
    tablet: Tablet, parts: dict[str, Component], at: datetime, monkeypatch: pytest.MonkeyPatch, lost_at: str
) -> None:
    """The worker was killed between the commit and the call, at the last thing that came."""
    whole_checkup(tablet, parts)
    tablet.sign()
    tablet.finish()
    send: list[Callable[[datetime], Any]] = [tablet.send, tablet.send_photos]
    first, last = send if lost_at == "photo" else send[::-1]
    first(at)
    with monkeypatch.context() as killed:
        killed.setattr(door, "start_after_commit", lambda *_, **__: None)
        last(at)
    assert not CheckUp.objects.filter(finished_at__isnull=False).exists()
    apply_waiting_visits()
    assert CheckUp.objects.filter(finished_at__isnull=False).count() == 1


def test_photos_wake_nobody_before_the_last_that_is_wanted(
    tablet: Tablet, parts: dict[str, Component], at: datetime
) -> None:
    whole_checkup(tablet, parts)
    for number in range(5):
        tablet.photo(f"{number}".encode())
    numbers = list(tablet.photos)
    tablet.send_photos(at, numbers[0])  # earlier than anything that speaks of it
    tablet.send(at)
    before = TabletVisit.objects.get().revision
    tablet.send_photos(at, numbers[1])
    tablet.sign()
    tablet.finish()
    tablet.send(at, *list(tablet.kept)[-2:])
    for one in numbers[2:-1]:
        tablet.send_photos(at + timedelta(seconds=5), one)
    assert TabletVisit.objects.get().revision == before + 1  # the finishing
    tablet.send_photos(at, numbers[-1])
    assert TabletVisit.objects.get().revision == before + 2
    assert PhotoUpload.objects.filter(done_at__isnull=True).count() == 0


@only_postgresql
def test_of_two_last_photos_at_once_one_wakes(
    tablet: Tablet, parts: dict[str, Component], at: datetime
) -> None:
    whole_checkup(tablet, parts)
    tablet.photo(b"another")
    tablet.sign()
    tablet.finish()
    tablet.send(at)
    before = TabletVisit.objects.get().revision
    both = threading.Barrier(2)

    def send(number: str) -> None:
        try:
            both.wait(10)
            tablet.send_photos(at, number)
        finally:
            connection.close()

    with ThreadPoolExecutor(2) as pool:
        for future in [pool.submit(send, number) for number in tablet.photos]:
            future.result()
    assert TabletVisit.objects.get().revision > before


def test_more_tablets_than_there_are_places_are_sent_away_at_once_and_told_when_to_come_again(fresh: Tablet) -> None:
    fresh.answer("mould", condition="good")
    name = fresh.photo(b"x" * 2000, item="room-photo")
    with ExitStack() as others:
        for _ in range(MOST_AT_ONCE):
            others.enter_context(a_place())
        assert busy(post(fresh))
        assert busy(send_photo(fresh, name, fresh.photos[name]))
        assert not Event.objects.exists()
        assert not PhotoUpload.objects.exists()
    assert [receipt["status"] for receipt in post(fresh).json()["receipts"]] == ["stored", "stored"]
    assert send_photo(fresh, name, fresh.photos[name]).json()["done"]


def test_tablets_that_are_sent_away_do_not_fill_the_log(fresh: Tablet, caplog: pytest.LogCaptureFixture) -> None:
    with ExitStack() as others:
        for _ in range(MOST_AT_ONCE):
            others.enter_context(a_place())
        assert busy(post(fresh))
    assert not [record for record in caplog.records if record.levelname in {"WARNING", "ERROR"}]


def test_a_place_is_free_again_whatever_became_of_who_had_it(fresh: Tablet, monkeypatch: pytest.MonkeyPatch) -> None:
    fresh.answer("mould", condition="good")
    with monkeypatch.context() as broken:
        broken.setattr(door, "take_items", _raising(OperationalError("the database is gone")))
        for _ in range(MOST_AT_ONCE + 1):
            assert busy(post(fresh))
    assert post(fresh).status_code == 200


def test_a_call_about_events_that_were_seen_already_reads_nothing_more(fresh: Tablet) -> None:
    fresh.answer("mould", condition="good")
    post(fresh)
    assert TabletVisit.objects.get().applied_revision == 1
    with CaptureQueriesContext(connection) as asked:
        apply_visit(appointment_id=fresh.visit.pk)
    assert len(asked) == 1
