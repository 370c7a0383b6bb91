"""A sale at the desk: the people and their links, the signed paper, the review before issuing."""

from collections.abc import Callable
from datetime import date, datetime, timedelta
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from contractor.accounts.models import User
from contractor.core import clock
from contractor.core.audit import Actor
from contractor.notices.models import Notice
from contractor.properties.models import Person
from contractor.warranties.actions import certifying, transfer_links, transfers
from contractor.warranties.models import Acceptance, Transfer, Warranty
from contractor.warranties.numbers import display_number
from tests.warranties.test_transfer import CLOSING, ask, complete

pytestmark = pytest.mark.django_db
PDF = b"%PDF-1.7\n% signed\n"


@pytest.fixture(autouse=True)
def standing_clock(monkeypatch: pytest.MonkeyPatch, on: date, at: datetime) -> None:
    monkeypatch.setattr(clock, "today", lambda: on)
    monkeypatch.setattr(clock, "now", lambda: at)


@pytest.fixture
def sale(cared_for: Warranty, buyer: Person, office: Actor, at: datetime) -> Transfer:
    return ask(cared_for, buyer, office, at)


@pytest.fixture
def desk(nora: User, signed_in_as: Callable[[User], Client]) -> Client:
    return signed_in_as(nora)


def at_desk(desk: Client, name: str, sale: Transfer, status: int = 200) -> str:
    answer = desk.get(reverse(f"warranties:{name}", args=[sale.pk]))
    assert answer.status_code == status
    return answer.content.decode()


def press(desk: Client, name: str, sale: Transfer, /, **typed: Any) -> Any:
    return desk.post(reverse(f"warranties:{name}", args=[sale.pk]), typed)


def signed(content: bytes = PDF) -> SimpleUploadedFile:
    return SimpleUploadedFile("scan.pdf", content, content_type="application/pdf")


def test_an_agent_named_when_the_transfer_is_opened_has_a_part_in_it(cared_for: Warranty, desk: Client) -> None:
    typed = {"name": "Ben Okafor", "email": "ben@example.com", "closing_on": "2026-05-29", "notified_on": "2026-05-01"}
    address = reverse("warranties:ask_transfer", args=[cared_for.pk])
    half = desk.post(address, {**typed, "agent_name": "Ada Lorimer"})
    assert "name and e-mail address both" in half.content.decode()
    desk.post(address, {**typed, "agent_name": "Ada Lorimer", "agent_email": "ada@example.com"})
    page = at_desk(desk, "transfer", Transfer.objects.get())
    assert "Agent: Ada Lorimer" in page
    assert Notice.objects.filter(template="transfer_link", person__name="Ada Lorimer").count() == 1


def test_an_agent_is_added_sent_a_new_link_and_shut_out(
    sale: Transfer, desk: Client, at: datetime, monkeypatch: pytest.MonkeyPatch
) -> None:
    refused = press(desk, "add_agent", sale, **{"agent-name": "Ada Lorimer", "agent-email": "ada at home"})
    assert refused.status_code == 422
    press(desk, "add_agent", sale, **{"agent-name": "Ada Lorimer", "agent-email": "ada@example.com"})
    assert "Agent: Ada Lorimer" in at_desk(desk, "transfer", sale)
    monkeypatch.setattr(clock, "now", lambda: at + timedelta(minutes=2))
    press(desk, "send_transfer_link", sale, role="agent", email="ada@example.com")
    assert Notice.objects.filter(template="transfer_link").count() == 2
    press(desk, "revoke_transfer_links", sale, role="agent", email="ada@example.com")
    assert not sale.links.filter(role="agent", revoked_at__isnull=True).exists()


def test_a_link_for_nobody_is_refused_and_for_no_role_not_found(sale: Transfer, desk: Client) -> None:
    for name in ("send_transfer_link", "revoke_transfer_links"):
        gone = press(desk, name, sale, role="agent", email="stranger@example.com")
        assert gone.status_code == 409
        assert "There is no such link in this sale." in gone.content.decode()
        assert press(desk, name, sale, role="owner", email="").status_code == 404


def test_the_paper_to_sign_can_be_printed_and_the_signed_one_kept_and_looked_at(
    sale: Transfer, desk: Client, nora: User
) -> None:
    paper = desk.get(reverse("warranties:acceptance_paper", args=[sale.pk]))
    assert (paper["Content-Type"], paper.content[:5]) == ("application/pdf", b"%PDF-")
    for content in (b"no paper", PDF + b"0" * 10 * 1024 * 1024):
        refused = press(desk, "transfer_accepted", sale, name="Ben", accepted_on="2026-05-01", document=signed(content))
        assert refused.status_code == 422
        assert "Send a PDF or a photo" in refused.content.decode()
    press(desk, "transfer_accepted", sale, name="Ben Okafor", accepted_on="2026-05-01", document=signed())
    assert Acceptance.objects.get().recorded_by == nora
    kept = desk.get(reverse("warranties:acceptance", args=[sale.pk]))
    assert b"".join(kept.streaming_content) == PDF  # type: ignore[attr-defined]
    page = at_desk(desk, "transfer", sale)
    assert "kept by Nora Vance" in page
    assert "Set this acceptance aside" in page


def test_an_acceptance_is_set_aside_with_a_reason(sale: Transfer, desk: Client) -> None:
    press(desk, "transfer_accepted", sale, name="Ben Okafor", accepted_on="2026-05-01", document=signed())
    assert "The buyer has to accept again" in at_desk(desk, "set_aside", sale)
    assert press(desk, "set_aside", sale, because="").status_code == 200
    assert Acceptance.objects.exists()
    press(desk, "set_aside", sale, because="It shows a cat.")
    assert not Acceptance.objects.exists()
    again = press(desk, "set_aside", sale, because="Once more.")
    assert "There is no acceptance to set aside." in again.content.decode()


def test_the_review_says_everything_that_will_happen_and_only_then_offers_the_button(
    sale: Transfer, cared_for: Warranty, theo: User, desk: Client, office: Actor, on: date, at: datetime
) -> None:
    before = certifying.issue_certificate(warranty_id=cared_for.pk, on=on, by=office, at=at)
    transfer_links.invite_agent(transfer_id=sale.pk, name="Ada Lorimer", email="ada@example.com", by=office, at=at)
    early = at_desk(desk, "review_transfer", sale)
    assert "Not yet: something above is missing." in early
    assert "Carry over and issue" not in early
    complete(sale, theo, office, at)
    page = " ".join(at_desk(desk, "review_transfer", sale).split())
    for said in (
        "Iris Holloway’s ownership ends and Ben Okafor’s begins on May 1, 2026.",
        f"{display_number(before.number)} is superseded",
        "seller Iris Holloway, e-mail to iris@example.com; buyer Ben Okafor, e-mail to ben@example.com; "
        "agent Ada Lorimer, e-mail to ada@example.com.",
        "May 1, 2046",
        "No longer covered: primary pump, float switch, standby pump, battery.",
        "$150.00, paid May 1, 2026",
        "Carry over and issue the certificate",
    ):
        assert said in page, said
    press(desk, "issue_transfer", sale)
    told = Notice.objects.filter(template__startswith="transfer_issued").order_by("pk")
    assert [notice.person.name for notice in told] == ["Iris Holloway", "Ben Okafor", "Ada Lorimer"]
    leads = desk.get(reverse("warranties:review_transfer", args=[sale.pk]))
    assert leads["Location"] == reverse("warranties:transfer", args=[sale.pk])


def test_before_the_closing_the_review_says_when(
    cared_for: Warranty, buyer: Person, theo: User, desk: Client, office: Actor, at: datetime
) -> None:
    sale = ask(cared_for, buyer, office, at, closing_on=date(2026, 5, 5))
    complete(sale, theo, office, at)
    page = at_desk(desk, "review_transfer", sale)
    assert "Not yet: the house changes hands on May 5, 2026." in page
    assert "Carry over and issue" not in page


def test_a_requirement_that_was_let_go_stands_on_the_review_with_its_reason(
    sale: Transfer, desk: Client, ruth: User, at: datetime
) -> None:
    transfers.waive_requirement(transfer_id=sale.pk, code="fee", because="Paid in kind.", by_user=ruth, at=at)
    assert "Let go: Paid in kind." in at_desk(desk, "review_transfer", sale)
    assert sale.closing_on == CLOSING
