"""Staff who forgot their password: the link, its hour, its single use, and what strangers learn (nothing)."""

import re
from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import pytest
from django.core import mail
from django.test import Client
from django.urls import reverse

from contractor.accounts import actions, password_links, tasks
from contractor.accounts.errors import LinkClosed, SignInClosed, TooManyLinks
from contractor.accounts.models import User
from contractor.core import audit, clock
from contractor.core.audit import SYSTEM, Actor
from contractor.core.models import AuditEntry

NEW = "quarry-lane-fourteen"
TWICE = {"password": NEW, "again": NEW}
Capture = Callable[..., object]


@pytest.fixture
def ask(django_capture_on_commit_callbacks: Callable[..., object]) -> Callable[[str], str]:
    """Asks for a link on the sign-in page as a stranger does, lets the background work run, and returns the page."""

    def ask_for(email: str) -> str:
        with django_capture_on_commit_callbacks(execute=True):  # type: ignore[attr-defined]
            answer = Client().post(reverse("accounts:forgotten"), {"email": email})
        assert answer.status_code == 200
        return answer.content.decode()

    return ask_for


def link_in_the_mail(number: int = -1) -> str:
    """The path of the link in a message that went out, the newest unless told otherwise."""
    found = re.search(r"http://localhost:8000(/password/new/\S+)", str(mail.outbox[number].body))
    assert found
    return found[1]


def link_for(user: User, *, at: datetime | None = None) -> str:
    token = password_links.make_token(user, at=at or clock.now())
    return reverse("accounts:new_password", args=[user.pk, token])


def verbs(user: User) -> list[tuple[str, str]]:
    return list(AuditEntry.objects.filter(stream=f"user:{user.pk}").order_by("number").values_list("verb", "actor"))


def test_the_sign_in_page_leads_to_it(company: object) -> None:
    assert f'href="{reverse("accounts:forgotten")}"' in Client().get(reverse("accounts:sign_in")).content.decode()


def test_from_the_forgotten_password_to_the_desk(nora: User, ask: Callable[[str], str]) -> None:
    ask("nora@example.com")
    browser = Client()
    link = link_in_the_mail()
    assert "nora@example.com" in browser.get(link).content.decode()
    answer = browser.post(link, TWICE, follow=True)
    assert answer.redirect_chain == [(reverse("accounts:sign_in"), 302)]
    assert "Your new password is set." in answer.content.decode()
    browser.post(reverse("accounts:sign_in"), {"username": "nora@example.com", "password": NEW})
    assert browser.get(reverse("office:today")).status_code == 200


def test_the_message_says_who_it_is_for_and_what_to_do_if_it_was_not_asked_for(
    nora: User, ask: Callable[[str], str]
) -> None:
    ask("nora@example.com")
    (message,) = mail.outbox
    assert message.to == ["nora@example.com"]
    assert message.subject == "Set a new password for signing in at Harrow Creek Dry Basements"
    (html, kind), *_ = message.alternatives  # type: ignore[attr-defined]
    assert kind == "text/html"
    for text in (str(message.body), html):
        assert "Dear Nora Vance," in text
        assert "works once, within an hour" in text
        assert "If you did not expect this, do nothing" in text
        assert text.count(link_in_the_mail()) >= 1


@pytest.mark.parametrize("email", ["nobody@example.com", "iris@example.com", "gone@example.com"])
def test_strangers_owners_and_people_who_left_get_the_same_answer_and_no_mail(
    email: str, nora: User, iris: object, ask: Callable[[str], str]
) -> None:
    User.objects.create(email="gone@example.com", name="Gone", role="office", is_active=False)
    assert ask(email) == ask("nora@example.com")
    assert [message.to for message in mail.outbox] == [["nora@example.com"]]


def test_an_address_is_known_however_it_is_written(nora: User, ask: Callable[[str], str]) -> None:
    ask(" NORA@Example.com ")
    assert [message.to for message in mail.outbox] == [["nora@example.com"]]


@pytest.mark.parametrize("email", ["", "nonsense"])
def test_what_is_no_address_is_said_beside_the_field(nora: User, email: str) -> None:
    answer = Client().post(reverse("accounts:forgotten"), {"email": email})
    assert list(answer.context["form"].errors) == ["email"]
    assert not verbs(nora)


def test_no_more_than_five_an_hour_go_to_one_address_and_the_answer_stays_the_same(
    nora: User, theo: User, ask: Callable[[str], str]
) -> None:
    pages = {ask("nora@example.com") for _ in range(7)}
    ask("theo@example.com")
    assert len(pages) == 1
    assert [message.to[0] for message in mail.outbox] == ["nora@example.com"] * 5 + ["theo@example.com"]


def test_the_limit_is_that_of_the_last_hour(nora: User, office: Actor, at: datetime) -> None:
    for minutes in range(0, 50, 10):
        actions.ask_password_link(user_id=nora.pk, by=office, at=at + timedelta(minutes=minutes))
    with pytest.raises(TooManyLinks):
        actions.ask_password_link(user_id=nora.pk, by=office, at=at + timedelta(minutes=59))
    assert len(verbs(nora)) == 5
    actions.ask_password_link(user_id=nora.pk, by=office, at=at + timedelta(minutes=60))
    with pytest.raises(TooManyLinks):
        actions.ask_password_link(user_id=nora.pk, by=office, at=at + timedelta(minutes=61))


def test_a_link_works_once(nora: User) -> None:
    link = link_for(nora)
    assert Client().post(link, TWICE).status_code == 302
    for answer in (Client().get(link), Client().post(link, {"password": "another-one-entirely", "again": "x"})):
        assert answer.status_code == 410
        assert "This link no longer works" in answer.content.decode()
        assert f'action="{reverse("accounts:forgotten")}"' in answer.content.decode()
    nora.refresh_from_db()
    assert nora.check_password(NEW)


def test_the_first_link_that_is_used_closes_the_others(nora: User, ask: Callable[[str], str]) -> None:
    ask("nora@example.com")
    other = link_for(nora, at=clock.now() - timedelta(minutes=5))
    assert Client().get(other).status_code == 200
    Client().post(link_in_the_mail(), TWICE)
    assert Client().get(other).status_code == 410


@pytest.mark.parametrize(("seconds", "opens"), [(0, True), (3600, True), (3601, False), (86_400, False)])
def test_a_link_lasts_an_hour(nora: User, at: datetime, seconds: int, opens: bool) -> None:
    token = password_links.make_token(nora, at=at)
    assert password_links.is_good(token, nora, at=at + timedelta(seconds=seconds)) is opens


# The clocks of the United States change on March 8 and November 1, 2026, at 2 in the morning: the second Sunday in
# March and the first in November (15 U.S.C. 260a), which is 7:00 and 6:00 UTC in the Eastern zone.
@pytest.mark.parametrize("change", [datetime(2026, 3, 8, 7, tzinfo=UTC), datetime(2026, 11, 1, 6, tzinfo=UTC)])
def test_a_link_lasts_an_hour_also_in_the_nights_when_the_clocks_change(nora: User, change: datetime) -> None:
    token = password_links.make_token(nora, at=change - timedelta(minutes=10))
    assert password_links.is_good(token, nora, at=change + timedelta(minutes=49))
    assert not password_links.is_good(token, nora, at=change + timedelta(minutes=51))


def test_an_expired_link_is_refused_and_changes_nothing(nora: User, at: datetime) -> None:
    token = password_links.make_token(nora, at=at)
    before = nora.password
    with pytest.raises(LinkClosed):
        actions.set_password_by_link(user_id=nora.pk, token=token, password=NEW, at=at + timedelta(hours=2))
    nora.refresh_from_db()
    assert nora.password == before
    assert not verbs(nora)


def test_a_link_is_for_one_person(nora: User, theo: User) -> None:
    token = password_links.make_token(theo, at=clock.now())
    with pytest.raises(LinkClosed):
        actions.set_password_by_link(user_id=nora.pk, token=token, password=NEW, at=clock.now())
    with pytest.raises(LinkClosed):
        actions.set_password_by_link(user_id=987_654, token=token, password=NEW, at=clock.now())
    assert Client().get(reverse("accounts:new_password", args=[nora.pk, token])).status_code == 410


def test_the_link_of_somebody_who_has_left_since_is_closed(nora: User) -> None:
    link = link_for(nora)
    nora.is_active = False
    nora.save()
    assert [Client().get(link).status_code, Client().post(link, TWICE).status_code] == [410, 410]


def test_looking_at_the_page_uses_nothing_up(nora: User) -> None:
    link = link_for(nora)
    assert [Client().get(link).status_code for _ in range(3)] == [200, 200, 200]
    assert not verbs(nora)


@pytest.mark.parametrize(
    ("typed", "field", "words"),
    [
        ({"password": "short", "again": "short"}, "password", "at least 12 characters"),
        ({"password": "password1234", "again": "password1234"}, "password", "too common"),
        ({"password": "nora@example.com", "again": "nora@example.com"}, "password", "too similar"),
        ({"password": NEW, "again": "quarry-lane-fifteen"}, "again", "The two are not the same."),
        ({"password": NEW, "again": ""}, "again", "required"),
    ],
)
def test_a_password_that_will_not_do_is_refused_beside_its_field(
    nora: User, typed: dict[str, str], field: str, words: str
) -> None:
    link, before = link_for(nora), nora.password
    answer = Client().post(link, typed)
    assert list(answer.context["form"].errors) == [field]
    assert words in answer.content.decode()
    nora.refresh_from_db()
    assert nora.password == before
    assert Client().post(link, TWICE).status_code == 302, "A refused password uses the link up."


def test_every_session_of_the_person_ends_and_nobody_elses(
    nora: User, ruth: User, signed_in_as: Callable[[User], Client]
) -> None:
    tablet, desk, of_ruth = signed_in_as(nora), signed_in_as(nora), signed_in_as(ruth)
    assert desk.get(reverse("office:today")).status_code == 200
    desk.post(link_for(User.objects.get(pk=nora.pk)), TWICE)
    assert [browser.get(reverse("office:today")).status_code for browser in (tablet, desk, of_ruth)] == [302, 302, 200]


def test_the_trail_says_who_asked_who_sent_and_who_set_it_and_holds_no_secret(
    nora: User, ask: Callable[[str], str]
) -> None:
    ask("nora@example.com")
    link = link_in_the_mail()
    Client().post(link, TWICE)
    assert verbs(nora) == [
        ("password link asked", "system"),
        ("password link sent", "system"),
        ("password set by link", f"staff:{nora.pk}"),
    ]
    assert audit.breaks(f"user:{nora.pk}") == []
    nora.refresh_from_db()
    kept = str(list(AuditEntry.objects.values_list("body", "personal")))
    assert not any(secret in kept for secret in (NEW, nora.password, link.split("/")[-2]))


def test_the_background_work_can_be_done_twice(nora: User, office: Actor, at: datetime) -> None:
    actions.ask_password_link(user_id=nora.pk, by=office, at=at)
    asked = AuditEntry.objects.get(verb="password link asked")
    for _ in range(2):
        tasks.mail_password_link.delay(asked_id=asked.pk)
    assert len(mail.outbox) == 1
    actions.ask_password_link(user_id=nora.pk, by=office, at=at)
    tasks.mail_password_link.delay(asked_id=AuditEntry.objects.filter(verb="password link asked").latest("pk").pk)
    assert len(mail.outbox) == 2


def test_somebody_closed_between_asking_and_sending_gets_no_mail(nora: User, office: Actor, at: datetime) -> None:
    actions.ask_password_link(user_id=nora.pk, by=office, at=at)
    nora.is_active = False
    nora.save()
    asked = AuditEntry.objects.get(verb="password link asked")
    assert actions.mail_password_link(asked_id=asked.pk, at=at) is False
    assert not mail.outbox


def test_a_message_that_did_not_go_out_is_not_noted_as_sent(
    nora: User, at: datetime, monkeypatch: pytest.MonkeyPatch, ask: Callable[[str], str]
) -> None:
    def unreachable(*args: object, **kwargs: object) -> int:
        raise OSError("no mail server")

    with monkeypatch.context() as broken:
        broken.setattr("django.core.mail.EmailMultiAlternatives.send", unreachable)
        assert "Look into your mailbox" in ask("nora@example.com")
    assert [verb for verb, _ in verbs(nora)] == ["password link asked"]
    ask("nora@example.com")
    assert len(mail.outbox) == 1


def test_a_manager_sends_the_link_from_the_staff_page(
    ruth: User, theo: User, signed_in_as: Callable[[User], Client], django_capture_on_commit_callbacks: Capture
) -> None:
    browser = signed_in_as(ruth)
    address = reverse("accounts:send_password_link", args=[theo.pk])
    assert f'action="{address}"' in browser.get(reverse("accounts:change_staff", args=[theo.pk])).content.decode()
    with django_capture_on_commit_callbacks(execute=True):  # type: ignore[attr-defined]
        answer = browser.post(address, follow=True)
    assert "on its way to theo@example.com" in answer.content.decode()
    assert "Ruth Adair has this link sent to you" in str(mail.outbox[0].body)
    assert verbs(theo)[0] == ("password link asked", f"staff:{ruth.pk}")
    assert Client().post(link_in_the_mail(), TWICE).status_code == 302


def test_a_manager_is_told_when_the_person_is_closed_or_has_had_enough(
    ruth: User, theo: User, signed_in_as: Callable[[User], Client], at: datetime
) -> None:
    browser = signed_in_as(ruth)
    address = reverse("accounts:send_password_link", args=[theo.pk])
    for _ in range(5):
        actions.ask_password_link(user_id=theo.pk, by=SYSTEM, at=clock.now())
    assert "Five links went to this address" in browser.post(address, follow=True).content.decode()
    theo.is_active = False
    theo.save()
    page = browser.post(address, follow=True).content.decode()
    assert "This person can&#x27;t sign in, so no link was sent." in page
    assert "Send a link to set a new password" not in page
    with pytest.raises(SignInClosed):
        actions.ask_password_link(user_id=theo.pk, by=SYSTEM, at=at)
    assert not mail.outbox


def test_the_page_that_adds_somebody_offers_no_link(ruth: User, signed_in_as: Callable[[User], Client]) -> None:
    assert "Send a link" not in signed_in_as(ruth).get(reverse("accounts:add_staff")).content.decode()


def test_the_pages_of_the_link_are_kept_by_no_browser_and_told_to_no_other_site(nora: User) -> None:
    link = link_for(nora)
    answers = [
        Client().get(link),
        Client().get(reverse("accounts:new_password", args=[nora.pk, "n" * 43])),
        Client().get(reverse("accounts:forgotten")),
        Client().post(reverse("accounts:forgotten"), {"email": "nobody@example.com"}),
        Client().post(link, TWICE),
    ]
    for answer in answers:
        assert "no-store" in answer["Cache-Control"]
        assert answer["Referrer-Policy"] == "same-origin"
        assert answer["X-Robots-Tag"] == "noindex, nofollow"


def test_the_bar_of_a_page_says_whose_session_it_is(nora: User, signed_in_as: Callable[[User], Client]) -> None:
    page = signed_in_as(nora).get(reverse("office:today")).content.decode()
    assert 'title="Your calendar addresses">Nora Vance</a>' in page
