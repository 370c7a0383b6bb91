"""In which time zone a house stands.

The position decides (by the package ``tzfpy``, whose borders are those of the time zone boundary builder, from
OpenStreetMap, ODbL). Without a position the state or province does; where two zones share one, both are given, and
what must not be done at night is then not done in the night of either.
"""

from zoneinfo import ZoneInfo

import tzfpy

# The standard zones of the states (49 CFR part 71) and provinces as names of the tz database, the one with most
# people first; from memory, held to the zones of every ZIP code by a test.
_EASTERN, _CENTRAL, _MOUNTAIN, _PACIFIC = (
    "America/New_York",
    "America/Chicago",
    "America/Denver",
    "America/Los_Angeles",
)
_ONE_ZONE = {
    _EASTERN: "CT DC DE GA MA MD ME NC NH NJ NY OH PA RI SC VA VT WV",
    _CENTRAL: "AL AR IA IL LA MN MO MS OK WI",
    _MOUNTAIN: "CO MT NM UT WY",
    _PACIFIC: "CA NV WA",
}
ZONES: dict[str, tuple[str, ...]] = {
    **{state: (zone,) for zone, states in _ONE_ZONE.items() for state in states.split()},
    "AK": ("America/Anchorage", "America/Adak"),
    # Arizona keeps standard time all year; the Navajo Nation in its north-east does not.
    "AZ": ("America/Phoenix", _MOUNTAIN),
    "FL": (_EASTERN, _CENTRAL),
    "HI": ("Pacific/Honolulu",),
    "ID": ("America/Boise", _PACIFIC),
    "IN": ("America/Indiana/Indianapolis", _CENTRAL),
    "KS": (_CENTRAL, _MOUNTAIN),
    "KY": (_EASTERN, _CENTRAL),
    "MI": ("America/Detroit", _CENTRAL),
    "ND": (_CENTRAL, _MOUNTAIN),
    "NE": (_CENTRAL, _MOUNTAIN),
    "NV": (_PACIFIC, _MOUNTAIN),
    "OR": (_PACIFIC, "America/Boise"),
    "PR": ("America/Puerto_Rico",),
    "SD": (_CENTRAL, _MOUNTAIN),
    "TN": (_CENTRAL, _EASTERN),
    "TX": (_CENTRAL, _MOUNTAIN),
    "AB": ("America/Edmonton",),
    "BC": ("America/Vancouver", "America/Edmonton"),
    "MB": ("America/Winnipeg",),
    "NB": ("America/Moncton",),
    "NL": ("America/St_Johns", "America/Goose_Bay"),
    "NS": ("America/Halifax",),
    "NT": ("America/Edmonton",),
    "NU": ("America/Iqaluit", "America/Winnipeg", "America/Edmonton"),
    "ON": ("America/Toronto", "America/Winnipeg"),
    "PE": ("America/Halifax",),
    "QC": ("America/Toronto", "America/Halifax"),
    "SK": ("America/Regina", "America/Edmonton"),
    "YT": ("America/Whitehorse",),
}


def zones_of(state: str, position: tuple[float, float] | None, *, otherwise: str) -> tuple[ZoneInfo, ...]:
    """The zone of a house, or each zone it may be in; ``position`` is latitude and longitude in degrees.

    ``otherwise`` is the company's own zone, for a state or province that is no code of ours.
    """
    if position is not None:
        found = tzfpy.get_tz(position[1], position[0])
        if found and not found.startswith("Etc/"):
            return (ZoneInfo(found),)
    return tuple(ZoneInfo(name) for name in ZONES.get(state.strip().upper(), (otherwise,)))
