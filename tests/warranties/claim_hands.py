"""What tests of claims send in: photos that no two are alike."""

from io import BytesIO

from PIL import Image

from contractor.checkups.photos import check_photo
from contractor.warranties.sent_photos import SentPhoto


def photo_bytes(color: str) -> bytes:
    out = BytesIO()
    Image.new("RGB", (320, 240), color).save(out, "JPEG")
    return out.getvalue()


def drawn_photo(color: str) -> SentPhoto:
    content = photo_bytes(color)
    return SentPhoto(content=content, checked=check_photo(content))
