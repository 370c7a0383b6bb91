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
DESK, TABLET, PHONE = (1280, 860), (820, 1180), (390, 844)


def keep(name: str, png: bytes, *, width: int) -> None:
    """Shrinks a picture to what a read-me needs."""
    picture = Image.open(io.BytesIO(png)).convert("RGB")
    picture.thumbnail((width, width * 3))
    FOLDER.mkdir(parents=True, exist_ok=True)
    picture.save(FOLDER / f"{name}.webp", "WEBP", quality=78, method=6)


def page_for(browser: Browser, size: tuple[int, int], email: str | None = None) -> Page:
    """A page at a screen size, signed in when an e-mail address is given."""
    context = browser.new_context(viewport={"width": size[0], "height": size[1]}, device_scale_factor=1)
    page = context.new_page()
    if email:
        page.goto(f"{SITE}/sign-in/")
        page.fill("input[name=username]", email)
        page.fill("input[name=password]", PASSWORD)
        page.press("input[name=password]", "Enter")
        page.wait_for_load_state("networkidle")
    return page


def owner_link(property_id: str) -> str:
    command = [sys.executable, "manage.py", "owner_link", property_id]
    return subprocess.run(command, capture_output=True, text=True, check=True).stdout.strip()


def photograph(browser: Browser) -> None:
    office = page_for(browser, DESK, "nora@example.com")
    keep("office-today", office.screenshot(), width=1000)
    for name, address in (("office-due", "/office/due/"), ("office-rounds", "/visits/rounds/")):
        office.goto(SITE + address)
        keep(name, office.screenshot(), width=1000)
    office.goto(f"{SITE}/office/houses/1/")
    keep("office-house", office.screenshot(), width=1000)
    technician = page_for(browser, TABLET, "theo@example.com")
    keep("tablet-round", technician.screenshot(), width=700)
    technician.get_by_role("button", name="Start").first.click()
    technician.wait_for_load_state("networkidle")
    keep("tablet-checkup", technician.screenshot(), width=700)
    owner = page_for(browser, PHONE)
    owner.goto(owner_link("1"))
    owner.get_by_role("button", name="Open my house").click()
    owner.wait_for_load_state("networkidle")
    keep("owner-house", owner.screenshot(), width=390)


def photograph_certificate() -> None:
    """The newest certificate's PDF as a picture."""
    code = (
        "from contractor.warranties.actions.certifying import certificate_file\n"
        "from contractor.warranties.models import Certificate\n"
        "print(certificate_file(certificate_id=Certificate.objects.order_by('-pk').first().pk).path)"
    )
    command = [sys.executable, "manage.py", "shell", "--no-imports", "-c", code]
    path = subprocess.run(command, capture_output=True, text=True, check=True).stdout.strip().splitlines()[-1]
    png = subprocess.run(
        ["pdftoppm", "-png", "-r", "110", "-singlefile", path], capture_output=True, check=True
    ).stdout
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
        photograph(browser)
        browser.close()
    photograph_certificate()


if __name__ == "__main__":
    main()
