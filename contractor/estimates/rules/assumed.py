"""What is taken for granted where a fact is unknown: each figure with its source, and marked assumed where used."""

from dataclasses import dataclass
from typing import Final

from contractor.engineering.battery_checks import Chemistry
from contractor.engineering.battery_life import AGE_RULE_YEARS as BATTERY_YEARS
from contractor.engineering.pump_curves import DischargeLine
from contractor.engineering.pump_life import AGE_RULE_SHAPE, AGE_RULE_YEARS
from contractor.estimates.rules.facts import (
    ASSUMED,
    BATTERY,
    PRIMARY,
    STANDBY,
    BatteryFacts,
    Given,
    LineFacts,
    PitFacts,
    PumpFacts,
    Value,
)

PRACTICE: Final = "common practice, no source"

# The discharge line of a basement: up through the rim and some way off the wall.
STATIC_LIFT_M: Final = 2.7432  # 9 ft
LENGTH_M: Final = 9.144  # 30 ft
ELBOWS_90, ELBOWS_45 = 4.0, 0.0
# Mean bore of 1½ in Schedule 40 pipe: 1.59 in, between the standard's least wall and its tolerance. ASTM D1785.
BORE_M: Final = 0.040386
# Loss factors of fittings. Elbows: 30·f and 16·f with f = 0.021 for 1½ in (Crane TP-410; the 45° one from memory).
# A swing check: 2, as two tables print. An open end: 1. A spring check may take far more; its maker's figure is better.
K_ELBOW_90, K_ELBOW_45, K_CHECK, K_EXIT = 0.63, 0.34, 2.0, 1.0
# Hazen–Williams coefficient of plastic for design. With cold water and 1½ in it agrees with Darcy within 3 %.
HAZEN_WILLIAMS_C: Final = 140.0
COVER_M, EXPOSED_M, OUTLET_M, SAGS = 0.3048, 0.3048, 0.1524, 0.0

# The least pit that the code allows: 18 in wide, 24 in deep. IRC 2021 P3303.1.2.
PIT_DIAMETER_M, PIT_DEPTH_M = 0.4572, 0.6096
# The float of the primary starts 14 in and stops 6 in above the floor: a range of 8 in.
PUMP_ON_M, PUMP_OFF_M = 0.3556, 0.1524

# A cast-iron mains pump of about a third of a horsepower: 2,600 gallons an hour at 10 ft.
PRIMARY_CURVE: Final = ((0.0, 6.858), (0.0012618, 5.9436), (0.002103, 4.572), (0.0027344, 3.048), (0.0031545, 1.524))

# Mean inflow of a year that nobody has measured: 0.4 gal/min, which makes some 24,000 starts a year.
MEAN_INFLOW_M3_S: Final = 2.5e-5
# The wettest month brings this many times the mean where the climate isn't known; a storm doubles the wettest month.
WETTEST_MONTH_TIMES, STORM_TIMES = 2.5, 2.0

# Part of a year's inflow that comes evenly, because the ground stores water. Assumption of this project, no source.
BASE_FLOW: Final = 0.5

BASEMENT_C: Final = 15.0
BATTERY_RATE_H: Final = 20.0
PUMP_SUPPLY_V: Final = 12.0
# What a 12 V battery gives halfway through under a pump's load.
LOADED_V: Final = {
    Chemistry.FLOODED: 11.5,
    Chemistry.AGM: 11.5,
    Chemistry.GEL: 11.5,
    Chemistry.LIFEPO4: 12.8,
}
# A battery nobody has measured loses evenly from the full rating when new to 80 % at the end of its expected life.
HEALTH_AT_END: Final = 0.80
LEAST_HEALTH: Final = 0.50

# Weibull shape of a battery's life: wear-out, between three and seven years for five expected.
BATTERY_SHAPE: Final = 3.0
SHAPE: Final = {PRIMARY: AGE_RULE_SHAPE, STANDBY: AGE_RULE_SHAPE, BATTERY: BATTERY_SHAPE}


@dataclass(frozen=True, slots=True, kw_only=True)
class FullLine:
    """A discharge line with every gap filled."""

    static_lift_m: Given[float]
    length_m: Given[float]
    bore_m: Given[float]
    elbows_90: Given[float]
    elbows_45: Given[float]
    check_valve: Given[str]
    cover_m: Given[float]
    exposed_length_m: Given[float]
    is_insulated: Given[bool]
    sags: Given[float]
    outlet_above_ground_m: Given[float]

    @property
    def k_sum(self) -> float:
        """All fittings and the open end."""
        elbows = K_ELBOW_90 * self.elbows_90.value + K_ELBOW_45 * self.elbows_45.value
        return elbows + K_CHECK + K_EXIT

    def as_discharge(self) -> DischargeLine:
        """The line as the hydraulics take it; BadInput for values that can't be."""
        return DischargeLine(
            self.static_lift_m.value, self.bore_m.value, self.length_m.value, self.k_sum, c=HAZEN_WILLIAMS_C
        )

    @property
    def is_known(self) -> bool:
        """Whether what decides the head is known: lift, length and bore."""
        return ASSUMED not in {self.static_lift_m.origin, self.length_m.origin, self.bore_m.origin}


@dataclass(frozen=True, slots=True, kw_only=True)
class FullPit:
    """A pit with every gap filled."""

    diameter_m: Given[float]
    depth_m: Given[float]
    on_m: Given[float]
    off_m: Given[float]


def known_or(given: Given[Value] | None, value: Value, unit: str = "", note: str = PRACTICE) -> Given[Value]:
    """The fact where there is one, else the assumed value, marked so."""
    return Given(value=value, unit=unit, origin=ASSUMED, note=note) if given is None else given


def full_line(line: LineFacts) -> FullLine:
    """The line, with what nobody measured filled in."""
    return FullLine(
        static_lift_m=known_or(line.static_lift_m, STATIC_LIFT_M, "m"),
        length_m=known_or(line.length_m, LENGTH_M, "m"),
        bore_m=known_or(line.bore_m, BORE_M, "m", "1½ in Schedule 40 pipe, ASTM D1785"),
        elbows_90=known_or(line.elbows_90, ELBOWS_90, "count"),
        elbows_45=known_or(line.elbows_45, ELBOWS_45, "count"),
        check_valve=known_or(line.check_valve, "swing"),
        cover_m=known_or(line.cover_m, COVER_M, "m"),
        exposed_length_m=known_or(line.exposed_length_m, EXPOSED_M, "m"),
        is_insulated=known_or(line.is_insulated, False),
        sags=known_or(line.sags, SAGS, "count"),
        outlet_above_ground_m=known_or(line.outlet_above_ground_m, OUTLET_M, "m"),
    )


def full_pit(pit: PitFacts) -> FullPit:
    """The pit, with what nobody measured filled in; one known float level keeps the usual distance to the other."""
    code = "the least that IRC 2021 P3303.1.2 allows"
    stroke_m = PUMP_ON_M - PUMP_OFF_M
    on_m, off_m = PUMP_ON_M, PUMP_OFF_M
    if pit.off_m is not None:
        on_m = pit.off_m.value + stroke_m
    elif pit.on_m is not None:
        off_m = max(pit.on_m.value - stroke_m, 0.5 * pit.on_m.value)
    return FullPit(
        diameter_m=known_or(pit.diameter_m, PIT_DIAMETER_M, "m", code),
        depth_m=known_or(pit.depth_m, PIT_DEPTH_M, "m", code),
        on_m=known_or(pit.on_m, on_m, "m"),
        off_m=known_or(pit.off_m, off_m, "m"),
    )


def chemistry_of(battery: BatteryFacts) -> Given[str]:
    """The battery's chemistry; flooded lead-acid, which lasts shortest, where it is none that we know."""
    is_known = battery.chemistry is not None and battery.chemistry.value in {one.value for one in Chemistry}
    return known_or(
        battery.chemistry if is_known else None,
        Chemistry.FLOODED.value,
        "",
        "the chemistry that is expected to last shortest",
    )


def expected_years(part: PumpFacts | BatteryFacts) -> tuple[Given[float], float]:
    """Median life in years and Weibull shape of a part.

    From this company's own records of the model (five failures or more); else as its maker declares; else from its
    own records of the kind; else the age rule of the kind. A kind's records mix good models with bad ones, so the
    maker's word on the model goes before them.
    """
    kind = part.part_kind if isinstance(part, PumpFacts) else BATTERY
    shape = SHAPE[kind]
    own = part.own_life
    if own is not None and (own.of == "model" or part.expected_years is None):
        median = own.scale_years * 0.6931471805599453 ** (1.0 / own.shape)
        note = f"own records of this {own.of}: {own.failures} failed of {own.units}"
        return Given(value=round(median, 3), unit="", origin="measured", on=own.known_on, note=note), own.shape
    if part.expected_years is not None:
        return part.expected_years, shape
    if isinstance(part, BatteryFacts):
        years = BATTERY_YEARS[Chemistry(chemistry_of(part).value)]
        return Given(value=years, origin=ASSUMED, note=f"life at 25 °C; {PRACTICE}"), shape
    note = "median life of sump and well pumps, ASHRAE (1978 data)"
    return Given(value=AGE_RULE_YEARS, origin=ASSUMED, note=note), shape
