"""What people do at the pages, in the words of a story: press, read, answer a card, sign, open the mail."""

import io
import re
from collections.abc import Collection

from django.core import mail
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.mail import EmailMultiAlternatives
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse
from PIL import Image
from pypdf import PdfReader

from contractor.checkups.models import ChecklistItem, CheckUp
from contractor.notices.models import Notice

# What the gauges show at a system in good order: typed figure, and seconds for the timed tests.
READINGS: dict[str, tuple[str, str]] = {
    "room-temperature": ("58", ""),
    "room-humidity": ("50", ""),
    "channel-silt": ("0.2", ""),
    "pit-silt": ("0.5", ""),
    "pit-rise": ("2", "300"),
    "switch-range": ("8.5", ""),
    "primary-cycles": ("2", ""),
    "primary-pump-down": ("8", "14"),
    "primary-current": ("8.7", ""),
    "primary-run-hours": ("160", ""),
    "primary-starts": ("21000", ""),
    "charger-float-volts-lead": ("13.5", ""),
    "battery-rest-volts-sealed": ("12.8", ""),
    "battery-load-test": ("10.3", ""),
    "battery-capacity": ("74", ""),
    "battery-power-cuts": ("1", ""),
    "standby-cycles": ("2", ""),
    "standby-pump-down": ("8", "22"),
    "standby-current": ("11.5", ""),
    "alarm-sounds": ("", "4"),
    "ring-drain": ("", "50"),
    "line-slope": ("0.2", ""),
}


def press(browser: Client, address: str, **typed: object) -> str:
    """Sends a form that is expected to go through; gives the address that it leads to."""
    answer = browser.post(address, typed)
    assert answer.status_code == 302, why(answer)
    return str(answer["Location"])


def page(browser: Client, address: str) -> str:
    answer = browser.get(address)
    assert answer.status_code == 200, address
    return answer.content.decode()


def pdf_words(browser: Client, address: str) -> str:
    answer = browser.get(address)
    assert answer.status_code == 200, address
    assert answer["Content-Type"] == "application/pdf"
    body = b"".join(answer) if answer.streaming else answer.content
    return " ".join(" ".join(page.extract_text() for page in PdfReader(io.BytesIO(body)).pages).split())


def in_words(answer: HttpResponse) -> str:
    """The page as it is read, without its tags."""
    return " ".join(re.sub(r"<[^>]+>", "", answer.content.decode()).split())


def why(answer: HttpResponse) -> str:
    return f"{answer.status_code}: {in_words(answer)[-1500:]}"


def mail_to(address: str, template: str) -> list[EmailMultiAlternatives]:
    """What reached a mailbox for one reason, the oldest first."""
    subjects = set(
        Notice.objects.filter(template=template, address=address, state=Notice.State.SENT).values_list(
            "subject", flat=True
        )
    )
    return [one for one in mail.outbox if one.to == [address] and one.subject in subjects]


def secret_link(message: EmailMultiAlternatives) -> str:
    found = re.search(r"https?://[^/\s]+(/home/link/[\w-]{40,}/)", str(message.body))
    assert found is not None, message.body
    return found[1]


def photo(of: int) -> SimpleUploadedFile:
    """A picture unlike any other: its shade is the number of what it shows."""
    kept = io.BytesIO()
    Image.new("RGB", (320, 240), (of % 256, of // 256, 128)).save(kept, "JPEG")
    return SimpleUploadedFile("basement.jpg", kept.getvalue(), content_type="image/jpeg")


def begin(tablet: Client, *, street: str) -> CheckUp:
    """The technician opens the round and starts its first stop, which is in this street."""
    round_page = page(tablet, reverse("checkups:my_round"))
    assert street in round_page
    found = re.search(r'action="(/checkups/stops/\d+/begin/)"', round_page)
    assert found is not None
    address = press(tablet, found[1])
    return CheckUp.objects.get(pk=int(address.strip("/").split("/")[-1]))


def cards(tablet: Client, checkup: CheckUp) -> list[tuple[str, ChecklistItem]]:
    """The cards as they stand on the page: key and item."""
    keys = re.findall(r'<article class="item[^"]*" id="line-([\d-]+)"', page(tablet, f"/checkups/{checkup.pk}/"))
    items = ChecklistItem.objects.in_bulk()
    return [(key, items[int(key.partition("-")[0])]) for key in keys]


def answer_card(tablet: Client, checkup: CheckUp, key: str, item: ChecklistItem, **instead: str) -> str:
    """Answers one card as the tablet does; gives the card that comes back."""
    if item.kind == "photo":
        address = reverse("checkups:photo_add", args=[checkup.pk, key])
        answer = tablet.post(address, {"photo": photo(item.pk)}, headers={"HX-Request": "true"})
    else:
        typed, seconds = READINGS.get(item.code, ("", ""))
        given = {
            "check": {"condition": "good"},
            "note": {"text": "Nothing has happened since last year."},
        }.get(item.kind, {"typed": typed, "unit": item.unit_us, "seconds": seconds})
        address = reverse("checkups:answer", args=[checkup.pk, key])
        answer = tablet.post(address, {**given, **instead}, headers={"HX-Request": "true"})
    assert answer.status_code == 200, item.code
    card = answer.content.decode()
    assert 'role="alert"' not in card, f"{item.code}: {why(answer)}"
    return card


def answer_all(tablet: Client, checkup: CheckUp, *, but: Collection[str] = ()) -> None:
    """Answers every card as a system in good order does."""
    for key, item in cards(tablet, checkup):
        if key in but:
            continue
        card = answer_card(tablet, checkup, key, item)
        assert "Write it down for the owner" not in card, f"{item.code} is not good: {card}"


def sign_and_finish(tablet: Client, checkup: CheckUp, *, name: str) -> None:
    strokes = "[[[0.1, 0.5], [0.2, 0.3], [0.3, 0.7], [0.5, 0.4]], [[0.6, 0.5], [0.8, 0.45]]]"
    press(tablet, reverse("checkups:sign", args=[checkup.pk]), kind="drawn", name=name, strokes=strokes)
    assert press(tablet, reverse("checkups:finish", args=[checkup.pk])) == reverse("checkups:my_round")
    checkup.refresh_from_db()
    assert checkup.finished_at is not None
    assert CheckUp.objects.with_passed().get(pk=checkup.pk).is_passed
