"""What opening a stop costs the tablet's processor.

    pytest tests/benchmarks/test_bench_tablet_script.py -n0 -s

Counted by the browser itself in the time of the page's own thread, over the DevTools protocol, so that whatever else
the machine does meanwhile is not in it; times six, for a tablet whose processor is held to a sixth. Wanted: less than
200 ms of script to open a stop without network. It measures and never fails for being slow; touches are measured by
test_bench_tablet_touch.py.
"""

import statistics
from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import CDPSession, Page

from tests.journeys.conftest import chromium, window
from tests.offline.pages import tablet_hands as hands

__all__ = ["chromium", "window"]

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

SLOWER = 6
PARTS = {"script": "ScriptDuration", "style": "RecalcStyleDuration", "layout": "LayoutDuration", "all": "TaskDuration"}
# The stop is there and can be touched; and the whole walk is made, which happens in pieces after it.
SHOWN = """
() => new Promise((done) => {
  new MutationObserver((_, watch) => {
    if (!document.querySelector("article.line")) return;
    watch.disconnect();
    requestAnimationFrame(() => setTimeout(done));
  }).observe(document.getElementById("page"), { childList: true });
  document.querySelector(".stops a.btn-primary").click();
})
"""


def metrics(session: CDPSession) -> dict[str, float]:
    got = {one["name"]: one["value"] for one in session.send("Performance.getMetrics")["metrics"]}
    return {part: got[name] * 1000 * SLOWER for part, name in PARTS.items()}


def cost(session: CDPSession, page: Page, act: str, words: object = None) -> dict[str, float]:
    before = metrics(session)
    page.evaluate(act, words)
    after = metrics(session)
    return {part: after[part] - before[part] for part in PARTS}


def tell(name: str, costs: list[dict[str, float]]) -> None:
    for part in PARTS:
        of_part = [one[part] for one in costs]
        print(f"{name}, {part}: median {statistics.median(of_part):.0f} ms, worst {max(of_part):.0f} ms")


def test_what_a_stop_costs_the_processor_of_a_slow_tablet(window: Callable[..., Any]) -> None:
    town = hands.a_town()
    tablet = window(820, 1180, touch=True)
    page = hands.get_ready(tablet, town.theo)
    hands.go_underground(tablet)
    session = page.context.new_cdp_session(page)
    session.send("Performance.enable", {"timeDomain": "threadTicks"})
    opened, rest = [], []
    for _ in range(7):
        opened.append(cost(session, page, SHOWN))
        rest.append(cost(session, page, "() => new Promise((done) => setTimeout(done, 1500))"))
        page.evaluate("location.hash = '#/'")
        page.wait_for_selector(".stops")
        page.wait_for_timeout(300)
    page.evaluate(SHOWN)
    page.wait_for_timeout(1500)
    print(f"\n{page.locator('article.line').count()} lines; times {SLOWER}:")
    tell("opening a stop (wanted: script 200 ms)", opened)
    tell("making the rest of its walk", rest)
    hands.forgive_no_network(tablet)
