"""A buyer's acceptance: on the screen as 15 U.S.C. 7001 asks, with the exact bytes that were shown, or on paper."""

import hashlib
import io
import threading
from datetime import date, datetime, timedelta
from typing import Any

import pytest
from django.db import connection, connections
from PIL import Image
from pypdf import PdfReader

from contractor.accounts.models import User
from contractor.checkups.errors import UnreadableDocument
from contractor.core import audit
from contractor.core.audit import Actor
from contractor.core.models import AuditEntry
from contractor.notices.models import Notice
from contractor.properties.models import Person
from contractor.warranties.acceptance_paper import acceptance_pdf, consent_lines
from contractor.warranties.actions import acceptance, transfer_links, transfers
from contractor.warranties.errors import (
    AlreadyAccepted,
    ConsentNeeded,
    DayAhead,
    DocumentChanged,
    DocumentNotOpened,
    NameNeeded,
    NotAccepted,
    ReasonNeeded,
    TransferSettled,
)
from contractor.warranties.models import Acceptance, Transfer, TransferLink, Warranty
from contractor.warranties.queries import transfer_lacks
from tests.warranties.factories import checkup_done
from tests.warranties.test_transfer import ask

pytestmark = pytest.mark.django_db
SCAN = b"%PDF-1.7\n% the page with the signature\n"


@pytest.fixture
def transfer(cared_for: Warranty, buyer: Person, office: Actor, at: datetime) -> Transfer:
    return ask(cared_for, buyer, office, at)


@pytest.fixture
def link(transfer: Transfer, office: Actor, at: datetime) -> TransferLink:
    transfer_links.make_transfer_link(
        transfer_id=transfer.pk, role="buyer", name="Ben Okafor", email="ben@example.com", by=office, at=at
    )
    return transfer.links.latest("pk")


def shown(transfer: Transfer) -> str:
    return hashlib.sha256(acceptance_pdf(transfer)).hexdigest()


def on_screen(transfer: Transfer, link: TransferLink, at: datetime, **changes: Any) -> Acceptance:
    words: dict[str, Any] = {
        "name": " Ben Okafor ",
        "has_consented": True,
        "has_intent": True,
        "shown_sha256": "",
        "link": link,
        "by": Actor("buyer:1", "Ben Okafor"),
        "at": at,
    } | changes
    return acceptance.accept_electronically(transfer_id=transfer.pk, **words)


def on_paper(transfer: Transfer, at: datetime, **changes: Any) -> Acceptance:
    words: dict[str, Any] = {
        "name": "Ben Okafor",
        "accepted_on": date(2026, 5, 2),
        "document": SCAN,
        "by": Actor("buyer:1", "Ben Okafor"),
        "at": at,
    } | changes
    return acceptance.accept_on_paper(transfer_id=transfer.pk, **words)


def text_of(document: bytes) -> str:
    return " ".join(" ".join(page.extract_text() for page in PdfReader(io.BytesIO(document)).pages).split())


def test_what_was_shown_is_kept_byte_for_byte_with_who_when_and_how(
    transfer: Transfer, link: TransferLink, at: datetime
) -> None:
    document = acceptance_pdf(transfer)
    kept = on_screen(transfer, link, at, shown_sha256=hashlib.sha256(document).hexdigest())
    with kept.shown.open("rb") as file:
        assert file.read() == document
    # RFC 6234 / FIPS 180-4: the hash is that of the standard library over the file.
    assert kept.shown_sha256 == hashlib.sha256(document).hexdigest()
    assert (kept.way, kept.name, kept.accepted_at, kept.consented_at) == ("electronic", "Ben Okafor", at, at)
    assert kept.link == link
    transfer.refresh_from_db()
    assert (transfer.accepted_on, transfer.accepted_name) == (date(2026, 5, 4), "Ben Okafor")
    assert [need.code for need in transfer_lacks(transfer)] == ["checkup", "fee"]
    assert audit.breaks(f"property:{transfer.seller.property_id}") == []


def test_the_consent_that_is_kept_says_all_that_the_law_asks_for(
    transfer: Transfer, link: TransferLink, at: datetime, company: Any
) -> None:
    """15 U.S.C. 7001(c)(1)(B) and (C): paper and its cost, withdrawal and what follows, scope, contact, hardware."""
    kept = on_screen(transfer, link, at, shown_sha256=shown(transfer))
    assert kept.consent == "\n".join(consent_lines(company))
    for said in ("on paper", "no charge", "take it back", "covers this document", "e-mail address changes", "PDF"):
        assert said in kept.consent, said
    assert company.phone in kept.consent


@pytest.mark.parametrize(
    ("changes", "refusal"),
    [
        ({"has_consented": False}, ConsentNeeded),
        ({"has_intent": False}, ConsentNeeded),
        ({"name": "  "}, NameNeeded),
        ({"shown_sha256": ""}, DocumentNotOpened),
        ({"shown_sha256": "0" * 64}, DocumentChanged),
    ],
    ids=["no consent", "no intent", "no name", "not opened", "another document"],
)
def test_without_consent_intent_name_or_the_document_nothing_is_accepted(
    changes: dict[str, Any], refusal: type[Exception], transfer: Transfer, link: TransferLink, at: datetime
) -> None:
    words = {"shown_sha256": shown(transfer)} | changes
    with pytest.raises(refusal):
        on_screen(transfer, link, at, **words)
    transfer.refresh_from_db()
    assert transfer.accepted_on is None
    assert not Acceptance.objects.exists()


def test_what_changed_since_it_was_read_has_to_be_read_again(
    transfer: Transfer, link: TransferLink, theo: User, at: datetime
) -> None:
    before = shown(transfer)
    checkup_done(transfer.warranty.system, date(2026, 5, 3), theo, finding="bad")
    with pytest.raises(DocumentChanged):
        on_screen(transfer, link, at, shown_sha256=before)
    assert on_screen(transfer, link, at, shown_sha256=shown(transfer)).pk


def test_the_document_is_the_same_bytes_each_time_and_says_nothing_of_the_seller_or_a_technicians_words(
    transfer: Transfer, theo: User
) -> None:
    checkup_done(transfer.warranty.system, date(2026, 5, 3), theo, finding="watch")
    document = acceptance_pdf(transfer)
    assert document == acceptance_pdf(transfer)
    text = text_of(document)
    for hidden in ("Iris", "Holloway", "iris@example.com", "The check valve leaks", "Theo"):
        assert hidden not in text, hidden
    for said in (
        "Ben Okafor",
        "12 Millrace Lane",
        # 240 months from the closing day, as the issued terms give a later owner.
        "through and including May 1, 2046",
        "This warranty gives you specific legal rights, and you may also have other rights which vary from State",
        "The system as a whole: watch",
        "$150.00",
        "not insurance and not an inspection",
        "I have read the document.",
    ):
        assert said in text, said


def test_a_signed_paper_is_kept_as_it_came_with_who_kept_it(transfer: Transfer, nora: User, at: datetime) -> None:
    kept = on_paper(transfer, at, recorded_by=nora)
    with kept.shown.open("rb") as file:
        assert file.read() == SCAN
    assert (kept.way, kept.recorded_by, kept.consented_at, kept.consent) == ("paper", nora, None, "")
    transfer.refresh_from_db()
    assert transfer.accepted_on == date(2026, 5, 2)


def test_a_photo_of_the_paper_will_do(transfer: Transfer, at: datetime) -> None:
    photo = io.BytesIO()
    Image.new("RGB", (64, 48), "white").save(photo, "JPEG")
    assert on_paper(transfer, at, document=photo.getvalue()).shown.name.endswith(".jpeg")


@pytest.mark.parametrize(
    ("changes", "refusal"),
    [
        ({"name": " "}, NameNeeded),
        ({"accepted_on": date(2026, 5, 5)}, DayAhead),
        ({"document": b"<script>alert(1)</script>"}, UnreadableDocument),
        ({"document": b""}, UnreadableDocument),
        ({"document": SCAN + b"0" * 10 * 1024 * 1024}, UnreadableDocument),
    ],
    ids=["no name", "a day ahead", "no document", "empty", "too large"],
)
def test_what_is_no_signed_paper_is_refused_and_nothing_is_kept(
    changes: dict[str, Any], refusal: type[Exception], transfer: Transfer, at: datetime
) -> None:
    with pytest.raises(refusal):
        on_paper(transfer, at, **changes)
    transfer.refresh_from_db()
    assert transfer.accepted_on is None
    assert not Acceptance.objects.exists()


def test_it_is_accepted_once(transfer: Transfer, link: TransferLink, at: datetime) -> None:
    on_paper(transfer, at)
    with pytest.raises(AlreadyAccepted):
        on_paper(transfer, at)
    with pytest.raises(AlreadyAccepted):
        on_screen(transfer, link, at, shown_sha256=shown(transfer))
    assert Acceptance.objects.count() == 1


def test_buyer_and_seller_hear_of_it_and_the_buyer_gets_the_way_to_the_copy(transfer: Transfer, at: datetime) -> None:
    on_paper(transfer, at)
    told = Notice.objects.filter(template__startswith="transfer_accepted").order_by("template")
    assert [notice.person.name for notice in told] == ["Ben Okafor", "Iris Holloway"]
    assert "Your copy" in told[0].text
    assert "{personal-link-to-your-part-of-the-sale:" in told[0].text
    assert "Ben" not in told[1].text


def test_it_can_be_taken_back_until_the_certificate_is_issued_and_the_trail_keeps_its_hash(
    transfer: Transfer, link: TransferLink, office: Actor, at: datetime
) -> None:
    kept = on_screen(transfer, link, at, shown_sha256=shown(transfer))
    name = kept.shown.name
    set_aside = acceptance.set_aside_acceptance
    with pytest.raises(ReasonNeeded):
        set_aside(transfer_id=transfer.pk, because=" ", by=office, at=at)
    set_aside(transfer_id=transfer.pk, because="The buyer took it back.", by=office, at=at)
    transfer.refresh_from_db()
    assert (transfer.accepted_on, transfer.accepted_name) == (None, "")
    assert not Acceptance.objects.exists()
    entry = AuditEntry.objects.get(verb="acceptance set aside")
    assert entry.body["before"]["shown_sha256"] == kept.shown_sha256
    assert kept.shown.storage.exists(str(name))
    with pytest.raises(NotAccepted):
        set_aside(transfer_id=transfer.pk, because="Again.", by=office, at=at)
    # Accepted anew a minute later: another occasion, so another message with the copy.
    on_paper(transfer, at + timedelta(minutes=1))
    assert Notice.objects.filter(template="transfer_accepted_buyer").count() == 2


def test_a_settled_transfer_is_neither_accepted_nor_set_aside(
    transfer: Transfer, link: TransferLink, office: Actor, at: datetime
) -> None:
    document = shown(transfer)
    transfers.withdraw_transfer(transfer_id=transfer.pk, because="Called off.", by=office, at=at)
    for verb in (
        lambda: on_screen(transfer, link, at, shown_sha256=document),
        lambda: on_paper(transfer, at),
        lambda: acceptance.set_aside_acceptance(transfer_id=transfer.pk, because="x", by=office, at=at),
    ):
        with pytest.raises(TransferSettled):
            verb()


@pytest.mark.skipif(connection.vendor != "postgresql", reason="SQLite lets one writer in at a time by itself")
@pytest.mark.django_db(transaction=True)
def test_two_who_accept_at_once_leave_one_acceptance(transfer: Transfer, at: datetime) -> None:
    start_together = threading.Barrier(2)
    answers: list[str] = []

    def press() -> None:
        start_together.wait()
        try:
            answers.append(on_paper(transfer, at).way)
        except AlreadyAccepted:
            answers.append("already")
        finally:
            connections.close_all()

    people = [threading.Thread(target=press) for _ in range(2)]
    for person in people:
        person.start()
    for person in people:
        person.join()
    assert sorted(answers) == ["already", "paper"]
    assert Acceptance.objects.count() == 1
