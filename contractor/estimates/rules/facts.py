"""What is known of a system and its parts: only facts, each with where it comes from; None where nobody knows.

Nothing here is assumed. ``assumed.py`` fills the gaps, and says so. A what-if takes these facts, puts another value in
with ``dataclasses.replace`` (origin ``SUPPOSED``) and asks the same functions again. All values are in base units: m,
m³/s, V, A, Ah, °C; running times in hours.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final, Generic, TypeVar

MEASURED: Final = "measured"
DECLARED: Final = "declared by the maker"
ON_RECORD: Final = "on record"
ASSUMED: Final = "assumed"
# Not so in the house, but asked about in a what-if.
SUPPOSED: Final = "supposed"

PRIMARY: Final = "primary_pump"
STANDBY: Final = "standby_pump"
BATTERY: Final = "battery"
ESTIMATED_KINDS: Final = (PRIMARY, STANDBY, BATTERY)

Value = TypeVar("Value", float, bool, str)


@dataclass(frozen=True, slots=True, kw_only=True)
class Given(Generic[Value]):
    """One value: ``unit`` is a code of ``core/units.py`` ("" for bare numbers, years, words), ``origin`` where it
    comes from, ``on`` the day it was measured or written down, ``note`` whose figure it is.
    """

    value: Value
    unit: str = ""
    origin: str
    on: date | None = None
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """What was measured at a check-up. ``good`` is the verdict then, None where there was none."""

    on: date
    value: float
    good: bool | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """What the last check-up found of a part: "watch" or "bad", the sentence that goes with it, and since when."""

    condition: str
    sentence: str
    on: date


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnLife:
    """How long parts of one kind or model last with this company: a Weibull fit of its own records.

    ``of`` is "model" or "kind"; ``failures`` among ``units`` parts, as known on ``known_on``; years.
    """

    of: str
    shape: float
    scale_years: float
    failures: int
    units: int
    known_on: date


@dataclass(frozen=True, slots=True, kw_only=True)
class PumpFacts:
    """A primary or standby pump in the house.

    ``curve`` points of flow (m³/s) and head (m) as declared; ``curve_at_v`` the supply at which they were measured.
    Readings are the earliest first: ``flows`` by timed draw-down, ``currents``, ``run_hours`` and ``starts`` of the
    counters since the pump went in. ``wear_ratio`` (the part of its new flow that the pump moves now) and
    ``wear_ratios`` (by day, what its wear is judged by) take the place of ``flows`` in a what-if, as found on the line
    that is really there (``supposing.on_another_line``).
    """

    component_id: int
    part_kind: str
    word: str
    model_id: int | None = None
    model: str = ""
    installed_on: date
    curve: tuple[tuple[float, float], ...] | None = None
    curve_at_v: Given[float] | None = None
    current_a: Given[float] | None = None
    rated_hours: Given[float] | None = None
    rated_starts: Given[float] | None = None
    expected_years: Given[float] | None = None
    flows: tuple[Reading, ...] = ()
    currents: tuple[Reading, ...] = ()
    run_hours: tuple[Reading, ...] = ()
    starts: tuple[Reading, ...] = ()
    wear_ratio: Given[float] | None = None
    wear_ratios: tuple[tuple[date, float], ...] = ()
    found: Found | None = None
    own_life: OwnLife | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BatteryFacts:
    """A standby battery. ``chemistry`` is "flooded", "agm", "gel" or "lifepo4"; ``expected_years`` on float at 25 °C.

    Readings are the earliest first: ``capacities`` by timed discharge in Ah, ``load_tests`` volts with their verdict,
    ``running_v`` under the standby pump's load, ``rest_v``, ``deep_discharges`` how often it was run down since the
    check-up before.
    """

    component_id: int
    word: str
    model_id: int | None = None
    model: str = ""
    installed_on: date
    chemistry: Given[str] | None = None
    capacity_ah: Given[float] | None = None
    rate_h: Given[float] | None = None
    expected_years: Given[float] | None = None
    capacities: tuple[Reading, ...] = ()
    load_tests: tuple[Reading, ...] = ()
    running_v: tuple[Reading, ...] = ()
    rest_v: tuple[Reading, ...] = ()
    deep_discharges: tuple[Reading, ...] = ()
    found: Found | None = None
    own_life: OwnLife | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LineFacts:
    """The discharge line as built; see ``systems.AsBuilt`` for what each length means.

    ``check_valve`` is how the valve closes ("swing", "spring flap"); ``relief_fitting`` whether a freeze-relief fitting
    is on record and ``relief_tested`` what came of its test at the latest check-up that tried it.
    """

    static_lift_m: Given[float] | None = None
    length_m: Given[float] | None = None
    bore_m: Given[float] | None = None
    elbows_90: Given[float] | None = None
    elbows_45: Given[float] | None = None
    check_valve: Given[str] | None = None
    cover_m: Given[float] | None = None
    exposed_length_m: Given[float] | None = None
    is_insulated: Given[bool] | None = None
    falls_to_outlet: Given[bool] | None = None
    sags: Given[float] | None = None
    outlet_above_ground_m: Given[float] | None = None
    relief_fitting: bool = False
    relief_tested: Given[bool] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Counted:
    """What the counters of an earlier primary pump said when they were read last: hours run and starts ``since`` a day.

    ``flow_m3_s`` is what that pump moved when it was measured last, None when it never was.
    """

    since: date
    on: date
    run_hours: float | None = None
    starts: float | None = None
    flow_m3_s: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PitFacts:
    """The pit: its size, the levels above its floor at which pumps start and stop, and the inflows measured in it.

    ``counted_before`` is of the pump that emptied it before the present one. ``mean_inflow_m3_s``, the mean of the
    year, takes the place of everything measured in a what-if.
    """

    diameter_m: Given[float] | None = None
    depth_m: Given[float] | None = None
    on_m: Given[float] | None = None
    off_m: Given[float] | None = None
    standby_on_m: Given[float] | None = None
    inflows: tuple[Reading, ...] = ()
    counted_before: Counted | None = None
    mean_inflow_m3_s: Given[float] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ClimateFacts:
    """The climate normals that the house lies in; twelve months from January."""

    name: str
    latitude_deg: float
    rain_mm: tuple[float, ...]
    temperature_c: tuple[float, ...]
    frost_depth_m: float
    snow_depth_m: float
    ordinary_outage_h: float
    storm_outage_h: float
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SystemFacts:
    """Everything that is known of one system on a day.

    ``temperatures`` of the basement at check-ups; ``checked_on`` the day of the last finished check-up.
    """

    system_id: int
    installed_on: date
    pumps: tuple[PumpFacts, ...] = ()
    batteries: tuple[BatteryFacts, ...] = ()
    line: LineFacts = LineFacts()
    pit: PitFacts = PitFacts()
    temperatures: tuple[Reading, ...] = ()
    checked_on: date | None = None
    climate: ClimateFacts | None = None

    @property
    def primary(self) -> PumpFacts | None:
        """The mains pump that empties the pit: where there are several, the newest."""
        return _newest(self.pumps, PRIMARY)

    @property
    def standby(self) -> PumpFacts | None:
        """The standby pump: where there are several, the newest."""
        return _newest(self.pumps, STANDBY)


def _newest(pumps: tuple[PumpFacts, ...], part_kind: str) -> PumpFacts | None:
    of_kind = [pump for pump in pumps if pump.part_kind == part_kind]
    return max(of_kind, key=lambda pump: (pump.installed_on, pump.component_id), default=None)


def latest(readings: tuple[Reading, ...]) -> Reading | None:
    """The last of several readings."""
    return readings[-1] if readings else None


def reckoned_on(facts: SystemFacts, *, on: date) -> date:
    """The day for which a system is estimated: the first of the month of ``on``, or the last fact's day if later.

    So an estimate stays as it is for a month unless something new is known, and isn't written again every night.
    """
    return max(on.replace(day=1), *_days(facts))


def _days(facts: SystemFacts) -> Iterator[date]:
    yield facts.installed_on
    if facts.checked_on is not None:
        yield facts.checked_on
    for pump in facts.pumps:
        yield pump.installed_on
        yield from _reading_days(pump.flows, pump.currents, pump.run_hours, pump.starts)
    for battery in facts.batteries:
        yield battery.installed_on
        yield from _reading_days(
            battery.capacities, battery.load_tests, battery.running_v, battery.rest_v, battery.deep_discharges
        )
    yield from _reading_days(facts.temperatures, facts.pit.inflows)


def _reading_days(*series: tuple[Reading, ...]) -> Iterator[date]:
    for readings in series:
        if readings:
            yield readings[-1].on


def next_checkup_on(facts: SystemFacts, *, on: date) -> date:
    """When a part is looked at next: a year after the last check-up; a year from now where that has passed."""
    a_year = timedelta(days=365)
    due = (facts.checked_on or facts.installed_on) + a_year
    return due if due > on else on + a_year
