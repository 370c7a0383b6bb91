"""What is true in the basements of the demo: the line, the pit, the water and the warmth that readings are taken of.

Everything comes from a source of chance of its own for each house, so that it is the same at every load, and from the
computations of the engineering core, so that what the technicians read off fits together over the years.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from math import cos, pi
from random import Random
from typing import Any, Final

from contractor.engineering.battery_life import life_factor
from contractor.engineering.pit import storage_m3
from contractor.engineering.pump_curves import DischargeLine, PumpCurve, operating_point
from contractor.engineering.seasons import inflow_weights, season_years
from contractor.estimates.rules.normals import Normals
from contractor.office.demo.cast import Cast
from contractor.office.demo.scenario import DemoHouse
from contractor.systems.models import CatalogueModel, Component

GALLON_A_MINUTE_M3_S: Final = 231 * 0.0254**3 / 60
INCH_M: Final = 0.0254
SECONDS_A_YEAR: Final = 365.25 * 86_400
# A check valve and the open end, and each elbow: Crane TP-410, as the engineering core's tests quote it.
K_VALVE_AND_END, K_ELBOW_90, K_ELBOW_45 = 3.1, 0.63, 0.34
# The least new flows that a technician of the demo would leave a house with: they stay good as the pump wears.
LEAST_NEW_M3_S: Final = {"primary_pump": 25 * GALLON_A_MINUTE_M3_S, "standby_pump": 14.5 * GALLON_A_MINUTE_M3_S}
WEAR_A_YEAR: Final = 0.011
SHARE_OF_EVEN_INFLOW: Final = 0.45
# A battery that lost a fifth would have been replaced at the check-up that measured it.
MOST_FADE: Final = 0.195

# What a story is made of, besides chance: the range of the yearly mean inflow in gallons a minute, of power cuts a
# year, of the room's mean temperature in °C, and how fast its battery ages against its maker's figure.
INFLOW_GPM: Final = {"failed_primary_pump": (1.9, 2.2), "frozen_discharge": (0.12, 0.2)}
POWER_CUTS: Final = {"battery_nearly_done": (4.0, 6.0), "battery_swapped": (4.0, 6.0)}
ROOM_C: Final = {"battery_nearly_done": (19.5, 21.0), "battery_swapped": (19.0, 20.5)}
AGEING: Final = {"battery_nearly_done": 1.16, "battery_swapped": 1.0}
# What is known of the lines of some stories. The discharge that froze is shallow, sags and stands in the open air; its
# outlet was raised above the snow afterwards.
BUILT: Final[dict[str, dict[str, Any]]] = {
    "frozen_discharge": {
        "cover_m": 0.2032,
        "exposed_length_m": 1.2192,
        "is_insulated": False,
        "falls_to_outlet": False,
        "sags": 1,
        "outlet_above_ground_m": 0.4572,
    },
    "open_finding": {"outlet_above_ground_m": 0.0},
    "failed_primary_pump": {"pump_off_m": 0.1524, "pump_on_m": 0.31115},
}
UNDER_THE_GROUND: Final = ("cover_m", "falls_to_outlet", "sags")


@dataclass(frozen=True, slots=True, kw_only=True)
class Basement:
    """One basement as it is, whether anybody has measured it or not.

    ``built`` holds every measure of ``AsBuilt`` but the pit's, which its model declares; ``recorded`` names those that
    somebody wrote down. ``new_flows_m3_s`` are those of its pumps by part kind; ``inflow_m3_s`` is the yearly mean and
    ``seasons`` twelve factors round it.
    """

    built: Mapping[str, Any]
    recorded: tuple[str, ...]
    pit_diameter_m: float
    new_flows_m3_s: Mapping[str, float]
    inflow_m3_s: float
    seasons: tuple[float, ...]
    room_c: float
    power_cuts_a_year: float
    ageing: float
    has_counters: bool

    def temperature_c(self, on: date) -> float:
        """The room's temperature: warmest in the first days of August."""
        return self.room_c + 3.0 * cos(2 * pi * (on.timetuple().tm_yday - 215) / 365.25)

    def inflow_on(self, on: date) -> float:
        """Inflow in m³/s in the season of a day."""
        return self.inflow_m3_s * self.seasons[on.month - 1]

    def pump_flow_m3_s(self, pump: Component, on: date) -> float:
        """What a pump moves on this line, falling slowly as it wears."""
        return self.new_flows_m3_s[pump.part_kind] * (1.0 - WEAR_A_YEAR * _years(pump, on))

    def run_hours(self, pump: Component, on: date) -> float:
        """What the hour meter of the primary pump shows: all the water that came since it went in, through its flow."""
        water_m3 = self.inflow_m3_s * SECONDS_A_YEAR * self._seasons_since(pump, on)
        return water_m3 / self.pump_flow_m3_s(pump, on) / 3600.0

    def starts(self, pump: Component, on: date) -> float:
        """What the counter of the primary pump shows: all that water, a pitful between the levels at each start."""
        water_m3 = self.inflow_m3_s * SECONDS_A_YEAR * self._seasons_since(pump, on)
        pitful: float = storage_m3(self.pit_diameter_m, self.built["pump_on_m"], self.built["pump_off_m"])
        return water_m3 * (1.0 - self.inflow_m3_s / self.pump_flow_m3_s(pump, on)) / pitful

    def fade(self, battery: Component, on: date) -> float:
        """The part of its capacity that a battery has lost: a fifth at the end of its life in this room."""
        life = float(battery.declared.get("expected_years_at_25c", 5.0)) * float(life_factor(self.room_c))
        return min(0.2 * self.ageing * _years(battery, on) / life, MOST_FADE)

    def _seasons_since(self, pump: Component, on: date) -> float:
        return season_years(pump.in_on, on, [factor / 12.0 for factor in self.seasons])


def basement_of(house: DemoHouse, *, cast: Cast) -> Basement:
    """The basement of a house."""
    source = Random(f"basement {house.number}")  # noqa: S311  # the same demo at every load
    story = house.story
    built = _installed_to_suit({**_line_and_levels(source, house, cast), **BUILT.get(story, {})}, house, cast)
    pit = cast.model_for("pit", house.number).data
    low, high = INFLOW_GPM.get(story, (0.15, 0.75))
    return Basement(
        built=built,
        recorded=_recorded(house, built),
        pit_diameter_m=float(pit["diameter_m"]),
        new_flows_m3_s={kind: _new_flow_m3_s(model.data, built) for kind, model in _pumps(house, cast)},
        inflow_m3_s=source.uniform(low, high) * GALLON_A_MINUTE_M3_S,
        seasons=_seasons(cast.climate_at(house.postcode)),
        room_c=source.uniform(*ROOM_C.get(story, (15.2, 18.5))),
        power_cuts_a_year=source.uniform(*POWER_CUTS.get(story, (0.2, 1.6))),
        ageing=AGEING.get(story, 0.85),
        has_counters=story == "failed_primary_pump" or source.random() < 0.7,
    )


def _line_and_levels(source: Random, house: DemoHouse, cast: Cast) -> dict[str, Any]:
    stops = _to_inches(source.uniform(0.11, 0.15), 0.25)
    starts = _to_inches(stops + source.uniform(0.18, 0.22), 0.25)
    falls = source.random() < 0.75
    near_the_ground = source.random() < 0.15
    return {
        "static_lift_m": _to_inches(source.uniform(2.2, 3.2), 1),
        "length_m": _to_inches(source.uniform(6.0, 20.0), 6),
        "bore_m": float(cast.model_for("discharge_line", house.number).data["bore_m"]),
        "elbows_90": source.randint(2, 4),
        "elbows_45": source.choice((0, 0, 1, 2)),
        "cover_m": _to_inches(source.choice((0.15, 0.3, 0.3, 0.45, 0.6, 0.95)) + source.uniform(-0.03, 0.05), 1),
        "exposed_length_m": _to_inches(source.uniform(0.3, 1.4), 6),
        "is_insulated": source.random() < 0.2,
        "falls_to_outlet": falls,
        "sags": 0 if falls else source.choice((0, 1, 1, 2)),
        "outlet_above_ground_m": _to_inches(
            source.uniform(0.02, 0.08) if near_the_ground else source.uniform(0.2, 0.5), 1
        ),
        "pump_off_m": stops,
        "pump_on_m": starts,
        "standby_on_m": _to_inches(starts + source.uniform(0.05, 0.1), 0.25) if "standby_pump" in house.parts else None,
    }


def _to_inches(metres: float, step_in: float) -> float:
    """A length as it is read off a tape in inches."""
    return round(round(metres / INCH_M / step_in) * step_in * INCH_M, 6)


def _installed_to_suit(built: dict[str, Any], house: DemoHouse, cast: Cast) -> dict[str, Any]:
    """The line as a technician would lay it for these pumps: no higher than they lift well."""
    suited = dict(built)
    for kind, model in _pumps(house, cast):
        while suited["static_lift_m"] > 1.8 and _new_flow_m3_s(model.data, suited) < LEAST_NEW_M3_S[kind]:
            suited["static_lift_m"] = round(suited["static_lift_m"] - 4 * INCH_M, 6)
    return suited


def _pumps(house: DemoHouse, cast: Cast) -> list[tuple[str, CatalogueModel]]:
    return [(kind, cast.model_for(kind, house.number)) for kind in LEAST_NEW_M3_S if kind in house.parts]


def _recorded(house: DemoHouse, built: Mapping[str, Any]) -> tuple[str, ...]:
    """What somebody has written down: in one house of six nothing, in some not what lies under the ground."""
    is_told = house.story in {*BUILT, *AGEING}
    if house.number % 6 == 0 and not is_told:
        return ()
    left_out = UNDER_THE_GROUND if house.number % 5 == 2 and not is_told else ()
    return tuple(name for name, value in built.items() if value is not None and name not in left_out)


def _seasons(climate: Normals) -> tuple[float, ...]:
    """Inflow of each month against the yearly mean; part comes all year round, and the ground delays the rest."""
    weights = inflow_weights(climate.rain_mm, climate.temperature_c, latitude_deg=climate.latitude_deg).tolist()
    delayed = [(weights[month - 2] + 2 * weights[month - 1] + weights[month]) / 4 for month in range(12)]
    return tuple(SHARE_OF_EVEN_INFLOW + (1.0 - SHARE_OF_EVEN_INFLOW) * 12.0 * weight for weight in delayed)


def _new_flow_m3_s(declared: Mapping[str, Any], built: Mapping[str, Any]) -> float:
    curve = PumpCurve(*zip(*declared["curve"], strict=True))
    k_sum = K_VALVE_AND_END + K_ELBOW_90 * built["elbows_90"] + K_ELBOW_45 * built["elbows_45"]
    line = DischargeLine(built["static_lift_m"], built["bore_m"], built["length_m"], k_sum)
    return operating_point(curve, line).flow_m3_s


def _years(part: Component, on: date) -> float:
    return (on - part.in_on).days / 365.25
