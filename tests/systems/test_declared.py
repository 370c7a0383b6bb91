"""What makers declare: typed in the company's units, kept in base units, read back as typed."""

import json
from pathlib import Path
from typing import Any

import pytest

from contractor.systems.declared import FIELDS, in_words, read_curve
from contractor.systems.forms import CatalogueForm
from contractor.systems.part_kinds import PART_KINDS

FIXTURE = Path(__file__).resolve().parents[2] / "fixtures/catalogue/models.json"
MODELS: list[dict[str, Any]] = json.loads(FIXTURE.read_text())["models"]


def catalogue_form(kind: str, *, is_us: bool = True, **typed: str) -> CatalogueForm:
    return CatalogueForm({"maker": "Northfold", "name": "X", **typed}, kind_code=kind, is_us=is_us)


def test_every_part_kind_says_what_its_maker_declares() -> None:
    assert set(FIELDS) == {kind.code for kind in PART_KINDS}


@pytest.mark.parametrize("model", MODELS, ids=lambda model: f"{model['maker']} {model['name']}")
@pytest.mark.parametrize("is_us", [True, False], ids=["US", "metric"])
def test_everything_that_the_supplied_catalogue_declares_is_shown(model: dict[str, Any], is_us: bool) -> None:
    known = {field.name for field in FIELDS[model["part_kind"]]}
    assert set(model["data"]) <= known
    assert len(in_words(model["part_kind"], model["data"], is_us=is_us)) == len(model["data"])


# 1 US gallon = 231 cubic inches = 3.785411784e-3 m³, 1 ft = 0.3048 m (NIST SP 811, appendix B.8):
# 2,400 gal/h = 2400 * 3.785411784e-3 / 3600 = 2.523608e-3 m³/s; 10 ft = 3.048 m.
def test_a_curve_is_read_by_rising_flow_in_base_units() -> None:
    points = read_curve("20 0\n10 2400\n\n5, 3000", is_us=True)
    assert [flow for flow, _ in points] == pytest.approx([0.0, 2.523608e-3, 3.154510e-3], rel=1e-6)
    assert [head for _, head in points] == pytest.approx([6.096, 3.048, 1.524], rel=1e-9)


@pytest.mark.parametrize(
    ("text", "part_of_the_sentence"),
    [
        ("20 0", "at least two points"),
        ("20\n10 2400", "Line 1"),
        ("20 0 1\n10 2400", "Line 1"),
        ("20 0\nten 2400", "cannot be read"),
        ("0 20\n2400 10", "Head must stand first"),
        ("20 0\n20 2400", "Head must fall"),
        ("20 0\n10 0", "Head must fall"),
    ],
)
def test_a_curve_that_is_none_is_refused_beside_its_field(text: str, part_of_the_sentence: str) -> None:
    form = catalogue_form("primary_pump", curve=text)
    assert not form.is_valid()
    assert list(form.errors) == ["curve"]
    assert part_of_the_sentence in form.errors["curve"][0]


def test_a_model_is_kept_in_base_units_and_what_was_left_empty_is_left_out() -> None:
    form = catalogue_form(
        "battery", chemistry="agm", capacity_ah="75", rate_h="20", expected_years_at_25c="6.5", voltage_v=""
    )
    assert form.is_valid(), form.errors
    assert form.declared_data() == {
        "chemistry": "agm",
        "capacity_ah": 75.0,
        "rate_h": 20.0,
        "expected_years_at_25c": 6.5,
    }


def test_lengths_are_typed_in_the_companys_unit() -> None:
    us, metric = catalogue_form("pit", diameter_m="18"), catalogue_form("pit", is_us=False, diameter_m="457.2")
    assert us.is_valid()
    assert metric.is_valid()
    # 18 in * 25.4 mm = 457.2 mm
    assert us.declared_data()["diameter_m"] == pytest.approx(0.4572)
    assert metric.declared_data()["diameter_m"] == pytest.approx(0.4572)


@pytest.mark.parametrize(("typed", "kept"), [("yes", True), ("no", False)])
def test_yes_and_no_are_kept_as_such_and_not_declared_is_neither(typed: str, kept: bool) -> None:
    form = catalogue_form("pit", is_sealed=typed)
    assert form.is_valid()
    assert form.declared_data() == {"is_sealed": kept}
    empty = catalogue_form("pit", is_sealed="")
    assert empty.is_valid()
    assert empty.declared_data() == {}


def test_a_refusal_to_seal_is_shown_as_no() -> None:
    assert in_words("pit", {"is_sealed": False}, is_us=True) == [("Sealed lid", "no")]


@pytest.mark.parametrize(("field", "typed"), [("capacity_ah", "75 V"), ("rate_h", "long"), ("chemistry", "nuclear")])
def test_what_cannot_be_read_is_refused_beside_its_field(field: str, typed: str) -> None:
    form = catalogue_form("battery", **{field: typed})
    assert not form.is_valid()
    assert list(form.errors) == [field]
