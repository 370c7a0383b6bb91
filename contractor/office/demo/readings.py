"""What a technician of the demo reads off: plausible figures for every measurement, drawn from a seeded source."""

import io
from random import Random

from PIL import Image, ImageDraw

# Item code -> lowest and highest usual reading in the unit of the gauge (US), and the decimals read off.
USUAL: dict[str, tuple[float, float, int]] = {
    "room-temperature": (53, 63, 0),
    "room-humidity": (42, 57, 0),
    "channel-silt": (0.1, 0.4, 1),
    "pit-silt": (0.2, 0.9, 1),
    "switch-range": (7.0, 10.5, 1),
    "primary-cycles": (2, 2, 0),
    "primary-current": (5.2, 9.4, 1),
    "charger-float-volts-lead": (13.4, 13.7, 1),
    "charger-float-volts-lithium": (13.5, 13.8, 1),
    "battery-gravity": (1.250, 1.268, 3),
    "battery-rest-volts-flooded": (12.55, 12.66, 2),
    "battery-rest-volts-sealed": (12.74, 12.86, 2),
    "battery-rest-volts-lithium": (13.2, 13.3, 1),
    "battery-load-test": (10.0, 10.5, 1),
    "battery-running-volts": (12.0, 12.3, 1),
    "battery-running-volts-lithium": (12.8, 12.9, 1),
    "standby-cycles": (2, 2, 0),
    "standby-current": (9.5, 17.5, 1),
    "line-slope": (0.15, 0.3, 2),
}
# Item code -> the distance typed in inches (None: only a time is taken), lowest and highest usual seconds.
TIMED: dict[str, tuple[float | None, int, int]] = {
    "pit-rise": (2.0, 170, 420),
    "primary-pump-down": (8.0, 12, 16),
    "standby-pump-down": (8.0, 19, 25),
    "alarm-sounds": (None, 2, 6),
    "ring-drain": (None, 35, 80),
}
RUN_HOURS_A_YEAR, STARTS_A_YEAR = 160, 21_000
NOTES: dict[str, str] = {
    "owner-questions": "No water and no alarm since last year. Two short power cuts in the autumn.",
    "owner-told": "Showed the alarm's test button and where the line comes out. Asked to keep snow off the outlet.",
}


def usual_reading(code: str, *, years_in_use: float, capacity_ah: float, source: Random) -> str:
    """A figure as typed for an item with this code; empty for an item that has none."""
    if code in USUAL:
        low, high, decimals = USUAL[code]
        return f"{source.uniform(low, high):.{decimals}f}"
    if code == "primary-run-hours":
        return f"{years_in_use * RUN_HOURS_A_YEAR * source.uniform(0.8, 1.2):.0f}"
    if code == "primary-starts":
        return f"{years_in_use * STARTS_A_YEAR * source.uniform(0.8, 1.2):.0f}"
    if code == "battery-capacity":
        return f"{capacity_ah * max(0.6, 1.0 - 0.03 * years_in_use):.0f}"
    return ""


def usual_time(code: str, *, source: Random) -> tuple[str, float]:
    """The distance typed in inches (empty when none is) and the seconds of a timed test."""
    distance, low, high = TIMED[code]
    return ("" if distance is None else f"{distance:g}", float(source.randint(low, high)))


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
