"""Treated walls, typed in the company's unit or any other."""

from datetime import datetime

import pytest
from django.db import transaction
from django.db.utils import IntegrityError

from contractor.core.audit import Actor
from contractor.core.models import AuditEntry
from contractor.systems import actions
from contractor.systems.errors import WallLetterTaken
from contractor.systems.forms import WallForm
from contractor.systems.models import System
from contractor.systems.queries import next_wall_letter
from tests.factories import SystemFactory, TreatedWallFactory


def wall_form(length: str, *, is_us: bool = True, **more: str) -> WallForm:
    return WallForm({"letter": "A", "name": "North wall", "has_liner": "on", **more, "length": length}, is_us=is_us)


def test_a_wall_is_recorded_with_its_trail(system: System, office: Actor, at: datetime) -> None:
    wall = actions.treat_wall(
        system_id=system.pk, letter=" a ", name=" North wall ", length_m=9.75, has_liner=False, by=office, at=at
    )
    wall.refresh_from_db()
    assert (wall.letter, wall.name, wall.length_m) == ("A", "North wall", 9.75)
    assert (wall.has_channel, wall.has_liner) == (True, False)
    assert AuditEntry.objects.get(stream=f"property:{system.property_id}").verb == "wall treated"


def test_a_letter_stands_for_one_wall_of_a_system(system: System, office: Actor, at: datetime) -> None:
    TreatedWallFactory(system=system, letter="A")
    with pytest.raises(WallLetterTaken) as refused:
        actions.treat_wall(system_id=system.pk, letter="a", name="South", length_m=3.0, by=office, at=at)
    assert refused.value.field == "letter"
    actions.treat_wall(system_id=SystemFactory().pk, letter="a", name="South", length_m=3.0, by=office, at=at)


def test_the_next_letter_fills_the_first_gap(system: System) -> None:
    assert next_wall_letter(system) == "A"
    for letter in "ABD":
        TreatedWallFactory(system=system, letter=letter)
    assert next_wall_letter(system) == "C"


# 1 ft = 0.3048 m and 1 in = 25.4 mm exactly: international yard and pound agreement of 1959 (NIST SP 811, B.8).
@pytest.mark.parametrize(
    ("typed", "is_us", "metres"),
    [
        ("32", True, 9.7536),
        ("32 ft", True, 9.7536),
        ("32 ft 6 in", True, 9.906),
        ("32'", True, 9.7536),
        ("32 1/2", True, 9.906),
        ("9.8 m", True, 9.8),
        ("9.8", False, 9.8),
        ("9,8", False, 9.8),
        ("980 cm", False, 9.8),
        ("32 ft", False, 9.7536),
    ],
)
def test_a_length_is_read_in_the_companys_unit_or_in_the_one_written_behind_it(
    typed: str, is_us: bool, metres: float
) -> None:
    form = wall_form(typed, is_us=is_us)
    assert form.is_valid(), form.errors
    assert form.cleaned_data["length"] == pytest.approx(metres, abs=1e-9)


@pytest.mark.parametrize("typed", ["", "long", "-3", "0", "32 gal", "3200"])
def test_a_length_that_is_none_is_refused_beside_its_field(typed: str) -> None:
    form = wall_form(typed)
    assert not form.is_valid()
    assert list(form.errors) == ["length"]


def test_a_wall_with_neither_channel_nor_liner_is_not_treated(system: System) -> None:
    form = WallForm({"letter": "A", "name": "North", "length": "12"}, is_us=True)
    assert not form.is_valid()
    assert list(form.errors) == ["has_channel"]
    with pytest.raises(IntegrityError), transaction.atomic():
        TreatedWallFactory(system=system, has_channel=False, has_liner=False)
