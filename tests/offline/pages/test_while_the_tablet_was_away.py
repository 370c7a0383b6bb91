"""What the office did meanwhile, work that comes home as a file, pictures that are none, gauges of the other system."""

from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import expect

from contractor.accounts.models import User
from contractor.checkups.models import CheckUp
from contractor.core import clock
from contractor.tablet.models import Event, PhotoUpload
from contractor.visits.actions.appointments import move_appointment
from tests.offline.pages import tablet_hands as hands

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

OpenWindow = Callable[..., Any]
WATER = "Look for water, damp and fresh stains everywhere"
MOULD = "Look for mould on walls, joists and stored goods"
OVERVIEW = "Take an overview photo of the room"
TEMPERATURE = "Read the temperature beside the battery"


@pytest.mark.parametrize(
    ("days", "to_another", "said"),
    [
        (3, False, "The office has moved this visit to another day."),
        (0, True, "The office has given this visit to somebody else."),
    ],
    ids=["moved", "reassigned"],
)
def test_a_visit_that_went_elsewhere_says_so_and_still_takes_work(
    window: OpenWindow, days: int, to_another: bool, said: str
) -> None:
    town = hands.a_town()
    visit = hands.stop_of(town)
    tablet = window(820, 1180, touch=True)
    page = hands.get_ready(tablet, town.theo)
    hands.go_underground(tablet)
    hands.open_stop(page)
    hands.card(page, WATER).get_by_role("button", name="good", exact=True).tap()
    hands.is_kept(hands.card(page, WATER))
    other = User.objects.filter(role="technician").exclude(pk=town.theo.pk).first()
    assert other is not None
    move_appointment(
        appointment_id=visit.pk,
        technician_id=other.pk if to_another else town.theo.pk,
        on=clock.today() + timedelta(days=days),
        by=town.nora.actor,
        at=clock.now(),
    )
    hands.come_up(tablet)
    expect(page.get_by_text(said)).to_be_visible(timeout=40_000)
    hands.card(page, MOULD).get_by_role("button", name="good", exact=True).tap()
    hands.is_kept(hands.card(page, MOULD))
    hands.wait_until_sent(page)
    assert Event.objects.filter(appointment=visit, kind="answer").count() == 2
    # The newest rounds no longer name it, and nothing that was done there is gone.
    page.evaluate("location.hash = '#/'")
    hands.get_newest_rounds(page)
    expect(page.get_by_text("The rounds are up to date.")).to_be_visible()
    hands.forgive_no_network(tablet)


def test_work_comes_home_as_a_file_and_once_more_over_the_air(window: OpenWindow, tmp_path: Path) -> None:
    town = hands.a_town()
    visit = hands.stop_of(town)
    tablet = window(820, 1180)
    page = hands.get_ready(tablet, town.theo)
    hands.go_underground(tablet)
    hands.open_stop(page)
    hands.card(page, WATER).get_by_role("button", name="good", exact=True).click()
    hands.is_kept(hands.card(page, WATER))
    overview = hands.card(page, OVERVIEW)
    overview.locator("input[type=file]").set_input_files(hands.a_photo())
    hands.is_kept(overview)
    page.evaluate("location.hash = '#/tablet'")
    expect(page.locator(".facts")).to_contain_text("1 photo")
    with page.expect_download() as saved:
        page.get_by_role("button", name="Save a backup file").click()
    file = tmp_path / saved.value.suggested_filename
    saved.value.save_as(file)
    expect(page.get_by_text("The backup file is saved.")).to_be_visible()

    desk = window(1280, 800)
    desk.sign_in(town.nora)
    office = desk.open("/tablet/import/")
    office.locator("input[type=file]").set_input_files(file)
    office.locator("form button[type=submit], form input[type=submit]").last.click()
    expect(office.locator("[role=status]")).to_contain_text("1 photo")
    expect(office.locator("[role=status]")).not_to_contain_text("set aside")
    assert CheckUp.objects.get(appointment=visit).finished_at is None
    kept = {(str(pk), raw) for pk, raw in Event.objects.values_list("pk", "raw")}
    assert {Event.objects.get(pk=pk).kind for pk, _ in kept} == {"begun", "answer", "photo"}
    assert PhotoUpload.objects.get().done_at is not None

    # The tablet has signal after all: it sends the same, and nothing is there twice.
    hands.come_up(tablet)
    page.get_by_role("button", name="Send now").click()
    hands.wait_until_sent(page)
    assert {(str(pk), raw) for pk, raw in Event.objects.values_list("pk", "raw")} == kept
    assert PhotoUpload.objects.count() == 1
    hands.forgive_no_network(tablet)


def test_a_picture_that_cannot_be_seen_is_kept_and_said(window: OpenWindow) -> None:
    town = hands.a_town()
    tablet = window(820, 1180)
    page = hands.get_ready(tablet, town.theo)
    hands.go_underground(tablet)
    hands.open_stop(page)
    overview = hands.card(page, OVERVIEW)
    camera = overview.locator("input[type=file]")
    camera.set_input_files({"name": "notes.jpg", "mimeType": "image/jpeg", "buffer": b"Pump: 12 starts an hour\n" * 40})
    expect(overview).to_contain_text("“notes.jpg” is no picture. It stays where it is on this tablet")
    expect(overview.locator(".photos li")).to_have_count(0)
    whole = hands.a_photo()["buffer"]
    heic = b"\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic" + bytes(range(256)) * 8
    for count, (name, content) in enumerate({"cut.jpg": whole[:300], "new.heic": heic}.items(), start=1):
        camera.set_input_files({"name": name, "mimeType": "image/jpeg", "buffer": content})
        expect(overview.locator(".photos li")).to_have_count(count)
        item = overview.locator(".photos li").last
        expect(item).to_contain_text("This tablet cannot show this picture")
        expect(item).to_contain_text("saved on this tablet")
    # It does not pass for the photo that is asked for; one that can be seen does.
    expect(overview.locator(".photo-button")).to_contain_text("Take a photo")
    page.get_by_role("button", name="Next open line").click()
    camera.set_input_files(hands.a_photo(of=3))
    expect(overview.locator(".photos img")).to_have_count(1)
    expect(overview.locator(".photo-button")).to_contain_text("Another photo")
    page.evaluate("location.hash = '#/tablet'")
    expect(page.locator(".facts")).to_contain_text("3 photos")
    hands.come_up(tablet)
    page.get_by_role("button", name="Send now").click()
    hands.wait_until_sent(page)
    stored = PhotoUpload.objects.filter(done_at__isnull=False)
    assert sorted(stored.values_list("length", flat=True))[:2] == [300, len(heic)]
    hands.forgive_no_network(tablet)


def test_limits_and_last_time_follow_the_gauge_in_hand(window: OpenWindow) -> None:
    town = hands.a_town()
    tablet = window(820, 1180, touch=True)
    page = hands.get_ready(tablet, town.theo)
    hands.go_underground(tablet)
    hands.open_stop(page)
    one = hands.card(page, TEMPERATURE)
    expect(one.locator(".item-before")).to_contain_text("40 °F to 85 °F")
    one.get_by_role("button", name="°C").tap()
    expect(one.locator(".item-before")).to_contain_text("4.4 °C to 29.4 °C")
    expect(one.locator(".item-before")).not_to_contain_text("°F")
    one.locator("input[id^='number-']").fill("20")
    expect(one.locator(".also")).to_contain_text("68 °F")
    one.locator("input[id^='number-']").press("Enter")
    hands.is_kept(one)
    rise = hands.card(page, "Time how fast the water rises in the pit")
    rise.locator("input[id^='seconds-']").fill("60")
    rise.locator("input[id^='number-']").fill("2")
    expect(rise.locator(".verdict strong")).to_have_text("2.2 gal/min (8.3 L/min)")
    hands.forgive_no_network(tablet)
