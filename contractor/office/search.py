"""Finds a house while the caller talks: by street, owner, telephone or the number on a paper or a part."""

import re
from dataclasses import dataclass
from datetime import date

from django.db.models import Case, Prefetch, Q, Value, When

from contractor.plans.models import Invoice
from contractor.properties.models import Ownership, Property
from contractor.properties.queries import BETWEEN_DIGITS, only_digits, people_with_phone
from contractor.systems.models import Component
from contractor.warranties.models import Certificate, Warranty
from contractor.warranties.numbers import display_number
from contractor.warranties.printed_codes import display_warranty_number, normal_code

# A year and up to nine digits, as many as the database takes.
INVOICE = re.compile(r"(20\d\d)\s*[-–/]\s*(\d{1,9})")
MOST = 20
LONGEST = 100
SEARCHED = "street, town, owner, telephone, serial number, warranty, certificate and invoice number"


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundHouse:
    """One house with whoever answers for it; ``because`` says what matched when the line doesn't show it."""

    property_id: int
    address_line: str
    owner: str
    phone: str
    because: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Findings:
    """What was found for the words typed; ``there_are_more`` when not all fit."""

    words: str
    houses: tuple[FoundHouse, ...]
    there_are_more: bool

    @property
    def may_be_an_address(self) -> bool:
        """Whether a new house could be registered from these words."""
        return any(sign.isdigit() for sign in self.words) and any(sign.isalpha() for sign in self.words)


def find_houses(*, typed: str, on: date) -> Findings:
    """At most twenty houses, exact numbers first. The number of queries depends on the words, not on the results."""
    words = " ".join(typed.split())[:LONGEST]
    if not words:
        return Findings(words="", houses=(), there_are_more=False)
    because: dict[int, str] = {}
    if any(sign.isdigit() for sign in words):
        because |= _by_number(words)
        because |= {house: text for house, text in _by_phone(words).items() if house not in because}
    for house in _by_address_or_owner(words):
        because.setdefault(house, "")
    ids = list(because)
    houses = _houses(ids[:MOST])
    found = tuple(_found(houses[house], words, because[house], on) for house in ids[:MOST] if house in houses)
    return Findings(words=words, houses=found, there_are_more=len(ids) > MOST)


def _by_number(words: str) -> dict[int, str]:
    """Serial numbers as typed; warranty and certificate numbers in any case, with or without spaces and dashes."""
    because: dict[int, str] = {}
    plain = normal_code(words)
    if len(plain) >= 3:
        certificates = Certificate.objects.filter(number__startswith=plain)
        for house, number in certificates.values_list("warranty__system__property_id", "number")[: MOST + 1]:
            because.setdefault(house, f"Certificate {display_number(number)}")
        warranties = Warranty.objects.filter(number__startswith=plain)
        for house, number in warranties.values_list("system__property_id", "number")[: MOST + 1]:
            because.setdefault(house, f"Warranty {display_warranty_number(number)}")
        because |= {house: text for house, text in _by_invoice(words).items() if house not in because}
        parts = Component.objects.filter(serial_number__istartswith=words).select_related("system")
        for part in parts.order_by("serial_number", "pk")[: MOST + 1]:
            gone = "" if part.out_on is None else ", taken out"
            because.setdefault(
                part.system.property_id, f"{part.kind.word.capitalize()}, serial number {part.serial_number}{gone}"
            )
    return because


def _by_invoice(words: str) -> dict[int, str]:
    """An invoice or credit note by its year and its running number, with or without the zeros before it."""
    typed = INVOICE.fullmatch(words)
    if typed is None:
        return {}
    found = Invoice.objects.filter(year=int(typed[1]), sequence=int(typed[2])).select_related("agreement").first()
    if found is None:
        return {}
    word = "Credit note" if found.is_credit_note else "Invoice"
    return {found.agreement.property_id: f"{word} {found.number}"}


def _by_phone(words: str) -> dict[int, str]:
    digits = only_digits(words)
    if len(digits) < 4 or any(not sign.isdigit() and sign not in BETWEEN_DIGITS for sign in words):
        return {}
    calling = people_with_phone(digits).values("pk")
    owned = Ownership.objects.filter(person__in=calling).order_by("-from_on", "pk")
    rows = owned.values_list("property_id", "person__name", "person__phone")[: MOST + 1]
    return {house: f"{name}, {phone}" for house, name, phone in rows}


def _by_address_or_owner(words: str) -> list[int]:
    wanted = Q()
    for word in words.split():
        wanted &= (
            Q(street__icontains=word)
            | Q(unit__icontains=word)
            | Q(city__icontains=word)
            | Q(postcode__istartswith=word)
            | Q(ownerships__person__name__icontains=word)
        )
    starts_so = Case(When(street__istartswith=words, then=Value(0)), default=Value(1))
    matching = Property.objects.filter(wanted).annotate(rank=starts_so).order_by("rank", "by_street", "pk")
    return list(matching.distinct().values_list("pk", flat=True)[: MOST + 1])


def _houses(ids: list[int]) -> dict[int, Property]:
    owners = Ownership.objects.select_related("person").order_by("-from_on", "-pk")
    return Property.objects.prefetch_related(Prefetch("ownerships", queryset=owners, to_attr="owners")).in_bulk(ids)


def _found(house: Property, words: str, because: str, on: date) -> FoundHouse:
    owners: list[Ownership] = house.owners  # type: ignore[attr-defined]  # prefetched above
    present = next((owner for owner in owners if owner.until_on is None or owner.until_on > on), None)
    if not because:
        shown = f"{house.address_line} {present.person.name if present else ''}".casefold()
        hidden = [word for word in words.casefold().split() if word not in shown]
        former = (owner.person.name for owner in owners if owner is not present)
        names = [name for name in former if any(word in name.casefold() for word in hidden)]
        because = f"Former owner: {names[0]}" if names else ""
    return FoundHouse(
        property_id=house.pk,
        address_line=house.address_line,
        owner=present.person.name if present else "",
        phone=present.person.phone if present else "",
        because=because,
    )
