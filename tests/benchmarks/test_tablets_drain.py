"""An evening: every tablet comes home and hands in its day at once, on PostgreSQL.

Run with ``DATABASE_URL`` set and ``pytest tests/benchmarks/test_tablets_drain.py -n0 -s``. TABLETS, VISITS and PHOTOS
in the environment set the size: 200, 12 and 60 is the evening of a company with two hundred technicians. The floor
beside it is one bare INSERT a row, fifty in a transaction. The tablets are threads of one process.
"""

import os
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, date, datetime
from random import Random
from time import perf_counter
from uuid import UUID

import pytest
from django.db import connection, transaction

from contractor.accounts.models import Role
from contractor.tablet.actions import door
from contractor.tablet.models import Event, PhotoUpload, SetAside
from tests.checkups.factories import appointment_for
from tests.factories import CompanyFactory, SystemFactory, UserFactory
from tests.tablet.hands import Tablet, item, registered, send_photo

AT, ON = datetime(2026, 5, 4, 14, 0, tzinfo=UTC), date(2026, 5, 4)
TABLETS = int(os.environ.get("TABLETS", "8"))
VISITS = int(os.environ.get("VISITS", "12"))
PHOTOS = int(os.environ.get("PHOTOS", "60"))
ANSWERS, WORKERS = 58, 4
PHOTO_BYTES = 430_000  # a photo of 2048 px at quality 0.82, as measured on a tablet's page


@pytest.mark.django_db(transaction=True)
def test_every_tablet_hands_in_its_day_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    CompanyFactory()
    # What becomes of the events is a worker's business; here it is the door alone.
    monkeypatch.setattr(door, "start_after_commit", lambda *_, **__: None)
    days = [_day(number) for number in range(TABLETS)]
    events = sum(len(tablet.kept) for day in days for tablet in day)
    with ThreadPoolExecutor(WORKERS) as pool:
        begun = perf_counter()
        waits = [wait for one in pool.map(_drain, days) for wait in one]
        seconds = perf_counter() - begun
        begun = perf_counter()
        photos = sum(pool.map(_drain_photos, days))
        photo_seconds = perf_counter() - begun
    assert Event.objects.count() == events
    assert not SetAside.objects.exists()
    assert PhotoUpload.objects.filter(done_at__isnull=False).count() == photos
    waits.sort()
    floor = _floor()
    per_second = events / seconds
    print(
        f"\n{TABLETS} tablets x {VISITS} visits: {events:,} events in {seconds:.1f} s ({per_second:,.0f} a second; "
        f"a bare insert does {floor:,.0f}), a batch of 50 in {waits[len(waits) // 2] * 1000:.0f} ms, the slowest "
        f"{waits[-1] * 1000:.0f} ms.\n{photos:,} photos of {PHOTO_BYTES // 1000} kB in {photo_seconds:.1f} s "
        f"({photos * PHOTO_BYTES / photo_seconds / 1e6:.0f} MB a second). By this, 200 x 12 visits take "
        f"{200 * 12 * (ANSWERS + 2 + PHOTOS) / per_second / 60:.1f} min for the events and "
        f"{200 * 12 * PHOTOS * photo_seconds / photos / 60:.1f} min for the photos."
    )


def _day(number: int) -> list[Tablet]:
    person = UserFactory(name=f"Technician {number}", role=Role.TECHNICIAN)
    first: Tablet | None = None
    day = []
    for _ in range(VISITS):
        tablet = registered(person, appointment_for(SystemFactory(), person, ON), AT)
        if first is not None:
            tablet.device, tablet.key = first.device, first.key
        first = first or tablet
        tablet.say("begun", "begun", {"checklist": "1"})
        for line in range(ANSWERS):
            tablet.say("answer", f"answer:item-{line}:0", {"number": "12.7", "unit": "V", "text": "x" * 40})
        for _ in range(PHOTOS):
            tablet.photo(b"x")
        tablet.photos.clear()
        tablet.say("finish", "finish", {"heads": [one for ids in tablet.heads.values() for one in ids], "photos": []})
        day.append(tablet)
    return day


def _drain(day: list[Tablet]) -> list[float]:
    waits = []
    try:
        items = [item(raw) for tablet in day for raw in tablet.kept.values()]
        for start in range(0, len(items), 50):
            begun = perf_counter()
            receipts = door.take_items(items=items[start : start + 50], sender=day[0].sender, at=AT)
            waits.append(perf_counter() - begun)
            assert {receipt.status for receipt in receipts} == {"stored"}
        return waits
    finally:
        connection.close()


def _drain_photos(day: list[Tablet]) -> int:
    """A tenth of the photos, whole: their bytes weigh the same."""
    dice, sent = Random(day[0].person.pk), 0
    try:
        for tablet in day:
            for _ in range(max(1, PHOTOS // 10)):
                photo_id = str(UUID(int=dice.getrandbits(128), version=4))
                send_photo(photo_id, dice.randbytes(PHOTO_BYTES), tablet.person, AT)
                sent += 1
        return sent
    finally:
        connection.close()


def _floor() -> float:
    """Rows a second of a bare INSERT, fifty in a transaction."""
    raw = Event.objects.values_list("raw", flat=True)[0]
    with connection.cursor() as cursor:
        cursor.execute("CREATE TABLE floor (id serial PRIMARY KEY, raw text)")
        begun = perf_counter()
        for _ in range(20):
            with transaction.atomic():
                for _ in range(50):
                    cursor.execute("INSERT INTO floor (raw) VALUES (%s)", [raw])
        seconds = perf_counter() - begun
        cursor.execute("DROP TABLE floor")
    return 1000 / seconds
