"""Every screen of the tablet, light and dark, on three widths: readable, reachable, nothing wider than its window."""

from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from contractor.core import clock
from contractor.visits.actions.appointments import cancel_appointment
from tests.journeys.conftest import Window
from tests.offline.pages import tablet_hands as hands

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

OpenWindow = Callable[..., Any]
WATER = "Look for water, damp and fresh stains everywhere"
MOULD = "Look for mould on walls, joists and stored goods"
LEAST_PX = 44


def small_targets(page: Page) -> list[str]:
    """What can be pressed and is smaller than a gloved finger; links in a sentence are read, not pressed blindly."""
    return page.evaluate(
        """(least) => [...document.querySelectorAll("a, button, input, select, textarea, summary")]
          .filter((one) => one.offsetParent && !one.closest(".unseen, .skip-link, .message p"))
          .filter((one) => {
            const box = (one.type === "checkbox" ? one.closest(".form-check") : one).getBoundingClientRect();
            return box.width && (box.height < least - 0.5 || box.width < least - 0.5);
          })
          .map((one) => `${one.outerHTML.slice(0, 120)} ${one.getBoundingClientRect().height}`)""",
        LEAST_PX,
    )


def look_at(window: Window, page: Page) -> None:
    # Cards out of sight are looked at as well, and nothing by chance half under a bar from which it can be scrolled.
    page.evaluate(
        """() => {
          document.querySelectorAll(".line").forEach((one) => { one.style.contentVisibility = "visible"; });
          document.querySelectorAll(".tablet-top, #bottom").forEach((one) => { one.style.position = "static"; });
        }"""
    )
    window.assert_accessible()
    window.assert_nothing_scrolls_sideways()
    assert small_targets(page) == [], page.url


@pytest.mark.parametrize(("width", "height"), [(360, 740), (820, 1180), (1280, 800)])
@pytest.mark.parametrize("theme", ["light", "dark"])
def test_every_screen_can_be_read_and_reached(window: OpenWindow, width: int, height: int, theme: str) -> None:
    town = hands.a_town("open_finding", "due_soon")
    tablet = window(width, height, touch=width < 1000)
    page = hands.get_ready(tablet, town.theo)
    page.evaluate("(theme) => localStorage.setItem('theme', theme)", theme)
    page.reload()
    page.wait_for_selector(".stops")
    hands.go_underground(tablet)
    look_at(tablet, page)
    hands.open_stop(page)
    hands.card(page, WATER).get_by_role("button", name="bad", exact=True).click()
    hands.is_kept(hands.card(page, WATER))
    hands.card(page, MOULD).get_by_role("button", name="not possible", exact=True).click()
    page.get_by_role("button", name="Start the clock").first.click()
    expect(page.locator(".running-clock")).to_have_count(1)
    look_at(tablet, page)
    page.get_by_role("link", name="Swap this part").first.click()
    page.wait_for_selector(".swap-page")
    page.get_by_role("button", name="Old one out, new one in").click()
    expect(page.get_by_role("alert").first).to_be_focused()
    look_at(tablet, page)
    page.evaluate("location.hash = location.hash.replace(/.swap.*/, '/sign')")
    page.wait_for_selector("canvas")
    page.get_by_role("button", name="Finish the check-up").click()
    expect(page.locator(".error-summary")).to_be_focused()
    look_at(tablet, page)
    page.evaluate("location.hash = location.hash.replace('/sign', '/could-not')")
    page.wait_for_selector("#because")
    look_at(tablet, page)
    page.evaluate("location.hash = '#/tablet'")
    page.wait_for_selector(".checks")
    look_at(tablet, page)
    page.evaluate("location.hash = '#/sign-in'")
    page.wait_for_selector(".numbered")
    look_at(tablet, page)
    hands.forgive_no_network(tablet)


def test_a_visit_that_the_office_called_off_says_so_and_still_takes_work(window: OpenWindow) -> None:
    town = hands.a_town()
    visit = hands.stop_of(town)
    tablet = window(820, 1180)
    page = hands.get_ready(tablet, town.theo)
    hands.go_underground(tablet)
    hands.open_stop(page)
    hands.card(page, WATER).get_by_role("button", name="good", exact=True).click()
    hands.is_kept(hands.card(page, WATER))
    cancel_appointment(appointment_id=visit.pk, because="The owner is away.", by=town.nora.actor, at=clock.now())
    hands.come_up(tablet)
    expect(page.get_by_text("The office has cancelled this visit.")).to_be_visible(timeout=40_000)
    hands.card(page, MOULD).get_by_role("button", name="good", exact=True).click()
    hands.is_kept(hands.card(page, MOULD))
    hands.wait_until_sent(page)
    hands.forgive_no_network(tablet)


def test_nothing_is_said_to_be_saved_when_it_was_not(window: OpenWindow) -> None:
    town = hands.a_town()
    tablet = window(820, 1180)
    page = hands.get_ready(tablet, town.theo)
    hands.open_stop(page)
    # The tablet's room is used up: neither store takes another byte.
    page.evaluate(
        """() => {
          IDBObjectStore.prototype.put = IDBObjectStore.prototype.add = () => {
            throw new DOMException("No room", "QuotaExceededError");
          };
          Worker.prototype.postMessage = () => { throw new DOMException("No room", "QuotaExceededError"); };
        }"""
    )
    note = hands.card(page, "Ask what has happened since last year")
    note.get_by_role("textbox").first.fill("Water came in on Sunday.")
    note.get_by_role("button", name="Keep the note").click()
    expect(note).to_contain_text("not saved")
    expect(note).to_contain_text("What you entered stays here.")
    expect(note.get_by_role("textbox").first).to_have_value("Water came in on Sunday.")
    expect(page.locator("#save-line")).not_to_contain_text("storage safe")
    page.reload()
    page.wait_for_selector("article.line")
    note = hands.card(page, "Ask what has happened since last year")
    expect(note.get_by_role("textbox").first).to_have_value("Water came in on Sunday.")
    note.get_by_role("button", name="Keep the note").click()
    hands.is_kept(note)
    hands.wait_until_sent(page)


def test_an_ended_sign_in_is_said_and_stops_nobody(window: OpenWindow) -> None:
    town = hands.a_town()
    tablet = window(820, 1180)
    page = hands.get_ready(tablet, town.theo)
    tablet.context.clear_cookies()
    hands.get_newest_rounds(page)
    expect(page.locator("#notice")).to_contain_text("Sign in")
    tablet.complaints[:] = [one for one in tablet.complaints if "status of 401" not in one]
    hands.open_stop(page)
    hands.card(page, WATER).get_by_role("button", name="good", exact=True).click()
    hands.is_kept(hands.card(page, WATER))
    expect(page.locator("#notice")).to_contain_text("Sign in")
    hands.wait_until_sent(page)  # the key needs no sign-in
    tablet.complaints[:] = [one for one in tablet.complaints if "status of 401" not in one]


def test_a_tablet_that_the_office_does_not_know_says_what_to_do_first(window: OpenWindow) -> None:
    town = hands.a_town()
    tablet = window(820, 1180, touch=True)
    tablet.sign_in(town.theo)
    page = tablet.open("/tablet/")
    hands.get_newest_rounds(page)
    said = page.get_by_text("The office does not know this tablet yet.")
    expect(said).to_be_visible()
    expect(said).not_to_contain_text("The rounds on this tablet")  # there are none
    tablet.forgive(428)
    look_at(tablet, page)
    page.get_by_role("link", name="Sign in", exact=True).last.tap()
    page.get_by_label("Name of this tablet").fill("Van 2")
    page.get_by_role("button", name="Get this tablet ready").tap()
    expect(page.locator(".stops").first).to_be_visible()
