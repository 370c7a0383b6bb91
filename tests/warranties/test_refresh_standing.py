"""The stored standing is a copy of the derived one, and a check proves it."""

from collections.abc import Callable
from contextlib import AbstractContextManager
from datetime import date, datetime
from io import StringIO
from typing import Any

import pytest
from dateutil.relativedelta import relativedelta
from django.core.management import CommandError, call_command

from contractor.accounts.models import User
from contractor.core import clock
from contractor.core.audit import Actor
from contractor.systems.actions import replace_component
from contractor.systems.models import Component
from contractor.warranties.actions import standing
from contractor.warranties.models import StoredStanding, Warranty
from tests.warranties.factories import checkup_done, outside_record

pytestmark = pytest.mark.django_db
Capture = Callable[..., AbstractContextManager[list[Callable[[], Any]]]]


def stored(warranty: Warranty, part_kind: str = "") -> StoredStanding:
    return StoredStanding.objects.get(warranty=warranty, part_kind=part_kind)


def test_there_is_a_row_for_every_promise_and_one_that_sums_up(warranty: Warranty, on: date) -> None:
    standing.refresh_standing(warranty_id=warranty.pk, on=on)
    rows = StoredStanding.objects.filter(warranty=warranty)
    assert rows.count() == 13 + 1
    assert {row.on for row in rows} == {on}
    # A primary pump is promised 60 months; python-dateutil counts the same last day.
    assert stored(warranty, "primary_pump").through_on == date(2020, 5, 14) + relativedelta(months=60)
    assert stored(warranty, "primary_pump").cover == "ended"
    assert stored(warranty, "charger").cover == "not_started"


def test_an_ended_part_does_not_make_the_whole_warranty_read_as_ended(cared_for: Warranty, on: date) -> None:
    standing.refresh_standing(warranty_id=cared_for.pk, on=on)
    assert stored(cared_for).cover == "in_force"
    assert stored(cared_for).through_on is None
    assert stored(cared_for).next_due_on == date(2026, 5, 14)


@pytest.mark.parametrize(
    ("on", "care"),
    [
        (date(2026, 3, 14), "current"),
        (date(2026, 3, 15), "due"),
        (date(2026, 5, 14), "due"),
        (date(2026, 5, 15), "in_grace"),
        (date(2026, 6, 13), "in_grace"),
        (date(2026, 6, 14), "gap"),
    ],
)
def test_the_care_of_a_day_is_stored_for_lists(cared_for: Warranty, on: date, care: str) -> None:
    standing.refresh_all_standings(on=on)
    assert stored(cared_for).care == care


def test_a_check_up_with_something_bad_open_does_not_count_until_it_is_put_right(
    cared_for: Warranty, theo: User, on: date, at: datetime
) -> None:
    checkup = checkup_done(cared_for.system, date(2026, 5, 1), theo, finding="bad")
    standing.refresh_standing(warranty_id=cared_for.pk, on=on)
    assert stored(cared_for).next_due_on == date(2026, 5, 14)
    checkup.findings.update(done_at=at)
    standing.refresh_standing(warranty_id=cared_for.pk, on=on)
    assert stored(cared_for).next_due_on == date(2027, 5, 14)


@pytest.mark.parametrize(("accepted", "due_on"), [(True, date(2027, 5, 14)), (None, date(2026, 5, 14))])
def test_another_providers_record_counts_once_it_is_accepted(
    cared_for: Warranty, on: date, accepted: bool | None, due_on: date
) -> None:
    outside_record(cared_for.system, date(2026, 4, 30), accepted=accepted)
    standing.refresh_standing(warranty_id=cared_for.pk, on=on)
    assert stored(cared_for).next_due_on == due_on


def test_a_repair_is_no_check_up(cared_for: Warranty, theo: User, on: date) -> None:
    checkup_done(cared_for.system, date(2026, 5, 1), theo, kind="repair")
    standing.refresh_standing(warranty_id=cared_for.pk, on=on)
    assert stored(cared_for).next_due_on == date(2026, 5, 14)


def test_a_swapped_battery_changes_the_stored_standing_once_the_swap_is_committed(
    warranty: Warranty, office: Actor, at: datetime, django_capture_on_commit_callbacks: Capture
) -> None:
    assert stored(warranty, "battery").cover == "ended"
    battery = Component.objects.get(system=warranty.system, part_kind="battery")
    with django_capture_on_commit_callbacks(execute=True):
        replace_component(component_id=battery.pk, on=clock.today(), because="Weak.", failed=False, by=office, at=at)
    row = stored(warranty, "battery")
    assert row.cover == "in_force"
    assert row.through_on == clock.today() + relativedelta(months=36)
    assert row.on == clock.today()


def test_refreshing_again_on_the_same_facts_writes_the_same_rows(cared_for: Warranty, on: date) -> None:
    standing.refresh_all_standings(on=on)
    first = {row.pk: row.reasons for row in StoredStanding.objects.all()}
    standing.refresh_all_standings(on=on)
    assert {row.pk: row.reasons for row in StoredStanding.objects.all()} == first


def verify() -> str:
    out = StringIO()
    call_command("verify_standings", stdout=out)
    return out.getvalue()


def test_the_check_passes_when_the_copy_is_the_derivation(cared_for: Warranty, on: date) -> None:
    standing.refresh_all_standings(on=on)
    assert "derived one" in verify()


def test_the_check_finds_a_row_that_somebody_changed(cared_for: Warranty, on: date) -> None:
    standing.refresh_all_standings(on=on)
    StoredStanding.objects.filter(warranty=cared_for, part_kind="pit").update(cover="ended")
    with pytest.raises(CommandError, match="1 stored standings differ"):
        verify()


def test_the_check_finds_facts_that_changed_without_a_word(cared_for: Warranty, on: date) -> None:
    standing.refresh_all_standings(on=on)
    Component.objects.filter(system=cared_for.system, part_kind="pit").update(out_on=on)
    with pytest.raises(CommandError):
        verify()


def test_the_check_finds_a_missing_row(cared_for: Warranty, on: date) -> None:
    standing.refresh_all_standings(on=on)
    StoredStanding.objects.filter(warranty=cared_for, part_kind="pit").delete()
    with pytest.raises(CommandError):
        verify()


def test_a_chunk_takes_the_same_number_of_queries_however_many_warranties_are_in_it(
    cared_for: Warranty, on: date, office: Actor, at: datetime, django_assert_num_queries: Any
) -> None:
    from contractor.warranties.queries import facts_of_many, warranty_chunk
    from tests.factories import OwnershipFactory, SystemFactory

    for _ in range(4):
        system = SystemFactory(property=OwnershipFactory().property)
        Warranty.objects.create(
            number=f"W{system.pk}",
            system=system,
            terms=cared_for.terms,
            issued_on=date(2021, 1, 1),
            issued_to=system.property.ownerships.get(),
            issued_at=at,
        )
    chunk = warranty_chunk(after=0, most=50)
    assert len(chunk) == 5
    with django_assert_num_queries(5):
        facts_of_many(chunk)
