"""Reads about notices."""

from dataclasses import dataclass
from datetime import datetime

from contractor.notices.models import Notice

# Below this line an e-mail says who sends it; a letter says so at its head.
SIGNATURE = "\n-- \n"


@dataclass(frozen=True, slots=True, kw_only=True)
class Letter:
    """What is printed of a notice: the lines of its address, and its text without the sender at the end."""

    address: tuple[str, ...]
    text: str


def letter_of(notice: Notice) -> Letter:
    """The notice as a letter, to where its reader wants letters, else to the house."""
    lines = [notice.person.name]
    if notice.person.mail_address.strip():
        lines += notice.person.mail_address.strip().splitlines()
    elif notice.property is not None:
        house = notice.property
        lines += [house.street_line, f"{house.city}, {house.state} {house.postcode}"]
    return Letter(address=tuple(lines), text=notice.text.replace("\r\n", "\n").rpartition(SIGNATURE)[0] or notice.text)


def ids_to_send(*, at: datetime, most: int = 200) -> list[int]:
    """E-mails whose hour has come, oldest first."""
    waiting = Notice.objects.to_send(at).filter(channel=Notice.Channel.EMAIL)
    return list(waiting.order_by("queued_at").values_list("pk", flat=True)[:most])
