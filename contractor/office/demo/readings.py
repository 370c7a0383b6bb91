"""What a technician of the demo reads off: how gauges, rules and watches show what is true in a basement."""

import io
from collections.abc import Callable
from datetime import date
from math import pi
from random import Random
from typing import TypedDict

from PIL import Image, ImageDraw

from contractor.office.demo.basements import INCH_M, Basement
from contractor.systems.models import Component


class Seen(TypedDict):
    """Where and when somebody reads something off."""

    basement: Basement
    part: Component | None
    on: date
    source: Random


# Item code -> lowest and highest usual reading in the unit of the gauge (US), and the decimals read off.
USUAL: dict[str, tuple[float, float, int]] = {
    "room-humidity": (42, 57, 0),
    "channel-silt": (0.1, 0.4, 1),
    "pit-silt": (0.2, 0.9, 1),
    "primary-cycles": (2, 2, 0),
    "charger-float-volts-lead": (13.4, 13.7, 1),
    "charger-float-volts-lithium": (13.5, 13.8, 1),
    "battery-rest-volts-lithium": (13.2, 13.3, 1),
    "battery-running-volts-lithium": (12.8, 12.9, 1),
    "standby-cycles": (2, 2, 0),
    "line-slope": (0.15, 0.3, 2),
}
# Item code -> lowest and highest usual seconds of a test by the watch alone.
BY_THE_WATCH: dict[str, tuple[int, int]] = {"alarm-sounds": (2, 6), "ring-drain": (35, 80)}
# Item code -> the reading at a new battery, how far it falls by the time all capacity were lost, and the decimals.
FADING: dict[str, tuple[float, float, int]] = {
    "battery-gravity": (1.266, 0.09, 3),
    "battery-rest-volts-flooded": (12.66, 0.5, 2),
    "battery-rest-volts-sealed": (12.86, 0.5, 2),
    "battery-load-test": (10.55, 4.0, 1),
    "battery-running-volts": (12.3, 1.6, 2),
}
CURRENTS = ("primary-current", "standby-current")
# How far a pump-down test draws the pit down, in inches: less than lies between the levels of any pit of the demo.
DRAWN_DOWN_IN = 6
LONGEST_RISE_S = 900.0
NOTES: dict[str, str] = {
    "owner-questions": "No water and no alarm since last year. Two short power cuts in the autumn.",
    "owner-told": "Showed the alarm's test button and where the line comes out. Asked to keep snow off the outlet.",
}


def usual_reading(code: str, *, basement: Basement, part: Component | None, on: date, source: Random) -> str:
    """A figure as typed for an item with this code; empty for an item that has none, or at which nobody measures."""
    if code in USUAL:
        low, high, decimals = USUAL[code]
        return f"{source.uniform(low, high):.{decimals}f}"
    if code == "room-temperature":
        return f"{basement.temperature_c(on) * 1.8 + 32 + source.uniform(-1, 1):.0f}"
    if code == "switch-range":
        between_m = basement.built["pump_on_m"] - basement.built["pump_off_m"]
        return f"{max(between_m / INCH_M + source.uniform(-0.2, 0.2), 6.1):.1f}"
    if part is None:
        return ""
    if code in FADING:
        new, falls, decimals = FADING[code]
        return f"{new - falls * basement.fade(part, on) + source.uniform(-1, 1) * 10.0**-decimals:.{decimals}f}"
    if code in CURRENTS:
        return f"{float(part.declared.get('current_a', 9.0)) * source.uniform(0.94, 1.04):.1f}"
    counted = _COUNTED.get(code)
    return "" if counted is None else counted(basement, part, on, source)


def _counter(shown: float, basement: Basement) -> str:
    return f"{shown:.0f}" if basement.has_counters else ""


def _capacity(basement: Basement, part: Component, on: date, source: Random) -> str:
    """Only a battery that is tested by a timed discharge has a measured capacity."""
    if part.declared.get("capacity_test") != "timed_discharge":
        return ""
    left = float(part.declared["capacity_ah"]) * (1.0 - basement.fade(part, on))
    return f"{left + source.uniform(-0.2, 0.2):.1f}"


def _power_cuts(basement: Basement, part: Component, on: date, source: Random) -> str:
    """Those since the last check-up, or since the battery went in when that was later."""
    years = min((on - part.in_on).days / 365.25, 1.0)
    return str(int(basement.power_cuts_a_year * years + source.random()))


_COUNTED: dict[str, Callable[[Basement, Component, date, Random], str]] = {
    "primary-run-hours": lambda basement, pump, on, source: _counter(basement.run_hours(pump, on), basement),
    "primary-starts": lambda basement, pump, on, source: _counter(basement.starts(pump, on), basement),
    "battery-capacity": _capacity,
    "battery-power-cuts": _power_cuts,
}


def usual_time(code: str, *, basement: Basement, part: Component | None, on: date, source: Random) -> tuple[str, float]:
    """The distance typed in inches (empty when none is) and the seconds of a timed test."""
    if code in BY_THE_WATCH:
        return "", float(source.randint(*BY_THE_WATCH[code]))
    area_m2 = pi / 4 * basement.pit_diameter_m**2
    inflow = basement.inflow_on(on)
    if code == "pit-rise":
        inflow *= source.uniform(0.9, 1.1)
        distance = next((one for one in (2.0, 1.0) if area_m2 * one * INCH_M / inflow <= LONGEST_RISE_S), 0.5)
        return f"{distance:g}", round(area_m2 * distance * INCH_M / inflow, 0)
    if part is None:
        raise ValueError(f"Nobody knows how long {code} takes without a pump.")
    drawn_m3_s = basement.pump_flow_m3_s(part, on) * source.uniform(0.985, 1.015) - inflow
    return f"{DRAWN_DOWN_IN}", round(area_m2 * DRAWN_DOWN_IN * INCH_M / drawn_m3_s, 1)


def sketch(words: str, *, number: int) -> bytes:
    """A small drawn picture that stands in for a photo. It says that it is one, and no two are alike."""
    picture = Image.new("RGB", (480, 360), "#d9d7cf")
    draw = ImageDraw.Draw(picture)
    draw.rectangle((0, 250, 480, 360), fill="#b9b5a8")
    draw.rectangle((60, 90, 420, 250), fill="#eef1f0", outline="#6d726f", width=3)
    draw.ellipse((190, 215, 290, 285), fill="#a9cfdb", outline="#0c5873", width=4)
    draw.text((24, 24), f"Demo picture {number}", fill="#17232b", font_size=26)
    draw.text((24, 310), words[:44], fill="#17232b", font_size=18)
    kept = io.BytesIO()
    picture.save(kept, "JPEG", quality=70)
    return kept.getvalue()
