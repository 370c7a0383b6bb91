"""A tablet in a person's hands: a real Chromium with a profile of its own, and what its page said was saved."""

import json
import os
import signal
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from playwright.sync_api import BrowserContext, Page, Playwright

from tests.journeys.conftest import CHROMIUM, FLAGS
from tests.offline.proxy import Proxy
from tests.offline.site import SESSION_COOKIE, Site

DEADLINE_S = 60.0
OPEN = "async (address) => { window.store = await (await import(address)).open(); }"
FETCH = """async () => {
  if (!store.status().key) await store.registerDevice("Tablet of the tests");
  return store.refreshPack();
}"""
KEPT = """async () => {
  const lines = (await (await store.exportFile()).text()).split('\\n').filter(Boolean).map((line) => JSON.parse(line));
  return {events: lines.filter((one) => one.event).map((one) => one.event),
          photos: lines.filter((one) => one.photo).map(({photo}) => ({id: photo.id, sha256: photo.sha256})),
          head: lines[0], end: lines.at(-1).end};
}"""
HEADS = """(id) => Object.fromEntries(
  [...store.visit(id).heads].map(([field, all]) => [field, all.map((one) => one.id).sort()]))"""
RECORD = """async (words) => {
  const {event, copies} = await store.record(words);
  return {id: event.id, raw: JSON.stringify(event), copies};
}"""
ADD_PHOTO = """async ({visit, seed, size}) => {
  const bytes = new Uint8Array(size);
  let state = seed >>> 0 || 1;
  for (let place = 0; place < size; place += 1) {
    state ^= state << 13; state >>>= 0; state ^= state >>> 17; state ^= state << 5; state >>>= 0;
    bytes[place] = state & 255;
  }
  const value = {type: 'image/jpeg', width: 8, height: 8, item: '', component: '', finding: '', taken: '', caption: ''};
  const {event, copies, id} = await store.addPhoto({visit, file: bytes.buffer, value});
  return {id: event.id, raw: JSON.stringify(event), copies, photo: id, sha256: event.value.sha256};
}"""
# The wall clock as somebody, or a flat battery, may set it; what counts the page's own time goes on.
CLOCK = """{
  const Real = Date;
  let off = 0;
  globalThis.Date = class Date extends Real {
    constructor(...words) { words.length ? super(...words) : super(Real.now() + off); }
    static now() { return Real.now() + off; }
  };
  globalThis.setClock = (ms) => { off = ms; };
}"""


@dataclass
class Saved:
    """What the page reported as saved: events by id with their text, photos by id with their hash."""

    events: dict[str, str] = field(default_factory=dict)
    photos: dict[str, str] = field(default_factory=dict)


class Tablet:
    """Opens the tablet's page in Chromium, through the proxy, and drives its store as the screens do."""

    def __init__(self, playwright: Playwright, folder: Path, proxy: Proxy, site: Site) -> None:
        self.playwright, self.folder, self.proxy, self.site = playwright, folder, proxy, site
        self.context: BrowserContext | None = None
        self.saved = Saved()
        self.device = ""
        self.clock_off_ms = 0

    @property
    def page(self) -> Page:
        assert self.context is not None
        return self.context.pages[0]

    def start(self, *, person: str | None = None, script: str = "") -> "Tablet":
        path = next(path for path in CHROMIUM if os.path.exists(path))
        self.context = self.playwright.chromium.launch_persistent_context(
            str(self.folder), executable_path=path, headless=True, args=FLAGS[1:]
        )
        self.context.set_default_timeout(20_000)
        self.context.add_init_script(CLOCK)
        self.context.add_init_script(f"setClock({self.clock_off_ms});")
        if script:
            self.context.add_init_script(script)
        if person:
            self.sign_in(person)
        self.open(self.page)
        return self

    def sign_in(self, person: str) -> None:
        assert self.context is not None
        value = self.site.people[person]["session"]
        cookie = {"name": SESSION_COOKIE, "value": value, "domain": "localhost", "path": "/", "secure": True}
        self.context.add_cookies([cookie])  # type: ignore[list-item]

    def open(self, page: Page) -> None:
        page.goto(f"{self.proxy.address}/tablet/")
        self.open_store(page)

    def open_store(self, page: Page) -> None:
        page.evaluate(OPEN, self.site.module("state.js"))
        self.device = page.evaluate(KEPT)["head"]["device"]

    def reload(self) -> None:
        self.page.reload()
        self.open_store(self.page)

    def fetch_rounds(self) -> str:
        told: str = self.page.evaluate(FETCH)
        return told

    def controlled(self) -> None:
        """Waits until the page's own worker is in charge."""
        self.page.evaluate("async () => { await navigator.serviceWorker.ready; }")
        self.until(lambda: self.page.evaluate("() => navigator.serviceWorker.controller !== null"))

    def stop(self) -> None:
        if self.context is not None:
            self.context.close()
            self.context = None

    def kill(self) -> None:
        """The whole browser at once, as a flat battery does it."""
        numbers = self._processes()
        assert numbers, "No browser to kill."
        for number in numbers:
            try:
                os.kill(number, signal.SIGKILL)
            except ProcessLookupError:
                continue
        self.until(lambda: not self._processes())
        try:
            self.stop()
        except Exception:
            self.context = None

    def _processes(self) -> list[int]:
        """The processes of this tablet's browser: they carry its profile in their command line."""
        mine = f"--user-data-dir={self.folder}".encode()
        found = []
        for entry in Path("/proc").iterdir():
            if entry.name.isdecimal():
                try:
                    words = (entry / "cmdline").read_bytes().split(b"\0")
                except OSError:
                    continue
                if mine in words:
                    found.append(int(entry.name))
        return found

    # What the person does.

    def record(
        self, visit: str, number: int | str, *, what: str = "rest-volts", page: Page | None = None
    ) -> dict[str, Any]:
        value = {"condition": "good", "number": str(number), "unit": "V"}
        words = {"visit": visit, "kind": "answer", "field": f"answer:{what}:0", "value": value}
        told: dict[str, Any] = (page or self.page).evaluate(RECORD, words)
        self.saved.events[told["id"]] = told["raw"]
        return told

    def add_photo(self, visit: str, *, seed: int, size: int = 300_000) -> dict[str, Any]:
        told: dict[str, Any] = self.page.evaluate(ADD_PHOTO, {"visit": visit, "seed": seed, "size": size})
        self.saved.events[told["id"]] = told["raw"]
        self.saved.photos[told["photo"]] = told["sha256"]
        return told

    def status(self, page: Page | None = None) -> dict[str, Any]:
        told: dict[str, Any] = (page or self.page).evaluate("() => store.status()")
        return told

    def kept(self) -> dict[str, Any]:
        told: dict[str, Any] = self.page.evaluate(KEPT)
        return told

    def heads(self, visit: str) -> dict[str, list[str]]:
        told: dict[str, list[str]] = self.page.evaluate(HEADS, visit)
        return told

    def step_clock(self, ms: int) -> None:
        """Sets the tablet's clock forward, or back; it stays so after a new start."""
        assert self.context is not None
        self.clock_off_ms += ms
        self.context.add_init_script(f"setClock({self.clock_off_ms});")
        for page in self.context.pages:
            page.evaluate("(ms) => setClock(ms)", self.clock_off_ms)

    def send(self) -> None:
        self.page.evaluate("() => store.sendNow()")

    def drain(self) -> None:
        """Presses "send now" until nothing waits."""

        def is_empty() -> bool:
            self.send()
            status = self.status()
            return status["unsent"] == 0 and status["unsentPhotos"] == 0

        self.until(is_empty)

    def until(self, holds: Callable[[], bool]) -> None:
        end = time.monotonic() + DEADLINE_S
        while not holds():
            assert time.monotonic() < end, f"Still not so: {json.dumps(self.status()) if self.context else ''}"
            time.sleep(0.05)
