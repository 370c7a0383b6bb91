"""The personal link: looking at it opens nothing, a press opens the house, and it stops when it should."""

from collections.abc import Callable
from datetime import date, datetime, timedelta

import pytest
from django.core import mail
from django.test import Client
from django.urls import reverse

from contractor.core import clock
from contractor.core.audit import SYSTEM, Actor
from contractor.core.models import AuditEntry
from contractor.notices.models import Notice
from contractor.properties.actions import LINK_LASTS, hand_over, revoke_owner_links
from contractor.properties.models import OwnerLink, Ownership, Person

HOUSE = reverse("portal:house")
ASK = reverse("portal:ask_link")
LinkOf = Callable[[Ownership], str]
OpenHouse = Callable[[Ownership], Client]


def is_shut(browser: Client) -> bool:
    """Whether the house leads away to the page that asks for a link."""
    response = browser.get(HOUSE)
    return response.status_code == 302 and response["Location"] == ASK


def test_looking_at_a_link_opens_nothing_and_shows_a_button(ownership: Ownership, link_of: LinkOf) -> None:
    browser, address = Client(), link_of(ownership)
    for _ in range(3):  # a scanner that follows links in mails, a preview, the owner
        response = browser.get(address)
    shown = response.content.decode()
    assert response.status_code == 200
    assert "<button" in shown
    assert "Open my house" in shown
    # The owner may forward the mail, so that page says nothing about whose house it is.
    assert "Millrace" not in shown
    assert "Holloway" not in shown
    assert OwnerLink.objects.get().last_opened_at is None
    assert is_shut(browser)


def test_pressing_opens_the_house_at_an_address_without_the_secret(
    ownership: Ownership, link_of: LinkOf, at: datetime
) -> None:
    browser, address = Client(), link_of(ownership)
    response = browser.post(address)
    assert (response.status_code, response["Location"]) == (302, HOUSE)
    assert OwnerLink.objects.get().last_opened_at == at
    assert "12 Millrace Lane" in browser.get(HOUSE).content.decode()


def test_the_button_works_only_from_the_page_that_shows_it(ownership: Ownership, link_of: LinkOf) -> None:
    browser, address = Client(enforce_csrf_checks=True), link_of(ownership)
    assert browser.post(address).status_code == 403
    browser.get(address)
    token = browser.cookies["csrftoken"].value
    assert browser.post(address, {"csrfmiddlewaretoken": token})["Location"] == HOUSE


def test_opening_gives_the_browser_a_new_session_key(ownership: Ownership, link_of: LinkOf, nora: object) -> None:
    browser = Client()
    browser.force_login(nora)  # type: ignore[arg-type]
    before = browser.session.session_key
    browser.post(link_of(ownership))
    assert browser.session.session_key != before


def test_the_page_of_a_secret_address_is_neither_kept_nor_told_to_others(ownership: Ownership, link_of: LinkOf) -> None:
    address = link_of(ownership)
    for response in (Client().get(address), Client().post(reverse("portal:link", args=["x" * 43]))):
        assert "no-store" in response["Cache-Control"]
        assert response["Referrer-Policy"] == "same-origin"
        assert response["X-Robots-Tag"] == "noindex, nofollow"


def revoke(ownership: Ownership, at: datetime) -> None:
    revoke_owner_links(ownership_id=ownership.pk, by=SYSTEM, at=at)


def expire(ownership: Ownership, at: datetime) -> None:
    ownership.links.update(expires_at=at)


def sell(ownership: Ownership, at: datetime) -> None:
    buyer = Person.objects.create(name="Ben Okafor", created_at=at)
    hand_over(property_id=ownership.property_id, person_id=buyer.pk, on=date(2026, 5, 1), by=SYSTEM, at=at)


def end_ownership_only(ownership: Ownership, at: datetime) -> None:
    """The owner of record changed and nobody thought of the links."""
    ownership.until_on = date(2026, 5, 1)
    ownership.save()


WAYS_TO_END = pytest.mark.parametrize("end", [revoke, expire, sell, end_ownership_only])


@WAYS_TO_END
def test_a_link_that_has_ended_is_gone_and_says_what_to_do(
    end: Callable[[Ownership, datetime], None], ownership: Ownership, link_of: LinkOf, at: datetime
) -> None:
    browser, address = Client(), link_of(ownership)
    end(ownership, at)
    response = browser.post(address)
    shown = response.content.decode()
    assert response.status_code == 410
    assert "no longer opens" in shown
    assert f'action="{ASK}"' in shown
    assert "(555) 555-0100" in shown
    assert "Millrace" not in shown
    assert is_shut(browser)


@WAYS_TO_END
def test_what_was_open_already_closes_too(
    end: Callable[[Ownership, datetime], None], ownership: Ownership, hers: Client, at: datetime
) -> None:
    assert not is_shut(hers)
    end(ownership, at)
    assert is_shut(hers)


@pytest.mark.parametrize("token", ["x", "x" * 43, "'; drop table", "\0"])
def test_a_wrong_link_is_told_like_one_that_has_ended(
    token: str, ownership: Ownership, link_of: LinkOf, at: datetime
) -> None:
    ended = link_of(ownership)
    revoke(ownership, at)
    wrong = Client().post(reverse("portal:link", args=[token]))
    assert wrong.status_code == 410
    assert "no longer opens" in wrong.content.decode()
    bodies = [response.content.decode() for response in (wrong, Client().post(ended))]
    assert "x" * 43 not in bodies[0]
    assert strip_token(bodies[0]) == strip_token(bodies[1])


def strip_token(body: str) -> str:
    """The page without the value against forged requests, which is new each time."""
    return "".join(line for line in body.splitlines() if "csrfmiddlewaretoken" not in line)


def test_a_link_lasts_thirty_days(
    ownership: Ownership, link_of: LinkOf, at: datetime, monkeypatch: pytest.MonkeyPatch
) -> None:
    address = link_of(ownership)
    assert timedelta(days=30) == LINK_LASTS
    monkeypatch.setattr(clock, "now", lambda: at + timedelta(days=30) - timedelta(seconds=1))
    assert Client().post(address).status_code == 302
    monkeypatch.setattr(clock, "now", lambda: at + timedelta(days=30))
    assert Client().post(address).status_code == 410


def test_closing_on_this_device_closes_it_here_only(ownership: Ownership, open_house: OpenHouse) -> None:
    phone, desktop = open_house(ownership), open_house(ownership)
    phone.post(reverse("portal:leave"))
    assert is_shut(phone)
    assert not is_shut(desktop)


def test_the_secret_stands_in_no_table(ownership: Ownership, link_of: LinkOf) -> None:
    token = link_of(ownership).rstrip("/").rsplit("/", 1)[1]
    assert len(token) >= 43  # 256 random bits in base64url
    assert token not in str(list(OwnerLink.objects.values()))
    assert token not in str(list(AuditEntry.objects.values()))


# Asking for a new link.


@pytest.fixture
def ask(django_capture_on_commit_callbacks: Callable[..., object]) -> Callable[[str], str]:
    """Asks for a link as the page does, lets the mail go out, and gives the page that answers."""

    def asking(email: str) -> str:
        with django_capture_on_commit_callbacks(execute=True):  # type: ignore[attr-defined]
            response = Client().post(ASK, {"email": email})
        assert response.status_code == 200
        return strip_token(response.content.decode())

    return asking


def test_known_and_unknown_addresses_get_the_same_answer(ownership: Ownership, ask: Callable[[str], str]) -> None:
    known, unknown = ask("iris@example.com"), ask("stranger@example.com")
    assert known == unknown
    assert "iris@example.com" not in known
    assert [message.to for message in mail.outbox] == [["iris@example.com"]]


def test_the_mail_holds_a_link_that_opens_the_house(ownership: Ownership, ask: Callable[[str], str]) -> None:
    ask(" Iris@Example.com ")
    body = str(mail.outbox[0].body)
    start = body.index("/home/link/")
    browser = Client()
    browser.post(body[start:].split(maxsplit=1)[0])
    assert "12 Millrace Lane" in browser.get(HOUSE).content.decode()


def test_it_is_sent_once_an_hour_however_often_it_is_asked_for(
    ownership: Ownership, ask: Callable[[str], str], at: datetime, monkeypatch: pytest.MonkeyPatch
) -> None:
    answers = {ask("iris@example.com") for _ in range(5)}
    assert (len(answers), len(mail.outbox)) == (1, 1)
    monkeypatch.setattr(clock, "now", lambda: at + timedelta(hours=1))
    ask("iris@example.com")
    assert len(mail.outbox) == 2
    assert Notice.objects.filter(template="owner_link").count() == 2


def test_somebody_with_two_houses_gets_a_link_to_each(
    ownership: Ownership, neighbour: Ownership, iris: Person, ask: Callable[[str], str]
) -> None:
    neighbour.person = iris
    neighbour.save()
    ask("iris@example.com")
    opened = []
    for message in mail.outbox:
        browser, body = Client(), str(message.body)
        browser.post(body[body.index("/home/link/") :].split(maxsplit=1)[0])
        shown = browser.get(HOUSE).content.decode()
        opened += [street for street in ("12 Millrace Lane", "14 Millrace Lane") if street in shown]
    assert sorted(opened) == ["12 Millrace Lane", "14 Millrace Lane"]


def test_a_seller_is_sent_nothing_any_more(
    ownership: Ownership, buyer: Person, office: Actor, at: datetime, ask: Callable[[str], str]
) -> None:
    hand_over(property_id=ownership.property_id, person_id=buyer.pk, on=date(2026, 5, 1), by=office, at=at)
    ask("iris@example.com")
    assert mail.outbox == []


def test_what_is_no_address_is_asked_again(ownership: Ownership) -> None:
    response = Client().post(ASK, {"email": "iris at home"})
    assert "Look into your mailbox" not in response.content.decode()
    assert not Notice.objects.exists()
