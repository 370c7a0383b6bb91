"""What an answer says about a part, with the numbers of published tables and plain geometry."""

import math
from typing import Any

import pytest

from contractor.checkups.rules.items import Item
from contractor.checkups.rules.verdicts import (
    Reading,
    Setting,
    is_answered,
    shown_apart,
    timed_flow_m3_s,
    verdict,
)

GALLON_M3 = 231 * 0.0254**3  # NIST Handbook 44, appendix C: exact
GPM = GALLON_M3 / 60


def item(kind: str = "measurement", **more: Any) -> Item:
    fields: dict[str, Any] = {
        "code": "tested",
        "part_kind": "battery",
        "step": "standby",
        "position": 1,
        "subject": "voltage at rest",
        "prompt": "Read it",
        "how": "So.",
        "what_to_do": "Replace the battery.",
        "when_watch": "Charge it.",
        "severity": "urgent",
        "source": "test",
    }
    if kind in {"measurement", "count"}:
        quantity, unit = ("voltage", "V") if kind == "measurement" else ("count", "count")
        fields |= {"quantity": quantity, "unit_us": unit, "unit_metric": unit}
    return Item(kind=kind, **{**fields, **more})


BAND = item(good_low=12.45, good_high=12.9, watch_low=12.24, watch_high=13.1)
ONLY_GOOD = item(good_low=2.0)
# Rested flooded battery: 12.45 V at 75 %, 12.24 V at 50 % of charge (table credited to the battery makers' council).
LIMITS = [
    (BAND, 12.45, "good", ""),
    (BAND, 12.6, "good", ""),
    (BAND, 12.9, "good", ""),
    (BAND, 12.44, "watch", "watch"),
    (BAND, 12.24, "watch", "watch"),
    (BAND, 12.23, "bad", "urgent"),
    (BAND, 12.91, "watch", "watch"),
    (BAND, 13.1, "watch", "watch"),
    (BAND, 13.11, "bad", "urgent"),
    (ONLY_GOOD, 2.0, "good", ""),
    (ONLY_GOOD, 1.999, "bad", "urgent"),
    (item(), -50.0, "good", ""),
]


@pytest.mark.parametrize(("tested", "number", "word", "severity"), LIMITS)
def test_limits_are_inclusive_and_the_watch_band_lies_outside_the_good_one(
    tested: Item, number: float, word: str, severity: str
) -> None:
    judged = verdict(tested, Reading(number_si=number))
    assert (judged.word, judged.severity, judged.value_si) == (word, severity, number)


def test_a_limit_typed_in_its_own_unit_is_met_in_spite_of_binary_fractions() -> None:
    three = item(quantity="length", unit_us="in", unit_metric="mm", good_low=0.0762)
    assert 3 * 0.0254 < 0.0762  # the last digit differs, and yet 3 in is 3 in
    assert verdict(three, Reading(number_si=3 * 0.0254)).word == "good"


# Half the cold-cranking amperes for 15 s, least volts by temperature: vehicle makers' service manuals,
# 9.6 V from 70 °F, 9.5 at 60, 9.4 at 50, 9.3 at 40, 9.1 at 30, 8.9 at 20, 8.7 at 10, 8.5 at 0 °F.
LOAD = item(formula="load_test", subject="voltage under load")
LOAD_TABLE = [(85, 9.6), (70, 9.6), (60, 9.5), (50, 9.4), (40, 9.3), (30, 9.1), (20, 8.9), (10, 8.7), (0, 8.5)]


@pytest.mark.parametrize(("fahrenheit", "least_v"), LOAD_TABLE)
def test_the_load_test_asks_what_the_manuals_table_asks_at_that_temperature(fahrenheit: float, least_v: float) -> None:
    celsius = (fahrenheit - 32) / 1.8
    assert verdict(LOAD, Reading(number_si=least_v), celsius).word == "good"
    failed = verdict(LOAD, Reading(number_si=least_v - 0.01), celsius)
    assert (failed.word, failed.severity) == ("bad", "urgent")


def test_the_load_tests_sentence_tells_value_limit_temperature_and_what_to_do() -> None:
    forty_f = (40 - 32) / 1.8
    us = verdict(LOAD, Reading(number_si=8.9), forty_f)
    assert us.sentence == "8.9 V under load is below the 9.3 V needed at 40 °F: replace the battery."
    metric = verdict(LOAD, Reading(number_si=8.9), 10.0, Setting(system="metric"))
    assert metric.sentence == "8.9 V under load is below the 9.4 V needed at 10 °C: replace the battery."
    held = verdict(LOAD, Reading(number_si=9.7), forty_f)
    assert held.sentence == "9.7 V under load meets the 9.3 V needed at 40 °F."


def test_without_a_temperature_the_load_test_takes_the_strictest_and_says_so() -> None:
    judged = verdict(LOAD, Reading(number_si=9.5))
    assert judged.word == "bad"
    assert judged.sentence.endswith("No temperature was recorded, so the strictest was taken.")
    assert verdict(LOAD, Reading(number_si=9.6)).word == "good"


GRAVITY = item(
    formula="gravity",
    quantity="specific_gravity",
    unit_us="SG",
    unit_metric="SG",
    good_low=1.225,
    watch_low=1.190,
    subject="gravity",
)


# Corrections printed in service manuals: 1.250 at 90 °F is 1.254, at 70 °F it is 1.246; 30 °F takes off 0.020.
@pytest.mark.parametrize(
    ("reading", "fahrenheit", "corrected", "word"),
    [(1.250, 90, 1.254, "good"), (1.250, 70, 1.246, "good"), (1.230, 30, 1.210, "watch"), (1.205, 30, 1.185, "bad")],
)
def test_gravity_is_corrected_for_temperature_before_it_is_judged(
    reading: float, fahrenheit: float, corrected: float, word: str
) -> None:
    judged = verdict(GRAVITY, Reading(number_si=reading), (fahrenheit - 32) / 1.8)
    assert judged.value_si == pytest.approx(corrected, abs=1e-9)
    assert judged.word == word


def test_a_gravity_without_its_decimal_point_is_asked_back_and_not_judged() -> None:
    judged = verdict(GRAVITY, Reading(number_si=1265.0), 20.0)
    assert (judged.word, judged.value_si) == ("not possible", None)
    assert "such as 1.265" in judged.sentence


RISE = item(
    "timed_test", quantity="length", unit_us="in", unit_metric="mm", formula="pit_rise_inflow", subject="inflow"
)
DOWN = item(
    "timed_test",
    quantity="length",
    unit_us="in",
    unit_metric="mm",
    formula="pump_down_flow",
    subject="flow",
    good_low=20 * GPM,
    watch_low=12 * GPM,
)
PIT_18_IN = Setting(pit_diameter_m=18 * 0.0254)


def fall(inches: float, seconds: float) -> Reading:
    return Reading(number_si=inches * 0.0254, seconds=seconds)


def test_inflow_is_the_rise_of_a_round_pits_volume() -> None:
    # Volume of an 18 in pit: π·18²/(4·231) = 1.1016 gal an inch; 6 in in 5 minutes are 1.322 gal/min.
    judged = verdict(RISE, fall(6, 300), setting=PIT_18_IN)
    assert judged.value_si == pytest.approx(math.pi * 18**2 / 4 / 231 * 6 / 5 * GPM, rel=1e-9)
    assert judged.sentence == "Inflow: 1.3 gal/min."


def test_published_worked_example_of_a_wet_well() -> None:
    # Operators' mathematics page: a 10 ft wet well that rises 6 in in 2 minutes takes in 146.8 gal/min.
    flow = timed_flow_m3_s(RISE, fall(6, 120), Setting(pit_diameter_m=10 * 0.3048))
    assert flow == pytest.approx(146.8 * GPM, rel=1e-3)


def test_a_pit_that_does_not_rise_has_no_inflow() -> None:
    judged = verdict(RISE, fall(0, 300), setting=PIT_18_IN)
    assert (judged.word, judged.value_si) == ("good", 0.0)


@pytest.mark.parametrize(
    ("inches", "seconds", "inflow_gpm", "flow_gpm", "word"),
    [
        (8, 12, 0.0, 44.06, "good"),
        (8, 12, 2.0, 46.06, "good"),
        (8, 30, 0.0, 17.63, "watch"),
        (8, 60, 0.0, 8.81, "bad"),
        (8, 30, 15.0, 32.63, "good"),  # 46 % of the time
        (8, 30, 20.0, 37.63, "watch"),  # runs 53 % of the time: within limits, but little is left for a storm
        (2, 30, 25.0, 29.41, "bad"),  # runs 85 % of the time
        (2, 30, 6.0, 10.41, "bad"),  # runs 58 % of the time, and is below its limits besides: the worse holds
        (0, 30, 25.0, 25.0, "bad"),  # holds the level, no more
    ],
)
def test_a_pumps_flow_adds_the_inflow_and_must_clearly_exceed_it(
    inches: float, seconds: float, inflow_gpm: float, flow_gpm: float, word: str
) -> None:
    # Qp = volume / time + Qi (MIL-HDBK-1005/9A, section 2.5.3.6); 1.1016 gal an inch in an 18 in pit.
    setting = Setting(pit_diameter_m=18 * 0.0254, inflow_m3_s=inflow_gpm * GPM)
    judged = verdict(DOWN, fall(inches, seconds), setting=setting)
    assert judged.value_si == pytest.approx(flow_gpm * GPM, rel=1e-3)
    assert judged.word == word


def test_a_pump_that_hardly_beats_the_inflow_is_told_so() -> None:
    judged = verdict(DOWN, fall(2, 30), setting=Setting(pit_diameter_m=18 * 0.0254, inflow_m3_s=25 * GPM))
    assert judged.sentence.startswith("Flow: 29.4 gal/min is little against the 25 gal/min that runs in.")


def test_a_timed_test_in_an_unknown_pit_is_kept_and_not_judged() -> None:
    judged = verdict(DOWN, fall(8, 12))
    assert (judged.word, judged.severity, judged.value_si) == ("not possible", "", None)
    assert "pit's diameter" in judged.sentence


def test_a_fall_below_nothing_is_asked_back() -> None:
    judged = verdict(DOWN, fall(-1, 12), setting=PIT_18_IN)
    assert judged.word == "not possible"
    assert "without a sign" in judged.sentence


def test_flows_are_told_in_the_companys_units() -> None:
    metric = Setting(pit_diameter_m=18 * 0.0254, system="metric")
    assert verdict(RISE, fall(6, 300), setting=metric).sentence == "Inflow: 5 L/min."


def test_a_timed_test_without_geometry_is_judged_by_its_seconds() -> None:
    sounds = item("timed_test", quantity="time", unit_us="s", unit_metric="s", good_high=15, watch_high=60)
    words = [verdict(sounds, Reading(seconds=seconds)).word for seconds in (15, 15.5, 60, 61)]
    assert words == ["good", "watch", "watch", "bad"]


@pytest.mark.parametrize(
    ("condition", "severity", "sentence"),
    [
        ("good", "", "Cord: good."),
        ("watch", "watch", "Cord: worth watching. Tie it up."),
        ("bad", "urgent", "Cord: bad. Replace the pump."),
    ],
)
def test_a_check_is_what_the_technician_says(condition: str, severity: str, sentence: str) -> None:
    cord = item("check", subject="cord", when_watch="Tie it up.", what_to_do="Replace the pump.")
    judged = verdict(cord, Reading(condition=condition))
    assert (judged.word, judged.severity, judged.sentence) == (condition, severity, sentence)


def test_not_possible_says_why_for_any_kind_of_item() -> None:
    for tested in (item("check"), item(), LOAD, RISE, item("photo"), item("note")):
        judged = verdict(tested, Reading(condition="not possible", because="the lid is glued"))
        assert judged.word == "not possible"
        assert judged.sentence.endswith("not possible. The lid is glued.")
        assert judged.severity == ""


def test_the_sentence_of_a_measurement_tells_value_and_limit() -> None:
    assert verdict(BAND, Reading(number_si=12.3)).sentence == (
        "Voltage at rest: 12.3 V is below the 12.45 V needed. Charge it."
    )
    assert verdict(BAND, Reading(number_si=13.5)).sentence == (
        "Voltage at rest: 13.5 V is above the 12.9 V allowed. Replace the battery."
    )
    assert verdict(BAND, Reading(number_si=12.6)).sentence == "Voltage at rest: 12.6 V."


def test_a_value_just_off_its_limit_is_never_shown_equal_to_it() -> None:
    assert shown_apart(12.4496, 12.45, "V") == ("12.4496 V", "12.45 V")


ANSWERED = [
    (item("check"), None, False),
    (item("check"), Reading(), False),
    (item("check"), Reading(condition="good"), True),
    (item("check"), Reading(condition="fine"), False),
    (item("check"), Reading(condition="not possible"), False),
    (item("check"), Reading(condition="not possible", because=" "), False),
    (item("check"), Reading(condition="not possible", because="No light."), True),
    (item(), Reading(), False),
    (item(), Reading(number_si=0.0), True),
    (item("count"), Reading(number_si=2.0), True),
    (RISE, Reading(number_si=0.1), False),
    (RISE, Reading(seconds=30.0), False),
    (RISE, Reading(number_si=0.1, seconds=0.0), False),
    (RISE, Reading(number_si=0.0, seconds=30.0), True),
    (item("photo"), Reading(), False),
    (item("photo"), Reading(photos=1), True),
    (item("note"), Reading(text="  "), False),
    (item("note"), Reading(text="Dry all year."), True),
]


@pytest.mark.parametrize(("tested", "reading", "answered"), ANSWERED)
def test_an_answer_holds_what_its_item_asks_for(tested: Item, reading: Reading | None, answered: bool) -> None:
    assert is_answered(tested, reading) is answered
    if reading is not None and not answered:
        with pytest.raises(ValueError, match="nothing to judge"):
            verdict(tested, reading)
