"""The board in a real Chromium: a stretch is planned, cards are moved by keyboard and by mouse and taken back, the
draft is accepted, and a sick call finds new places."""

from datetime import date, time, timedelta

import pytest
from django.urls import reverse
from playwright.sync_api import Locator, Page, expect

from contractor.accounts.models import Company, Role, User
from contractor.core import clock
from contractor.notices.models import Notice
from contractor.visits.actions.working_days import set_working_pattern
from contractor.visits.board.actions import upsets
from contractor.visits.board.pages import stretch_around, week_to_plan
from contractor.visits.models import Appointment, Draft, Leave
from contractor.visits.shifts import shifts_between
from contractor.visits.skills import Skill
from tests.factories import UserFactory
from tests.journeys.test_in_the_browser import DESK, PHONE, TABLET, OpenWindow
from tests.visits.board.town import LUNCH, set_yard, wanted

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def stretch(company: Company, theo: User, nora: User, monkeypatch: pytest.MonkeyPatch) -> list[date]:
    """Theo and Ana at work every day, six visits wanted in the week that the board shows; its working days."""
    monkeypatch.setattr(upsets, "SECONDS", 1)
    set_yard(company)
    ana = UserFactory(name="Ana Delgado", email="ana@example.com", role=Role.TECHNICIAN)
    today = clock.today()
    for technician in (theo, ana):
        set_working_pattern(
            technician_id=technician.pk,
            valid_from=today - timedelta(days=30),
            hours=dict.fromkeys(range(7), (time(8), time(17))),
            rest=LUNCH,
            skills=list(Skill),
            by=nora.actor,
            at=clock.now(),
        )
    # The week after the one that the board would show: no day of it is past, whatever today is.
    first_on, last_on = stretch_around(week_to_plan(today) + timedelta(days=7), 1)
    for number in range(1, 7):
        wanted(number, target_on=first_on + timedelta(days=2))
    return sorted({shift.day for shift in shifts_between(first_on, last_on)})


def card(page: Page, number: int) -> Locator:
    return page.locator(f'[data-card][data-name="{number} Quarry Lane"]')


def round_of(page: Page, technician: User, day: date) -> Locator:
    return page.locator(f'[data-where="{technician.pk}/{day.isoformat()}"]')


def test_a_stretch_is_planned_arranged_accepted_and_mended_after_a_sick_call(
    window: OpenWindow, stretch: list[date], nora: User, theo: User
) -> None:
    ana = User.objects.get(email="ana@example.com")
    first, second = stretch[0], stretch[1]
    desk = window(*DESK)
    desk.sign_in(nora)
    page = desk.open(reverse("visits:plan_stretch"))
    page.get_by_label("First day").fill(first.isoformat())
    page.get_by_label("How to plan it").select_option("steps")
    page.get_by_role("button", name="Plan this stretch").click()
    expect(page.locator("#board")).to_be_visible()
    expect(page.locator(".board-figures")).to_contain_text("Every round can be driven")
    expect(page.locator(".wall [data-card]")).to_have_count(6)
    desk.assert_accessible()
    desk.assert_nothing_scrolls_sideways()
    draft = Draft.objects.get()
    assert Appointment.objects.count() == 0

    # By keyboard: picked up, put back with Escape; then put down with Ana, where the mouse is not needed at all.
    grip = card(page, 1).locator("[data-grip]")
    was = card(page, 1).locator("xpath=ancestor::*[@data-round]").get_attribute("data-where")
    grip.press("Enter")
    expect(page.locator("#board-live")).to_contain_text("Picked up. 1 Quarry Lane")
    grip.press("ArrowRight" if was != f"{theo.pk}/{stretch[-1].isoformat()}" else "ArrowLeft")
    grip.press("Escape")
    expect(page.locator("#board-live")).to_contain_text("Put back. 1 Quarry Lane")
    expect(page.locator(f'[data-where="{was}"]').locator('[data-name="1 Quarry Lane"]')).to_have_count(1)
    draft.refresh_from_db()
    assert draft.step_number == 0
    grip.press(" ")
    where = (was or "").split("/")[1]
    there = stretch[(stretch.index(date.fromisoformat(where)) + 1) % len(stretch)]
    grip.press("ArrowRight" if there > date.fromisoformat(where) else "ArrowLeft")
    grip.press(" ")
    expect(page.locator("#board-says")).to_contain_text("1 Quarry Lane is stop")
    expect(page.locator("#board-live")).to_contain_text("1 Quarry Lane is stop")
    expect(card(page, 1).locator("[data-grip]")).to_be_focused()

    # By mouse: onto another round; then taken back.
    target = next(
        round_of(page, technician, day)
        for technician in (theo, ana)
        for day in (first, second)
        if not round_of(page, technician, day).locator('[data-name="2 Quarry Lane"]').count()
    )
    target.scroll_into_view_if_needed()
    card(page, 2).locator("[data-grip]").drag_to(target)
    expect(page.locator("#board-says")).to_contain_text("2 Quarry Lane is stop")
    expect(target.locator('[data-name="2 Quarry Lane"]')).to_have_count(1)
    draft.refresh_from_db()
    assert draft.step_number == 2
    page.get_by_role("button", name="Undo").click()
    expect(page.locator("#board-says")).to_contain_text("Taken back: 2 Quarry Lane")
    expect(target.locator('[data-name="2 Quarry Lane"]')).to_have_count(0)
    draft.refresh_from_db()
    assert draft.step_number == 1
    assert Appointment.objects.count() == 0

    page.get_by_role("link", name="Review and accept").click()
    desk.assert_accessible()
    page.get_by_role("button", name="Accept and tell the owners").click()
    expect(page.locator(".messages")).to_contain_text("Accepted. 6 owners are told.")
    assert (Appointment.objects.count(), Notice.objects.filter(template="appointment_set").count()) == (6, 6)

    # A technician rings up ill on a day with visits.
    ill = Appointment.objects.order_by("on", "pk")[0]
    lost = Appointment.objects.filter(technician=ill.technician, on=ill.on).count()
    page = desk.open(reverse("visits:upset"))
    page.get_by_label("Technician", exact=True).select_option(label=ill.technician.name)
    page.locator("#id_first_on").fill(ill.on.isoformat())
    desk.assert_accessible()
    page.get_by_role("button", name="Note it and find new places").click()
    expect(page.locator("#board")).to_be_visible()
    expect(page.get_by_role("main")).to_contain_text(f"{ill.technician.name} can't go out on")
    assert Leave.objects.get().technician == ill.technician
    page.get_by_role("link", name="Review and accept").click()
    expect(page.get_by_role("main")).to_contain_text("(555) 555-0142")
    page.get_by_role("button", name="Accept").click()
    expect(page.locator(".messages")).to_contain_text("Accepted.")
    standing = Appointment.objects.filter(state="planned")
    assert standing.count() == 6
    assert not standing.filter(technician=ill.technician, on=ill.on).exists()
    assert Notice.objects.filter(template="appointment_moved").count() <= lost


def test_the_board_fits_every_screen_and_is_accessible_there(
    window: OpenWindow, stretch: list[date], nora: User
) -> None:
    for size in (DESK, TABLET, PHONE):
        screen = window(*size)
        screen.sign_in(nora)
        for path in (
            reverse("visits:board") + f"?week={stretch[0].isoformat()}&weeks=2",
            reverse("visits:plan_stretch"),
            reverse("visits:upset"),
            reverse("visits:load_list") + f"?day={stretch[0].isoformat()}",
        ):
            screen.open(path)
            screen.assert_nothing_scrolls_sideways()
            screen.assert_accessible()
