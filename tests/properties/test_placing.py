"""Houses are put on the map: from the address by a geocoder, by hand, and said to be rough until then."""

import json
from collections.abc import Callable
from datetime import datetime
from pathlib import Path

import pytest
from django.test import Client
from django.urls import reverse

from contractor.accounts.models import User
from contractor.core.audit import Actor
from contractor.core.models import AuditEntry
from contractor.properties.actions import change_property, locate_missing, place_property
from contractor.properties.errors import NotOnEarth
from contractor.properties.geocoding import Address, GeocoderFailed, StreetFile, geocoder
from contractor.properties.models import Property
from contractor.settings import tiles_origin
from contractor.visits.tasks import locate_missing_houses
from tests.factories import PropertyFactory

STREETS = {
    "streets": [
        {
            "street": "Millrace Lane",
            "postcode": "17099",
            "numbers": [1, 101],
            "from": [40.9, -77.3],
            "to": [40.91, -77.28],
        }
    ]
}


@pytest.fixture
def streets(settings: object, tmp_path: Path) -> None:
    """A file of one street, asked by the geocoder for development."""
    file = tmp_path / "streets.json"
    file.write_text(json.dumps(STREETS))
    settings.GEOCODER = "contractor.properties.geocoding.StreetFile"  # type: ignore[attr-defined]
    settings.GEOCODER_FILE = str(file)  # type: ignore[attr-defined]


def ask(street: str, postcode: str = "17099") -> tuple[float, float] | None:
    return StreetFile().find(Address(street=street, city="Larkmere", state="PA", postcode=postcode, country="US"))


@pytest.mark.parametrize(
    ("street", "postcode", "expected"),
    [
        pytest.param("1 Millrace Lane", "17099", (40.9, -77.3), id="at its beginning"),
        pytest.param("51 Millrace Ln", "17099", (40.905, -77.29), id="in the middle, the street written shorter"),
        pytest.param("101 millrace lane", "17099-0142", (40.91, -77.28), id="at its end"),
        pytest.param("103 Millrace Lane", "17099", None, id="beyond its last number"),
        pytest.param("12 Quarry Lane", "17099", None, id="a street that is not in the file"),
        pytest.param("12 Millrace Lane", "17001", None, id="the same street of another town"),
        pytest.param("Millrace Lane", "17099", None, id="no number"),
    ],
)
def test_numbers_are_spread_evenly_along_a_street(
    streets: None, street: str, postcode: str, expected: tuple[float, float] | None
) -> None:
    found = ask(street, postcode)
    assert found == (None if expected is None else pytest.approx(expected))


def test_a_file_that_can_not_be_read_is_named(streets: None, settings: object, tmp_path: Path) -> None:
    settings.GEOCODER_FILE = str(tmp_path / "gone.json")  # type: ignore[attr-defined]
    with pytest.raises(GeocoderFailed, match=r"gone\.json"):
        StreetFile()


def test_no_geocoder_is_the_default_and_asks_nobody(house: Property, at: datetime) -> None:
    assert geocoder() is None
    locate_missing_houses()
    house.refresh_from_db()
    assert (house.latitude, house.position_note) == (None, "")


def test_missing_houses_are_found_once_and_unknown_addresses_are_named(
    streets: None, house: Property, at: datetime
) -> None:
    lost = PropertyFactory(street="5 Nowhere Road")
    by_hand = PropertyFactory(street="3 Millrace Lane", latitude=41.0, longitude=-77.0, position_source="by_hand")
    done = locate_missing(at=at)
    assert (done.found, done.unknown) == (1, 1)
    house.refresh_from_db()
    lost.refresh_from_db()
    by_hand.refresh_from_db()
    assert (house.latitude, house.position_source) == (pytest.approx(40.9011), "geocoded")
    assert lost.position_note == "The address was not found on May 4."
    assert by_hand.latitude == 41.0
    again = locate_missing(at=at)
    assert (again.found, again.unknown) == (0, 0)
    assert AuditEntry.objects.count() == 2


def test_a_geocoder_that_fails_leaves_everything_for_the_next_time(
    streets: None, settings: object, tmp_path: Path, house: Property, at: datetime, caplog: pytest.LogCaptureFixture
) -> None:
    settings.GEOCODER_FILE = str(tmp_path / "gone.json")  # type: ignore[attr-defined]
    assert locate_missing(at=at).found == 0
    assert "Positions wait:" in caplog.text
    assert not AuditEntry.objects.exists()


def correct(house: Property, office: Actor, at: datetime, *, street: str) -> Property:
    return change_property(
        property_id=house.pk,
        street=street,
        city=house.city,
        state=house.state,
        postcode=house.postcode,
        latitude=house.latitude,
        longitude=house.longitude,
        by=office,
        at=at,
    )


def test_a_corrected_address_is_looked_for_anew(streets: None, house: Property, office: Actor, at: datetime) -> None:
    locate_missing(at=at)
    house.refresh_from_db()
    changed = correct(house, office, at, street="5 Nowhere Road")
    assert (changed.latitude, changed.position_source) == (None, "")
    locate_missing(at=at)
    changed.refresh_from_db()
    assert changed.position_note
    assert correct(changed, office, at, street="51 Millrace Lane").position_note == ""
    assert locate_missing(at=at).found == 1


def test_a_position_set_by_hand_outlives_a_corrected_address(house: Property, office: Actor, at: datetime) -> None:
    placed = place_property(property_id=house.pk, latitude=40.95, longitude=-77.2, by=office, at=at)
    assert correct(placed, office, at, street="14b Millrace Lane").latitude == 40.95


@pytest.mark.parametrize(("latitude", "longitude"), [(91.0, 0.0), (0.0, 181.0)])
def test_what_is_not_on_earth_is_refused(
    house: Property, office: Actor, at: datetime, latitude: float, longitude: float
) -> None:
    with pytest.raises(NotOnEarth):
        place_property(property_id=house.pk, latitude=latitude, longitude=longitude, by=office, at=at)


@pytest.fixture
def desk(nora: User, signed_in_as: Callable[[User], Client]) -> Client:
    return signed_in_as(nora)


def test_a_house_is_put_on_the_map_by_typing(desk: Client, house: Property) -> None:
    address = reverse("properties:position", args=[house.pk])
    page = desk.get(address).content.decode()
    assert "Only the middle of the ZIP code is known." in page
    assert "rough position" in page
    assert "GeoNames, CC BY 4.0" in page
    answer = desk.post(address, {"position": "40.9512, -77.2204"})
    assert answer["Location"] == reverse("office:house", args=[house.pk])
    house.refresh_from_db()
    assert (house.latitude, house.longitude, house.position_source) == (40.9512, -77.2204, "by_hand")
    assert "rough position" not in desk.get(address).content.decode()


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ("", "This field is required."),
        ("by the creek", "Type two numbers with a comma between"),
        ("95, -77", "Latitude lies between -90 and 90"),
    ],
)
def test_what_is_no_position_is_said_and_kept(desk: Client, house: Property, typed: str, sentence: str) -> None:
    page = desk.post(reverse("properties:position", args=[house.pk]), {"position": typed}).content.decode()
    assert sentence in page
    assert typed in page


def test_the_house_file_marks_a_rough_position_and_leads_to_the_map(desk: Client, house: Property) -> None:
    page = desk.get(reverse("office:house", args=[house.pk])).content.decode()
    assert "rough position" in page
    assert reverse("properties:position", args=[house.pk]) in page


def test_houses_to_place_are_listed_with_what_the_geocoder_said(
    desk: Client, house: Property, django_assert_num_queries: Callable[..., object]
) -> None:
    PropertyFactory(street="5 Nowhere Road", position_note="The address was not found on May 4.")
    PropertyFactory(street="7 Known Road", latitude=40.9, longitude=-77.3)
    address = reverse("properties:positions")
    with django_assert_num_queries(5):  # type: ignore[attr-defined]
        page = desk.get(address).content.decode()
    assert page.index("5 Nowhere Road") < page.index("12 Millrace Lane")
    assert "7 Known Road" not in page
    PropertyFactory.create_batch(5)
    with django_assert_num_queries(5):  # type: ignore[attr-defined]
        desk.get(address)


@pytest.mark.parametrize(
    ("address", "expected"),
    [
        ("", []),
        ("https://tiles.example.com/a/{z}/{x}/{y}.png", ["https://tiles.example.com"]),
        ("http://tiles.example.com/{z}/{x}/{y}.png", None),
        ("https://tiles.example.com/{z}/{x}.png", None),
    ],
)
def test_only_a_whole_address_of_tiles_opens_the_page_to_its_host(address: str, expected: list[str] | None) -> None:
    if expected is None:
        with pytest.raises(ValueError, match="MAP_TILES_ADDRESS"):
            tiles_origin(address)
    else:
        assert tiles_origin(address) == expected
