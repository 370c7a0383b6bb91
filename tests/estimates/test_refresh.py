"""Renewing the stored estimates: only what changed, and what it asks of visits."""

from datetime import date, datetime, timedelta
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from contractor.accounts.models import User
from contractor.core import clock, renewal
from contractor.core.audit import Actor
from contractor.estimates import actions, queries, tasks
from contractor.estimates.actions import refresh_all_estimates, refresh_estimates
from contractor.estimates.known_lives import fleet_lives
from contractor.estimates.models import FleetLife, LifeEstimate, SystemEstimate
from contractor.estimates.rules import assumed
from contractor.systems.models import Component, System
from tests.estimates.factories import checkup_on, looked_at, written_down
from tests.factories import CatalogueModelFactory, ComponentFactory, SystemFactory
from tests.visits.factories import RequestFactory

SOON, LATER = timedelta(days=20), timedelta(days=30)


@pytest.fixture
def battery(system: System) -> Component:
    """In on May 14, 2023: due on May 13, 2028 (five years of 365.25 days) from age alone."""
    made: Component = ComponentFactory(
        system=system,
        part_kind="battery",
        in_on=date(2023, 5, 14),
        model=CatalogueModelFactory(part_kind="battery", maker="Northfold", name="12-100"),
    )
    return made


@pytest.fixture
def pump(system: System) -> Component:
    """In on May 14, 2020: due on May 14, 2030 from age alone."""
    made: Component = ComponentFactory(system=system, part_kind="primary_pump")
    return made


def stored(component: Component) -> LifeEstimate:
    return LifeEstimate.objects.get(component=component)


def test_batteries_and_pumps_get_an_estimate_and_nothing_else_does(
    battery: Component, pump: Component, system: System, on: date, at: datetime
) -> None:
    standby = ComponentFactory(system=system, part_kind="standby_pump")
    for kind in ("liner", "pit", "float_switch", "check_valve"):
        ComponentFactory(system=system, part_kind=kind)
    ComponentFactory(part_kind="battery", system=SystemFactory(property__street="1 Quarry Lane"))
    refresh_estimates(system_id=system.pk, on=on, at=at)
    assert {row.component for row in LifeEstimate.objects.all()} == {battery, pump, standby}
    row = stored(battery)
    assert (row.replace_by, row.governing, row.made_on) == (date(2028, 5, 13), "age", on)
    assert row.inputs[0] == {
        "name": "In since",
        "value": "May 14, 2023",
        "unit": "",
        "origin": "on record",
        "on": "",
        "note": "",
    }
    assert set(row.steps[0]) == {"name", "formula", "with_numbers", "result"}
    assert row.urgency == pytest.approx(row.probability * row.consequence, abs=1e-4)
    assert [row.component for row in queries.estimates_of(system=system)] == [battery, pump, standby]


def test_a_system_gets_its_six_results(pump: Component, system: System, on: date, at: datetime) -> None:
    refresh_estimates(system_id=system.pk, on=on, at=at)
    whole = SystemEstimate.objects.get(system=system)
    assert [row["code"] for row in whole.results] == [
        "standby",
        "reserve",
        "freeze",
        "pit_cycle",
        "line_speed",
        "season",
    ]
    assert {row["level"] for row in whole.results} <= {"good", "watch", "bad", "unknown"}
    assert whole.made_on == on


def test_only_what_has_changed_is_written(
    battery: Component, pump: Component, system: System, theo: User, on: date, at: datetime
) -> None:
    refresh_estimates(system_id=system.pk, on=on, at=at)
    refresh_estimates(system_id=system.pk, on=on + SOON, at=at)
    assert {row.made_on for row in LifeEstimate.objects.all()} == {on}
    assert SystemEstimate.objects.get().made_on == on
    checkup = checkup_on(system, date(2026, 5, 20), theo)
    looked_at(checkup, battery, "watch", "Rests at 12.2 V.")
    refresh_estimates(system_id=system.pk, on=on + SOON, at=at)
    assert (stored(battery).made_on, stored(battery).governing) == (on + SOON, "found weak")
    assert SystemEstimate.objects.get().made_on == on


def test_with_a_new_month_the_ages_are_reckoned_again(pump: Component, system: System, on: date, at: datetime) -> None:
    refresh_estimates(system_id=system.pk, on=on, at=at)
    before = stored(pump)
    refresh_estimates(system_id=system.pk, on=on + LATER, at=at)
    after = stored(pump)
    assert (after.made_on, after.replace_by) == (on + LATER, before.replace_by)
    assert after.probability > before.probability


def test_a_changed_rule_renews_what_was_stored_under_the_old_one(
    pump: Component, system: System, on: date, at: datetime, monkeypatch: pytest.MonkeyPatch
) -> None:
    refresh_estimates(system_id=system.pk, on=on, at=at)
    monkeypatch.setitem(assumed.SHAPE, "primary_pump", 4.0)
    refresh_estimates(system_id=system.pk, on=on + SOON, at=at)
    assert stored(pump).made_on == on + SOON
    assert stored(pump).earliest > date(2027, 1, 1)


def test_the_estimate_of_a_removed_part_goes_and_its_successor_gets_its_own(
    battery: Component, system: System, on: date, at: datetime
) -> None:
    refresh_estimates(system_id=system.pk, on=on, at=at)
    battery.out_on = on
    battery.save()
    successor = ComponentFactory(system=system, part_kind="battery", in_on=on, replaces=battery)
    refresh_estimates(system_id=system.pk, on=on, at=at)
    assert [row.component for row in LifeEstimate.objects.all()] == [successor]
    assert stored(successor).replace_by == date(2031, 5, 4)


def test_the_last_part_leaves_nothing_behind(battery: Component, system: System, on: date, at: datetime) -> None:
    refresh_estimates(system_id=system.pk, on=on, at=at)
    battery.out_on = on
    battery.save()
    assert refresh_estimates(system_id=system.pk, on=on, at=at) == []
    assert not LifeEstimate.objects.exists()


def test_a_system_that_does_not_exist_is_said(company: object, on: date, at: datetime) -> None:
    with pytest.raises(System.DoesNotExist):
        refresh_estimates(system_id=999_999, on=on, at=at)


def test_what_the_maker_declares_is_used(system: System, on: date, at: datetime) -> None:
    model = CatalogueModelFactory(part_kind="battery", data={"expected_years_at_25c": 8})
    battery = ComponentFactory(system=system, part_kind="battery", model=model)
    refresh_estimates(system_id=system.pk, on=on, at=at)
    assert stored(battery).replace_by == date(2028, 5, 14)


def test_a_part_found_weak_keeps_its_day_when_a_later_visit_did_not_look_at_it(
    battery: Component, pump: Component, system: System, theo: User, on: date, at: datetime
) -> None:
    found_on = date(2025, 5, 10)
    looked_at(checkup_on(system, found_on, theo), battery, "watch", "Rests at 12.2 V.")
    looked_at(checkup_on(system, date(2026, 4, 20), theo), pump, "good")
    refresh_estimates(system_id=system.pk, on=on, at=at)
    assert (stored(battery).replace_by, stored(battery).governing) == (date(2026, 5, 10), "found weak")
    assert "found weak on May 10, 2025: Rests at 12.2 V." in stored(battery).reason


def test_an_open_finding_counts_from_the_day_it_was_written_down(
    battery: Component, pump: Component, system: System, theo: User, on: date, at: datetime
) -> None:
    first = checkup_on(system, date(2025, 5, 10), theo)
    weak = written_down(first, battery, "watch", "Terminals corroded")
    gone = written_down(first, pump, "urgent", "Hums and does not turn")
    second = checkup_on(system, date(2026, 4, 20), theo)
    looked_at(second, battery, "good")
    looked_at(second, pump, "good")
    refresh_estimates(system_id=system.pk, on=on, at=at)
    assert (stored(battery).governing, stored(battery).replace_by) == ("found weak", date(2026, 5, 10))
    assert (stored(pump).governing, stored(pump).replace_by) == ("found bad", date(2025, 5, 10))
    for finding in (weak, gone):
        finding.done_at = at
        finding.save()
    refresh_estimates(system_id=system.pk, on=on, at=at)
    assert {stored(part).governing for part in (battery, pump)} == {"age"}


def test_a_part_found_weak_twice_counts_from_the_first_time(
    battery: Component, system: System, theo: User, on: date, at: datetime
) -> None:
    for day in (date(2025, 5, 10), date(2026, 4, 20)):
        written_down(checkup_on(system, day, theo), battery, "watch", "Terminals corroded")
    refresh_estimates(system_id=system.pk, on=on, at=at)
    assert stored(battery).replace_by == date(2026, 5, 10)


def test_a_bad_finding_is_dated_by_itself_and_not_by_an_older_weak_one(
    battery: Component, system: System, theo: User, on: date, at: datetime
) -> None:
    written_down(checkup_on(system, date(2024, 5, 10), theo), battery, "watch", "Terminals corroded")
    written_down(checkup_on(system, date(2026, 4, 20), theo), battery, "bad", "Holds half its charge")
    refresh_estimates(system_id=system.pk, on=on, at=at)
    assert stored(battery).replace_by == date(2026, 4, 20)
    assert "found bad on April 20, 2026: Holds half its charge." in stored(battery).reason


def test_what_is_found_after_the_day_asked_about_is_not_known_on_it(
    battery: Component, system: System, theo: User, on: date, at: datetime
) -> None:
    looked_at(checkup_on(system, on + LATER, theo), battery, "bad", "Dead.")
    refresh_estimates(system_id=system.pk, on=on, at=at)
    assert stored(battery).governing == "age"


def test_every_system_is_renewed_at_night_and_a_bad_row_holds_nothing_up(
    battery: Component,
    system: System,
    on: date,
    at: datetime,
    monkeypatch: pytest.MonkeyPatch,
    caplog: pytest.LogCaptureFixture,
) -> None:
    other = ComponentFactory(part_kind="primary_pump", system=SystemFactory(property__street="1 Quarry Lane"))
    rightly = actions.estimate_fleet

    def fail_with_the_first(many: list[Any], **rest: Any) -> Any:
        if any(facts.system_id == system.pk for facts in many):
            raise ValueError("bad row")
        return rightly(many, **rest)

    with monkeypatch.context() as patch:
        patch.setattr(actions, "estimate_fleet", fail_with_the_first)
        assert refresh_all_estimates(on=on, at=at) == 1
    assert [row.component for row in LifeEstimate.objects.all()] == [other]
    assert f"system {system.pk} could not be renewed" in caplog.text
    assert refresh_all_estimates(on=on, at=at) == 2
    assert LifeEstimate.objects.count() == 2


def test_a_fit_that_fails_holds_nothing_up(
    battery: Component,
    on: date,
    at: datetime,
    monkeypatch: pytest.MonkeyPatch,
    caplog: pytest.LogCaptureFixture,
) -> None:
    def fail(**_: Any) -> None:
        raise ValueError("no fit")

    monkeypatch.setattr(actions, "refresh_fleet_lives", fail)
    assert refresh_all_estimates(on=on, at=at) == 1
    assert "the former fits stay" in caplog.text


def test_data_that_make_no_sense_are_unknown_and_stop_nothing(system: System, on: date, at: datetime) -> None:
    wrong = {"curve": "10 gpm", "chemistry": "lead", "capacity_ah": "75", "rated_hours": -3}
    parts = [
        ComponentFactory(system=system, part_kind=kind, model=CatalogueModelFactory(part_kind=kind, data=wrong))
        for kind in ("primary_pump", "standby_pump", "battery")
    ]
    assert refresh_all_estimates(on=on, at=at) == 1
    assert {stored(part).governing for part in parts} == {"age"}
    assert any("chemistry is not on record" in one for one in stored(parts[2]).cautions)


def test_the_night_goes_through_all_systems_batch_by_batch(
    company: object, on: date, at: datetime, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(actions, "BATCH", 2)
    for number in range(5):
        ComponentFactory(part_kind="battery", system=SystemFactory(property__street=f"{number} Quarry Lane"))
    assert refresh_all_estimates(on=on, at=at) == 5
    assert (LifeEstimate.objects.count(), SystemEstimate.objects.count()) == (5, 5)


def test_a_night_takes_as_many_queries_for_twenty_systems_as_for_two(company: object, on: date, at: datetime) -> None:
    def more(count: int) -> None:
        for _ in range(count):
            system = SystemFactory()
            for kind in ("primary_pump", "standby_pump", "battery", "pit", "discharge_line"):
                ComponentFactory(part_kind=kind, system=system, model=CatalogueModelFactory(part_kind=kind))
            RequestFactory(system=system, target_on=on)

    def count() -> int:
        with CaptureQueriesContext(connection) as captured:
            refresh_all_estimates(on=on, at=at)
        return len(captured)

    more(2)
    refresh_all_estimates(on=on, at=at)
    few = count()
    more(18)
    refresh_all_estimates(on=on, at=at)
    assert count() == few <= 30


def test_the_nightly_task_and_the_one_of_a_house_write_the_same_however_often_they_run(
    battery: Component, system: System, on: date, at: datetime, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(clock, "today", lambda: on)
    monkeypatch.setattr(clock, "now", lambda: at)
    tasks.refresh_house_estimates(property_id=system.property_id)
    once = list(LifeEstimate.objects.values()), list(SystemEstimate.objects.values())
    tasks.refresh_house_estimates(property_id=system.property_id)
    tasks.refresh_all_estimates()
    assert (list(LifeEstimate.objects.values()), list(SystemEstimate.objects.values())) == once
    assert len(once[0]) == 1


def test_estimates_follow_when_the_facts_of_a_house_change(
    battery: Component, system: System, office: Actor, django_capture_on_commit_callbacks: Any
) -> None:
    with django_capture_on_commit_callbacks(execute=True):
        renewal.facts_changed(property_id=system.property_id)
    assert stored(battery).replace_by == date(2028, 5, 13)


def test_the_list_to_replace_begins_with_what_presses_most(
    battery: Component, pump: Component, system: System, theo: User, on: date, at: datetime
) -> None:
    """The battery's date comes after the pump's, but the pump has a second one beside it."""
    refresh_estimates(system_id=system.pk, on=on, at=at)
    LifeEstimate.objects.filter(component=battery).update(urgency=2.5)
    LifeEstimate.objects.filter(component=pump).update(urgency=1.5, replace_by=date(2026, 1, 1))
    assert [row.component for row in queries.to_replace(by=date(2029, 1, 1))] == [battery, pump]
    assert [row.component for row in queries.to_replace(by=date(2026, 1, 1))] == [pump]


def test_the_drawing_shows_the_worst_of_what_was_found_and_what_is_due(
    battery: Component, pump: Component, system: System, theo: User, on: date, at: datetime
) -> None:
    liner = ComponentFactory(system=system, part_kind="liner")
    standby = ComponentFactory(system=system, part_kind="standby_pump", in_on=date(2015, 1, 1))
    checkup = checkup_on(system, date(2026, 4, 20), theo)
    looked_at(checkup, battery, "good")
    looked_at(checkup, standby, "good")
    written_down(checkup, pump, "bad", "Hums and does not turn")
    refresh_estimates(system_id=system.pk, on=on, at=at)
    drawn = {int(part.key): part for part in queries.drawn_parts(system=system, on=on)}
    assert {pk: part.condition for pk, part in drawn.items()} == {
        battery.pk: "good",
        pump.pk: "bad",
        liner.pk: "unknown",
        standby.pk: "watch",
    }
    assert drawn[standby.pk].note == "Past its replace-by date, December 31, 2024"
    assert drawn[pump.pk].note == "Hums and does not turn"
    due = {int(part.key): part for part in queries.drawn_parts(system=system, on=date(2028, 5, 13))}
    assert due[battery.pk].condition == "watch"
    before = {int(part.key): part for part in queries.drawn_parts(system=system, on=date(2028, 5, 12))}
    assert before[battery.pk].condition == "good"


def failed_pumps(ages_days: list[int], *, model: object, registered: datetime) -> None:
    for age in ages_days:
        into = date(2020, 1, 1)
        ComponentFactory(
            system=SystemFactory(property__street=f"{age} Old Mill Road", installed_on=into, created_at=registered),
            part_kind="primary_pump",
            model=model,
            in_on=into,
            out_on=into + timedelta(days=age),
            failed=True,
        )


def test_five_failures_of_a_model_make_the_companys_own_records_of_it(system: System, on: date, at: datetime) -> None:
    model = CatalogueModelFactory(part_kind="primary_pump", data={"expected_years": 12})
    pump = ComponentFactory(system=system, part_kind="primary_pump", model=model)
    ages = [900, 1100, 1200, 1350, 1500]
    failed_pumps(ages[:4], model=model, registered=datetime.fromisoformat("2020-01-01T12:00+00:00"))
    refresh_all_estimates(on=on, at=at)
    assert not FleetLife.objects.exists()
    assert "12 years" in stored(pump).reason
    failed_pumps(ages[4:], model=model, registered=datetime.fromisoformat("2020-01-01T12:00+00:00"))
    refresh_all_estimates(on=on, at=at)
    kind, own = FleetLife.objects.get(model=None), FleetLife.objects.get(model=model)
    assert FleetLife.objects.count() == 2
    assert (kind.model, kind.failures, kind.units, kind.known_on) == (None, 5, 6, date(2026, 5, 1))
    assert (own.model, own.failures) == (model, 5)
    assert stored(pump).replace_by < date(2026, 1, 1)
    assert any(row["note"] == "own records of this model: 5 failed of 6" for row in stored(pump).inputs)
    made = list(FleetLife.objects.values())
    refresh_all_estimates(on=on, at=at)
    assert list(FleetLife.objects.values()) == made
    Component.objects.filter(out_on__isnull=False).update(failed=False)
    refresh_all_estimates(on=on, at=at)
    assert not FleetLife.objects.exists()


def test_a_part_that_stood_there_when_its_house_was_registered_is_known_only_since_then(
    company: object, on: date
) -> None:
    model = CatalogueModelFactory(part_kind="primary_pump")
    failed_pumps([2000], model=model, registered=datetime.fromisoformat("2024-03-01T12:00+00:00"))
    (life,) = fleet_lives(on=on)
    assert (life.seen_from, life.until, life.failed) == (date(2024, 3, 1), date(2025, 6, 23), True)
    (earlier,) = fleet_lives(on=date(2025, 1, 1))
    assert (earlier.until, earlier.failed) == (date(2025, 1, 1), False)
