"""Reads about notices."""

from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from django.conf import settings
from django.db.models import Exists, OuterRef, QuerySet

from contractor.notices import made_above
from contractor.notices.models import Notice, OptOut, ReceivedText
from contractor.notices.rules.channels import ABOUT_VISITS, COMMERCIAL, Reach, dialled
from contractor.notices.rules.zones import zones_of
from contractor.properties.models import Ownership, Person, Property
from contractor.properties.positions import position_of

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
    """E-mails and texts whose hour has come, oldest first."""
    waiting = Notice.objects.to_send(at).exclude(channel=Notice.Channel.LETTER)
    return list(waiting.order_by("queued_at").values_list("pk", flat=True)[:most])


def letters_to_post() -> QuerySet[Notice]:
    """Letters that wait to be printed and posted, oldest first."""
    waiting = Notice.objects.filter(channel=Notice.Channel.LETTER, state=Notice.State.QUEUED)
    return waiting.select_related("person", "property").order_by("queued_at", "pk")


def letters_to_former_owners() -> QuerySet[Notice]:
    """Of these the ones to people who have sold the house that they are about: nobody meets them there any more."""
    theirs = Ownership.objects.filter(property=OuterRef("property"), person=OuterRef("person"))
    return letters_to_post().filter(Exists(theirs), ~Exists(theirs.open_ended()))


def reach_of(person: Person) -> Reach:
    """How a person can be reached today."""
    number = dialled(person.phone)
    return Reach(
        email=person.email,
        number=number,
        wants_email=person.wants_email,
        wants_texts=person.wants_texts,
        stopped_texts=bool(number) and OptOut.objects.standing(OptOut.What.TEXTS, number).exists(),
    )


def people_with_number(number: str) -> list[Person]:
    """Whoever has this number, such as +15555550142, however it is written on record."""
    ends = number[-4:]
    return [person for person in Person.objects.filter(phone__contains=ends) if dialled(person.phone) == number]


def stopped_offers(email: str) -> bool:
    """Whether offers are not wanted at an e-mail address."""
    return OptOut.objects.standing(OptOut.What.OFFERS, email).exists()


def zones_at(house: Property | None) -> tuple[ZoneInfo, ...]:
    """The time zone in which whoever is written to about a house is taken to live; the company's without a house."""
    if house is None:
        return (ZoneInfo(settings.TIME_ZONE),)
    known = position_of(house)
    position = (known.latitude, known.longitude) if known is not None else None
    return zones_of(house.state, position, otherwise=settings.TIME_ZONE)


def is_present_owner(notice: Notice) -> bool:
    """Whether the reader of a message owns the house it is about now."""
    return Ownership.objects.open_ended().filter(property=notice.property_id, person=notice.person_id).exists()


def no_longer(notice: Notice, at: datetime) -> str:
    """Why a message is not to go out any more; empty when it is."""
    if notice.not_after is not None and notice.not_after < at:
        return "It would have come too late to be of use."
    if notice.template in ABOUT_VISITS and not is_present_owner(notice):
        return "Its reader doesn't own the house any more."
    if notice.template in COMMERCIAL and stopped_offers(notice.address):
        return "Offers are not wanted at this address any more."
    return made_above.doubt(notice, at)


def days_post(*, at: datetime) -> list[tuple[Notice, Letter]]:
    """The letters of a day's post, without those that say what is no longer so."""
    return [(notice, letter_of(notice)) for notice in letters_to_post() if not no_longer(notice, at)]


def answers_waiting() -> QuerySet[ReceivedText]:
    """Answers to texts that a person has to read, oldest first."""
    waiting = ReceivedText.objects.filter(settled_at__isnull=True).select_related("person")
    return waiting.order_by("received_at", "pk")
