"""One tap in the van tells the owner; without signal the tablet says that nobody was told."""

from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import expect

from contractor.notices.models import Notice
from tests.offline.pages import tablet_hands as hands

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

OpenWindow = Callable[..., Any]


def test_the_owner_is_told_by_one_tap_and_not_without_signal(window: OpenWindow) -> None:
    town = hands.a_town()
    tablet = window(820, 1180, touch=True)
    page = hands.get_ready(tablet, town.theo)
    stop = page.locator(".stop").first
    button = stop.get_by_role("button", name="On my way")

    hands.go_underground(tablet)
    button.tap()
    expect(stop).to_contain_text("No signal: the owner is not told. Call them, or try again.")
    expect(button).to_be_enabled()
    assert not Notice.objects.filter(template="visit_on_the_way").exists()

    hands.come_up(tablet)
    button.tap()
    expect(stop).to_contain_text("is told by")
    expect(button).to_have_count(0)
    hands.forgive_no_network(tablet)
    assert Notice.objects.filter(template="visit_on_the_way").count() == 1
