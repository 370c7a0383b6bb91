"""Photos: judged by their header, shown anew without what they carried, kept as they came, seen by few."""

import io
import struct
import zlib
from collections.abc import Callable
from datetime import datetime

import pytest
from django.test import Client
from django.urls import reverse
from PIL import Image

from contractor.accounts.models import User
from contractor.checkups.actions.checkup import add_photo
from contractor.checkups.errors import PhotoTooLarge, UnreadablePhoto
from contractor.checkups.models import CheckUp, Photo
from contractor.checkups.photos import check_photo
from tests.checkups import factories as made

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
    assert signed_in_as(ana).get(address).status_code == 404
    assert Client().get(address).status_code == 302


def test_a_refused_picture_leaves_nothing_behind(checkup: CheckUp, at: datetime) -> None:
    row, _ = made.line(checkup, "room-photo")
    with pytest.raises(UnreadablePhoto):
        add_photo(checkup_id=checkup.pk, content=b"<svg/>", by_user=checkup.technician, at=at, item_id=row.pk)
    assert not Photo.objects.exists()
