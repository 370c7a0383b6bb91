"""Photographs the main pages of a running demo site at the screen sizes of their people.

python .ci/screenshots.py SITE_ADDRESS FOLDER
"""

import io
import os
import subprocess
import sys
import time
import urllib.request
from pathlib import Path
from urllib.error import URLError
from urllib.parse import urlsplit

from PIL import Image
from playwright.sync_api import Browser, Page, sync_playwright

SITE, FOLDER = sys.argv[1], Path(sys.argv[2])
PASSWORD = "dry-basement-demo"
CHROMIUM = next(path for path in ("/usr/bin/chromium", "/usr/bin/chromium-browser") if os.path.exists(path))
FLAGS = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
DESK, TABLET, PHONE = (1280, 1180), (820, 1180), (390, 1120)
# A house with something to see: the last check-up found something that is still to be mended.
HOUSE = "Finding.objects.blocking().order_by('pk').first().checkup.system.property_id"
# An owner whose next visit is set.
OWNED = "Appointment.objects.live().order_by('-on', 'pk').first().request.system.property_id"
CERTIFICATE = "Certificate.objects.filter(transfer__isnull=False).order_by('-pk').first().pk"


def ask(expression: str) -> str:
    """What the demo's database says to an expression."""
    code = (
        "from contractor.checkups.models import *\n"
        "from contractor.visits.models import *\n"
        "from contractor.warranties.models import *\n"
        f"print({expression})"
    )
    command = [sys.executable, "manage.py", "shell", "--no-imports", "-c", code]
    return subprocess.run(command, capture_output=True, text=True, check=True).stdout.strip().splitlines()[-1]


def keep(name: str, png: bytes, *, width: int) -> None:
    """Shrinks a picture to what a read-me needs."""
    picture = Image.open(io.BytesIO(png)).convert("RGB")
    picture.thumbnail((width, width * 3))
    FOLDER.mkdir(parents=True, exist_ok=True)
    picture.save(FOLDER / f"{name}.webp", "WEBP", quality=80, method=6)


def page_for(browser: Browser, size: tuple[int, int], email: str | None = None) -> Page:
    """A page at a screen size, signed in when an e-mail address is given."""
    screen = {"width": size[0], "height": size[1]}
    # Where the demo's company is.
    context = browser.new_context(viewport=screen, device_scale_factor=1, timezone_id="America/New_York")
    page = context.new_page()
    if email:
        page.goto(f"{SITE}/sign-in/")
        page.fill("input[name=username]", email)
        page.fill("input[name=password]", PASSWORD)
        page.press("input[name=password]", "Enter")
        page.wait_for_load_state("networkidle")
    return page


def owner_link(property_id: str) -> str:
    """A fresh link to a house, on the site that is photographed."""
    command = [sys.executable, "manage.py", "owner_link", property_id]
    printed = subprocess.run(command, capture_output=True, text=True, check=True).stdout.strip()
    return SITE + urlsplit(printed).path


def photograph_desk(browser: Browser, house: str) -> None:
    office = page_for(browser, DESK, "nora@example.com")
    office.goto(f"{SITE}/office/houses/{house}/")
    keep("office-house", office.screenshot(), width=1000)


def photograph_tablet(browser: Browser) -> None:
    """The battery of a house on today's rounds has just been tested without signal, and is weak."""
    for email in ("theo@example.com", "ana@example.com", "kofi@example.com"):
        tablet = page_for(browser, TABLET, email)
        tablet.goto(f"{SITE}/tablet/#/sign-in")
        tablet.get_by_label("Name of this tablet").fill("Van 2")
        tablet.get_by_role("button", name="Get this tablet ready").click()
        stops = tablet.locator(".stops a.btn-primary")
        stops.first.wait_for()
        tablet.evaluate("navigator.serviceWorker.ready.then(() => true)")
        tablet.context.set_offline(True)
        for index in range(stops.count()):
            stops.nth(index).click()
            tablet.locator("[id^='step-']").last.locator("article.line").first.wait_for()
            card = tablet.locator("article.line").filter(has_text="under load").first
            if card.count() == 0:
                tablet.evaluate("location.hash = '#/'")
                stops.first.wait_for()
                continue
            # The verdict under load asks how warm the battery is.
            for words, typed in (("temperature", "58"), ("under load", "9.1")):
                number = tablet.locator("article.line").filter(has_text=words).locator("input[id^='number-']").first
                number.fill(typed)
                number.press("Enter")
            card.locator(".verdict").filter(has_text="bad").wait_for()
            card.evaluate("(card) => scrollTo(0, card.getBoundingClientRect().top + scrollY - 140)")
            tablet.wait_for_timeout(500)
            keep("tablet-checkup", tablet.screenshot(), width=700)
            return
    raise SystemExit("No stop of these days has a battery that is tested under load.")


def photograph_owner(browser: Browser, house: str) -> None:
    owner = page_for(browser, PHONE)
    owner.goto(owner_link(house))
    owner.get_by_role("button", name="Open my house").click()
    owner.wait_for_load_state("networkidle")
    keep("owner-house", owner.screenshot(), width=390)


def photograph_certificate(browser: Browser) -> None:
    """The PDF as a picture, without the empty foot of its page."""
    office = page_for(browser, DESK, "nora@example.com")
    answer = office.context.request.get(f"{SITE}/warranties/certificates/{ask(CERTIFICATE)}/certificate.pdf")
    command = ["pdftoppm", "-png", "-r", "110", "-singlefile", "-"]
    png = subprocess.run(command, input=answer.body(), capture_output=True, check=True).stdout
    keep("certificate", png, width=800)


def main() -> None:
    for _ in range(100):
        try:
            urllib.request.urlopen(f"{SITE}/sign-in/")
            break
        except URLError:
            time.sleep(0.2)
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        photograph_desk(browser, ask(HOUSE))
        photograph_tablet(browser)
        photograph_owner(browser, ask(OWNED))
        photograph_certificate(browser)
        browser.close()


if __name__ == "__main__":
    main()
