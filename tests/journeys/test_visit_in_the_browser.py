"""A visit between office and owner, in a real Chromium: proposed, moved by the owner, confirmed, reminded of, moved by
the office, called off; and what the owner's calendar was told each time."""

import re
from collections.abc import Callable
from datetime import date, datetime, time, timedelta
from email.message import Message
from typing import Any

import pytest
from django.core import mail
from django.urls import reverse
from playwright.sync_api import expect

from contractor.accounts.models import Company, User
from contractor.core import clock
from contractor.core.audit import Actor
from contractor.notices import tasks as notice_tasks
from contractor.notices.models import Notice
from contractor.properties.models import Ownership, Property
from contractor.systems.models import System
from contractor.visits.actions.appointments import ask_for_visit
from contractor.visits.actions.telling import remind_of_visits
from contractor.visits.actions.working_days import set_working_pattern
from contractor.visits.models import Appointment, Request
from contractor.visits.owner_tables import OwnerWish

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

DESK, PHONE = (1280, 800), (360, 740)
LINK = re.compile(r"http://localhost:8000(/v/[\w-]+)")


@pytest.fixture
def wanted(
    system: System, house: Property, ownership: Ownership, theo: User, company: Company, office: Actor
) -> Request:
    """A check-up due in three weeks; Theo works every day from eight to four, also on holidays."""
    today, at = clock.today(), clock.now()
    company.latitude, company.longitude = 40.91, -77.28
    company.save()
    house.latitude, house.longitude, house.position_source = 40.95, -77.22, "by_hand"
    house.save()
    hours = dict.fromkeys(range(7), (time(8), time(16)))
    set_working_pattern(
        technician_id=theo.pk, valid_from=today - timedelta(days=30), hours=hours, by=office, at=at
    )
    return ask_for_visit(
        occasion="the journey", system_id=system.pk, kind="checkup", target_on=today + timedelta(days=20),
        earliest_on=today - timedelta(days=10), latest_on=today + timedelta(days=50), minutes=60,
        reason="The yearly check-up that the warranty asks for.", by=office, at=at,
    )  # fmt: skip


def calendar_of(message: Any) -> tuple[str, str, str, str]:
    """Method of the MIME header and of the body, sequence and state."""
    parts: list[Message] = [part for part in message.message().walk() if part.get_content_type() == "text/calendar"]
    (part,) = parts
    payload = part.get_payload(decode=True)
    assert isinstance(payload, bytes)
    body = payload.decode().replace("\r\n ", "")
    values = {name: re.search(rf"^{name}:(.*?)\r$", body, re.M) for name in ("METHOD", "SEQUENCE", "STATUS")}
    method, sequence, status = (found[1] if found else "" for found in values.values())
    return str(part.get_param("method")), method, sequence, status


def latest(words: str) -> Any:
    """The newest message, which is about this."""
    notice_tasks.send_due_notices()
    message = mail.outbox[-1]
    assert words in message.subject
    return message


def link_in(message: Any) -> str:
    found = LINK.search(message.body)
    assert found is not None
    return found[1]


def look(window: Any) -> None:
    window.assert_nothing_scrolls_sideways()
    window.assert_accessible()


def test_a_visit_from_its_proposal_to_its_end(
    window: Callable[..., Any], wanted: Request, theo: User, nora: User
) -> None:
    desk, phone = window(*DESK), window(*PHONE, touch=True)
    desk.sign_in(nora)
    first_day = clock.today() + timedelta(days=12)

    # The office gives the visit out, and it proposes itself.
    page = desk.open(reverse("visits:give", args=[wanted.pk]))
    page.get_by_label("Technician").select_option(label="Theo Marsh")
    page.locator("#id_on").fill(first_day.isoformat())
    page.locator("#id_arrive_from").fill("08:00")
    page.locator("#id_arrive_until").fill("10:00")
    page.get_by_role("button", name="Give out this visit").click()
    page.wait_for_url("**/visits/rounds/**")
    proposal = latest("does it suit you?")
    assert calendar_of(proposal) == ("REQUEST", "REQUEST", "0", "TENTATIVE")

    # The owner looks, and takes another day.
    page = phone.open(link_in(proposal))
    expect(page.get_by_role("heading", level=1)).to_have_text("Does this day suit you?")
    look(phone)
    page.get_by_role("link", name="Another day").click()
    page.wait_for_url("**/days/")
    look(phone)
    choice = page.get_by_role("radio").first
    chosen = date.fromisoformat(choice.get_attribute("value") or "")
    choice.check()
    page.get_by_role("button", name="Take this day").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("See you then")
    look(phone)
    stop = Appointment.objects.get()
    assert (stop.on, stop.state) == (chosen, "confirmed")
    assert calendar_of(latest("is moved to")) == ("REQUEST", "REQUEST", "1", "CONFIRMED")

    # Two days before, a reminder.
    morning = datetime.combine(chosen - timedelta(days=2), time(15), tzinfo=clock.now().tzinfo)
    mail.outbox.clear()
    Appointment.objects.get().request.system.property.notices.update(queued_at=clock.now() - timedelta(days=9))
    assert remind_of_visits(at=morning) == 1
    # It was written on a morning to come; the mail goes out on this one.
    Notice.objects.filter(template="visit_reminder").update(not_before=clock.now())
    assert calendar_of(latest("In two days"))[2:] == ("1", "CONFIRMED")

    # The office has to move it; the owner says yes with one tap.
    page = desk.open(reverse("visits:move", args=[stop.pk]))
    page.locator("#id_on").fill((first_day + timedelta(days=9)).isoformat())
    page.get_by_role("button", name="Move it").click()
    page.wait_for_url("**/visits/rounds/**")
    moved = latest("is moved to")
    assert calendar_of(moved) == ("REQUEST", "REQUEST", "2", "TENTATIVE")
    page = phone.open(link_in(moved))
    page.get_by_role("button", name="Yes, this day suits me").click()
    expect(page.get_by_text("You said yes")).to_be_visible()
    assert calendar_of(latest("It is settled")) == ("REQUEST", "REQUEST", "3", "CONFIRMED")

    # The owner asks for a call, and the office sees it.
    page.get_by_role("link", name="Please call me").click()
    page.get_by_label("When do we reach you best? (optional)").fill("After 5 PM")
    look(phone)
    page.get_by_role("button", name="Please call me").click()
    expect(page.get_by_text("The office has your message")).to_be_visible()
    page = desk.open(reverse("visits:wishes"))
    expect(page.get_by_text("After 5 PM")).to_be_visible()
    look(desk)
    page.get_by_role("button", name="Dealt with").click()
    assert not OwnerWish.objects.filter(settled_at=None).exists()

    # The owner calls it off; the calendar forgets it, and the visit waits again.
    page = phone.page
    page.get_by_role("link", name="Call the visit off").click()
    page.get_by_label("Why?").fill("We are away.")
    look(phone)
    page.get_by_role("button", name="Call the visit off").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("This visit is called off")
    look(phone)
    assert calendar_of(latest("You called our visit")) == ("CANCEL", "CANCEL", "4", "CANCELLED")
    assert list(Request.objects.without_appointment()) == [wanted]
