"""What is read of systems from the tables: the right rows, in as many queries for fifty systems as for one."""

from collections.abc import Callable
from datetime import date, datetime, time
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from contractor.accounts.models import User
from contractor.checkups.models import Answer, ChecklistItem, CheckUp
from contractor.estimates.known_facts import facts_of
from contractor.estimates.models import ClimateNormals
from contractor.estimates.rules.facts import Given, Reading, SystemFacts
from contractor.systems.models import AsBuilt, Component, System
from tests.estimates.factories import checkup_on
from tests.factories import CatalogueModelFactory, ComponentFactory, OwnershipFactory, SystemFactory

UTC = ZoneInfo("UTC")
CURVE = [[0.0, 6.858], [0.0012618, 5.9436], [0.00210301, 4.572]]
# Feed: kind, formula and, for a timed test, what is typed.
KINDS = {
    "pit.inflow_m3_s": ("timed_test", "pit_rise_inflow"),
    "pump.flow_m3_s": ("timed_test", "pump_down_flow"),
    "battery.load_test_v": ("measurement", "load_test"),
    "freeze_relief.tested": ("check", ""),
}


def answered(
    checkup: CheckUp,
    feed: str,
    component: Component | None = None,
    *,
    number_si: float | None = None,
    seconds: float | None = None,
    verdict: str = "good",
    condition: str = "",
    at: time = time(15),
    item_code: str = "",
) -> Answer:
    kind, formula = KINDS.get(feed, ("measurement", ""))
    code = item_code or feed.replace(".", "-").replace("_", "-")
    item, _ = ChecklistItem.objects.get_or_create(
        checklist=checkup.checklist,
        code=code,
        defaults={
            "kind": kind,
            "formula": formula,
            "feeds": feed,
            "part_kind": component.part_kind if component else "",
            "prompt": "Read it",
            "step": "read",
            "position": 2,
        },
    )
    return Answer.objects.create(
        checkup=checkup,
        item=item,
        component=component,
        number_si=number_si,
        seconds=seconds,
        condition=condition,
        verdict=verdict,
        recorded_at=datetime.combine(checkup.done_on, at, tzinfo=UTC),
        recorded_by=checkup.technician,
    )


@pytest.fixture
def place(system: System) -> Callable[..., Component]:
    def put_in(kind: str, data: dict[str, Any] | None = None, **rest: Any) -> Component:
        model = None if data is None else CatalogueModelFactory(part_kind=kind, maker="Northfold", data=data)
        made: Component = ComponentFactory(system=system, part_kind=kind, model=model, **rest)
        return made

    return put_in


def facts(system: System, on: date) -> SystemFacts:
    return facts_of([system.pk], on=on)[system.pk]


def test_of_a_house_without_records_only_its_parts_are_known(
    system: System, place: Callable[..., Component], on: date
) -> None:
    pump, cell = place("primary_pump"), place("battery")
    place("standby_pump", in_on=date(2020, 5, 14), out_on=on)
    place("standby_pump", in_on=date(2026, 5, 5))
    known = facts(system, on)
    assert [one.component_id for one in known.pumps] == [pump.pk]
    assert [one.component_id for one in known.batteries] == [cell.pk]
    assert known == SystemFacts(
        system_id=system.pk, installed_on=date(2020, 5, 14), pumps=known.pumps, batteries=known.batteries
    )
    assert known.pumps[0].word == "primary pump"
    assert known.pumps[0].curve is known.pumps[0].expected_years is None
    assert facts_of([999_999], on=on) == {}


def test_what_makers_declare_is_known_with_its_origin(
    system: System, place: Callable[..., Component], on: date
) -> None:
    place("primary_pump", {"curve": CURVE, "rated_hours": 5000, "rated_starts": 250000, "expected_years": 10})
    place("battery", {"chemistry": "agm", "capacity_ah": 75.0, "rate_h": 20.0, "expected_years_at_25c": 6})
    place("pit", {"diameter_m": 0.4572, "depth_m": 0.6096})
    place("discharge_line", {"bore_m": 0.040386})
    place("check_valve", {"closes_by": "swing"})
    place("freeze_relief", {})
    known = facts(system, on)
    pump, cell = known.pumps[0], known.batteries[0]
    assert pump.curve == tuple((flow, head) for flow, head in CURVE)
    assert pump.expected_years is not None
    assert (pump.expected_years.value, pump.expected_years.origin) == (10.0, "declared by the maker")
    assert pump.rated_starts is not None
    assert pump.rated_starts.unit == "count"
    assert cell.chemistry is not None
    assert (cell.chemistry.value, cell.chemistry.note) == ("agm", cell.model)
    assert cell.expected_years is not None
    assert cell.expected_years.value == 6.0
    assert known.pit.diameter_m is not None
    assert (known.pit.diameter_m.value, known.pit.diameter_m.origin) == (0.4572, "declared by the maker")
    assert known.line.bore_m is not None
    assert known.line.bore_m.value == 0.040386
    assert known.line.check_valve is not None
    assert known.line.check_valve.value == "swing"
    assert (known.line.relief_fitting, known.line.relief_tested) == (True, None)


def test_what_was_measured_as_built_stands_in_where_no_model_says_it(
    system: System, place: Callable[..., Component], on: date
) -> None:
    AsBuilt.objects.create(
        system=system,
        static_lift_m=2.7,
        bore_m=0.052,
        pit_diameter_m=0.5,
        elbows_90=4,
        pump_on_m=0.35,
        pump_off_m=0.15,
        falls_to_outlet=False,
        measured_on=date(2024, 5, 1),
    )
    known = facts(system, on)
    given = Given(value=2.7, unit="m", origin="measured", on=date(2024, 5, 1))
    assert known.line.static_lift_m == given
    assert known.line.bore_m is not None
    assert known.line.bore_m.value == 0.052
    assert known.line.falls_to_outlet == Given(value=False, origin="measured", on=date(2024, 5, 1))
    assert known.line.length_m is None
    assert known.pit.diameter_m is not None
    assert known.pit.diameter_m.value == 0.5
    place("pit", {"diameter_m": 0.4572})
    place("discharge_line", {"bore_m": 0.040386})
    again = facts(system, on)
    assert again.pit.diameter_m is not None
    assert again.line.bore_m is not None
    assert (again.pit.diameter_m.value, again.line.bore_m.value) == (0.4572, 0.040386)


def test_readings_of_all_check_ups_are_known_the_earliest_first(
    system: System, place: Callable[..., Component], theo: User, on: date
) -> None:
    pit, pump, cell = place("pit", {"diameter_m": 0.4572}), place("primary_pump"), place("battery")
    relief = place("freeze_relief")
    for year, volts in ((2025, 9.0), (2024, 10.2)):
        checkup = checkup_on(system, date(year, 5, 10), theo)
        answered(checkup, "basement.temperature_c", number_si=14.0 + year - 2024)
        # 6 in in 5 minutes in an 18 in pit is 1.322 gpm; a published arithmetic check of the rise test.
        answered(checkup, "pit.inflow_m3_s", pit, number_si=0.1524, seconds=300.0, verdict="not possible")
        answered(checkup, "pump.flow_m3_s", pump, number_si=0.2032, seconds=14.0)
        answered(checkup, "pump.run_hours", pump, number_si=3600.0 * 150 * (year - 2023))
        answered(checkup, "pump.starts", pump, number_si=20_000.0 * (year - 2023))
        answered(checkup, "battery.load_test_v", cell, number_si=volts, verdict="good" if volts > 9.5 else "bad")
        answered(checkup, "battery.deep_discharges", cell, number_si=3.0)
        answered(checkup, "freeze_relief.tested", relief, verdict="good" if year == 2025 else "bad")
    known = facts(system, on)
    days = [date(2024, 5, 10), date(2025, 5, 10)]
    assert [(one.on, one.value) for one in known.temperatures] == list(zip(days, (14.0, 15.0), strict=True))
    assert [one.value for one in known.pit.inflows] == pytest.approx([1.322 * 6.30902e-5] * 2, rel=1e-3)
    area = 3.14159265 / 4 * 0.4572**2
    drawn = area * 0.2032 / 14.0 + area * 0.1524 / 300.0  # what the pump moved and what came in meanwhile
    assert [one.value for one in known.pumps[0].flows] == pytest.approx([drawn] * 2, rel=1e-6)
    assert [one.value for one in known.pumps[0].run_hours] == [150.0, 300.0]
    assert [one.value for one in known.pumps[0].starts] == [20_000.0, 40_000.0]
    assert [(one.value, one.good) for one in known.batteries[0].load_tests] == [(10.2, True), (9.0, False)]
    assert [one.value for one in known.batteries[0].deep_discharges] == [3.0, 3.0]
    assert known.line.relief_tested == Given(value=True, origin="measured", on=days[1])
    assert known.checked_on == days[1]
    earlier = facts(system, date(2024, 6, 1))
    assert (earlier.checked_on, len(earlier.temperatures)) == (days[0], 1)
    assert earlier.line.relief_tested == Given(value=False, origin="measured", on=days[0])


def test_the_counters_of_the_pump_before_are_known(
    system: System, place: Callable[..., Component], theo: User, on: date
) -> None:
    place("pit", {"diameter_m": 0.4572})
    old = place("primary_pump", in_on=date(2020, 5, 14))
    checkup = checkup_on(system, date(2025, 5, 10), theo)
    answered(checkup, "pump.run_hours", old, number_si=3600.0 * 700)
    answered(checkup, "pump.flow_m3_s", old, number_si=0.2032, seconds=14.0)
    assert facts(system, on).pit.counted_before is None
    old.out_on = date(2025, 5, 10)
    old.save()
    place("primary_pump", in_on=date(2025, 5, 10))
    counted = facts(system, on).pit.counted_before
    assert counted is not None
    assert (counted.since, counted.on, counted.run_hours, counted.starts) == (
        date(2020, 5, 14),
        date(2025, 5, 10),
        700.0,
        None,
    )
    assert counted.flow_m3_s == pytest.approx(0.16417 * 0.2032 / 14.0, rel=1e-3)


def test_only_standing_answers_of_finished_check_ups_count_and_the_later_recorded_of_a_day(
    system: System, place: Callable[..., Component], theo: User, on: date
) -> None:
    checkup = checkup_on(system, date(2025, 5, 10), theo)
    first = answered(checkup, "basement.temperature_c", number_si=99.0)
    again = answered(checkup, "basement.temperature_c", number_si=14.0, at=time(16))
    again.supersedes = first
    again.save()
    answered(checkup, "basement.temperature_c", number_si=15.0, at=time(17), item_code="second-thermometer")
    answered(checkup, "basement.humidity", number_si=None, condition="not_possible", verdict="not possible")
    open_one = checkup_on(system, date(2026, 4, 1), theo)
    answered(open_one, "basement.temperature_c", number_si=30.0)
    open_one.finished_at = None
    open_one.save()
    known = facts(system, on)
    assert known.temperatures == (Reading(on=date(2025, 5, 10), value=15.0, good=True),)
    assert known.checked_on == date(2025, 5, 10)


def test_a_timed_test_that_cannot_be_reckoned_tells_nothing(
    system: System, place: Callable[..., Component], theo: User, on: date
) -> None:
    pit, pump = place("pit"), place("primary_pump")
    checkup = checkup_on(system, date(2025, 5, 10), theo)
    answered(checkup, "pit.inflow_m3_s", pit, number_si=0.05, seconds=100.0)
    answered(checkup, "pump.flow_m3_s", pump, number_si=0.2, seconds=14.0)
    known = facts(system, on)
    assert (known.pit.inflows, known.pumps[0].flows) == ((), ())  # nobody knows how wide the pit is
    pit.model = CatalogueModelFactory(part_kind="pit", data={"diameter_m": 0.4572})
    pit.save()
    assert len(facts(system, on).pumps[0].flows) == 1
    Answer.objects.filter(item__feeds="pump.flow_m3_s").update(number_si=-0.2)
    assert facts(system, on).pumps[0].flows == ()
    Answer.objects.filter(item__feeds="pump.flow_m3_s").update(number_si=0.0)
    still = facts(system, on)
    assert still.pumps[0].flows[0].value == still.pit.inflows[0].value
    place("pit", {"diameter_m": 0.6})  # with two pits nobody knows which one was timed
    assert facts(system, on).pit.inflows == ()


def normals(name: str, *prefixes: str) -> ClimateNormals:
    return ClimateNormals.objects.create(
        name=name,
        postcode_prefixes=list(prefixes),
        latitude_deg=41.0,
        rain_mm=[80.0] * 12,
        temperature_c=[10.0] * 12,
        frost_depth_m=0.9,
        snow_depth_m=0.4,
        ordinary_outage_h=2.0,
        storm_outage_h=12.0,
        source="invented",
    )


@pytest.mark.parametrize(
    ("postcode", "region"),
    [("17099", "Narrow"), ("17110", "Wide"), ("17099-1234", "Narrow"), ("60601", "Elsewhere"), (" 17 099", "Narrow")],
)
def test_the_longest_beginning_of_the_postcode_decides_the_climate(
    system: System, on: date, postcode: str, region: str
) -> None:
    normals("Wide", "17", "18")
    normals("Narrow", "170")
    normals("Elsewhere")
    system.property.postcode = postcode
    system.property.save()
    climate = facts(system, on).climate
    assert climate is not None
    assert climate.name == region


def test_without_a_region_that_fits_there_is_no_climate(system: System, on: date) -> None:
    normals("Far", "9")
    assert facts(system, on).climate is None


def test_facts_take_as_many_queries_for_thirty_systems_as_for_one(company: object, theo: User, on: date) -> None:
    systems = []
    for number in range(30):
        system = SystemFactory(property__street=f"{number} Quarry Lane")
        OwnershipFactory(property=system.property)
        parts = [
            ComponentFactory(system=system, part_kind=kind, model=CatalogueModelFactory(part_kind=kind))
            for kind in ("primary_pump", "standby_pump", "battery", "pit")
        ]
        checkup = checkup_on(system, date(2025, 5, 10), theo)
        answered(checkup, "basement.temperature_c", number_si=14.0)
        answered(checkup, "pump.current_a", parts[0], number_si=6.0, verdict="bad")
        systems.append(system.pk)

    def count(ids: list[int]) -> int:
        with CaptureQueriesContext(connection) as captured:
            assert len(facts_of(ids, on=on)) == len(ids)
        return len(captured)

    assert count(systems[:1]) == count(systems) <= 15
