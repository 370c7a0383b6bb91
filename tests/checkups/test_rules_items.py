"""A checklist's data is read whole or refused with one sentence that names the item and the field."""

from typing import Any

import pytest

from contractor.checkups.rules.items import UnreadableChecklist, read_checklist, read_item


def row(**changed: Any) -> dict[str, Any]:
    fields = {
        "code": "rest-volts",
        "part_kind": "battery",
        "step": "standby",
        "position": 10,
        "kind": "measurement",
        "subject": "voltage at rest",
        "prompt": "Read the voltage at rest",
        "how": "At the posts.",
        "quantity": "voltage",
        "unit_us": "V",
        "unit_metric": "V",
        "good_low": 12.45,
        "good_high": None,
        "watch_low": 12.24,
        "watch_high": None,
        "consequence": "It runs the pump for less time.",
        "what_to_do": "Charge it.",
        "severity": "bad",
        "applies_to": {"chemistry": ["flooded", None]},
        "source": "common practice, no source",
    }
    return {key: value for key, value in {**fields, **changed}.items() if value != "left out"}


CHECK: dict[str, Any] = {
    "kind": "check",
    "quantity": None,
    "unit_us": None,
    "unit_metric": None,
    "good_low": None,
    "watch_low": None,
}
TIMED: dict[str, Any] = {
    "kind": "timed_test",
    "quantity": "length",
    "unit_us": "in",
    "unit_metric": "mm",
    "formula": "pump_down_flow",
    "good_low": None,
    "watch_low": None,
}

WRONG = [
    # what is changed, field named, words of the sentence
    ({"code": ""}, "code", "it is empty"),
    ({"prompt": "left out"}, "prompt", "it is missing"),
    ({"how": 3}, "how", "it must be text"),
    ({"source": " "}, "source", "it is empty"),
    ({"colour": "red"}, "colour", "no item has a field of this name"),
    ({"part_kind": "boiler"}, "part_kind", "“boiler” is none of"),
    ({"step": "attic"}, "step", "“attic” is none of"),
    ({"kind": "guess"}, "kind", "“guess” is none of"),
    ({"severity": "awful"}, "severity", "“awful” is none of watch, bad, urgent"),
    ({"photo": "sometimes"}, "photo", "“sometimes” is none of never, when_bad, always"),
    ({"position": 0}, "position", "whole number from 1"),
    ({"position": True}, "position", "whole number from 1"),
    ({"required": "yes"}, "required", "true or false"),
    ({"good_low": "12.45"}, "good_low", "a number or null"),
    ({"formula": "magic"}, "formula", "“magic” is none of"),
    ({"feeds": "moon.phase"}, "feeds", "“moon.phase” is none of"),
    ({"applies_to": ["flooded"]}, "applies_to", "a key of the part's data"),
    ({"applies_to": {"chemistry": []}}, "applies_to", "a key of the part's data"),
    ({"quantity": None}, "quantity", "a measurement needs one"),
    ({"unit_metric": None}, "unit_metric", "a measurement needs one"),
    ({"unit_us": "in"}, "unit_us", "“in” is not a unit of “voltage”"),
    ({"unit_us": "furlong"}, "unit_us", "“furlong” is not a unit of “voltage”"),
    ({**CHECK, "quantity": "voltage"}, "quantity", "a check has none"),
    ({**CHECK, "good_low": 1.0}, "good_low", "a check has no limits"),
    ({**CHECK, "formula": "load_test"}, "formula", "a check cannot be computed by “load_test”"),
    ({"formula": "pit_rise_inflow"}, "formula", "a measurement cannot be computed by “pit_rise_inflow”"),
    ({**TIMED, "formula": "load_test"}, "formula", "“load_test” is not made from a time"),
    ({**TIMED, "formula": None}, "quantity", "this timed test is typed as “time”"),
    ({**TIMED, "quantity": "time", "unit_us": "s", "unit_metric": "s"}, "quantity", "typed as “length”"),
    ({"kind": "count"}, "quantity", "its quantity is “count”"),
    ({"watch_low": 12.5}, "good_low", "limits must rise"),
    ({"good_high": 12.4}, "good_high", "limits must rise"),
    ({"good_low": None}, "good_low", "“watch_low” bounds nothing without it"),
    ({"consequence": ""}, "consequence", "says what that means and what to do"),
    ({"what_to_do": "left out"}, "what_to_do", "says what that means and what to do"),
]


@pytest.mark.parametrize(("changed", "field", "words"), WRONG)
def test_wrong_data_is_refused_by_item_and_field(changed: dict[str, Any], field: str, words: str) -> None:
    with pytest.raises(UnreadableChecklist) as refused:
        read_checklist({"items": [row(**changed)]})
    sentence = str(refused.value)
    assert sentence.startswith("Item number 1," if changed.get("code") == "" else "Item “rest-volts”,")
    assert f"field “{field}”" in sentence
    assert words in sentence
    assert refused.value.field == field


@pytest.mark.parametrize("data", [{}, {"items": []}, {"items": "none"}])
def test_a_checklist_without_items_is_refused(data: dict[str, Any]) -> None:
    with pytest.raises(UnreadableChecklist, match="has no items"):
        read_checklist(data)


def test_an_item_that_is_no_set_of_fields_is_named_by_its_number() -> None:
    with pytest.raises(UnreadableChecklist, match="Item number 2 is not a set of fields"):
        read_checklist({"items": [row(), "battery"]})


def test_a_code_stands_only_once() -> None:
    with pytest.raises(UnreadableChecklist, match="another item has the same code"):
        read_checklist({"items": [row(), row(position=20)]})


def test_a_place_in_the_walk_is_taken_only_once() -> None:
    with pytest.raises(UnreadableChecklist, match="“rest-volts” already stands there"):
        read_checklist({"items": [row(), row(code="other")]})


def test_items_come_in_walking_order_whatever_the_order_of_the_file() -> None:
    pit = row(code="pit-lid", part_kind="pit", step="pit", position=500, applies_to=None)
    late = row(code="late", position=30)
    read = read_checklist({"items": [late, row(), pit]})
    assert [item.code for item in read] == ["pit-lid", "rest-volts", "late"]


def test_empty_text_counts_as_null_where_a_table_knows_no_null() -> None:
    item = read_item(row(**CHECK) | {"quantity": "", "unit_us": "", "unit_metric": "", "formula": "", "feeds": ""})
    assert (item.quantity, item.unit_us, item.formula, item.feeds) == (None, None, None, None)


def test_a_sentence_names_the_subject_or_else_the_prompt() -> None:
    assert read_item(row()).name == "voltage at rest"
    assert read_item(row(subject="left out")).name == "Read the voltage at rest"
