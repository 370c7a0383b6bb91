"""How soon a slow tablet answers a touch: a choice, a key of the number pad, a clock's start, a finding written down.

    pytest tests/benchmarks/test_bench_tablet_touch.py -n0 -s

A slow tablet is a processor held to a sixth. Thirty real touches of every kind, measured twice:

* The work of the page's own thread, from the browser's trace: what it spent until the frame was handed over that
  answers the touch, and all that followed within the second after it; processor time, times six, so that whatever
  else the machine does is not in it.
* The wait as a person sees it, from the browser's Event Timing with the processor held to a sixth: from the finger's
  lifting to the next picture, in steps of 8 ms, and how much of it went by before the page heard of the touch, in the
  page's own handlers, and from there to the picture. A busy machine shows in it, and so does drawing without a graphics
  processor: a page that holds nothing but one button, measured in the same way, is the floor.

Wanted: an answer within 100 ms, the limit of "at once" (Miller 1968; Nielsen 1993, both from memory). It measures and
never fails for being slow.
"""

import json
import os
import statistics
from collections.abc import Callable, Iterator, Sequence
from typing import Any

import pytest
from playwright.sync_api import Browser, CDPSession, Locator, Page

from tests.journeys.conftest import chromium, window
from tests.offline.pages import tablet_hands as hands

__all__ = ["chromium", "window"]

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

SLOWER, WANTED_MS = 6, 100
TOUCHES = int(os.environ.get("TOUCHES", "30"))
SETTLED_MS, AFTER_MS = 1500, 1000
FINGER_MS = 80  # how long a finger lies on the glass in a tap, at least: from memory, no source
TRACED = ["devtools.timeline", "toplevel", "disabled-by-default-devtools.timeline"]
INPUT = {"pointerdown", "touchstart"}
LISTEN = """
() => {
  globalThis.answers = [];
  new PerformanceObserver((list) => {
    for (const one of list.getEntries()) {
      const { name, duration, startTime, processingStart, processingEnd } = one;
      if (name === "click") answers.push([duration, processingStart - startTime, processingEnd - processingStart]);
    }
  }).observe({ type: "event", durationThreshold: 16 });
}
"""
BARE = "<!doctype html><button style='padding: 2rem' onclick='this.textContent += \".\"'>Touch</button>"
Wait = tuple[float, float, float]  # whole, until the page heard of it, in its handlers; ms


def choices(page: Page) -> Iterator[Locator]:
    for round_of in ("watch", "good", "bad"):
        for one in page.locator("article[data-kind=check]").all():
            yield one.locator(f"[data-choice={round_of}]")


def keys(page: Page) -> Iterator[Locator]:
    field = page.locator("article[data-kind=measurement] input[id^='number-']").first
    field.scroll_into_view_if_needed()
    field.tap()
    pad = page.locator(".pad:visible")
    while True:
        for name in ("5", "1", "Erase", "Erase"):
            yield pad.get_by_role("button", name=name, exact=True)


def clocks(page: Page) -> Iterator[Locator]:
    while True:
        for one in page.locator(".clock-button").all():
            yield one
            one.tap()  # stopped again, which is not what is measured


def findings(page: Page) -> Iterator[Locator]:
    for word in ("bad", "watch"):
        for one in page.locator("article[data-kind=check]").all():
            one.locator(f"[data-choice={word}]").tap()
            page.wait_for_timeout(400)
            form = one.get_by_role("button", name="Write it down")
            if form.count():
                yield form.first


KINDS: dict[str, Callable[[Page], Iterator[Locator]]] = {
    "a choice": choices,
    "a key of the number pad": keys,
    "a clock's start": clocks,
    "a finding": findings,
}


def touch(page: Page, session: CDPSession, button: Locator) -> None:
    button.evaluate("(one) => one.scrollIntoView({block: 'center'})")
    page.wait_for_timeout(SETTLED_MS)
    box = button.bounding_box()
    assert box is not None
    page.wait_for_timeout(100)
    point = {"x": box["x"] + box["width"] / 2, "y": box["y"] + box["height"] / 2}
    session.send("Input.dispatchTouchEvent", {"type": "touchStart", "touchPoints": [point]})
    page.wait_for_timeout(FINGER_MS)
    session.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
    page.wait_for_timeout(AFTER_MS)


def work(trace: Sequence[dict[str, Any]]) -> tuple[float, float]:
    """Milliseconds of a slow processor until the answering frame, and in all."""
    inputs = [one for one in trace if one["name"] == "EventDispatch" and one["args"]["data"]["type"] in INPUT]
    clicks = [one for one in trace if one["name"] == "EventDispatch" and one["args"]["data"]["type"] == "click"]
    first, click = min(inputs, key=lambda one: one["ts"]), max(clicks, key=lambda one: one["ts"])
    thread = (first["pid"], first["tid"])
    own = [one for one in trace if (one["pid"], one["tid"]) == thread and one["ph"] == "X" and "tdur" in one]
    shown = min(
        one["ts"] + one["dur"] for one in own if one["name"] == "Commit" and one["ts"] > click["ts"] + click["dur"]
    )
    spent, answered, end = 0.0, 0.0, 0.0
    for task in sorted((one for one in own if one["name"].endswith("RunTask")), key=lambda one: one["ts"]):
        whole = task["ts"] + task["dur"]
        if task["ts"] < end or whole < first["ts"]:
            continue  # inside another one, or before the touch
        end = whole
        spent += task["tdur"]
        if task["ts"] < shown:
            answered += task["tdur"]
    return answered / 1000 * SLOWER, spent / 1000 * SLOWER


def tell(name: str, times: Sequence[float]) -> None:
    ordered = sorted(times)
    print(f"{name}: {len(times)} touches, median {statistics.median(ordered):.0f} ms, worst {ordered[-1]:.0f} ms")


def wait(page: Page, session: CDPSession, button: Locator) -> Wait:
    """The longest that a click of this touch waited for its picture, with its parts."""
    session.send("Emulation.setCPUThrottlingRate", {"rate": SLOWER})
    before = len(page.evaluate("answers"))
    touch(page, session, button)
    page.wait_for_timeout(500)
    session.send("Emulation.setCPUThrottlingRate", {"rate": 1})
    # What took less than 16 ms is not told of.
    return max((tuple(one) for one in page.evaluate("answers")[before:]), default=(8.0, 0.0, 0.0))


def floor(page: Page) -> list[Wait]:
    """The same touches on a page of the same size that has nothing to draw but a button."""
    bare = page.context.new_page()
    bare.set_content(BARE)
    bare.evaluate(LISTEN)
    session = bare.context.new_cdp_session(bare)
    return [wait(bare, session, bare.get_by_role("button")) for _ in range(TOUCHES)]


def tell_waits(name: str, waits: Sequence[Wait]) -> None:
    tell(f"{name}, wait for its picture at a sixth (wanted {WANTED_MS} ms)", [one[0] for one in waits])
    whole, unheard, handled = max(waits)
    print(
        f"  the worst: {unheard:.0f} ms until the page heard of it, {handled:.0f} ms in its handlers, "
        f"{whole - unheard - handled:.0f} ms until the picture stood"
    )


def test_how_soon_a_touch_is_answered(window: Callable[..., Any], chromium: Browser) -> None:
    town = hands.a_town()
    tablet = window(820, 1180, touch=True)
    page = hands.get_ready(tablet, town.theo)
    hands.go_underground(tablet)
    session = page.context.new_cdp_session(page)
    page.evaluate(LISTEN)
    print()
    for name, kind in KINDS.items():
        hands.open_stop(page)
        page.wait_for_timeout(3000)
        buttons = kind(page)
        answered, spent = [], []
        for _ in range(TOUCHES):
            button = next(buttons)
            chromium.start_tracing(page=page, categories=TRACED)
            touch(page, session, button)
            one = work(json.loads(chromium.stop_tracing())["traceEvents"])
            answered.append(one[0])
            spent.append(one[1])
        tell(f"{name}, work until it is answered (wanted {WANTED_MS} ms)", answered)
        tell(f"{name}, all work within a second", spent)
        page.evaluate("answers.length = 0")
        waits = []
        for _ in range(TOUCHES):
            button = next(buttons)
            waits.append(wait(page, session, button))
        tell_waits(name, waits)
        page.evaluate("location.hash = '#/'")
        page.wait_for_selector(".stops")
    tell_waits("one button on a bare page", floor(page))
    hands.forgive_no_network(tablet)
