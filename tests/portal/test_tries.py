"""Guessing on the check page: a few wrong tries, then a pause that says how long it is."""

from datetime import date, datetime, timedelta
from typing import Any

import pytest
from django.core.cache import cache
from django.core.files.uploadedfile import SimpleUploadedFile
from django.http import HttpResponse
from django.test import Client, RequestFactory
from django.urls import reverse

from contractor.core import clock
from contractor.core.audit import Actor
from contractor.portal.tries import WRONG_TRIES, count_wrong_try, seconds_to_wait
from contractor.warranties.actions import certifying
from contractor.warranties.models import Certificate, Warranty

CHECK, UPLOAD = reverse("portal:check"), reverse("portal:check_upload")
# Well formed, so that the register is asked; nobody has this number.
WRONG = {"number": "7K3M-9QX2-0", "code": "000000"}


@pytest.fixture
def certificate(warranty: Warranty, office: Actor, on: date, at: datetime) -> Certificate:
    return certifying.issue_certificate(warranty_id=warranty.pk, on=on, by=office, at=at)


def wrong_number() -> HttpResponse:
    answer: Any = Client().post(CHECK, WRONG)
    return answer


def wrong_token() -> HttpResponse:
    answer: Any = Client().get(reverse("portal:check_token", args=["n" * 27]))
    return answer


def wrong_file() -> HttpResponse:
    answer: Any = Client().post(UPLOAD, {"file": SimpleUploadedFile("a.pdf", b"%PDF-1.7")})
    return answer


def test_wrong_tries_of_all_three_ways_count_together(certificate: Certificate) -> None:
    for number in range(WRONG_TRIES):
        way = (wrong_number, wrong_token, wrong_file)[number % 3]
        assert way().status_code == 200, number
    right = {"number": certificate.number, "code": certificate.check_code}
    refused: list[Any] = [
        wrong_number(),
        wrong_token(),
        wrong_file(),
        Client().post(CHECK, right),
        Client().get(reverse("portal:check_token", args=[certificate.token])),
    ]
    for answer in refused:
        assert answer.status_code == 429
        # 14:00 UTC begins a quarter of an hour.
        assert answer["Retry-After"] == "900"
        assert answer["X-Robots-Tag"] == "noindex, nofollow"
        shown = answer.content.decode()
        assert "Wait 15 minutes" in shown
        assert "(555) 555-0100" in shown
        assert "genuine" not in shown
    # The empty page itself stays open, and so does everybody else's.
    assert Client().get(CHECK).status_code == 200
    assert Client().post(CHECK, right, REMOTE_ADDR="203.0.113.9").status_code == 200


def test_the_pause_ends(certificate: Certificate, at: datetime, monkeypatch: pytest.MonkeyPatch) -> None:
    for _ in range(WRONG_TRIES):
        wrong_number()
    monkeypatch.setattr(clock, "now", lambda: at + timedelta(minutes=14, seconds=30))
    answer = wrong_number()
    assert (answer.status_code, answer["Retry-After"]) == (429, "30")
    assert "Wait 1 minute," in answer.content.decode()
    monkeypatch.setattr(clock, "now", lambda: at + timedelta(minutes=15))
    assert wrong_number().status_code == 200


def test_right_answers_and_half_filled_forms_do_not_count(certificate: Certificate) -> None:
    right = {"number": certificate.number, "code": certificate.check_code}
    for _ in range(WRONG_TRIES + 2):
        assert Client().post(CHECK, right).status_code == 200
        assert Client().post(CHECK, {"number": "1"}).status_code == 200
        assert Client().get(CHECK).status_code == 200
    assert wrong_number().status_code == 200


@pytest.mark.parametrize(
    ("behind_proxy", "first", "second", "is_same"),
    [
        (False, {"REMOTE_ADDR": "203.0.113.9"}, {"REMOTE_ADDR": "203.0.113.9"}, True),
        (False, {"REMOTE_ADDR": "203.0.113.9"}, {"REMOTE_ADDR": "203.0.113.10"}, False),
        # Documentation addresses of RFC 5737 and RFC 3849; one customer holds a whole /64.
        (False, {"REMOTE_ADDR": "2001:db8:0:1::5"}, {"REMOTE_ADDR": "2001:db8:0:1:ffff::9"}, True),
        (False, {"REMOTE_ADDR": "2001:db8:0:1::5"}, {"REMOTE_ADDR": "2001:db8:0:2::5"}, False),
        # Without a proxy of our own the header is whatever the visitor likes.
        (
            False,
            {"REMOTE_ADDR": "203.0.113.9", "HTTP_X_FORWARDED_FOR": "198.51.100.1"},
            {"REMOTE_ADDR": "203.0.113.9", "HTTP_X_FORWARDED_FOR": "198.51.100.2"},
            True,
        ),
        # Behind one the last address is the proxy's word, and those before it the visitor's.
        (
            True,
            {"REMOTE_ADDR": "10.0.0.1", "HTTP_X_FORWARDED_FOR": "198.51.100.1, 203.0.113.9"},
            {"REMOTE_ADDR": "10.0.0.1", "HTTP_X_FORWARDED_FOR": "198.51.100.2, 203.0.113.9"},
            True,
        ),
        (
            True,
            {"REMOTE_ADDR": "10.0.0.1", "HTTP_X_FORWARDED_FOR": "203.0.113.9"},
            {"REMOTE_ADDR": "10.0.0.1", "HTTP_X_FORWARDED_FOR": "203.0.113.10"},
            False,
        ),
        (False, {"REMOTE_ADDR": ""}, {"REMOTE_ADDR": "unix:"}, False),
    ],
)
def test_who_is_the_same_visitor(
    settings: Any, at: datetime, behind_proxy: bool, first: dict[str, str], second: dict[str, str], is_same: bool
) -> None:
    settings.BEHIND_PROXY = behind_proxy
    asked = RequestFactory()
    for _ in range(WRONG_TRIES):
        assert seconds_to_wait(asked.get("/", **first), at=at) == 0  # type: ignore[arg-type]
        count_wrong_try(asked.get("/", **first), at=at)  # type: ignore[arg-type]
    assert (seconds_to_wait(asked.get("/", **second), at=at) > 0) is is_same  # type: ignore[arg-type]


def test_the_cache_holds_no_address(at: datetime) -> None:
    count_wrong_try(RequestFactory().get("/", REMOTE_ADDR="203.0.113.9"), at=at)
    kept: Any = cache
    names = list(kept._cache)
    assert names
    assert "203.0.113" not in " ".join(names)
