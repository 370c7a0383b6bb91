"""A site, a line that can be broken, and tablets behind it."""

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Playwright, sync_playwright

from tests.offline.proxy import Proxy
from tests.offline.site import Site
from tests.offline.tablet import Tablet

TakeTablet = Callable[..., Tablet]


@pytest.fixture(scope="session")
def site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Site]:
    one = Site(tmp_path_factory.mktemp("site")).make().start()
    yield one
    one.stop()
    one.line.close()


@pytest.fixture(scope="module")
def playwright() -> Iterator[Playwright]:
    """Ends with its file: only one may run in a process, and other files of tests start their own."""
    with sync_playwright() as running:
        yield running


@pytest.fixture
def line(site: Site) -> Proxy:
    """The way to the site, whole at first."""
    site.line.again(seed=0, share=0.0)
    return site.line


@pytest.fixture
def take_tablet(playwright: Playwright, line: Proxy, site: Site, tmp_path: Path) -> Iterator[TakeTablet]:
    """Takes a new tablet out of its box; signed in with the rounds on it, unless ``person`` is None."""
    taken: list[Tablet] = []

    def take(*, person: str | None = "theo", script: str = "") -> Tablet:
        tablet = Tablet(playwright, tmp_path / f"profile{len(taken)}", line, site)
        taken.append(tablet)
        tablet.start(person=person, script=script)
        if person:
            assert tablet.fetch_rounds() == "new"
        return tablet

    yield take
    for tablet in taken:
        tablet.stop()
