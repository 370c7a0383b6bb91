"""The tablet judges as the office does: its modules run in Chromium over cases that Python has worked out.

Every item of the shipped checklist is judged at, just inside and just outside each of its limits, with and without what
else its verdict depends on; units are read and written at every rounding edge.
"""

import json
import math
import random
from collections.abc import Iterator
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from playwright.sync_api import Browser, Page

from contractor.checkups.rules.items import Item, read_checklist
from contractor.checkups.rules.verdicts import NOT_POSSIBLE, Reading, Setting, is_answered, verdict
from contractor.core.units import UNITS, Typed, UnreadableMeasurement, factor_and_offset, from_si, parse, shown
from contractor.engineering.battery_checks import gravity_at_27c, load_test_minimum_v
from contractor.engineering.pit import inflow_from_rise_m3_s, pump_flow_from_drawdown_m3_s
from contractor.tablet.pack_words import item_told

pytestmark = pytest.mark.browser

SYSTEMS = {"US": "us", "metric": "metric"}
TYPED = (
    "12.6", " 12,6 ", "1,250", "1,250.5", "1,250,000", "12.5.1", "5 1/2", "5½", "½", "5 ½ in", "3/0", "7/8", "-3",
    "−4.5", "–2", "32 cm", "5 ft 6 in", "5' 6\"", "6 in 5 ft", "2 min 30 s", "1:30", "1:75", "59:59.5", "0", ".5", "",
    "   ", "abc", "12 V", "12 gallons", "50 °F", "10 C", "-300 °C", "-460", "1.265", "12 x", "3.5 times", "9" * 41,
    "1 000", "5-1/2", "4 sq ft", "1/8 in/ft", "-1/8", "60 %", "60 percent.", "1e3", "12..5", "1,5", "0,125", "2 m 3 cm",
)  # fmt: skip
# Exact ties of the decimal rounding, tiny values, negative nothing, thousands.
SHOWN = (0.0, -0.0, 0.5, 1.5, 2.5, -2.5, 0.125, 0.375, 2.675, 0.0625, 1e-7, -3e-5, 0.004, 0.049, 1234567.5, 999.95, 1e9)


@pytest.fixture
def modules(chromium: Browser) -> Iterator[Page]:
    """A bare page of the tablet's own modules."""
    page = chromium.new_page()
    root = Path(settings.BASE_DIR) / "static" / "js" / "tablet"

    def serve(route: Any) -> None:
        name = route.request.url.split("/modules/")[-1]
        if name == route.request.url:
            route.fulfill(body="<!doctype html><title>modules</title>", content_type="text/html")
        else:
            route.fulfill(body=(root / name).read_text(encoding="utf-8"), content_type="text/javascript")

    page.route("**/*", serve)
    page.goto("http://tablet.example.com/")
    yield page
    page.close()


def run(page: Page, module: str, body: str, cases: Any) -> Any:
    """``body`` maps one case to one answer, with the module's exports at hand as ``m``."""
    script = f"async (cases) => {{ const m = await import('/modules/{module}'); return cases.map((c) => {body}); }}"
    return page.evaluate(script, json.loads(json.dumps(cases)))


def close(one: float | None, other: float | None) -> bool:
    if one is None or other is None:
        return one is other
    return math.isclose(one, other, rel_tol=1e-12, abs_tol=1e-15)


def test_units_have_the_same_factors(modules: Page) -> None:
    told = run(modules, "units.js", "m.UNITS[c] && {...m.UNITS[c]}", list(UNITS))
    for given, unit in zip(told, UNITS.values(), strict=True):
        assert given is not None, unit.code
        assert (given["factor"], given["offset"]) == factor_and_offset(unit.code), unit.code
        assert {name: given[name] for name in ("symbol", "word", "quantity", "digits", "fixed")} == {
            name: getattr(unit, name) for name in ("symbol", "word", "quantity", "digits", "fixed")
        }
        assert tuple(given["also"]) == unit.also


def test_values_are_written_alike(modules: Page) -> None:
    source = random.Random(11)
    values = [*SHOWN, *(source.uniform(-50, 2000) for _ in range(40))]
    values += [10 ** source.uniform(-8, 6) for _ in range(40)]
    cases = [(value, unit, more) for unit in UNITS for value in values for more in (0, 2)]
    told = run(modules, "units.js", "m.shown(c[0], c[1], c[2])", cases)
    wrong = [
        (case, given, shown(case[0], case[1], more_digits=case[2]))
        for case, given in zip(cases, told, strict=True)
        if given != shown(case[0], case[1], more_digits=case[2])
    ]
    assert wrong == []


def read_or_refused(text: str, unit: str) -> Typed | str:
    try:
        return parse(text, unit)
    except UnreadableMeasurement as refusal:
        return refusal.sentence


def test_what_is_typed_is_read_alike(modules: Page) -> None:
    cases = [(text, unit) for unit in UNITS for text in TYPED]
    body = (
        "{ try { const t = m.parse(c[0], c[1]); return [t.value, t.unit, t.si]; }"
        " catch (e) { if (!(e instanceof m.Unreadable)) throw e; return e.message; } }"
    )
    told = run(modules, "units_parse.js", f"(() => {body})()", cases)
    for (text, unit), given in zip(cases, told, strict=True):
        wanted = read_or_refused(text, unit)
        if isinstance(wanted, str):
            assert given == wanted, (text, unit)
            continue
        assert given[1] == wanted.unit, (text, unit)
        assert close(given[0], wanted.value), (text, unit, given)
        assert close(given[2], wanted.si), (text, unit, given)


def test_formulas_give_the_same_numbers(modules: Page) -> None:
    source = random.Random(12)
    knots = [(degrees - 32) / 1.8 for degrees in (0, 10, 20, 30, 40, 50, 60, 70)]
    temperatures = [*knots, 4.44, 21.2, 38.0, -17.9, *(source.uniform(-17, 45) for _ in range(60))]
    assert run(modules, "formulas.js", "m.loadTestMinimumV(c)", temperatures) == [
        load_test_minimum_v(celsius) for celsius in temperatures
    ]
    acids = [(source.uniform(1.0, 1.4), source.uniform(-20, 50)) for _ in range(40)]
    for given, acid in zip(run(modules, "formulas.js", "m.gravityAt27C(c[0], c[1])", acids), acids, strict=True):
        assert close(given, gravity_at_27c(*acid))
    ranges = ((0.3, 0.8), (0.001, 0.5), (1, 600), (0, 1e-3))
    pits = [tuple(source.uniform(*ends) for ends in ranges) for _ in range(40)]
    rises = run(modules, "formulas.js", "m.inflowFromRise(c[0], c[1], c[2])", pits)
    falls = run(modules, "formulas.js", "m.pumpFlowFromDrawdown(c[0], c[1], c[2], c[3])", pits)
    for rise, fall, pit in zip(rises, falls, pits, strict=True):
        assert close(rise, inflow_from_rise_m3_s(*pit[:3]))
        assert close(fall, pump_flow_from_drawdown_m3_s(*pit))


def shipped() -> tuple[Item, ...]:
    path = Path(settings.FIXTURES) / "checklists" / "yearly.json"
    return read_checklist(json.loads(path.read_text(encoding="utf-8")))


def readings_of(item: Item) -> Iterator[Reading]:
    """Answers at the edges of an item, and answers that are none."""
    yield Reading()
    yield Reading(condition=NOT_POSSIBLE, because="  the way was blocked. ")
    yield Reading(condition=NOT_POSSIBLE, because=" ")
    yield Reading(photos=1)
    yield Reading(text="All well.")
    for condition in ("good", "watch", "bad"):
        yield Reading(condition=condition)
    limits = [limit for limit in (item.good_low, item.good_high, item.watch_low, item.watch_high) if limit is not None]
    steps = [limit + away for limit in limits for away in (0.0, 1e-12, -1e-12, 1e-4, -1e-4, 0.01, -0.01, 5.0)]
    for number in (*steps, 0.0, 0.05, 0.2, 1.0, 1.265, 1.41, 9.3, 9.6, 12.0, 100.0, -0.02):
        yield Reading(number_si=number, seconds=abs(number) or 14.0)
        yield Reading(number_si=number, seconds=300.0)
    for unit in filter(None, (item.unit_us, item.unit_metric)):
        for limit in limits:
            if UNITS[unit].quantity == item.quantity:
                near = parse(f"{from_si(limit, unit):.6f}", unit).si if limit >= 0 else limit
                yield Reading(number_si=near, seconds=near)


SETTINGS = (
    Setting(),
    Setting(basement_temperature_c=4.0, pit_diameter_m=0.4572),
    Setting(basement_temperature_c=38.0, pit_diameter_m=0.4572, inflow_m3_s=0.0000834),
    Setting(basement_temperature_c=-3.0, pit_diameter_m=0.6096, inflow_m3_s=0.0016),
)


@pytest.mark.parametrize("system", SYSTEMS)
def test_every_item_of_the_checklist_is_judged_alike(modules: Page, system: str) -> None:
    items = shipped()
    cases, expected = [], []
    for item in items:
        for reading in readings_of(item):
            for known in SETTINGS if item.formula else SETTINGS[:1]:
                setting = replace(known, system=system)
                cases.append((item_told(item, system), as_device(reading), as_setting(setting)))
                answered = is_answered(item, reading)
                expected.append(asdict(verdict(item, reading, setting=setting)) if answered else None)
    assert len(cases) > 4000
    told = run(modules, "verdicts.js", "m.isAnswered(c[0], c[1]) ? m.verdict(c[0], c[1], c[2]) : null", cases)
    for case, given, wanted in zip(cases, told, expected, strict=True):
        if given is None or wanted is None:
            assert given == wanted, case
            continue
        assert {
            "word": given["word"], "sentence": given["sentence"], "severity": given["severity"], "to_do": given["toDo"]
        } == {name: wanted[name] for name in ("word", "sentence", "severity", "to_do")}, case  # fmt: skip
        assert close(given["valueSi"], wanted["value_si"]), case


def as_device(reading: Reading) -> dict[str, Any]:
    return {
        "condition": reading.condition,
        "numberSi": reading.number_si,
        "seconds": reading.seconds,
        "text": reading.text,
        "because": reading.because,
        "photos": reading.photos,
        "noPhotoBecause": reading.no_photo_because,
    }


def as_setting(setting: Setting) -> dict[str, Any]:
    return {
        "temperatureC": setting.basement_temperature_c,
        "diameterM": setting.pit_diameter_m,
        "inflowM3S": setting.inflow_m3_s,
        "system": SYSTEMS[setting.system],
    }
