"""An evening: every tablet comes home and hands in its day at once, over HTTP, on PostgreSQL.

    DATABASE_URL=… CELERY_BROKER_URL=… TABLETS=200 pytest tests/benchmarks/test_tablets_drain.py -n0 -s

TABLETS, VISITS, PHOTOS, PHOTO_KB and SERVERS in the environment set the size: 200, 12 and 60 is the evening of a
company with two hundred technicians, each with sixty photos of twelve visits. A real gunicorn serves; each tablet is a
thread that does what the page does: batches of fifty, events before photos, a question before each photo, its
time-out, its back-off, the wait that the server asks for. Photos are real small JPEGs, each with bytes of its own;
PHOTO_KB=430 are those of a tablet's camera. MINUTES ends the photos early.
WORKER=yes makes check-ups of it meanwhile, with a real Celery worker. The floor is one bare INSERT a row, fifty in a
transaction.
"""

import http.client
import json
import os
import signal
import socket
import subprocess
import sys
import threading
import time
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from random import Random
from time import perf_counter
from typing import Any

import pytest
from django.db import connection, transaction

from contractor.accounts.models import Role
from contractor.checkups.models import CheckUp
from contractor.core import clock
from contractor.tablet.actions.photos import CHUNK_BYTES
from contractor.tablet.models import Event, PhotoUpload, SetAside, TabletVisit
from tests.checkups import factories as made
from tests.factories import CatalogueModelFactory, CompanyFactory, ComponentFactory, SystemFactory, UserFactory
from tests.offline.site import ROOT, free_port
from tests.tablet.hands import Tablet, registered, sha256, whole_checkup

TABLETS = int(os.environ.get("TABLETS", "8"))
VISITS = int(os.environ.get("VISITS", "12"))
PHOTOS = int(os.environ.get("PHOTOS", "60"))
PHOTO_BYTES = int(os.environ.get("PHOTO_KB", "12")) * 1000
MINUTES = float(os.environ.get("MINUTES", "1000"))
SERVERS = int(os.environ.get("SERVERS", "2"))
WITH_WORKER = os.environ.get("WORKER") == "yes"
ANSWERS = 58
PARTS: dict[str, dict[str, Any]] = {
    "pit": {"diameter_m": 0.4572},
    "primary_pump": {},
    "battery": {"chemistry": "flooded"},
}
PATIENCE_S, SLOWEST_LINE = 30, 4000  # as in door.js
LONGEST_WAIT_S = 300  # as in outbox.js


@dataclass
class Told:
    """What all tablets together saw."""

    waits: dict[str, list[float]] = field(default_factory=lambda: {"batch": [], "question": [], "photo": []})
    failures: Counter[str] = field(default_factory=Counter)
    sent_away: Counter[str] = field(default_factory=Counter)
    photos: int = 0


class Home:
    """One tablet that came home."""

    def __init__(self, number: int, port: int, told: Told) -> None:
        self.dice, self.port, self.told = Random(number), port, told
        self.key = ""
        self.items: list[dict[str, str]] = []
        self.photos: list[tuple[str, int]] = []

    def fill(self, number: int, at: datetime, models: dict[str, Any]) -> None:
        person = UserFactory(name=f"Technician {number}", role=Role.TECHNICIAN)
        first: Tablet | None = None
        for visit_number in range(VISITS):
            system = SystemFactory()
            parts = {
                kind: ComponentFactory(system=system, part_kind=kind, model=model) for kind, model in models.items()
            }
            visit = made.appointment_for(system, person, clock.today())
            if first is None:
                tablet = first = registered(person, visit, at)
            else:
                tablet = Tablet(person=person, visit=visit, clock=first.clock, device=first.device)
            whole_checkup(tablet, parts)
            tablet.say("photo", f"photo:{next(iter(tablet.photos))}", None)  # in its place come those below
            tablet.photos.clear()
            for line in range(ANSWERS - 7):
                tablet.answer("temperature", number=str(60 + line % 20), unit="degF")
            for _ in range(visit_number, PHOTOS, VISITS):
                seed = self.dice.getrandbits(32)
                photo_id = tablet.photo(photo(seed), item="room-photo")
                tablet.photos[photo_id] = b""  # made again when it is sent
                self.photos.append((photo_id, seed))
            tablet.sign()
            self.items += self._finished(tablet)
        assert first is not None
        assert first.key is not None
        self.key = first.key.key

    @staticmethod
    def _finished(tablet: Tablet) -> list[dict[str, str]]:
        shas = {
            event["field"].partition(":")[2]: event["value"]["sha256"]
            for event in map(json.loads, tablet.kept.values())
            if event["kind"] == "photo" and event["value"] is not None
        }
        heads = sorted(one for ids in tablet.heads.values() for one in ids)
        named = [{"id": name, "sha256": shas[name]} for name in tablet.photos]
        tablet.say("finish", "finish", {"heads": heads, "photos": named, "left_open": []})
        return tablet.items()

    def hand_in(self) -> None:
        for start in range(0, len(self.items), 50):
            batch = self.items[start : start + 50]
            body = json.dumps({"items": batch, "waiting": len(self.items) - start, "client": "bench"})
            answer = self.until_answered("batch", "POST", "/tablet/api/events", body.encode())
            for sent, receipt in zip(batch, answer["receipts"], strict=True):
                assert (receipt["id"], receipt["sha256"]) == (sent["id"], sent["sha256"])
                assert receipt["status"] in {"stored", "duplicate"}, receipt

    def hand_in_photos(self) -> None:
        end = perf_counter() + MINUTES * 60
        for photo_id, seed in self.photos:
            if perf_counter() > end:
                return
            content = photo(seed)
            path, whole = f"/tablet/api/photos/{photo_id}", {"Upload-Length": str(len(content))}
            whole["Upload-Sha256"] = sha256(content)
            state = self.until_answered("question", "GET", path)
            while not state["done"]:
                at = state["offset"]
                chunk = content[at : at + CHUNK_BYTES]
                state = self.until_answered("photo", "PATCH", path, chunk, {**whole, "Upload-Offset": str(at)})
            assert state["sha256"] == whole["Upload-Sha256"]
            self.told.photos += 1

    def until_answered(self, what: str, method: str, path: str, body: bytes = b"", headers: Any = None) -> Any:
        failures = 0
        while True:
            begun = perf_counter()
            status, answer, wait_s = self._ask(method, path, body, headers or {})
            if status in {200, 409}:
                self.told.waits[what].append(perf_counter() - begun)
                return answer
            if status == 503 and wait_s:
                self.told.sent_away[what] += 1
                time.sleep(wait_s * (1 + self.dice.random() / 2))
                continue
            self.told.failures[f"{what}: {answer if isinstance(answer, str) else status}"] += 1
            failures += 1
            time.sleep(min(LONGEST_WAIT_S, 2**failures) * (0.5 + self.dice.random() / 2))

    def _ask(self, method: str, path: str, body: bytes, headers: dict[str, str]) -> tuple[int, Any, float]:
        patience = PATIENCE_S + len(body) / SLOWEST_LINE
        line = http.client.HTTPConnection("127.0.0.1", self.port, timeout=patience)
        always = {"Host": "localhost", "X-Forwarded-Proto": "https", "Authorization": f"Bearer {self.key}"}
        try:
            line.request(method, path, body, {"Content-Type": "application/json", **always, **headers})
            answer = line.getresponse()
            return answer.status, json.loads(answer.read()), float(answer.headers.get("Retry-After") or 0)
        except (OSError, ValueError, http.client.HTTPException) as problem:
            return 0, type(problem).__name__, 0.0
        finally:
            line.close()


JPEG = made.picture("navy")


def photo(seed: int) -> bytes:
    """A real JPEG with a comment of its own, as large as was asked for."""
    dice, parts = Random(seed), []
    left = max(16, PHOTO_BYTES - len(JPEG))
    while left > 0:
        size = min(left, 60_000)
        parts.append(b"\xff\xfe" + (size + 2).to_bytes(2, "big") + dice.randbytes(size))
        left -= size
    return JPEG[:2] + b"".join(parts) + JPEG[2:]


@pytest.fixture
def processes(tmp_path: Path, transactional_db: None) -> Iterator[tuple[int, int]]:
    """The server, and a worker where one is wanted, on the test's database; the port and the server's number."""
    port, database = free_port(), connection.settings_dict
    where = f"{database['USER']}:{database['PASSWORD']}@{database['HOST']}:{database['PORT']}/{database['NAME']}"
    environment = {
        **os.environ,
        "DATABASE_URL": f"postgres://{where}",
        "DATA_DIR": str(tmp_path),
        "DEBUG": "no",
        "SECRET_KEY": "only-for-tests-" * 5,
        "ALLOWED_HOSTS": "localhost",
        "BEHIND_PROXY": "yes",
        "DJANGO_SETTINGS_MODULE": "contractor.settings",
    }
    python: dict[str, Any] = {"cwd": ROOT, "env": environment}
    subprocess.run([sys.executable, "manage.py", "collectstatic", "--noinput", "-v0"], check=True, **python)
    log = (tmp_path / "log").open("ab")
    # As README runs it for real.
    words = ["--preload", "--worker-class", "gthread", "--workers", str(SERVERS), "--threads", "8", "contractor.wsgi"]
    words += ["-b", f"127.0.0.1:{port}", "--log-level", "error"]
    server = subprocess.Popen([sys.executable, "-m", "gunicorn", *words], stderr=log, **python)
    running = [server]
    if WITH_WORKER:
        celery = ["-m", "celery", "-A", "contractor", "worker", "-c", "1", "-l", "error"]
        running.append(subprocess.Popen([sys.executable, *celery], stderr=log, stdout=log, **python))
    for _ in range(240):
        time.sleep(0.5)
        with socket.socket() as line:
            if line.connect_ex(("127.0.0.1", port)) == 0:
                break
    yield port, server.pid
    for process in running:
        process.send_signal(signal.SIGTERM)
        process.wait(60)
    print((tmp_path / "log").read_text()[-3000:])


@pytest.mark.django_db(transaction=True)
@pytest.mark.skipif(connection.vendor != "postgresql", reason="many write at once")
def test_every_tablet_hands_in_its_day_at_once(processes: tuple[int, int]) -> None:
    port, server = processes
    CompanyFactory()
    at, told = clock.now(), Told()
    made.published_checklist(at)
    models = {kind: CatalogueModelFactory(part_kind=kind, data=data) for kind, data in PARTS.items()}
    homes = [Home(number, port, told) for number in range(TABLETS)]
    for number, home in enumerate(homes):
        home.fill(number, at, models)
    events = sum(len(home.items) for home in homes)
    photos = sum(len(home.photos) for home in homes)
    print(f"\n{TABLETS} tablets, each {VISITS} visits: {events:,} events, {photos:,} photos.", flush=True)
    at_work = _work_of(server)
    seconds = _all_at_once(homes, "hand_in", told)
    assert Event.objects.count() == events
    print(f"Events: {seconds:.0f} s, {events / seconds:,.0f} a second; a bare insert does {_floor():,.0f}.", flush=True)
    print(f"The server worked {(_work_of(server) - at_work) / events * 1000:.2f} ms for each.", flush=True)
    at_work = _work_of(server)
    photo_seconds = _all_at_once(homes, "hand_in_photos", told)
    assert PhotoUpload.objects.filter(done_at__isnull=False).count() == told.photos
    assert told.photos == photos or "MINUTES" in os.environ
    photos = told.photos
    assert not SetAside.objects.exists()
    kilobytes = PHOTO_BYTES / 1000
    print(
        f"{photos:,} photos of {kilobytes:.0f} kB: {photo_seconds:.0f} s, {photos / photo_seconds:.0f} a second, "
        f"{photos * PHOTO_BYTES / photo_seconds / 1e6:.1f} MB a second."
    )
    print(f"The server worked {(_work_of(server) - at_work) / max(photos, 1) * 1000:.1f} ms for each.")
    print(f"Sent away to come again: {dict(told.sent_away) or 'nobody'}.")
    print(f"Not answered: {dict(told.failures) or 'nothing'}.")
    for what, waits in told.waits.items():
        print(f"A {what}: {len(waits):,} requests, {_spread(waits)}.")
    print(f"Memory of a server's worker at its highest: {_memory_of_workers(server)}.")
    if WITH_WORKER:
        begun = perf_counter()
        while CheckUp.objects.filter(finished_at__isnull=False).count() < TABLETS * VISITS:
            assert perf_counter() - begun < 1800, list(TabletVisit.objects.values_list("problems", flat=True)[:3])
            time.sleep(1)
        print(f"The last check-up was made {perf_counter() - begun:.0f} s after the last photo.")


def _all_at_once(homes: list[Home], what: str, told: Told) -> float:
    done = threading.Event()

    def tell() -> None:
        while not done.wait(60):
            print(f"  {len(told.waits['batch']):,} batches, {told.photos:,} photos", flush=True)

    threading.Thread(target=tell, daemon=True).start()
    begun = perf_counter()
    with ThreadPoolExecutor(len(homes)) as pool:
        for future in [pool.submit(getattr(home, what)) for home in homes]:
            future.result()
    done.set()
    return perf_counter() - begun


def _spread(waits: list[float]) -> str:
    ordered = sorted(waits)
    half, most = ordered[len(ordered) // 2], ordered[int(len(ordered) * 0.95)]
    in_ms = [f"{seconds * 1000:.0f} ms" for seconds in (half, most, ordered[-1])]
    return f"half within {in_ms[0]}, 95 % within {in_ms[1]}, the slowest {in_ms[2]}"


def _work_of(server: int) -> float:
    """Seconds of processor time of the server's processes, which a busy machine does not make more."""
    workers = Path(f"/proc/{server}/task/{server}/children").read_text().split()
    spent = [Path(f"/proc/{worker}/stat").read_text().rpartition(")")[2].split() for worker in workers]
    return sum(int(one[11]) + int(one[12]) for one in spent) / os.sysconf("SC_CLK_TCK")


def _memory_of_workers(server: int) -> str:
    workers = Path(f"/proc/{server}/task/{server}/children").read_text().split()
    lines = [line for worker in workers for line in Path(f"/proc/{worker}/status").read_text().splitlines()]
    return ", ".join(f"{int(line.split()[1]) / 1024:.0f} MB" for line in lines if line.startswith("VmHWM"))


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
