"""The stored standing is a copy of the derived one, and a check proves it."""

from collections.abc import Callable
from contextlib import AbstractContextManager
from datetime import date, datetime, timedelta
from io import StringIO
from typing import Any

import pytest
from dateutil.relativedelta import relativedelta
from django.core.management import CommandError, call_command
from django.db import OperationalError, connection
from django.test.utils import CaptureQueriesContext

from contractor.accounts.models import User
from contractor.core import clock
from contractor.core.audit import Actor
from contractor.systems.actions import replace_component
from contractor.systems.models import Component
from contractor.warranties.actions import standing
from contractor.warranties.models import StoredStanding, Transfer, Warranty
from contractor.warranties.standing_rows import wrong_standings
from tests.factories import ComponentFactory, OwnershipFactory, SystemFactory
from tests.warranties.factories import checkup_done, outside_record, published_terms, terms_data

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


def more_warranties(like: Warranty, count: int) -> list[Warranty]:
    """Warranties of other houses with a pit, issued on January 1, 2026: no check-up is due yet."""
    made = []
    for _ in range(count):
        system = SystemFactory(property=OwnershipFactory().property, installed_on=date(2026, 1, 1))
        ComponentFactory(system=system, part_kind="pit", in_on=date(2026, 1, 1))
        made.append(
            Warranty.objects.create(
                number=f"W{system.pk}",
                system=system,
                terms=like.terms,
                issued_on=date(2026, 1, 1),
                issued_to=system.property.ownerships.get(),
                issued_at=like.issued_at,
            )
        )
    return made


def writes(queries: CaptureQueriesContext) -> list[str]:
    return [query["sql"] for query in queries if query["sql"].startswith(("INSERT", "UPDATE", "DELETE"))]


def test_a_batch_takes_the_same_number_of_queries_however_many_warranties_are_in_it(
    cared_for: Warranty, on: date
) -> None:
    counts = []
    for more in (1, 8):
        more_warranties(cared_for, more)
        standing.refresh_all_standings(on=on)
        with CaptureQueriesContext(connection) as queries:
            standing.refresh_all_standings(on=on + timedelta(days=1))
        counts.append(len(queries))
        with CaptureQueriesContext(connection) as queries:
            assert wrong_standings() == ([], None)
        counts.append(len(queries))
    # Renewal: the batch, lock, editions, five of facts, what is stored, the day of the batch; the next, empty batch;
    # and the savepoint's two. Proof: the batch, what is stored, editions, five of facts.
    assert counts == [13, 8, 13, 8]


def test_batches_go_on_where_the_one_before_ended(cared_for: Warranty, on: date) -> None:
    more_warranties(cared_for, 4)
    assert standing.refresh_all_standings(on=on, at_once=2) == 5
    assert StoredStanding.objects.filter(part_kind="", on=on).count() == 5
    seen, after = [], 0
    for _ in range(3):
        problems, next_after = wrong_standings(after=after, most=2)
        seen.append((problems, next_after is None))
        after = next_after or 0
    assert seen == [([], False), ([], False), ([], True)]


def test_only_what_changed_is_written_and_the_day_of_the_renewal(cared_for: Warranty, on: date) -> None:
    other = more_warranties(cared_for, 1)[0]
    standing.refresh_all_standings(on=on)
    before = {row.pk: row for row in StoredStanding.objects.all()}
    with CaptureQueriesContext(connection) as queries:
        standing.refresh_all_standings(on=on)
    assert writes(queries) == []
    # The next day nothing differs but the day of the renewal, which stands in the row that sums up.
    tomorrow = on + timedelta(days=1)
    with CaptureQueriesContext(connection) as queries:
        standing.refresh_all_standings(on=tomorrow)
    assert len(writes(queries)) == 1
    assert {row.part_kind for row in StoredStanding.objects.filter(on=tomorrow)} == {""}
    # A pit that came out changes its own house, and no other.
    Component.objects.filter(system=cared_for.system, part_kind="pit").update(out_on=on)
    standing.refresh_all_standings(on=tomorrow)
    changed = StoredStanding.objects.filter(on=tomorrow).exclude(part_kind="")
    assert {row.warranty_id for row in changed} == {cared_for.pk}
    assert stored(cared_for, "pit").cover == "ended"
    assert stored(other, "pit").reasons == before[stored(other, "pit").pk].reasons


def test_a_warranty_that_can_t_be_derived_stops_no_other_and_is_logged(
    cared_for: Warranty, on: date, caplog: pytest.LogCaptureFixture
) -> None:
    others = more_warranties(cared_for, 4)
    standing.refresh_all_standings(on=on)
    # Facts refuse a transfer before the issue day; only somebody who writes past our actions can bring one about.
    bad = others[1]
    Transfer.objects.create(
        warranty=bad,
        seller=bad.issued_to,
        buyer=bad.issued_to.person,
        buyer_ownership=bad.issued_to,
        asked_at=bad.issued_at,
        notified_on=date(2020, 1, 1),
        closing_on=date(2020, 1, 1),
        state="issued",
        issued_at=bad.issued_at,
    )
    tomorrow = on + timedelta(days=1)
    assert standing.refresh_all_standings(on=tomorrow) == 4
    renewed = StoredStanding.objects.filter(part_kind="", on=tomorrow).values_list("warranty_id", flat=True)
    assert set(renewed) == {cared_for.pk, *(one.pk for one in others)} - {bad.pk}
    assert stored(bad).on == on
    assert [record.levelname for record in caplog.records] == ["ERROR"]
    assert bad.number in caplog.text
    assert "lies before the issue day" in caplog.text
    with pytest.raises(CommandError, match="1 stored standings differ"):
        verify()
    problems, _ = wrong_standings()
    assert [problem.split(":")[0] for problem in problems] == [bad.number]


def test_a_database_that_does_not_answer_is_not_asked_again_and_again(
    cared_for: Warranty, on: date, monkeypatch: pytest.MonkeyPatch
) -> None:
    more_warranties(cared_for, 3)
    asked: list[int] = []

    def gone(warranties: Any, on: date) -> None:
        asked.append(len(warranties))
        raise OperationalError("The server closed the connection.")

    monkeypatch.setattr(standing, "derived_standings", gone)
    with pytest.raises(OperationalError):
        standing.refresh_all_standings(on=on)
    assert asked == [4]


def test_the_check_finds_a_standing_that_no_promise_stands_behind(cared_for: Warranty, on: date) -> None:
    standing.refresh_all_standings(on=on)
    promises = [one for one in terms_data()["promises"] if one["part_kind"] != "charger"]
    fewer = published_terms(edition="without-charger", promises=promises)
    Warranty.objects.filter(pk=cared_for.pk).update(terms=fewer)
    problems, _ = wrong_standings()
    assert any("the terms don't promise" in problem and "charger" in problem for problem in problems)


def test_the_check_finds_that_the_row_that_sums_up_is_missing(cared_for: Warranty, on: date) -> None:
    standing.refresh_all_standings(on=on)
    StoredStanding.objects.filter(warranty=cared_for, part_kind="").delete()
    assert wrong_standings() == ([f"{cared_for.number}: no standing is stored."], None)
