"""Terms and facts as JSON data: the same value comes back, and bad data are refused with every fault named."""

import json
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given

from contractor.warranties.rules.facts import Facts
from contractor.warranties.rules.plain_data import (
    BadData,
    facts_from_data,
    facts_to_data,
    from_data,
    terms_from_data,
    terms_to_data,
    to_data,
)
from contractor.warranties.rules.standing import Standing, standing_on
from contractor.warranties.rules.terms import CareRule, Warrantor
from tests.warranties.rule_builders import ISSUED, day, done, facts, terms, waiver
from tests.warranties.test_rules_standing_properties import records


@given(record=records)
def test_facts_come_back_from_their_data(record: Facts) -> None:
    assert facts_from_data(json.loads(json.dumps(facts_to_data(record)))) == record


def test_terms_come_back_from_their_data() -> None:
    edition = terms(warrantor=Warrantor(legal_name="Harrow Creek Dry Basements", trade_names=("Harrow Creek",)))
    assert terms_from_data(json.loads(json.dumps(terms_to_data(edition)))) == edition


def test_days_amounts_and_states_are_written_as_text() -> None:
    record = facts(checkups=(done("2027-05-01"),), waivers=(waiver("2028-01-01", "2028-02-01"),))
    assert facts_to_data(record)["checkups"] == [{"on": "2027-05-01", "kind": "yearly", "passed": True, "by": "us"}]
    assert terms_to_data(terms())["care"]["charge"] == "145.00"
    standing = standing_on(terms(), record, "pit", day("2027-05-02"))
    data = to_data(standing)
    assert (data["cover"], data["care"], data["through_on"]) == ("in_force", "current", "2051-05-14")
    assert from_data(Standing, data) == standing
    with pytest.raises(
        BadData, match="cover must be one of not_started, in_force, suspended, ended, void, not 'lapsed'"
    ):
        from_data(Standing, data | {"cover": "lapsed"})


def test_left_out_fields_take_their_defaults() -> None:
    assert facts_from_data({"issued_on": ISSUED}) == Facts(issued_on=day(ISSUED))


GOOD = terms_to_data(terms())

# what is wrong with the data, and the sentences that say so
BAD: list[tuple[Any, list[str]]] = [
    ([], ["The data must be an object, not []."]),
    (GOOD | {"edition": 7}, ["edition must be text, not 7."]),
    (GOOD | {"designation": "PARTIAL"}, ["designation must be one of FULL, LIMITED, WRITTEN, not 'PARTIAL'."]),
    (GOOD | {"colour": "red"}, ["colour is not a field that we know."]),
    ({name: value for name, value in GOOD.items() if name != "promises"}, ["promises is missing."]),
    (GOOD | {"promises": {}}, ["promises must be a list, not {}."]),
    (GOOD | {"promises": [3]}, ["promises[0] must be an object, not 3."]),
    (GOOD | {"promises": [{"part_kind": "pit"}]}, ["promises[0].months is missing."]),
    (
        GOOD | {"promises": [{"part_kind": "pit", "months": "12"}]},
        ["promises[0].months must be a whole number, not '12'."],
    ),
    (
        GOOD | {"promises": [{"part_kind": "pit", "months": True}]},
        ["promises[0].months must be a whole number, not True."],
    ),
    (
        GOOD | {"promises": [{"part_kind": "pit", "months": 1.5}]},
        ["promises[0].months must be a whole number, not 1.5."],
    ),
    (GOOD | {"promises": [{"part_kind": "tub", "months": 12}]}, ["promises[0]: There is no part kind 'tub'."]),
    (GOOD | {"care": GOOD["care"] | {"charge": 145.0}}, ["care.charge must be an amount as text, not 145.0."]),
    (GOOD | {"care": GOOD["care"] | {"charge": "much"}}, ["care.charge must be an amount such as 75.00, not 'much'."]),
    (GOOD | {"care": GOOD["care"] | {"charge": "NaN"}}, ["care.charge must be an amount such as 75.00."]),
    (GOOD | {"care": GOOD["care"] | {"any_provider": 1}}, ["care.any_provider must be true or false, not 1."]),
    (GOOD | {"implied_disclaimed": "no"}, ["implied_disclaimed must be true or false, not 'no'."]),
    (
        GOOD | {"edition": None, "title": 3, "documents": ["a", 4]},
        ["edition must be text, not None.", "title must be text, not 3.", "documents[1] must be text, not 4."],
    ),
]


@pytest.mark.parametrize(("data", "problems"), BAD)
def test_bad_terms_are_refused_with_every_fault_named(data: Any, problems: list[str]) -> None:
    with pytest.raises(BadData) as refusal:
        terms_from_data(data)
    assert list(refusal.value.problems) == problems


@pytest.mark.parametrize("text", ["14 May 2026", "2026-02-30", 20260514, None])
def test_a_day_that_is_none_is_refused(text: Any) -> None:
    with pytest.raises(BadData, match="issued_on must be a day such as 2026-05-14"):
        facts_from_data({"issued_on": text})


def test_what_the_value_itself_refuses_is_named_with_its_place() -> None:
    with pytest.raises(BadData, match="care: The days a check-up may be early"):
        terms_from_data(GOOD | {"care": GOOD["care"] | {"early_days": 350}})
    with pytest.raises(BadData, match=r"^More than one promise for pit"):
        terms_from_data(GOOD | {"promises": [{"part_kind": "pit", "months": 12}] * 2})


def test_a_value_that_is_none_of_the_rules_is_not_written() -> None:
    with pytest.raises(TypeError, match="float is not a value of the rules"):
        to_data(1.5)


def test_an_amount_keeps_its_cents() -> None:
    rule = terms().care
    assert rule is not None
    assert str(from_data(CareRule, to_data(replace(rule, charge=rule.charge))).charge) == "145.00"
