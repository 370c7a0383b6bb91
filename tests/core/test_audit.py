"""The audit trail: written with every change, and any tampering shows."""

from datetime import UTC, datetime, timedelta

import pytest
from django.db import connection, transaction
from django.db.utils import IntegrityError

from contractor.core import audit
from contractor.core.audit import FIRST_HASH, Actor
from contractor.core.models import AuditEntry
from contractor.properties import actions
from contractor.properties.models import Person, Property

AT = datetime(2026, 5, 4, 14, 0, tzinfo=UTC)
DESK = Actor("staff:1", "Nora Vance")


@pytest.fixture
def stream(house: Property) -> str:
    """A house with five entries in its stream."""
    for minute in range(5):
        audit.record(
            by=DESK,
            at=AT + timedelta(minutes=minute),
            verb="house corrected",
            subject=house,
            property_id=house.pk,
            before={"city": f"Town {minute}", "access_notes": f"Gate {minute}"},
            after={"city": f"Town {minute + 1}", "access_notes": f"Gate {minute + 1}"},
        )
    return f"property:{house.pk}"


def entry(stream: str, number: int) -> AuditEntry:
    return AuditEntry.objects.get(stream=stream, number=number)


def test_an_untouched_stream_holds(stream: str) -> None:
    assert AuditEntry.objects.filter(stream=stream).count() == 5
    assert audit.breaks(stream) == []


def test_an_empty_stream_holds_and_its_head_is_the_first_hash(house: Property) -> None:
    assert audit.breaks(f"property:{house.pk}") == []
    assert audit.head(house.pk) == FIRST_HASH


def test_entries_are_numbered_from_one_and_each_names_the_one_before(stream: str) -> None:
    entries = list(AuditEntry.objects.filter(stream=stream).order_by("number"))
    assert [row.number for row in entries] == [1, 2, 3, 4, 5]
    assert [row.previous_hash for row in entries] == [FIRST_HASH, *(row.own_hash for row in entries[:-1])]


@pytest.mark.parametrize(
    ("column", "value"),
    [
        ("body", {"before": {}, "after": {"city": "Elsewhere"}}),
        ("actor", "staff:99"),
        ("verb", "house registered"),
        ("subject", "property:99"),
        ("at", AT + timedelta(days=1)),
        ("previous_hash", "f" * 64),
        ("own_hash", "f" * 64),
    ],
)
def test_a_changed_column_shows(stream: str, column: str, value: object) -> None:
    assert getattr(entry(stream, 3), column) != value
    assert AuditEntry.objects.filter(stream=stream, number=3).update(**{column: value}) == 1
    assert getattr(entry(stream, 3), column) == value
    assert 3 in audit.breaks(stream)


def test_a_changed_body_with_its_own_hash_made_to_fit_shows_at_the_next_entry(stream: str) -> None:
    forged = entry(stream, 3)
    forged.body = {"before": {}, "after": {"city": "Elsewhere"}}
    forged.own_hash = audit.entry_hash(forged)
    forged.save()
    assert entry(stream, 3).body["after"] == {"city": "Elsewhere"}
    assert audit.breaks(stream) == [4]


def test_a_deleted_row_shows_at_the_next_entry(stream: str) -> None:
    assert AuditEntry.objects.filter(stream=stream, number=2).delete()[0] == 1
    assert AuditEntry.objects.filter(stream=stream).count() == 4
    assert audit.breaks(stream) == [3]


def test_a_deleted_row_shows_even_when_the_later_ones_are_renumbered(stream: str) -> None:
    AuditEntry.objects.filter(stream=stream, number=2).delete()
    for number in (3, 4, 5):
        AuditEntry.objects.filter(stream=stream, number=number).update(number=number - 1)
    assert list(AuditEntry.objects.filter(stream=stream).order_by("number").values_list("number", flat=True)) == [
        1,
        2,
        3,
        4,
    ]
    assert audit.breaks(stream) == [2, 3, 4]


def test_swapped_rows_show(stream: str) -> None:
    second, third = entry(stream, 2), entry(stream, 3)
    AuditEntry.objects.filter(pk=second.pk).update(number=99)
    AuditEntry.objects.filter(pk=third.pk).update(number=2)
    AuditEntry.objects.filter(pk=second.pk).update(number=3)
    assert (entry(stream, 2).pk, entry(stream, 3).pk) == (third.pk, second.pk)
    assert audit.breaks(stream)[:2] == [2, 3]


def test_a_row_moved_to_another_house_shows_there_and_leaves_a_gap_here(stream: str) -> None:
    AuditEntry.objects.filter(stream=stream, number=4).update(stream="property:999", number=1)
    assert AuditEntry.objects.filter(stream="property:999").count() == 1
    assert audit.breaks("property:999") == [1]
    assert audit.breaks(stream) == [5]


def test_the_head_moves_with_every_entry_and_pins_the_history(stream: str, house: Property) -> None:
    before = audit.head(house.pk)
    assert before == entry(stream, 5).own_hash
    audit.record(by=DESK, at=AT, verb="house corrected", subject=house, property_id=house.pk, after={"city": "X"})
    assert audit.head(house.pk) not in {before, FIRST_HASH}


def test_names_and_addresses_stand_beside_the_chain_so_a_person_can_be_erased(house: Property) -> None:
    person = actions.register_person(
        name="Iris Holloway",
        email="iris@example.com",
        phone="(555) 555-0142",
        by=DESK,
        at=AT,
        property_id=house.pk,
    )
    written = AuditEntry.objects.get(stream=f"property:{house.pk}")
    assert written.personal["after"]["name"] == "Iris Holloway"
    assert written.personal["actor_name"] == "Nora Vance"
    assert "Iris" not in str(written.body)
    assert "iris@example.com" not in str(written.body)
    assert "Nora" not in str(written.body)

    erased = {"actor_name": "", "before": {}, "after": {}}
    AuditEntry.objects.filter(pk=written.pk).update(personal=erased)
    assert AuditEntry.objects.get(pk=written.pk).personal == erased
    assert audit.breaks(f"property:{house.pk}") == []
    assert Person.objects.get(pk=person.pk).name == "Iris Holloway"


def test_every_personal_field_of_a_house_stays_out_of_the_hashed_half(house: Property) -> None:
    audit.record(
        by=DESK, at=AT, verb="house registered", subject=house, property_id=house.pk, after=audit.snapshot(house)
    )
    before, after = audit.snapshot(house), {**audit.snapshot(house), "street": "9 Kiln Street", "city": "Stony Ford"}
    audit.record(
        by=DESK, at=AT, verb="house corrected", subject=house, property_id=house.pk, before=before, after=after
    )
    registered, corrected = AuditEntry.objects.filter(stream=f"property:{house.pk}").order_by("number")
    assert set(registered.body["after"]) & set(Property.PERSONAL_FIELDS) == set()
    assert registered.body["after"]["city"] == "Larkmere"
    assert corrected.body == {"before": {"city": "Larkmere"}, "after": {"city": "Stony Ford"}}
    assert corrected.personal["before"] == {"street": "12 Millrace Lane"}
    assert "Millrace" not in str((registered.body, corrected.body))


def test_only_values_that_differ_are_kept(house: Property) -> None:
    written = audit.record(
        by=DESK,
        at=AT,
        verb="house corrected",
        subject=house,
        property_id=house.pk,
        before={"city": "Larkmere", "state": "PA"},
        after={"city": "Larkmere", "state": "OH"},
    )
    assert written.body == {"before": {"state": "PA"}, "after": {"state": "OH"}}


def test_what_belongs_to_no_house_has_a_stream_of_its_own(house: Property) -> None:
    written = audit.record(by=DESK, at=AT, verb="company described", subject=house, property_id=None)
    assert written.stream == f"property:{house.pk}" == audit.reference(house)


def test_two_entries_never_share_a_number(stream: str) -> None:
    twin = entry(stream, 5)
    twin.pk = None
    with pytest.raises(IntegrityError), transaction.atomic():
        twin.save(force_insert=True)


def test_an_entry_is_gone_when_the_write_it_belongs_to_is_rolled_back(house: Property) -> None:
    with transaction.atomic():
        audit.record(by=DESK, at=AT, verb="house corrected", subject=house, property_id=house.pk)
        assert AuditEntry.objects.filter(stream=f"property:{house.pk}").count() == 1
        transaction.set_rollback(True)
    assert AuditEntry.objects.filter(stream=f"property:{house.pk}").count() == 0


def test_the_hash_does_not_depend_on_how_the_database_returns_the_moment(stream: str) -> None:
    """A server in another zone returns the same moment with another offset; the chain must hold there too."""
    first = entry(stream, 1)
    first.at = first.at.astimezone(tz=None)
    assert audit.entry_hash(first) == first.own_hash


def test_floats_and_dates_survive_the_way_through_the_database(house: Property) -> None:
    audit.record(
        by=DESK,
        at=AT,
        verb="wall treated",
        subject=house,
        property_id=house.pk,
        after={"length_m": 9.7536, "tiny": 1e-9, "on": AT.date(), "words": ["ö", "“quoted”"]},
    )
    assert connection.vendor in {"sqlite", "postgresql"}
    assert audit.breaks(f"property:{house.pk}") == []
