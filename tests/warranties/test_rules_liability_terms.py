"""The terms of many parts at once are those of each part by itself."""

from datetime import date, timedelta
from decimal import Decimal
from itertools import product

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from contractor.warranties.rules.counting import add_months
from contractor.warranties.rules.cover import component_terms
from contractor.warranties.rules.facts import ComponentSpan, Facts, TransferDone
from contractor.warranties.rules.liability_terms import add_months_to, part_terms
from contractor.warranties.rules.terms import Promise, TransferRule
from tests.warranties.rule_builders import OPEN_TRANSFER, terms

PROMISES = (
    Promise(part_kind="channel", months=None, life_of="structure"),
    Promise(part_kind="liner", months=None, life_of="ownership"),
    Promise(part_kind="pit", months=300, full_months=120),
    Promise(part_kind="battery", months=36, full_months=12, starts="component"),
)
RULES = (
    None,
    OPEN_TRANSFER,
    TransferRule(allowed=False),
    TransferRule(allowed=True, most=1, fee=Decimal(0)),
)
days = st.dates(date(2004, 1, 1), date(2030, 12, 31))


def moved(on: date | None) -> np.datetime64:
    return np.datetime64("NaT") if on is None else np.datetime64(on)


# Table of the W3C (XML Schema Part 2, appendix E): a day that the month doesn't have becomes its last.
@pytest.mark.parametrize(
    ("day", "months", "wanted"),
    [
        ("2000-01-12", 17, "2001-06-12"),
        ("2000-01-31", 1, "2000-02-29"),
        ("2001-01-31", 1, "2001-02-28"),
        ("2024-02-29", 12, "2025-02-28"),
        ("2024-02-29", 48, "2028-02-29"),
        ("2026-05-14", 0, "2026-05-14"),
        ("1969-12-31", 2, "1970-02-28"),
    ],
)
def test_months_are_counted_as_one_by_one(day: str, months: int, wanted: str) -> None:
    found = add_months_to(np.array([day, "NaT"], dtype="datetime64[D]"), months)
    assert found[0] == np.datetime64(wanted) == np.datetime64(add_months(date.fromisoformat(day), months))
    assert np.isnat(found[1])


@given(st.dates(date(1900, 1, 1), date(2200, 1, 1)), st.integers(0, 600))
def test_any_day_and_any_months_agree(day: date, months: int) -> None:
    assert add_months_to(np.array([day], dtype="datetime64[D]"), months)[0] == np.datetime64(add_months(day, months))


@given(
    issued_on=days,
    put_in_after=st.integers(-4000, 8000),
    transferred_after=st.one_of(st.none(), st.integers(0, 8000)),
    asked_after=st.integers(0, 9000),
)
def test_every_promise_and_transfer_rule_agrees_with_the_terms_of_one_part(
    issued_on: date, put_in_after: int, transferred_after: int | None, asked_after: int
) -> None:
    in_on = issued_on + timedelta(days=put_in_after)
    transferred_on = None if transferred_after is None else issued_on + timedelta(days=transferred_after)
    on = issued_on + timedelta(days=asked_after)
    for promise, rule in product(PROMISES, RULES):
        edition = terms(promises=(promise,), transfer=rule)
        transfers = () if transferred_on is None else (TransferDone(on=transferred_on),)
        part = ComponentSpan(part_kind=promise.part_kind, in_on=in_on)
        facts = Facts(issued_on=issued_on, components=(part,), transfers=transfers)
        [one] = component_terms(edition, facts, promise.part_kind, on)
        found = part_terms(
            edition,
            promise,
            issued_on=np.array([issued_on], dtype="datetime64[D]"),
            in_on=np.array([in_on], dtype="datetime64[D]"),
            transferred_on=np.array([moved(transferred_on if transfers and transfers[0].on <= on else None)], "M8[D]"),
        )
        assert found.counted_from_on[0] == np.datetime64(one.counted_from_on)
        assert found.from_on[0] == np.datetime64(one.from_on)
        if one.through_on is None:
            assert np.isnat(found.through_on[0])
        else:
            assert found.through_on[0] == np.datetime64(one.through_on)
        assert found.holds(np.datetime64(on))[0] == one.holds(on)
