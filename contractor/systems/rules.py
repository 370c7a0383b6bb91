"""What can be true of a discharge line and a pit: refuses measures that contradict each other or can't be meant."""

from collections.abc import Mapping
from datetime import date
from typing import Final

from contractor.systems.errors import (
    ExposedLongerThanLine,
    FallsButSags,
    LevelAbovePit,
    MeasuredBeforeInstalled,
    MeasuredLater,
    NotALength,
    NotThatMany,
    StandbyBelowPrimary,
    StartBelowStop,
    UnlikelySize,
)

Value = float | int | bool | None

# The smallest and the largest length in metres that a house of this trade can have; beyond it a unit was mistaken.
# Common practice, no source: a basement is lifted out of in 2 to 4 m, lines are 1¼ to 3 in wide, pits 14 to 48 in.
SIZES_M: Final[dict[str, tuple[float, float]]] = {
    "static_lift_m": (0.3, 30.0),
    "length_m": (0.5, 300.0),
    "bore_m": (0.012, 0.3),
    "cover_m": (0.0, 5.0),
    "exposed_length_m": (0.0, 300.0),
    "outlet_above_ground_m": (0.0, 5.0),
    "pump_on_m": (0.02, 5.0),
    "pump_off_m": (0.0, 5.0),
    "standby_on_m": (0.02, 5.0),
    "pit_diameter_m": (0.2, 3.0),
    "pit_depth_m": (0.2, 6.0),
}
# These may be nothing at all: a pipe on the ground, none in the air, an outlet at grade, a pump that sucks the pit dry.
MAY_BE_NOTHING: Final = frozenset({"cover_m", "exposed_length_m", "outlet_above_ground_m", "pump_off_m"})
COUNTS: Final[dict[str, int]] = {"elbows_90": 40, "elbows_45": 40, "sags": 20}
YES_OR_NO: Final = ("is_insulated", "falls_to_outlet")
MEASURES: Final = (*SIZES_M, *COUNTS, *YES_OR_NO)
LEVELS: Final = ("pump_on_m", "pump_off_m", "standby_on_m")


def check_as_built(values: Mapping[str, Value], *, on: date, today: date, installed_on: date) -> None:
    """Refuses what can't be meant; lengths in metres, None for what nobody has measured.

    Raises NotALength, UnlikelySize, NotThatMany, StartBelowStop, StandbyBelowPrimary, LevelAbovePit,
    ExposedLongerThanLine, FallsButSags, MeasuredBeforeInstalled or MeasuredLater, and ValueError for a name that
    is none of ``MEASURES``.
    """
    if unknown := set(values) - set(MEASURES):
        raise ValueError(f"Nothing of a system as built is called {', '.join(sorted(unknown))}.")
    if on < installed_on:
        raise MeasuredBeforeInstalled(installed_on)
    if on > today:
        raise MeasuredLater
    for name, (least, most) in SIZES_M.items():
        _check_length(name, values.get(name), least, most)
    for name, most_of_them in COUNTS.items():
        count = values.get(name)
        if count is not None and not 0 <= count <= most_of_them:
            raise NotThatMany(most_of_them, field=name)
    _check_levels(values)
    exposed, length = values.get("exposed_length_m"), values.get("length_m")
    if exposed is not None and length is not None and exposed > length:
        raise ExposedLongerThanLine
    if values.get("falls_to_outlet") and values.get("sags"):
        raise FallsButSags


def _check_length(name: str, metres: Value, least: float, most: float) -> None:
    if metres is None:
        return
    # A comparison with "not a number" is never true, so it is refused here as well.
    if not (metres >= 0 if name in MAY_BE_NOTHING else metres > 0):
        raise NotALength(field=name, may_be_nothing=name in MAY_BE_NOTHING)
    if not least <= metres <= most:
        raise UnlikelySize(float(metres), field=name)


def _check_levels(values: Mapping[str, Value]) -> None:
    start, stop, standby = (values.get(name) for name in ("pump_on_m", "pump_off_m", "standby_on_m"))
    if start is not None and stop is not None and start <= stop:
        raise StartBelowStop
    below = start if start is not None else stop
    if standby is not None and below is not None and standby <= below:
        raise StandbyBelowPrimary
    depth = values.get("pit_depth_m")
    for name in LEVELS:
        level = values.get(name)
        if level is not None and depth is not None and level > depth:
            raise LevelAbovePit(field=name)
