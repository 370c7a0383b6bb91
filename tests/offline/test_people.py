"""What people do to a tablet and its server: clocks set, workers killed, a tablet closed, two at one house, a desk."""

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Page, Playwright

from tests.journeys.conftest import CHROMIUM, FLAGS
from tests.offline import invariants
from tests.offline.conftest import TakeTablet
from tests.offline.moments import MOMENTS, OF_PHOTOS
from tests.offline.proxy import Proxy
from tests.offline.runs import CLOCK_STEPS_MS, DAY_MS
from tests.offline.site import SESSION_COOKIE, Site
from tests.offline.tablet import Tablet

pytestmark = pytest.mark.browser

TAKEN = "SELECT raw FROM tablet_event WHERE id = ?"


def all_holds(tablet: Tablet, site: Site, visit: str) -> None:
    invariants.nothing_saved_is_lost(tablet, site)
    invariants.everything_arrived_once(tablet, site)
    invariants.both_sides_agree(tablet, site, visit)


def test_a_clock_that_is_set_between_two_answers_decides_nothing(
    take_tablet: TakeTablet, line: Proxy, site: Site
) -> None:
    """The later answer takes the earlier one's place, whatever the clock says, and after a new start too."""
    tablet = take_tablet()
    visit = site.people["theo"]["visits"][0]
    tablet.controlled()
    line.is_cut = True
    last = tablet.record(visit, 0)
    for number, step in enumerate(CLOCK_STEPS_MS, start=1):
        tablet.step_clock(step)
        told = tablet.record(visit, number)
        assert json.loads(told["raw"])["bases"] == [last["id"]]
        last = told
    tablet.step_clock(-DAY_MS)
    tablet.reload()
    told = tablet.record(visit, 9)
    assert json.loads(told["raw"])["bases"] == [last["id"]]
    assert told["id"] < last["id"]  # a new page counts from the clock it finds: no order is read from ids
    assert tablet.heads(visit)["answer:rest-volts:0"] == [told["id"]]
    line.heal()
    tablet.drain()
    all_holds(tablet, site, visit)
    # With signal again the tablet knows by how much its clock is wrong, and says so with every answer.
    late = json.loads(tablet.record(visit, 10)["raw"])
    assert late["clock_off"] == pytest.approx(-DAY_MS, abs=60_000)
    tablet.drain()
    all_holds(tablet, site, visit)


@pytest.mark.parametrize("moment", MOMENTS)
def test_a_worker_that_dies_in_the_middle_of_a_request_has_promised_nothing_that_is_not_there(
    take_tablet: TakeTablet, line: Proxy, site: Site, moment: str
) -> None:
    tablet = take_tablet()
    visit = site.people["theo"]["visits"][1]
    site.die_at(moment)
    told = tablet.record(visit, 1)
    tablet.add_photo(visit, seed=3, size=300_000)
    tablet.until(lambda: not site.is_to_die)
    if moment == "events committed, no receipt":
        [(raw,)] = site.ask(TAKEN, [told["id"].replace("-", "")])
        assert raw == told["raw"]
    assert moment in OF_PHOTOS or tablet.status()["unsent"] > 0  # nobody heard a receipt
    invariants.nothing_saved_is_lost(tablet, site)
    tablet.drain()
    all_holds(tablet, site, visit)


@pytest.fixture
def desk(playwright: Playwright, line: Proxy, site: Site, tmp_path: Path) -> Callable[[Callable[[Page], None]], None]:
    """Lets Nora do something in a browser of her own, while no tablet runs."""

    def does(act: Callable[[Page], None]) -> None:
        path = next(path for path in CHROMIUM if Path(path).exists())
        browser = playwright.chromium.launch_persistent_context(
            str(tmp_path / "desk"), executable_path=path, headless=True, args=FLAGS[1:], base_url=line.address
        )
        value = site.people["nora"]["session"]
        cookie = {"name": SESSION_COOKIE, "value": value, "domain": "localhost", "path": "/", "secure": True}
        browser.add_cookies([cookie])  # type: ignore[list-item]
        act(browser.pages[0])
        browser.close()

    return does


def test_a_closed_tablets_work_comes_home_in_a_file(
    take_tablet: TakeTablet,
    line: Proxy,
    site: Site,
    desk: Callable[[Callable[[Page], None]], None],
    tmp_path: Path,
) -> None:
    """Closed by the office with work on it: it keeps everything, saves a file, and the desk hands the file in."""
    tablet = take_tablet()
    visit = site.people["theo"]["visits"][2]
    line.is_cut = True
    for number in range(3):
        tablet.record(visit, number)
    tablet.add_photo(visit, seed=6, size=90_000)
    tablet.stop()
    line.heal()

    def close(page: Page) -> None:
        page.goto(f"/tablet/office/devices/{tablet.device}/")
        page.get_by_label("Why").fill("Left on the train.")
        page.get_by_role("button", name="Close this tablet").click()
        page.get_by_text("Closed by Nora Vance").wait_for()

    open_sign_in = site.session_row("theo")
    desk(close)
    # The sign-in on the tablet ends with it; Theo's next one is begun below, as if he had typed his password again.
    with pytest.raises(ValueError):
        site.session_row("theo")
    tablet.start()
    tablet.send()
    status = tablet.status()
    assert (status["unsent"], status["unsentPhotos"]) == (4, 1)
    assert site.events(tablet.device) == {}
    file = tmp_path / "work.ndjson"
    file.write_text(tablet.page.evaluate("async () => await (await store.exportFile()).text()"))
    tablet.stop()

    def hand_in(page: Page) -> None:
        page.goto("/tablet/import/")
        page.locator("input[type=file]").set_input_files(file)
        page.get_by_role("button", name="Hand it in").click()
        page.get_by_text("4 new, 0 known before, 1 photo.").wait_for()
        page.goto(f"/tablet/office/devices/{tablet.device}/")
        page.get_by_role("button", name="Let it be used again").click()
        page.get_by_text("Closed by").wait_for(state="detached")

    desk(hand_in)
    assert {number: raw for number, (raw, _) in site.events(tablet.device).items()} == tablet.saved.events
    # Found again and allowed again: what it offers is known, and nothing stands twice.
    site.begin_session(open_sign_in)
    tablet.start(person="theo")
    assert tablet.fetch_rounds() == "new"
    tablet.drain()
    all_holds(tablet, site, visit)


def test_two_technicians_at_one_house_see_each_others_answers_and_lose_none(
    take_tablet: TakeTablet, line: Proxy, site: Site
) -> None:
    his = take_tablet()
    visit = site.people["theo"]["visits"][-1]
    line.is_cut = True
    mine = his.record(visit, 12)
    his.record(visit, 10, what="load-test")
    his.stop()
    line.heal()
    hers = take_tablet(person="ana")
    line.is_cut = True
    other = hers.record(visit, 11)
    line.heal()
    hers.drain()
    invariants.everything_arrived_once(hers, site)
    hers.stop()
    his.start(person="theo")
    his.drain()
    all_holds(his, site, visit)
    assert his.heads(visit)["answer:rest-volts:0"] == sorted([mine["id"], other["id"]])
    # What he types now, having seen both, takes the place of both.
    his.record(visit, 12)
    his.drain()
    all_holds(his, site, visit)
    assert len(his.heads(visit)["answer:rest-volts:0"]) == 1
