"""A real Chromium, and what every page in it must hold to."""

import os
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.test import Client
from playwright.sync_api import Browser, BrowserContext, ConsoleMessage, Page, sync_playwright

from contractor.accounts.models import User

CHROMIUM = ("/usr/bin/chromium", "/usr/bin/chromium-browser")
FLAGS = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
AXE = (Path(__file__).parent / "vendor" / "axe-core" / "axe.min.js").read_text(encoding="utf-8")
# WCAG 2.2 level AA: its own criteria and those that it takes over from 2.0 and 2.1.
LEVELS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
DEADLINE_MS = 15_000


@pytest.fixture(scope="module")
def chromium() -> Iterator[Browser]:
    """One browser for the journeys of a module; each journey opens windows of its own.

    Playwright keeps an event loop in this thread until it is stopped; Django's queries beside it are as sequential
    as ever, so they are allowed for as long.
    """
    path = next((path for path in CHROMIUM if os.path.exists(path)), None)
    if path is None:
        pytest.fail("There is no Chromium on this machine. Run: bash .ci/system-packages tests")
    with pytest.MonkeyPatch.context() as patch, sync_playwright() as playwright:
        patch.setenv("DJANGO_ALLOW_ASYNC_UNSAFE", "true")
        browser = playwright.chromium.launch(executable_path=path, args=FLAGS)
        yield browser
        browser.close()


class Window:
    """A browser window at the screen size of its person, that remembers every complaint of a page."""

    def __init__(self, context: BrowserContext, address: str) -> None:
        context.set_default_timeout(DEADLINE_MS)
        self.context, self.address = context, address
        self.page: Page = context.new_page()
        self.complaints: list[str] = []
        self.is_listening = True
        self.page.on("console", self._heard)
        self.page.on("pageerror", lambda error: self.complaints.append(f"{self.page.url}: {error}"))

    def _heard(self, message: ConsoleMessage) -> None:
        if message.type == "error" and self.is_listening:
            self.complaints.append(f"{self.page.url}: {message.text}")

    def open(self, path: str) -> Page:
        answer = self.page.goto(self.address + path)
        assert answer is not None
        assert answer.status < 400, f"{path} answers {answer.status}"
        return self.page

    def sign_in(self, user: User) -> None:
        """A session as the sign-in page makes it."""
        client = Client()
        client.force_login(user)
        cookie = client.cookies[settings.SESSION_COOKIE_NAME]
        self.context.add_cookies([{"name": cookie.key, "value": cookie.value, "url": self.address}])

    def forgive(self, status: int) -> None:
        """Chromium writes a refused page down as an error; takes the one that was wanted off the list."""
        wanted = [one for one in self.complaints if f"status of {status}" in one]
        assert len(wanted) == 1, self.complaints
        self.complaints.remove(wanted[0])

    def assert_nothing_scrolls_sideways(self) -> None:
        wide = self.page.evaluate(
            """() => {
              const room = document.documentElement.clientWidth;
              if (document.documentElement.scrollWidth <= room) return [];
              return [...document.body.querySelectorAll("*")]
                .filter((one) => one.getBoundingClientRect().right > room + 1)
                .slice(-3).map((one) => one.outerHTML.slice(0, 160));
            }"""
        )
        assert wide == [], f"{self.page.url} is wider than its window: {wide}"

    def assert_accessible(self) -> None:
        # The checker itself styles the page for a moment, which the policy refuses; that is not the page's fault.
        self.is_listening = False
        self.page.evaluate(AXE)
        found: dict[str, Any] = self.page.evaluate(
            "(levels) => axe.run(document, {runOnly: {type: 'tag', values: levels}, resultTypes: ['violations']})",
            LEVELS,
        )
        self.is_listening = True
        told = [
            f"{violation['id']}: {violation['help']}: {node['html'][:200]} {node.get('failureSummary', '')[:300]}"
            for violation in found["violations"]
            for node in violation["nodes"][:3]
        ]
        assert told == [], f"{self.page.url}:\n" + "\n".join(told)


@pytest.fixture
def window(chromium: Browser, live_server: Any) -> Iterator[Callable[[int, int], Window]]:
    """Opens windows of a size; at the end none of their pages may have complained."""
    opened: list[Window] = []

    def open_window(width: int, height: int, *, touch: bool = False) -> Window:
        context = chromium.new_context(viewport={"width": width, "height": height}, has_touch=touch)
        opened.append(Window(context, live_server.url))
        return opened[-1]

    yield open_window
    complaints = [complaint for one in opened for complaint in one.complaints]
    for one in opened:
        one.context.close()
    assert complaints == []
