"""The desk's pages: who may open them, what they say, how a refusal looks, and that lists take few queries."""

from collections.abc import Callable
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from contractor.accounts.models import User
from contractor.core import clock
from contractor.core.audit import Actor
from contractor.properties.models import Person
from contractor.systems.models import System
from contractor.warranties.actions import claims, transfers
from contractor.warranties.actions import terms as terms_actions
from contractor.warranties.models import Certificate, Claim, TermsEdition, Transfer, Warranty
from tests.factories import OwnershipFactory, SystemFactory
from tests.warranties.factories import checkup_done, terms_data

pytestmark = pytest.mark.django_db
SignIn = Callable[[User], Client]


@pytest.fixture
def transfer(cared_for: Warranty, buyer: Person, office: Actor, at: datetime) -> Transfer:
    return transfers.ask_transfer(
        warranty_id=cared_for.pk,
        buyer_id=buyer.pk,
        closing_on=date(2026, 5, 1),
        notified_on=date(2026, 4, 20),
        by=office,
        at=at,
    )


@pytest.fixture
def claim(cared_for: Warranty, office: Actor, at: datetime) -> Claim:
    return claims.report_claim(
        warranty_id=cared_for.pk,
        part_kind="pit",
        lost_on=date(2026, 4, 20),
        reported_on=date(2026, 4, 21),
        what="There was water on the floor.",
        cause="part_failed",
        by=office,
        at=at,
    )


def paths(warranty: Warranty, claim: Claim, transfer: Transfer) -> dict[str, tuple[str, str]]:
    """Every page with who may open it: the desk, or managers alone."""
    ids = {"warranty_id": warranty.pk}
    return {
        "warranty": (reverse("warranties:warranty", kwargs=ids), "desk"),
        "document": (reverse("warranties:document", kwargs=ids), "desk"),
        "issue": (reverse("warranties:issue", args=[warranty.system_id]), "desk"),
        "report_claim": (reverse("warranties:report_claim", kwargs=ids), "desk"),
        "claims": (reverse("warranties:claims"), "desk"),
        "claim": (reverse("warranties:claim", args=[claim.pk]), "desk"),
        "transfers": (reverse("warranties:transfers"), "desk"),
        "transfer": (reverse("warranties:transfer", args=[transfer.pk]), "desk"),
        "ask_transfer": (reverse("warranties:ask_transfer", kwargs=ids), "desk"),
        "withdraw_transfer": (reverse("warranties:withdraw_transfer", args=[transfer.pk]), "desk"),
        "revoke_transfer": (reverse("warranties:revoke_transfer", args=[transfer.pk]), "manager"),
        "void": (reverse("warranties:void", kwargs=ids), "manager"),
        "waive": (reverse("warranties:waive", kwargs=ids), "manager"),
        "terms": (reverse("warranties:terms"), "manager"),
        "draft_terms": (reverse("warranties:draft_terms"), "manager"),
        "terms_edition": (reverse("warranties:terms_edition", args=[warranty.terms_id]), "manager"),
    }


def test_every_page_opens_for_its_roles_and_for_nobody_else(
    cared_for: Warranty,
    claim: Claim,
    transfer: Transfer,
    nora: User,
    ruth: User,
    theo: User,
    signed_in_as: SignIn,
) -> None:
    clients = {"office": signed_in_as(nora), "manager": signed_in_as(ruth), "technician": signed_in_as(theo)}
    for name, (path, who) in paths(cared_for, claim, transfer).items():
        expected = {"office": 200 if who == "desk" else 403, "manager": 200, "technician": 403}
        answers = {role: client.get(path).status_code for role, client in clients.items()}
        assert answers == expected, name
        assert Client().get(path).status_code == 302, name


def test_what_does_not_exist_is_not_found(ruth: User, signed_in_as: SignIn) -> None:
    client = signed_in_as(ruth)
    for name in ("warranty", "document", "void", "waive", "report_claim", "ask_transfer"):
        assert client.get(reverse(f"warranties:{name}", args=[999])).status_code == 404, name
    for name in ("issue", "claim", "transfer", "terms_edition", "certificate", "withdraw_transfer"):
        assert client.get(reverse(f"warranties:{name}", args=[999])).status_code == 404, name
    for name in ("transfer_fee", "transfer_accepted", "transfer_let_go", "issue_transfer", "withdraw_claim"):
        assert client.post(reverse(f"warranties:{name}", args=[999])).status_code == 404, name
    assert client.post(reverse("warranties:issue_certificate", args=[999])).status_code == 404


def test_a_warranty_is_issued_from_its_page(
    system: System, terms: TermsEdition, nora: User, signed_in_as: SignIn
) -> None:
    path = reverse("warranties:issue", args=[system.pk])
    client = signed_in_as(nora)
    answer = client.post(path, {"terms": terms.pk, "issued_on": "2019-01-01"})
    assert answer.status_code == 200
    assert "a warranty can&#x27;t be issued before that" in answer.content.decode()
    answer = client.post(path, {"terms": terms.pk, "issued_on": "2020-05-14"}, follow=True)
    assert "is issued." in answer.content.decode()
    assert Warranty.objects.get(system=system).issued_by == nora


def test_the_warranty_page_says_how_it_stands_and_what_would_put_it_right(
    cared_for: Warranty, nora: User, signed_in_as: SignIn, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(clock, "today", lambda: date(2026, 5, 20))
    page = signed_in_as(nora).get(reverse("warranties:warranty", args=[cared_for.pk])).content.decode()
    for said in (
        "in grace",
        "The check-up was due on May 14, 2026",
        "Have the check-up done by June 13, 2026, the last day of the grace.",
        "through and including May 14, 2045",
        "It has stayed with its first owner.",
    ):
        assert said in page, said
    assert "Declare it void" not in page


def test_a_claim_is_reported_worked_out_and_decided(
    cared_for: Warranty, nora: User, signed_in_as: SignIn, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(clock, "today", lambda: date(2026, 5, 4))
    client = signed_in_as(nora)
    client.post(
        reverse("warranties:report_claim", args=[cared_for.pk]),
        {
            "part_kind": "pit",
            "lost_on": "2026-04-20",
            "reported_on": "2026-04-21",
            "cause": "part_failed",
            "what": "There was water on the floor.",
        },
    )
    claim = Claim.objects.get()
    path = reverse("warranties:claim", args=[claim.pk])
    page = client.get(path).content.decode()
    assert "There was water on the floor." in page
    assert "May 10, 2025" in page
    worked_out = client.post(path, {"cost": "900.00", "cause": "part_failed", "step": "work"}).content.decode()
    assert "Decide so, and send the letter" in worked_out
    assert "71 full months had passed since May 14, 2020" in worked_out
    claim.refresh_from_db()
    assert claim.state == "reported"
    client.post(path, {"cost": "900.00", "cause": "part_failed", "step": "decide"})
    claim.refresh_from_db()
    assert (claim.outcome, claim.contractor_pays) == ("covered", Decimal("900.00"))
    assert "$900.00" in client.get(path).content.decode()


def test_a_gap_asks_its_question_on_the_page(
    warranty: Warranty, nora: User, office: Actor, at: datetime, signed_in_as: SignIn
) -> None:
    claim = claims.report_claim(
        warranty_id=warranty.pk,
        part_kind="pit",
        lost_on=date(2026, 4, 20),
        reported_on=date(2026, 4, 21),
        what="Water.",
        cause="part_failed",
        by=office,
        at=at,
    )
    path = reverse("warranties:claim", args=[claim.pk])
    client = signed_in_as(nora)
    typed = {"cost": "900.00", "cause": "part_failed"}
    page = client.post(path, {**typed, "step": "decide"}).content.decode()
    assert "Did the missing care cause the failure" in page
    unproven = client.post(path, {**typed, "caused": "yes", "because": "Silt", "step": "decide"}).content.decode()
    assert "Without evidence the loss is covered" in unproven
    claim.refresh_from_db()
    assert claim.state == "reported"
    client.post(path, {**typed, "caused": "no", "because": "Frost", "step": "decide"})
    claim.refresh_from_db()
    assert (claim.state, claim.outcome) == ("decided", "covered")


def test_a_transfer_goes_from_question_to_certificate_on_its_pages(
    cared_for: Warranty, nora: User, theo: User, signed_in_as: SignIn, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(clock, "today", lambda: date(2026, 5, 4))
    monkeypatch.setattr(clock, "now", lambda: datetime.fromisoformat("2026-05-04T14:00:00+00:00"))
    client = signed_in_as(nora)
    client.post(
        reverse("warranties:ask_transfer", args=[cared_for.pk]),
        {"name": "Ben Okafor", "email": "ben@example.com", "closing_on": "2026-05-01", "notified_on": "2026-04-20"},
    )
    transfer = Transfer.objects.get()
    path = reverse("warranties:transfer", args=[transfer.pk])
    page = client.get(path).content.decode()
    assert "Have a check-up done by July 30, 2026" in page
    assert "A transfer check is on the list of visits." in page
    assert "Let this requirement go" not in page
    refused = client.post(reverse("warranties:issue_transfer", args=[transfer.pk]))
    assert refused.status_code == 409
    assert "The certificate can&#x27;t be issued yet." in refused.content.decode()
    ahead = client.post(reverse("warranties:transfer_fee", args=[transfer.pk]), {"paid_on": "2026-05-05"})
    assert "This day has not come yet." in ahead.content.decode()
    client.post(reverse("warranties:transfer_fee", args=[transfer.pk]), {"paid_on": "2026-05-01"})
    signed = SimpleUploadedFile("signed.pdf", b"%PDF-1.7\n%signed\n", content_type="application/pdf")
    client.post(
        reverse("warranties:transfer_accepted", args=[transfer.pk]),
        {"name": "Ben Okafor", "accepted_on": "2026-05-01", "document": signed},
    )
    checkup_done(cared_for.system, date(2026, 4, 25), theo, kind="transfer")
    assert "Review before issuing" in client.get(path).content.decode()
    review = client.get(reverse("warranties:review_transfer", args=[transfer.pk])).content.decode()
    assert "Carry over and issue the certificate" in review
    client.post(reverse("warranties:issue_transfer", args=[transfer.pk]))
    certificate = Certificate.objects.get()
    answer = client.get(reverse("warranties:certificate", args=[certificate.pk]))
    assert answer["Content-Type"] == "application/pdf"
    assert answer.getvalue().startswith(b"%PDF-1.7")
    assert "Ben Okafor" in client.get(reverse("warranties:warranty", args=[cared_for.pk])).content.decode()


def test_a_buyer_who_may_be_known_is_asked_about_before_anything_is_written(
    cared_for: Warranty, buyer: Person, nora: User, signed_in_as: SignIn
) -> None:
    path = reverse("warranties:ask_transfer", args=[cared_for.pk])
    typed = {"name": "Ben Okafor", "email": "ben@example.com", "closing_on": "2026-05-01", "notified_on": "2026-04-20"}
    client = signed_in_as(nora)
    page = client.post(path, typed).content.decode()
    assert "Is it one of these?" in page
    assert not Transfer.objects.exists()
    client.post(path, {**typed, "known_person": str(buyer.pk)})
    assert Transfer.objects.get().buyer == buyer


def test_only_a_manager_lets_a_requirement_go_and_says_why(
    transfer: Transfer, nora: User, ruth: User, signed_in_as: SignIn
) -> None:
    path = reverse("warranties:transfer_let_go", args=[transfer.pk])
    assert signed_in_as(nora).post(path, {"code": "fee", "because": "Friends."}).status_code == 403
    manager = signed_in_as(ruth)
    page = manager.get(reverse("warranties:transfer", args=[transfer.pk])).content.decode()
    assert page.count("Let this requirement go") == 2  # the check-up and the fee; acceptance can't be let go
    assert manager.post(path, {"code": "fee", "because": ""}).status_code == 422
    assert manager.post(path, {"code": "accepted", "because": "Friends."}).status_code == 409
    manager.post(path, {"code": "fee", "because": "We were late ourselves."})
    transfer.refresh_from_db()
    assert list(transfer.waived) == ["fee"]


def test_a_certificate_is_issued_from_the_warranty_page(cared_for: Warranty, nora: User, signed_in_as: SignIn) -> None:
    answer = signed_in_as(nora).post(reverse("warranties:issue_certificate", args=[cared_for.pk]), follow=True)
    assert "is issued." in answer.content.decode()
    assert Certificate.objects.get().issued_by == nora


def test_managers_void_and_waive_from_their_pages(cared_for: Warranty, ruth: User, signed_in_as: SignIn) -> None:
    client = signed_in_as(ruth)
    waive = reverse("warranties:waive", args=[cared_for.pk])
    backwards = {"from_on": "2026-06-02", "last_on": "2026-06-01", "because": "Road."}
    assert "must not lie before the first" in client.post(waive, backwards).content.decode()
    client.post(waive, {"from_on": "2026-06-01", "last_on": "2026-06-30", "because": "The road was washed out."})
    waiver = cared_for.waivers.get()
    assert waiver.until_on == date(2026, 7, 1)
    void = reverse("warranties:void", args=[cared_for.pk])
    client.post(void, {"voided_on": "2026-05-01", "clause": "Misuse", "because": "Torn out."})
    page = client.get(reverse("warranties:warranty", args=[cared_for.pk])).content.decode()
    assert "Void from May 1, 2026" in page
    assert "Misuse" in page


def more_claims_and_transfers(warranty: Warranty, buyer: Person, office: Actor, at: datetime, count: int) -> None:
    for number in range(count):
        system = SystemFactory(property=OwnershipFactory().property)
        other = Warranty.objects.create(
            number=f"W{system.pk}",
            system=system,
            terms=warranty.terms,
            issued_on=system.installed_on,
            issued_to=system.property.ownerships.get(),
            issued_at=at,
        )
        Claim.objects.create(
            warranty=other,
            part_kind="pit",
            lost_on=date(2026, 4, 1) + timedelta(days=number),
            reported_on=date(2026, 4, 20),
            what="Water.",
            cause="not_known",
        )
        Transfer.objects.create(
            warranty=other,
            seller=other.issued_to,
            buyer=buyer,
            asked_at=at,
            notified_on=date(2026, 4, 1),
            closing_on=date(2026, 5, 1),
        )


@pytest.mark.parametrize("name", ["claims", "transfers", "terms"])
def test_lists_take_as_many_queries_for_one_row_as_for_twenty(
    name: str,
    cared_for: Warranty,
    claim: Claim,
    transfer: Transfer,
    ruth: User,
    buyer: Person,
    office: Actor,
    at: datetime,
    signed_in_as: SignIn,
    django_assert_num_queries: Any,
) -> None:
    client = signed_in_as(ruth)
    path = reverse(f"warranties:{name}")
    client.get(path)
    with django_assert_num_queries(LIST_QUERIES[name]):
        client.get(path)
    more_claims_and_transfers(cared_for, buyer, office, at, 20)
    for number in range(5):
        terms_actions.draft_terms(data=terms_data(edition=f"draft-{number}"), by=office, at=at)
    with django_assert_num_queries(LIST_QUERIES[name]):
        client.get(path)


# Session, user, company; then the page itself (count and rows, or rows alone; before transfers what was asked).
LIST_QUERIES = {"claims": 5, "transfers": 6, "terms": 4}
