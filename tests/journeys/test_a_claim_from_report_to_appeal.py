"""One claim in a real Chromium: reported from a phone, asked back, decided, appealed, decided again, and repaired.

The owner sits at the phone, Nora at the desk, and Ruth at a tablet: nobody decides both times.
"""

import io
import re
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.core import mail
from django.urls import reverse
from playwright.sync_api import Page, expect
from pypdf import PdfReader

from contractor.core import audit, clock
from contractor.core.audit import SYSTEM
from contractor.office.demo.claims import DECIDED_APPEAL, GAP, OPEN_APPEAL, claim_something
from contractor.office.demo.place import Place
from contractor.properties.actions import make_owner_link
from contractor.visits.models import Request
from contractor.warranties.actions.claim_questions import ask_owner
from contractor.warranties.models import Claim
from tests.journeys.small_town import build, nothing_in_the_background
from tests.warranties.claim_hands import photo_bytes

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
DESK, TABLET, PHONE = (1280, 800), (820, 1180), (360, 740)
OpenWindow = Callable[..., Any]


def look(window: Any) -> None:
    """The page as it stands: accessible, and nothing sideways."""
    window.assert_nothing_scrolls_sideways()
    window.assert_accessible()


def picture(color: str) -> dict[str, Any]:
    return {"name": f"{color}.jpg", "mimeType": "image/jpeg", "buffer": photo_bytes(color)}


def open_house(phone: Any, link: str) -> Page:
    page: Page = phone.open(link)
    page.get_by_role("button", name="Open my house").click()
    page.wait_for_url("**/home/")
    return page


def link_in_mail(place: Place, subject: str) -> str:
    """The link in the latest mail to the owner about something."""
    found = [one for one in mail.outbox if one.to == [place.owner.email] and subject in one.subject]
    match = re.search(r"/home/link/[\w-]{40,}/", str(found[-1].body))
    assert match is not None, found[-1].body
    return match[0]


def letter_words(window: Any, address: str) -> str:
    answer = window.context.request.get(window.address + address)
    assert answer.headers["content-type"] == "application/pdf"
    return " ".join(" ".join(page.extract_text() for page in PdfReader(io.BytesIO(answer.body())).pages).split())


def report(phone: Any, place: Place) -> Claim:
    """The owner reports from the phone, with a photo; what can't be comes back with what was typed."""
    owner = place.home.ownerships.open_ended().get()
    token = make_owner_link(ownership_id=owner.pk, by=SYSTEM, at=clock.now())
    page = open_house(phone, reverse("portal:link", args=[token]))
    page.get_by_role("link", name="Something failed? Report it").click()
    page.get_by_label("Which part failed").select_option("pit")
    page.get_by_label("Since which day").fill((clock.today() + timedelta(days=9)).isoformat())
    page.get_by_label("What happened").fill("Water stands round the pit. There is a crack in its wall.")
    page.get_by_role("button", name="Send this report").click()
    expect(page.get_by_role("alert").first).to_contain_text("reported before it happened")
    page.get_by_label("Since which day").fill((clock.today() - timedelta(days=1)).isoformat())
    page.get_by_label("Photos (optional)").set_input_files([picture("navy")])
    page.get_by_role("button", name="Send this report").click()
    expect(page.get_by_role("main")).to_contain_text("The office is looking at it")
    look(phone)
    return Claim.objects.get()


def ask_back(desk: Any, claim: Claim) -> None:
    """Nora finds the report on her first page, and asks."""
    page: Page = desk.open(reverse("office:today"))
    page.get_by_role("link", name="58 Beacon Hill, pit").click()
    expect(page.get_by_role("main")).to_contain_text("The record has a gap from")
    look(desk)
    page.get_by_text("Ask the owner something").click()
    page.get_by_label("Question to the owner").fill("Did anything fall on the pit?")
    page.get_by_role("button", name="Send this question").click()
    expect(page.get_by_role("main")).to_contain_text("waits for the owner")
    look(desk)


def answer(phone: Any, place: Place) -> None:
    page = open_house(phone, link_in_mail(place, "A question about your claim"))
    page.get_by_role("link", name=re.compile("Pit, reported")).click()
    look(phone)
    page.get_by_role("link", name="Answer it").click()
    look(phone)
    page.get_by_label("Your answer").fill("Nothing that I know of.")
    page.get_by_label("Photos (optional)").set_input_files([picture("gray")])
    page.get_by_role("button", name="Send this answer").click()
    expect(page.get_by_role("main")).to_contain_text("your answer is with the office")
    look(phone)


def refuse(desk: Any, claim: Claim) -> None:
    """The record has a gap, so a person has to say whether it caused the loss. Nora says yes, and what shows it."""
    page: Page = desk.open(reverse("office:today"))
    expect(page.get_by_role("main")).to_contain_text("answered")
    desk.open(reverse("warranties:claim", args=[claim.pk]))
    expect(page.get_by_role("main")).to_contain_text("Nothing that I know of.")
    page.get_by_label("Cost of the repair").fill("880.00")
    page.get_by_label("Cause, as seen").select_option("part_failed")
    page.get_by_role("button", name="Work it out").click()
    expect(page.locator(".worked-out")).to_contain_text("Did the missing care cause the failure of the pit?")
    look(desk)
    page.get_by_label("Did the missing care cause the loss?").select_option("yes")
    page.get_by_label("Reason for this judgement").fill("Silt had lain against the wall for a year.")
    page.get_by_role("button", name="Work it out").click()
    expect(page.get_by_role("alert").first).to_contain_text("Without evidence the loss is covered")
    page.get_by_label("Evidence").fill("Photo of the silt line")
    page.get_by_role("button", name="Work it out").click()
    expect(page.locator(".worked-out")).to_contain_text("not covered")
    page.get_by_role("button", name="Decide so, and send the letter").click()
    expect(page.get_by_role("main")).to_contain_text("The owner may appeal through")
    look(desk)
    words = letter_words(desk, reverse("warranties:claim_letter", args=[claim.pk, claim.letters.get().pk]))
    for said in ("does not cover it", "15 U.S.C. 2304(c)", "Photo of the silt line", "2 photos that you sent"):
        assert said in words, said


def appeal(phone: Any, place: Place, claim: Claim) -> None:
    page = open_house(phone, link_in_mail(place, "Your claim of"))
    page.get_by_role("link", name=re.compile("Pit, reported")).click()
    letter = page.get_by_role("link", name="Letter with the decision").get_attribute("href")
    assert letter is not None
    assert "you can appeal through and including" in letter_words(phone, letter).lower()
    look(phone)
    page.get_by_role("link", name="Appeal this decision").click()
    look(phone)
    page.get_by_label("What do you see otherwise?").fill("The crack is on the other side, where no silt lies.")
    page.get_by_label("Photos (optional)").set_input_files([picture("maroon")])
    page.get_by_role("button", name="Send this appeal").click()
    expect(page.get_by_role("main")).to_contain_text("Your appeal is being looked at")
    look(phone)


def decide_again(desk: Any, tablet: Any, claim: Claim) -> None:
    """Nora may not; Ruth may. She looks at the photo, and it is covered after all."""
    page: Page = desk.open(reverse("warranties:claim", args=[claim.pk]))
    expect(page.get_by_role("main")).to_contain_text("You decided this claim the first time.")
    look(desk)
    page = tablet.open(reverse("office:today"))
    expect(page.get_by_role("main")).to_contain_text("appealed")
    page.get_by_role("link", name="58 Beacon Hill, pit").click()
    page.get_by_role("link", name="Decide the appeal").click()
    look(tablet)
    page.get_by_label("Your answer to the appeal").fill("The new photo shows a clean wall; the silt lay elsewhere.")
    page.get_by_label("Did the missing care cause the loss?").select_option("no")
    page.get_by_label("Evidence").fill("")
    page.get_by_label("Reason for this judgement").fill("The crack is where no silt lay.")
    page.get_by_role("button", name="Work it out").click()
    expect(page.locator(".worked-out")).to_contain_text("We pay $880.00")
    look(tablet)
    page.get_by_role("button", name="Decide so, and send the letter").click()
    expect(page.get_by_role("main")).to_contain_text("after an appeal")
    look(tablet)


def send_somebody(tablet: Any, claim: Claim) -> None:
    page: Page = tablet.page
    page.get_by_role("link", name="Ask for the repair").click()
    look(tablet)
    page.get_by_role("button", name="Ask for this visit").click()
    expect(page.get_by_role("main")).to_contain_text("to be given out")
    look(tablet)
    asked = Request.objects.get(occasion=f"claim:{claim.pk}:repair:1")
    assert (asked.kind, asked.system_id) == ("claim", claim.warranty.system_id)


def test_a_claim_from_the_first_report_to_the_repair_after_an_appeal(window: OpenWindow) -> None:
    town = build("gap_in_care", on=clock.today(), at=clock.now())
    place = town.places["gap_in_care"]
    phone, desk, tablet = window(*PHONE), window(*DESK), window(*TABLET)
    desk.sign_in(town.nora)
    tablet.sign_in(town.ruth)
    claim = report(phone, place)
    ask_back(desk, claim)
    answer(phone, place)
    refuse(desk, claim)
    appeal(phone, place, claim)
    decide_again(desk, tablet, claim)
    send_somebody(tablet, claim)
    page = open_house(phone, link_in_mail(place, "Your appeal of"))
    page.get_by_role("link", name=re.compile("Pit, reported")).click()
    expect(page.get_by_role("main")).to_contain_text("We pay $880.00, you pay $0.00.")
    expect(page.get_by_role("main")).to_contain_text("Ruth Adair decided your appeal")
    look(phone)
    claim.refresh_from_db()
    assert (claim.outcome, claim.letters.count(), claim.photos.count()) == ("covered", 2, 3)
    assert audit.breaks(f"property:{place.home.pk}") == []


def test_every_page_about_claims_is_accessible_and_fits_each_screen(window: OpenWindow) -> None:
    stories = (GAP, OPEN_APPEAL, DECIDED_APPEAL)
    town = build(*stories, on=clock.today(), at=clock.now())
    with nothing_in_the_background():
        claim_something(list(town.places.values()), on=clock.today())
    # The latest report of each: the house with the decided appeal has an older claim of which goodwill came.
    claims = {story: town.places[story].warranty.claims.latest("reported_on") for story in stories}
    question = ask_owner(
        claim_id=claims[GAP].pk, words="And the lid?", by_user=town.nora, at=clock.now()
    )
    at_the_desk = [
        reverse("warranties:claims") + "?state=appealed",
        *(reverse("warranties:claim", args=[claim.pk]) for claim in claims.values()),
        reverse("warranties:ask_owner", args=[claims[GAP].pk]),
        reverse("warranties:write_answer", args=[claims[GAP].pk, question.pk]),
        reverse("warranties:claim_visit", args=[claims[GAP].pk]),
        reverse("warranties:record_appeal", args=[claims[OPEN_APPEAL].pk]),
        reverse("warranties:decide_appeal", args=[claims[OPEN_APPEAL].pk]),
    ]
    links = {
        story: make_owner_link(ownership_id=place.home.ownerships.open_ended().get().pk, by=SYSTEM, at=clock.now())
        for story, place in town.places.items()
    }
    for size in (DESK, TABLET, PHONE):
        desk = window(*size)
        desk.sign_in(town.ruth)
        for path in at_the_desk:
            desk.open(path)
            look(desk)
        for story, claim in claims.items():
            owner = window(*size)
            open_house(owner, reverse("portal:link", args=[links[story]]))
            paths = [reverse("portal:claim", args=[claim.pk]), reverse("portal:claim_appeal", args=[claim.pk])]
            if story == GAP:
                paths.append(reverse("portal:claim_answer", args=[claim.pk, question.pk]))
            for path in paths:
                owner.open(path)
                look(owner)
