"""Where a house stands on the map, and how well that is known.

The middles of US ZIP codes come from the package ``zipcodes``, whose coordinates are those of GeoNames
(https://www.geonames.org, CC BY 4.0); nothing else of it is used. Other countries' postcodes have none.
"""

import re
from dataclasses import dataclass
from functools import cache

from contractor.accounts.models import Company
from contractor.properties.models import Property

Source = Property.PositionSource
CREDIT = "Middles of ZIP codes: GeoNames, CC BY 4.0"
ROUGH = "Only the middle of the ZIP code is known: drives to it are a guess. Give the house its position."
_ZIP_CODE = re.compile(r"\s*(\d{5})(?:-?\d{4})?\s*")


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownPosition:
    """A point on the earth in degrees (WGS 84), and where it comes from."""

    latitude: float
    longitude: float
    source: Source

    @property
    def is_rough(self) -> bool:
        """Whether it can be miles off, so that whoever reads a drive must know it."""
        return self.source == Source.POSTCODE


def position_of(house: Property) -> KnownPosition | None:
    """The position of a house: the one on record, else the middle of its ZIP code, else None. No query."""
    if house.latitude is not None and house.longitude is not None:
        source = Source(house.position_source or Source.BY_HAND)
        return KnownPosition(latitude=house.latitude, longitude=house.longitude, source=source)
    return middle_of(house.postcode, country=house.country)


def position_of_yard(company: Company) -> KnownPosition | None:
    """Where the company's vans stand: as set on the company page, else the middle of its ZIP code, else None."""
    if company.latitude is not None and company.longitude is not None:
        return KnownPosition(latitude=company.latitude, longitude=company.longitude, source=Source.BY_HAND)
    return middle_of(company.postcode, country=company.country)


def middle_of(postcode: str, *, country: str) -> KnownPosition | None:
    """The middle of a US ZIP code, with or without its four digits more; None for any other and for unknown ones."""
    match = _ZIP_CODE.fullmatch(postcode) if country == "US" else None
    return _middle(match[1]) if match else None


@cache
def _middle(zip_code: str) -> KnownPosition | None:
    # Reading the package's table takes two seconds and some memory, so only whoever needs it does.
    import zipcodes

    known = zipcodes.matching(zip_code)  # type: ignore[no-untyped-call]
    if not known:
        return None
    return KnownPosition(
        latitude=float(known[0]["lat"]), longitude=float(known[0]["long"]), source=Source.POSTCODE
    )
