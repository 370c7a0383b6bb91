"""What if: another pump, a larger line, another battery, more water; today stands beside it, and nothing is written."""

from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta
from io import BytesIO
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from pypdf import PdfReader

from contractor.accounts.models import User
from contractor.core import clock
from contractor.engineering.pump_curves import DischargeLine, PumpCurve, operating_point
from contractor.estimates.rules.facts import (
    DECLARED,
    MEASURED,
    BatteryFacts,
    Given,
    LineFacts,
    PitFacts,
    PumpFacts,
    Reading,
    SystemFacts,
)
from contractor.estimates.what_if import Part, Question
from contractor.estimates.what_if_answer import Answer, answer
from contractor.systems.models import Component, System
from tests.factories import CatalogueModelFactory, ComponentFactory

ON = date(2026, 5, 4)
SMALL = ((0.0, 6.858), (0.0012618, 5.9436), (0.002103, 4.572), (0.0027344, 3.048), (0.0031545, 1.524))
LARGE = ((0.0, 9.144), (0.00157725, 7.9248), (0.00273391, 6.096), (0.00357511, 4.572), (0.00420601, 3.048))
STANDBY = ((0.0, 6.096), (0.000946353, 5.1816), (0.00157725, 4.1148), (0.00210301, 3.048), (0.00262876, 1.8288))
LINE = DischargeLine(2.7432, 0.040386, 9.144, 4 * 0.63 + 2.0 + 1.0, c=140.0)

LARGE_PUMP = Part(
    model_id=9,
    name="Northfold Castwell 50",
    declared={"curve": [list(point) for point in LARGE], "rated_hours": 5000, "rated_starts": 250000},
)
WIDE_LINE = Part(model_id=8, name="Northfold Rigid 2", declared={"bore_m": 0.0519938})


def big_battery(capacity_ah: float) -> Part:
    declared = {"chemistry": "agm", "capacity_ah": capacity_ah, "rate_h": 20.0, "expected_years_at_25c": 6.0}
    return Part(model_id=7, name="Merrowick Stillmat", declared=declared)


def measured(value: float, unit: str = "m") -> Given[float]:
    return Given(value=value, unit=unit, origin=MEASURED, on=ON)


def declared(value: float, unit: str = "") -> Given[float]:
    return Given(value=value, unit=unit, origin=DECLARED)


def house(**changed: Any) -> SystemFacts:
    """A basement whose line and pit were measured, with both pumps and a battery put in today, nothing worn."""
    facts = SystemFacts(
        system_id=1,
        installed_on=ON,
        pumps=(
            PumpFacts(component_id=1, part_kind="primary_pump", word="primary pump", installed_on=ON, curve=SMALL),
            PumpFacts(
                component_id=2,
                part_kind="standby_pump",
                word="standby pump",
                installed_on=ON,
                curve=STANDBY,
                curve_at_v=declared(12.0, "V"),
                current_a=declared(18.0, "A"),
            ),
        ),
        batteries=(
            BatteryFacts(
                component_id=3,
                word="battery",
                installed_on=ON,
                chemistry=Given(value="agm", origin=DECLARED),
                capacity_ah=declared(75.0, "Ah"),
                rate_h=declared(20.0, "h"),
            ),
        ),
        line=LineFacts(static_lift_m=measured(2.7432), length_m=measured(9.144), bore_m=measured(0.040386)),
        pit=PitFacts(
            diameter_m=measured(0.4572),
            on_m=measured(0.3556),
            off_m=measured(0.1524),
            inflows=(Reading(on=ON, value=0.0002),),
        ),
    )
    return replace(facts, **changed)


def ask(facts: SystemFacts | None = None, **asked: Any) -> Answer:
    question = Question(**{"outage_h": 12.0, **asked})
    return answer(house() if facts is None else facts, question, on=ON, units="US")


def line(found: Answer, code: str) -> Any:
    return next(one for one in found.lines if one.code == code)


def flows(found: Answer) -> tuple[float, float]:
    """What the primary pump moves today and then, in m³/s."""
    moved = [side.workings.of(side.facts.primary).now_flow_m3_s for side in (found.today, found.then)]  # type: ignore[union-attr]
    return moved[0], moved[1]  # type: ignore[return-value]


def reserves(found: Answer) -> tuple[float, float]:
    kept = [side.workings.reserve for side in (found.today, found.then)]
    assert kept[0] is not None
    assert kept[1] is not None
    return kept[0].hours, kept[1].hours


def test_where_nothing_is_chosen_both_sides_are_the_same() -> None:
    found = ask()
    assert not found.question.changes
    assert not found.question.is_work
    for one in found.lines:
        assert one.today == one.then, one.code
    assert line(found, "working_point").sentence == "The primary pump would move as much as today."
    assert line(found, "freeze").sentence == "This changes nothing about frost."


def test_another_pump_works_where_its_curve_meets_the_line() -> None:
    found = ask(primary=LARGE_PUMP)
    for flow, points in zip(flows(found), (SMALL, LARGE), strict=True):
        curve = PumpCurve([point[0] for point in points], [point[1] for point in points])
        assert flow == pytest.approx(operating_point(curve, LINE).flow_m3_s, rel=1e-6)
    now, then = flows(found)
    assert line(found, "working_point").sentence == f"The primary pump would move {then / now - 1:.0%} more water."
    assert reserves(found)[0] == reserves(found)[1], "The battery drives the standby pump only."


def test_a_worn_pump_that_is_replaced_is_as_good_as_new() -> None:
    worn = house()
    pump = worn.pumps[0]
    new_flow = flows(ask())[0]
    worn = replace(worn, pumps=(replace(pump, flows=(Reading(on=ON, value=0.8 * new_flow),)), *worn.pumps[1:]))
    same_model = Part(model_id=1, name="Castwell 33", declared={"curve": [list(point) for point in SMALL]})
    now, then = flows(ask(worn, primary=same_model))
    assert now == pytest.approx(0.8 * new_flow, rel=1e-3)
    assert then == pytest.approx(new_flow, rel=1e-6)


def test_a_larger_bore_moves_more_and_a_worn_pump_stays_worn() -> None:
    now, then = flows(ask(line=WIDE_LINE))
    assert then > now
    curve = PumpCurve([point[0] for point in SMALL], [point[1] for point in SMALL])
    wide = replace_bore(0.0519938)
    assert then == pytest.approx(operating_point(curve, wide).flow_m3_s, rel=1e-6)
    facts = house()
    worn = replace(facts, pumps=(replace(facts.pumps[0], flows=(Reading(on=ON, value=0.8 * now),)), *facts.pumps[1:]))
    worn_now, worn_then = flows(ask(worn, line=WIDE_LINE))
    assert worn_now < worn_then < then


def replace_bore(bore_m: float) -> DischargeLine:
    return DischargeLine(2.7432, bore_m, 9.144, 4 * 0.63 + 2.0 + 1.0, c=140.0)


def test_twice_the_battery_lasts_longer_by_peukerts_law() -> None:
    """t = H·(C/(I·H))^k: twice the capacity lasts 2^k times as long; k = 1.15 is what is assumed of AGM."""
    now, then = reserves(ask(battery=big_battery(150.0)))
    assert then / now == pytest.approx(2**1.15, rel=0.01)


def test_another_battery_changes_neither_the_working_point_nor_frost() -> None:
    found = ask(battery=big_battery(150.0))
    assert line(found, "working_point").today == line(found, "working_point").then
    assert line(found, "freeze").sentence == "This changes nothing about frost."
    assert line(found, "replace_battery").then == "May 2032", "Six years from the day it goes in."


@pytest.mark.parametrize("times", [0.5, 2.0, 3.0])
def test_more_water_is_more_by_as_much_as_was_asked_however_it_was_found(times: float) -> None:
    timed = house()
    primary = timed.pumps[0]
    long_ago = ON - timedelta(days=400)
    counting = replace(
        primary,
        installed_on=long_ago,
        starts=(Reading(on=ON, value=30000.0),),
        run_hours=(Reading(on=ON, value=120.0),),
    )
    nothing_timed = replace(timed.pit, inflows=())
    counted = replace(timed, installed_on=long_ago, pumps=(counting, timed.pumps[1]), pit=nothing_timed)
    unknown = replace(timed, pit=nothing_timed)
    # Counters of a whole year tell the mean; a larger inflow, once timed, tells the storm.
    stormy = replace(counted, pit=replace(timed.pit, inflows=(Reading(on=ON, value=0.0009),)))
    for facts in (timed, counted, unknown, stormy):
        found = ask(facts, inflow_times=times)
        before, after = found.today.workings.inflow, found.then.workings.inflow
        assert after.mean_m3_s.value == pytest.approx(times * before.mean_m3_s.value)
        assert after.design_m3_s.value == pytest.approx(times * before.design_m3_s.value)
        now, then = reserves(found)
        assert (then <= now) == (times > 1)


def test_the_water_stays_as_it_was_counted_when_the_pump_that_counted_it_goes() -> None:
    facts = house()
    long_ago = ON - timedelta(days=400)
    counting = replace(facts.pumps[0], installed_on=long_ago, run_hours=(Reading(on=ON, value=120.0),))
    counted = replace(
        facts, installed_on=long_ago, pumps=(counting, facts.pumps[1]), pit=replace(facts.pit, inflows=())
    )
    found = ask(counted, primary=LARGE_PUMP)
    today, then = found.today.workings.inflow, found.then.workings.inflow
    assert today.mean_m3_s.origin == "measured"
    assert then.mean_m3_s.value == pytest.approx(today.mean_m3_s.value)


def test_a_longer_power_cut_is_only_asked_about() -> None:
    hours = reserves(ask())[0]
    short, long = ask(outage_h=hours - 0.1), ask(outage_h=hours + 0.1)
    assert (short.covers_today, long.covers_today) == (True, False)
    assert not long.question.changes
    saved = ask(outage_h=hours + 0.1, battery=big_battery(150.0))
    assert (saved.covers_today, saved.covers_then) == (False, True)
    cover = line(saved, "cover")
    assert (cover.today, cover.then) == ("no", "yes")
    assert "which they don’t today" in cover.sentence


def test_a_standby_that_cannot_lift_what_comes_in_covers_nothing_however_large_the_battery() -> None:
    flooded = house(pit=replace(house().pit, inflows=(Reading(on=ON, value=0.01),)))
    found = ask(flooded, battery=big_battery(500.0), outage_h=0.5)
    assert (found.covers_today, found.covers_then) == (False, False)


def test_where_no_battery_is_known_it_cannot_be_told() -> None:
    found = ask(house(batteries=()))
    assert found.covers_today is None
    assert line(found, "cover").sentence == "It can’t be told yet."
    assert line(found, "reserve").today == "not known"
    assert ask(house(batteries=()), battery=big_battery(75.0)).covers_then is not None


def test_a_house_without_any_pump_or_battery_is_fitted_out_at_once() -> None:
    standby = Part(
        model_id=5,
        name="Gale 18",
        declared={"curve": [list(point) for point in STANDBY], "curve_at_v": 12.0, "current_a": 18.0},
    )
    bare = house(pumps=(), batteries=())
    found = ask(bare, primary=LARGE_PUMP, standby=standby, battery=big_battery(75.0))
    whole = ask()
    assert found.covers_today is None
    assert found.covers_then == whole.covers_today
    large = operating_point(PumpCurve([x for x, _ in LARGE], [y for _, y in LARGE]), LINE)
    primary = found.then.workings.of(found.then.facts.primary)
    assert primary is not None
    assert primary.now_flow_m3_s == pytest.approx(large.flow_m3_s, rel=1e-6)
    assert found.then.workings.reserve is not None
    assert found.then.workings.reserve.hours == pytest.approx(reserves(whole)[0])
    assert line(found, "replace_primary_pump").today == "none in place"


# ---- the pages ----


@pytest.fixture(autouse=True)
def monday(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(clock, "today", lambda: ON)


@pytest.fixture
def desk(nora: User, signed_in_as: Callable[[User], Client]) -> Client:
    return signed_in_as(nora)


@pytest.fixture
def parts(system: System) -> dict[str, int]:
    """The system's pumps and battery, and models that might take their place, by name."""
    curve = [list(point) for point in SMALL]
    standby_data = {"curve": [list(point) for point in STANDBY], "curve_at_v": 12.0, "current_a": 18.0}
    battery_data = {"chemistry": "agm", "capacity_ah": 75.0, "rate_h": 20.0, "expected_years_at_25c": 6.0}
    for kind, name, data in (
        ("primary_pump", "Castwell 33", {"curve": curve}),
        ("standby_pump", "Gale 18", standby_data),
        ("battery", "Stillmat 75", battery_data),
    ):
        model = CatalogueModelFactory(part_kind=kind, maker="Northfold", name=name, data=data)
        ComponentFactory(system=system, part_kind=kind, model=model, in_on=date(2024, 5, 4))
    offered = {
        "primary": ("primary_pump", "Castwell 50", dict(LARGE_PUMP.declared)),
        "battery": ("battery", "Stillmat 150", {**battery_data, "capacity_ah": 150.0}),
        "line": ("discharge_line", "Rigid 2", {"bore_m": 0.0519938}),
    }
    return {
        name: CatalogueModelFactory(part_kind=kind, maker="Northfold", name=word, data=data).pk
        for name, (kind, word, data) in offered.items()
    }


def test_the_page_sets_today_beside_what_would_be_and_writes_nothing(
    system: System, parts: dict[str, int], desk: Client
) -> None:
    address = reverse("estimates:what_if", args=[system.pk])
    before = Component.objects.count()
    with CaptureQueriesContext(connection) as captured:
        page = desk.get(address, {**parts, "inflow_times": "2", "outage_h": "8"})
    assert page.status_code == 200
    assert not [
        one for one in captured if one["sql"].startswith(("INSERT", "UPDATE", "DELETE")) and "session" not in one["sql"]
    ]
    assert Component.objects.count() == before
    text = page.content.decode()
    for words in (
        "Replace the primary pump with a Northfold Castwell 50.",
        "Replace the discharge line with a Northfold Rigid 2.",
        "Suppose 2 times as much water comes in as today.",
        "Power cut of 8 hours is carried",
        "Print recommendation",
        "more water.",
        "line, then",
        "not a promise",
    ):
        assert words in text, words


def test_a_live_answer_is_the_answer_alone(system: System, parts: dict[str, int], desk: Client) -> None:
    address = reverse("estimates:what_if", args=[system.pk])
    fragment = desk.get(address, {"battery": parts["battery"]}, headers={"HX-Request": "true"}).content.decode()
    assert fragment.lstrip().startswith('<div id="answer"')
    assert "Replace the battery with a Northfold Stillmat 150." in fragment
    assert "<form" not in fragment


def test_what_cannot_be_meant_is_said_and_everything_stays_as_it_is(
    system: System, parts: dict[str, int], desk: Client
) -> None:
    address = reverse("estimates:what_if", args=[system.pk])
    text = desk.get(address, {"inflow_times": "400", "battery": parts["primary"]}).content.decode()
    assert "Type a number from 0.1 to 10" in text
    assert "Until then, everything is shown as it is today." in text
    assert "Print recommendation" not in text


def test_a_house_of_which_nothing_is_known_is_answered_too(system: System, desk: Client) -> None:
    text = desk.get(reverse("estimates:what_if", args=[system.pk])).content.decode()
    assert "not known" in text
    assert "No standby pump is on record." in text


def test_the_recommendation_is_one_page_in_plain_words(system: System, parts: dict[str, int], desk: Client) -> None:
    address = reverse("estimates:recommendation", args=[system.pk])
    answer = desk.get(address, {**parts, "inflow_times": "3", "outage_h": "24"})
    assert answer["Content-Type"] == "application/pdf"
    reader = PdfReader(BytesIO(answer.content))
    assert len(reader.pages) == 1
    text = " ".join(reader.pages[0].extract_text().split())
    for words in (
        "What we found",
        "Iris Holloway",
        "12 Millrace Lane",
        "Replace the battery with a Northfold Stillmat 150.",
        "Your battery: ",
        "reckoned with 3 times the water",
        "Whom to call",
        "no promise",
        "Battery, then",
    ):
        assert words in text, words


def test_without_anything_to_do_there_is_nothing_to_recommend(system: System, desk: Client) -> None:
    answer = desk.get(reverse("estimates:recommendation", args=[system.pk]), {"inflow_times": "2"})
    assert (answer.status_code, answer["Location"]) == (302, reverse("estimates:what_if", args=[system.pk]))


@pytest.mark.parametrize("name", ["what_if", "recommendation"])
def test_the_desk_asks_a_technician_does_not(
    system: System, nora: User, theo: User, signed_in_as: Callable[[User], Client], name: str
) -> None:
    address = reverse(f"estimates:{name}", args=[system.pk])
    assert signed_in_as(theo).get(address).status_code == 403
    assert signed_in_as(nora).post(address).status_code == 405
    assert signed_in_as(nora).get(reverse(f"estimates:{name}", args=[999_999])).status_code == 404
