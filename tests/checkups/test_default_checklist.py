"""The yearly check-up that comes with the software: complete, ordered, cautious, and true to its sources."""

import json
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from contractor.checkups.rules.items import FEEDS, STEPS, Item, read_checklist
from contractor.checkups.rules.verdicts import Reading, judge_by_limits, verdict
from contractor.checkups.rules.walk import Part, applies, lines_for
from contractor.core.units import to_si
from contractor.engineering.battery_life import float_voltage_v
from contractor.systems.part_kinds import BY_CODE

FIXTURES = Path(__file__).resolve().parents[2] / "fixtures"
DATA = json.loads((FIXTURES / "checklists" / "yearly.json").read_text(encoding="utf-8"))
MODELS = json.loads((FIXTURES / "catalogue" / "models.json").read_text(encoding="utf-8"))["models"]
ITEMS = read_checklist(DATA)
BY_ITEM = {item.code: item for item in ITEMS}


def limits(code: str) -> tuple[float | None, float | None, float | None, float | None]:
    item = BY_ITEM[code]
    return item.watch_low, item.good_low, item.good_high, item.watch_high


def test_it_is_one_walk_of_sixty_to_ninety_items() -> None:
    assert 60 <= len(ITEMS) <= 90
    assert len({item.code for item in ITEMS}) == len(ITEMS)
    assert [item.position for item in ITEMS] == sorted(item.position for item in ITEMS)


def test_every_part_kind_the_house_and_every_step_are_covered() -> None:
    assert {item.part_kind for item in ITEMS} == {"", *BY_CODE}
    assert {item.step for item in ITEMS} == set(STEPS)
    for kind in BY_CODE:
        assert sum(item.part_kind == kind and item.required for item in ITEMS) >= 2, kind


def test_the_file_says_what_its_limits_mean() -> None:
    words = " ".join(DATA["about"])
    for word in ("base unit", "inclusive", "watch", "null", "applies_to", "feeds", "when_bad", "source"):
        assert word in words


def test_prompts_can_be_read_at_arms_length_and_hows_in_one_breath() -> None:
    for item in ITEMS:
        assert len(item.prompt) <= 70, item.code
        assert not item.prompt.endswith("."), item.code
        assert len(item.how) <= 200, item.code
        assert item.subject, item.code
        assert item.how.endswith("."), item.code


# What hurts people, and the words without which the caution at that step is not the trade's usual one.
CAUTIONS = [
    ("safe-way-in", ("Standing water", "Stay out", "power")),
    ("primary-ground-fault", ("ground-fault", "licensed electrician")),
    ("primary-cord", ("Unplug", "licensed electrician")),
    ("primary-clean", ("Unplug", "two people", "never by the cord")),
    ("primary-current", ("Never open a cord", "licensed electrician")),
    ("switch-travel", ("Unplug",)),
    ("standby-cycles", ("Unplug", "Plug both in again")),
    ("charger-power", ("licensed electrician",)),
    ("pit-rise", ("Unplug", "plug it in again")),
    ("pit-silt", ("Unplug", "Never climb into a pit", "never lean in head first")),
    ("pit-inlets", ("Never climb into a pit",)),
    ("pit-wall", ("Never climb into a pit",)),
    ("pit-photo", ("children",)),
    ("pit-lid", ("radon", "seal the lid again")),
    ("pit-closed", ("radon",)),
    ("battery-case", ("Acid and hydrogen", "eye protection", "gloves", "do not charge")),
    ("battery-vented", ("no flame or spark", "air moving")),
    ("battery-posts", ("Rings and watch off", "insulated tool", "minus off first")),
    ("battery-load-test", ("Acid and hydrogen", "Switch the tester off")),
    ("charger-leads", ("Rings and watch off",)),
    ("line-destination", ("Local code", "authority", "licensed plumber")),
    ("mould", ("Do not brush", "mould professional")),
    ("sewage", ("keep out", "licensed plumber")),
    ("ring-heater-dry", ("Smell gas", "gas company from outside", "scalds")),
    ("ring-drain", ("Smell gas",)),
    ("relief-works", ("Stand aside", "Take the plug out")),
]


@pytest.mark.parametrize(("code", "words"), CAUTIONS)
def test_the_usual_caution_stands_at_the_step_it_belongs_to(code: str, words: tuple[str, ...]) -> None:
    for word in words:
        assert word in BY_ITEM[code].caution


def test_every_battery_item_is_cautioned_and_every_lead_acid_one_of_acid_and_hydrogen() -> None:
    for item in ITEMS:
        if item.part_kind == "battery":
            only_lithium = dict(item.applies_to).get("chemistry") == ("lifepo4",)
            assert ("Never bridge the posts" if only_lithium else "Acid and hydrogen") in item.caution, item.code


def test_every_item_that_opens_the_heaters_corner_is_cautioned() -> None:
    assert all("Smell gas" in item.caution for item in ITEMS if item.part_kind == "containment_ring")


def test_the_discharge_must_not_reach_the_sanitary_sewer_unless_the_authority_allows_it() -> None:
    assert "sanitary sewer unless the authority has allowed it" in BY_ITEM["line-destination"].how


def test_whatever_can_be_bad_says_what_it_means_and_what_to_do() -> None:
    for item in ITEMS:
        can_be_bad = (
            item.kind == "check" or item.formula == "load_test" or any(v is not None for v in limits(item.code))
        )
        assert bool(item.consequence and item.what_to_do) == can_be_bad, item.code


def test_a_limit_names_its_source_or_says_that_it_has_none() -> None:
    authorities = (
        "IRC",
        "EPA",
        "NFPA",
        "NDSU",
        "Battery Council",
        "manuals",
        "flooded table",
        "handbook",
        "IPC",
        "MIL-",
    )
    for item in ITEMS:
        if any(value is not None for value in limits(item.code)):
            assert any(word in item.source for word in ("common practice, no source", *authorities)), item.code


def test_values_taken_from_memory_say_so() -> None:
    for code in ("ground-slope", "room-humidity", "mould", "primary-current", "line-slope", "valve-holds"):
        assert "from memory" in BY_ITEM[code].source


def test_every_value_that_estimates_wait_for_is_asked() -> None:
    assert {item.feeds for item in ITEMS if item.feeds} == set(FEEDS)


def test_the_same_feed_is_asked_only_once_of_one_component() -> None:
    for model in MODELS:
        part = Part(component_id=1, part_kind=model["part_kind"], data=model["data"])
        fed = [line.item.feeds for line in lines_for(ITEMS, [part]) if line.part and line.item.feeds]
        assert len(fed) == len(set(fed)), model["name"]


def test_overview_pit_treated_wall_and_outlet_are_always_photographed() -> None:
    always = {item.code for item in ITEMS if item.kind == "photo" and item.photo == "always" and item.required}
    assert {"room-photo", "pit-photo", "treated-wall-photo", "line-photo", "room-left-photo"} <= always


@pytest.mark.parametrize(
    ("code", "formula"),
    [
        ("pit-rise", "pit_rise_inflow"),
        ("primary-pump-down", "pump_down_flow"),
        ("standby-pump-down", "pump_down_flow"),
        ("battery-load-test", "load_test"),
        ("battery-gravity", "gravity"),
        ("alarm-sounds", None),
        ("ring-drain", None),
    ],
)
def test_the_tests_of_the_trade_are_timed_or_computed(code: str, formula: str | None) -> None:
    assert BY_ITEM[code].formula == formula
    assert BY_ITEM[code].kind == ("measurement" if formula in {"load_test", "gravity"} else "timed_test")


def test_pumps_must_turn_on_and_off_at_least_twice() -> None:
    # NDSU Extension news releases on sump pumps: make it turn on and off at least twice.
    for code in ("primary-cycles", "standby-cycles"):
        assert verdict(BY_ITEM[code], Reading(number_si=2)).word == "good"
        judged = verdict(BY_ITEM[code], Reading(number_si=1))
        assert (judged.word, judged.severity) == ("bad", "urgent")


def test_rest_volts_and_gravity_follow_the_published_table_of_charge() -> None:
    # Table credited to the Battery Council International, 80 °F: 75 % is 12.45 V and 1.225, 50 % is 12.24 V and 1.190.
    assert limits("battery-rest-volts-flooded") == (12.24, 12.45, None, None)
    assert limits("battery-gravity") == (1.190, 1.225, None, None)


def test_a_full_battery_at_rest_is_good_whatever_its_chemistry() -> None:
    # Full: 12.65 V flooded (Battery Council International); 12.8 to 12.9 V AGM, about 13.3 V LiFePO4 (from memory).
    for code, volts in (("flooded", 12.65), ("sealed", 12.8), ("lithium", 13.3)):
        assert verdict(BY_ITEM[f"battery-rest-volts-{code}"], Reading(number_si=volts)).word == "good"


@pytest.mark.parametrize("celsius", [0, 10, 25, 30])
def test_a_charger_that_follows_the_temperature_is_good_at_any_basements(celsius: float) -> None:
    # 2.25 V a cell at 25 °C, 3 mV a cell less for each °C more: 13.95 V at 0 °C, 13.77 at 10, 13.5 at 25.
    item = BY_ITEM["charger-float-volts-lead"]
    assert judge_by_limits(item, float(float_voltage_v(float(celsius))))[0] == "good"
    assert judge_by_limits(item, 12.6)[0] == judge_by_limits(item, 15.0)[0] == "bad"


def test_air_damper_than_sixty_percent_is_worth_watching() -> None:
    # US EPA, A Brief Guide to Mold, Moisture and Your Home: below 60 % relative humidity (from memory).
    words = [verdict(BY_ITEM["room-humidity"], Reading(number_si=share)).word for share in (0.45, 0.60, 0.61, 0.80)]
    assert words == ["good", "good", "watch", "bad"]


def test_the_ring_may_take_two_minutes_for_a_gallon() -> None:
    # A 3/4 in drain (IRC P2801.6.1) of 0.824 in bore under 3/4 in of water, Cd 0.6: about 2 gal/min, so 30 s; four
    # times as long is still good.
    area_m2 = 3.14159265 / 4 * (0.824 * 0.0254) ** 2
    flow_m3_s = 0.6 * area_m2 * (2 * 9.80665 * 0.75 * 0.0254) ** 0.5
    seconds = to_si(1, "gal") / flow_m3_s
    assert 25 < seconds < 35
    assert limits("ring-drain")[2] == pytest.approx(4 * seconds, rel=0.1)


def parts_of(*kinds: str) -> list[Part]:
    return [
        Part(component_id=number, part_kind=model["part_kind"], data=model["data"])
        for number, model in enumerate(MODELS)
        if model["part_kind"] in kinds
    ]


def asked_of(data: dict[str, Any], part_kind: str, start: str) -> list[str]:
    part = Part(component_id=1, part_kind=part_kind, data=data)
    return [i.code for i in ITEMS if i.part_kind == part_kind and i.code.startswith(start) and applies(i, part)]


def test_every_battery_of_the_catalogue_is_asked_one_voltage_at_rest_and_one_under_load() -> None:
    batteries = parts_of("battery")
    assert len({part.data["chemistry"] for part in batteries}) == 4
    for part in batteries:
        data = dict(part.data)
        assert len(asked_of(data, "battery", "battery-rest-volts")) == 1, data
        under_load = asked_of(data, "battery", "battery-load-test") + asked_of(data, "battery", "battery-running-volts")
        assert len(under_load) == 1, data


def test_a_battery_of_which_nothing_is_known_is_treated_as_flooded_and_tested_with_its_pump() -> None:
    asked = asked_of({}, "battery", "battery-")
    assert "battery-rest-volts-flooded" in asked
    assert "battery-running-volts" in asked
    assert "battery-vented" in asked
    assert not {"battery-load-test", "battery-rest-volts-sealed", "battery-rest-volts-lithium"} & set(asked)


def test_acid_is_asked_of_flooded_batteries_only() -> None:
    for chemistry in ("agm", "gel", "lifepo4"):
        data = {"chemistry": chemistry}
        assert not asked_of(data, "battery", "battery-water") + asked_of(data, "battery", "battery-gravity")
    assert asked_of({"chemistry": "flooded"}, "battery", "battery-water") == ["battery-water"]


def test_every_charger_is_asked_one_charging_voltage_and_its_declared_one_is_good() -> None:
    for part in (*parts_of("charger"), Part(component_id=0, part_kind="charger")):
        (code,) = asked_of(dict(part.data), "charger", "charger-float-volts")
        assert judge_by_limits(BY_ITEM[code], float(part.data.get("float_v", 13.5)))[0] == "good"


def test_only_an_alarm_that_sends_messages_is_asked_for_one() -> None:
    asked = [asked_of(dict(part.data), "high_water_alarm", "alarm-message") for part in parts_of("high_water_alarm")]
    assert sorted(asked) == [[], ["alarm-message"]]


def flow_at(head_m: float, curve: list[list[float]]) -> float:
    for (flow, head), (more, less) in pairwise(curve):
        if less <= head_m <= head:
            return flow + (head - head_m) / (head - less) * (more - flow)
    raise AssertionError(f"{head_m} m is off the curve")


@pytest.mark.parametrize(
    ("kind", "code"), [("primary_pump", "primary-pump-down"), ("standby_pump", "standby-pump-down")]
)
def test_every_sound_pump_of_the_catalogue_passes_at_ten_feet_of_lift(kind: str, code: str) -> None:
    for part in parts_of(kind):
        assert judge_by_limits(BY_ITEM[code], flow_at(10 * 0.3048, part.data["curve"]))[0] == "good"


def test_a_pump_that_has_lost_two_thirds_of_its_flow_fails() -> None:
    for part in parts_of("primary_pump")[:1]:
        assert judge_by_limits(BY_ITEM["primary-pump-down"], flow_at(3.048, part.data["curve"]) / 4)[0] == "bad"


def test_a_house_with_one_of_each_part_is_one_round_of_the_basement() -> None:
    one_each = {part.part_kind: part for part in reversed(parts_of(*BY_CODE))}
    lines = lines_for(ITEMS, list(one_each.values()))
    steps = [line.item.step for line in lines]
    assert steps == sorted(steps, key=list(STEPS).index)
    assert steps[0] == "arrive"
    assert steps[-1] == "talk_and_sign"
    assert 70 <= len(lines) <= 90


def test_the_pit_is_closed_after_the_last_test_in_it() -> None:
    order = [item.code for item in ITEMS]
    in_the_pit: tuple[Item, ...] = tuple(
        item for item in ITEMS if item.step in {"pit", "primary_pump", "standby", "alarm"}
    )
    assert in_the_pit[-1].code == "pit-closed"
    assert order.index("pit-lid") < order.index("pit-rise") < order.index("pit-closed")


def test_power_is_looked_at_again_before_leaving() -> None:
    item = BY_ITEM["all-plugged-in"]
    assert (item.step, item.severity, item.required) == ("talk_and_sign", "urgent", True)
