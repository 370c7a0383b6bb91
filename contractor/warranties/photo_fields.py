"""The field of a form in which several photos are chosen at once."""

from typing import Any

from django import forms

from contractor.checkups.errors import PhotoTooLarge, UnreadablePhoto
from contractor.checkups.photos import MOST_BYTES, check_photo
from contractor.warranties.sent_photos import SentPhoto

MOST_PHOTOS = 6
CHOOSE_AGAIN = "What you typed is still here; choose the photos once more."


class ManyFiles(forms.FileInput):
    """A file input that takes several files."""

    allow_multiple_selected = True


class PhotosField(forms.FileField):
    """Photos, each checked and re-encoded; refused by number and size before any byte is decoded."""

    def __init__(self) -> None:
        super().__init__(
            required=False,
            label="Photos (optional)",
            help_text=f"Up to {MOST_PHOTOS}: JPEG, PNG or WebP, 25 MB each. From where it is dry and safe to stand.",
            widget=ManyFiles(attrs={"accept": "image/jpeg,image/png,image/webp"}),
        )

    def clean(self, data: Any, initial: Any = None) -> list[SentPhoto]:
        files = [super(PhotosField, self).clean(one, initial) for one in data or []]
        if len(files) > MOST_PHOTOS:
            raise forms.ValidationError(f"These are {len(files)} photos; send {MOST_PHOTOS} at most. {CHOOSE_AGAIN}")
        return [_checked(file) for file in files]


def _checked(file: Any) -> SentPhoto:
    try:
        if file.size > MOST_BYTES:
            raise PhotoTooLarge(f"{file.size / 1024 / 1024:.0f} MB, where 25 MB is the most")
        content = bytes(file.read())
        return SentPhoto(content=content, checked=check_photo(content))
    except UnreadablePhoto as problem:
        raise forms.ValidationError(
            f"{file.name} is not a photo that can be read (JPEG, PNG or WebP). {CHOOSE_AGAIN}"
        ) from problem
    except PhotoTooLarge as problem:
        raise forms.ValidationError(f"{file.name}: {problem.sentence} {CHOOSE_AGAIN}") from problem
