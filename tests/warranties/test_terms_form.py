"""The editor's form: every edition goes through it unchanged, and every fault stands beside a field that is there."""

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given

from contractor.warranties.rules.canada import PROVINCES
from contractor.warranties.rules.publishing import broken_rules
from contractor.warranties.rules.terms import Terms
from contractor.warranties.terms_fields import form_field
from contractor.warranties.terms_forms import KINDS, TermsForm, typed_from
from tests.warranties import test_rules_canada, test_rules_publishing
from tests.warranties.test_rules_canada import read
from tests.warranties.test_rules_standing_properties import editions

FOLDER = Path(__file__).parents[2] / "fixtures" / "terms"
EDITIONS = sorted([*FOLDER.glob("*.json"), *(FOLDER / "templates").glob("*.json")])


def in_walking_order(terms: Terms) -> Terms:
    """The editor lists promises in the order of the part kinds."""
    return replace(terms, promises=tuple(sorted(terms.promises, key=lambda one: KINDS.index(one.part_kind))))


def form_for(terms: Terms, **typed: Any) -> TermsForm:
    return TermsForm(typed_from(terms) | {name.replace("__", "-"): value for name, value in typed.items()}, terms=terms)


@pytest.mark.parametrize("path", EDITIONS, ids=lambda path: path.stem)
def test_an_edition_comes_out_of_the_editor_as_it_went_in(path: Path) -> None:
    terms = read(path)
    form = TermsForm(terms=terms)
    assert form.is_valid(), form.errors
    assert form.terms == in_walking_order(terms)


@pytest.mark.parametrize("path", EDITIONS, ids=lambda path: path.stem)
def test_what_is_kept_as_typed_survives_json(path: Path) -> None:
    typed = json.loads(json.dumps(typed_from(read(path))))
    form = TermsForm(typed, terms=read(path))
    assert form.is_valid(), form.errors
    assert form.terms == in_walking_order(read(path))


# A province that is none can't be ticked.
BROKEN = [
    (code, terms)
    for code, terms, _ in [*test_rules_publishing.BROKEN, *test_rules_canada.BROKEN]
    if set(terms.provinces) <= set(PROVINCES)
]


@pytest.mark.parametrize(("code", "terms"), BROKEN)
def test_every_rule_that_can_be_broken_is_told_beside_a_field_of_the_editor(code: str, terms: Terms) -> None:
    form = TermsForm(terms=terms)
    assert form.is_valid(), form.errors
    assert form.terms is not None
    broken = broken_rules(form.terms)
    form.put_beside(broken)
    told = [one.code for wrong in form.wrong for one in wrong["broken"]]
    assert sorted(told) == sorted(one.code for one in broken)
    assert code in told


# a field of the terms, and the field of the form at which its fault stands
PLACES = [
    ("title", "title"),
    ("notes[3]", "notes"),
    ("promises", "promise-channel-promised"),
    ("promises[0].months", "promise-pit-months"),
    ("promises[1].covers", "promise-battery-covers"),
    ("promises[1]", "promise-battery-months"),
    ("exclusions", "nothing_excluded"),
    ("exclusions[1]", "exclusion-4-sentence"),
    ("conditions[0].provider", "condition-2-provider"),
    ("conditions[0]", "condition-2-sentence"),
    ("care", "care-asked"),
    ("care.any_provider", "care-any_provider"),
    ("care_words", "care_words"),
    ("transfer.allowed", "transfer-way"),
    ("transfer.months_after", "transfer-months_after"),
    ("implied_limit", "implied_limit-text"),
    ("implied_limit.sentence", "implied_limit-sentence"),
    ("consequential.on_face", "consequential-on_face"),
    ("dispute.prior_resort", "dispute-prior_resort"),
    ("warrantor.address", "warrantor-address"),
    ("text", "remedy"),
]


@pytest.mark.parametrize(("field", "place"), PLACES)
def test_a_field_of_the_terms_has_its_place_in_the_form(field: str, place: str) -> None:
    assert form_field(field, ["pit", "battery"], {"exclusions": [0, 4], "conditions": [2]}) == place


# what is typed, the field at which it is refused, and what is said
LIMITED = read(FOLDER / "limited-2026-1.json")
UNREADABLE: list[tuple[dict[str, Any], str, str]] = [
    ({"edition": ""}, "edition", "short name"),
    ({"edition": "two words"}, "edition", "letters, numbers, underscores or hyphens"),
    ({"promise__pit__months": "twenty"}, "promise-pit-months", "whole number"),
    ({"promise__pit__months": "0"}, "promise-pit-months", "greater than or equal to 1"),
    ({"promise__battery__full_months": "36"}, "promise-battery-months", "must end before the promise does"),
    ({"promise__channel__months": "12"}, "promise-channel-months", "not both"),
    ({"care__charge": "a lot"}, "care-charge", "number"),
    ({"care__charge": "1.005"}, "care-charge", "2 decimal places"),
    ({"care__grace_days": "400"}, "care-asked", "must not reach from one due day to the next"),
    ({"transfer__fee": "-1"}, "transfer-fee", "greater than or equal to 0"),
    ({"exclusion__1__code": "over_the_wall"}, "__all__", "same code"),
    ({"remedy": "x" * 1300}, "remedy", "at most 1200"),
]


@pytest.mark.parametrize(("typed", "field", "said"), UNREADABLE)
def test_what_cannot_be_read_is_refused_beside_its_field(typed: dict[str, Any], field: str, said: str) -> None:
    form = form_for(LIMITED, **typed)
    assert not form.is_valid()
    assert field in form.errors, form.errors
    assert said in " ".join(form.errors[field])


def test_a_kind_that_is_not_ticked_is_not_promised_and_its_words_stay_typed() -> None:
    typed = typed_from(LIMITED)
    del typed["promise-charger-promised"]
    form = TermsForm(typed, terms=LIMITED)
    assert form.is_valid()
    assert form.terms is not None
    assert form.terms.promise_for("charger") is None
    assert form["promise-charger-covers"].value() == "The charger: that it keeps the battery charged."


def test_rows_that_are_left_empty_are_left_out_and_two_stay_ready() -> None:
    form = form_for(LIMITED, exclusion__2__code="", exclusion__2__sentence="")
    assert form.is_valid()
    assert form.terms is not None
    assert len(form.terms.exclusions) == len(LIMITED.exclusions) - 1
    assert form.exclusions == len(LIMITED.exclusions) + 2


def test_a_row_without_a_code_gets_one() -> None:
    form = form_for(LIMITED, exclusion__11__sentence="Ice in the street.")
    assert form.is_valid()
    assert form.terms is not None
    assert form.terms.exclusions[-1].code == "cause_12"


@pytest.mark.parametrize(("way", "rule"), [("free", None), ("no", False), ("rule", True)])
def test_a_later_owner_may_take_over_freely_on_terms_or_not_at_all(way: str, rule: bool | None) -> None:
    form = form_for(LIMITED, transfer__way=way)
    assert form.is_valid()
    assert form.terms is not None
    assert (form.terms.transfer.allowed if form.terms.transfer else None) == rule


@given(edition=editions)
def test_any_promises_care_and_transfer_rule_come_out_as_they_went_in(edition: Terms) -> None:
    form = TermsForm(terms=edition)
    assert form.is_valid(), form.errors
    assert form.terms == in_walking_order(edition)
