"""What a technician does with the tablet in hand: gets it ready, goes underground, answers cards, comes back up."""

import io
import re
from collections.abc import Collection
from datetime import timedelta
from typing import Any
from uuid import uuid4

from PIL import Image
from playwright.sync_api import Locator, Page, expect

from contractor.accounts.models import User
from contractor.core import clock
from contractor.tablet.actions.devices import register_device
from contractor.visits.models import Appointment
from tests.journeys.conftest import Window
from tests.journeys.hands import READINGS
from tests.journeys.small_town import Town, build
from tests.offline.pages.office import DESK
from tests.tablet.hands import Tablet

# Gauges that only some batteries have.
MORE_READINGS = {
    "battery-rest-volts-flooded": ("12.7", ""),
    "battery-rest-volts-lithium": ("13.2", ""),
    "battery-running-volts": ("12.1", ""),
    "battery-running-volts-lithium": ("12.9", ""),
    "battery-gravity": ("1.265", ""),
    "charger-float-volts-lithium": ("13.6", ""),
}
# A photo of twelve million pixels is made smaller before it is kept, on a machine that is busy with other tests.
KEPT_WITHIN_MS = 20_000
NO_NETWORK = "ERR_INTERNET_DISCONNECTED"


def a_town(*stories: str) -> Town:
    """A house of each story; the most pressing is Theo's stop of today."""
    return build(*(stories or ("due_soon",)), on=clock.today(), at=clock.now())


def stop_of(town: Town) -> Appointment:
    return Appointment.objects.get(technician=town.theo, on=clock.today())


def get_ready(window: Window, person: User) -> Page:
    """Signs in, names the tablet, fetches the rounds, and waits until the page would open without signal."""
    window.sign_in(person)
    # What the office keeps of the ready check has tests of its own; here it would ask beside everything else, which
    # the tests' database in memory does not take.
    window.context.route("**/tablet/api/ready", lambda route: route.fulfill(body="{}", content_type="application/json"))
    page = window.open("/tablet/#/sign-in")
    page.wait_for_selector("html[data-ready='#/sign-in']")
    page.get_by_label("Name of this tablet").fill("Van 2")
    page.get_by_role("button", name="Get this tablet ready").click()
    page.wait_for_selector(".stops")
    page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    return page


def get_newest_rounds(page: Page) -> None:
    """Presses the button once the ready check above it has been made: until then it moves, and a finger may miss it."""
    expect(page.get_by_role("button", name="Check again")).to_be_visible()
    page.get_by_role("button", name="Get the newest rounds").click()


def go_underground(window: Window) -> None:
    window.context.set_offline(True)


def come_up(window: Window) -> None:
    """Signal again; a page that asked in vain meanwhile has written that down, which is no fault of it."""
    window.context.set_offline(False)
    forgive_no_network(window)


def wait_until_sent(page: Page) -> None:
    """Everything is at the office, and the office has made of it what it makes."""
    expect(page.locator("#save-line")).to_contain_text("nothing unsent", timeout=40_000)
    DESK.wait_until_idle()


def forgive_no_network(window: Window) -> None:
    window.complaints[:] = [one for one in window.complaints if NO_NETWORK not in one]


def open_stop(page: Page) -> None:
    page.locator(".stops a.btn-primary").first.click()
    page.wait_for_selector("article.line")


def card(page: Page, prompt: str) -> Locator:
    return page.get_by_role("article", name=prompt, exact=True)


def is_kept(one: Locator) -> None:
    """The card says where its answer is: on this tablet, or at the office already."""
    expect(one.locator(".kept .mark").first).to_have_text(
        re.compile("saved on this tablet|received by the office"), timeout=KEPT_WITHIN_MS
    )


def a_photo(*, of: int = 1, width: int = 1200, height: int = 800) -> dict[str, Any]:
    """A camera's file: it lies on its side, and names its maker and the place where it was taken."""
    picture = Image.new("RGB", (width, height), (of % 256, 90, 160))
    picture.paste((250, 250, 60), (0, 0, width // 4, height // 4))  # top left as the sensor saw it
    exif = Image.Exif()
    exif[0x0112], exif[0x010F] = 6, "A maker"  # turn a quarter to the right
    place = exif.get_ifd(0x8825)
    place[1], place[2] = "N", (41.0, 30.0, 0.0)
    kept = io.BytesIO()
    picture.save(kept, "JPEG", exif=exif)
    return {"name": "camera.jpg", "mimeType": "image/jpeg", "buffer": kept.getvalue()}


def answer(one: Locator) -> None:
    """Answers a card as a system in good order does."""
    kind, code = one.get_attribute("data-kind"), (one.get_attribute("id") or "").split(":")[1]
    typed, seconds = {**READINGS, **MORE_READINGS}.get(code, ("", ""))
    if kind == "check":
        one.get_by_role("button", name="good", exact=True).click()
    elif kind == "photo":
        one.locator("input[type=file]").set_input_files(a_photo(of=sum(code.encode())))
        expect(one.locator(".photos img")).to_have_count(1)
    elif kind == "note":
        one.get_by_role("textbox").first.fill("Nothing has happened since last year.")
        one.get_by_role("button", name="Keep the note").click()
    else:
        if seconds:
            one.locator("input[id^='seconds-']").fill(seconds)
        if typed:
            one.locator("input[id^='number-']").fill(typed)
            one.locator("input[id^='number-']").press("Enter")
        else:
            one.locator("input[id^='seconds-']").press("Enter")
    is_kept(one)


def answer_all(page: Page, *, but: Collection[str] = ()) -> None:
    """Answers every card that is still open, in walking order."""
    for one in page.locator("article.line").all():
        if one.get_attribute("aria-label") in but or one.locator(".kept .mark").count():
            continue
        answer(one)


def draw(page: Page) -> None:
    """A signature with a finger."""
    pad = page.locator("canvas.signature")
    pad.scroll_into_view_if_needed()
    box = pad.bounding_box()
    assert box is not None
    page.mouse.move(box["x"] + 60, box["y"] + 90)
    page.mouse.down()
    for step in range(1, 8):
        page.mouse.move(box["x"] + 60 + 40 * step, box["y"] + 90 + (30 if step % 2 else -30))
    page.mouse.up()


def another_tablet(visit: Appointment, person: User) -> Tablet:
    """A second device at the same visit, whose events go straight to the office."""
    other = Tablet(person=person, visit=visit, clock=clock.now() - timedelta(minutes=5), device=uuid4())
    register_device(device_id=other.device, name="Van 3", about={}, person=person, at=clock.now())
    return other
