"""Comparing editions: what differs, field by field, and nothing else."""

from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest

from contractor.warranties.rules.comparing import Change, changes
from contractor.warranties.rules.terms import Exclusion, Promise, Terms, TransferRule
from tests.warranties.rule_builders import PROMISES, SUSPENDING, YEARLY, terms


def change(field: str, before: str, after: str, subject: str = "") -> Change:
    return Change(field=field, subject=subject, before=before, after=after)


BATTERY = PROMISES[5]
PUMP = PROMISES[4]


def with_promise(one: Promise) -> Terms:
    return terms(promises=tuple(one if old.part_kind == one.part_kind else old for old in PROMISES))


# what the new edition has in the place of the old one, and what is said of it
CASES: dict[str, tuple[Terms, list[Change]]] = {
    "nothing": (terms(), []),
    "only the name of the edition": (terms(edition="test-2"), []),
    "promises in another order": (terms(promises=PROMISES[::-1]), []),
    "a word": (terms(title="Limited warranty"), [change("title", "", "Limited warranty")]),
    "a number of months": (
        with_promise(replace(BATTERY, months=48)),
        [change("promises.months", "36", "48", "battery")],
    ),
    "a fee": (
        with_promise(replace(PUMP, callout_fee=Decimal("80.00"))),
        [change("promises.callout_fee", "$75.00", "$80.00", "primary pump")],
    ),
    "a promise less": (
        terms(promises=PROMISES[:5]),
        [
            change(
                "promises",
                "part kind: battery; months: 36; full months: 12; callout fee: $0.00; starts: component; "
                "classified: unknown",
                "",
                "battery",
            )
        ],
    ),
    "care that suspends": (terms(care=SUSPENDING), [change("care.when_missed", "judge", "suspend")]),
    "care at another price": (
        terms(care=replace(YEARLY, charge=Decimal("150.00"))),
        [change("care.charge", "$145.00", "$150.00")],
    ),
    "a transfer more": (
        terms(transfer=replace(terms().transfer or TransferRule(allowed=True), most=3)),
        [change("transfer.most", "2", "3")],
    ),
    "an exclusion in other words": (
        terms(exclusions=(Exclusion(code="flood", sentence="A flood."),)),
        [change("exclusions.sentence", "A flood of a river.", "A flood.", "flood")],
    ),
    "an exclusion more": (
        terms(exclusions=(*terms().exclusions, Exclusion(code="fire", sentence="Fire."))),
        [change("exclusions", "", "code: fire; sentence: Fire.", "fire")],
    ),
    "a step more": (
        terms(claim_steps=("Call.", "Wait.")),
        [change("claim_steps", "", "Call.\nWait.")],
    ),
    "yes for no": (terms(nothing_excluded=True), [change("nothing_excluded", "no", "yes")]),
}


@pytest.mark.parametrize(("after", "said"), CASES.values(), ids=CASES)
def test_what_differs_is_said_field_by_field(after: Terms, said: list[Change]) -> None:
    assert list(changes(terms(), after)) == said


@pytest.mark.parametrize(("after", "said"), CASES.values(), ids=CASES)
def test_looked_at_the_other_way_round_before_and_after_change_places(after: Terms, said: list[Any]) -> None:
    back = [replace(one, before=one.after, after=one.before) for one in said]
    assert sorted(changes(after, terms()), key=str) == sorted(back, key=str)


def test_a_field_reads_in_words() -> None:
    assert change("promises.callout_fee", "", "").label == "promises, call-out fee"
