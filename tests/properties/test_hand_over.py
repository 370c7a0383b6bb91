"""Who owns a house, and from when to when."""

from datetime import date, datetime, timedelta

import pytest

from contractor.core.audit import Actor
from contractor.core.models import AuditEntry
from contractor.properties import actions
from contractor.properties.errors import HandOverBeforePurchase, NoOwner, SameOwner
from contractor.properties.models import OwnerLink, Ownership, Person, Property


def test_the_first_owner_is_recorded(house: Property, iris: Person, office: Actor, at: datetime) -> None:
    ownership = actions.begin_ownership(property_id=house.pk, person_id=iris.pk, on=date(2019, 6, 1), by=office, at=at)
    assert (ownership.property, ownership.person, ownership.until_on) == (house, iris, None)
    assert AuditEntry.objects.get(stream=f"property:{house.pk}").verb == "owner recorded"


def test_the_same_owner_twice_is_refused(ownership: Ownership, office: Actor, at: datetime) -> None:
    with pytest.raises(SameOwner):
        actions.begin_ownership(
            property_id=ownership.property_id,
            person_id=ownership.person_id,
            on=date(2026, 1, 1),
            by=office,
            at=at,
        )
    assert Ownership.objects.count() == 1


def test_recording_another_owner_hands_the_house_over(
    ownership: Ownership, buyer: Person, office: Actor, at: datetime
) -> None:
    actions.begin_ownership(
        property_id=ownership.property_id, person_id=buyer.pk, on=date(2026, 5, 1), by=office, at=at
    )
    ownership.refresh_from_db()
    assert ownership.until_on == date(2026, 5, 1)
    assert Ownership.objects.open_ended().get().person == buyer


@pytest.mark.parametrize(
    ("day", "owner"),
    [
        (date(2019, 5, 31), None),
        (date(2019, 6, 1), "Iris Holloway"),
        (date(2026, 4, 30), "Iris Holloway"),
        (date(2026, 5, 1), "Ben Okafor"),
        (date(2030, 1, 1), "Ben Okafor"),
    ],
)
def test_the_day_of_the_hand_over_belongs_to_the_buyer_and_no_day_has_two_owners(
    ownership: Ownership, buyer: Person, office: Actor, at: datetime, day: date, owner: str | None
) -> None:
    actions.hand_over(property_id=ownership.property_id, person_id=buyer.pk, on=date(2026, 5, 1), by=office, at=at)
    owners = [row.person.name for row in Ownership.objects.current(day)]
    assert owners == ([owner] if owner else [])


@pytest.mark.parametrize("days_after_purchase", [-1, 0])
def test_a_house_is_not_handed_over_before_or_on_the_day_it_was_bought(
    ownership: Ownership, buyer: Person, office: Actor, at: datetime, days_after_purchase: int
) -> None:
    with pytest.raises(HandOverBeforePurchase) as refused:
        actions.hand_over(
            property_id=ownership.property_id,
            person_id=buyer.pk,
            on=ownership.from_on + timedelta(days=days_after_purchase),
            by=office,
            at=at,
        )
    assert "June 1, 2019" in refused.value.sentence
    ownership.refresh_from_db()
    assert ownership.until_on is None


def test_a_house_that_nobody_owns_cannot_be_handed_over(
    house: Property, buyer: Person, office: Actor, at: datetime
) -> None:
    with pytest.raises(NoOwner):
        actions.hand_over(property_id=house.pk, person_id=buyer.pk, on=date(2026, 5, 1), by=office, at=at)


def test_a_house_is_not_handed_over_to_its_owner(ownership: Ownership, office: Actor, at: datetime) -> None:
    with pytest.raises(SameOwner):
        actions.hand_over(
            property_id=ownership.property_id,
            person_id=ownership.person_id,
            on=date(2026, 5, 1),
            by=office,
            at=at,
        )


def test_a_hand_over_closes_the_sellers_links_and_no_others(
    ownership: Ownership, neighbour: Ownership, buyer: Person, office: Actor, at: datetime
) -> None:
    sellers = actions.make_owner_link(ownership_id=ownership.pk, by=office, at=at)
    nextdoor = actions.make_owner_link(ownership_id=neighbour.pk, by=office, at=at)
    assert actions.open_owner_link(token=sellers, at=at) is not None
    actions.hand_over(property_id=ownership.property_id, person_id=buyer.pk, on=date(2026, 5, 1), by=office, at=at)
    assert actions.open_owner_link(token=sellers, at=at) is None
    assert OwnerLink.objects.get(ownership=ownership).revoked_at == at
    assert actions.open_owner_link(token=nextdoor, at=at) is not None


def test_a_hand_over_writes_the_end_and_the_beginning(
    ownership: Ownership, buyer: Person, office: Actor, at: datetime
) -> None:
    actions.hand_over(property_id=ownership.property_id, person_id=buyer.pk, on=date(2026, 5, 1), by=office, at=at)
    ended, begun = AuditEntry.objects.filter(stream=f"property:{ownership.property_id}").order_by("number")
    assert (ended.verb, ended.body["after"]) == ("ownership ended", {"until_on": "2026-05-01"})
    assert (begun.verb, begun.body["after"]["person_id"]) == ("ownership begun", buyer.pk)
