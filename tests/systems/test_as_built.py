"""What was measured of a line and pit: the rule, the write with its trail, the form in either unit, who may do it."""

from collections.abc import Callable
from datetime import date, datetime, timedelta
from typing import Any

import pytest
from django.db import transaction
from django.db.utils import IntegrityError
from django.test import Client
from django.urls import reverse

from contractor.accounts.models import User
from contractor.core import clock, renewal
from contractor.core.audit import Actor
from contractor.core.errors import Refusal
from contractor.core.models import AuditEntry
from contractor.systems import actions, errors, rules
from contractor.systems.as_built_forms import AsBuiltForm
from contractor.systems.measures import MEASURES, in_words
from contractor.systems.models import AsBuilt, System
from tests.factories import SystemFactory
from tests.office.factories import appointment, wanted_visit

INSTALLED = date(2020, 5, 14)
ON = date(2026, 5, 4)
# A line and a pit as they are built every day: common practice, no source.
USUAL: dict[str, float | int | bool | None] = {
    "static_lift_m": 2.6,
    "length_m": 14.0,
    "bore_m": 0.0409,
    "elbows_90": 3,
    "elbows_45": 1,
    "cover_m": 0.3,
    "exposed_length_m": 0.6,
    "is_insulated": False,
    "falls_to_outlet": True,
    "sags": 0,
    "outlet_above_ground_m": 0.2,
    "pump_on_m": 0.33,
    "pump_off_m": 0.13,
    "standby_on_m": 0.4,
    "pit_diameter_m": 0.4572,
    "pit_depth_m": 0.6096,
}


def check(**changed: Any) -> None:
    rules.check_as_built({**USUAL, **changed}, on=ON, today=ON, installed_on=INSTALLED)


def test_the_measures_of_the_form_are_the_columns_of_the_table() -> None:
    columns = {field.name for field in AsBuilt._meta.concrete_fields}
    assert {measure.name for measure in MEASURES} == set(rules.MEASURES)
    assert set(rules.MEASURES) == columns - {"id", "system", "measured_on", "measured_by"}
    assert set(rules.SIZES_M) == set(AsBuilt.LENGTHS)


@pytest.mark.parametrize(
    "changed",
    [
        {},
        dict.fromkeys(USUAL),
        {"cover_m": 0.0, "exposed_length_m": 0.0, "outlet_above_ground_m": 0.0, "pump_off_m": 0.0},
        {"falls_to_outlet": False, "sags": 2},
        {"falls_to_outlet": None, "sags": 2},
        {"exposed_length_m": 14.0},
        {"pump_on_m": None, "standby_on_m": 0.14},
        {"standby_on_m": 0.6096},
        {"length_m": None, "exposed_length_m": 40.0},
    ],
)
def test_what_can_be_is_taken(changed: dict[str, Any]) -> None:
    check(**changed)


@pytest.mark.parametrize(
    ("changed", "refusal", "field", "says"),
    [
        ({"static_lift_m": 0.0}, errors.NotALength, "static_lift_m", "more than nothing"),
        ({"length_m": -3.0}, errors.NotALength, "length_m", "more than nothing"),
        ({"bore_m": float("nan")}, errors.NotALength, "bore_m", "more than nothing"),
        ({"cover_m": -0.1}, errors.NotALength, "cover_m", "less than nothing"),
        ({"pump_off_m": -0.01}, errors.NotALength, "pump_off_m", "less than nothing"),
        ({"static_lift_m": 30.5}, errors.UnlikelySize, "static_lift_m", "Check the unit"),
        ({"bore_m": 1.61}, errors.UnlikelySize, "bore_m", "Check the unit"),
        ({"bore_m": 0.001}, errors.UnlikelySize, "bore_m", "Check the unit"),
        ({"pit_depth_m": 24.0}, errors.UnlikelySize, "pit_depth_m", "Check the unit"),
        ({"elbows_90": -1}, errors.NotThatMany, "elbows_90", "from 0 to 40"),
        ({"sags": 21, "falls_to_outlet": False}, errors.NotThatMany, "sags", "from 0 to 20"),
        ({"pump_on_m": 0.13}, errors.StartBelowStop, "pump_on_m", "higher level than it stops"),
        ({"pump_on_m": 0.1}, errors.StartBelowStop, "pump_on_m", "higher level than it stops"),
        # The standby starts when the water rises past the level at which the primary should have started:
        # common practice, no source.
        ({"standby_on_m": 0.33}, errors.StandbyBelowPrimary, "standby_on_m", "risen past"),
        ({"standby_on_m": 0.2}, errors.StandbyBelowPrimary, "standby_on_m", "risen past"),
        ({"pump_on_m": None, "standby_on_m": 0.13}, errors.StandbyBelowPrimary, "standby_on_m", "risen past"),
        ({"standby_on_m": 0.61}, errors.LevelAbovePit, "standby_on_m", "rim"),
        ({"exposed_length_m": 14.1}, errors.ExposedLongerThanLine, "exposed_length_m", "whole line"),
        ({"falls_to_outlet": True, "sags": 1}, errors.FallsButSags, "sags", "low point"),
    ],
)
def test_what_cannot_be_is_refused_in_words_beside_its_field(
    changed: dict[str, Any], refusal: type[Refusal], field: str, says: str
) -> None:
    with pytest.raises(refusal) as refused:
        check(**changed)
    assert refused.value.field == field
    assert says in refused.value.sentence


def test_a_mistaken_unit_is_shown_in_both_worlds() -> None:
    """8 typed for inches and taken for feet, say: 1 m = 3.28084 ft (NIST SP 811, B.8)."""
    with pytest.raises(errors.UnlikelySize, match=r"40 m \(131 ft\)"):
        check(static_lift_m=40.0)


@pytest.mark.parametrize(
    ("on", "refusal"),
    [
        (INSTALLED - timedelta(days=1), errors.MeasuredBeforeInstalled),
        (ON + timedelta(days=1), errors.MeasuredLater),
    ],
)
def test_a_day_before_the_system_or_after_today_is_refused(on: date, refusal: type[Refusal]) -> None:
    with pytest.raises(refusal) as refused:
        rules.check_as_built(USUAL, on=on, today=ON, installed_on=INSTALLED)
    assert refused.value.field == "measured_on"


def test_a_name_that_is_no_measure_is_a_mistake_of_ours() -> None:
    with pytest.raises(ValueError, match="bore_in"):
        check(bore_in=1.6)


@pytest.fixture
def renewed(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """The houses whose facts were said to have changed."""
    houses: list[int] = []
    monkeypatch.setattr(renewal, "facts_changed", lambda *, property_id: houses.append(property_id))
    return houses


def test_measures_are_kept_with_day_person_and_trail(
    system: System, theo: User, at: datetime, on: date, renewed: list[int]
) -> None:
    actions.measure_as_built(system_id=system.pk, values=USUAL, on=on, by_user=theo, by=theo.actor, at=at)
    built = AsBuilt.objects.get(system=system)
    assert {name: getattr(built, name) for name in USUAL} == USUAL
    assert (built.measured_on, built.measured_by) == (on, theo)
    entry = AuditEntry.objects.get(stream=f"property:{system.property_id}")
    assert (entry.verb, entry.subject) == ("line and pit measured", f"asbuilt:{built.pk}")
    assert entry.body["after"]["bore_m"] == 0.0409
    assert renewed == [system.property_id]


def test_a_second_measuring_takes_the_place_of_the_first_and_the_trail_keeps_both(
    system: System, theo: User, office: Actor, at: datetime, on: date, renewed: list[int]
) -> None:
    actions.measure_as_built(system_id=system.pk, values=USUAL, on=on, by_user=theo, by=theo.actor, at=at)
    again = {**USUAL, "bore_m": 0.0525}
    del again["sags"]
    actions.measure_as_built(system_id=system.pk, values=again, on=on, by=office, at=at)
    built = AsBuilt.objects.get(system=system)
    assert (built.bore_m, built.sags, built.measured_by) == (0.0525, None, None)
    entry = AuditEntry.objects.filter(stream=f"property:{system.property_id}").latest("number")
    assert entry.body == {
        "before": {"bore_m": 0.0409, "measured_by_id": theo.pk, "sags": 0},
        "after": {"bore_m": 0.0525, "measured_by_id": None, "sags": None},
    }
    assert renewed == [system.property_id] * 2


def test_the_same_measures_again_write_nothing(
    system: System, theo: User, office: Actor, at: datetime, on: date, renewed: list[int]
) -> None:
    actions.measure_as_built(system_id=system.pk, values=USUAL, on=on, by_user=theo, by=theo.actor, at=at)
    actions.measure_as_built(system_id=system.pk, values=USUAL, on=on, by=office, at=at)
    assert AuditEntry.objects.filter(stream=f"property:{system.property_id}").count() == 1
    assert AsBuilt.objects.get(system=system).measured_by == theo
    assert len(renewed) == 1


def test_nothing_measured_is_refused_at_first_and_later_takes_everything_back(
    system: System, office: Actor, at: datetime, on: date
) -> None:
    nothing = dict.fromkeys(rules.MEASURES)
    with pytest.raises(errors.NothingMeasured):
        actions.measure_as_built(system_id=system.pk, values=nothing, on=on, by=office, at=at)
    assert not AsBuilt.objects.exists()
    actions.measure_as_built(system_id=system.pk, values=USUAL, on=on, by=office, at=at)
    actions.measure_as_built(system_id=system.pk, values=nothing, on=on, by=office, at=at)
    assert AsBuilt.objects.get(system=system).bore_m is None


def test_a_refused_measuring_leaves_what_was_there(
    system: System, office: Actor, at: datetime, on: date, renewed: list[int]
) -> None:
    actions.measure_as_built(system_id=system.pk, values=USUAL, on=on, by=office, at=at)
    with pytest.raises(errors.StartBelowStop):
        actions.measure_as_built(system_id=system.pk, values={**USUAL, "pump_on_m": 0.1}, on=on, by=office, at=at)
    with pytest.raises(errors.MeasuredLater):
        actions.measure_as_built(system_id=system.pk, values=USUAL, on=on + timedelta(days=1), by=office, at=at)
    assert AsBuilt.objects.get(system=system).pump_on_m == 0.33
    assert len(renewed) == 1


def test_the_table_itself_refuses_a_pump_that_starts_below_its_stop(system: System, on: date) -> None:
    with pytest.raises(IntegrityError), transaction.atomic():
        AsBuilt.objects.create(system=system, pump_on_m=0.1, pump_off_m=0.2, measured_on=on)


def form_with(is_us: bool = True, built: AsBuilt | None = None, **typed: str) -> AsBuiltForm:
    return AsBuiltForm({"measured_on": "2026-05-04", **typed}, is_us=is_us, built=built)


# 1 ft = 0.3048 m and 1 in = 25.4 mm exactly: international yard and pound agreement of 1959 (NIST SP 811, B.8).
@pytest.mark.parametrize(
    ("name", "typed", "is_us", "value"),
    [
        ("static_lift_m", "8 ft 6 in", True, 2.5908),
        ("static_lift_m", "8.5", True, 2.5908),
        ("static_lift_m", "2,59", False, 2.59),
        ("bore_m", "1.61", True, 0.040894),
        ("bore_m", "1 1/2", True, 0.0381),
        ("bore_m", "40.9 mm", True, 0.0409),
        ("bore_m", "40.9", False, 0.0409),
        ("cover_m", "30", False, 0.3),
        ("cover_m", "0", True, 0.0),
        ("pump_on_m", "13", True, 0.3302),
        ("elbows_90", "3", True, 3),
        ("sags", "0", True, 0),
        ("is_insulated", "yes", True, True),
        ("falls_to_outlet", "no", True, False),
        ("falls_to_outlet", "", True, None),
        ("sags", "", True, None),
        ("length_m", "  ", True, None),
    ],
)
def test_a_measure_is_read_in_the_companys_unit_or_the_one_behind_it(
    name: str, typed: str, is_us: bool, value: Any
) -> None:
    form = form_with(is_us, **{name: typed})
    assert form.is_valid(), form.errors
    read = form.values()
    assert read.pop(name) == (pytest.approx(value, abs=1e-9) if isinstance(value, float) else value)
    assert set(read.values()) == {None}


@pytest.mark.parametrize(
    ("name", "typed"), [("bore_m", "wide"), ("bore_m", "2 gal"), ("sags", "some"), ("cover_m", "-1")]
)
def test_what_is_no_measure_is_refused_beside_its_field(name: str, typed: str) -> None:
    form = form_with(**{name: typed})
    assert not form.is_valid()
    assert list(form.errors) == [name]


def test_what_is_on_record_is_not_rounded_by_opening_and_saving_it(system: System, on: date) -> None:
    built = AsBuilt.objects.create(system=system, measured_on=on, **USUAL)
    shown = {name: str(form_with(built=built).fields[name].initial) for name in USUAL}
    assert (shown["static_lift_m"], shown["bore_m"], shown["sags"], shown["is_insulated"]) == (
        "8.5 ft",
        "1.61 in",
        "0",
        "no",
    )
    form = form_with(built=built, **shown)
    assert form.is_valid(), form.errors
    assert form.values() == USUAL
    changed = form_with(built=built, **{**shown, "static_lift_m": "8.6"})
    assert changed.is_valid()
    assert changed.values()["static_lift_m"] == pytest.approx(2.62128)


def test_in_words_what_is_known_and_what_is_not() -> None:
    found = in_words({"bore_m": 0.0409, "cover_m": 0.0, "sags": 0, "falls_to_outlet": False}, is_us=False)
    assert found.known == (
        ("Inside diameter", "40.9 mm"),
        ("Ground over the buried pipe", "0 cm"),
        ("Falls all the way to its outlet", "no"),
        ("Low points that hold water", "0"),
    )
    assert len(found.unknown) == len(MEASURES) - 4
    assert dict(in_words({"bore_m": 0.0409}, is_us=True).known) == {"Inside diameter": "1.61 in"}


def address(system: System) -> str:
    return reverse("systems:as_built", args=[system.pk])


def test_the_desk_measures_from_the_house_file_and_finds_it_there(
    nora: User, system: System, signed_in_as: Callable[[User], Client]
) -> None:
    desk = signed_in_as(nora)
    house = reverse("office:house", args=[system.property_id])
    assert address(system) in desk.get(house).content.decode()
    answer = desk.post(address(system), {"measured_on": clock.today(), "bore_m": "1.61", "sags": "2"})
    assert (answer.status_code, answer["Location"]) == (302, house)
    built = AsBuilt.objects.get(system=system)
    assert (built.bore_m, built.sags, built.measured_by) == (pytest.approx(0.040894), 2, nora)
    text = desk.get(house).content.decode()
    assert "1.61 in" in text
    assert "assumed values are used" in text


@pytest.mark.parametrize("page", ["systems:component_add", "systems:wall_add"])
def test_the_pages_of_a_registration_lead_to_it(
    nora: User, system: System, page: str, signed_in_as: Callable[[User], Client]
) -> None:
    assert address(system) in signed_in_as(nora).get(reverse(page, args=[system.pk])).content.decode()


def test_a_refusal_stands_beside_its_field_and_nothing_typed_is_lost(
    nora: User, system: System, signed_in_as: Callable[[User], Client]
) -> None:
    typed = {"measured_on": clock.today(), "pump_on_m": "5", "pump_off_m": "13", "length_m": "46 ft 2 in"}
    answer = signed_in_as(nora).post(address(system), typed)
    assert list(answer.context["form"].errors) == ["pump_on_m"]
    assert "46 ft 2 in" in answer.content.decode()
    empty = signed_in_as(nora).post(address(system), {"measured_on": clock.today()})
    assert "Nothing is filled in yet" in empty.content.decode()
    assert not AsBuilt.objects.exists()


def test_a_technician_measures_where_they_have_a_visit_and_nowhere_else(
    theo: User, system: System, signed_in_as: Callable[[User], Client]
) -> None:
    tablet, today = signed_in_as(theo), clock.today()
    assert tablet.get(address(system)).status_code == 404
    stop = appointment(wanted_visit(system, target_on=today), theo, today)
    assert tablet.get(address(system)).status_code == 200
    answer = tablet.post(address(system), {"measured_on": today, "pit_depth_m": "24"})
    assert answer["Location"] == reverse("checkups:my_round")
    assert AsBuilt.objects.get(system=system).measured_by == theo
    assert tablet.get(address(SystemFactory())).status_code == 404
    stop.state = "done"
    stop.save()
    assert tablet.post(address(system), {"measured_on": today, "pit_depth_m": "30"}).status_code == 404


def test_a_visit_of_another_technician_opens_nothing(
    theo: User, nora: User, system: System, signed_in_as: Callable[[User], Client]
) -> None:
    other = User.objects.create(email="ana@example.com", name="Ana Delgado", role="technician")
    appointment(wanted_visit(system, target_on=clock.today()), other, clock.today())
    assert signed_in_as(theo).get(address(system)).status_code == 404
    assert signed_in_as(other).get(address(system)).status_code == 200


@pytest.mark.parametrize(
    ("back", "goes_on_to"),
    [
        ("/checkups/7/", "/checkups/7/"),
        ("https://elsewhere.example.com/", "/round/"),
        ("//elsewhere.example.com", "/round/"),
    ],
)
def test_saving_leads_back_to_where_one_came_from_but_never_off_the_site(
    theo: User, system: System, back: str, goes_on_to: str, signed_in_as: Callable[[User], Client]
) -> None:
    appointment(wanted_visit(system, target_on=clock.today()), theo, clock.today())
    answer = signed_in_as(theo).post(
        f"{address(system)}?back={back}", {"measured_on": clock.today(), "pit_depth_m": "24"}
    )
    expected = reverse("checkups:my_round") if goes_on_to == "/round/" else goes_on_to
    assert answer["Location"] == expected
