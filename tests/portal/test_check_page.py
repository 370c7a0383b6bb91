"""Is this certificate real? What anybody may know from number and code, or from the QR code, and nothing more."""

import re
from datetime import date, datetime
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from contractor.accounts.models import User
from contractor.core.audit import Actor
from contractor.portal.forms import CheckForm
from contractor.properties.models import Person
from contractor.warranties.actions import certifying, transfers
from contractor.warranties.models import Certificate, Warranty
from contractor.warranties.numbers import ALPHABET, display_number, draw_number
from tests.warranties.factories import checkup_done

CHECK = reverse("portal:check")


@pytest.fixture
def certificate(warranty: Warranty, theo: User, office: Actor, on: date, at: datetime) -> Certificate:
    for year in (2021, 2022, 2023, 2024, 2025):
        checkup_done(warranty.system, date(year, 5, 10), theo)
    return certifying.issue_certificate(warranty_id=warranty.pk, on=on, by=office, at=at)


def by_number(number: str, code: str) -> str:
    return Client().post(CHECK, {"number": number, "code": code}).content.decode()


def by_token(token: str) -> str:
    return Client().get(reverse("portal:check_token", args=[token])).content.decode()


def both(certificate: Certificate) -> list[str]:
    """The answer to number and code, and the answer to the QR code."""
    return [by_number(display_number(certificate.number), certificate.check_code), by_token(certificate.token)]


def without_what_was_typed(body: str) -> str:
    """The page without the fields' values and the value against forged requests."""
    return re.sub(r' value="[^"]*"', "", body)


def test_nothing_is_answered_before_something_is_asked(company: object) -> None:
    shown = Client().get(CHECK).content.decode()
    assert "Certificate number" in shown
    assert "genuine" not in shown
    assert "No certificate has" not in shown


def test_a_genuine_one_says_so_with_how_things_stand_today(certificate: Certificate) -> None:
    for shown in both(certificate):
        assert f"Certificate {display_number(certificate.number)} is genuine." in shown
        assert "Harrow Creek Dry Basements LLC" in shown
        assert "in force" in shown
        assert "May 10, 2025" in shown  # the last check-up
        assert "May 14, 2045" in shown  # the pit's 25 years from May 14, 2020
        assert "North wall" in shown
        assert "Larkmere, PA, postcode begins 170" in shown


def test_nothing_personal_is_on_it(certificate: Certificate) -> None:
    for page in both(certificate):
        # The foot of every page tells the company's own address, whose postcode is that of the house.
        shown = page[page.index("<main") : page.index("</main>")]
        for word in ("Holloway", "Iris", "Millrace", "17099", "iris@example.com", "555-0142", "Theo", "$"):
            assert word not in shown, word


def test_a_superseded_one_leads_to_the_newer_one(
    certificate: Certificate, warranty: Warranty, office: Actor, on: date, at: datetime
) -> None:
    newer = certifying.issue_certificate(warranty_id=warranty.pk, on=on, by=office, at=at)
    for shown in both(certificate):
        assert "is genuine, but a newer one has taken its place" in shown
        assert "Ask the seller or the agent for the newer certificate" in shown
        # Who holds the old paper does not learn number or code of the new one.
        assert display_number(newer.number) not in shown
        assert newer.token not in shown
    for shown in both(newer):
        assert "is genuine." in shown


def test_a_revoked_one_warns_and_says_nothing_about_cover(
    certificate: Certificate,
    warranty: Warranty,
    buyer: Person,
    theo: User,
    ruth: User,
    office: Actor,
    on: date,
    at: datetime,
) -> None:
    checkup_done(warranty.system, date(2026, 4, 25), theo)
    asked = transfers.ask_transfer(
        warranty_id=warranty.pk,
        buyer_id=buyer.pk,
        closing_on=date(2026, 5, 1),
        notified_on=date(2026, 4, 20),
        by=office,
        at=at,
    )
    transfers.record_transfer_fee(transfer_id=asked.pk, paid_on=date(2026, 5, 1), by=office, at=at)
    transfers.accept_transfer(transfer_id=asked.pk, accepted_on=date(2026, 5, 1), name="Ben Okafor", by=office, at=at)
    issued = transfers.issue_transfer(transfer_id=asked.pk, on=on, by=office, at=at)
    transfers.revoke_transfer(transfer_id=asked.pk, because="Wrong buyer.", by_user=ruth, at=at)
    for shown in both(issued):
        assert "was revoked on May 4, 2026" in shown
        assert "Do not rely on it" in shown
        assert "(555) 555-0100" in shown
        for word in ("in force", "Covered walls", "May 14, 2045", "Okafor", "Wrong buyer"):
            assert word not in shown


def test_a_wrong_code_looks_exactly_like_an_unknown_number(certificate: Certificate) -> None:
    wrong = "000000" if certificate.check_code != "000000" else "111111"
    bodies = {
        without_what_was_typed(body)
        for body in (
            by_number(certificate.number, wrong),
            by_number(draw_number(), certificate.check_code),
            by_number(draw_number(), wrong),
        )
    }
    assert len(bodies) == 1
    [body] = bodies
    assert "No certificate has this number and code" in body
    assert "do not rely on the paper" in body
    assert "in force" not in body


# What was typed, and the words that say where to look.
SLIPS = [
    ("7K3M-9QX2-D", "mistyped"),
    ("7K3M-9XQ2-C", "mistyped"),
    ("7K3M-9QX2", "has 9 letters and digits; this one has 8"),
    ("7K3M-9QX2-CC", "has 9 letters and digits; this one has 10"),
    ("7K3M-9QX2-U", "never has U in it"),
    ("no such thing", "never has U in it"),
    ("---", "Type the number printed on the certificate"),
]


@pytest.mark.parametrize(("typed", "words"), SLIPS)
def test_a_slip_of_the_keys_is_told_beside_the_field_and_costs_no_try(
    typed: str, words: str, certificate: Certificate
) -> None:
    for _ in range(20):
        body = by_number(typed, "ABC234")
    assert words in body
    assert "Nothing was checked yet. One thing to put right:" in body
    assert "No certificate has this number" not in body
    assert f'value="{typed}"' in body
    assert 'value="ABC234"' in body
    # Still let in: nothing was counted, and the register was never asked.
    assert "is genuine" in by_number(certificate.number, certificate.check_code)


def test_every_slip_of_one_key_and_every_swap_in_a_real_number_is_told(certificate: Certificate) -> None:
    """ISO 7064 MOD 37-2 catches all single substitutions and all swaps of neighbours."""
    number = certificate.number
    slips = {number[:i] + sign + number[i + 1 :] for i in range(len(number)) for sign in ALPHABET}
    slips |= {number[:i] + number[i + 1] + number[i] + number[i + 2 :] for i in range(len(number) - 1)}
    assert [typed for typed in sorted(slips - {number}) if CheckForm({"number": typed, "code": "x"}).is_valid()] == []


@pytest.mark.parametrize("token", ["x" * 27, "\0", "é", "x" * 500])
def test_an_unknown_token_is_told_like_an_unknown_number(token: str, certificate: Certificate) -> None:
    response = Client().get(reverse("portal:check_token", args=[token]))
    assert response.status_code == 200
    assert "No certificate has this number and code" in response.content.decode()
    assert "in force" not in response.content.decode()


def test_the_code_stands_in_no_address(certificate: Certificate) -> None:
    asked = {"number": certificate.number, "code": certificate.check_code}
    assert "is genuine" not in Client().get(CHECK, asked).content.decode()
    assert 'method="post"' in Client().get(CHECK).content.decode()


@pytest.mark.parametrize("given", [{}, {"number": "1"}, {"code": "1"}, {"number": "1" * 31, "code": "1"}])
def test_half_of_it_is_asked_for_again(given: dict[str, Any], certificate: Certificate) -> None:
    shown = Client().post(CHECK, given).content.decode()
    assert "No certificate has" not in shown
    assert "is genuine" not in shown


def test_the_answer_is_neither_kept_nor_told_to_others(certificate: Certificate) -> None:
    responses = [
        Client().get(CHECK),
        Client().post(CHECK, {"number": certificate.number, "code": certificate.check_code}),
        Client().get(reverse("portal:check_token", args=[certificate.token])),
    ]
    for response in responses:
        assert "no-store" in response["Cache-Control"]
        assert response["Referrer-Policy"] == "same-origin"
        assert response["X-Robots-Tag"] == "noindex, nofollow"
        assert "default-src" in response["Content-Security-Policy"]


def test_looking_at_a_qr_code_changes_nothing(certificate: Certificate) -> None:
    address = reverse("portal:check_token", args=[certificate.token])
    assert Client().post(address).status_code == 405
    before = Certificate.objects.values().get()
    Client().get(address)
    assert Certificate.objects.values().get() == before
