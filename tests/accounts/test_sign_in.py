"""Signing in and out, and where everybody's day begins."""

from collections.abc import Callable

import pytest
from django.test import Client
from django.urls import reverse

from contractor.accounts.models import User

PASSWORD = "harrow-creek-2026"


@pytest.fixture
def with_password(nora: User) -> User:
    nora.set_password(PASSWORD)
    nora.save()
    return nora


def sign_in(email: str = "nora@example.com", password: str = PASSWORD, query: str = "") -> tuple[Client, object]:
    client = Client()
    return client, client.post(f"{reverse('accounts:sign_in')}{query}", {"username": email, "password": password})


def test_the_right_password_opens_the_desk(with_password: User) -> None:
    client, answer = sign_in()
    assert answer["Location"] == reverse("accounts:front_door")  # type: ignore[index]
    assert client.get(reverse("office:today")).status_code == 200


@pytest.mark.parametrize("typed", ["Nora@example.com", "NORA@EXAMPLE.COM", "  nora@Example.com "])
def test_capitals_in_the_address_do_not_matter(with_password: User, typed: str) -> None:
    client, _ = sign_in(typed)
    assert client.get(reverse("office:today")).status_code == 200


def test_an_address_that_was_kept_with_capitals_opens_as_it_is_written(with_password: User) -> None:
    with_password.email = "Nora.Vance@example.com"
    with_password.save()
    client, _ = sign_in("Nora.Vance@example.com")
    assert client.get(reverse("office:today")).status_code == 200


@pytest.mark.parametrize(
    ("email", "password"),
    [("nora@example.com", "wrong"), ("nobody@example.com", PASSWORD), ("nora@example.com", PASSWORD.upper())],
)
def test_a_wrong_pair_is_refused_in_the_same_words(with_password: User, email: str, password: str) -> None:
    client, answer = sign_in(email, password)
    assert "don&#x27;t match" in answer.content.decode()  # type: ignore[attr-defined]
    assert client.get(reverse("office:today")).status_code == 302


def test_somebody_who_left_cannot_sign_in(with_password: User) -> None:
    with_password.is_active = False
    with_password.save()
    client, _ = sign_in()
    assert client.get(reverse("office:today")).status_code == 302


@pytest.mark.parametrize(
    ("wanted", "leads_to"),
    [
        ("/office/due/", "/office/due/"),
        ("https://elsewhere.example/", "/"),
        ("//elsewhere.example/", "/"),
        ("javascript:alert(1)", "/"),
        ("", "/"),
    ],
)
def test_one_goes_on_to_where_one_wanted_to_be_but_never_to_another_site(
    with_password: User, wanted: str, leads_to: str
) -> None:
    _, answer = sign_in(query=f"?next={wanted}")
    assert answer["Location"] == leads_to  # type: ignore[index]


def test_signing_out_ends_the_session_and_needs_a_press(nora: User, signed_in_as: Callable[[User], Client]) -> None:
    client = signed_in_as(nora)
    assert client.get(reverse("accounts:sign_out")).status_code == 405
    assert client.get(reverse("office:today")).status_code == 200
    assert client.post(reverse("accounts:sign_out"))["Location"] == reverse("accounts:sign_in")
    assert client.get(reverse("office:today")).status_code == 302


@pytest.mark.parametrize(
    ("who", "place"), [("nora", "office:today"), ("ruth", "office:today"), ("theo", "checkups:my_round")]
)
def test_everybody_begins_where_their_day_does(
    who: str, place: str, request: pytest.FixtureRequest, signed_in_as: Callable[[User], Client]
) -> None:
    client = signed_in_as(request.getfixturevalue(who))
    assert client.get(reverse("accounts:front_door"))["Location"] == reverse(place)


@pytest.mark.django_db
def test_a_stranger_begins_at_the_sign_in() -> None:
    assert Client().get(reverse("accounts:front_door"))["Location"] == reverse("accounts:sign_in")


def test_private_pages_are_not_kept_by_the_browser(nora: User, signed_in_as: Callable[[User], Client]) -> None:
    assert signed_in_as(nora).get(reverse("office:today"))["Cache-Control"] == "no-store"


def test_a_wrong_turn_has_a_page(company: object) -> None:
    answer = Client().get("/nowhere/at/all/")
    assert (answer.status_code, "There is nothing here" in answer.content.decode()) == (404, True)


def test_another_roles_page_says_so(theo: User, signed_in_as: Callable[[User], Client]) -> None:
    answer = signed_in_as(theo).get(reverse("office:today"))
    assert (answer.status_code, "for another role" in answer.content.decode()) == (403, True)
