"""The letter of a decision: what it says, that it is frozen, accessible, and the same bytes every time."""

import hashlib
import io
from datetime import date, datetime
from decimal import Decimal
from pathlib import Path

import pytest
from pypdf import PdfReader

from contractor.accounts.models import Company, User
from contractor.checkups.models import OutsideRecord
from contractor.core.audit import Actor
from contractor.core.models import AuditEntry
from contractor.notices import printing
from contractor.notices.models import Notice
from contractor.properties.models import Person
from contractor.warranties.actions.claim_appeals import appeal_claim, decide_appeal
from contractor.warranties.actions.claim_letters import letter_file
from contractor.warranties.actions.claims import decide_claim, report_claim
from contractor.warranties.claim_errors import LetterLost, RecordWaits
from contractor.warranties.claim_letters import letter_pdf
from contractor.warranties.claim_tables import ClaimAppeal, ClaimLetter
from contractor.warranties.errors import QuestionOpen
from contractor.warranties.frozen_facts import freeze
from contractor.warranties.models import Claim, Warranty
from contractor.warranties.rules.claims import Judgement
from contractor.warranties.rules.disclosures import RIGHTS_SENTENCE
from tests.warranties.claim_hands import drawn_photo
from tests.warranties.factories import outside_record
from tests.warranties.verapdf import judge

pytestmark = pytest.mark.django_db


def report(warranty: Warranty, office: Actor, at: datetime, *, part_kind: str = "pit", lost_on: date) -> Claim:
    return report_claim(
        warranty_id=warranty.pk, part_kind=part_kind, lost_on=lost_on, reported_on=date(2026, 5, 1),
        what="It failed.", cause="not_known", by=office, at=at, photos=[drawn_photo("navy")],
    )  # fmt: skip


def told(letter: ClaimLetter) -> str:
    with letter_file(letter_id=letter.pk).open("rb") as file:
        return " ".join(" ".join(page.extract_text() for page in PdfReader(io.BytesIO(file.read())).pages).split())


@pytest.fixture
def letter(cared_for: Warranty, nora: User, office: Actor, at: datetime) -> ClaimLetter:
    """Of the primary pump after 48 of 60 months: half of $500 and a fee of $75 (see test_claim)."""
    claim = report(cared_for, office, at, part_kind="primary_pump", lost_on=date(2024, 5, 14))
    decide_claim(claim_id=claim.pk, cost=Decimal("500.00"), by_user=nora, at=at, cause="part_failed")
    return ClaimLetter.objects.get()


def test_the_letter_says_who_pays_what_by_which_clause_on_which_record_and_how_to_appeal(letter: ClaimLetter) -> None:
    text = told(letter)
    for said in (
        "Iris Holloway 12 Millrace Lane",
        "May 4, 2026",
        "Your claim is covered.",
        "The repair, parts and labor: $500.00. Our share: 50 % $250.00 $250.00",
        "Call-out fee of the terms $0.00 $75.00",
        "In all $250.00 $325.00",
        "48 full months had passed since May 14, 2020.",
        "edition limited-2026-1",
        "The promise for the primary pump",
        "We bear all of a repair for the first 36 months",
        "Check-up of May 10, 2023, by us, nothing left open.",
        "1 photo that you sent.",
        # 60 days from May 4 is Friday, July 3, on which Independence Day is observed; then a weekend.
        "through and including July 6, 2026",
        "Somebody who had no part in this decision",
        RIGHTS_SENTENCE,
        "Nora Vance",
    ):
        assert said in text, said
    assert letter.appeal_by == date(2026, 7, 6)


def test_the_letter_never_calls_the_decision_final(letter: ClaimLetter) -> None:
    # 16 CFR 700.8: a warranty may not say that the company's decision is final (from memory).
    assert "final" not in told(letter).lower()


def test_what_was_issued_stays_whatever_changes_later(letter: ClaimLetter, iris: Person, company: Company) -> None:
    before = letter_pdf(letter.facts, letter.facts_sha256)
    Person.objects.filter(pk=iris.pk).update(name="Iris Renamed")
    Company.objects.update(phone="(555) 555-0199", name="Another name")
    Claim.objects.update(what="Rewritten", cost=Decimal(1))
    with letter_file(letter_id=letter.pk).open("rb") as file:
        body = file.read()
    assert body == before
    letter.refresh_from_db()
    assert freeze(letter.facts).sha256 == letter.facts_sha256
    assert hashlib.sha256(body).hexdigest() == letter.file_sha256


def test_the_file_is_made_once_and_a_lost_one_only_as_the_same_bytes(letter: ClaimLetter) -> None:
    first = letter_file(letter_id=letter.pk)
    first.storage.delete(first.name or "")
    again = letter_file(letter_id=letter.pk)
    letter.refresh_from_db()
    with again.open("rb") as file:
        assert hashlib.sha256(file.read()).hexdigest() == letter.file_sha256
    again.storage.delete(again.name or "")
    ClaimLetter.objects.update(file_sha256="0" * 64)
    with pytest.raises(LetterLost):
        letter_file(letter_id=letter.pk)


def test_the_trail_names_the_letter_by_its_hash_and_nobody_by_name(letter: ClaimLetter) -> None:
    entry = AuditEntry.objects.get(verb="claim letter issued")
    assert entry.body["after"]["facts_sha256"] == letter.facts_sha256
    assert "Iris" not in str(entry.body)


def test_the_letters_are_accessible_by_the_published_rules(
    letter: ClaimLetter, ruth: User, office: Actor, at: datetime, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """ISO 14289-1 (PDF/UA-1), judged by the veraPDF rules; the same page untagged is the negative control."""
    on = date(2026, 5, 4)
    appeal_claim(claim_id=letter.claim_id, way=ClaimAppeal.Way.CALL, words="Half?", received_on=on, by=office, at=at)
    decide_appeal(claim_id=letter.claim_id, cost=Decimal(500), because="Yes, half.", by_user=ruth, at=at)
    first, second, untagged = (tmp_path / name for name in ("first.pdf", "second.pdf", "untagged.pdf"))
    for path, one in zip((first, second), ClaimLetter.objects.order_by("pk"), strict=True):
        with letter_file(letter_id=one.pk).open("rb") as file:
            path.write_bytes(file.read())
    monkeypatch.setattr(printing, "TAGGED", None)
    untagged.write_bytes(letter_pdf(letter.facts, letter.facts_sha256))
    answers = judge(("PDFUA-1", first), ("PDFUA-1", second), ("PDFUA-1", untagged))
    assert [complies for complies, _ in answers] == [True, True, False], answers


def test_the_owner_hears_of_the_letter_and_of_the_last_day(letter: ClaimLetter) -> None:
    text = Notice.objects.get(template="claim_decided").text
    for said in ("we pay $250.00", "appeal through and including July 6, 2026", "on the page of your house"):
        assert said in text, said


def test_a_letter_about_missing_care_names_who_judged_and_what_shows_it(
    warranty: Warranty, nora: User, office: Actor, at: datetime
) -> None:
    claim = report(warranty, office, at, lost_on=date(2026, 4, 20))
    judgement = Judgement(
        caused_by_missing_care=True, evidence="Photo of the silted pit", by=nora.name, on=date(2026, 5, 4),
        because="The pit was full of silt.",
    )  # fmt: skip
    decide_claim(
        claim_id=claim.pk, cost=Decimal(900), by_user=nora, at=at, judgement=judgement, cause="part_failed"
    )
    text = told(ClaimLetter.objects.get())
    for said in (
        "The warranty does not cover it,",
        "The yearly check-up",
        "15 U.S.C. 2304(c)",
        "On the missing check-up, Nora Vance decided: it caused the loss. The pit was full of silt.",
        "Shown by: Photo of the silted pit",
        "No check-up of before that day is on record.",
    ):
        assert said in text, said


def test_a_record_that_may_close_the_gap_is_decided_first(
    warranty: Warranty, nora: User, office: Actor, at: datetime
) -> None:
    record = outside_record(warranty.system, date(2026, 3, 1), accepted=None)
    outside_record(warranty.system, date(2026, 4, 25), accepted=None)  # after the loss: it changes nothing
    claim = report(warranty, office, at, lost_on=date(2026, 4, 20))
    judgement = Judgement(
        caused_by_missing_care=False, evidence="", by=nora.name, on=date(2026, 5, 4), because="Frost."
    )
    with pytest.raises(RecordWaits, match=r"Alder Plumbing of March 1, 2026"):
        decide_claim(
            claim_id=claim.pk, cost=Decimal(900), by_user=nora, at=at, judgement=judgement, cause="part_failed"
        )
    OutsideRecord.objects.filter(pk=record.pk).update(accepted=False, decided_at=at)
    decide_claim(claim_id=claim.pk, cost=Decimal(900), by_user=nora, at=at, judgement=judgement, cause="part_failed")
    claim.refresh_from_db()
    assert claim.outcome == "covered"


def test_an_exclusion_is_decided_whatever_record_waits(
    warranty: Warranty, nora: User, office: Actor, at: datetime
) -> None:
    outside_record(warranty.system, date(2026, 3, 1), accepted=None)
    claim = report(warranty, office, at, lost_on=date(2026, 4, 20))
    with pytest.raises(RecordWaits):
        decide_claim(claim_id=claim.pk, cost=Decimal(900), by_user=nora, at=at, cause="part_failed")
    decide_claim(claim_id=claim.pk, cost=Decimal(900), by_user=nora, at=at, cause="flood")
    assert "What is not covered A flood of a river" in told(ClaimLetter.objects.get())


def test_nothing_is_written_when_a_person_has_to_answer_first(
    warranty: Warranty, nora: User, office: Actor, at: datetime
) -> None:
    claim = report(warranty, office, at, lost_on=date(2026, 4, 20))
    with pytest.raises(QuestionOpen):
        decide_claim(claim_id=claim.pk, cost=Decimal(900), by_user=nora, at=at, cause="part_failed")
    assert not ClaimLetter.objects.exists()
    assert not Notice.objects.filter(template="claim_decided").exists()
