"""Whatever is handed in as a photo is kept byte for byte; what it is not is said in a sentence, and holds up nobody."""

import io
import random
import struct
import zlib
from collections.abc import Callable
from datetime import datetime
from uuid import UUID

import pytest
from PIL import Image

from contractor.checkups.models import CheckUp, Photo
from contractor.checkups.photos import check_photo
from contractor.core.errors import Refusal
from contractor.systems.models import Component
from contractor.tablet.actions.photos import photo_state
from contractor.tablet.models import PhotoUpload, TabletVisit
from contractor.tablet.photo_store import content_of
from tests.checkups.factories import picture
from tests.tablet.hands import Tablet, sha256, whole_checkup

pytestmark = pytest.mark.django_db(transaction=True)

ORIENTATION, GPS = 0x0112, 0x8825  # CIPA DC-008 (EXIF 2.3), section 4.6.4
QUARTER_RIGHT = 6


def saved(image: Image.Image, kind: str, **words: object) -> bytes:
    out = io.BytesIO()
    image.save(out, kind, **words)
    return out.getvalue()


def png_of(width: int, height: int) -> bytes:
    """A PNG of one bit a pixel, all black, a few kilobytes long however large it unpacks (W3C PNG, third edition)."""

    def chunk(name: bytes, content: bytes) -> bytes:
        return struct.pack(">I", len(content)) + name + content + struct.pack(">I", zlib.crc32(name + content))

    packer = zlib.compressobj(9)
    row = bytes(1 + (width + 7) // 8)
    rows = b"".join(packer.compress(row) for _ in range(height)) + packer.flush()
    header = struct.pack(">IIBBBBB", width, height, 1, 0, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", rows) + chunk(b"IEND", b"")


def animated_png() -> bytes:
    frames = [Image.new("RGB", (40, 30), colour) for colour in ("red", "blue")]
    return saved(frames[0], "PNG", save_all=True, append_images=frames[1:])


def turned_jpeg() -> bytes:
    """Taken with the camera on its side: wider than high as stored, red at the left edge, with a position in it."""
    exif = Image.Exif()
    exif[ORIENTATION] = QUARTER_RIGHT
    exif.get_ifd(GPS)[2] = (40.0, 54.0, 17.0)
    image = Image.new("RGB", (64, 48), "white")
    image.paste("red", (0, 0, 16, 48))
    return saved(image, "JPEG", exif=exif, quality=95)


NO_PHOTO = "is not a photo that can be read"
REFUSED: dict[str, tuple[Callable[[], bytes], str]] = {
    "a bomb of 196 megapixels": (lambda: png_of(14_000, 14_000), "more than 40 megapixels"),
    "60 megapixels": (lambda: png_of(10_000, 6_000), "60 megapixels, where 40 is the most"),
    "a moving picture of another type": (lambda: saved(Image.new("P", (9, 9)), "GIF"), NO_PHOTO),
    "a paper": (lambda: b"%PDF-1.7\n" + b"x" * 400, NO_PHOTO),
    "a page": (lambda: b"<html><script>alert(1)</script></html>", NO_PHOTO),
    "a drawing": (lambda: b'<svg xmlns="http://www.w3.org/2000/svg"/>', NO_PHOTO),
    "half a photo": (lambda: picture("navy", (640, 480))[:-400], NO_PHOTO),
    "one byte": (lambda: b"\xff", NO_PHOTO),
}


def sent_with_a_checkup(tablet: Tablet, parts: dict[str, Component], content: bytes, at: datetime) -> str:
    """Hands in a whole check-up with one more photo, which nobody asked for; the photo's number."""
    whole_checkup(tablet, parts)
    number = tablet.photo(content)
    tablet.sign()
    tablet.finish()
    tablet.send(at)
    tablet.send_photos(at)
    return number


@pytest.mark.parametrize("what", REFUSED)
def test_what_is_no_photo_is_kept_and_told_and_holds_up_nobody(
    tablet: Tablet, parts: dict[str, Component], at: datetime, what: str
) -> None:
    made, told = REFUSED[what]
    content = made()
    number = sent_with_a_checkup(tablet, parts, content, at)
    # The tablet gets its receipt for the bytes it sent, so it may forget them ...
    assert photo_state(photo_id=UUID(number)).sha256 == sha256(content)
    # ... because they are kept as they came, ...
    upload = PhotoUpload.objects.get(pk=number)
    assert content_of(upload.file) == content
    assert upload.photo is None
    # ... the office is told what they are, and everything else counts.
    [problem] = TabletVisit.objects.get().problems
    assert (problem["code"], problem["field"]) == ("photo", f"photo:{number}")
    assert told in problem["sentence"]
    assert CheckUp.objects.get().finished_at is not None
    assert Photo.objects.count() == 1


def test_a_moving_picture_shows_its_first_frame(tablet: Tablet, parts: dict[str, Component], at: datetime) -> None:
    number = sent_with_a_checkup(tablet, parts, animated_png(), at)
    kept = PhotoUpload.objects.get(pk=number).photo
    assert kept is not None
    with Image.open(kept.shown) as shown:
        assert (shown.format, getattr(shown, "n_frames", 1)) == ("JPEG", 1)
        red, _, blue = shown.convert("RGB").getpixel((20, 15))
        assert red > 200
        assert blue < 60
    assert kept.original.read() == animated_png()


def test_a_photo_is_shown_upright_without_its_position_and_kept_as_it_was(
    tablet: Tablet, parts: dict[str, Component], at: datetime
) -> None:
    content = turned_jpeg()
    number = sent_with_a_checkup(tablet, parts, content, at)
    kept = PhotoUpload.objects.get(pk=number).photo
    assert kept is not None
    with Image.open(kept.shown) as shown:
        assert shown.size == (48, 64)
        assert dict(shown.getexif()) == {}
        # A quarter to the right: the left edge as stored is the top as seen.
        assert shown.convert("RGB").getpixel((24, 2))[1] < 60  # red
        assert shown.convert("RGB").getpixel((24, 60))[1] > 200  # white
    assert (kept.original_sha256, kept.original.read()) == (sha256(content), content)
    assert PhotoUpload.objects.get(pk=number).sha256 == sha256(content)


@pytest.mark.filterwarnings("ignore::UserWarning")  # Pillow tells of every tag that it skips
def test_damaged_bytes_make_a_photo_or_a_refusal_and_nothing_else() -> None:
    """Three thousand photos with a few bytes changed where the header and the camera's notes stand."""
    dice, bases, refused = random.Random(1), [turned_jpeg(), animated_png()], 0
    bases.append(saved(Image.open(io.BytesIO(turned_jpeg())), "WEBP", exif=Image.open(io.BytesIO(bases[0])).getexif()))
    for _ in range(3000):
        content = bytearray(dice.choice(bases))
        for _ in range(dice.randint(1, 6)):
            content[dice.randrange(min(len(content), 250))] = dice.choice([0, 255, dice.randrange(256)])
        try:
            assert check_photo(bytes(content)).shown_jpeg
        except Refusal:
            refused += 1
    assert 0 < refused < 3000
