"""How quick the tablet is in the hand: a slow tablet is a machine whose processor is held to a sixth.

    pytest tests/benchmarks/test_bench_tablet.py -n0 -s

Opening a stop without network should take less than 200 ms of script. It measures and never fails for being slow: a
machine that is busy with something else shows up here first. Touches are measured by test_bench_tablet_touch.py.
"""

from collections.abc import Callable, Iterable
from typing import Any

import pytest

from tests.journeys.conftest import chromium, window
from tests.offline.pages import tablet_hands as hands

__all__ = ["chromium", "window"]

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

SLOWER = 6
WANTED_SCRIPT_MS = 200
# From the touch on the round to the stop's first frame: script, layout and paint.
OPEN = """
async () => {
  const from = performance.now();
  const made = new Promise((done) => {
    new MutationObserver((_, watch) => {
      if (!document.querySelector("article.line")) return;
      watch.disconnect();
      done();
    }).observe(document.getElementById("page"), { childList: true });
  });
  document.querySelector(".stops a.btn-primary").click();
  await made;
  const script = performance.now() - from;
  await new Promise((done) => requestAnimationFrame(() => setTimeout(done)));
  return [script, performance.now() - from];
}
"""


def in_ms(times: Iterable[float]) -> str:
    return ", ".join(f"{time:.0f}" for time in times) + " ms"


def test_a_stop_opens_at_once_on_a_slow_tablet(window: Callable[..., Any]) -> None:
    town = hands.a_town()
    tablet = window(820, 1180, touch=True)
    page = hands.get_ready(tablet, town.theo)
    hands.go_underground(tablet)
    page.wait_for_timeout(2000)
    session = page.context.new_cdp_session(page)
    session.send("Emulation.setCPUThrottlingRate", {"rate": SLOWER})
    opened = []
    for _ in range(5):
        opened.append(page.evaluate(OPEN))
        page.evaluate("location.hash = '#/'")
        page.wait_for_selector(".stops")
        page.wait_for_timeout(500)
    page.evaluate(OPEN)
    page.wait_for_selector("article.line")
    lines = page.locator("article.line").count()
    session.send("Emulation.setCPUThrottlingRate", {"rate": 1})
    print(f"\n{lines} lines, {SLOWER}x slower:")
    print(f"opening, script: {in_ms(script for script, _ in opened)} (wanted {WANTED_SCRIPT_MS})")
    print(f"opening, shown: {in_ms(shown for _, shown in opened)}")
    hands.forgive_no_network(tablet)
