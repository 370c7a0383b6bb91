"""Where a house stands: on record, else the middle of its ZIP code, else nowhere, and always with its source."""

import pytest

from contractor.accounts.models import Company
from contractor.properties.models import Property
from contractor.properties.positions import middle_of, position_of, position_of_yard


def test_the_position_on_record_is_the_houses_own() -> None:
    house = Property(latitude=40.95, longitude=-77.22, position_source="imported", postcode="17099")
    position = position_of(house)
    assert position is not None
    assert (position.latitude, position.longitude, position.source) == (40.95, -77.22, "imported")
    assert not position.is_rough


def test_a_house_without_one_stands_roughly_in_the_middle_of_its_zip_code() -> None:
    position = position_of(Property(postcode="17099-0142"))
    assert position is not None
    assert position.is_rough
    assert position.source == "postcode"


# Gazetteer of the US Census Bureau (2020 ZIP code tabulation areas), internal points, from memory to a tenth of a
# degree: Harrisburg PA 17101 40.26 N 76.88 W, Burlington VT 05401 44.48 N 73.22 W, Chicago IL 60601 41.89 N 87.62 W.
@pytest.mark.parametrize(
    ("postcode", "latitude", "longitude"),
    [("17101", 40.26, -76.88), ("05401", 44.48, -73.22), ("60601", 41.89, -87.62)],
)
def test_middles_of_zip_codes_are_where_the_census_puts_them(
    postcode: str, latitude: float, longitude: float
) -> None:
    position = middle_of(postcode, country="US")
    assert position is not None
    assert (position.latitude, position.longitude) == pytest.approx((latitude, longitude), abs=0.05)


@pytest.mark.parametrize(
    ("postcode", "country"), [("00000", "US"), ("", "US"), ("K1A 0B1", "CA"), ("17099", "CA"), ("1709", "US")]
)
def test_other_postcodes_have_no_middle(postcode: str, country: str) -> None:
    assert middle_of(postcode, country=country) is None
    assert position_of(Property(postcode=postcode, country=country)) is None


def test_the_yard_stands_where_the_company_page_says_else_in_its_zip_code() -> None:
    assert position_of_yard(Company(latitude=40.9, longitude=-77.3, postcode="17099")).is_rough is False  # type: ignore[union-attr]
    assert position_of_yard(Company(postcode="17099")).is_rough is True  # type: ignore[union-attr]
    assert position_of_yard(Company(postcode="K1A 0B1", country="CA")) is None
