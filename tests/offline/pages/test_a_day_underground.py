"""A day with the tablet: rounds fetched in the morning, work without any network, everything at the office at night."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from PIL import Image
from playwright.sync_api import expect

from contractor.checkups.models import Answer, CheckUp, Finding, Photo, Signature
from contractor.core import clock
from contractor.systems.models import Component
from contractor.tablet.models import PhotoUpload
from contractor.visits.models import Appointment
from tests.offline.pages import tablet_hands as hands

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

TABLET = (820, 1180)
OpenWindow = Callable[..., Any]
WATER = "Look for water, damp and fresh stains everywhere"
TEMPERATURE = "Read the temperature beside the battery"
RISE = "Time how fast the water rises in the pit"
DRAWDOWN = "Time how fast the pump draws the water down"
MOULD = "Look for mould on walls, joists and stored goods"
OVERVIEW = "Take an overview photo of the room"


def test_a_whole_check_up_without_network_arrives_once(window: OpenWindow) -> None:
    town = hands.a_town()
    visit = hands.stop_of(town)
    system = visit.request.system
    tablet = window(*TABLET, touch=True)
    page = hands.get_ready(tablet, town.theo)
    hands.go_underground(tablet)
    hands.open_stop(page)

    # Something bad: it is judged at once, written down for the owner, and put right on the spot.
    water = hands.card(page, WATER)
    water.get_by_role("button", name="bad", exact=True).tap()
    expect(water.locator(".verdict")).to_contain_text("bad")
    hands.is_kept(water)
    water.get_by_label("Put right on the spot? Say what was done").fill("Wiped up; a hose had burst.")
    water.get_by_role("button", name="Write it down").tap()
    expect(water.locator(".finding")).to_contain_text("Put right")
    water.locator("input[type=file]").first.set_input_files(hands.a_photo(of=9))
    expect(water.locator(".photos img")).to_have_count(1)

    # A swap: the new part has lines of its own, and the old one's are gone.
    battery = Component.objects.in_place(clock.today()).filter(system=system, part_kind="primary_pump").get()
    page.locator(f'article.line[id$=":{battery.pk}"]').first.wait_for()
    page.locator(f'a[href$="/swap/{battery.pk}"]').first.tap()
    page.get_by_role("button", name="Old one out, new one in").tap()
    expect(page.get_by_role("alert").first).to_be_focused()
    page.get_by_label("New part").select_option(str(battery.model_id))
    page.get_by_label("Serial number on its plate").fill("HC-2026-77")
    page.get_by_role("button", name="Weak in the test").tap()
    page.get_by_role("button", name="Old one out, new one in").tap()
    page.wait_for_selector('article.line[id*=":swap:"]')
    expect(page.locator(f'article.line[id$=":{battery.pk}"]')).to_have_count(0)

    hands.answer_all(page)
    expect(page.locator(".progress-words")).to_contain_text("answered")
    page.get_by_role("button", name="Talk and sign").tap()
    expect(page.get_by_role("heading", level=1)).to_have_text("Talk and sign")
    expect(page.locator(".told")).to_contain_text(["Put right today"])
    hands.draw(page)
    page.get_by_role("button", name="Keep the drawn signature").tap()
    expect(page.locator("#sign")).to_contain_text("Signed on the glass")
    page.get_by_role("button", name="Finish the check-up").tap()
    expect(page.locator(".stop").first).to_contain_text("finished on this tablet")
    assert not CheckUp.objects.filter(appointment=visit).exists()

    hands.come_up(tablet)
    page.goto(f"{tablet.address}/tablet/#/tablet")
    page.get_by_role("button", name="Send now").click()
    hands.wait_until_sent(page)
    hands.forgive_no_network(tablet)
    done = CheckUp.objects.get(appointment=visit)
    assert done.finished_at is not None
    assert Answer.objects.standing().filter(checkup=done).count() > 50
    assert Signature.objects.get(checkup=done).kind == Signature.Kind.DRAWN
    assert Component.objects.get(serial_number="HC-2026-77").replaces_id == battery.pk
    assert Finding.objects.get(checkup=done, item__prompt=WATER).done_note == "Wiped up; a hose had burst."
    visit.refresh_from_db()
    assert visit.state == Appointment.State.DONE


def test_clocks_run_on_through_a_reload_and_side_by_side(window: OpenWindow) -> None:
    town = hands.a_town()
    tablet = window(*TABLET, touch=True)
    page = hands.get_ready(tablet, town.theo)
    hands.go_underground(tablet)
    hands.open_stop(page)
    rise, drawdown = hands.card(page, RISE), hands.card(page, DRAWDOWN)
    rise.get_by_role("button", name="Start the clock").tap()
    drawdown.get_by_role("button", name="Start the clock").tap()
    expect(page.locator(".running-clock")).to_have_count(2)
    expect(rise.get_by_role("button", name="Stop at 0:03")).to_be_visible()

    page.reload()
    page.wait_for_selector("article.line")
    expect(page.locator(".running-clock")).to_have_count(2)
    rise = hands.card(page, RISE)
    rise.get_by_role("button", name="Stop at").tap()
    expect(page.locator(".running-clock")).to_have_count(1)
    taken = float(rise.locator("input[id^='seconds-']").input_value())
    assert taken >= 3.0
    expect(rise).to_contain_text("Now type how far the water moved.")
    rise.locator("input[id^='number-']").fill("2")
    # Judged while it is typed, before anything is kept.
    expect(rise.locator(".verdict")).to_contain_text("gal/min")
    rise.locator("input[id^='number-']").press("Enter")
    hands.is_kept(rise)
    # What was typed and not kept comes back too.
    hands.card(page, TEMPERATURE).locator("input[id^='number-']").fill("4")
    page.reload()
    page.wait_for_selector("article.line")
    expect(hands.card(page, TEMPERATURE).locator("input[id^='number-']")).to_have_value("4")
    hands.forgive_no_network(tablet)


def test_a_photo_is_kept_upright_small_and_without_its_place(window: OpenWindow, settings: Any) -> None:
    town = hands.a_town()
    tablet = window(*TABLET)
    page = hands.get_ready(tablet, town.theo)
    hands.go_underground(tablet)
    hands.open_stop(page)
    overview = hands.card(page, OVERVIEW)
    overview.locator("input[type=file]").set_input_files(hands.a_photo(width=4000, height=3000))
    hands.is_kept(overview)
    hands.come_up(tablet)
    page.evaluate("location.hash = '#/tablet'")
    page.get_by_role("button", name="Send now").click()
    hands.wait_until_sent(page)
    hands.forgive_no_network(tablet)
    stored = PhotoUpload.objects.get(done_at__isnull=False)
    with Image.open(Path(settings.MEDIA_ROOT) / stored.file) as picture:
        assert dict(picture.getexif()) == {}
        assert picture.size == (1536, 2048)
        red, green, blue = picture.convert("RGB").getpixel((picture.width - 40, 40))  # the corner, turned to the right
        assert red > 200
        assert green > 200
        assert blue < 120
    # It becomes a check-up's photo when the visit is finished.
    assert not Photo.objects.filter(checkup__appointment=hands.stop_of(town)).exists()


def test_the_keyboard_alone_answers_measures_and_moves_on(window: OpenWindow) -> None:
    town = hands.a_town()
    tablet = window(1280, 800)
    page = hands.get_ready(tablet, town.theo)
    hands.go_underground(tablet)
    page.locator(".stops a.btn-primary").first.focus()
    page.keyboard.press("Enter")
    page.wait_for_selector("article.line")
    water = hands.card(page, WATER)
    water.get_by_role("button", name="good", exact=True).focus()
    page.keyboard.press("Tab")
    expect(water.get_by_role("button", name="watch", exact=True)).to_be_focused()
    page.keyboard.press("Space")
    expect(water.locator(".verdict")).to_contain_text("worth watching")
    hands.is_kept(water)
    expect(water.get_by_role("button", name="watch", exact=True)).to_be_focused()
    field = hands.card(page, TEMPERATURE).locator("input[id^='number-']")
    field.focus()
    page.keyboard.type("3x")
    page.keyboard.press("Enter")
    expect(field).to_have_attribute("aria-invalid", "true")
    expect(hands.card(page, TEMPERATURE)).to_contain_text("type a number in degrees Fahrenheit, such as 50 °F.")
    expect(field).to_have_value("3x")
    page.keyboard.press("Backspace")
    page.keyboard.type("8")
    page.keyboard.press("Enter")
    hands.is_kept(hands.card(page, TEMPERATURE))
    expect(hands.card(page, TEMPERATURE).locator(".verdict")).to_contain_text("38 °F is below the 40 °F needed")
    page.get_by_role("button", name="Next open line").focus()
    page.keyboard.press("Enter")
    expect(page.locator("article.line").first).to_be_focused()
    hands.forgive_no_network(tablet)


def test_finishing_names_what_is_missing_and_a_later_change_undoes_the_signature(window: OpenWindow) -> None:
    town = hands.a_town()
    visit = hands.stop_of(town)
    tablet = window(*TABLET, touch=True)
    page = hands.get_ready(tablet, town.theo)
    hands.go_underground(tablet)
    hands.open_stop(page)
    for one in page.locator("article.line[data-kind=photo]").all():
        hands.answer(one)
    page.evaluate("location.hash = location.hash + '/sign'")
    page.get_by_role("button", name="Finish the check-up").tap()
    summary = page.locator(".error-summary")
    expect(summary).to_be_focused()
    expect(summary).to_contain_text("Let the owner sign")
    summary.get_by_role("link", name="Ask what has happened since last year").tap()
    expect(hands.card(page, "Ask what has happened since last year")).to_be_focused()

    page.evaluate("location.hash = location.hash.split('?')[0] + '/sign'")
    page.get_by_role("button", name="Nobody at home").tap()
    expect(page.locator("#sign")).to_contain_text("Nobody was at home")
    page.get_by_role("button", name="The typed name is the signature").tap()
    expect(page.locator("#sign")).to_contain_text("Signed by the typed name")
    page.evaluate("location.hash = location.hash.replace('/sign', '')")
    hands.card(page, WATER).get_by_role("button", name="good", exact=True).tap()
    hands.is_kept(hands.card(page, WATER))
    page.evaluate("location.hash = location.hash + '/sign'")
    expect(page.locator("#sign")).to_contain_text("Changed after the signature")
    page.get_by_role("button", name="Nobody at home").tap()
    expect(page.locator("#sign")).not_to_contain_text("Changed after the signature")
    page.get_by_text("Finish without the open lines").tap()
    page.get_by_role("button", name="Too little time left today").tap()
    page.get_by_role("button", name="Finish the check-up").tap()
    expect(page.locator(".stop").first).to_contain_text("finished on this tablet")

    hands.come_up(tablet)
    page.evaluate("location.hash = '#/tablet'")
    page.get_by_role("button", name="Send now").click()
    hands.wait_until_sent(page)
    hands.forgive_no_network(tablet)
    done = CheckUp.objects.get(appointment=visit)
    assert done.finished_at is not None
    left = Answer.objects.standing().filter(checkup=done, condition="not_possible")
    assert {one.because for one in left} == {"Too little time left today"}


def test_a_visit_that_could_not_be_done_is_noted_with_its_reason(window: OpenWindow) -> None:
    town = hands.a_town()
    visit = hands.stop_of(town)
    tablet = window(*TABLET, touch=True)
    page = hands.get_ready(tablet, town.theo)
    hands.go_underground(tablet)
    page.get_by_role("link", name="Could not be done").first.tap()
    page.get_by_role("button", name="Note it").tap()
    expect(page.get_by_role("alert")).to_contain_text("Say in a few words")
    page.get_by_role("button", name="Nobody was home to let me in").tap()
    page.get_by_role("button", name="Note it").tap()
    expect(page.locator(".stop").first).to_contain_text("could not be done")
    hands.come_up(tablet)
    page.evaluate("location.hash = '#/tablet'")
    page.get_by_role("button", name="Send now").click()
    hands.wait_until_sent(page)
    hands.forgive_no_network(tablet)
    visit.refresh_from_db()
    assert visit.state == Appointment.State.COULD_NOT


def test_two_answers_are_shown_side_by_side_and_one_is_chosen(window: OpenWindow) -> None:
    town = hands.a_town()
    visit = hands.stop_of(town)
    tablet = window(*TABLET, touch=True)
    page = hands.get_ready(tablet, town.theo)
    hands.go_underground(tablet)
    hands.open_stop(page)
    hands.card(page, MOULD).get_by_role("button", name="good", exact=True).tap()
    hands.is_kept(hands.card(page, MOULD))
    other = hands.another_tablet(visit, town.theo)
    other.answer("mould", condition="bad")
    other.send(clock.now())

    hands.come_up(tablet)
    page.evaluate("location.hash = '#/'")
    hands.get_newest_rounds(page)
    expect(page.get_by_text("The rounds are up to date.")).to_be_visible()
    page.locator(".stops a.btn-primary").first.tap()
    mould = hands.card(page, MOULD)
    expect(mould.locator(".conflict li")).to_have_count(2)
    expect(mould.locator(".conflict")).to_contain_text("Neither knew of the other")
    mould.locator(".conflict li").filter(has_text="Bad").get_by_role("button", name="Keep this one").tap()
    expect(mould.locator(".conflict")).to_have_count(0)
    expect(mould.locator(".verdict")).to_contain_text("bad")
    hands.wait_until_sent(page)
    hands.forgive_no_network(tablet)
