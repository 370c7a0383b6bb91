"""A failure reported by the owner from the phone, and how it is followed."""

import hashlib
from datetime import UTC, date, datetime
from decimal import Decimal
from io import BytesIO
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from PIL import Image

from contractor.accounts.models import User
from contractor.checkups.photos import MOST_BYTES
from contractor.core import clock
from contractor.core.audit import SYSTEM, Actor
from contractor.properties.actions import hand_over, make_owner_link
from contractor.properties.models import Ownership, Person
from contractor.warranties.actions.claim_questions import ask_owner
from contractor.warranties.actions.claims import decide_claim, report_claim
from contractor.warranties.claim_tables import ClaimAppeal, ClaimQuestion
from contractor.warranties.models import Claim, ClaimPhoto, Warranty
from tests.portal.conftest import OpenHouse

GPS_IFD = 0x8825


def phone_photo(color: str = "navy") -> bytes:
    """A JPEG with a position in it, as phones make them (Exif 2.3, GPS IFD)."""
    exif = Image.Exif()
    exif[GPS_IFD] = {1: "N", 2: (41.0, 30.0, 0.0)}
    out = BytesIO()
    Image.new("RGB", (640, 480), color).save(out, "JPEG", exif=exif)
    return out.getvalue()


def sent(content: bytes, name: str = "IMG_0042.jpg") -> SimpleUploadedFile:
    return SimpleUploadedFile(name, content, content_type="image/jpeg")


def given(**changes: Any) -> dict[str, Any]:
    return {
        "part_kind": "primary_pump",
        "lost_on": "2026-04-20",
        "what": "It hums and moves no water.",
        "photos": [sent(phone_photo("navy")), sent(phone_photo("gray"))],
        **changes,
    }


@pytest.fixture
def address(warranty: Warranty) -> str:
    return reverse("portal:report_claim", args=[warranty.pk])


@pytest.fixture
def claim(hers: Client, address: str) -> Claim:
    answer = hers.post(address, given())
    claim = Claim.objects.get()
    assert answer["Location"] == reverse("portal:claim", args=[claim.pk])
    return claim


def test_a_report_keeps_the_words_and_every_photo_with_its_original(claim: Claim, ownership: Ownership) -> None:
    assert (claim.part_kind, claim.lost_on, claim.cause) == ("primary_pump", date(2026, 4, 20), "not_known")
    originals = {phone_photo("navy"), phone_photo("gray")}
    assert claim.photos.count() == 2
    for photo in claim.photos.all():
        assert photo.sent_by == f"owner:{ownership.person_id}"
        with photo.original.open("rb") as file:
            content = file.read()
        assert content in originals
        assert hashlib.sha256(content).hexdigest() == photo.original_sha256
        with photo.shown.open("rb") as file, Image.open(file) as shown:
            assert not shown.getexif()


def test_the_same_photo_twice_is_kept_once(hers: Client, address: str) -> None:
    hers.post(address, given(photos=[sent(phone_photo()), sent(phone_photo())]))
    assert ClaimPhoto.objects.count() == 1


def test_a_report_without_a_photo_is_taken(hers: Client, address: str) -> None:
    hers.post(address, given(photos=[]))
    assert Claim.objects.get().photos.count() == 0


REFUSED = [
    ({"photos": [sent(b"%PDF-1.7", "invoice.pdf")]}, "invoice.pdf is not a photo that can be read"),
    ({"photos": [sent(phone_photo()[:-900])]}, "is not a photo that can be read"),
    ({"photos": [sent(b"x" * (MOST_BYTES + 1))]}, "where 25 MB is the most"),
    ({"photos": [sent(phone_photo()) for _ in range(7)]}, "These are 7 photos; send 6 at most"),
    ({"lost_on": "2027-01-01"}, "be reported before it happened"),
    ({"part_kind": "pit_of_another_house"}, "Select a valid choice"),
]


@pytest.mark.parametrize(("changes", "sentence"), REFUSED)
def test_what_can_not_be_taken_is_refused_in_words_and_nothing_typed_is_lost(
    hers: Client, address: str, changes: dict[str, Any], sentence: str
) -> None:
    for file in changes.get("photos", []):
        file.seek(0)
    page = hers.post(address, given(**changes)).content.decode()
    assert sentence in page
    assert "It hums and moves no water." in page
    assert not Claim.objects.exists()


def test_a_photo_of_more_than_ten_megabytes_is_taken(hers: Client, address: str) -> None:
    # What follows the end marker of a JPEG is no picture; readers skip it (ITU-T T.81, B.1.1.3, from memory).
    hers.post(address, given(photos=[sent(phone_photo() + b"\0" * 11 * 1024 * 1024)]))
    assert ClaimPhoto.objects.get().original.size > 10 * 1024 * 1024


def test_the_page_says_how_it_stands_before_and_after_the_decision(
    claim: Claim, hers: Client, nora: User, at: datetime
) -> None:
    page = reverse("portal:claim", args=[claim.pk])
    assert "The office is looking at it" in hers.get(page).content.decode()
    assert "licensed electrician" in hers.get(page).content.decode()
    decided = decide_claim(claim_id=claim.pk, cost=Decimal(100), by_user=nora, at=at, cause="part_failed")
    shown = hers.get(page).content.decode()
    assert decided.decision is not None
    assert decided.decision["lines"][0] in shown
    assert "Your claims" in hers.get(reverse("portal:house")).content.decode()


def test_the_office_sees_the_photos_beside_the_report(
    claim: Claim, nora: User, signed_in_as: Any, warranty: Warranty
) -> None:
    browser = signed_in_as(nora)
    photo = claim.photos.first()
    assert photo is not None
    picture = reverse("warranties:claim_photo", args=[claim.pk, photo.pk])
    assert picture in browser.get(reverse("warranties:claim", args=[claim.pk])).content.decode()
    assert browser.get(picture)["Content-Type"] == "image/jpeg"


def test_a_neighbour_finds_neither_form_nor_claim_nor_photo(
    claim: Claim, address: str, neighbour: Ownership, open_house: OpenHouse
) -> None:
    photo = claim.photos.first()
    assert photo is not None
    theirs = open_house(neighbour)
    paths = [reverse("portal:claim", args=[claim.pk]), reverse("portal:claim_photo", args=[claim.pk, photo.pk])]
    for path in [address, *paths]:
        assert theirs.get(path).status_code == 404
    assert theirs.post(address, given()).status_code == 404
    assert Claim.objects.count() == 1


def test_a_photo_is_not_found_under_another_claim(
    claim: Claim, hers: Client, warranty: Warranty, office: Actor, at: datetime
) -> None:
    another = report_claim(
        warranty_id=warranty.pk, part_kind="pit", lost_on=claim.lost_on, reported_on=claim.reported_on,
        what="Cracked.", cause="not_known", by=office, at=at,
    )  # fmt: skip
    photo = claim.photos.first()
    assert photo is not None
    assert hers.get(reverse("portal:claim_photo", args=[another.pk, photo.pk])).status_code == 404


def test_after_a_sale_neither_the_old_nor_the_new_owner_reads_the_old_claim(
    claim: Claim, hers: Client, ownership: Ownership, buyer: Person, office: Actor, at: datetime, open_house: OpenHouse
) -> None:
    later = hand_over(property_id=ownership.property_id, person_id=buyer.pk, on=claim.reported_on, by=office, at=at)
    path = reverse("portal:claim", args=[claim.pk])
    assert hers.get(path)["Location"] == reverse("portal:ask_link")
    assert open_house(later).get(path).status_code == 404


def test_more_photos_ask_no_more_queries(claim: Claim, hers: Client) -> None:
    counts = []
    page = reverse("portal:claim", args=[claim.pk])
    for photos in (claim.photos.all(), claim.photos.all()[:1]):
        ClaimPhoto.objects.exclude(pk__in=[photo.pk for photo in photos]).delete()
        with CaptureQueriesContext(connection) as seen:
            hers.get(page)
        counts.append(len(seen))
    assert counts[0] == counts[1] <= 13


@pytest.fixture
def question(claim: Claim, nora: User, at: datetime) -> ClaimQuestion:
    return ask_owner(claim_id=claim.pk, words="When did you see it first?", by_user=nora, at=at)


def test_a_question_is_answered_from_the_page_with_photos(
    claim: Claim, question: ClaimQuestion, hers: Client, ownership: Ownership
) -> None:
    assert "We have asked you something" in hers.get(reverse("portal:house")).content.decode()
    assert "When did you see it first?" in hers.get(reverse("portal:claim", args=[claim.pk])).content.decode()
    path = reverse("portal:claim_answer", args=[claim.pk, question.pk])
    refused = hers.post(path, {"answer": "Last week.", "photos": [sent(b"%PDF-1.7", "bill.pdf")]}).content.decode()
    assert "bill.pdf is not a photo that can be read" in refused
    assert "Last week." in refused
    answer = hers.post(path, {"answer": "Last week.", "photos": [sent(phone_photo("maroon"))]})
    assert answer["Location"] == reverse("portal:claim", args=[claim.pk])
    question.refresh_from_db()
    assert (question.answer, question.answered_by) == ("Last week.", f"owner:{ownership.person_id}")
    assert question.photos.count() == 1
    again = hers.post(path, {"answer": "In March."}).content.decode()
    assert "Last week." in again
    question.refresh_from_db()
    assert question.answer == "Last week."


@pytest.fixture
def refused(claim: Claim, nora: User, at: datetime) -> Claim:
    return decide_claim(claim_id=claim.pk, cost=Decimal(100), by_user=nora, at=at, cause="unplugged")


def test_a_decision_is_appealed_from_the_page_once(refused: Claim, hers: Client) -> None:
    page = reverse("portal:claim", args=[refused.pk])
    path = reverse("portal:claim_appeal", args=[refused.pk])
    # Sixty days after May 4, run on to a business day; see test_rules_appeals.
    assert "You can appeal through <strong>July 6, 2026</strong>" in hers.get(page).content.decode()
    assert "This field is required" in hers.post(path, {"words": ""}).content.decode()
    hers.post(path, {"words": "It was plugged in.", "photos": [sent(phone_photo("olive"))]})
    kept = ClaimAppeal.objects.get()
    assert (kept.way, kept.words, kept.photos.count()) == ("page", "It was plugged in.", 1)
    assert "Your appeal is being looked at" in hers.get(page).content.decode()
    assert "is with us" in hers.get(path).content.decode()
    assert "There is an appeal of this claim already" in hers.post(path, {"words": "Again."}).content.decode()
    assert ClaimAppeal.objects.count() == 1


def test_after_the_last_day_the_page_says_so_and_takes_none(
    refused: Claim, ownership: Ownership, monkeypatch: pytest.MonkeyPatch
) -> None:
    late = datetime(2026, 7, 7, 15, tzinfo=UTC)
    monkeypatch.setattr(clock, "today", late.date)
    monkeypatch.setattr(clock, "now", lambda: late)
    hers = Client()
    hers.post(reverse("portal:link", args=[make_owner_link(ownership_id=ownership.pk, by=SYSTEM, at=late)]))
    path = reverse("portal:claim_appeal", args=[refused.pk])
    assert "Appeal this decision" not in hers.get(reverse("portal:claim", args=[refused.pk])).content.decode()
    assert "An appeal was possible through July 6, 2026" in hers.get(path).content.decode()
    page = hers.post(path, {"words": "It was plugged in."}).content.decode()
    assert "that day has passed" in page
    assert "It was plugged in." in page
    assert not ClaimAppeal.objects.exists()


def test_what_is_not_decided_has_nothing_to_appeal(claim: Claim, hers: Client) -> None:
    path = reverse("portal:claim_appeal", args=[claim.pk])
    assert "not decided yet" in hers.get(path).content.decode()
    assert "nothing to appeal" in hers.post(path, {"words": "No."}).content.decode()


def test_the_letter_is_the_owners_and_the_offices_and_nobody_elses(
    refused: Claim,
    question_of: Any,
    hers: Client,
    nora: User,
    signed_in_as: Any,
    neighbour: Ownership,
    open_house: OpenHouse,
) -> None:
    letter = refused.letters.get()
    theirs = open_house(neighbour)
    own = reverse("portal:claim_letter", args=[refused.pk, letter.pk])
    body = b"".join(hers.get(own).streaming_content)  # type: ignore[arg-type]
    desk = signed_in_as(nora).get(reverse("warranties:claim_letter", args=[refused.pk, letter.pk]))
    assert body.startswith(b"%PDF-")
    assert b"".join(desk.streaming_content) == body
    for path in (
        own,
        reverse("portal:claim_appeal", args=[refused.pk]),
        reverse("portal:claim_answer", args=[refused.pk, question_of(refused).pk]),
    ):
        assert theirs.get(path).status_code == 404
        assert theirs.post(path, {"words": "x", "answer": "x"}).status_code in {404, 405}
    assert not ClaimAppeal.objects.exists()


@pytest.fixture
def question_of(nora: User, at: datetime) -> Any:
    return lambda claim: ClaimQuestion.objects.create(claim=claim, words="Since when?", asked_at=at, asked_by=nora)
