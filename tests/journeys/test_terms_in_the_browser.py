"""Terms in a real browser: written with the document beside them, published, shown to a buyer, read on a phone."""

from typing import Any

import pytest
from django.urls import reverse
from playwright.sync_api import expect

from contractor.core import clock
from contractor.office.demo.selling import DRAFT, sell
from contractor.warranties.models import TermsEdition, TermsShown
from tests.journeys.small_town import Town, build
from tests.journeys.test_in_the_browser import DESK, PHONE, TABLET, OpenWindow, look_at_all

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def town_with_sales() -> Town:
    town = build("in_grace", "due_soon", on=clock.today(), at=clock.now())
    sell(list(town.places.values()), cast=town.cast, on=clock.today())
    return town


def test_a_broken_rule_is_told_at_its_field_while_typing_and_publishing_waits_for_it(window: OpenWindow) -> None:
    town = town_with_sales()
    draft = TermsEdition.objects.get(edition=DRAFT)
    desk = window(*DESK)
    desk.sign_in(town.ruth)
    page: Any = desk.open(reverse("warranties:change_terms", args=[draft.pk]))
    expect(page.locator("#terms-standing")).to_contain_text("No rule is broken, 1 warning")
    page.fill("#id_care_proof", "We accept a bill that shows who came and on what day.")
    page.fill("#id_remedy", "We come and put it right.")
    page.fill("#id_rights_sentence", "You have rights.")
    expect(page.locator("#said-rights_sentence")).to_contain_text("MM32")
    expect(page.locator("#terms-standing")).to_contain_text("1 rule still broken")
    expect(page.locator("#terms-paper")).to_contain_text("We come and put it right.")
    page.click("button[name=publish]")
    summary = page.locator("[data-error-summary]")
    expect(summary).to_be_focused()
    summary.get_by_role("link", name="Your rights").click()
    expect(page.locator("#id_rights_sentence")).to_be_focused()
    expect(page.locator("#id_remedy")).to_have_value("We come and put it right.")
    page.fill("#id_promise-pit-months", "many")
    page.click("button[name=keep]")
    expect(page.locator("#said-promise-pit-months")).to_contain_text("Enter a whole number.")
    page.reload()
    expect(page.locator("#id_promise-pit-months")).to_have_value("many")


@pytest.mark.parametrize("size", [DESK, TABLET, PHONE], ids=["at the desk", "on a tablet", "on a phone"])
def test_every_page_about_terms_is_accessible_and_fits_its_screen(window: OpenWindow, size: tuple[int, int]) -> None:
    town = town_with_sales()
    draft, shown = TermsEdition.objects.get(edition=DRAFT), TermsShown.objects.get(way="link")
    desk = window(*size)
    desk.sign_in(town.ruth)
    paths = [
        reverse("warranties:terms"),
        reverse("warranties:draft_terms"),
        reverse("warranties:change_terms", args=[draft.pk]),
        reverse("warranties:terms_edition", args=[town.cast.terms.pk]),
        reverse("warranties:compare_terms"),
        reverse("warranties:shown_list"),
        reverse("warranties:shown_terms", args=[shown.pk]),
        reverse("warranties:show_terms"),
        reverse("warranties:show_terms_at", args=[town.places["in_grace"].home.pk]),
        reverse("warranties:issue", args=[town.places["in_grace"].system.pk]),
        reverse("portal:terms", args=[shown.token]),
    ]
    look_at_all(desk, paths, narrow=False)
