"""Terms shown before a sale: the record, the exact document, the buyer's page by link, and what issuing says of it.

The rule behind it is 16 CFR 702.3 and 15 U.S.C. 2302(b): written terms are at hand before the sale.
"""

import hashlib
import re
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from contractor.accounts.models import User
from contractor.core.audit import Actor
from contractor.core.models import AuditEntry
from contractor.notices.models import Notice
from contractor.properties.models import Ownership
from contractor.systems.models import System
from contractor.warranties.actions import issuing, showing
from contractor.warranties.actions import terms as terms_actions
from contractor.warranties.errors import LinkNeedsEmail, NotPublished, ShownNobody, SignedAfterIssue
from contractor.warranties.models import TermsEdition, TermsShown, Warranty
from contractor.warranties.pre_sale import pre_sale_proofs
from tests.warranties.factories import published_terms, terms_data

pytestmark = pytest.mark.django_db

SignIn = Callable[[User], Client]
# Installed and sold on May 14, 2020.
BEFORE = datetime(2020, 5, 2, 15, 0, tzinfo=UTC)
AFTER = datetime(2020, 5, 20, 15, 0, tzinfo=UTC)


@pytest.fixture
def show(terms: TermsEdition, nora: User, system: System) -> Callable[..., TermsShown]:
    def shown(**changes: Any) -> TermsShown:
        values: dict[str, Any] = {
            "terms_id": terms.pk,
            "property_id": system.property_id,
            "name": "Iris Holloway",
            "email": "",
            "way": TermsShown.Way.SCREEN,
            "shown_by": nora,
            "at": BEFORE,
        }
        return showing.show_terms(**(values | changes))

    return shown


def test_the_record_keeps_when_to_whom_which_how_and_the_exact_bytes(
    show: Callable[..., TermsShown], terms: TermsEdition, nora: User
) -> None:
    shown = show()
    assert (shown.terms, shown.name, shown.way, shown.shown_at, shown.shown_by) == (
        terms,
        "Iris Holloway",
        "screen",
        BEFORE,
        nora,
    )
    body = shown.document.open("rb").read()
    assert body.startswith(b"%PDF")
    assert hashlib.sha256(body).hexdigest() == shown.document_sha256
    entry = AuditEntry.objects.get(verb="terms shown before a sale")
    assert entry.body["after"]["document_sha256"] == shown.document_sha256
    assert "Iris" not in str(entry.body)


def test_the_same_edition_gives_the_same_bytes_and_they_are_kept_once(show: Callable[..., TermsShown]) -> None:
    first, second = show(), show(name="Ben Okafor", at=AFTER)
    assert first.document_sha256 == second.document_sha256
    assert first.document.name == second.document.name
    assert first.token != second.token


def test_a_draft_is_shown_to_nobody(show: Callable[..., TermsShown], office: Actor, at: datetime) -> None:
    draft = terms_actions.draft_terms(data=terms_data(edition="next"), by=office, at=at)
    with pytest.raises(NotPublished):
        show(terms_id=draft.pk)


@pytest.mark.parametrize(
    ("changes", "refusal"),
    [({"name": " "}, ShownNobody), ({"way": "link", "email": " "}, LinkNeedsEmail)],
)
def test_a_record_without_a_name_and_a_link_without_an_address_are_refused(
    changes: dict[str, str], refusal: type[Exception], show: Callable[..., TermsShown]
) -> None:
    with pytest.raises(refusal):
        show(**changes)
    assert not TermsShown.objects.exists()


def test_a_link_goes_by_e_mail_and_opens_the_terms_without_an_account(
    show: Callable[..., TermsShown], django_capture_on_commit_callbacks: Any
) -> None:
    with django_capture_on_commit_callbacks(execute=True):
        shown = show(name="Prue Adler", email="Prue@example.com", way="link", property_id=None)
    notice = Notice.objects.get(template="terms_to_read")
    assert notice.address == "prue@example.com"
    found = re.search(r"/terms/[\w-]+/", notice.text)
    assert found is not None
    page = Client().get(found[0])
    text = page.content.decode()
    assert "The warranty, to read before you buy" in text
    assert "A flood of a river, a lake or the street" in text
    assert shown.document_sha256 in text
    assert page["X-Robots-Tag"] == "noindex, nofollow"
    assert "no-store" in page["Cache-Control"]
    body = b"".join(Client().get(reverse("portal:terms_document", args=[shown.token])))
    assert hashlib.sha256(body).hexdigest() == shown.document_sha256


def test_the_reader_says_once_that_it_can_be_read(show: Callable[..., TermsShown], terms: TermsEdition) -> None:
    shown = show(email="prue@example.com", way="link")
    path = reverse("portal:terms", args=[shown.token])
    Client().get(path)
    shown.refresh_from_db()
    assert shown.confirmed_at is None
    assert "You told us on" in Client().post(path, follow=True).content.decode()
    shown.refresh_from_db()
    first = shown.confirmed_at
    assert first is not None
    showing.confirm_reading(token=shown.token, at=first + timedelta(days=3))
    shown.refresh_from_db()
    assert shown.confirmed_at == first
    assert AuditEntry.objects.filter(verb="terms confirmed as readable").count() == 1


def test_a_link_that_nobody_was_sent_opens_nothing(company: object) -> None:
    for name in ("terms", "terms_document"):
        answer = Client().get(reverse(f"portal:{name}", args=["n" * 43]))
        assert answer.status_code == 410
        assert "This link opens nothing" in answer.content.decode()


# When it was shown, when the contract was signed, and the rules broken at issue.
PROOFS = [
    (None, None, ["MM27"]),
    (BEFORE, None, []),
    (AFTER, None, ["MM27"]),
    (BEFORE, date(2020, 5, 2), []),
    (BEFORE, date(2020, 5, 1), ["MM27"]),
]


@pytest.mark.parametrize(("shown_at", "signed_on", "broken"), PROOFS)
def test_issuing_goes_on_and_the_trail_says_whether_the_terms_were_shown_in_time(
    shown_at: datetime | None,
    signed_on: date | None,
    broken: list[str],
    show: Callable[..., TermsShown],
    system: System,
    ownership: Ownership,
    terms: TermsEdition,
    office: Actor,
    at: datetime,
) -> None:
    if shown_at is not None:
        show(at=shown_at)
    issued_on = date(2020, 5, 14)
    warranty = issuing.issue_warranty(
        system_id=system.pk, terms_id=terms.pk, issued_on=issued_on, signed_on=signed_on, by=office, at=at
    )
    assert warranty.signed_on == signed_on
    assert AuditEntry.objects.get(verb="warranty issued").body["after"]["broken_at_issue"] == broken


def test_another_edition_that_was_shown_proves_nothing(
    show: Callable[..., TermsShown], system: System, terms: TermsEdition
) -> None:
    other = published_terms(edition="other-1")
    show(terms_id=other.pk)
    proofs = pre_sale_proofs(property_id=system.property_id, signed_by_on=date(2020, 5, 14))
    assert {proof.edition.edition: [one.code for one in proof.broken] for proof in proofs} == {
        terms.edition: ["MM27"],
        "other-1": [],
    }


def test_a_contract_is_not_signed_after_its_warranty(
    system: System, ownership: Ownership, terms: TermsEdition, office: Actor, at: datetime
) -> None:
    with pytest.raises(SignedAfterIssue, match=r"May 14, 2020"):
        issuing.issue_warranty(
            system_id=system.pk,
            terms_id=terms.pk,
            issued_on=date(2020, 5, 14),
            signed_on=date(2020, 5, 15),
            by=office,
            at=at,
        )
    assert not Warranty.objects.exists()


def test_the_issue_page_says_whether_each_edition_was_shown_and_cautions(
    show: Callable[..., TermsShown], system: System, ownership: Ownership, nora: User, signed_in_as: SignIn
) -> None:
    path = reverse("warranties:issue", args=[system.pk])
    client = signed_in_as(nora)
    unshown = client.get(path).content.decode()
    assert "no record that it was shown here" in unshown
    assert "16 CFR 702.3" in unshown
    show()
    shown = client.get(path).content.decode()
    assert "to Iris Holloway on May 2, 2020, on our screen, together" in shown
    assert "no record that it was shown here" not in shown


@pytest.mark.parametrize(
    ("shown_at", "words"),
    [
        (None, "no record"),
        (BEFORE, "shown in time"),
        (AFTER, "shown too late"),
    ],
)
def test_the_warrantys_page_shows_the_record(
    shown_at: datetime | None,
    words: str,
    show: Callable[..., TermsShown],
    warranty: Warranty,
    nora: User,
    signed_in_as: SignIn,
) -> None:
    records = [show(at=shown_at)] if shown_at is not None else []
    page = signed_in_as(nora).get(reverse("warranties:warranty", args=[warranty.pk])).content.decode()
    assert words in page
    for other in {"no record", "shown in time", "shown too late"} - {words}:
        assert other not in page
    for record in records:
        assert reverse("warranties:shown_terms", args=[record.pk]) in page
        assert "The contract counts as signed on May 14, 2020" in page


def test_the_desk_shows_terms_for_a_house_and_reads_the_record(
    terms: TermsEdition, system: System, ownership: Ownership, nora: User, signed_in_as: SignIn
) -> None:
    client = signed_in_as(nora)
    path = reverse("warranties:show_terms_at", args=[system.property_id])
    assert 'value="Iris Holloway"' in client.get(path).content.decode()
    sent = {"terms": terms.pk, "name": "Iris Holloway", "email": "", "way": "link"}
    refused = client.post(path, sent).content.decode()
    assert "A link goes by e-mail" in refused
    assert 'value="Iris Holloway"' in refused
    page = client.post(path, sent | {"way": "printed"}, follow=True).content.decode()
    shown = TermsShown.objects.get()
    for said in ("Terms shown to Iris Holloway", "Printed and handed over", shown.document_sha256):
        assert said in page
    listed = client.get(reverse("warranties:shown_list")).content.decode()
    assert reverse("warranties:shown_terms", args=[shown.pk]) in listed
    document = client.get(reverse("warranties:shown_document", args=[shown.pk]))
    assert document["Content-Type"] == "application/pdf"


LIST_QUERIES = 5  # session, user, company, count, rows


def test_the_list_of_what_was_shown_asks_the_same_however_long_it_is(
    show: Callable[..., TermsShown], nora: User, signed_in_as: SignIn, django_assert_num_queries: Any
) -> None:
    client, path = signed_in_as(nora), reverse("warranties:shown_list")
    show()
    client.get(path)
    with django_assert_num_queries(LIST_QUERIES):
        client.get(path)
    for number in range(4):
        show(name=f"Reader {number}")
    with django_assert_num_queries(LIST_QUERIES):
        client.get(path)
