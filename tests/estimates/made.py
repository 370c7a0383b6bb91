"""Facts of systems for the rules: one that is wholly measured, and any number of others drawn from a seed."""

import re
from dataclasses import replace
from datetime import date, timedelta
from math import e, sqrt
from random import Random

from contractor.estimates.rules.facts import (
    BatteryFacts,
    ClimateFacts,
    Given,
    LineFacts,
    PitFacts,
    PumpFacts,
    Reading,
    SystemFacts,
)

IN_ON = date(2020, 5, 14)
ON = date(2026, 5, 1)
# A maker's curve for a third of a horsepower and one for a 12 V standby pump; both invented, in m³/s and m.
PRIMARY_POINTS = ((0.0, 6.858), (0.0012618, 5.9436), (0.002103, 4.572), (0.0027339, 3.048), (0.0031545, 1.524))
STANDBY_POINTS = ((0.0, 6.096), (0.00094635, 5.1816), (0.00157725, 4.1148), (0.002103, 3.048), (0.0026288, 1.8288))
LARGE_POINTS = ((0.0, 9.144), (0.00157725, 7.9248), (0.0027339, 6.096), (0.0035751, 4.572), (0.004206, 3.048))
CLIMATE = ClimateFacts(
    name="Tamarack County",
    latitude_deg=41.0,
    rain_mm=(70.0, 65.0, 85.0, 95.0, 100.0, 105.0, 100.0, 95.0, 90.0, 85.0, 80.0, 75.0),
    temperature_c=(-4.0, -3.0, 2.0, 9.0, 15.0, 20.0, 22.0, 21.0, 17.0, 11.0, 5.0, -1.0),
    frost_depth_m=0.9,
    snow_depth_m=0.4,
    ordinary_outage_h=2.0,
    storm_outage_h=12.0,
    source="invented for tests",
)


def measured(value: float, unit: str = "m") -> Given[float]:
    return Given(value=value, unit=unit, origin="measured", on=IN_ON)


def declared(value: float, unit: str = "") -> Given[float]:
    return Given(value=value, unit=unit, origin="declared by the maker")


def readings(*values: float, first: date = date(2021, 5, 10)) -> tuple[Reading, ...]:
    """One a year."""
    return tuple(Reading(on=first.replace(year=first.year + later), value=value) for later, value in enumerate(values))


def primary(**changes: object) -> PumpFacts:
    pump = PumpFacts(
        component_id=1,
        part_kind="primary_pump",
        word="primary pump",
        model_id=11,
        model="Northfold Castwell 33",
        installed_on=IN_ON,
        curve=PRIMARY_POINTS,
        rated_hours=declared(5000.0, "h"),
        rated_starts=declared(250_000.0, "count"),
        expected_years=declared(10.0),
    )
    return replace(pump, **changes)  # type: ignore[arg-type]


def standby(**changes: object) -> PumpFacts:
    pump = PumpFacts(
        component_id=2,
        part_kind="standby_pump",
        word="standby pump",
        model_id=12,
        model="Kestrel Ridge Gale 18",
        installed_on=IN_ON,
        curve=STANDBY_POINTS,
        curve_at_v=declared(12.0, "V"),
        current_a=declared(18.0, "A"),
        expected_years=declared(10.0),
    )
    return replace(pump, **changes)  # type: ignore[arg-type]


def battery(**changes: object) -> BatteryFacts:
    made = BatteryFacts(
        component_id=3,
        word="battery",
        model_id=13,
        model="Merrowick Stillmat 75",
        installed_on=date(2023, 5, 14),
        chemistry=Given(value="agm", origin="declared by the maker"),
        capacity_ah=declared(75.0, "Ah"),
        rate_h=declared(20.0, "h"),
        expected_years=declared(6.0),
    )
    return replace(made, **changes)  # type: ignore[arg-type]


LINE = LineFacts(
    static_lift_m=measured(2.7432),
    length_m=measured(9.144),
    bore_m=measured(0.040386),
    elbows_90=measured(4.0, "count"),
    elbows_45=measured(0.0, "count"),
    cover_m=measured(1.0),
    exposed_length_m=measured(0.0),
    is_insulated=Given(value=False, origin="measured", on=IN_ON),
    falls_to_outlet=Given(value=True, origin="measured", on=IN_ON),
    sags=measured(0.0, "count"),
    outlet_above_ground_m=measured(0.6),
    relief_fitting=True,
    relief_tested=Given(value=True, origin="measured", on=IN_ON),
)
PIT = PitFacts(
    diameter_m=measured(0.4572),
    depth_m=measured(0.762),
    on_m=measured(0.3556),
    off_m=measured(0.1524),
    standby_on_m=measured(0.45),
    inflows=readings(0.00003, 0.000025, 0.00003, 0.000035, 0.00003),
)


def system(**changes: object) -> SystemFacts:
    """A system of which everything is measured; last checked on May 10, 2025."""
    made = SystemFacts(
        system_id=7,
        installed_on=IN_ON,
        pumps=(primary(), standby()),
        batteries=(battery(),),
        line=LINE,
        pit=PIT,
        temperatures=readings(14.0, 15.0, 13.0, 16.0, 14.0),
        checked_on=date(2025, 5, 10),
        climate=CLIMATE,
    )
    return replace(made, **changes)  # type: ignore[arg-type]


def bare() -> SystemFacts:
    """A system of which nothing is known but what stands in it."""
    return SystemFacts(
        system_id=8,
        installed_on=IN_ON,
        pumps=(
            PumpFacts(component_id=1, part_kind="primary_pump", word="primary pump", installed_on=IN_ON),
            PumpFacts(component_id=2, part_kind="standby_pump", word="standby pump", installed_on=IN_ON),
        ),
        batteries=(BatteryFacts(component_id=3, word="battery", installed_on=IN_ON),),
    )


def many(count: int, *, seed: int = 1, on: date = ON) -> list[SystemFacts]:
    """Systems of every kind: measured and not, worn and new, with and without standby, battery, line and climate."""
    source = Random(seed)
    return [_drawn(number, source, on) for number in range(1, count + 1)]


def _drawn(number: int, source: Random, on: date) -> SystemFacts:
    installed_on = on - timedelta(days=source.randint(0, 4500))
    years = [installed_on + timedelta(days=days) for days in range(365, (on - installed_on).days + 1, 365)]

    def series(low: float, high: float, share: float = 0.8) -> tuple[Reading, ...]:
        if source.random() > share:
            return ()
        return tuple(Reading(on=day, value=source.uniform(low, high)) for day in years)

    def rising(a_year: float) -> tuple[Reading, ...]:
        return tuple(Reading(on=day, value=a_year * (at + 1)) for at, day in enumerate(years))

    curve = source.choice((PRIMARY_POINTS, LARGE_POINTS, PRIMARY_POINTS[:2], None))
    counted = source.random() < 0.5
    first = primary(
        component_id=10 * number + 1,
        installed_on=installed_on,
        curve=curve,
        flows=series(0.0012, 0.0028),
        run_hours=rising(source.uniform(40.0, 400.0)) if counted else (),
        starts=rising(source.uniform(5_000.0, 60_000.0)) if counted else (),
        expected_years=source.choice((declared(10.0), None)),
    )
    second = standby(
        component_id=10 * number + 2,
        installed_on=installed_on,
        curve=source.choice((STANDBY_POINTS, STANDBY_POINTS, None)),
        flows=series(0.0006, 0.0016),
        currents=series(9.0, 19.0, 0.3),
    )
    cell = battery(
        component_id=10 * number + 3,
        installed_on=installed_on + timedelta(days=source.randint(0, (on - installed_on).days)),
        chemistry=source.choice(
            (*(Given(value=word, origin="declared by the maker") for word in ("agm", "flooded", "lifepo4")), None)
        ),
        capacity_ah=source.choice((declared(75.0, "Ah"), declared(100.0, "Ah"), None)),
    )
    cell = replace(cell, capacities=tuple(one for one in series(55.0, 76.0, 0.5) if one.on >= cell.installed_on))
    line = source.choice((LINE, LINE, LineFacts(), LineFacts(bore_m=measured(0.0519938), cover_m=measured(0.2))))
    if source.random() < 0.8 and line.static_lift_m is not None:
        line = replace(
            line,
            static_lift_m=measured(source.uniform(1.8, 5.5)),
            length_m=measured(source.uniform(4.0, 30.0)),
        )
    return SystemFacts(
        system_id=number,
        installed_on=installed_on,
        pumps=(first, second) if source.random() < 0.9 else (first,),
        batteries=(cell,) if source.random() < 0.9 else (),
        line=line,
        pit=replace(source.choice((PIT, PitFacts())), inflows=series(0.0, 0.00008)),
        temperatures=series(8.0, 30.0),
        checked_on=years[-1] if years else None,
        climate=source.choice((CLIMATE, CLIMATE, None)),
    )


def by_hand(with_numbers: str) -> float:
    """What a pocket calculator gives for the figures of a step as they stand there."""
    plain = {"·": "*", "÷": "/", "−": "-", "^": "**", "²": "**2", "³": "**3", "√": "sqrt"}
    for sign, typed in plain.items():
        with_numbers = with_numbers.replace(sign, typed)
    return float(eval(with_numbers, {"sqrt": sqrt, "e": e}))  # figures of our own making


def leading(result: str) -> float:
    """The figure with which a result begins, a percentage as a part of one."""
    found = re.match(r"(-?[\d,.]+)(%?)", result)
    assert found is not None, result
    value = float(found[1].replace(",", ""))
    return value / 100.0 if found[2] else value
