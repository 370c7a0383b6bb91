"""Positions in an old register: both degrees or none, and a doubt for what is no position."""

from datetime import date
from io import StringIO
from pathlib import Path

import pytest
from django.core.management import call_command

from contractor.accounts.models import User
from contractor.core import clock
from contractor.office.first_setup import load_catalogue
from contractor.office.register_cells import read_degrees
from contractor.office.register_columns import columns_of
from contractor.properties.models import Property


@pytest.mark.parametrize(
    ("text", "most", "expected"),
    [
        ("40.9512", 90, 40.9512),
        (" -77.2204° ", 180, -77.2204),
        ("−77.2204", 180, -77.2204),
        ("", 90, None),
        ("n/a", 90, None),
        ("95", 90, None),
        ("40 57 04 N", 90, None),
        ("nan", 90, None),
    ],
)
def test_degrees_are_decimal_numbers(text: str, most: float, expected: float | None) -> None:
    assert read_degrees(text, most=most).value == expected


@pytest.mark.parametrize(("text", "is_doubtful"), [("40.9", False), ("", False), ("95", True), ("north", True)])
def test_what_is_no_degrees_is_doubted(text: str, is_doubtful: bool) -> None:
    codes = [doubt.code for doubt in read_degrees(text, most=90).doubts]
    assert codes == (["position_unread"] if is_doubtful else [])


@pytest.mark.parametrize("header", [["Latitude", "Longitude"], ["LAT", "LONG"], ["lat", "lng"]])
def test_the_columns_are_known_by_many_names(header: list[str]) -> None:
    assert set(columns_of(header).by_field) == {"latitude", "longitude"}


def test_houses_come_in_with_their_positions_and_without_half_ones(
    nora: User, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(clock, "today", lambda: date(2026, 11, 25))
    load_catalogue(by=nora, at=clock.now())
    rows = [
        "Customer name,Address,Town,ZIP,Install date,Lat,Long",
        "Iris Holloway,12 Millrace Lane,Larkmere,17099,5/14/2020,40.9512,-77.2204",
        "Ben Okafor,14 Millrace Lane,Larkmere,17099,5/14/2020,40.9512,",
        "Ann Ash,16 Millrace Lane,Larkmere,17099,5/14/2020,0,0",
        "Joe Beech,18 Millrace Lane,Larkmere,17099,5/14/2020,,",
    ]
    file = tmp_path / "register.csv"
    file.write_text("\n".join(rows) + "\n")
    out = StringIO()
    call_command("import_register", str(file), "--take-over", nora.email, stdout=out)
    assert "4 taken over" in out.getvalue()
    assert list(
        Property.objects.order_by("street").values_list("latitude", "longitude", "position_source")
    ) == [(40.9512, -77.2204, "imported"), *[(None, None, "")] * 3]
    assert out.getvalue().count("A position needs both degrees.") == 2
