"""What to replace soon and why, and how a whole system does: as the desk sees it, and the technician at the house."""

import re
from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from contractor.accounts.models import User
from contractor.core import clock
from contractor.estimates.models import LifeEstimate, SystemEstimate
from contractor.systems.models import Component, System
from tests.factories import CatalogueModelFactory, ComponentFactory, OwnershipFactory, SystemFactory
from tests.visits.factories import AppointmentFactory, RequestFactory

TODAY = date(2026, 5, 4)
CURVE = [[0.0, 6.858], [0.0012618, 5.9436], [0.00210301, 4.572], [0.00273391, 3.048], [0.00315451, 1.524]]


@pytest.fixture(autouse=True)
def monday(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(clock, "today", lambda: TODAY)


@pytest.fixture
def desk(nora: User, signed_in_as: Callable[[User], Client]) -> Client:
    return signed_in_as(nora)


def estimated(part: Component, **changed: Any) -> LifeEstimate:
    """A stored estimate of a part, overdue unless told otherwise."""
    facts: dict[str, Any] = {
        "replace_by": date(2025, 5, 14),
        "earliest": date(2023, 11, 13),
        "latest": date(2026, 11, 13),
        "governing": "capacity",
        "reason": "Its capacity was 82% of the rating on May 2, 2025; at that pace it reaches 80% about May 2025.",
        "inputs": [
            {"name": "Capacity measured", "value": "61.5 Ah", "unit": "", "origin": "measured", "on": "2025-05-02"},
            {
                "name": "Rated capacity",
                "value": "75 Ah",
                "unit": "",
                "origin": "declared by the maker",
                "note": "Northfold",
            },
            {"name": "In since", "value": "May 14, 2020", "unit": "", "origin": "on record"},
            {
                "name": "Basement",
                "value": "59 °F",
                "unit": "",
                "origin": "assumed",
                "note": "common practice, no source",
            },
        ],
        "steps": [
            {"name": "Capacity", "formula": "measured ÷ rated", "with_numbers": "61.5 ÷ 75", "result": "82.0%"},
        ],
        "cautions": ["Fewer than three capacity measurements."],
        "probability": 0.41,
        "consequence": 4,
        "consequence_reason": "In a power cut nothing else runs the standby pump.",
        "urgency": 1.64,
        "inputs_sha256": "0" * 64,
        "made_on": TODAY,
        **changed,
    }
    made: LifeEstimate = LifeEstimate.objects.create(component=part, **facts)
    return made


def part_of(system: System, kind: str = "battery", **data: Any) -> Component:
    model = CatalogueModelFactory(part_kind=kind, maker="Northfold", data=data)
    made: Component = ComponentFactory(system=system, part_kind=kind, model=model, in_on=date(2020, 5, 14))
    return made


@pytest.fixture
def battery(system: System) -> Component:
    made = part_of(system, capacity_ah=75.0, rate_h=20.0, chemistry="agm")
    estimated(made)
    return made


@pytest.fixture
def sent(system: System, theo: User) -> None:
    """Theo has a visit to make at the house today."""
    AppointmentFactory(request=RequestFactory(system=system, target_on=TODAY), technician=theo, on=TODAY)


# ---- who may look ----


def test_the_list_is_the_desks_and_a_stranger_signs_in_first(
    battery: Component, nora: User, ruth: User, theo: User, signed_in_as: Callable[[User], Client]
) -> None:
    address = reverse("estimates:to_replace")
    assert [signed_in_as(user).get(address).status_code for user in (nora, ruth, theo)] == [200, 200, 403]
    assert signed_in_as(nora).post(address).status_code == 405
    stranger = Client().get(address)
    assert (stranger.status_code, stranger["Location"]) == (302, f"{reverse('accounts:sign_in')}?next={address}")


@pytest.mark.parametrize("name", ["why", "system"])
def test_a_technician_sees_a_house_only_while_there_is_something_to_do_there(
    battery: Component, system: System, theo: User, signed_in_as: Callable[[User], Client], name: str
) -> None:
    address = reverse(f"estimates:{name}", args=[battery.pk if name == "why" else system.pk])
    browser = signed_in_as(theo)
    assert browser.get(address).status_code == 404
    AppointmentFactory(request=RequestFactory(system=system, target_on=TODAY), technician=theo, on=TODAY)
    page = browser.get(address)
    assert page.status_code == 200
    text = page.content.decode()
    assert 'data-surface="tablet"' in text
    assert reverse("estimates:what_if", args=[system.pk]) not in text
    assert reverse("office:house", args=[system.property_id]) not in text


# ---- the list ----


def test_what_is_likeliest_and_costs_most_stands_first(battery: Component, system: System, desk: Client) -> None:
    last_day, too_late = TODAY + timedelta(days=365), TODAY + timedelta(days=366)
    rare = part_of(system, "primary_pump")
    estimated(rare, probability=0.30, consequence=5, urgency=1.5, replace_by=last_day, latest=last_day)
    grave = part_of(system, "standby_pump")
    estimated(grave, probability=0.5, consequence=5, urgency=2.5)
    estimated(part_of(system), urgency=5.0, replace_by=too_late, latest=too_late)
    page = desk.get(reverse("estimates:to_replace"))
    assert [row.component for row in page.context["page"]] == [grave, battery, rare]
    text = page.content.decode()
    for words in ("Iris Holloway", "likely, 50%", "the basement floods, 5 of 5", "= 2.50", "possible, 41%"):
        assert words in text, words
    assert len(re.findall(r"\bnow\s*</", text)) == 2


def test_the_list_is_narrowed_to_a_kind_and_pages_keep_it(battery: Component, system: System, desk: Client) -> None:
    for number in range(51):
        estimated(part_of(system, "primary_pump"), urgency=number / 100)
    pumps = desk.get(reverse("estimates:to_replace"), {"kind": "primary_pump"})
    assert {row.component.part_kind for row in pumps.context["page"]} == {"primary_pump"}
    assert "1 to 50 of 51" in pumps.content.decode()
    assert "kind=primary_pump&amp;page=2" in pumps.content.decode()
    second = desk.get(reverse("estimates:to_replace"), {"kind": "primary_pump", "page": "2"})
    assert [row.urgency for row in second.context["page"]] == [0.0]
    assert not desk.get(reverse("estimates:to_replace"), {"kind": "liner"}).context["page"].object_list


def test_an_empty_list_says_what_will_be_there(desk: Client) -> None:
    assert "Nothing to replace within a year" in desk.get(reverse("estimates:to_replace")).content.decode()


def test_the_list_takes_as_many_queries_for_fifty_rows_as_for_one(battery: Component, desk: Client) -> None:
    def count() -> int:
        with CaptureQueriesContext(connection) as captured:
            assert desk.get(reverse("estimates:to_replace")).status_code == 200
        return len(captured)

    few = count()
    for number in range(50):
        system = SystemFactory(property__street=f"{number} Quarry Lane")
        OwnershipFactory(property=system.property)
        estimated(part_of(system))
    assert LifeEstimate.objects.count() == 51
    assert count() == few <= 9


# ---- why ----


def test_date_band_reason_inputs_steps_and_cautions_stand_on_one_page(battery: Component, desk: Client) -> None:
    text = desk.get(reverse("estimates:why", args=[battery.pk])).content.decode()
    for words in (
        "Replace the battery by May 14, 2025",
        "Its capacity was 82% of the rating",
        "the need may come between November 13, 2023 and November 13, 2026",
        "In a power cut nothing else runs the standby pump.",
        "61.5 ÷ 75",
        "82.0%",
        "May 2, 2025",
        "Fewer than three capacity measurements.",
        "Capacity over the years",
        "80%: worn out",
        "never a promise that the part will last",
    ):
        assert words in text, words
    for origin in ("measured", "declared by the maker", "on record", "assumed"):
        assert re.search(rf'class="mark origin"><svg.*?</svg><span>{origin}</span>', text, re.S), origin
    assert desk.get(reverse("estimates:why", args=[999_999])).status_code == 404


def test_origins_differ_in_shape_not_in_word_alone(battery: Component, desk: Client) -> None:
    text = desk.get(reverse("estimates:why", args=[battery.pk])).content.decode()
    shapes = re.findall(r'class="mark origin"><svg[^>]*>(.*?)</svg>', text, re.S)
    assert len(set(shapes)) == len(shapes) == 4


def test_a_pump_is_drawn_in_its_line(system: System, desk: Client) -> None:
    pump = part_of(system, "primary_pump", curve=CURVE)
    estimated(pump, governing="starts")
    text = desk.get(reverse("estimates:why", args=[pump.pk])).content.decode()
    assert "Primary pump in its line" in text
    assert "discharge line" in text
    assert "The same in figures" in text


def test_a_pump_without_a_curve_is_explained_without_a_chart_of_made_up_figures(system: System, desk: Client) -> None:
    pump = ComponentFactory(system=system, part_kind="standby_pump", model=None, in_on=date(2020, 5, 14))
    estimated(pump, governing="age")
    page = desk.get(reverse("estimates:why", args=[pump.pk]))
    assert page.status_code == 200
    assert page.context["charts"] == []


# ---- the whole system ----


def test_each_thing_computed_of_a_system_has_its_section_mark_and_chart(
    battery: Component, system: System, desk: Client
) -> None:
    part_of(system, "primary_pump", curve=CURVE)
    part_of(system, "standby_pump", curve=CURVE, curve_at_v=12.0, current_a=12.0)
    part_of(system, "pit", diameter_m=0.4572, depth_m=0.6096)
    results = [
        {
            "code": code,
            "level": level,
            "sentence": f"About {code}.",
            "reasons": ["Because."],
            "inputs": [],
            "steps": [],
            "cautions": ["Take care."],
        }
        for code, level in (
            ("standby", "good"),
            ("reserve", "watch"),
            ("freeze", "unknown"),
            ("pit_cycle", "good"),
            ("line_speed", "bad"),
        )
    ]
    SystemEstimate.objects.create(system=system, results=results, inputs_sha256="0" * 64, made_on=TODAY)
    page = desk.get(reverse("estimates:system", args=[system.pk]))
    text = page.content.decode()
    for code in ("standby", "reserve", "freeze", "pit_cycle", "line_speed"):
        assert f"About {code}." in text
    assert [topic.result["code"] for topic in page.context["topics"]] == [
        "standby",
        "reserve",
        "pit_cycle",
        "line_speed",
        "freeze",
    ]
    for words in (
        "Reserve against power cuts",
        "One cycle in the wettest month",
        "Primary pump in its line",
        "not known",
    ):
        assert words in text, words
    assert text.count("<svg xmlns") == text.count("</desc>") == 4, "A band and three charts, each with its words."


def test_a_system_that_was_not_worked_out_yet_says_so(system: System, desk: Client) -> None:
    text = desk.get(reverse("estimates:system", args=[system.pk])).content.decode()
    assert "Not worked out yet" in text
    assert "No battery and no pump is recorded." in text


def test_no_page_carries_a_style_of_its_own(battery: Component, system: System, desk: Client) -> None:
    for address in (
        reverse("estimates:to_replace"),
        reverse("estimates:why", args=[battery.pk]),
        reverse("estimates:system", args=[system.pk]),
        reverse("estimates:what_if", args=[system.pk]),
        reverse("office:house", args=[system.property_id]),
    ):
        text = desk.get(address).content.decode()
        assert not re.search(r"\sstyle=|<style", text), address


def test_the_way_back_leads_only_within_the_site(
    system: System, sent: None, theo: User, signed_in_as: Callable[[User], Client]
) -> None:
    address, browser = reverse("estimates:system", args=[system.pk]), signed_in_as(theo)
    assert browser.get(address, {"back": "/check-ups/7/"}).context["back"] == "/check-ups/7/"
    assert browser.get(address, {"back": "https://example.com/"}).context["back"] == reverse("checkups:my_round")
