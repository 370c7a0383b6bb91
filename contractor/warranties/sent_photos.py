"""A photo as it came from outside, checked and ready to be kept."""

from dataclasses import dataclass

from contractor.checkups.photos import CheckedPhoto


@dataclass(frozen=True, slots=True, kw_only=True)
class SentPhoto:
    """The bytes exactly as they came, and what was made of them to be shown."""

    content: bytes
    checked: CheckedPhoto
