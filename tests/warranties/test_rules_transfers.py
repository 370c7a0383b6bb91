"""Transfers: every requirement answers by itself, from the terms that were issued."""

from dataclasses import replace
from typing import Any

import pytest

from contractor.warranties.rules.facts import CheckupDone, Facts
from contractor.warranties.rules.terms import Terms, TransferRule
from contractor.warranties.rules.transfers import Request, Requirement, missing, transfer_requirements
from tests.warranties.rule_builders import OPEN_TRANSFER, SUSPENDING, YEARLY, day, done, facts, part, terms

CLOSING = "2030-07-01"
CODES = ["allowed", "transfers_left", "told_in_time", "checkup", "in_force", "fee", "seller", "accepted"]
cared_for = facts(checkups=(done("2030-05-14"),))


def request(**changes: Any) -> Request:
    """A request with nothing missing, its days as ISO text."""
    values: dict[str, Any] = {
        "closing_on": CLOSING, "notified_on": CLOSING, "buyer_accepted_on": "2030-07-05",
        "seller_is_owner": True, "fee_paid": True,
    }  # fmt: skip
    values |= changes
    for name in ("closing_on", "notified_on", "buyer_accepted_on"):
        values[name] = day(values[name]) if values[name] else None
    return Request(**values)


def answer(code: str, edition: Terms, record: Facts, asked: Request) -> Requirement:
    return next(one for one in transfer_requirements(edition, record, asked) if one.code == code)


def test_a_complete_request_meets_every_requirement() -> None:
    found = transfer_requirements(terms(), cared_for, request())
    assert [one.code for one in found] == CODES
    assert all(one.met for one in found)
    assert missing(found) == ()


# the last day to tell: 30 days after closing, on to a business day
TOLD = [
    ("2030-07-01", "2030-06-01", True, "2030-07-31"),  # before the closing
    ("2030-07-01", "2030-07-31", True, "2030-07-31"),
    ("2030-07-01", "2030-08-01", False, "2030-07-31"),
    ("2030-07-01", None, False, "2030-07-31"),
    ("2030-07-05", "2030-08-05", True, "2030-08-05"),  # August 4, 2030 is a Sunday
    ("2030-08-03", "2030-09-03", True, "2030-09-03"),  # Labor Day is September 2, 2030
]


@pytest.mark.parametrize(("closing", "told", "met", "by_on"), TOLD)
def test_the_company_is_told_in_time(closing: str, told: str | None, met: bool, by_on: str) -> None:
    found = answer("told_in_time", terms(), cared_for, request(closing_on=closing, notified_on=told))
    assert (found.met, found.by_on) == (met, day(by_on))


# a check-up within 90 days of July 1, 2030: from April 2 through September 30 (September 29 is a Sunday)
CHECKED: list[tuple[list[CheckupDone], bool]] = [
    ([], False),
    ([done("2030-04-01")], False),
    ([done("2030-04-02")], True),
    ([done("2030-07-01")], True),
    ([done("2030-09-30", kind="transfer")], True),
    ([done("2030-10-01", kind="transfer")], False),
    ([done("2030-05-14", passed=False)], False),
    ([done("2030-05-14", by="other")], True),
]


@pytest.mark.parametrize(("checkups", "met"), CHECKED)
def test_a_check_up_has_passed_near_the_closing(checkups: list[CheckupDone], met: bool) -> None:
    found = answer("checkup", terms(), facts(checkups=tuple(checkups)), request())
    assert (found.met, found.by_on) == (met, day("2030-09-30"))


def test_a_check_up_before_the_issue_day_does_not_count() -> None:
    record = facts(checkups=(done("2026-05-13"),))
    assert not answer("checkup", terms(), record, request(closing_on="2026-06-01")).met


def test_another_providers_check_up_counts_for_a_transfer_only_where_the_terms_accept_it() -> None:
    record = facts(checkups=(done("2030-05-14", by="other"),))
    assert not answer("checkup", terms(care=replace(YEARLY, any_provider=False)), record, request()).met
    assert answer("checkup", terms(care=None), record, request()).met


# transfers that happened, the most the terms allow
LEFT: list[tuple[list[str], int | None, bool | None]] = [
    ([], 2, True),
    (["2028-01-01"], 2, True),
    (["2028-01-01", "2029-01-01"], 2, False),
    (["2028-01-01", "2029-01-01", "2029-06-01"], 2, False),
    ([], 0, False),
    (["2028-01-01"], None, None),  # no limit, no requirement
]


@pytest.mark.parametrize(("transfers", "most", "met"), LEFT)
def test_transfers_are_left(transfers: list[str], most: int | None, met: bool | None) -> None:
    edition = terms(transfer=replace(OPEN_TRANSFER, most=most))
    record = facts(transfers=transfers, checkups=cared_for.checkups)
    found = {one.code: one.met for one in transfer_requirements(edition, record, request())}
    assert found.get("transfers_left") is met


NOTHING = ", so there is nothing to carry over."

# what is in force on the closing day
IN_FORCE: list[tuple[Terms, Facts, str, bool, str]] = [
    (terms(), facts(), CLOSING, True, "Cover is in force on July 1, 2030."),
    (terms(), facts(part("battery")), "2029-05-14", True, "Cover is in force on May 14, 2029."),
    (terms(), facts(part("battery")), "2029-05-15", False, f"No promise is in force on May 15, 2029{NOTHING}"),
    (terms(), facts(voided_on="2030-06-30"), CLOSING, False, f"The warranty is void on July 1, 2030{NOTHING}"),
    (
        terms(),
        facts(),
        "2026-05-13",
        False,
        "The warranty starts on May 14, 2026, after the closing; issue it to the buyer.",
    ),
    (
        terms(care=SUSPENDING),
        facts(),
        CLOSING,
        False,
        "Cover is suspended: have a transfer check-up done that passes by July 1, 2030.",
    ),
    (
        terms(care=SUSPENDING),
        facts(checkups=(done(CLOSING, kind="transfer"),)),
        CLOSING,
        True,
        "Cover is in force on July 1, 2030.",
    ),
]


@pytest.mark.parametrize(("edition", "record", "closing", "met", "sentence"), IN_FORCE)
def test_something_is_in_force_on_the_closing_day(
    edition: Terms, record: Facts, closing: str, met: bool, sentence: str
) -> None:
    found = answer("in_force", edition, record, request(closing_on=closing))
    assert (found.met, found.sentence) == (met, sentence)


# one thing missing at a time: what changes, its code, the sentence, whether a manager may let it go
MISSING: list[tuple[dict[str, Any], str, str, bool]] = [
    ({"fee_paid": False}, "fee", "Collect the transfer fee of $150.00 before the certificate is issued.", True),
    (
        {"seller_is_owner": False},
        "seller",
        "The seller is not the owner of record; find out who owns the house and correct the record first.",
        False,
    ),
    (
        {"buyer_accepted_on": None},
        "accepted",
        "Ask the buyer to read the terms and accept them, by link or on paper, before the certificate is issued.",
        False,
    ),
    ({"notified_on": None}, "told_in_time", "Tell us of the sale by July 31, 2030, 30 days after the closing.", True),
    (
        {"notified_on": "2030-08-02"},
        "told_in_time",
        "We were told on August 2, 2030; the last day is July 31, 2030, 30 days after the closing. "
        "It is late: ask the manager whether to let it through.",
        True,
    ),
]


@pytest.mark.parametrize(("changes", "code", "sentence", "waivable"), MISSING)
def test_one_thing_missing_says_what_to_do(changes: dict[str, Any], code: str, sentence: str, waivable: bool) -> None:
    found = transfer_requirements(terms(), cared_for, request(**changes))
    assert [(one.code, one.sentence) for one in missing(found)] == [(code, sentence)]
    assert bool(missing(found, waived=frozenset({code}))) is not waivable


def test_a_missing_check_up_says_until_when() -> None:
    found = answer("checkup", terms(), facts(), request())
    assert found.sentence == (
        "Have a check-up done by September 30, 2030: one that passed within 90 days of the closing on July 1, 2030 "
        "is needed."
    )


# which requirements the terms raise at all
RAISED: list[tuple[dict[str, Any], list[str]]] = [
    ({}, CODES),
    ({"transfer": replace(OPEN_TRANSFER, notice_days=None)}, [code for code in CODES if code != "told_in_time"]),
    ({"transfer": TransferRule(allowed=True)}, ["allowed", "in_force", "seller", "accepted"]),
    ({"transfer": TransferRule(allowed=False, most=2)}, ["allowed", "in_force", "seller", "accepted"]),
    ({"transfer": None}, ["in_force", "seller", "accepted"]),
    # a full warranty restricts no later owner (15 U.S.C. 2304(b)(4), 16 CFR 700.6(b))
    ({"designation": "FULL"}, ["in_force", "seller"]),
]


@pytest.mark.parametrize(("changes", "codes"), RAISED)
def test_only_what_the_terms_ask_is_required(changes: dict[str, Any], codes: list[str]) -> None:
    found = transfer_requirements(terms(**changes), cared_for, request())
    assert [one.code for one in found] == codes


def test_terms_that_do_not_pass_on_cannot_be_carried_over_by_waiving() -> None:
    found = transfer_requirements(terms(transfer=TransferRule(allowed=False)), cared_for, request())
    assert [one.code for one in missing(found, waived=frozenset(CODES))] == ["allowed"]
