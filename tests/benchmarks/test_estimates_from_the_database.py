"""How long a night takes from the database, split into reading, computing and writing.

Run by themselves: ``pytest tests/benchmarks -n0 -s``. They measure and never fail for being slow.
"""

import resource
from collections import defaultdict
from collections.abc import Callable
from datetime import UTC, date, datetime, time, timedelta
from functools import partial
from random import Random
from time import perf_counter
from typing import Any

import pytest

from contractor.accounts.models import User
from contractor.checkups.models import Answer, Checklist, ChecklistItem, CheckUp
from contractor.estimates.actions import refresh_all_estimates
from contractor.estimates.known_facts import facts_of
from contractor.estimates.models import LifeEstimate, SystemEstimate
from contractor.estimates.rules.fleet import estimates_from, work_out
from contractor.estimates.rules.wording import Wording
from contractor.estimates.stored_rows import digest, life_content, system_content
from contractor.properties.models import Property
from contractor.systems.models import AsBuilt, CatalogueModel, Component, System
from contractor.visits.models import Appointment, Request
from tests.estimates.made import PRIMARY_POINTS, STANDBY_POINTS
from tests.factories import CatalogueModelFactory
from tests.visits.factories import AppointmentFactory, RequestFactory

SYSTEMS = 100_000
AT_ONCE = 1_000  # as many as a night works on at once
ON, AT = date(2026, 5, 4), datetime(2026, 5, 4, 14, tzinfo=UTC)
YEARS = 4
DATA: dict[str, dict[str, Any]] = {
    "channel": {},
    "liner": {},
    "pit": {"diameter_m": 0.4572, "depth_m": 0.762},
    "primary_pump": {"curve": [list(one) for one in PRIMARY_POINTS], "rated_hours": 5000, "rated_starts": 250000},
    "standby_pump": {"curve": [list(one) for one in STANDBY_POINTS], "curve_at_v": 12.0, "current_a": 18.0},
    "battery": {"chemistry": "agm", "capacity_ah": 75.0, "rate_h": 20.0, "expected_years_at_25c": 6},
    "charger": {},
    "float_switch": {},
    "check_valve": {"closes_by": "swing"},
    "discharge_line": {"bore_m": 0.040386},
}
# Feed: part kind, kind, formula, lowest and highest value.
FEEDS: dict[str, tuple[str, str, str, float, float]] = {
    "basement.temperature_c": ("", "measurement", "", 11.0, 19.0),
    "pit.inflow_m3_s": ("pit", "timed_test", "pit_rise_inflow", 0.05, 0.06),
    "pump.flow_m3_s": ("primary_pump", "timed_test", "pump_down_flow", 0.19, 0.21),
    "pump.run_hours": ("primary_pump", "measurement", "", 3e5, 4e5),
    "pump.starts": ("primary_pump", "count", "", 15_000.0, 16_000.0),
    "pump.current_a": ("standby_pump", "measurement", "", 15.0, 18.0),
    "battery.capacity_ah": ("battery", "measurement", "", 62.0, 75.0),
    "battery.rest_v": ("battery", "measurement", "", 12.6, 12.9),
}


def built(theo: User) -> None:
    """Houses with ten parts each, four years of check-ups with eight readings, and as-built measures."""
    source = Random(3)
    models = {kind: CatalogueModelFactory(part_kind=kind, data=data) for kind, data in DATA.items()}
    checklist = Checklist.objects.create(edition=1, name="Yearly", created_at=AT, published_at=AT)
    items = {
        feed: ChecklistItem.objects.create(
            checklist=checklist, code=feed.replace(".", "-").replace("_", "-"), part_kind=kind, kind=way,
            formula=formula, feeds=feed, prompt="Read it", step="read", position=1,
        )
        for feed, (kind, way, formula, _, _) in FEEDS.items()
    }  # fmt: skip
    for first in range(0, SYSTEMS, AT_ONCE):
        _houses(first, models, checklist, items, theo, source)


def _houses(
    first: int,
    models: dict[str, CatalogueModel],
    checklist: Checklist,
    items: dict[str, ChecklistItem],
    theo: User,
    source: Random,
) -> None:
    houses = Property.objects.bulk_create(
        Property(
            street=f"{number} Long Lane", city="Larkmere", state="PA", postcode="17099", created_at=AT,
            address_key=f"long-lane-{number}",
        )
        for number in range(first, first + AT_ONCE)
    )  # fmt: skip
    into = [ON - timedelta(days=source.randint(1500, 4000)) for _ in houses]
    systems = System.objects.bulk_create(
        System(property=house, installed_on=day, created_at=AT - timedelta(days=5000))
        for house, day in zip(houses, into, strict=True)
    )
    parts = _parts(systems, models)
    AsBuilt.objects.bulk_create(
        AsBuilt(system=system, static_lift_m=source.uniform(2, 4), length_m=9.0, elbows_90=4, measured_on=into[at])
        for at, system in enumerate(systems)
    )
    for year in range(YEARS):
        _check_ups(systems, parts, checklist, items, theo, year, source)


def _parts(systems: list[System], models: dict[str, CatalogueModel]) -> list[dict[str, Component]]:
    made = Component.objects.bulk_create(
        Component(system=system, part_kind=kind, model=model, in_on=system.installed_on)
        for system in systems
        for kind, model in models.items()
    )
    each = len(models)
    return [{one.part_kind: one for one in made[at : at + each]} for at in range(0, len(made), each)]


def _check_ups(
    systems: list[System],
    parts: list[dict[str, Component]],
    checklist: Checklist,
    items: dict[str, ChecklistItem],
    theo: User,
    year: int,
    source: Random,
) -> None:
    day = ON - timedelta(days=365 * (YEARS - year))
    moment = datetime.combine(day, time(15), tzinfo=UTC)
    requests = Request.objects.bulk_create(RequestFactory.build(system=one, target_on=day) for one in systems)
    visits = Appointment.objects.bulk_create(
        AppointmentFactory.build(request=one, technician=theo, on=day, state="done") for one in requests
    )
    checkups = CheckUp.objects.bulk_create(
        CheckUp(
            appointment=visit, system=system, kind="checkup", checklist=checklist, technician=theo,
            started_at=moment, done_on=day, finished_at=moment,
        )
        for visit, system in zip(visits, systems, strict=True)
    )  # fmt: skip
    answers = []
    for at, checkup in enumerate(checkups):
        for feed, (kind, way, _, low, high) in FEEDS.items():
            value = source.uniform(low, high)
            if feed in {"pump.run_hours", "pump.starts"}:
                value *= year + 1
            answers.append(
                Answer(
                    checkup=checkup, item=items[feed], component=parts[at].get(kind), number_si=value,
                    seconds=source.uniform(13, 15) if way == "timed_test" and "pump" in feed else 300.0,
                    verdict="good", recorded_at=moment, recorded_by=theo,
                )
            )  # fmt: skip
    Answer.objects.bulk_create(answers, batch_size=2000)


@pytest.mark.django_db
def test_a_night_of_a_hundred_thousand_systems(theo: User, benchmark: Any) -> None:
    """Split in the portions that a night works in; then the whole first night, everything written."""
    took: dict[str, float] = defaultdict(float)

    def timed(name: str, work: Callable[[], Any]) -> Any:
        begun = perf_counter()
        done = work()
        took[name] += perf_counter() - begun
        return done

    timed("making the houses (not part of a night)", lambda: built(theo))
    ids = list(System.objects.order_by("pk").values_list("pk", flat=True))
    before = _peak_mb()
    for first in range(0, SYSTEMS, AT_ONCE):
        some = ids[first : first + AT_ONCE]
        facts = timed("reading the facts", lambda some=some: list(facts_of(some, on=ON).values()))
        worked = timed("computing the numbers", lambda facts=facts: work_out(facts, on=ON))
        made = timed("dates and sentences", lambda ready=worked: [estimates_from(w, Wording("US")) for w in ready])
        timed("hashing", lambda made=made: _hashed(made))
    night = partial(timed, "the first night, all written", lambda: refresh_all_estimates(on=ON, at=AT))
    benchmark.pedantic(night, rounds=1, warmup_rounds=0)
    assert (LifeEstimate.objects.count(), SystemEstimate.objects.count()) == (3 * SYSTEMS, SYSTEMS)
    print(f"\n{SYSTEMS} systems, {Component.objects.count()} components, {Answer.objects.count()} answers")
    for name, seconds in took.items():
        print(f"  {name}: {seconds:.1f} s, {1000 * seconds / SYSTEMS:.2f} ms each")
    print(f"  peak memory {before:.0f} MB once the houses were made, {_peak_mb():.0f} MB after the night")


def _hashed(made: list[Any]) -> None:
    for one in made:
        digest(system_content(one))
        for part in one.parts:
            digest(life_content(part))


def _peak_mb() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
