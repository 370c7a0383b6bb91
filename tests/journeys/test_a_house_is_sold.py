"""One sale in a real Chromium: the seller starts it, the buyer accepts, the agent looks on, the desk issues.

Each outside person opens the link in their own mail, in a window of their own, and sees their own part only.
"""

import hashlib
import re
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.core import mail
from django.urls import reverse
from playwright.sync_api import Page, expect

from contractor.core import clock
from contractor.core.audit import SYSTEM
from contractor.office.demo.place import Place
from contractor.properties.actions import make_owner_link
from contractor.warranties.models import Acceptance, Certificate, Transfer
from contractor.warranties.numbers import display_number
from tests.journeys.small_town import build

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
DESK, TABLET, PHONE = (1280, 800), (820, 1180), (360, 740)
OpenWindow = Callable[..., Any]
BUYER, AGENT = "renata.oduya@example.com", "ada.lorimer@example.com"


def link_in_mail(address: str) -> str:
    """The link in the latest mail to somebody."""
    body = next(str(message.body) for message in reversed(mail.outbox) if message.to == [address])
    found = re.search(r"/home/(?:sale/)?link/[\w-]{40,}/", body)
    assert found is not None, body
    return found[0]


def look(window: Any) -> None:
    """The page as it stands: accessible, and nothing sideways."""
    window.assert_nothing_scrolls_sideways()
    window.assert_accessible()


def open_part(window: Any, address: str, role: str) -> Page:
    """Opens the link of a mail as people do: look, press the button, arrive at an address without the secret."""
    page: Page = window.open(link_in_mail(address))
    look(window)
    page.get_by_role("button", name="Open my page").click()
    page.wait_for_url(f"**/{role}/")
    assert "/link/" not in page.url
    look(window)
    return page


def begin(phone: Any, place: Place) -> Transfer:
    """The seller starts the transfer from the house's page; what can't be comes back with what was typed."""
    seller = place.home.ownerships.open_ended().get()
    token = make_owner_link(ownership_id=seller.pk, by=SYSTEM, at=clock.now())
    page: Page = phone.open(reverse("portal:link", args=[token]))
    page.get_by_role("button", name="Open my house").click()
    page.get_by_role("link", name="Selling the house?").click()
    look(phone)
    page.get_by_label("Buyer").first.fill("Renata Oduya")
    page.get_by_label("Buyer's e-mail address").fill(BUYER)
    page.get_by_label("Closing day").fill("2001-05-04")
    page.get_by_label("Agent or lawyer (optional)").fill("Ada Lorimer")
    page.get_by_label("Their e-mail address (optional)").fill(AGENT)
    page.get_by_role("button", name="Start the transfer").click()
    expect(page.get_by_role("alert").first).to_contain_text("The closing can't be before")
    look(phone)
    expect(page.get_by_label("Buyer").first).to_have_value("Renata Oduya")
    page.get_by_label("Closing day").fill((clock.today() + timedelta(days=9)).isoformat())
    page.get_by_role("button", name="Start the transfer").click()
    page.wait_for_url("**/seller/")
    # The closing is brought forward to today; everybody hears of it.
    page.get_by_role("link", name="It has moved").click()
    look(phone)
    page.get_by_label("New closing day").fill(clock.today().isoformat())
    page.get_by_role("button", name="Move the closing day").click()
    page.wait_for_url("**/seller/")
    transfer = Transfer.objects.get()
    assert transfer.closing_on == clock.today()
    assert sum(f"The closing for {place.home.street_line} is now on" in one.subject for one in mail.outbox) == 3
    expect(page.get_by_role("main")).to_contain_text("left for you to do")
    look(phone)
    return transfer


def accept(phone: Any, page: Page, transfer: Transfer) -> None:
    """The buyer reads and accepts: not without opening the document; what is kept is what was shown."""
    page.get_by_role("link", name="Read and accept here").click()
    look(phone)
    page.get_by_label("I agree to do this electronically").check()
    page.get_by_label("I have read the document").check()
    page.get_by_label("Your name, typed as your signature").fill("Renata Oduya")
    page.get_by_role("button", name="Accept the warranty").click()
    expect(page.get_by_role("alert").first).to_contain_text("Open the document first")
    look(phone)
    document = phone.context.request.get(phone.address + reverse("portal:buyer_document", args=[transfer.pk])).body()
    assert document.startswith(b"%PDF-")
    page.get_by_role("button", name="Accept the warranty").click()
    page.wait_for_url("**/buyer/")
    expect(page.get_by_role("main")).to_contain_text("You have accepted")
    look(phone)
    kept = Acceptance.objects.get(transfer=transfer)
    assert kept.shown_sha256 == hashlib.sha256(document).hexdigest()
    expect(page.get_by_role("main")).to_contain_text(kept.shown_sha256)
    copy = phone.context.request.get(phone.address + reverse("portal:buyer_document", args=[transfer.pk])).body()
    assert copy == document


def issue(desk: Any, transfer: Transfer) -> Certificate:
    """The office notes the fee, reads the review, and presses once."""
    page: Page = desk.open(reverse("warranties:transfer", args=[transfer.pk]))
    look(desk)
    page.get_by_label("Fee paid on").fill(clock.today().isoformat())
    page.get_by_role("button", name="Note the fee").click()
    expect(page.get_by_role("main")).to_contain_text("All is ready")
    page.get_by_role("link", name="Review before issuing").click()
    look(desk)
    expect(page.get_by_role("main")).to_contain_text("Renata Oduya’s begins on")
    page.get_by_role("button", name="Carry over and issue the certificate").click()
    page.wait_for_url(f"**{reverse('warranties:transfer', args=[transfer.pk])}")
    certificate = Certificate.objects.get(transfer=transfer)
    expect(page.get_by_role("main")).to_contain_text(display_number(certificate.number))
    look(desk)
    return certificate


def check_at_the_closing_table(window: Any, certificate: Certificate) -> None:
    """Number and code from the paper: a slip is told, then it is genuine, and no name is shown."""
    page: Page = window.open(reverse("portal:check"))
    printed = display_number(certificate.number)
    for typed, words in ((printed[:-2], "has 9 letters and digits; this one has 8"), (printed, "is genuine.")):
        page.get_by_label("Certificate number").fill(typed)
        page.get_by_label("Check code").fill(certificate.check_code)
        page.get_by_role("button", name="Check this certificate").click()
        expect(page.get_by_role("main")).to_contain_text(words)
        look(window)
    expect(page.get_by_role("main")).not_to_contain_text("Oduya")


def test_a_house_is_sold(window: OpenWindow) -> None:
    place = build("good", on=clock.today(), at=clock.now(), stop_today=False).places["good"]
    # A check-up of the last days, so that the sale needs no visit.
    record_a_check_up(place)
    seller_mail = place.home.ownerships.open_ended().get().person.email
    seller_name = place.home.ownerships.open_ended().get().person.name
    phone = window(*PHONE, touch=True)
    transfer = begin(phone, place)

    buyers_phone, agents_desk = window(*PHONE, touch=True), window(*DESK)
    buyers_page = open_part(buyers_phone, BUYER, "buyer")
    expect(buyers_page.get_by_role("main")).not_to_contain_text(seller_name)
    agents_page = open_part(agents_desk, AGENT, "agent")
    for name in (seller_name, "Renata Oduya"):
        expect(agents_page.get_by_role("main")).not_to_contain_text(name)
    # The parts are apart: the agent's browser opens neither the buyer's page nor the seller's.
    for other in ("transfer_buyer", "transfer_seller"):
        agents_desk.page.goto(agents_desk.address + reverse(f"portal:{other}", args=[transfer.pk]))
        agents_desk.page.wait_for_url("**/home/ask/")

    accept(buyers_phone, buyers_page, transfer)
    sellers_tablet = window(*TABLET, touch=True)
    sellers_page = open_part(sellers_tablet, seller_mail, "seller")
    expect(sellers_page.get_by_role("main")).to_contain_text("The buyer accepted on")

    desk = window(*DESK)
    desk.sign_in(place.desk)
    certificate = issue(desk, transfer)

    check_at_the_closing_table(agents_desk, certificate)

    # The seller's part is over, the agent's too; the buyer's house opens from the mail, with certificate and copy.
    for over in (sellers_tablet, buyers_phone):
        over.page.reload()
        expect(over.page.get_by_role("heading", level=1)).to_have_text("This sale is complete")
        look(over)
        over.forgive(410)
    page = buyers_phone.open(link_in_mail(BUYER))
    page.get_by_role("button", name="Open my house").click()
    page.wait_for_url(f"**{reverse('portal:house')}")
    look(buyers_phone)
    papers = page.locator("ul.doors a")
    assert any("Download what you accepted" in name for name in papers.all_inner_texts())
    for address in (
        reverse("portal:certificate", args=[certificate.pk]),
        reverse("portal:own_acceptance", args=[transfer.warranty_id]),
    ):
        answer = buyers_phone.context.request.get(buyers_phone.address + address)
        assert (answer.status, answer.body()[:5]) == (200, b"%PDF-")
    phone.page.goto(phone.address + reverse("portal:house"))
    phone.page.wait_for_url("**/home/ask/")


def record_a_check_up(place: Place) -> None:
    """A check-up by our technician five days ago, passed."""
    done_on = clock.today() - timedelta(days=5)
    place.visitor.check_up(
        system=place.system,
        basement=place.basement,
        occasion="before the sale",
        target_on=done_on,
        on=done_on,
        technician=place.technician,
        desk=place.desk,
    )
