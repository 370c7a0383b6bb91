"""What a gloved finger may rely on: nothing moves or is made anew under it, and what it typed stays."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

import pytest
from playwright.sync_api import FloatRect, Locator, Page, expect

from tests.offline.pages import tablet_hands as hands

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

OpenWindow = Callable[..., Any]
WATER = "Look for water, damp and fresh stains everywhere"
MOULD = "Look for mould on walls, joists and stored goods"
# Where every line lies on the page, from its very beginning.
PLACES = """
() => Object.fromEntries([...document.querySelectorAll("article.line, .part-head")]
  .map((one, index) => [one.id || index, Math.round(one.getBoundingClientRect().top + scrollY)]))
"""
FRAMES = """
async () => {
  for (let n = 0; n < 4; n += 1) await new Promise((done) => requestAnimationFrame(() => setTimeout(done)));
}
"""


def open_whole_stop(page: Page) -> None:
    """The stop with its whole walk made, which happens in the moments after it is shown."""
    hands.open_stop(page)
    expect(page.locator("[id^='step-']").last.locator("article.line").first).to_be_attached()
    page.evaluate(FRAMES)
    expect(page.locator("#save-line")).to_have_text("nothing unsentnothing sent yetstorage safe")


def box_of(one: Locator) -> FloatRect:
    box = one.bounding_box()
    assert box is not None
    return box


@contextmanager
def a_finger_on(one: Locator) -> Iterator[None]:
    """A finger that comes down on something, stays while other things happen, and goes up where it came down."""
    box, page = box_of(one), one.page
    at = [{"x": box["x"] + box["width"] / 2, "y": box["y"] + box["height"] / 2}]
    session = page.context.new_cdp_session(page)
    session.send("Input.dispatchTouchEvent", {"type": "touchStart", "touchPoints": at})
    yield
    session.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})


@pytest.mark.parametrize(("width", "height"), [(360, 740), (820, 1180)])
def test_a_jump_along_the_walk_moves_no_line(window: OpenWindow, width: int, height: int) -> None:
    town = hands.a_town()
    tablet = window(width, height, touch=True)
    page = hands.get_ready(tablet, town.theo)
    hands.go_underground(tablet)
    open_whole_stop(page)
    before = page.evaluate(PLACES)
    assert len(before) > 60
    for index in (6, 3, 7, 1):
        page.locator(".steps-nav a").nth(index).click()
        page.evaluate(FRAMES)
        assert page.evaluate(PLACES) == before
    # Turned on its side it is laid out anew, and then stands as still.
    page.set_viewport_size({"width": height, "height": width})
    page.evaluate(FRAMES)
    turned = page.evaluate(PLACES)
    assert turned != before
    for index in (5, 2):
        page.locator(".steps-nav a").nth(index).click()
        page.evaluate(FRAMES)
        assert page.evaluate(PLACES) == turned
    hands.forgive_no_network(tablet)


def test_every_part_far_down_the_walk_opens_at_the_first_touch(window: OpenWindow) -> None:
    town = hands.a_town()
    tablet = window(820, 1180, touch=True)
    page = hands.get_ready(tablet, town.theo)
    hands.go_underground(tablet)
    open_whole_stop(page)
    parts = page.locator(".part-head a").count()
    assert parts > 5
    for index in reversed(range(parts)):
        page.locator(".part-head a").nth(index).tap()
        expect(page.locator(".swap-page")).to_be_visible()
        page.get_by_role("link", name="Back").tap()
        expect(page.locator("[id^='step-']").last.locator("article.line").first).to_be_attached()
        page.evaluate("scrollTo(0, 0)")
    hands.forgive_no_network(tablet)


def test_news_from_the_office_leaves_the_finger_and_the_words_where_they_are(window: OpenWindow) -> None:
    town = hands.a_town()
    tablet = window(820, 1180, touch=True)
    page = hands.get_ready(tablet, town.theo)
    hands.go_underground(tablet)
    hands.open_stop(page)
    water = hands.card(page, WATER)
    water.get_by_role("button", name="bad", exact=True).tap()
    hands.is_kept(water)
    expect(water.locator(".kept .mark")).to_have_text("saved on this tablet")
    words = water.get_by_label("What did you find?")
    words.fill("A wet corner behind the")
    done = water.get_by_label("Put right on the spot? Say what was done")
    done.focus()
    for one in (words, done, water.get_by_role("button", name="Take back", exact=False).first):
        one.evaluate("(element) => { element.dataset.mine = 'yes'; }")
    # The office's answer arrives while a finger is on a choice.
    choice = hands.card(page, MOULD).get_by_role("button", name="good", exact=True)
    choice.scroll_into_view_if_needed()
    with a_finger_on(choice):
        hands.come_up(tablet)
        page.evaluate("dispatchEvent(new Event('online'))")
        hands.wait_until_sent(page)
    expect(choice).to_have_attribute("aria-pressed", "true")
    expect(water.locator(".kept .mark").first).to_have_text("received by the office")
    assert page.locator("[data-mine]").count() == 3
    expect(words).to_have_value("A wet corner behind the")
    hands.wait_until_sent(page)
    # Typed and not written down yet: it is there again after the page was closed.
    page.reload()
    expect(hands.card(page, WATER).get_by_label("What did you find?")).to_have_value("A wet corner behind the")
    hands.forgive_no_network(tablet)


# The check looks for a camera, and here it finds out only when it is told to.
SLOW_CHECK = """
() => {
  const told = new Promise((done) => { window.endTheCheck = () => done([]); });
  navigator.mediaDevices.enumerateDevices = () => told;
}
"""


@pytest.mark.parametrize(("width", "height"), [(360, 740), (820, 1180)])
def test_a_ready_check_that_ends_leaves_the_button_under_the_finger(
    window: OpenWindow, width: int, height: int
) -> None:
    page = hands.get_ready(window(width, height, touch=True), hands.a_town().theo)
    page.evaluate(SLOW_CHECK)
    page.get_by_role("button", name="Check again").tap()
    panel = page.get_by_role("region", name="Ready check")
    expect(panel).to_have_text("Checking this tablet…")
    page.evaluate(FRAMES)
    button = page.get_by_role("button", name="Get the newest rounds")
    button.scroll_into_view_if_needed()
    before = box_of(button)
    with a_finger_on(button):
        page.evaluate("endTheCheck()")
        page.evaluate(FRAMES)
        assert box_of(button) == before
    expect(page.get_by_text("The rounds are up to date.")).to_be_visible()
    expect(panel).to_contain_text("No camera was found.")
    assert box_of(button)["y"] > before["y"]


def test_an_answer_puts_none_of_its_choices_aside(window: OpenWindow) -> None:
    town = hands.a_town()
    tablet = window(820, 1180, touch=True)
    page = hands.get_ready(tablet, town.theo)
    hands.go_underground(tablet)
    open_whole_stop(page)
    card = hands.card(page, WATER)
    card.evaluate("one => one.scrollIntoView({block: 'center'})")
    page.evaluate(FRAMES)
    choices = card.locator(".choices").get_by_role("button")
    before = [box_of(one) for one in choices.all()]
    for word in ("good", "watch", "bad"):
        card.get_by_role("button", name=word, exact=True).tap()
        hands.is_kept(card)
        expect(card.locator(".verdict")).to_contain_text(word)
        page.evaluate(FRAMES)
        assert [box_of(one) for one in choices.all()] == before
    hands.forgive_no_network(tablet)
