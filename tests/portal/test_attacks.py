"""The table of attacks: what each does to a certificate's file, what the signature then proves, and what we answer.

What a signature proves is read by the library pyHanko; the attacks and where they are from stand in attacks.py.
"""

import hashlib
import io
import random
import re
from collections.abc import Callable
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader

from contractor.accounts.models import User
from contractor.core.audit import Actor
from contractor.warranties.actions import certifying
from contractor.warranties.check_upload import check_file
from contractor.warranties.models import Certificate, Warranty
from contractor.warranties.numbers import display_number
from contractor.warranties.printed_codes import draw_token
from contractor.warranties.signing import SignatureRead, read_signature, sign_file
from contractor.warranties.signing_keys import anchors
from tests.portal.attacks import (
    Case,
    a_form_field,
    a_note_over_the_page,
    a_script,
    a_signature_of_their_own,
    a_time_stamp_of_the_document,
    added,
    anew,
    another_customer_of_an_authority,
    another_installation,
    another_title,
    capitals_in_the_signature,
    in_place,
    number_of_another,
    one_bit,
    other_facts_by_our_own_key,
    our_key,
    our_own_signature_again,
    padding_written_on,
    page,
    reachable,
    region_of,
    right_facts_by_a_stranger,
    shadow_page,
    signature_of_another,
    signed_at,
    stamper,
    swapped_attachment,
    unsigned,
    untouched,
    with_stamp_of,
)
from tests.portal.test_check_upload import (
    a_page_behind,
    a_page_on_top,
    another_attachment,
    another_language,
    another_page_content,
    cut_short,
    facts_renamed,
    file_of,
    locked,
    nothing,
    plain_page,
    pushed_back,
    range_shrunk,
    signature_emptied,
    signature_moved_apart,
    told,
)
from tests.warranties.factories import checkup_done

UPLOAD = reverse("portal:check_upload")
DAY = date(2026, 5, 4)


@pytest.fixture
def case(
    warranty: Warranty, theo: User, office: Actor, on: date, at: datetime, tmp_path: Path, monkeypatch: Any
) -> Case:
    monkeypatch.setattr(certifying, "certificate_pdf", plain_page)
    for year in (2021, 2022, 2023, 2024, 2025):
        checkup_done(warranty.system, date(year, 5, 10), theo)
    before = certifying.issue_certificate(warranty_id=warranty.pk, on=on, by=office, at=at)
    other = file_of(before)
    certificate = certifying.issue_certificate(warranty_id=warranty.pk, on=on, by=office, at=at)
    file = file_of(certificate)
    certificate.refresh_from_db()
    return Case(file, certificate, other, tmp_path, at)


# What the signature proves: intact, covers all, no change since, ours; nothing where there is not exactly one. Whose
# it is isn't asked of one that is broken. PERMITTED: the library lets metadata be brought up to date; we don't.
GOOD, BROKEN, GAP, LONGER, PERMITTED, THEIRS, NONE = "1111", "0110", "0000", "1001", "1011", "1110", ""
# The attack; what the signature proves; what is answered.
TABLE = [
    (untouched, GOOD, ""),
    # Bytes changed in place.
    (one_bit, BROKEN, "altered"),
    (number_of_another, BROKEN, "altered"),
    (capitals_in_the_signature, GOOD, "altered"),
    (padding_written_on, GOOD, "altered"),
    (signature_of_another, BROKEN, "altered"),
    (in_place(signature_emptied), NONE, "altered"),
    (in_place(signature_moved_apart), NONE, "altered"),
    (in_place(range_shrunk), GAP, "altered"),
    (in_place(facts_renamed), BROKEN, "altered"),
    (in_place(cut_short), GAP, "altered"),
    (in_place(pushed_back), NONE, "altered"),
    # Added behind the end.
    (added(another_language), LONGER, "added_to"),
    (added(another_title), PERMITTED, "added_to"),
    (added(a_page_on_top), LONGER, "added_to"),
    (added(a_page_behind), LONGER, "added_to"),
    (added(another_page_content), LONGER, "added_to"),
    (added(shadow_page), LONGER, "added_to"),
    (added(a_note_over_the_page), LONGER, "added_to"),
    (added(a_form_field), LONGER, "added_to"),
    (added(a_script), LONGER, "added_to"),
    (added(another_attachment), LONGER, "added_to"),
    (added(swapped_attachment), LONGER, "added_to"),
    (a_signature_of_their_own, NONE, "added_to"),
    (our_own_signature_again, NONE, "added_to"),
    (a_time_stamp_of_the_document, NONE, "added_to"),
    # Written anew.
    (anew(nothing), GAP, "altered"),
    (anew(another_language), GAP, "altered"),
    (anew(swapped_attachment), GAP, "altered"),
    (anew(a_page_on_top), GAP, "altered"),
    (in_place(locked), NONE, "locked"),
    # Made by somebody else, or by nobody.
    (right_facts_by_a_stranger, THEIRS, "altered"),
    (another_installation, THEIRS, "foreign"),
    (another_customer_of_an_authority, THEIRS, "foreign"),
    (other_facts_by_our_own_key, GOOD, "foreign"),
    (unsigned, NONE, "altered"),
]

# What each answer tells whoever holds the file to do.
TO_DO = {
    "": "is genuine",
    "altered": "Do not rely on it. Ask whoever gave it to you for the file as they received it",
    "added_to": "Do not rely on it. Ask whoever gave it to you for the file as they received it",
    "locked": "Ask for the file as it was received",
    "foreign": "do not rely on it and call us at (555) 555-0100",
    "unproven": "Do not rely on it before you have called Harrow Creek Dry Basements at (555) 555-0100",
}


@pytest.mark.parametrize(("attack", "proves", "trouble"), TABLE, ids=[row[0].__name__ for row in TABLE])
def test_the_table_of_attacks(attack: Callable[[Case], bytes], proves: str, trouble: str, case: Case) -> None:
    attacked = attack(case)
    assert (attacked == case.file) is (trouble == "")
    assert proven(read_signature(attacked, anchors=anchors())) == proves
    found = check_file(attacked, on=DAY)
    assert (found.trouble, found.is_known) == (trouble, trouble == "")
    shown = told(attacked)
    assert TO_DO[trouble] in shown
    assert ("is genuine" in shown) is (trouble == "")


def test_whoever_writes_into_the_register_makes_none_of_them_genuine(case: Case) -> None:
    """The register's hash is set to that of the attacked file: key and facts, which lie outside of it, still tell."""
    believed = []
    for attack, _, trouble in TABLE:
        attacked = attack(case)
        Certificate.objects.filter(pk=case.certificate.pk).update(file_sha256=hashlib.sha256(attacked).hexdigest())
        found = check_file(attacked, on=DAY)
        if found.is_known:
            believed.append(attack.__name__)
        elif trouble:
            assert found.trouble == "unproven", attack.__name__
    assert TO_DO["unproven"] in told(attacked)
    # These three say what we signed, digit for digit; only the hash told them apart, and that is what was forged.
    assert believed == ["untouched", "capitals_in_the_signature", "padding_written_on"]


# Every byte counts.

REGIONS = (
    "header", "page and objects", "attachment", "first table", "signature", "padding of the signature", "second table",
    "end",
)  # fmt: skip


@pytest.mark.parametrize("region", REGIONS)
def test_a_changed_byte_anywhere_is_caught(case: Case, region: str) -> None:
    """Bytes drawn from a seed in each region, each changed, taken out and doubled."""
    file, chance = case.file, random.Random(region)
    start, end = region_of(file, region)
    assert 0 <= start < end <= len(file)
    for place in sorted({start, end - 1, *(chance.randrange(start, end) for _ in range(40))}):
        other = bytes([(file[place] + chance.randrange(1, 256)) % 256])
        for middle in (other, b"", file[place : place + 1] * 2):
            changed = file[:place] + middle + file[place + 1 :]
            found = check_file(changed, on=DAY)
            assert not found.is_known, (region, place, middle)
            assert found.trouble in {"altered", "added_to"}, (region, place, middle, found.trouble)
            assert found.number == display_number(case.certificate.number)


def test_the_regions_leave_no_byte_out(case: Case) -> None:
    spans = sorted(region_of(case.file, region) for region in REGIONS)
    assert spans[0][0] == 0
    assert spans[-1][1] == len(case.file)
    covered: set[int] = set()
    for start, end in spans:
        covered.update(range(start, end))
    # Between them lie only the brackets of the signature.
    assert len(case.file) - len(covered) <= 4


# Nothing is hidden in what we sign.


def test_the_file_hides_nothing_that_an_update_could_bring_to_light(warranty: Warranty, office: Actor) -> None:
    """A shadow is an object that nothing shows: each page, picture, file and script is reached from the root."""
    at = datetime.fromisoformat("2026-05-04T14:00:00+00:00")
    certificate = certifying.issue_certificate(warranty_id=warranty.pk, on=DAY, by=office, at=at)
    reader = PdfReader(io.BytesIO(file_of(certificate)))
    numbers = {number for table in reader.xref.values() for number in table if number}
    reached = reachable(reader)
    left = [reader.get_object(number) for number in sorted(numbers - reached)]
    # What is left are the file's own tables and the tags of pictures that only repeat the word beside them.
    kinds = {(one.get("/Type"), one.get("/S")) for one in left}  # type: ignore[union-attr]
    assert kinds <= {("/ObjStm", None), ("/XRef", None), ("/StructElem", "/Figure")}
    assert reader.trailer["/Root"].get("/OCProperties") is None  # type: ignore[union-attr]
    assert reader.trailer["/Root"].get("/OpenAction") is None  # type: ignore[union-attr]


# Time stamps.


def test_a_time_stamp_is_read_and_one_of_another_signature_is_refused(case: Case) -> None:
    body, at = page(case.certificate.facts), signed_at()
    at_once, later = at + timedelta(seconds=2), at + timedelta(days=90)
    stamped = sign_file(body, key=our_key(), moment=at, timestamper=stamper(at_once))
    second = sign_file(body, key=our_key(), moment=at + timedelta(hours=1), timestamper=stamper(later))
    read = read_signature(stamped, anchors=anchors())
    assert read is not None
    assert (proven(read), read.is_good, read.stamped_at) == (GOOD, True, at_once)
    swapped = with_stamp_of(stamped, second)
    forged = read_signature(swapped, anchors=anchors())
    assert forged is not None
    # The stamp lies outside of what is signed, so the signature still holds; the stamp is not of this signature.
    assert (proven(forged), forged.has_broken_stamp, forged.is_good, forged.stamped_at) == (GOOD, True, False, None)
    Certificate.objects.filter(pk=case.certificate.pk).update(file_sha256=hashlib.sha256(swapped).hexdigest())
    assert check_file(swapped, on=DAY).trouble == "unproven"
    Certificate.objects.filter(pk=case.certificate.pk).update(file_sha256=hashlib.sha256(stamped).hexdigest())
    assert check_file(stamped, on=DAY).is_known


# The paper: numbers and QR codes.


def test_a_forged_code_is_unknown_and_a_copied_one_names_its_own_certificate(case: Case) -> None:
    """A QR code is only an address: one with a made-up token finds nothing, one copied from another certificate tells
    that certificate's number, day and town, which whoever checks is told to compare with the paper."""
    token = case.certificate.token
    slipped = token[:-1] + ("A" if token[-1] != "A" else "B")
    for forged in (slipped, token.swapcase(), token[:-1], f"{token}x", draw_token(), case.certificate.number):
        shown = by_code(forged)
        assert "No certificate has this number and code" in shown
        assert "do not rely on the paper and call Harrow Creek Dry Basements at (555) 555-0100" in shown
    genuine = by_code(token)
    assert f"Certificate {display_number(case.certificate.number)} is genuine." in genuine
    assert "Compare number, day and town with the paper in your hand: they must be the same." in genuine


def test_a_code_of_another_site_is_told_by_the_address_printed_beside_it(case: Case) -> None:
    facts = case.certificate.facts
    address = reverse("portal:check_token", args=[case.certificate.token])
    assert facts["check_url"].endswith(address)
    assert facts["check_url"].startswith(facts["check_page"])


# Size.


def test_a_file_of_200_megabytes_is_refused_by_the_whole_site_before_a_byte_is_read(company: object) -> None:
    class Untouched(io.RawIOBase):
        def read(self, *_sizes: object) -> bytes:
            raise AssertionError("The body was read.")

    answer: Any = Client().generic(
        "POST",
        UPLOAD,
        content_type="multipart/form-data; boundary=x",
        CONTENT_LENGTH=str(200 * 1024 * 1024),
        **{"wsgi.input": Untouched()},
    )
    assert answer.status_code == 413
    assert "larger than 5 MB" in answer.content.decode()
    assert "or type its number and check code instead" in answer.content.decode()



def proven(read: SignatureRead | None) -> str:
    if read is None:
        return NONE
    return "".join(str(int(one)) for one in (read.is_intact, read.covers_all, read.forbids_changes, read.is_ours))



def by_code(token: str) -> str:
    body = Client().get(reverse("portal:check_token", args=[token])).content.decode()
    words = re.sub(r"<[^>]+>", " ", body[body.index("<main") : body.index("</main>")])
    return " ".join(words.split())
