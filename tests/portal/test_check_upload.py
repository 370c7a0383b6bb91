"""Is this file real? The PDF itself on the check page: every attack of the table, and what each answer tells."""

import hashlib
import io
import json
import random
import re
from collections.abc import Callable, Mapping
from datetime import date, datetime
from pathlib import Path
from typing import Any
from wsgiref.util import is_hop_by_hop

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.http import HttpResponse
from django.test import Client, RequestFactory, override_settings
from django.urls import reverse
from pypdf import PdfReader, PdfWriter
from pypdf.generic import NameObject, TextStringObject
from weasyprint import HTML, Attachment

from contractor.accounts.models import User
from contractor.core.audit import Actor
from contractor.portal import views
from contractor.properties.models import Person
from contractor.warranties.actions import certifying, transfers
from contractor.warranties.archive_metadata import accessible_archive
from contractor.warranties.check_upload import LARGEST_BYTES, check_file
from contractor.warranties.frozen_facts import FrozenFacts, freeze
from contractor.warranties.models import Certificate, Warranty
from contractor.warranties.numbers import display_number
from contractor.warranties.signing import sign_file
from contractor.warranties.signing_keys import SigningKey, make_key, stored_key
from tests.warranties.factories import checkup_done

UPLOAD = reverse("portal:check_upload")
Change = Callable[[PdfWriter], None]


@pytest.fixture
def certificate(warranty: Warranty, theo: User, office: Actor, on: date, at: datetime) -> Certificate:
    for year in (2021, 2022, 2023, 2024, 2025):
        checkup_done(warranty.system, date(year, 5, 10), theo)
    return certifying.issue_certificate(warranty_id=warranty.pk, on=on, by=office, at=at)


@pytest.fixture
def file(certificate: Certificate, monkeypatch: pytest.MonkeyPatch) -> bytes:
    """The certificate's file with a plain page in the place of the designed one, which takes seconds to make."""
    monkeypatch.setattr(certifying, "certificate_pdf", plain_page)
    made = file_of(certificate)
    certificate.refresh_from_db()
    return made


@pytest.fixture
def real_file(certificate: Certificate) -> bytes:
    """The file as owners get it."""
    return file_of(certificate)


def plain_page(frozen: FrozenFacts, facts: Mapping[str, Any]) -> bytes:
    """A page that is nothing but a heading, with its facts, marks and identifier as the designed one has them."""
    moment = datetime.fromisoformat(facts["issued_at"])
    attachment = Attachment(
        string=frozen.body, name="certificate.json", created=moment, modified=moment, relationship="Data"
    )
    made = HTML(string='<html lang="en"><title>Certificate</title><h1>Certificate</h1>').write_pdf(
        pdf_variant="pdf/a-3a",
        pdf_identifier=bytes.fromhex(frozen.sha256[:32]),
        attachments=[attachment],
        finisher=accessible_archive(frozen.sha256),
    )
    return bytes(made)


def signed_by(key: SigningKey, facts: dict[str, Any], at: datetime) -> bytes:
    return sign_file(plain_page(freeze(facts), facts), key=key, moment=at)


def file_of(certificate: Certificate) -> bytes:
    with certifying.certificate_file(certificate_id=certificate.pk).open("rb") as opened:
        return bytes(opened.read())


def upload(content: bytes, name: str = "certificate.pdf") -> HttpResponse:
    answer: Any = Client().post(UPLOAD, {"file": SimpleUploadedFile(name, content)})
    return answer


def told(content: bytes) -> str:
    """The words of the page's main part, each run of white space as one space."""
    answer = upload(content)
    assert answer.status_code == 200
    body = answer.content.decode()
    words = re.sub(r"<[^>]+>", " ", body[body.index("<main") : body.index("</main>")])
    return " ".join(words.split())


def rewritten(content: bytes, change: Change, *, incremental: bool) -> bytes:
    writer = PdfWriter(io.BytesIO(content), incremental=incremental)
    change(writer)
    output = io.BytesIO()
    writer.write(output)
    return output.getvalue()


def another_language(writer: PdfWriter) -> None:
    writer.root_object[NameObject("/Lang")] = TextStringObject("fr")


def a_page_on_top(writer: PdfWriter) -> None:
    writer.insert_blank_page(612, 792)


def a_page_behind(writer: PdfWriter) -> None:
    writer.add_blank_page(612, 792)


def another_page_content(writer: PdfWriter) -> None:
    """Shows other words in the place of the page: what a shadow attack comes to."""
    writer.pages[0].get_contents().set_data(b"BT ET")  # type: ignore[union-attr]
    writer.pages[0].merge_page(writer.pages[0])


def another_attachment(writer: PdfWriter) -> None:
    writer.add_attachment("certificate.json", b"{}")


def nothing(_writer: PdfWriter) -> None:
    pass


# What a good file is answered with.


def test_the_file_as_it_was_issued_is_genuine_with_how_things_stand_today(
    certificate: Certificate, real_file: bytes
) -> None:
    shown = told(real_file)
    for words in (
        f"Certificate {display_number(certificate.number)} is genuine.",
        "byte for byte, the one that we issued",
        "Harrow Creek Dry Basements LLC",
        "in force",
        "May 10, 2025",  # the last check-up
        "May 14, 2045",  # the pit's last day
        "North wall",
        "Larkmere, PA, postcode begins 170",
    ):
        assert words in shown, words
    key = stored_key()
    assert key is not None
    assert " ".join(re.findall("....", key.fingerprint[:16])) in shown


def test_nothing_personal_is_in_the_answer(file: bytes) -> None:
    shown = told(file)
    for word in ("Holloway", "Iris", "Millrace", "17099", "iris@example.com", "Theo", "$"):
        assert word not in shown, word


def test_a_superseded_file_leads_to_the_newer_one(
    certificate: Certificate, file: bytes, warranty: Warranty, office: Actor, on: date, at: datetime
) -> None:
    newer = certifying.issue_certificate(warranty_id=warranty.pk, on=on, by=office, at=at)
    shown = told(file)
    assert "is genuine, but a newer one has taken its place" in shown
    assert display_number(newer.number) not in shown
    assert "is genuine." in told(file_of(newer))


def test_a_revoked_file_warns_and_says_nothing_about_cover(
    certificate: Certificate,
    file: bytes,
    warranty: Warranty,
    buyer: Person,
    theo: User,
    ruth: User,
    office: Actor,
    on: date,
    at: datetime,
) -> None:
    checkup_done(warranty.system, date(2026, 4, 25), theo)
    day = date(2026, 5, 1)
    asked = transfers.ask_transfer(
        warranty_id=warranty.pk, buyer_id=buyer.pk, closing_on=day, notified_on=date(2026, 4, 20), by=office, at=at
    )
    transfers.record_transfer_fee(transfer_id=asked.pk, paid_on=day, by=office, at=at)
    transfers.accept_transfer(transfer_id=asked.pk, accepted_on=day, name="Ben Okafor", by=office, at=at)
    issued = transfers.issue_transfer(transfer_id=asked.pk, on=on, by=office, at=at)
    theirs = file_of(issued)
    assert "is genuine." in told(theirs)
    transfers.revoke_transfer(transfer_id=asked.pk, because="Wrong buyer.", by_user=ruth, at=at)
    shown = told(theirs)
    assert "was revoked on May 4, 2026" in shown
    for word in ("in force", "Covered walls", "Okafor", "Wrong buyer"):
        assert word not in shown


def test_a_file_signed_before_a_rotation_stays_genuine(
    certificate: Certificate,
    warranty: Warranty,
    office: Actor,
    on: date,
    at: datetime,
    settings: Any,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(certifying, "certificate_pdf", plain_page)
    settings.SIGNING_KEY_DIR = tmp_path / "keys"
    make_key(organisation="Harrow Creek", at=at)
    before = file_of(certificate)
    make_key(organisation="Harrow Creek", at=at, replaces=True)
    assert "is genuine." in told(before)
    newer = certifying.issue_certificate(warranty_id=warranty.pk, on=on, by=office, at=at)
    assert "is genuine." in told(file_of(newer))


# The attacks.


@pytest.mark.parametrize(
    "change", [another_language, a_page_on_top, a_page_behind, another_page_content, another_attachment]
)
def test_what_is_added_after_signing_is_told(certificate: Certificate, file: bytes, change: Change) -> None:
    attacked = rewritten(file, change, incremental=True)
    assert attacked.startswith(file)
    shown = told(attacked)
    assert "Something was added to this file after we signed it." in shown
    assert display_number(certificate.number) in shown
    assert "is genuine" not in shown


@pytest.mark.parametrize("tail", [b"\n", b" ", b"\0", b"%%EOF\n", b"x" * 5000])
def test_a_single_byte_behind_the_end_is_told(file: bytes, tail: bytes) -> None:
    assert check_file(file + tail, on=date(2026, 5, 4)).trouble == "added_to"


@pytest.mark.parametrize("change", [nothing, another_language, a_page_on_top, another_attachment])
def test_what_another_tool_wrote_anew_is_told(certificate: Certificate, file: bytes, change: Change) -> None:
    shown = told(rewritten(file, change, incremental=False))
    assert "This file was changed." in shown
    assert display_number(certificate.number) in shown


def signature_moved_apart(file: bytes) -> bytes:
    """Signature wrapping: the second signed part is moved back to make room for bytes that nothing covers."""
    [found] = re.finditer(rb"/ByteRange \[0 (\d+) (\d+) (\d+)( *)\]", file)
    _, second, _ = (int(found[number]) for number in (1, 2, 3))
    moved = file[:second] + b"\n9 0 obj <</Lies true>> endobj\n" + file[second:]
    gap = len(moved) - len(file)
    numbers = f"/ByteRange [0 {int(found[1])} {second + gap} {int(found[3])}".encode()
    return moved[: found.start()] + numbers.ljust(len(found[0]) - 1) + b"]" + moved[found.end() :]


def signature_emptied(file: bytes) -> bytes:
    """Universal forgery: a signature of nothing, in the hope that nothing is compared."""
    [found] = re.finditer(rb"/Contents <([0-9a-fA-F]+)>", file)
    return file[: found.start(1)] + b"0" * len(found[1]) + file[found.end(1) :]


def range_shrunk(file: bytes) -> bytes:
    """The range says that next to nothing is signed."""
    [found] = re.finditer(rb"/ByteRange \[[^\]]*\]", file)
    return file[: found.start()] + b"/ByteRange [0 1 2 3".ljust(len(found[0]) - 1) + b"]" + file[found.end() :]


def cut_short(file: bytes) -> bytes:
    return file[:-1]


def pushed_back(file: bytes) -> bytes:
    return b"\n" + file


def facts_renamed(file: bytes) -> bytes:
    """Takes away one of the two traces; the other still tells."""
    return file.replace(b"sha256:", b"sha255:")


@pytest.mark.parametrize(
    "attack", [signature_moved_apart, signature_emptied, range_shrunk, cut_short, pushed_back, facts_renamed]
)
def test_a_tampered_signature_is_told(file: bytes, attack: Callable[[bytes], bytes]) -> None:
    attacked = attack(file)
    assert attacked != file
    assert check_file(attacked, on=date(2026, 5, 4)).trouble == "altered"


def test_a_changed_byte_anywhere_is_caught(real_file: bytes, on: date) -> None:
    file = real_file
    assert check_file(file, on=on).is_known
    # A prime step meets every kind of place: objects, streams, the table, the padding of the signature.
    places = {*range(0, len(file), 211), *range(40), *range(len(file) - 40, len(file))}
    for place in sorted(places):
        changed = bytearray(file)
        changed[place] ^= 1 << (place % 8)
        found = check_file(bytes(changed), on=on)
        assert (found.is_known, found.trouble) == (False, "altered"), place


def places_of_objects(file: bytes) -> dict[int, tuple[int, int]]:
    """Where each object lies, by its number: from "12 0 obj" to "endobj" (ISO 32000-1, 7.3.10)."""
    return {int(one[1]): one.span() for one in re.finditer(rb"(?m)^(\d+) 0 obj\b.*?\bendobj\b", file, re.DOTALL)}


def test_a_changed_byte_in_any_object_is_caught(real_file: bytes, on: date) -> None:
    """Three bytes drawn from a seed in every object of the file, each set to another value."""
    objects, chance = places_of_objects(real_file), random.Random(2026)
    reader = PdfReader(io.BytesIO(real_file))
    # All there are, by the cross-reference table of another library.
    assert set(objects) >= {number for table in reader.xref.values() for number in table if number}
    for number, (start, end) in objects.items():
        for place in (chance.randrange(start, end) for _ in range(3)):
            changed = bytearray(real_file)
            changed[place] = (changed[place] + chance.randrange(1, 256)) % 256
            found = check_file(bytes(changed), on=on)
            assert (found.is_known, found.trouble) == (False, "altered"), (number, place)


def test_the_right_file_signed_by_a_stranger_is_none_of_ours(
    certificate: Certificate, file: bytes, at: datetime, settings: Any, tmp_path: Path
) -> None:
    facts = {**certificate.facts, "owner": {"name": "Mallory", "since": "2026-05-01"}}
    with override_settings(SIGNING_KEY_DIR=tmp_path / "theirs"):
        stranger = make_key(organisation="Harrow Creek Dry Basements LLC", at=at)
    shown = told(signed_by(stranger, facts, at))
    assert "was not issued by Harrow Creek Dry Basements" in shown
    assert display_number(certificate.number) not in shown
    # With our own facts in it, it claims to be ours and isn't.
    assert "This file was changed." in told(signed_by(stranger, certificate.facts, at))


def test_the_register_alone_vouches_for_nothing(
    certificate: Certificate, file: bytes, at: datetime, settings: Any, tmp_path: Path
) -> None:
    """Whoever can write into the database still can't make a file genuine: the key lies outside of it."""
    with override_settings(SIGNING_KEY_DIR=tmp_path / "theirs"):
        stranger = make_key(organisation="Harrow Creek Dry Basements LLC", at=at)
    forged = signed_by(stranger, certificate.facts, at)
    unsigned = plain_page(freeze(certificate.facts), certificate.facts)
    for content in (forged, unsigned):
        certificate.file_sha256 = hashlib.sha256(content).hexdigest()
        certificate.save()
        assert "We can not confirm this file now." in told(content)


def test_facts_that_were_changed_in_the_register_are_noticed(certificate: Certificate, file: bytes) -> None:
    certificate.facts["owner"]["name"] = "Mallory"
    certificate.save()
    shown = told(file)
    assert "We can not confirm this file now." in shown
    assert "(555) 555-0100" in shown


def test_facts_attached_that_are_not_those_on_record_are_noticed(certificate: Certificate, file: bytes) -> None:
    certificate.facts["owner"]["name"] = "Mallory"
    certificate.facts_sha256 = freeze(certificate.facts).sha256
    certificate.save()
    assert "We can not confirm this file now." in told(file)


# What is no certificate of ours at all.


def locked(file: bytes) -> bytes:
    def encrypt(writer: PdfWriter) -> None:
        writer.encrypt("secret", algorithm="RC4-128")

    return rewritten(file, encrypt, incremental=False)


def test_a_locked_file_is_told(file: bytes) -> None:
    assert "This PDF is locked with a password." in told(locked(file))


@pytest.mark.parametrize("content", [b"x", b"\xff\xd8\xff\xe0 a photo", b"PK\x03\x04", b"<html>", b"\0" * 3000])
def test_what_is_not_a_pdf_is_told(certificate: Certificate, content: bytes) -> None:
    assert "This file is not a PDF." in told(content)


def test_a_pdf_without_a_signature_is_told(certificate: Certificate) -> None:
    assert "none of our certificate files" in told(b"%PDF-1.7\n%%EOF")


@pytest.mark.parametrize(
    "content",
    [
        b"%PDF-1.7 " + b"/ByteRange [0 1 2 999999999]" * 50_000,
        b"%PDF-1.7 " + b"sha256:" + b"a" * 64 + b" /ID [<" + b"b" * 32 + b">" * 3,
        b"%PDF-1.7 " + b"/ByteRange [0 0 0 0]",
        b"%PDF-1.7 " + b"/ByteRange [" + b" " * 400_000,
        b"%PDF-1.7 " + b"/ID [" * 100_000,
        b"%PDF-1.7 trailer << /Root 1 0 R /Prev 0 >> startxref 0 %%EOF",
    ],
)
def test_files_made_to_hang_a_reader_are_answered_like_any_other(certificate: Certificate, content: bytes) -> None:
    assert check_file(content, on=date(2026, 5, 4)).trouble in {"foreign", "unsigned"}


# The form.


def test_a_file_that_is_announced_as_large_is_refused_before_a_byte_is_read(company: object) -> None:
    class Untouched(io.RawIOBase):
        def read(self, *_sizes: object) -> bytes:
            raise AssertionError("The body was read.")

    asked = RequestFactory().post(UPLOAD)
    asked.META["CONTENT_LENGTH"] = str(200 * 1024 * 1024)
    asked.META["CONTENT_TYPE"] = "multipart/form-data; boundary=x"
    asked.META["wsgi.input"] = Untouched()
    asked._stream = Untouched()  # type: ignore[attr-defined]
    answer = views.check_upload(asked)
    assert answer.status_code == 413
    assert "This file was not checked." in answer.content.decode()
    assert "larger than 5 MB" in answer.content.decode()
    # PEP 3333 leaves the headers of the connection to the server.
    assert not any(is_hop_by_hop(name) for name in answer.headers)


def test_a_file_a_little_too_large_is_told_beside_the_field(company: object) -> None:
    answer = upload(b"%PDF-" + b"0" * LARGEST_BYTES)
    assert answer.status_code == 200
    assert "larger than 5 MB" in answer.content.decode()
    assert "was changed" not in answer.content.decode()


def test_no_file_and_an_empty_one_are_asked_for_again(company: object) -> None:
    assert "Choose the certificate’s PDF first." in Client().post(UPLOAD).content.decode()
    assert "This file is empty." in upload(b"").content.decode()


def test_the_form_is_guarded_against_forged_requests(certificate: Certificate, file: bytes) -> None:
    client = Client(enforce_csrf_checks=True)
    assert client.post(UPLOAD, {"file": SimpleUploadedFile("a.pdf", file)}).status_code == 403
    token = client.get(reverse("portal:check")).context["csrf_token"]
    asked = {"file": SimpleUploadedFile("a.pdf", file), "csrfmiddlewaretoken": str(token)}
    assert client.post(UPLOAD, asked).status_code == 200


def test_the_answer_is_neither_kept_nor_told_to_others(file: bytes) -> None:
    for answer in (upload(file), upload(b"x"), upload(b"")):
        assert "no-store" in answer["Cache-Control"]
        assert answer["X-Robots-Tag"] == "noindex, nofollow"
        assert answer["Referrer-Policy"] == "same-origin"
    assert Client().get(UPLOAD).status_code == 405


def test_nothing_of_the_file_is_kept(certificate: Certificate, file: bytes, settings: Any) -> None:
    kept = sorted(Path(settings.MEDIA_ROOT).rglob("*"))
    rows = Certificate.objects.values().get()
    told(file)
    told(rewritten(file, another_language, incremental=True))
    assert sorted(Path(settings.MEDIA_ROOT).rglob("*")) == kept
    assert Certificate.objects.values().get() == rows


def test_the_facts_attached_are_canonical_json_that_anybody_can_read(certificate: Certificate, file: bytes) -> None:
    [body] = PdfReader(io.BytesIO(file)).attachments["certificate.json"]
    assert json.loads(body) == certificate.facts
    # RFC 8785: sorted names, no white space; for these facts (no float, no name outside ASCII) the plain library
    # writes the same.
    plain = json.dumps(json.loads(body), sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    assert body.decode() == plain
