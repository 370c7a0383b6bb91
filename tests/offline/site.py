"""The site in a process of its own, as it runs for real: hashed files, secure cookies, a database in a file."""

import json
import os
import shutil
import signal
import socket
import sqlite3
import subprocess
import sys
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any
from urllib.request import Request, urlopen

from tests.offline.moments import FILE
from tests.offline.proxy import Proxy

ROOT = Path(__file__).parents[2]
SESSION_COOKIE = "__Host-session"


def free_port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as one:
        port: int = one.getsockname()[1]
    return port


class Site:
    """One installation in ``folder``, run from the project at ``project``."""

    def __init__(self, folder: Path, *, project: Path = ROOT) -> None:
        """Makes nothing yet: see ``make`` and ``start``. Browsers come in over ``line``."""
        self.folder, self.project = folder, project
        self.port = free_port()
        self.line = Proxy(self.port)
        self.settings: dict[str, str] = {}
        self.process: subprocess.Popen[bytes] | None = None
        self.people: dict[str, Any] = {}

    @property
    def database(self) -> Path:
        return self.folder / "site.sqlite3"

    def environment(self) -> dict[str, str]:
        kept = {name: value for name, value in os.environ.items() if name not in {"DATABASE_URL", "CELERY_BROKER_URL"}}
        return {
            **kept,
            "DATA_DIR": str(self.folder),
            "DEBUG": "no",
            "SECRET_KEY": "only-for-tests-" * 5,
            "ALLOWED_HOSTS": "localhost,testserver",
            "BEHIND_PROXY": "yes",
            # The proxy says that the way to it was HTTPS; the browser knows better.
            "CSRF_TRUSTED_ORIGINS": self.line.address,
            "DJANGO_SETTINGS_MODULE": "contractor.settings",
            "PYTHONPATH": str(self.project),
            **self.settings,
        }

    def run(self, *words: str) -> str:
        done = subprocess.run(
            [sys.executable, *words],
            cwd=self.project,
            env=self.environment(),
            capture_output=True,
            text=True,
            check=False,
        )
        assert done.returncode == 0, done.stderr
        return done.stdout

    def make(self) -> "Site":
        self.folder.mkdir(parents=True, exist_ok=True)
        self.run("manage.py", "migrate", "-v0")
        self.collect()
        self.people = json.loads(self.run("-m", "tests.offline.town").splitlines()[-1])
        return self

    def collect(self) -> None:
        self.run("manage.py", "collectstatic", "--noinput", "-v0")

    def module(self, name: str) -> str:
        """The address of a module of the tablet, with its hash."""
        files = json.loads((self.folder / "static" / "staticfiles.json").read_text())["paths"]
        return "/static/" + str(files[f"js/tablet/{name}"])

    def start(self) -> "Site":
        words = ["-k", "gthread", "--threads", "8", "-b", f"127.0.0.1:{self.port}", "--log-level", "error"]
        self.process = subprocess.Popen(
            [sys.executable, "-m", "gunicorn", "tests.offline.mortal", *words],
            cwd=self.project,
            env=self.environment(),
            stderr=(self.folder / "server.log").open("ab"),
        )
        for _ in range(300):
            try:
                self.read("/tablet/worker.js")
                return self
            except OSError:
                assert self.process.poll() is None, (self.folder / "server.log").read_text()
                time.sleep(0.1)
        raise AssertionError("The site did not start.")

    def stop(self) -> None:
        if self.process is not None:
            self.process.send_signal(signal.SIGTERM)
            self.process.wait(20)
            self.process = None

    def die_at(self, moment: str) -> None:
        """The worker is killed when a request next comes to this moment; "" takes that back."""
        file = self.folder / FILE
        file.unlink(missing_ok=True)
        if moment:
            file.write_text(moment)

    @property
    def is_to_die(self) -> bool:
        """Whether the moment has not come yet."""
        return (self.folder / FILE).exists()

    def kill_worker(self) -> None:
        """The worker is killed now, whatever it does; the server starts another one."""
        assert self.process is not None
        number = self.process.pid
        for worker in Path(f"/proc/{number}/task/{number}/children").read_text().split():
            os.kill(int(worker), signal.SIGKILL)

    def ask(self, sql: str, words: Sequence[Any] = ()) -> list[tuple[Any, ...]]:
        """Reads, or changes, the site's database."""
        with sqlite3.connect(self.database, timeout=20) as connection:
            return connection.execute(sql, words).fetchall()

    def read(self, path: str) -> str:
        """A public page or file, as the site gives it out."""
        headers = {"Host": "localhost", "X-Forwarded-Proto": "https"}
        with urlopen(Request(f"http://127.0.0.1:{self.port}{path}", headers=headers), timeout=20) as answer:
            return str(answer.read().decode())

    # What the office holds of one tablet.

    def events(self, device: str) -> dict[str, tuple[str, str]]:
        rows = self.ask("SELECT id, raw, sha256 FROM tablet_event WHERE device_id = ?", [device.replace("-", "")])
        return {dashed(number): (raw, sha256) for number, raw, sha256 in rows}

    def photo(self, photo_id: str) -> tuple[bool, str]:
        rows = self.ask("SELECT done_at, sha256 FROM tablet_photoupload WHERE id = ?", [photo_id.replace("-", "")])
        return (bool(rows and rows[0][0]), rows[0][1] if rows else "")

    def set_aside(self, device: str) -> list[tuple[Any, ...]]:
        from_it = "state = 'waiting' AND (device_id = ? OR device_id IS NULL)"
        rows = f"SELECT reason, sentence FROM tablet_setaside WHERE {from_it}"
        return self.ask(rows, [device.replace("-", "")])

    def name_of(self, device: str) -> str | None:
        rows = self.ask("SELECT name FROM tablet_device WHERE id = ?", [device.replace("-", "")])
        return str(rows[0][0]) if rows else None

    # What happens at the office.

    def session_row(self, name: str) -> tuple[Any, ...]:
        [row] = self.ask("SELECT * FROM django_session WHERE session_key = ?", [self.people[name]["session"]])
        return row

    def end_session(self, name: str) -> tuple[Any, ...]:
        row = self.session_row(name)
        self.ask("DELETE FROM django_session WHERE session_key = ?", [self.people[name]["session"]])
        return row

    def begin_session(self, row: tuple[Any, ...]) -> None:
        self.ask(f"INSERT OR REPLACE INTO django_session VALUES ({', '.join('?' * len(row))})", row)

    def end_keys(self, device: str) -> None:
        ended = "UPDATE tablet_uploadkey SET ended_at = made_at, ended_because = 'Lost.'"
        self.ask(f"{ended} WHERE device_id = ? AND ended_at IS NULL", [device.replace("-", "")])

    def backup(self) -> Path:
        copy = self.folder / "backup.sqlite3"
        copy.unlink(missing_ok=True)
        with sqlite3.connect(self.database) as source, sqlite3.connect(copy) as target:
            source.backup(target)
        return copy

    def restore(self, copy: Path) -> None:
        """Back to an older copy, and a new epoch as the operator makes one."""
        self.stop()
        for file in self.folder.glob("site.sqlite3*"):
            file.unlink()
        shutil.copy(copy, self.database)
        self.run("manage.py", "new_epoch", "--because", "Restored from a copy.")
        self.start()


def dashed(number: str) -> str:
    return number if "-" in number else f"{number[:8]}-{number[8:12]}-{number[12:16]}-{number[16:20]}-{number[20:]}"
