"""Which region's climate a house lies in."""

from collections.abc import Iterable

from contractor.estimates.models import ClimateNormals
from contractor.estimates.rules.facts import ClimateFacts


class Climates:
    """Which region a house lies in: the longest prefix that fits its postcode, else the region without any."""

    def __init__(self, regions: Iterable[ClimateNormals]) -> None:
        self._elsewhere: ClimateFacts | None = None
        self._by_prefix: dict[str, ClimateFacts] = {}
        for region in regions:
            facts = _climate(region)
            if not region.postcode_prefixes:
                self._elsewhere = self._elsewhere or facts
            for prefix in region.postcode_prefixes:
                self._by_prefix[_plain(str(prefix))] = facts

    def of(self, postcode: str) -> ClimateFacts | None:
        plain = _plain(postcode)
        fitting = [plain[:length] for length in range(len(plain), 0, -1) if plain[:length] in self._by_prefix]
        return self._by_prefix[fitting[0]] if fitting else self._elsewhere


def _plain(postcode: str) -> str:
    return "".join(postcode.split()).upper()


def _climate(region: ClimateNormals) -> ClimateFacts:
    return ClimateFacts(
        name=region.name,
        latitude_deg=region.latitude_deg,
        rain_mm=tuple(float(value) for value in region.rain_mm),
        temperature_c=tuple(float(value) for value in region.temperature_c),
        frost_depth_m=region.frost_depth_m,
        snow_depth_m=region.snow_depth_m,
        ordinary_outage_h=region.ordinary_outage_h,
        storm_outage_h=region.storm_outage_h,
        source=region.source,
    )
