"""What the office's server spends on a pack of twelve stops, and how many bytes go through one bar of signal.

    pytest tests/benchmarks/test_bench_tablet_pack.py -n0 -s

Twelve houses of the demo with their histories. Wanted: less than 300 kB without photos.
How many queries a pack takes is held to a number by tests/tablet/test_pages.py; here they are counted beside their
time. It measures and never fails for being slow.
"""

import gzip
import json
import statistics
from time import perf_counter, process_time
from uuid import uuid4

import pytest
from django.conf import settings
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from contractor.core import clock
from contractor.systems.models import System
from contractor.tablet.actions.devices import register_device
from contractor.tablet.pack import pack_for
from tests.checkups.factories import appointment_for
from tests.journeys.small_town import Town, build

pytestmark = pytest.mark.django_db

WANTED_BYTES, TURNS = 300_000, 9
STORIES = (
    "battery_nearly_done",
    "battery_swapped",
    "due_soon",
    "failed_primary_pump",
    "frozen_discharge",
    "gap_in_care",
    "good",
    "in_grace",
    "open_finding",
    "outside_record",
    "sold_missing_checkup",
    "sold_properly",
)


def a_full_day() -> Town:
    """Twelve houses of the demo, each with its own history, and all of them Theo's stops of today."""
    town = build(*STORIES, on=clock.today(), at=clock.now(), stop_today=False)
    for system in System.objects.all():
        appointment_for(system, town.theo, clock.today())
    return town


def test_a_pack_of_twelve_stops() -> None:
    town = a_full_day()
    asked = {"person": town.theo, "on": clock.today(), "days": 2, "epoch": "e", "client": "c"}
    cpu, wall = [], []
    for _ in range(TURNS):
        begun, at_work = perf_counter(), process_time()
        pack = pack_for(**asked)
        cpu.append((process_time() - at_work) * 1000)
        wall.append((perf_counter() - begun) * 1000)
    with CaptureQueriesContext(connection) as log:
        pack_for(**asked)
    queries = list(log.captured_queries)  # the next request empties the log
    client = Client()
    client.force_login(town.theo)
    device_id = uuid4()
    register_device(device_id=device_id, name="Van 1", about={}, person=town.theo, at=clock.now())
    answer = client.get(reverse("tablet:pack"), {"device": str(device_id)}, headers={"Accept-Encoding": "gzip"})
    plain = gzip.decompress(answer.content) if answer.headers.get("Content-Encoding") == "gzip" else answer.content
    stops = len(json.loads(plain)["visits"])
    lines = sum(len(visit["lines"]) for visit in pack.content["visits"])
    print(f"\n{stops} stops, {lines} lines; {connection.vendor}, {settings.TIME_ZONE}:")
    print(f"{len(queries)} queries, {sum(float(one['time']) for one in queries) * 1000:.0f} ms of them")
    print(f"processor: median {statistics.median(cpu):.0f} ms, worst {max(cpu):.0f} ms")
    print(f"whole: median {statistics.median(wall):.0f} ms, worst {max(wall):.0f} ms")
    print(f"{len(plain):,} bytes (wanted: less than {WANTED_BYTES:,}), {len(answer.content):,} over the line")
    assert stops == len(STORIES)
