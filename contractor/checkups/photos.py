"""Photos and documents that come from outside: what they are, and what of them may be shown.

The header decides before anything is decoded, because pixels set the memory bill, not bytes.
"""

import hashlib
import io
import warnings
from dataclasses import dataclass

from PIL import Image, ImageFile, ImageOps

from contractor.checkups.errors import PhotoTooLarge, UnreadableDocument, UnreadablePhoto

FORMATS = ("JPEG", "PNG", "WEBP")
MOST_BYTES = 25 * 1024 * 1024
MOST_PIXELS = 40_000_000
SHOWN_SIDE = 2048
DOCUMENT_BYTES = 10 * 1024 * 1024


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckedPhoto:
    """The original's hash and kind, and the re-encoded picture without position, comments or hidden content."""

    original_sha256: str
    original_suffix: str
    shown_jpeg: bytes
    width: int
    height: int


def check_photo(content: bytes) -> CheckedPhoto:
    """Reads a photo and makes the picture that may be shown, turned the right way up.

    Raises UnreadablePhoto for anything but a whole JPEG, PNG or WebP, and PhotoTooLarge over 25 MB or 40 megapixels.
    """
    if len(content) > MOST_BYTES:
        raise PhotoTooLarge(f"{len(content) / 1024 / 1024:.0f} MB, where 25 MB is the most")
    # WeasyPrint, once imported, lets Pillow fill up cut-off pictures with grey in the whole process; a photo that
    # came only in part has to be taken again.
    ImageFile.LOAD_TRUNCATED_IMAGES = False
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            with Image.open(io.BytesIO(content), formats=FORMATS) as opened:
                _refuse_too_many_pixels(opened.width, opened.height)
                suffix = (opened.format or "JPEG").lower()
                upright = ImageOps.exif_transpose(opened).convert("RGB")
    except (Image.DecompressionBombError, Image.DecompressionBombWarning) as bomb:
        raise PhotoTooLarge("more than 40 megapixels") from bomb
    except PhotoTooLarge:
        raise
    except Exception as problem:
        # Bytes that were damaged on their way make decoders raise anything: struct.error and TypeError were seen.
        raise UnreadablePhoto from problem
    upright.thumbnail((SHOWN_SIDE, SHOWN_SIDE))
    # A new image holds the pixels and nothing else of what came.
    clean = Image.new("RGB", upright.size)
    clean.paste(upright)
    encoded = io.BytesIO()
    clean.save(encoded, "JPEG", quality=85, optimize=True)
    return CheckedPhoto(
        original_sha256=hashlib.sha256(content).hexdigest(),
        original_suffix=suffix,
        shown_jpeg=encoded.getvalue(),
        width=clean.width,
        height=clean.height,
    )


def document_suffix(content: bytes) -> str:
    """What a document is, told by its bytes: pdf, jpeg, png or webp. UnreadableDocument for all else or over 10 MB."""
    if not content or len(content) > DOCUMENT_BYTES:
        raise UnreadableDocument
    if content.startswith(b"%PDF-"):
        return "pdf"
    try:
        return check_photo(content).original_suffix
    except (UnreadablePhoto, PhotoTooLarge) as problem:
        raise UnreadableDocument from problem


def _refuse_too_many_pixels(width: int, height: int) -> None:
    if width * height > MOST_PIXELS:
        raise PhotoTooLarge(f"{width * height / 1_000_000:.0f} megapixels, where 40 is the most")
