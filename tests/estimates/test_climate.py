"""The climate of a region: what can be, the write with its trail and what follows, the form, the pages."""

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from contractor import celery
from contractor.accounts.models import Company, User
from contractor.core.audit import Actor
from contractor.core.errors import Refusal
from contractor.core.models import AuditEntry
from contractor.estimates import errors
from contractor.estimates.actions import describe_climate
from contractor.estimates.climate_forms import ClimateForm
from contractor.estimates.models import ClimateNormals
from contractor.estimates.rules.normals import Normals, OtherRegion, check_normals, prefixes_in

# Invented for these tests.
USUAL = Normals(
    name="Tamarack County",
    postcode_prefixes=("170",),
    latitude_deg=40.9,
    rain_mm=(71.0, 63.0, 84.0, 89.0, 97.0, 104.0, 101.0, 96.0, 97.0, 86.0, 82.0, 77.0),
    temperature_c=(-3.2, -2.1, 2.7, 9.1, 14.9, 19.6, 21.9, 21.0, 17.1, 10.8, 5.1, -0.3),
    frost_depth_m=0.91,
    snow_depth_m=0.3,
    ordinary_outage_h=2.0,
    storm_outage_h=12.0,
    source="invented for this test",
)
EVERYWHERE = OtherRegion(name="Elsewhere", postcode_prefixes=())
HILLS = OtherRegion(name="Upper Tamarack", postcode_prefixes=("17094", "17095"))


def rain_in(month: int, millimetres: float) -> tuple[float, ...]:
    return (*USUAL.rain_mm[: month - 1], millimetres, *USUAL.rain_mm[month:])


def warmth_in(month: int, celsius: float) -> tuple[float, ...]:
    return (*USUAL.temperature_c[: month - 1], celsius, *USUAL.temperature_c[month:])


@pytest.mark.parametrize(
    ("changed", "others"),
    [
        ({}, ()),
        ({}, (EVERYWHERE, HILLS)),
        ({"postcode_prefixes": ()}, (HILLS,)),
        ({"postcode_prefixes": ("K1A 0", "K1B-2")}, ()),
        ({"rain_mm": (0.0,) * 12}, ()),
        ({"temperature_c": (-60.0,) * 6 + (60.0,) * 6}, ()),
        ({"frost_depth_m": 0.0, "snow_depth_m": 0.0}, ()),
        ({"latitude_deg": -41.3}, ()),
        ({"storm_outage_h": 2.0}, ()),
    ],
)
def test_what_can_be_is_taken(changed: dict[str, Any], others: tuple[OtherRegion, ...]) -> None:
    check_normals(replace(USUAL, **changed), others)


@pytest.mark.parametrize(
    ("changed", "refusal", "field", "says"),
    [
        ({"name": ""}, errors.NoRegionName, "name", "name"),
        ({"name": "ELSEWHERE"}, errors.RegionNameTaken, "name", "already"),
        ({"source": ""}, errors.NoSourceGiven, "source", "whose figures"),
        ({"postcode_prefixes": ("17_0",)}, errors.NotAPostcodePrefix, "postcode_prefixes", "17_0"),
        ({"postcode_prefixes": ("170*",)}, errors.NotAPostcodePrefix, "postcode_prefixes", "170*"),
        ({"postcode_prefixes": ("1" * 13,)}, errors.NotAPostcodePrefix, "postcode_prefixes", "beginning"),
        ({"postcode_prefixes": ("170", "17094")}, errors.PrefixTaken, "postcode_prefixes", "Upper Tamarack"),
        ({"postcode_prefixes": ()}, errors.EverywhereTaken, "postcode_prefixes", "Elsewhere"),
        ({"latitude_deg": 90.5}, errors.LatitudeUnlikely, "latitude_deg", "-90 and 90"),
        ({"latitude_deg": float("nan")}, errors.LatitudeUnlikely, "latitude_deg", "-90 and 90"),
        ({"rain_mm": rain_in(3, -0.1)}, errors.RainUnlikely, "rain_3", "March"),
        ({"rain_mm": rain_in(12, 3001.0)}, errors.RainUnlikely, "rain_12", "December"),
        ({"rain_mm": rain_in(1, float("nan"))}, errors.RainUnlikely, "rain_1", "January"),
        ({"temperature_c": warmth_in(1, -60.1)}, errors.TemperatureUnlikely, "temperature_1", "January"),
        ({"temperature_c": warmth_in(7, 71.4)}, errors.TemperatureUnlikely, "temperature_7", "July"),
        ({"frost_depth_m": -0.1}, errors.UnlikelyDepth, "frost_depth_m", "4 m (157 in)"),
        ({"frost_depth_m": 36.0}, errors.UnlikelyDepth, "frost_depth_m", "Check the unit"),
        ({"snow_depth_m": 12.0}, errors.UnlikelyDepth, "snow_depth_m", "6 m (236 in)"),
        ({"ordinary_outage_h": 0.0}, errors.OutageUnlikely, "ordinary_outage_h", "Type hours"),
        ({"storm_outage_h": 744.0}, errors.OutageUnlikely, "storm_outage_h", "720 hours"),
        ({"storm_outage_h": 1.9}, errors.StormShorterThanOrdinary, "storm_outage_h", "at least as long"),
    ],
)
def test_what_cannot_be_is_refused_in_words_beside_its_field(
    changed: dict[str, Any], refusal: type[Refusal], field: str, says: str
) -> None:
    with pytest.raises(refusal) as refused:
        check_normals(replace(USUAL, **changed), (EVERYWHERE, HILLS))
    assert refused.value.field == field
    assert says in refused.value.sentence


@pytest.mark.parametrize("short", ["rain_mm", "temperature_c"])
def test_a_year_has_twelve_months(short: str) -> None:
    with pytest.raises(ValueError, match="twelve months"):
        check_normals(replace(USUAL, **{short: (1.0,) * 11}), ())


@pytest.mark.parametrize(
    ("typed", "prefixes"),
    [
        ("170, 171", ("170", "171")),
        (" 170;171\n172 ", ("170", "171", "172")),
        ("k1a  0, K1A 0", ("K1A 0",)),
        ("", ()),
        (" , ,", ()),
    ],
)
def test_prefixes_are_read_from_a_list(typed: str, prefixes: tuple[str, ...]) -> None:
    assert prefixes_in(typed) == prefixes


@pytest.fixture
def begun(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The background tasks that were begun, by name."""
    tasks: list[str] = []
    monkeypatch.setattr(celery, "start", lambda task, **ids: tasks.append(task))
    return tasks


RENEWAL = "contractor.estimates.tasks.refresh_all_estimates"


@pytest.mark.django_db
def test_a_region_is_kept_with_its_trail_and_every_estimate_is_renewed(
    office: Actor, at: datetime, begun: list[str], django_capture_on_commit_callbacks: Any
) -> None:
    with django_capture_on_commit_callbacks(execute=True):
        region = describe_climate(normals=USUAL, by=office, at=at)
        assert begun == []
    region.refresh_from_db()
    assert region.postcode_prefixes == ["170"]
    assert (region.rain_mm[2], region.temperature_c[0], region.storm_outage_h) == (84.0, -3.2, 12.0)
    assert begun == [RENEWAL]
    entry = AuditEntry.objects.get(stream=f"climatenormals:{region.pk}")
    assert (entry.verb, entry.body["after"]["frost_depth_m"]) == ("climate described", 0.91)


@pytest.mark.django_db
def test_a_change_keeps_what_was_before_and_the_same_figures_write_nothing(
    office: Actor, at: datetime, begun: list[str], django_capture_on_commit_callbacks: Any
) -> None:
    region = describe_climate(normals=USUAL, by=office, at=at)
    with django_capture_on_commit_callbacks(execute=True):
        describe_climate(normals=USUAL, climate_id=region.pk, by=office, at=at)
    assert begun == []
    with django_capture_on_commit_callbacks(execute=True):
        describe_climate(normals=replace(USUAL, snow_depth_m=0.4), climate_id=region.pk, by=office, at=at)
    assert begun == [RENEWAL]
    _, second = AuditEntry.objects.filter(stream=f"climatenormals:{region.pk}").order_by("number")
    assert second.body == {"before": {"snow_depth_m": 0.3}, "after": {"snow_depth_m": 0.4}}
    assert ClimateNormals.objects.get().snow_depth_m == 0.4


@pytest.mark.django_db
def test_what_other_regions_say_is_asked_of_all_but_the_one_that_is_changed(office: Actor, at: datetime) -> None:
    county = describe_climate(normals=USUAL, by=office, at=at)
    everywhere = describe_climate(normals=replace(USUAL, name="Elsewhere", postcode_prefixes=()), by=office, at=at)
    with pytest.raises(errors.RegionNameTaken):
        describe_climate(normals=replace(USUAL, postcode_prefixes=("171",)), by=office, at=at)
    with pytest.raises(errors.PrefixTaken):
        describe_climate(normals=replace(USUAL, name="Another"), by=office, at=at)
    with pytest.raises(errors.EverywhereTaken):
        describe_climate(normals=replace(USUAL, postcode_prefixes=()), climate_id=county.pk, by=office, at=at)
    describe_climate(
        normals=replace(USUAL, name="Elsewhere", postcode_prefixes=(), snow_depth_m=0.5),
        climate_id=everywhere.pk,
        by=office,
        at=at,
    )
    with pytest.raises(ClimateNormals.DoesNotExist):
        describe_climate(normals=USUAL, climate_id=everywhere.pk + 99, by=office, at=at)
    assert ClimateNormals.objects.count() == 2


def typed(**changed: str) -> dict[str, str]:
    """What a manager of a US company types."""
    rain = {f"rain_{month}": "3.5" for month in range(1, 13)}
    warmth = {f"temperature_{month}": "50" for month in range(1, 13)}
    return {
        "name": " Tamarack County ",
        "postcode_prefixes": "170",
        "latitude_deg": "40.9",
        **rain,
        **warmth,
        "frost_depth_m": "36",
        "snow_depth_m": "12",
        "ordinary_outage_h": "2",
        "storm_outage_h": "12",
        "source": "invented for this test",
        **changed,
    }


# 1 in = 25.4 mm and t/°F = 1.8 t/°C + 32 exactly: NIST SP 811, B.8.
@pytest.mark.parametrize(
    ("name", "written", "is_us", "value"),
    [
        ("rain_4", "3.5", True, 88.9),
        ("rain_4", "3 1/2", True, 88.9),
        ("rain_4", "90 mm", True, 90.0),
        ("rain_4", "90", False, 90.0),
        ("rain_4", "0", True, 0.0),
        ("temperature_1", "26.6", True, -3.0),
        ("temperature_1", "-3", False, -3.0),
        ("temperature_1", "-3 degC", True, -3.0),
        ("frost_depth_m", "36", True, 0.9144),
        ("frost_depth_m", "90", False, 0.9),
        ("snow_depth_m", "1 ft", True, 0.3048),
        ("ordinary_outage_h", "90 min", True, 1.5),
        ("storm_outage_h", "12.5", False, 12.5),
    ],
)
def test_a_figure_is_read_in_the_companys_unit_or_the_one_behind_it(
    name: str, written: str, is_us: bool, value: float
) -> None:
    form = ClimateForm(typed(**{name: written}), is_us=is_us, region=None)
    assert form.is_valid(), form.errors
    normals = form.normals()
    kind, _, month = name.partition("_")
    lists = {"rain": normals.rain_mm, "temperature": normals.temperature_c}
    read = lists[kind][int(month) - 1] if kind in lists else getattr(normals, name)
    assert read == pytest.approx(value, abs=1e-9)
    assert (normals.name, normals.postcode_prefixes) == ("Tamarack County", ("170",))


@pytest.mark.parametrize(
    ("name", "written"),
    [
        ("rain_4", ""),
        ("rain_4", "-1"),
        ("rain_4", "wet"),
        ("temperature_1", "3 in"),
        ("frost_depth_m", ""),
        ("storm_outage_h", "long"),
        ("latitude_deg", "north"),
        ("source", ""),
    ],
)
def test_what_is_no_figure_is_refused_beside_its_field(name: str, written: str) -> None:
    form = ClimateForm(typed(**{name: written}), is_us=True, region=None)
    assert not form.is_valid()
    assert list(form.errors) == [name]


@pytest.mark.django_db
@pytest.mark.parametrize("is_us", [True, False])
def test_what_is_on_record_is_not_rounded_by_opening_and_saving_it(office: Actor, at: datetime, is_us: bool) -> None:
    region = describe_climate(normals=USUAL, by=office, at=at)
    opened = ClimateForm(is_us=is_us, region=region)
    shown = {name: str(opened[name].value()) for name in opened.fields}
    expected = ("3.31", "26.2", "35.8") if is_us else ("84", "-3.2", "91")
    assert (shown["rain_3"], shown["temperature_1"], shown["frost_depth_m"]) == expected
    assert (shown["storm_outage_h"], shown["postcode_prefixes"]) == ("12", "170")
    form = ClimateForm(shown, is_us=is_us, region=region)
    assert form.is_valid(), form.errors
    assert form.normals() == USUAL


LIST = "estimates:climate"


@pytest.mark.django_db
def test_the_manager_adds_a_region_and_changes_it(ruth: User, signed_in_as: Callable[[User], Client]) -> None:
    manager = signed_in_as(ruth)
    assert reverse(LIST) in manager.get(reverse("office:setup")).content.decode()
    assert "No region yet" in manager.get(reverse(LIST)).content.decode()
    answer = manager.post(reverse("estimates:climate_add"), typed())
    assert (answer.status_code, answer["Location"]) == (302, reverse(LIST))
    region = ClimateNormals.objects.get()
    assert region.rain_mm == [pytest.approx(88.9)] * 12
    address = reverse("estimates:climate_change", args=[region.pk])
    listed = manager.get(reverse(LIST)).content.decode()
    assert address in listed
    assert "42 in" in listed  # twelve months of 3.5 in
    assert manager.post(address, typed(snow_depth_m="20", name="Tamarack")).status_code == 302
    region.refresh_from_db()
    assert (region.name, region.snow_depth_m) == ("Tamarack", pytest.approx(0.508))


@pytest.mark.django_db
def test_a_refusal_stands_beside_its_field_and_nothing_typed_is_lost(
    ruth: User, office: Actor, at: datetime, signed_in_as: Callable[[User], Client]
) -> None:
    describe_climate(normals=USUAL, by=office, at=at)
    manager, address = signed_in_as(ruth), reverse("estimates:climate_add")
    answer = manager.post(address, typed(name="Another", rain_6="4.25 in"))
    assert list(answer.context["form"].errors) == ["postcode_prefixes"]
    assert 'value="4.25 in"' in answer.content.decode()
    hot = manager.post(address, typed(name="Another", postcode_prefixes="171", temperature_7="150"))
    assert list(hot.context["form"].errors) == ["temperature_7"]
    assert "July" in hot.content.decode()
    assert ClimateNormals.objects.count() == 1


@pytest.mark.django_db
def test_a_metric_company_reads_and_types_millimetres(
    company: Company, ruth: User, office: Actor, at: datetime, signed_in_as: Callable[[User], Client]
) -> None:
    company.units = Company.Units.METRIC
    company.save()
    region = describe_climate(normals=USUAL, by=office, at=at)
    page = signed_in_as(ruth).get(reverse("estimates:climate_change", args=[region.pk])).content.decode()
    assert "Rain, mm" in page
    assert 'value="84"' in page
