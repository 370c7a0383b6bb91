"""Reads about houses and the people who own them."""

from django.db.models import CharField, Prefetch, Q, QuerySet, Value
from django.db.models.expressions import Combinable, F
from django.db.models.functions import Replace

from contractor.properties.models import Ownership, Person, Property

# What people write between the digits of a telephone number.
BETWEEN_DIGITS = (" ", "-", "(", ")", ".", "+", "/", "\u2011", "\u2013")


def present_ownership(*, property_id: int) -> Ownership | None:
    """Who owns the house now, with the person; None while nobody is recorded."""
    return Ownership.objects.open_ended().filter(property_id=property_id).select_related("person", "property").first()


def houses_to_place(*, most: int) -> tuple[list[Property], int]:
    """Houses whose own position is not on record, those that a geocoder did not find first, and how many there are."""
    waiting = Property.objects.without_position()
    return list(waiting.order_by("-position_note", "city", "by_street", "pk")[:most]), waiting.count()


def houses_near(*, house: Property, latitude: float, longitude: float, most: int = 60) -> list[Property]:
    """Other houses with a position of their own, of the same postcode or within about ten kilometres of a point, for a
    map without pictures to be read by.
    """
    close = Q(latitude__range=(latitude - 0.09, latitude + 0.09), longitude__range=(longitude - 0.12, longitude + 0.12))
    known = Property.objects.filter(latitude__isnull=False).filter(close | Q(postcode=house.postcode))
    return list(known.exclude(pk=house.pk).order_by("by_street", "pk")[:most])


def only_digits(text: str) -> str:
    """The digits of a telephone number, in order: "(555) 555-0142" gives "5555550142"."""
    return "".join(character for character in text if character.isascii() and character.isdigit())


def people_with_phone(digits: str) -> QuerySet[Person]:
    """People whose telephone number contains these digits in a row, however it is written."""
    plain: Combinable = F("phone")
    for between in BETWEEN_DIGITS:
        plain = Replace(plain, Value(between), Value(""), output_field=CharField())
    return Person.objects.alias(plain_phone=plain).filter(plain_phone__contains=digits)


def people_like(*, name: str, email: str, phone: str) -> list[Person]:
    """People already registered who may be the one just typed: the same e-mail address, or name and telephone.

    Each has ``known_ownerships`` with their houses. At most five; a wrong guess costs more than a second row.
    """
    alike: set[int] = set()
    if email.strip():
        alike.update(Person.objects.filter(email=email.strip().lower()).values_list("pk", flat=True)[:5])
    digits = only_digits(phone)
    if len(digits) >= 7:
        same_name = people_with_phone(digits).filter(name__iexact=name.strip())
        alike.update(same_name.values_list("pk", flat=True)[:5])
    houses = Ownership.objects.select_related("property").order_by("-from_on")
    return list(
        Person.objects.filter(pk__in=alike)
        .prefetch_related(Prefetch("ownerships", queryset=houses, to_attr="known_ownerships"))
        .order_by("name", "pk")[:5]
    )
