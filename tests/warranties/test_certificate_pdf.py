"""The papers themselves, read back with pypdf: what they say, one page, the same bytes from the same facts."""

import copy
import hashlib
import io
import json
import re
from collections.abc import Callable
from contextlib import AbstractContextManager
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader

from contractor.accounts.models import User
from contractor.core.audit import Actor
from contractor.systems.part_kinds import PART_KINDS
from contractor.warranties.actions import certifying
from contractor.warranties.certificates import certificate_pdf
from contractor.warranties.documents import warranty_pdf
from contractor.warranties.errors import CertificateFileLost, NoSigningKey
from contractor.warranties.frozen_facts import freeze
from contractor.warranties.models import Certificate, Warranty
from contractor.warranties.numbers import display_number
from contractor.warranties.rules.disclosures import CONSEQUENTIAL_SENTENCE, IMPLIED_SENTENCE, RIGHTS_SENTENCE
from contractor.warranties.signing import SignatureRead, read_signature
from contractor.warranties.signing_keys import make_key

pytestmark = pytest.mark.django_db


@pytest.fixture
def certificate(cared_for: Warranty, office: Actor, on: date, at: datetime) -> Certificate:
    return certifying.issue_certificate(warranty_id=cared_for.pk, on=on, by=office, at=at)


def words_of(body: bytes, page: int | None = None) -> str:
    """The text of a PDF with every run of white space as one space."""
    pages = PdfReader(io.BytesIO(body)).pages
    chosen = pages if page is None else [pages[page]]
    return " ".join(" ".join(one.extract_text() for one in chosen).split())


def pdf_of(certificate: Certificate) -> bytes:
    return certificate_pdf(freeze(certificate.facts), certificate.facts)


def test_the_same_facts_give_the_same_bytes(certificate: Certificate) -> None:
    assert pdf_of(certificate) == pdf_of(Certificate.objects.get(pk=certificate.pk))


def test_other_facts_give_other_bytes(certificate: Certificate) -> None:
    facts = {**certificate.facts, "previous_owner": "X. Y."}
    assert certificate_pdf(freeze(facts), facts) != pdf_of(certificate)


def test_the_page_is_made_from_the_frozen_facts_alone(certificate: Certificate, cared_for: Warranty) -> None:
    before = pdf_of(certificate)
    house = cared_for.system.property
    house.street, house.city = "99 Elsewhere Road", "Farville"
    house.save()
    person = cared_for.issued_to.person
    person.name = "Somebody Else"
    person.save()
    cared_for.system.components.update(place="moved")
    assert pdf_of(certificate) == before


def test_one_page_says_what_a_closing_table_asks(certificate: Certificate) -> None:
    body = pdf_of(certificate)
    reader = PdfReader(io.BytesIO(body))
    assert len(reader.pages) == 1
    # US Letter is 612 by 792 points.
    assert [round(float(side)) for side in reader.pages[0].mediabox[2:]] == [612, 792]
    text = words_of(body)
    for said in (
        "Certificate of limited warranty",
        "As of May 4, 2026 this limited warranty is in force.",
        "Iris Holloway",
        "12 Millrace Lane",
        "Harrow Creek Dry Basements LLC",
        "North wall, 30 ft",
        "May 14, 2045",
        "Next due by May 14, 2026",
        "Can be carried over to a later owner as often as the house is sold",
        "None on the day of issue",
        "This is a limited warranty, not insurance and not an inspection.",
        display_number(certificate.number),
        certificate.check_code,
        certificate.facts_sha256[:4],
        certificate.facts["record_head"][:16],
        IMPLIED_SENTENCE,
        CONSEQUENTIAL_SENTENCE,
        RIGHTS_SENTENCE,
    ):
        assert said in text, said
    # The address stands beside the code as text; it may be broken over two lines.
    assert certificate.token in text.replace(" ", "")


def test_the_fullest_certificate_still_fits_its_page(certificate: Certificate) -> None:
    facts = copy.deepcopy(certificate.facts)
    line = next(line for line in facts["promises"] if line["kind"] == "pit")
    note = "falling evenly from September 14, 2025 to nothing"
    facts["promises"] = [{**line, "share_note": note} for _ in range(14)]
    walls = ("North wall", "East wall", "South wall", "West wall", "Garage side", "Stair wall")
    facts["walls"] = [
        {**facts["walls"][0], "letter": letter, "name": name} for letter, name in zip("ABCDEF", walls, strict=True)
    ]
    facts["owner"]["name"] = "Maximilian Featherstone-Worthington and Alexandra Featherstone"
    facts["house"]["street_line"] = "12345 North Old Quarry Mill Road, Apartment 12"
    facts["open_claims"] = [{"part": "pit", "lost_on": "2026-04-30", "reported_on": "2026-05-01"}]
    facts["care_record"]["gap_days"] = 120
    facts["supersedes"] = "7K3M-9QX2-C"
    told = facts["disclosure"]
    told["work"]["parts"] = [kind.word for kind in PART_KINDS]
    told["work"]["walls"] = list("ABCDEF")
    told["replaced"] = [{"part": "high-water alarm", "on": "2025-09-14", "had_failed": True}] * 3
    told["reported"] = [
        {"part": "high-water alarm", "lost_on": "2025-09-14", "reported_on": "2025-09-14", "outcome": "not decided yet"}
    ] * 3
    told["replaced_in_all"] = told["reported_in_all"] = 12
    body = certificate_pdf(freeze(facts), facts)
    assert len(PdfReader(io.BytesIO(body)).pages) == 1
    assert "its standing" not in words_of(body)


def test_it_says_that_it_is_a_tagged_archive_with_its_facts_attached(certificate: Certificate) -> None:
    body = pdf_of(certificate)
    reader = PdfReader(io.BytesIO(body))
    assert reader.attachments["certificate.json"] == [freeze(certificate.facts).body]
    attached = json.loads(reader.attachments["certificate.json"][0])
    assert attached["number"] == certificate.number
    root: Any = reader.trailer["/Root"]
    # ISO 19005-3 (PDF/A-3): part 3, level A, marked; an associated file with its relationship (from memory).
    metadata = root["/Metadata"].get_data().decode()
    assert re.search(r"pdfaid:part[>=\"']+3", metadata)
    assert re.search(r"pdfaid:conformance[>=\"']+A", metadata)
    assert root["/MarkInfo"]["/Marked"]
    assert root["/Lang"] == "en"
    assert root["/AF"][0].get_object()["/AFRelationship"] == "/Data"
    assert reader.metadata is not None
    assert display_number(certificate.number) in str(reader.metadata.title)


def test_identifier_and_dates_come_from_the_facts_and_not_from_the_clock(certificate: Certificate) -> None:
    reader = PdfReader(io.BytesIO(pdf_of(certificate)))
    identifier: Any = reader.trailer["/ID"]
    assert bytes(identifier[0].original_bytes).hex() == certificate.facts_sha256[:32]
    assert reader.metadata is not None
    assert reader.metadata.creation_date is not None
    assert reader.metadata.creation_date.date() == date(2026, 5, 4)
    root: Any = reader.trailer["/Root"]
    file = root["/AF"][0].get_object()["/EF"]["/F"].get_object()
    assert str(file["/Params"]["/CreationDate"]).startswith("D:20260504")
    assert str(file["/Params"]["/ModDate"]).startswith("D:20260504")


def test_every_face_is_embedded(certificate: Certificate) -> None:
    reader = PdfReader(io.BytesIO(pdf_of(certificate)))
    fonts: Any = reader.pages[0]["/Resources"]["/Font"]  # type: ignore[index]
    names = [str(font.get_object()["/BaseFont"]) for font in fonts.values()]
    assert names
    assert all("Atkinson" in name or "Source-Serif" in name for name in names)
    for font in fonts.values():
        descriptor = font.get_object()["/DescendantFonts"][0].get_object()["/FontDescriptor"].get_object()
        assert {"/FontFile", "/FontFile2", "/FontFile3"} & set(descriptor)


def test_the_file_is_made_once_and_kept_with_its_hash(
    certificate: Certificate, monkeypatch: pytest.MonkeyPatch
) -> None:
    first = certifying.certificate_file(certificate_id=certificate.pk)
    certificate.refresh_from_db()
    body = first.open("rb").read()
    assert hashlib.sha256(body).hexdigest() == certificate.file_sha256

    def made_again(*args: object) -> bytes:
        raise AssertionError("The file was made a second time.")

    monkeypatch.setattr(certifying, "certificate_pdf", made_again)
    assert certifying.certificate_file(certificate_id=certificate.pk).open("rb").read() == body


def lose_file_of(certificate: Certificate) -> bytes:
    """The bytes of the file, which is then taken out of the store behind the register's back."""
    first = certifying.certificate_file(certificate_id=certificate.pk)
    body, name = first.open("rb").read(), str(first.name)
    first.close()
    first.storage.delete(name)
    return bytes(body)


def test_a_file_that_was_lost_is_made_again_with_the_same_bytes(certificate: Certificate) -> None:
    body = lose_file_of(certificate)
    assert certifying.certificate_file(certificate_id=certificate.pk).open("rb").read() == body


def test_a_lost_file_whose_key_is_gone_is_not_replaced_by_another(
    certificate: Certificate, warranty: Warranty, office: Actor, on: date, at: datetime, settings: Any, tmp_path: Path
) -> None:
    """Two different files under one number would make liars of both."""
    lose_file_of(certificate)
    certificate.refresh_from_db()
    settings.SIGNING_KEY_DIR = tmp_path / "others"
    make_key(organisation="Harrow Creek", at=at)
    with pytest.raises(CertificateFileLost, match="backup"):
        certifying.certificate_file(certificate_id=certificate.pk)
    assert Certificate.objects.get(pk=certificate.pk).file_sha256 == certificate.file_sha256
    newer = certifying.issue_certificate(warranty_id=warranty.pk, on=on, by=office, at=at)
    assert certifying.certificate_file(certificate_id=newer.pk).open("rb").read()


def test_the_file_is_the_page_with_a_signature_behind_it(
    certificate: Certificate, at: datetime, settings: Any, tmp_path: Path
) -> None:
    settings.SIGNING_KEY_DIR = tmp_path / "keys"
    key = make_key(organisation="Harrow Creek", at=at - timedelta(days=30))
    body = certifying.certificate_file(certificate_id=certificate.pk).open("rb").read()
    assert body.startswith(pdf_of(certificate))
    assert read_signature(body, anchors=[key.anchor]) == SignatureRead(
        is_intact=True,
        covers_all=True,
        forbids_changes=True,
        is_ours=True,
        anchor=key.fingerprint,
        claimed_at=at,
    )
    reader = PdfReader(io.BytesIO(body))
    root: Any = reader.trailer["/Root"]
    seal = root["/AcroForm"]["/Fields"][0].get_object()["/V"]
    assert seal["/M"].startswith("D:20260504140000")
    assert reader.pages[0].get("/Annots") is not None
    assert len(reader.pages) == 1


def test_a_key_that_is_younger_than_the_certificate_claims_no_earlier_day(
    certificate: Certificate, at: datetime, settings: Any, tmp_path: Path
) -> None:
    settings.SIGNING_KEY_DIR = tmp_path / "keys"
    key = make_key(organisation="Harrow Creek", at=at + timedelta(days=100))
    body = certifying.certificate_file(certificate_id=certificate.pk).open("rb").read()
    root: Any = PdfReader(io.BytesIO(body)).trailer["/Root"]
    said = str(root["/AcroForm"]["/Fields"][0].get_object()["/V"]["/M"])
    assert said.startswith(f"D:{key.certificate.not_valid_before_utc:%Y%m%d%H%M%S}")
    read = read_signature(body, anchors=[key.anchor])
    assert read is not None
    assert read.is_good


def test_without_a_key_the_certificate_is_on_record_and_its_file_waits(
    certificate: Certificate,
    ruth: User,
    signed_in_as: Callable[[User], Client],
    settings: Any,
    tmp_path: Path,
    at: datetime,
) -> None:
    settings.SIGNING_KEY_DIR = tmp_path / "keys"
    with pytest.raises(NoSigningKey, match="signing_key make"):
        certifying.certificate_file(certificate_id=certificate.pk)
    answer: Any = signed_in_as(ruth).get(reverse("warranties:certificate", args=[certificate.pk]))
    assert answer.status_code == 409
    assert "nothing is lost" in answer.content.decode()
    assert Certificate.objects.get(pk=certificate.pk).file_sha256 == ""
    make_key(organisation="Harrow Creek", at=at)
    assert certifying.certificate_file(certificate_id=certificate.pk)


def test_the_file_is_made_in_the_background_once_the_certificate_is_committed(
    cared_for: Warranty,
    office: Actor,
    on: date,
    at: datetime,
    django_capture_on_commit_callbacks: Callable[..., AbstractContextManager[object]],
) -> None:
    with django_capture_on_commit_callbacks(execute=True):
        certificate = certifying.issue_certificate(warranty_id=cared_for.pk, on=on, by=office, at=at)
    certificate.refresh_from_db()
    assert certificate.file_sha256


def test_the_written_warranty_has_the_prescribed_sentences_on_its_face(warranty: Warranty) -> None:
    body = warranty_pdf(warranty)
    face = words_of(body, 0)
    # 16 CFR 701.3(a)(7) to (9); the first of them has to stand on the face of the warranty.
    for sentence in (IMPLIED_SENTENCE, CONSEQUENTIAL_SENTENCE, RIGHTS_SENTENCE):
        assert sentence in face
    assert "Limited warranty for your basement water-control system" in face
    assert "Harrow Creek Dry Basements LLC" in face
    assert "14 Foundry Row, Larkmere, PA 17099" in face


def test_the_written_warranty_says_what_is_covered_and_until_when(warranty: Warranty) -> None:
    body = warranty_pdf(warranty)
    text = words_of(body)
    assert len(PdfReader(io.BytesIO(body)).pages) == 4
    for said in (
        "A North wall",
        "The pit and its lid: that they do not crack, cave in or leak.",
        "through and including May 14, 2045",
        "For the life of the structure",
        "36 months (3 years) from the day each battery is put in",
        "A flood of a river, a lake or the street",
        "Call or write to us at the address or number shown here.",
        "Tell us no later than 30 days after the closing",
        "These terms also promise",
    ):
        assert said in text, said
    # The worked example: 210 of 120 to 300 months is half-way down a straight line.
    assert "210 50 % $500.00 $500.00" in text
    assert "299 0.56 % $5.56 $994.44" in text
