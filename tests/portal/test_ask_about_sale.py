"""A buyer or an agent asks for the transfer with the certificate in hand: proven as the check is, leaking nothing."""

import re
from datetime import date, datetime, timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from contractor.core import clock
from contractor.core.audit import Actor
from contractor.notices.models import Notice
from contractor.portal.held_certificate import LASTS, number_proven, proof_of
from contractor.portal.tries import WRONG_TRIES
from contractor.warranties.actions import certifying
from contractor.warranties.inquiry_tables import TransferInquiry
from contractor.warranties.models import Certificate, Warranty
from contractor.warranties.numbers import display_number, draw_number

ASK, CHECK = reverse("portal:ask_about_sale"), reverse("portal:check")
WORDS = {
    "role": "buyers_agent",
    "name": "Ada Lorimer",
    "email": "ada@example.com",
    "phone": "",
    "closing_on": "2026-06-01",
    "message": "For Ben Okafor.",
}


@pytest.fixture
def certificate(warranty: Warranty, office: Actor, on: date, at: datetime) -> Certificate:
    return certifying.issue_certificate(warranty_id=warranty.pk, on=on, by=office, at=at)


def key_of(certificate: Certificate) -> dict[str, str]:
    return {"number": display_number(certificate.number).lower(), "code": certificate.check_code}


def shown(answer: Any) -> str:
    """The page between head and foot, whose address is the company's own."""
    page = answer.content.decode()
    return str(page[page.index("<main") : page.index("</main>")])


def test_number_and_code_let_it_in(certificate: Certificate) -> None:
    answer = Client().post(ASK, WORDS | key_of(certificate))
    assert "We have your request" in shown(answer)
    inquiry = TransferInquiry.objects.get()
    assert (inquiry.certificate, inquiry.role, inquiry.person.name) == (certificate, "buyers_agent", "Ada Lorimer")
    assert (inquiry.closing_on, inquiry.message) == (date(2026, 6, 1), "For Ben Okafor.")


def test_the_checks_answer_leads_there_without_typing_both_again(certificate: Certificate) -> None:
    browser = Client()
    for answer in (
        browser.post(CHECK, key_of(certificate)),
        browser.get(reverse("portal:check_token", args=[certificate.token])),
    ):
        proof = re.search(r'name="held" value="([^"]+)"', shown(answer))
        assert proof is not None
        form = shown(browser.post(ASK, {"held": proof[1], "begin": "1"}))
        assert f"certificate {display_number(certificate.number)}" in form
        assert 'name="number"' not in form
        assert "Nothing was sent yet" not in form
        assert certificate.check_code not in form
    assert "We have your request" in shown(browser.post(ASK, {**WORDS, "held": proof[1]}))
    assert TransferInquiry.objects.get().certificate == certificate


def test_an_unknown_answer_leads_nowhere_and_the_empty_page_to_the_form(certificate: Certificate) -> None:
    wrong = shown(Client().post(CHECK, {"number": draw_number(), "code": "000000"}))
    assert 'name="held"' not in wrong
    assert f'href="{ASK}"' in shown(Client().get(CHECK))
    assert 'name="number"' in shown(Client().get(ASK))


def test_a_wrong_code_looks_exactly_like_an_unknown_number(certificate: Certificate) -> None:
    wrong = "000000" if certificate.check_code != "000000" else "111111"
    bodies = {
        re.sub(r' value="[^"]*"', "", shown(Client().post(ASK, {**WORDS, "number": number, "code": code})))
        for number, code in ((certificate.number, wrong), (draw_number(), certificate.check_code))
    }
    assert len(bodies) == 1
    [body] = bodies
    assert "No certificate has this number and code." in body
    assert "For Ben Okafor." in body  # nothing typed is lost
    assert not TransferInquiry.objects.exists()


def test_wrong_tries_here_and_on_the_check_page_count_together(certificate: Certificate) -> None:
    wrong = {"number": "7K3M-9QX2-0", "code": "000000"}
    for number in range(WRONG_TRIES):
        assert Client().post((ASK, CHECK)[number % 2], WORDS | wrong).status_code == 200
    for answer in (Client().post(ASK, WORDS | key_of(certificate)), Client().post(CHECK, key_of(certificate))):
        assert (answer.status_code, answer["Retry-After"]) == (429, "900")
    assert not TransferInquiry.objects.exists()


def test_nothing_is_told_that_the_check_page_does_not_tell(certificate: Certificate) -> None:
    again = {**WORDS, "email": "else@example.com"}
    pages = [
        shown(Client().post(ASK, {"held": proof_of(certificate.number, at=clock.now()), "begin": "1"})),
        shown(Client().post(ASK, WORDS | key_of(certificate))),
        shown(Client().post(ASK, again | key_of(certificate))),
    ]
    for page in pages:
        for word in ("Iris", "Holloway", "Millrace", "17099", "iris@", "0142", "Theo", "$"):
            assert word not in page, word


def test_the_answer_is_the_same_the_first_time_and_again(certificate: Certificate) -> None:
    first, again = (shown(Client().post(ASK, WORDS | key_of(certificate))) for _ in range(2))
    assert first == again
    assert TransferInquiry.objects.count() == 1
    assert Notice.objects.filter(template="transfer_inquiry_received").count() == 1


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"email": "", "phone": ""}, "Give an e-mail address or a telephone number"),
        ({"email": "", "phone": "555-0142"}, "Type it with its area code"),
        ({"email": "ada"}, "Enter a valid email address"),
        ({"name": ""}, "This field is required"),
        ({"role": "owner"}, "Select a valid choice"),
        ({"closing_on": "2016-06-01"}, "Check the year"),
        ({"closing_on": "2062-06-01"}, "more than a year away"),
        ({"number": "7K3M-9QX2-D"}, "mistyped"),
    ],
)
def test_bad_input_is_told_beside_the_field_and_nothing_is_lost(
    changes: dict[str, str], sentence: str, certificate: Certificate
) -> None:
    page = shown(Client().post(ASK, WORDS | key_of(certificate) | changes))
    assert "Nothing was sent yet." in page
    assert sentence in page
    assert "For Ben Okafor." in page
    assert not TransferInquiry.objects.exists()


def test_a_revoked_certificate_is_answered_by_a_clear_sentence(certificate: Certificate, at: datetime) -> None:
    certificate.revoked_at, certificate.revoked_because = at, "Wrong."
    certificate.save()
    page = shown(Client().post(ASK, WORDS | key_of(certificate)))
    assert "This certificate was revoked" in page
    assert "For Ben Okafor." in page


def test_a_proof_holds_for_half_a_day_and_only_under_our_signature(at: datetime) -> None:
    proof = proof_of("7K3M9QX2C", at=at)
    assert number_proven(proof, at=at + LASTS - timedelta(seconds=1)) == "7K3M9QX2C"
    assert number_proven(proof, at=at + LASTS) == ""
    for forged in ("", "x", proof[:-1], proof.replace(proof[0], "A", 1), '["7K3M9QX2C","2099-01-01"]:x'):
        assert number_proven(forged, at=at) == ""


def test_with_an_old_proof_number_and_code_are_asked_for_and_the_rest_is_kept(
    certificate: Certificate, at: datetime
) -> None:
    old = proof_of(certificate.number, at=at - LASTS)
    page = shown(Client().post(ASK, {**WORDS, "held": old}))
    assert 'name="number"' in page
    assert "For Ben Okafor." in page
    assert not TransferInquiry.objects.exists()


def test_the_pages_are_kept_by_nobody_and_stand_in_few_queries(
    certificate: Certificate, django_assert_num_queries: Any
) -> None:
    with django_assert_num_queries(1):  # the company at head and foot
        answer = Client().get(ASK)
    for one in (answer, Client().post(ASK, WORDS | key_of(certificate))):
        assert "no-store" in one["Cache-Control"]
        assert one["X-Robots-Tag"] == "noindex, nofollow"
