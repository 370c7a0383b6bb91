"""Two requests at once: the same items, the same visit, the same photo. Only PostgreSQL lets two write at a time."""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from datetime import datetime
from random import Random
from typing import Any
from uuid import UUID

import pytest
from django.db import connection

from contractor.checkups.models import Answer, CheckUp, Finding, Photo
from contractor.systems.models import Component
from contractor.tablet.actions.apply import apply_visit
from contractor.tablet.actions.door import take_items
from contractor.tablet.errors import WrongOffset
from contractor.tablet.models import Event, PhotoUpload, TabletVisit
from contractor.tablet.photo_store import content_of
from tests.tablet.hands import Tablet, send_photo, sha256, whole_checkup

pytestmark = [
    pytest.mark.django_db(transaction=True),
    pytest.mark.skipif(connection.vendor != "postgresql", reason="SQLite lets one write at a time"),
]


def at_once(*calls: Callable[[], Any]) -> list[Any]:
    """Runs the calls in threads of their own, each with its own connection; what they gave."""

    def run(call: Callable[[], Any]) -> Any:
        try:
            return call()
        finally:
            connection.close()

    with ThreadPoolExecutor(len(calls)) as pool:
        return [future.result() for future in [pool.submit(run, call) for call in calls]]


@pytest.mark.parametrize("seed", range(6))
def test_the_same_items_in_two_requests_at_once_are_stored_once(tablet: Tablet, at: datetime, seed: int) -> None:
    for number in range(20):
        tablet.say("answer", f"answer:item-{number}:0", {"condition": "good"})
    dice = Random(seed)
    shuffled = [dice.sample(tablet.items(), 20) for _ in range(4)]
    answers = at_once(
        *(lambda items=items: take_items(items=items, sender=tablet.sender, at=at) for items in shuffled)
    )
    assert Event.objects.count() == 20
    for items, receipts in zip(shuffled, answers, strict=True):
        assert [(receipt.id, receipt.sha256) for receipt in receipts] == [(one["id"], one["sha256"]) for one in items]
        assert {receipt.status for receipt in receipts} <= {"stored", "duplicate"}


def test_a_visit_applied_by_two_at_once_is_written_once(
    tablet: Tablet, parts: dict[str, Component], at: datetime
) -> None:
    whole_checkup(tablet, parts)
    about = {"severity": "watch", "what": "Rust", "what_to_do": "", "item": "", "component": "0", "done": False}
    tablet.say("finding", "finding:6f1c2a3e-0000-4000-8000-000000000002", about)
    swap = {"component": parts["battery"].pk, "model": None, "serial": "", "because": "Weak", "failed": False}
    new = "swap:6f1c2a3e-0000-4000-8000-000000000001"
    tablet.say("swap", new, swap)
    tablet.answer("rest-volts", new, number="12.9", unit="V")
    # The new one is of no known model, so it is asked what any battery is asked.
    tablet.answer("load-test", new, number="10.9", unit="V")
    tablet.sign()
    tablet.finish()
    for photo_id, content in tablet.photos.items():
        send_photo(photo_id, content, tablet.person, at)
    items = tablet.items()
    at_once(
        *(lambda: take_items(items=items, sender=tablet.sender, at=at) for _ in range(2)),
        *(lambda: apply_visit(appointment_id=tablet.visit.pk, at=at) for _ in range(3)),
    )
    apply_visit(appointment_id=tablet.visit.pk, at=at)
    assert TabletVisit.objects.get().problems == []
    assert CheckUp.objects.get().finished_at is not None
    assert Component.objects.filter(replaces=parts["battery"]).count() == 1
    assert Finding.objects.filter(what="Rust").count() == 1
    assert Photo.objects.count() == 1
    assert Answer.objects.count() == len({(one.item_id, one.component_id) for one in Answer.objects.all()})


def test_the_same_photo_sent_twice_at_once_comes_whole(tablet: Tablet, at: datetime) -> None:
    content = Random(1).randbytes(700_000)
    photo_id = tablet.photo(content)

    def send() -> None:
        # Where the other one was faster with a chunk, a tablet asks where to go on.
        with suppress(WrongOffset):
            send_photo(photo_id, content, tablet.person, at)

    at_once(send, send, send)
    upload = PhotoUpload.objects.get(pk=UUID(photo_id))
    assert upload.sha256 == sha256(content)
    assert content_of(upload.file) == content
