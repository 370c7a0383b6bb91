"""Does the standby pump save the basement: can it lift the inflow at the real head and voltage, and for how long."""

from dataclasses import dataclass
from typing import Final

from contractor.engineering.battery_checks import Chemistry
from contractor.engineering.battery_reserve import Reserve, reserve_h
from contractor.engineering.inputs import not_negative, positive
from contractor.engineering.pump_curves import DischargeLine, PumpCurve, operating_point

# Mean lengths of power cuts in the United States, 2014 to 2023: 115 min without major events, 12.4 h in them.
# Source: EIA Electric Power Annual table 11.1 (IEEE method); the second is computed from it.
ORDINARY_OUTAGE_H: Final = 2.0
STORM_OUTAGE_H: Final = 12.4
# Peukert exponents on the careful side of sellers' ranges: flooded 1.2 to 1.6, AGM 1.05 to 1.15, gel 1.1 to 1.25,
# LiFePO4 about 1.05. Sources of low authority.
TYPICAL_PEUKERT: Final = {Chemistry.FLOODED: 1.4, Chemistry.AGM: 1.15, Chemistry.GEL: 1.25, Chemistry.LIFEPO4: 1.05}
# What a 12 V battery gives halfway through under a pump's load. Common practice, no source.
_LOADED_VOLTS: Final = 11.5
# Little water to spare: the standby pump moves less than a quarter more than comes in. Common practice, no source.
_NARROW_MARGIN: Final = 1.25


@dataclass(frozen=True, slots=True, kw_only=True)
class StandbyBattery:
    """A battery and what the standby pump draws from it.

    ``capacity_ah`` rated over ``rate_h`` hours; ``current_a`` that the pump draws; ``chemistry``; ``peukert`` exponent
    (None: typical of the chemistry); ``health`` the measured part of the rated capacity; ``temperature_c`` where it
    stands; ``idle_a`` what the controller draws; ``loaded_volts`` measured under the pump's load (None: 11.5 V);
    ``rated_volts`` at which the pump's curve was measured.
    """

    capacity_ah: float
    current_a: float
    chemistry: Chemistry
    peukert: float | None = None
    rate_h: float = 20.0
    health: float = 1.0
    temperature_c: float = 15.0
    idle_a: float = 0.0
    loaded_volts: float | None = None
    rated_volts: float = 12.0

    @property
    def speed_ratio(self) -> float:
        """Speed of the pump's permanent-magnet motor as a part of its rated speed: the voltage ratio."""
        volts = _LOADED_VOLTS if self.loaded_volts is None else self.loaded_volts
        return float(positive("loaded_volts", volts) / positive("rated_volts", self.rated_volts))

    def reserve(self, duty: float, pump_flow_m3_s: float) -> Reserve:
        """``battery_reserve.reserve_h`` of this battery."""
        return reserve_h(
            self.capacity_ah,
            self.rate_h,
            self.current_a,
            TYPICAL_PEUKERT[self.chemistry] if self.peukert is None else self.peukert,
            duty,
            health=self.health,
            temperature_c=self.temperature_c,
            idle_a=self.idle_a,
            pump_flow_m3_s=pump_flow_m3_s,
        )

    def assumptions(self) -> tuple[str, ...]:
        """What was taken for granted about the battery, in sentences."""
        assumed = []
        if self.peukert is None:
            typical = TYPICAL_PEUKERT[self.chemistry]
            assumed.append(
                f"The battery's Peukert exponent is not known; {typical} is assumed for {self.chemistry.word}."
            )
        if self.loaded_volts is None:
            assumed.append(f"The battery's voltage under load was not measured; {_LOADED_VOLTS} V is assumed.")
        if self.chemistry is Chemistry.LIFEPO4:
            assumed.append("The effect of cold is that of lead-acid; a LiFePO4 battery may also switch itself off.")
        return tuple(assumed)


@dataclass(frozen=True, slots=True, kw_only=True)
class Adequacy:
    """Whether standby pump and battery cover a power cut.

    ``covers`` the cut that was asked about; ``covers_ordinary`` and ``covers_storm`` cuts of about 2 and 12 hours.
    ``margin_flow`` standby flow ÷ design inflow, which must exceed 1 (infinite without inflow). ``reserve_h`` hours
    that the battery lasts. ``shortfall`` says in a sentence what is missing, empty when nothing is.
    ``primary_flow_m3_s`` and ``standby_flow_m3_s`` are what both pumps move at the real head.
    """

    covers: bool
    covers_ordinary: bool
    covers_storm: bool
    margin_flow: float
    reserve_h: float
    shortfall: str
    primary_flow_m3_s: float
    standby_flow_m3_s: float
    cautions: tuple[str, ...] = ()


def standby_adequacy(
    inflow_m3_s: float,
    primary_curve: PumpCurve,
    standby_curve: PumpCurve,
    line: DischargeLine,
    battery: StandbyBattery,
    *,
    outage_h: float = STORM_OUTAGE_H,
) -> Adequacy:
    """Does the standby pump lift the design inflow during a power cut, and does the battery last.

    The standby's curve is taken at the voltage it gets (affinity: flow × r, head × r², r = loaded ÷ rated volts) on the
    real line; duty = inflow ÷ its flow; the reserve is ``reserve_h`` at that duty. m³/s and hours. ``outage_h`` is the
    cut to cover, by default a storm's. Flooding rain and storm cuts come together, so judge by the storm. Valid for a
    brushed 12 V pump; the maker's curve at the tested voltage is better. Source: Crane TP-410 for the hydraulics; EIA
    Electric Power Annual table 11.1 for cuts.

    >>> curve = PumpCurve((0.0, 0.001, 0.002, 0.003), (7.0, 6.2, 4.6, 2.0))
    >>> line = DischargeLine(2.7, 0.0404, 9.0, 5.6)
    >>> battery = StandbyBattery(capacity_ah=75, current_a=15, chemistry=Chemistry.AGM)
    >>> result = standby_adequacy(0.0003, curve, curve, line, battery)
    >>> result.covers, round(result.reserve_h, 1), round(result.margin_flow, 1)
    (True, 24.2, 6.7)
    """
    inflow, wanted_h = float(not_negative("inflow_m3_s", inflow_m3_s)), float(positive("outage_h", outage_h))
    primary = operating_point(primary_curve, line)
    standby = operating_point(standby_curve.at_speed(battery.speed_ratio), line)
    lifts = standby.flow_m3_s > inflow
    reserve = battery.reserve(inflow / standby.flow_m3_s if standby.flow_m3_s > 0 else 1.0, standby.flow_m3_s)
    hours = float(reserve.hours)
    cautions = [*battery.assumptions(), *reserve.cautions]
    cautions += [f"Standby: {doubt}" for doubt in standby.cautions] + [
        f"Primary: {doubt}" for doubt in primary.cautions
    ]
    if lifts and standby.flow_m3_s < _NARROW_MARGIN * inflow:
        cautions.append("The standby pump moves less than a quarter more than comes in.")
    if primary.flow_m3_s <= inflow:
        cautions.append("Even the primary pump does not keep up with this inflow.")
    return Adequacy(
        covers=lifts and hours >= wanted_h,
        covers_ordinary=lifts and hours >= ORDINARY_OUTAGE_H,
        covers_storm=lifts and hours >= STORM_OUTAGE_H,
        margin_flow=standby.flow_m3_s / inflow if inflow > 0 else float("inf"),
        reserve_h=hours,
        shortfall=_shortfall(lifts, hours, wanted_h),
        primary_flow_m3_s=primary.flow_m3_s,
        standby_flow_m3_s=standby.flow_m3_s,
        cautions=tuple(dict.fromkeys(cautions)),
    )


def _shortfall(lifts: bool, hours: float, wanted_h: float) -> str:
    if not lifts:
        return "The standby pump cannot lift what comes in at the real head and voltage: the pit overflows at once."
    if hours < wanted_h:
        return f"The battery lasts about {hours:.1f} hours; a power cut of {wanted_h:.1f} hours needs more."
    return ""
