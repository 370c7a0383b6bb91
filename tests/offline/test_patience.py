"""How long a tablet leaves the office alone when it was told that too many came home at once."""

from typing import Any

import pytest
from playwright.sync_api import Page

from tests.offline.test_modules import chromium, page_in

__all__ = ["chromium"]

pytestmark = pytest.mark.browser

# A tablet with some events and photos that nobody takes: every question is counted and answered as it is told to be.
TABLET = """
async (answer) => {
  const {Outbox} = await import('/outbox.js');
  const row = (id) => ({id, visit: '1', raw: '{"actor": 1}', sha256: 'x', state: 'waiting'});
  globalThis.asked = [];
  const withRight = async (actor, question) => {
    const heard = await question({});
    return heard;
  };
  globalThis.fetch = async (address) => {
    asked.push(String(address).split('/tablet/api/')[1]);
    return new Response(JSON.stringify(answer.data), {status: answer.status, headers: answer.headers});
  };
  const {ask} = await import('/door.js');
  globalThis.outbox = new Outbox({
    memory: {
      events: new Map(),
      waitingEvents: () => answer.events.map(row),
      waitingPhotos: () => answer.photos.map((id) => ({...row(id), event: 'sent before'})),
      parse: JSON.parse,
    },
    identity: {known: {device: 'd'}, withRight},
    receive: {ask: (path, words) => ask(path, words)},
    readBytes: async () => null,
    client: '',
    onChange: () => {},
  });
  await outbox.sendNow();
}
"""


@pytest.fixture
def page(chromium: Any) -> Any:
    """A page whose clock stands still until it is told to go on."""
    page = page_in(chromium, "UTC")
    page.clock.install(time=0)
    page.clock.pause_at(1000)
    yield page
    page.context.close()


def busy(*, events: int = 0, photos: int = 0, status: int = 503, wait: str | None = "20") -> dict[str, Any]:
    return {
        "status": status,
        "data": {"sentence": "Come again a little later."},
        "headers": {"Retry-After": wait} if wait else {},
        "events": [f"e{number}" for number in range(events)],
        "photos": [f"p{number}" for number in range(photos)],
    }


def asked(page: Page) -> list[str]:
    page.evaluate("async () => { for (let turn = 0; turn < 50; turn += 1) await null; }")
    found: list[str] = page.evaluate("asked")
    return found


def goes_on(page: Page, seconds: float) -> None:
    page.clock.run_for(round(seconds * 1000))


@pytest.mark.parametrize("status", [503, 429])
@pytest.mark.parametrize("what", ["events", "photos"])
def test_the_office_is_left_alone_for_as_long_as_it_asked(page: Page, status: int, what: str) -> None:
    page.evaluate(TABLET, busy(status=status, **{what: 1}))
    assert len(asked(page)) == 1
    goes_on(page, 19.5)
    page.evaluate("outbox.wake()")  # a save, a look at the tablet, half a minute gone by
    assert len(asked(page)) == 1
    goes_on(page, 11)  # not all tablets at once: up to half as long again
    assert len(asked(page)) == 2


def test_a_hand_on_send_now_asks_at_once(page: Page) -> None:
    page.evaluate(TABLET, busy(events=1))
    page.evaluate("outbox.sendNow()")
    assert len(asked(page)) == 2


@pytest.mark.parametrize(("luck", "wait_s"), [(0, 20), (0.5, 25), (0.9, 29)])
def test_tablets_that_were_sent_away_in_one_moment_come_back_in_different_ones(
    page: Page, luck: float, wait_s: int
) -> None:
    page.evaluate("(luck) => { Math.random = () => luck; }", luck)
    page.evaluate(TABLET, busy(events=1))
    goes_on(page, wait_s - 0.1)
    assert len(asked(page)) == 1
    goes_on(page, 0.2)
    assert len(asked(page)) == 2


def test_where_nothing_is_asked_for_the_wait_grows_by_itself(page: Page) -> None:
    page.evaluate(TABLET, busy(status=500, events=1, wait=None))
    goes_on(page, 2.1)
    assert len(asked(page)) == 2
    goes_on(page, 1.9)
    assert len(asked(page)) == 2
    goes_on(page, 2.2)
    assert len(asked(page)) == 3


def test_no_other_photo_is_offered_to_an_office_that_is_busy(page: Page) -> None:
    page.evaluate(TABLET, busy(photos=3))
    assert asked(page) == ["photos/p0"]


def test_a_photo_that_the_office_trips_over_holds_up_no_other(page: Page) -> None:
    page.evaluate(TABLET, busy(photos=3, status=500, wait=None))
    assert asked(page) == ["photos/p0", "photos/p1", "photos/p2"]


# RFC 9110, section 10.2.3: both of its examples, seen from two minutes before the moment that the second one names.
MOMENT = "Fri, 31 Dec 1999 23:59:59 GMT"
WAITS = [
    ("120", 120_000),
    (MOMENT, 120_000),
    ("0", 0),
    ("86400", 300_000),  # somebody on the way with other ideas: never longer than five minutes
    ("Fri, 31 Dec 1998 23:59:59 GMT", 0),
    ("soon", None),
    ("-5", None),
    ("", None),
    (None, None),
]


@pytest.mark.parametrize(("words", "wait_ms"), WAITS)
def test_a_wait_is_read_as_the_standard_writes_it(page: Page, words: str | None, wait_ms: int | None) -> None:
    told = """async ([words, moment]) => {
      const {waitOf} = await import('/door.js');
      Date.now = () => Date.parse(moment) - 120_000;
      return waitOf(words);
    }"""
    assert page.evaluate(told, [words, MOMENT]) == wait_ms
