"""The page without signal: complete or not there, never changed under somebody's hands, possible to take away."""

import re
import shutil
from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest

from tests.offline import invariants
from tests.offline.conftest import TakeTablet
from tests.offline.proxy import Proxy
from tests.offline.site import ROOT, Site

pytestmark = pytest.mark.browser

WAITING = "async () => Boolean((await navigator.serviceWorker.getRegistration('/tablet/')).waiting)"
LOOK = "async () => { await (await navigator.serviceWorker.getRegistration('/tablet/')).update().catch(() => {}); }"
CACHES = "async () => (await caches.keys()).sort()"


class Addresses(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.found: set[str] = set()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        named = dict(attrs)
        if tag in {"script", "link", "img"}:
            self.found |= {named[name] or "" for name in ("src", "href") if name in named}


def kept_addresses(site: Site) -> set[str]:
    found = re.search(r"const ADDRESSES = (\[.*?\]);", site.read("/tablet/worker.js"))
    assert found
    return set(re.findall(r'"([^"]+)"', found.group(1)))


def test_everything_that_the_page_names_is_kept(site: Site, line: Proxy) -> None:
    page = Addresses()
    page.feed(site.read("/tablet/"))
    kept = kept_addresses(site)
    assert page.found <= kept
    for address in sorted(kept):
        if address.endswith(".js"):
            folder = address.rpartition("/")[0]
            for name in re.findall(r"""\bfrom ["'](\.{1,2}/[^"']+)["']""", site.read(address)):
                parts = [*folder.split("/"), *name.split("/")]
                path: list[str] = []
                for part in parts:
                    if part == "..":
                        path.pop()
                    elif part != ".":
                        path.append(part)
                assert "/".join(path) in kept, f"{address} imports {name}"


def test_without_signal_the_page_opens_from_the_tablet_and_asks_nobody(
    take_tablet: TakeTablet, line: Proxy, site: Site
) -> None:
    tablet = take_tablet()
    tablet.controlled()
    tablet.stop()
    line.is_cut = True
    tablet.start()
    assert tablet.page.evaluate("() => store.pack().person.name") == "Theo Marsh"
    # What the office is asked is never answered from the tablet.
    asked = "() => fetch('/tablet/api/me').then(() => 'answered', () => 'no answer')"
    assert tablet.page.evaluate(asked) == "no answer"


@pytest.fixture
def another_version(tmp_path: Path) -> Path:
    """The same project with a changed module: a new version of the page."""
    for name in ("contractor", "templates", "static", "fixtures", "tests"):
        shutil.copytree(ROOT / name, tmp_path / "project" / name, ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copy(ROOT / "manage.py", tmp_path / "project")
    changed = tmp_path / "project" / "static" / "js" / "tablet" / "ids.js"
    changed.write_text(changed.read_text() + "// Changed.\n")
    return tmp_path / "project"


def restart(site: Site, project: Path = ROOT, **settings: str) -> None:
    site.stop()
    site.project, site.settings = project, settings
    site.collect()
    site.start()


@pytest.fixture
def site_again(site: Site) -> Iterator[Site]:
    """The site, put back to what it was."""
    yield site
    restart(site)


def test_a_new_version_waits_until_it_may_and_loses_nothing(
    take_tablet: TakeTablet, line: Proxy, site_again: Site, another_version: Path
) -> None:
    site = site_again
    tablet = take_tablet()
    tablet.controlled()
    visit = site.people["theo"]["visits"][0]
    [before] = tablet.page.evaluate(CACHES)
    line.broken = b"/tablet/api/events"
    tablet.record(visit, 1)
    tablet.page.evaluate("() => { window.offers = 0; store.on('update', () => { window.offers += 1; }); }")
    restart(site, another_version)

    # One file of it is not there: the old version stays whole and in charge.
    line.broken = b"/static/js/tablet/ids."
    tablet.page.evaluate(LOOK)
    tablet.page.wait_for_timeout(1500)
    assert not tablet.page.evaluate(WAITING)
    assert before in tablet.page.evaluate(CACHES)

    line.broken = b"/tablet/api/events"
    tablet.record(visit, 2)  # the first may have slipped through while only that file was kept back
    tablet.page.evaluate(LOOK)
    tablet.until(lambda: bool(tablet.page.evaluate(WAITING)))
    tablet.until(lambda: tablet.page.evaluate("() => window.offers") > 0)
    # Unsent work: not now, unless the person insists.
    assert tablet.page.evaluate("() => store.applyUpdate()") is False
    with tablet.page.expect_navigation():
        tablet.page.evaluate("() => { store.applyUpdate({insist: true}); }")
    tablet.open_store(tablet.page)
    [after] = tablet.page.evaluate(CACHES)
    assert after != before
    invariants.nothing_saved_is_lost(tablet, site)
    line.heal()
    tablet.drain()
    invariants.everything_arrived_once(tablet, site)


def test_the_worker_can_be_taken_away_and_takes_nothing_with_it(
    take_tablet: TakeTablet, line: Proxy, site_again: Site
) -> None:
    site = site_again
    tablet = take_tablet()
    tablet.controlled()
    line.broken = b"/tablet/api/events"
    tablet.record(site.people["theo"]["visits"][1], 1)
    restart(site, TABLET_WORKER_OFF="yes")
    tablet.page.evaluate(LOOK)
    tablet.until(lambda: gone(tablet))
    tablet.open(tablet.page)
    invariants.nothing_saved_is_lost(tablet, site)
    line.heal()
    tablet.drain()
    invariants.everything_arrived_once(tablet, site)


def gone(tablet: Any) -> bool:
    """No file of the page is kept any more. The page is loaded anew meanwhile, so a question may find nobody."""
    try:
        return bool(tablet.page.evaluate(CACHES) == [])
    except Exception:
        return False
