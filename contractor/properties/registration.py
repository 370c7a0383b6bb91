"""What the desk does in one breath: a house with its owner, and a new owner with the person, each all or nothing."""

from collections.abc import Mapping
from datetime import date, datetime
from typing import Any

from django.db import transaction

from contractor.core.audit import Actor
from contractor.properties import actions
from contractor.properties.models import Ownership, Property


@transaction.atomic
def register_house(
    *,
    house: Mapping[str, Any],
    person: Mapping[str, str],
    owner_since: date,
    by: Actor,
    at: datetime,
    known_person_id: int | None = None,
) -> Property:
    """Registers a house and its present owner; ``known_person_id`` is the owner when registered already.

    Raises AddressTaken; nothing is left behind then.
    """
    registered = actions.register_property(by=by, at=at, **house)
    record_owner(
        property_id=registered.pk, person=person, on=owner_since, by=by, at=at, known_person_id=known_person_id
    )
    return registered


@transaction.atomic
def record_owner(
    *,
    property_id: int,
    person: Mapping[str, str],
    on: date,
    by: Actor,
    at: datetime,
    known_person_id: int | None = None,
) -> Ownership:
    """Makes this person the owner from a day on: the first one known, or the next one.

    Raises SameOwner or HandOverBeforePurchase; no person is left behind then.
    """
    person_id = known_person_id
    if person_id is None:
        person_id = actions.register_person(by=by, at=at, property_id=property_id, **person).pk
    return actions.begin_ownership(property_id=property_id, person_id=person_id, on=on, by=by, at=at)
