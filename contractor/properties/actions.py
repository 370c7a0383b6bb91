"""Writes about houses, people and who owns what."""

import hashlib
import logging
import secrets
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from django.db import transaction

from contractor.accounts.models import User
from contractor.core import audit, clock, renewal
from contractor.core.audit import SYSTEM, Actor
from contractor.properties.addresses import address_key
from contractor.properties.errors import AddressTaken, HandOverBeforePurchase, NoOwner, NotOnEarth, SameOwner
from contractor.properties.geocoding import Address, GeocoderFailed, geocoder
from contractor.properties.models import OwnerLink, Ownership, Person, Property

LINK_LASTS = timedelta(days=30)
Source = Property.PositionSource
logger = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True, kw_only=True)
class Located:
    """How many houses a geocoder found, and how many addresses it does not know."""

    found: int
    unknown: int


@transaction.atomic
def register_property(
    *,
    street: str,
    city: str,
    state: str,
    postcode: str,
    by: Actor,
    at: datetime,
    unit: str = "",
    country: str = "US",
    access_notes: str = "",
    latitude: float | None = None,
    longitude: float | None = None,
    position_source: str = "",
) -> Property:
    """Registers a house. Raises AddressTaken when one with the same normalised address is there already."""
    key = address_key(f"{street} {unit}".strip(), postcode)
    known = Property.objects.with_address(key).first()
    if known is not None:
        raise AddressTaken(known.address_line, known.pk)
    house = Property.objects.create(
        street=street.strip(),
        unit=unit.strip(),
        city=city.strip(),
        state=state.strip(),
        postcode=postcode.strip(),
        country=country,
        address_key=key,
        access_notes=access_notes.strip(),
        latitude=latitude,
        longitude=longitude,
        position_source=position_source,
        created_at=at,
    )
    audit.record(
        by=by, at=at, verb="house registered", subject=house, property_id=house.pk, after=audit.snapshot(house)
    )
    return house


@transaction.atomic
def change_property(
    *,
    property_id: int,
    street: str,
    city: str,
    state: str,
    postcode: str,
    by: Actor,
    at: datetime,
    unit: str = "",
    access_notes: str = "",
    latitude: float | None = None,
    longitude: float | None = None,
) -> Property:
    """Corrects address, position and access notes. Raises AddressTaken when another house stands there."""
    house = Property.objects.select_for_update().get(pk=property_id)
    before = audit.snapshot(house)
    key = address_key(f"{street} {unit}".strip(), postcode)
    other = Property.objects.with_address(key).exclude(pk=house.pk).first()
    if other is not None:
        raise AddressTaken(other.address_line, other.pk)
    has_moved = key != house.address_key
    if (latitude, longitude) != (house.latitude, house.longitude):
        house.position_source = Property.PositionSource.BY_HAND if latitude is not None else ""
    elif has_moved and house.position_source == Property.PositionSource.GEOCODED:
        # It was found from the address that was wrong.
        latitude, longitude, house.position_source = None, None, ""
    if has_moved:
        house.position_note = ""
    house.street, house.unit, house.city, house.state = street.strip(), unit.strip(), city.strip(), state.strip()
    house.postcode, house.address_key, house.access_notes = postcode.strip(), key, access_notes.strip()
    house.latitude, house.longitude = latitude, longitude
    house.save()
    audit.record(
        by=by,
        at=at,
        verb="house corrected",
        subject=house,
        property_id=house.pk,
        before=before,
        after=audit.snapshot(house),
    )
    return house


@transaction.atomic
def register_person(
    *,
    name: str,
    by: Actor,
    at: datetime,
    email: str = "",
    phone: str = "",
    mail_address: str = "",
    property_id: int | None = None,
) -> Person:
    """Registers a person, household or firm; ``property_id`` says in whose house's trail it is noted."""
    person = Person.objects.create(
        name=name.strip(),
        email=email.strip().lower(),
        phone=phone.strip(),
        mail_address=mail_address.strip(),
        created_at=at,
    )
    audit.record(
        by=by, at=at, verb="person registered", subject=person, property_id=property_id, after=audit.snapshot(person)
    )
    return person


@transaction.atomic
def change_person(
    *,
    person_id: int,
    name: str,
    by: Actor,
    at: datetime,
    email: str = "",
    phone: str = "",
    mail_address: str = "",
    wants_email: bool = True,
    property_id: int | None = None,
) -> Person:
    """Corrects how a person is called and reached."""
    person = Person.objects.select_for_update().get(pk=person_id)
    before = audit.snapshot(person)
    person.name, person.email, person.phone = name.strip(), email.strip().lower(), phone.strip()
    person.mail_address, person.wants_email = mail_address.strip(), wants_email
    person.save()
    audit.record(
        by=by,
        at=at,
        verb="person corrected",
        subject=person,
        property_id=property_id,
        before=before,
        after=audit.snapshot(person),
    )
    return person


@transaction.atomic
def begin_ownership(*, property_id: int, person_id: int, on: date, by: Actor, at: datetime) -> Ownership:
    """Records the first known owner of a house. Raises SameOwner when this person owns it already."""
    house = Property.objects.select_for_update().get(pk=property_id)
    present = house.ownerships.open_ended().first()
    if present is not None:
        if present.person_id == person_id:
            raise SameOwner
        return hand_over(property_id=property_id, person_id=person_id, on=on, by=by, at=at)
    ownership = Ownership.objects.create(property=house, person_id=person_id, from_on=on)
    audit.record(
        by=by, at=at, verb="owner recorded", subject=ownership, property_id=house.pk, after=audit.snapshot(ownership)
    )
    renewal.facts_changed(property_id=house.pk)
    return ownership


@transaction.atomic
def hand_over(*, property_id: int, person_id: int, on: date, by: Actor, at: datetime) -> Ownership:
    """Ends the present ownership on this day and begins the next; the seller's links stop opening the house.

    Raises NoOwner, SameOwner or HandOverBeforePurchase.
    """
    house = Property.objects.select_for_update().get(pk=property_id)
    present = house.ownerships.open_ended().first()
    if present is None:
        raise NoOwner
    if present.person_id == person_id:
        raise SameOwner
    if on <= present.from_on:
        raise HandOverBeforePurchase(present.from_on)
    before = audit.snapshot(present)
    present.until_on = on
    present.save()
    present.links.filter(revoked_at__isnull=True).update(revoked_at=at)
    ownership = Ownership.objects.create(property=house, person_id=person_id, from_on=on)
    audit.record(
        by=by,
        at=at,
        verb="ownership ended",
        subject=present,
        property_id=house.pk,
        before=before,
        after=audit.snapshot(present),
    )
    audit.record(
        by=by, at=at, verb="ownership begun", subject=ownership, property_id=house.pk, after=audit.snapshot(ownership)
    )
    renewal.facts_changed(property_id=house.pk)
    return ownership


@transaction.atomic
def make_owner_link(*, ownership_id: int, by: Actor, at: datetime, made_by: User | None = None) -> str:
    """Makes a secret link for the present owner and returns its token, which is kept nowhere.

    The token is 256 random bits; the table holds its SHA-256, which needs no slow hash at that length.
    """
    ownership = Ownership.objects.select_for_update().get(pk=ownership_id)
    token = secrets.token_urlsafe(32)
    link = OwnerLink.objects.create(
        ownership=ownership,
        token_sha256=token_sha256(token),
        made_at=at,
        made_by=made_by,
        expires_at=at + LINK_LASTS,
    )
    audit.record(
        by=by,
        at=at,
        verb="owner link made",
        subject=link,
        property_id=ownership.property_id,
        after={"ownership_id": ownership.pk, "expires_at": link.expires_at},
    )
    return token


@transaction.atomic
def revoke_owner_links(*, ownership_id: int, by: Actor, at: datetime) -> int:
    """Stops every link of this ownership from opening the house; returns how many there were."""
    ownership = Ownership.objects.select_for_update().get(pk=ownership_id)
    count = ownership.links.filter(revoked_at__isnull=True).update(revoked_at=at)
    audit.record(
        by=by,
        at=at,
        verb="owner links revoked",
        subject=ownership,
        property_id=ownership.property_id,
        after={"links": count},
    )
    return count


def open_owner_link(*, token: str, at: datetime) -> OwnerLink | None:
    """Notes that a link was used and returns it; None for a token that is wrong, expired or revoked.

    One statement decides, so that a link revoked in the same moment doesn't open.
    """
    wanted = OwnerLink.objects.usable(at).filter(token_sha256=token_sha256(token))
    OwnerLink.objects.filter(pk__in=wanted.values("pk")).update(last_opened_at=at)
    return wanted.select_related("ownership__property", "ownership__person").first()


def token_sha256(token: str) -> str:
    """What the table keeps of a token."""
    return hashlib.sha256(token.encode()).hexdigest()


@transaction.atomic
def place_property(*, property_id: int, latitude: float, longitude: float, by: Actor, at: datetime) -> Property:
    """Sets a house's position by hand. Raises NotOnEarth."""
    if not (-90 <= latitude <= 90 and -180 <= longitude <= 180):
        raise NotOnEarth
    house = Property.objects.select_for_update().get(pk=property_id)
    if (latitude, longitude) != (house.latitude, house.longitude) or house.position_source != Source.BY_HAND:
        before = audit.snapshot(house)
        house.latitude, house.longitude = latitude, longitude
        house.position_source, house.position_note = Source.BY_HAND, ""
        house.save()
        _position_recorded(house, before, "house put on the map", by=by, at=at)
    return house


def locate_missing(*, at: datetime, most: int = 200) -> Located:
    """Asks the geocoder for houses without a position, a few at a time; nothing happens where there is none.

    An address that it doesn't know is noted on the house and asked for again once the address is corrected. When it
    can't be asked, that is logged and the rest waits for the next time.
    """
    found = unknown = 0
    try:
        finder = geocoder()
        waiting = Property.objects.without_position().filter(position_note="").order_by("pk")
        for house in waiting[:most] if finder is not None else ():
            # Asked outside a transaction: the answer may take long.
            position = finder.find(_address(house)) if finder is not None else None
            found += _located(house, position, at=at)
            unknown += position is None
    except GeocoderFailed as problem:
        logger.warning("Positions wait: %s", problem)
    return Located(found=found, unknown=unknown)


def _address(house: Property) -> Address:
    return Address(
        street=house.street, city=house.city, state=house.state, postcode=house.postcode, country=house.country
    )


@transaction.atomic
def _located(asked: Property, position: tuple[float, float] | None, *, at: datetime) -> bool:
    """Writes down what the geocoder said, unless somebody was quicker or corrected the address meanwhile."""
    house = Property.objects.select_for_update().get(pk=asked.pk)
    if house.latitude is not None or house.address_key != asked.address_key:
        return False
    before = audit.snapshot(house)
    if position is None:
        house.position_note = f"The address was not found on {clock.day_of(at):%B} {clock.day_of(at).day}."
    else:
        house.latitude, house.longitude = position
        house.position_source = Source.GEOCODED
    house.save()
    verb = "address not found on the map" if position is None else "address found on the map"
    _position_recorded(house, before, verb, by=SYSTEM, at=at)
    return position is not None


def _position_recorded(house: Property, before: dict[str, Any], verb: str, *, by: Actor, at: datetime) -> None:
    audit.record(
        by=by, at=at, verb=verb, subject=house, property_id=house.pk, before=before, after=audit.snapshot(house)
    )
