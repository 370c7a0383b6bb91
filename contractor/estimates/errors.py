"""Refusals about the climate that estimates reckon with."""

from calendar import month_name

from contractor.core.errors import Refusal


class NoRegionName(Refusal):
    def __init__(self) -> None:
        super().__init__("Give the region a name, such as that of the county.", field="name")


class RegionNameTaken(Refusal):
    def __init__(self, name: str) -> None:
        super().__init__(
            f"There is a region called “{name}” already. Change that one, or take another name.", field="name"
        )


class NoSourceGiven(Refusal):
    def __init__(self) -> None:
        super().__init__(
            "Say whose figures these are, such as the weather service and its years: estimates name it.",
            field="source",
        )


class NotAPostcodePrefix(Refusal):
    def __init__(self, prefix: str) -> None:
        super().__init__(
            f"“{prefix}” is no beginning of a postcode. Type letters and digits, commas between, such as 170, 171.",
            field="postcode_prefixes",
        )


class PrefixTaken(Refusal):
    def __init__(self, prefix: str, region: str) -> None:
        super().__init__(
            f"Postcodes that begin with {prefix} belong to “{region}”. Take it out there, or type a longer one here.",
            field="postcode_prefixes",
        )


class EverywhereTaken(Refusal):
    def __init__(self, region: str) -> None:
        super().__init__(
            f"“{region}” holds for every house that no other region fits, and there can be only one such. "
            "Type the beginnings of this region's postcodes.",
            field="postcode_prefixes",
        )


class LatitudeUnlikely(Refusal):
    def __init__(self) -> None:
        super().__init__("Latitude lies between -90 and 90 degrees, north above zero.", field="latitude_deg")


class RainUnlikely(Refusal):
    def __init__(self, month: int) -> None:
        super().__init__(
            f"{month_name[month]}: the mean rain of a month is nothing or more, and below 3,000 mm (118 in). "
            "Check the unit.",
            field=f"rain_{month}",
        )


class TemperatureUnlikely(Refusal):
    def __init__(self, month: int) -> None:
        super().__init__(
            f"{month_name[month]}: a month's mean temperature lies between -60 and 60 °C (-76 and 140 °F). "
            "Check the unit.",
            field=f"temperature_{month}",
        )


class UnlikelyDepth(Refusal):
    def __init__(self, deepest_m: float, *, field: str) -> None:
        super().__init__(
            f"This depth lies between nothing and {deepest_m:g} m ({deepest_m / 0.0254:.0f} in). Check the unit.",
            field=field,
        )


class OutageUnlikely(Refusal):
    def __init__(self, *, field: str) -> None:
        super().__init__(
            "A power cut lasts longer than nothing and less than 720 hours. Type hours, such as 2.5.", field=field
        )


class StormShorterThanOrdinary(Refusal):
    def __init__(self) -> None:
        super().__init__(
            "The power cuts of storms last at least as long as ordinary ones. Check which figure stands where.",
            field="storm_outage_h",
        )
