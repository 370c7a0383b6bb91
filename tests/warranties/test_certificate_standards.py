"""The certificate against the published standards, judged by the real veraPDF rules.

ISO 19005-3 (PDF/A-3, level A) keeps it readable for decades; ISO 14289-1 (PDF/UA-1) keeps it readable for everybody.
"""

import copy
from collections.abc import Callable
from datetime import date, datetime
from pathlib import Path

import pytest

from contractor.core.audit import Actor
from contractor.notices.letters import letter_pdf
from contractor.notices.models import Notice
from contractor.properties.models import Person
from contractor.warranties import acceptance_paper, certificates
from contractor.warranties.acceptance_paper import acceptance_pdf
from contractor.warranties.actions import certifying
from contractor.warranties.certificates import certificate_pdf
from contractor.warranties.frozen_facts import freeze
from contractor.warranties.models import Certificate, Warranty
from tests.warranties.test_transfer import ask
from tests.warranties.verapdf import judge

pytestmark = pytest.mark.django_db


@pytest.fixture
def certificate(cared_for: Warranty, office: Actor, on: date, at: datetime) -> Certificate:
    return certifying.issue_certificate(warranty_id=cared_for.pk, on=on, by=office, at=at)


def page_of(certificate: Certificate) -> bytes:
    return certificate_pdf(freeze(certificate.facts), certificate.facts)


def without_finisher(_facts_sha256: str) -> Callable[[object, object], None]:
    return lambda _document, _pdf: None


def test_the_signed_certificate_is_an_archive_and_accessible(certificate: Certificate, tmp_path: Path) -> None:
    signed, fullest = tmp_path / "signed.pdf", tmp_path / "fullest.pdf"
    signed.write_bytes(certifying.certificate_file(certificate_id=certificate.pk).open("rb").read())
    facts = copy.deepcopy(certificate.facts)
    facts["open_claims"] = [{"part": "pit", "lost_on": "2026-04-30", "reported_on": "2026-05-01"}]
    facts["walls"], facts["parts"], facts["care_record"]["checkups"] = [], [], []
    fullest.write_bytes(certificate_pdf(freeze(facts), facts))
    profiles = ("PDFA-3A", "PDFUA-1")
    assert judge(*((profile, path) for path in (signed, fullest) for profile in profiles)) == [(True, set())] * 4


def test_the_buyers_document_and_a_letter_are_accessible_and_the_document_is_an_archive(
    cared_for: Warranty, buyer: Person, office: Actor, at: datetime, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    transfer = ask(cared_for, buyer, office, at)
    paper, letter, bad = tmp_path / "paper.pdf", tmp_path / "letter.pdf", tmp_path / "bad.pdf"
    paper.write_bytes(acceptance_pdf(transfer))
    letter.write_bytes(letter_pdf(Notice.objects.filter(template="transfer_asked").get()))
    # The negative control: the same document without the mark and with its nameless pictures left in the tags.
    monkeypatch.setattr(acceptance_paper, "accessible_archive", lambda: without_finisher(""))
    bad.write_bytes(acceptance_pdf(transfer))
    good = [("PDFA-3A", paper), ("PDFUA-1", paper), ("PDFUA-1", letter)]
    *right, wrong = judge(*good, ("PDFUA-1", bad))
    assert right == [(True, set())] * 3
    assert {(clause, number) for clause, number, _ in wrong[1]} == {("5", 1), ("7.3", 1)}


def test_the_rules_find_what_is_broken_on_purpose(
    certificate: Certificate, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    good, no_mark, nameless = tmp_path / "good.pdf", tmp_path / "no_mark.pdf", tmp_path / "nameless.pdf"
    body = page_of(certificate)
    good.write_bytes(body)
    # Same length, so that every offset in the file still holds.
    no_mark.write_bytes(body.replace(b"<pdfuaid:part>1<", b"<pdfuaid:part>7<"))
    monkeypatch.setattr(certificates, "accessible_archive", without_finisher)
    nameless.write_bytes(page_of(certificate))
    asked = [("PDFA-3A", no_mark), ("PDFUA-1", no_mark), ("PDFA-3A", nameless), ("PDFUA-1", nameless)]
    answers = judge(*asked, ("PDFUA-1", good))
    assert [complies for complies, _ in answers] == [True, False, True, False, True]
    broken = [{(clause, number) for clause, number, _ in rules} for _, rules in answers]
    # Clause 5 is the identification; 7.3 asks every figure for a text.
    assert broken[1] == {("5", 2)}
    assert broken[3] == {("5", 1), ("7.3", 1)}
