"""Photos: judged by their header, shown anew without what they carried, kept as they came, seen by few."""

import hashlib
import io
import struct
import zlib
from collections.abc import Callable
from datetime import date, datetime
from uuid import uuid4

import pytest
from django.test import Client
from django.urls import reverse
from PIL import Image

from contractor.accounts.models import User
from contractor.checkups.actions.evidence import add_photo
from contractor.checkups.errors import NotYourVisit, PhotoAtAnotherCard, PhotoTooLarge, UnreadablePhoto
from contractor.checkups.models import CheckUp, Photo
from contractor.checkups.photos import check_photo
from tests.checkups import factories as made
from tests.factories import PropertyFactory, SystemFactory

GPS, ORIENTATION, MAKER = 0x8825, 0x0112, 0x010F  # tags of Exif 2.32


def camera_photo() -> bytes:
    """A JPEG of 60 by 40 that says "turn me a quarter", with a position, a maker and a comment."""
    picture = Image.new("RGB", (60, 40), "red")
    exif = Image.Exif()
    exif[ORIENTATION], exif[MAKER] = 6, "Somebody"
    exif.get_ifd(GPS)[2] = (40.0, 54.0, 17.0)
    out = io.BytesIO()
    picture.save(out, "JPEG", exif=exif, comment=b"secret words")
    return out.getvalue()


def png_header(width: int, height: int) -> bytes:
    """A PNG that only says how large it is (PNG 1.2, sections 3 and 4.1.1): some seventy bytes."""

    def chunk(kind: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))

    size = struct.pack(">IIBBBBB", width, height, 1, 0, 0, 0, 0)
    signature = b"\x89PNG\r\n\x1a\n"
    return signature + chunk(b"IHDR", size) + chunk(b"IDAT", zlib.compress(b"")) + chunk(b"IEND", b"")


def test_what_a_camera_adds_is_gone_and_the_picture_stands_upright() -> None:
    original = camera_photo()
    assert dict(Image.open(io.BytesIO(original)).getexif().get_ifd(GPS))
    checked = check_photo(original)
    shown = Image.open(io.BytesIO(checked.shown_jpeg))
    assert shown.format == "JPEG"
    assert dict(shown.getexif()) == {}
    assert (shown.size, checked.width, checked.height) == ((40, 60), 40, 60)
    assert b"secret words" in original
    assert b"secret words" not in checked.shown_jpeg


def test_the_orientation_of_the_camera_is_applied() -> None:
    """Exif 2.32, tag 0x0112, value 6: the first row of the stored picture is the right side of what was seen."""
    stored = Image.new("RGB", (60, 40), "blue")
    stored.paste("red", (0, 0, 60, 20))
    exif, out = Image.Exif(), io.BytesIO()
    exif[ORIENTATION] = 6
    stored.save(out, "JPEG", exif=exif, quality=95)
    seen = Image.open(io.BytesIO(check_photo(out.getvalue()).shown_jpeg))
    assert seen.size == (40, 60)
    left, right = (seen.convert("RGB").getpixel((x, 30)) for x in (5, 35))
    assert isinstance(left, tuple)
    assert isinstance(right, tuple)
    assert left[0] < 60
    assert left[2] > 200
    assert right[0] > 200
    assert right[2] < 60


def test_a_picture_of_49_megapixels_is_refused_though_it_is_whole_and_small() -> None:
    out = io.BytesIO()
    Image.new("1", (7000, 7000)).save(out, "PNG")
    assert len(out.getvalue()) < 10_000
    with pytest.raises(PhotoTooLarge) as refused:
        check_photo(out.getvalue())
    assert "49 megapixels" in refused.value.sentence


def test_more_than_25_megabytes_are_refused_unread() -> None:
    with pytest.raises(PhotoTooLarge):
        check_photo(made.picture() + b"\0" * 25 * 1024 * 1024)


@pytest.mark.parametrize("share", [0.3, 0.6, 0.95])
def test_a_photo_cut_off_on_its_way_is_refused_also_after_a_report_was_printed(share: float) -> None:
    import weasyprint  # noqa: F401  # importing it makes Pillow lenient in the whole process

    noise = Image.effect_noise((400, 300), 80)
    for kind in ("JPEG", "PNG", "WEBP"):
        out = io.BytesIO()
        noise.save(out, kind)
        whole = out.getvalue()
        assert check_photo(whole).width == 400
        with pytest.raises(UnreadablePhoto):
            check_photo(whole[: int(len(whole) * share)])


def test_the_longer_side_is_at_most_2048() -> None:
    checked = check_photo(made.picture(size=(4000, 1000)))
    assert (checked.width, checked.height) == (2048, 512)


@pytest.mark.parametrize(("width", "height"), [(60_000, 60_000), (8_000, 5_001), (15_000, 9_000)])
def test_too_many_pixels_are_refused_from_the_header(width: int, height: int) -> None:
    with pytest.raises(PhotoTooLarge):
        check_photo(png_header(width, height))


def test_bytes_hidden_behind_a_picture_are_not_shown() -> None:
    assert b"<script>" not in check_photo(made.picture() + b"<script>alert(1)</script>").shown_jpeg


def gif() -> bytes:
    out = io.BytesIO()
    Image.new("P", (8, 8)).save(out, "GIF")
    return out.getvalue()


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"no picture",
        b'<svg xmlns="http://www.w3.org/2000/svg"><script>1</script></svg>',
        gif(),
        b"%!PS-Adobe-3.0 EPSF-3.0\n",
        made.picture(size=(400, 300))[:900],
    ],
    ids=["empty", "text", "svg", "gif", "eps", "cut off"],
)
def test_what_is_no_whole_jpeg_png_or_webp_is_refused(content: bytes) -> None:
    with pytest.raises(UnreadablePhoto):
        check_photo(content)


@pytest.mark.parametrize("kind", ["PNG", "WEBP"])
def test_png_and_webp_are_shown_as_jpeg(kind: str) -> None:
    out = io.BytesIO()
    Image.new("RGBA", (20, 10), (255, 0, 0, 128)).save(out, kind)
    assert Image.open(io.BytesIO(check_photo(out.getvalue()).shown_jpeg)).format == "JPEG"


@pytest.fixture
def photo(checkup: CheckUp, at: datetime) -> Photo:
    row, _ = made.line(checkup, "room-photo")
    return add_photo(checkup_id=checkup.pk, content=camera_photo(), by_user=checkup.technician, at=at, item_id=row.pk)


def test_the_original_is_kept_as_it_came_and_once(photo: Photo, checkup: CheckUp, at: datetime) -> None:
    with photo.original.open("rb") as file:
        assert file.read() == camera_photo()
    assert photo.original_sha256 == hashlib.sha256(camera_photo()).hexdigest()
    assert (photo.width, photo.height) == (40, 60)
    again = add_photo(
        checkup_id=checkup.pk, content=camera_photo(), by_user=checkup.technician, at=at, item_id=photo.item_id
    )
    assert again == photo
    assert Photo.objects.count() == 1


def test_the_shown_picture_is_for_its_technician_and_the_desk(
    photo: Photo, theo: User, ana: User, nora: User, signed_in_as: Callable[[User], Client]
) -> None:
    address = reverse("checkups:photo", args=[photo.pk])
    for reader in (theo, nora):
        response = signed_in_as(reader).get(address)
        body = b"".join(response.streaming_content)  # type: ignore[attr-defined]
        assert (response.status_code, response["Content-Type"]) == (200, "image/jpeg")
        assert response["X-Content-Type-Options"] == "nosniff"
        assert "private" in response["Cache-Control"] or "no-store" in response["Cache-Control"]
        assert b"secret words" not in body
        assert dict(Image.open(io.BytesIO(body)).getexif()) == {}
        assert hashlib.sha256(body).hexdigest() != photo.original_sha256
    hers = signed_in_as(ana)
    foreign, missing = hers.get(address), hers.get(reverse("checkups:photo", args=[uuid4()]))
    assert (foreign.status_code, foreign.content) == (404, missing.content)
    assert Client().get(address).status_code == 302


def test_a_refused_picture_leaves_nothing_behind(checkup: CheckUp, at: datetime) -> None:
    row, _ = made.line(checkup, "room-photo")
    with pytest.raises(UnreadablePhoto):
        add_photo(checkup_id=checkup.pk, content=b"<svg/>", by_user=checkup.technician, at=at, item_id=row.pk)
    assert not Photo.objects.exists()


def test_the_same_photo_at_another_house_is_a_photo_of_its_own(
    photo: Photo, checkup: CheckUp, theo: User, on: date, at: datetime
) -> None:
    other = made.begun(SystemFactory(property=PropertyFactory(street="9 Elsewhere Road")), theo, on, at)
    again = add_photo(checkup_id=other.pk, content=camera_photo(), by_user=theo, at=at)
    assert again.pk != photo.pk
    assert Photo.objects.count() == 2


def test_another_technician_adds_no_photo(checkup: CheckUp, ana: User, at: datetime) -> None:
    with pytest.raises(NotYourVisit):
        add_photo(checkup_id=checkup.pk, content=made.picture(), by_user=ana, at=at)
    assert not Photo.objects.exists()


def test_one_picture_does_not_stand_for_two_cards(photo: Photo, checkup: CheckUp, at: datetime) -> None:
    row, _ = made.line(checkup, "mould")
    with pytest.raises(PhotoAtAnotherCard):
        add_photo(checkup_id=checkup.pk, content=camera_photo(), by_user=checkup.technician, at=at, item_id=row.pk)
    assert Photo.objects.get() == photo
