"""The three audiences at their screens, in a real Chromium: the desk, the tablet in the basement, the owner's phone."""

import io
import re
from collections.abc import Callable
from typing import Any

import pytest
from django.urls import reverse
from PIL import Image
from playwright.sync_api import Page, expect

from contractor.checkups.models import Answer, CheckUp, Photo, Signature
from contractor.core import clock
from contractor.core.audit import SYSTEM
from contractor.office.demo.cast import PASSWORD
from contractor.properties.actions import make_owner_link
from contractor.properties.models import Ownership, Property
from contractor.visits.models import Appointment, Request
from contractor.warranties.models import Certificate
from tests.journeys.small_town import Town, build

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

DESK, TABLET, PHONE = (1280, 800), (820, 1180), (360, 740)
OpenWindow = Callable[..., Any]


def link_for(ownership: Ownership) -> str:
    token = make_owner_link(ownership_id=ownership.pk, by=SYSTEM, at=clock.now())
    return reverse("portal:link", args=[token])


def present_owner(house: Property) -> Ownership:
    return house.ownerships.open_ended().get()


def a_photo() -> dict[str, Any]:
    kept = io.BytesIO()
    Image.new("RGB", (320, 240), "#446688").save(kept, "JPEG")
    return {"name": "basement.jpg", "mimeType": "image/jpeg", "buffer": kept.getvalue()}


def card(page: Page, prompt: str) -> Any:
    return page.locator("article.item").filter(has=page.get_by_role("heading", name=prompt, exact=True))


def test_the_desk_finds_a_house_registers_one_and_gives_out_a_visit(window: OpenWindow) -> None:
    town = build("due_soon", "good", on=clock.today(), at=clock.now(), stop_today=False)
    desk = window(*DESK)
    page = desk.open("/")
    page.get_by_label("E-mail").fill(town.nora.email)
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_label("Password").press("Enter")
    page.wait_for_url("**/office/")

    # The caller says "Barley…": slash, a few letters, Enter.
    house = town.places["good"].home
    page.keyboard.press("/")
    search = page.get_by_role("searchbox")
    expect(search).to_be_focused()
    search.press_sequentially(house.street[:-2])
    expect(page.locator("[data-search-results]").get_by_role("link").first).to_contain_text(house.street)
    search.press("Enter")
    page.wait_for_url(f"**{reverse('office:house', args=[house.pk])}")
    expect(page.get_by_role("heading", level=1)).to_have_text(house.street)

    # A new house, from the search that found nothing.
    page.keyboard.press("/")
    search.press_sequentially("77 Heron Walk")
    page.get_by_role("link", name="Register a new house").click()
    expect(page.get_by_label("Street and number")).to_have_value("77 Heron Walk")
    page.get_by_label("ZIP or postal code").fill("17099")
    page.get_by_label("Name").fill("Ada Winterbourne")
    page.get_by_label("E-mail (optional)").fill("ada@example.com")
    page.get_by_label("Owner since").fill("2024-03-01")
    page.get_by_role("button", name="Register", exact=True).click()
    page.wait_for_url("**/systems/install/*/")
    registered = Property.objects.get(street="77 Heron Walk")
    assert present_owner(registered).person.name == "Ada Winterbourne"

    # A visit is given out from the due list.
    waiting = Request.objects.without_appointment().earliest("target_on")
    desk.open(reverse("office:due"))
    page.locator(f"a[href='{reverse('visits:give', args=[waiting.pk])}']").first.click()
    page.get_by_label("Technician").select_option(label=town.theo.name)
    page.get_by_role("button", name="Give out this visit").click()
    page.wait_for_url(f"**/visits/rounds/{town.theo.pk}/**")
    given = Appointment.objects.get(request=waiting)
    assert given.technician == town.theo
    expect(page.get_by_role("main")).to_contain_text(waiting.system.property.street)


def test_the_technician_works_through_cards_by_touch(window: OpenWindow) -> None:
    town = build("in_grace", on=clock.today(), at=clock.now())
    tablet = window(*TABLET, touch=True)
    tablet.page.clock.install()
    tablet.sign_in(town.theo)
    page = tablet.open("/")
    page.get_by_role("button", name="Start").tap()
    page.wait_for_url("**/checkups/*/")
    checkup = CheckUp.objects.get(finished_at__isnull=True)

    # A touch is an answer; the next one corrects it, and nothing is overwritten.
    way_in = card(page, "See that the way to the pit is clear, lit and safe")
    way_in.get_by_role("radio", name="bad").tap()
    expect(way_in.locator(".verdict")).to_contain_text("bad")
    expect(page.locator(".finding-draft").first).to_be_visible()
    way_in.get_by_role("radio", name="good").tap()
    expect(way_in.locator(".verdict")).to_contain_text("good")
    expect(page.locator(".finding-draft")).to_have_count(0)
    assert Answer.objects.filter(checkup=checkup).count() == 2
    expect(page.locator("#progress")).to_contain_text("1 of")

    # A figure brings its verdict at once.
    humidity = page.locator("article.item").filter(has_text="humidity").first
    humidity.locator("input[name=typed]").fill("72")
    humidity.get_by_role("button", name="Save").tap()
    expect(humidity.locator(".verdict")).to_contain_text("watch")
    expect(humidity.locator(".verdict")).to_contain_text("72")

    # A photo is sent as soon as it is taken.
    pictured = page.locator("article.item:has(input[type=file])").first
    pictured.locator("input[type=file]").set_input_files(a_photo())
    expect(pictured.locator("ul.photos img")).to_have_count(1)
    assert Photo.objects.filter(checkup=checkup).count() == 1

    # A clock that was started counts on through a reload.
    timer = page.locator("[data-timer]").first
    timer.get_by_role("button").tap()
    expect(timer.get_by_role("button")).to_contain_text("Stop at")
    page.clock.fast_forward(90_000)
    page.reload()
    expect(timer.get_by_role("button")).to_have_text(re.compile(r"Stop at 9\d s"))
    timer.get_by_role("button").tap()
    expect(timer.locator("[data-timer-seconds]")).to_have_value(re.compile(r"^9\d\.\d$"))

    # The owner draws a name on the glass.
    page.get_by_label("Name of the person who signs").fill("Somebody Athome")
    glass = page.locator("canvas.signature")
    glass.scroll_into_view_if_needed()
    box = glass.bounding_box()
    assert box is not None
    page.mouse.move(box["x"] + 40, box["y"] + 60)
    page.mouse.down()
    for step in range(1, 9):
        page.mouse.move(box["x"] + 40 + 30 * step, box["y"] + 60 + (20 if step % 2 else -20))
    page.mouse.up()
    page.get_by_role("button", name="Keep the drawn signature").tap()
    expect(page.locator("#sign")).to_contain_text("Drawn on the glass: Somebody Athome")
    [stroke] = Signature.objects.get(checkup=checkup).strokes
    assert len(stroke) == 9

    # Finishing too early says what is missing, and leads there.
    page.get_by_role("button", name="Finish the check-up").tap()
    told = page.get_by_role("alert").first
    expect(told).to_contain_text("still to do")
    expect(told).to_be_focused()
    missing = told.get_by_role("link").first
    target = missing.get_attribute("href")
    assert target is not None
    missing.tap()
    expect(page.locator(target)).to_be_in_viewport()
    tablet.forgive(422)
    checkup.refresh_from_db()
    assert checkup.finished_at is None


def test_an_owner_opens_the_house_from_a_link_and_takes_the_papers_along(window: OpenWindow) -> None:
    town = build("sold_properly", on=clock.today(), at=clock.now())
    house = town.places["sold_properly"].home
    phone = window(*PHONE, touch=True)
    page = phone.open(link_for(present_owner(house)))
    phone.assert_nothing_scrolls_sideways()
    phone.assert_accessible()
    page.get_by_role("button", name="Open my house").tap()
    page.wait_for_url(f"**{reverse('portal:house')}")
    expect(page.get_by_role("heading", level=1)).to_have_text(house.street)
    phone.assert_nothing_scrolls_sideways()
    phone.assert_accessible()
    papers = page.locator("ul.doors a")
    names = papers.all_inner_texts()
    assert any("Download the warranty" in name for name in names)
    assert any("Download the certificate" in name for name in names)
    for address in papers.evaluate_all("links => links.map((link) => link.href)"):
        answer = phone.context.request.get(address)
        assert (answer.status, answer.headers["content-type"]) == (200, "application/pdf")
        assert answer.body().startswith(b"%PDF-")
    page.get_by_role("button", name="Close on this device").tap()
    page.wait_for_url(f"**{reverse('portal:ask_link')}")


EVERY_STORY = ("due_soon", "battery_swapped", "failed_primary_pump", "open_finding", "outside_record", "transfer_open")


def desk_pages(town: Town) -> list[str]:
    swapped, sold = town.places["battery_swapped"], town.places["transfer_open"]
    house, system, warranty = swapped.home.pk, swapped.system.pk, swapped.warranty.pk
    waiting = Request.objects.without_appointment().first() or Request.objects.get()
    stop = Appointment.objects.filter(state="planned").latest("pk")
    battery = swapped.system.components.get(part_kind="battery", out_on__isnull=True).pk
    outside = town.places["outside_record"].system.pk
    return [
        reverse("office:today"),
        reverse("office:houses"),
        reverse("office:house", args=[house]),
        reverse("office:house", args=[town.places["failed_primary_pump"].home.pk]),
        reverse("office:house", args=[town.places["open_finding"].home.pk]),
        reverse("office:audit", args=[house]),
        reverse("office:due"),
        reverse("office:search") + "?q=a",
        reverse("properties:register"),
        reverse("properties:change", args=[house]),
        reverse("properties:owner", args=[house]),
        reverse("systems:install", args=[house]),
        reverse("systems:component_add", args=[system]) + "?kind=battery",
        reverse("systems:wall_add", args=[system]),
        reverse("systems:component", args=[battery]),
        reverse("systems:replace", args=[battery]),
        reverse("systems:retire", args=[battery]),
        reverse("systems:correct", args=[battery]),
        reverse("systems:catalogue"),
        reverse("systems:catalogue_add") + "?kind=primary_pump",
        reverse("visits:rounds"),
        reverse("visits:round_day", args=[stop.technician_id, stop.on]),
        reverse("visits:give", args=[waiting.pk]),
        reverse("visits:move", args=[stop.pk]),
        reverse("visits:cancel", args=[stop.pk]),
        reverse("visits:ask", args=[system]),
        reverse("checkups:outside_records", args=[outside]),
        reverse("checkups:checkup", args=[CheckUp.objects.latest("pk").pk]),
        reverse("estimates:to_replace"),
        reverse("estimates:why", args=[battery]),
        reverse("warranties:warranty", args=[warranty]),
        reverse("warranties:report_claim", args=[warranty]),
        reverse("warranties:claims") + "?state=decided",
        reverse("warranties:claim", args=[town.places["failed_primary_pump"].warranty.claims.get().pk]),
        reverse("warranties:transfers"),
        reverse("warranties:ask_transfer", args=[warranty]),
        reverse("warranties:transfer", args=[sold.warranty.transfers.get().pk]),
        reverse("notices:log"),
        reverse("notices:notice", args=[swapped.home.notices.latest("pk").pk]),
    ]


def manager_pages(town: Town) -> list[str]:
    return [
        reverse("office:setup"),
        reverse("accounts:staff"),
        reverse("accounts:add_staff"),
        reverse("accounts:company"),
        reverse("checkups:checklists"),
        reverse("checkups:checklist", args=[CheckUp.objects.latest("pk").checklist_id]),
        reverse("warranties:terms"),
        reverse("warranties:terms_edition", args=[town.cast.terms.pk]),
        reverse("warranties:draft_terms"),
        reverse("warranties:void", args=[town.places["due_soon"].warranty.pk]),
        reverse("warranties:waive", args=[town.places["due_soon"].warranty.pk]),
    ]


def look_at_all(window: Any, paths: list[str], *, narrow: bool) -> None:
    """Every page: accessible at the size of its people, and nothing sideways on a phone; all faults told at once."""
    faults = []
    for path in paths:
        window.open(path)
        for look in (window.assert_nothing_scrolls_sideways, *([] if narrow else [window.assert_accessible])):
            try:
                look()
            except AssertionError as fault:
                faults.append(str(fault))
    assert faults == [], "\n\n".join(faults)


@pytest.mark.parametrize("size", [DESK, PHONE], ids=["at the desk", "on a phone"])
def test_every_page_of_the_office_is_accessible_and_fits_its_screen(window: OpenWindow, size: tuple[int, int]) -> None:
    town = build(*EVERY_STORY, on=clock.today(), at=clock.now())
    desk = window(*size)
    desk.sign_in(town.ruth)
    look_at_all(desk, desk_pages(town) + manager_pages(town), narrow=size == PHONE)


def test_every_page_of_the_technician_is_accessible_and_fits_its_screen(window: OpenWindow) -> None:
    town = build("in_grace", "battery_swapped", on=clock.today(), at=clock.now())
    stop = Appointment.objects.get(technician=town.theo, state="planned")
    for size in (TABLET, PHONE):
        tablet = window(*size, touch=True)
        tablet.sign_in(town.theo)
        page = tablet.open(reverse("checkups:my_round"))
        tablet.assert_accessible()
        tablet.assert_nothing_scrolls_sideways()
        page.get_by_role("button", name="Start").or_(page.get_by_role("link", name="Go on")).tap()
        page.wait_for_url("**/checkups/*/")
        page.get_by_role("radio", name="bad").first.tap()
        expect(page.locator(".finding-draft").first).to_be_visible()
        tablet.assert_accessible()
        tablet.assert_nothing_scrolls_sideways()
        battery = stop.request.system.components.filter(part_kind="primary_pump", out_on__isnull=True).get()
        checkup = CheckUp.objects.get(appointment=stop)
        look_at_all(
            tablet,
            [
                reverse("checkups:swap", args=[checkup.pk, battery.pk]),
                reverse("checkups:could_not", args=[stop.pk]),
            ],
            narrow=False,
        )


def test_every_page_of_owners_and_the_public_is_accessible_and_fits_a_phone(window: OpenWindow) -> None:
    town = build("outside_record", "sold_properly", on=clock.today(), at=clock.now())
    place = town.places["outside_record"]
    phone = window(*PHONE, touch=True)
    certificate = Certificate.objects.get()
    look_at_all(
        phone,
        [
            reverse("accounts:sign_in"),
            reverse("portal:ask_link"),
            reverse("portal:check"),
            reverse("portal:check_token", args=[certificate.token]),
            reverse("portal:check_token", args=["n" * 43]),
        ],
        narrow=False,
    )
    phone.open(link_for(present_owner(place.home)))
    phone.page.get_by_role("button", name="Open my house").tap()
    phone.page.wait_for_url(f"**{reverse('portal:house')}")
    look_at_all(
        phone, [reverse("portal:house"), reverse("portal:outside_record", args=[place.system.pk])], narrow=False
    )
    phone.page.goto(phone.address + reverse("portal:link", args=["n" * 43]))
    phone.page.get_by_role("button", name="Open my house").tap()
    expect(phone.page.get_by_role("main")).to_contain_text("link")
    phone.assert_accessible()
    phone.forgive(410)
