"""What a region's climate can be: refuses figures that were typed in the wrong unit or don't fit together."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import Final

from contractor.estimates.errors import (
    EverywhereTaken,
    LatitudeUnlikely,
    NoRegionName,
    NoSourceGiven,
    NotAPostcodePrefix,
    OutageUnlikely,
    PrefixTaken,
    RainUnlikely,
    RegionNameTaken,
    StormShorterThanOrdinary,
    TemperatureUnlikely,
    UnlikelyDepth,
)

MONTHS: Final = 12
COLDEST_C, WARMEST_C = -60.0, 60.0
# The wettest month on record anywhere was 9.3 m (Cherrapunji, July 1861; from memory); a mean month is far below it.
MOST_RAIN_MM: Final = 3_000.0
# Frost in the ground and snow on it, in metres: common practice, no source. Beyond it a unit was mistaken.
DEEPEST_M: Final[dict[str, float]] = {"frost_depth_m": 4.0, "snow_depth_m": 6.0}
LONGEST_OUTAGE_H: Final = 30 * 24.0
LONGEST_PREFIX: Final = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class Normals:
    """The climate of a region: twelve monthly means from January on, depths, power cuts, and whose figures they are."""

    name: str
    postcode_prefixes: tuple[str, ...]
    latitude_deg: float
    rain_mm: tuple[float, ...]
    temperature_c: tuple[float, ...]
    frost_depth_m: float
    snow_depth_m: float
    ordinary_outage_h: float
    storm_outage_h: float
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class OtherRegion:
    """What another region says about where it holds."""

    name: str
    postcode_prefixes: tuple[str, ...]


def prefixes_in(text: str) -> tuple[str, ...]:
    """The postcode prefixes in a list typed with commas or semicolons between: capitals, each once, in their order.

    A blank inside belongs to the postcode, so "K1A 0" is one prefix.
    """
    parts = (" ".join(part.split()).upper() for part in text.replace(";", ",").replace("\n", ",").split(","))
    return tuple(dict.fromkeys(part for part in parts if part))


def check_normals(normals: Normals, others: Collection[OtherRegion]) -> None:
    """Refuses what can't be meant, or what another region already says of the same houses.

    Raises NoRegionName, RegionNameTaken, NoSourceGiven, NotAPostcodePrefix, PrefixTaken, EverywhereTaken,
    LatitudeUnlikely, RainUnlikely, TemperatureUnlikely, UnlikelyDepth, OutageUnlikely or StormShorterThanOrdinary;
    ValueError when a list hasn't twelve months.
    """
    if not normals.name:
        raise NoRegionName
    if any(other.name.casefold() == normals.name.casefold() for other in others):
        raise RegionNameTaken(normals.name)
    if not normals.source:
        raise NoSourceGiven
    _check_prefixes(normals, others)
    if not -90 <= normals.latitude_deg <= 90:
        raise LatitudeUnlikely
    _check_months(normals.rain_mm, normals.temperature_c)
    for name, deepest in DEEPEST_M.items():
        if not 0 <= getattr(normals, name) <= deepest:
            raise UnlikelyDepth(deepest, field=name)
    for name in ("ordinary_outage_h", "storm_outage_h"):
        if not 0 < getattr(normals, name) <= LONGEST_OUTAGE_H:
            raise OutageUnlikely(field=name)
    if normals.storm_outage_h < normals.ordinary_outage_h:
        raise StormShorterThanOrdinary


def _check_prefixes(normals: Normals, others: Collection[OtherRegion]) -> None:
    for prefix in normals.postcode_prefixes:
        plain = prefix.replace(" ", "").replace("-", "")
        if not (plain.isascii() and plain.isalnum() and len(prefix) <= LONGEST_PREFIX):
            raise NotAPostcodePrefix(prefix)
        for other in others:
            if prefix in other.postcode_prefixes:
                raise PrefixTaken(prefix, other.name)
    if not normals.postcode_prefixes:
        everywhere = next((other for other in others if not other.postcode_prefixes), None)
        if everywhere is not None:
            raise EverywhereTaken(everywhere.name)


def _check_months(rain_mm: Sequence[float], temperature_c: Sequence[float]) -> None:
    if len(rain_mm) != MONTHS or len(temperature_c) != MONTHS:
        raise ValueError("A climate has twelve months of rain and of temperature.")
    for month, rain in enumerate(rain_mm, start=1):
        if not 0 <= rain <= MOST_RAIN_MM:
            raise RainUnlikely(month)
    for month, temperature in enumerate(temperature_c, start=1):
        if not COLDEST_C <= temperature <= WARMEST_C:
            raise TemperatureUnlikely(month)
