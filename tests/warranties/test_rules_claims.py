"""Claims: the decision table, the arithmetic of the share, and the question that only a person can answer."""

from dataclasses import replace
from datetime import date, timedelta
from decimal import ROUND_HALF_EVEN, Decimal
from fractions import Fraction
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from contractor.warranties.rules.claims import (
    Claim,
    Judgement,
    Outcome,
    decide_claim,
    exact_share,
    share_examples,
    to_cents,
)
from contractor.warranties.rules.counting import add_months
from contractor.warranties.rules.facts import Facts
from contractor.warranties.rules.terms import Promise, Terms
from tests.warranties.rule_builders import ISSUED, SUSPENDING, day, done, facts, part, terms, waiver

COVERED, NOT_COVERED, NEEDS_JUDGEMENT = Outcome
NO_CARE = terms(care=None)
ZERO = Decimal(0)


def claim(kind: str, lost_on: str, cost: str = "800.00", cause: str = "worn out", in_on: str | None = None) -> Claim:
    lost = day(lost_on)
    return Claim(
        part_kind=kind, lost_on=lost, reported_on=lost + timedelta(days=2), cost=Decimal(cost), cause=cause,
        in_on=day(in_on) if in_on else None,
    )  # fmt: skip


def judged(caused: bool, evidence: str = "Photo of the dry, corroded battery") -> Judgement:
    return Judgement(
        caused_by_missing_care=caused, evidence=evidence, by="Ruth Adair", on=day("2029-01-15"), because="Plates bare"
    )


# Blischke and Murthy, "Warranty Cost Analysis", 1994, ch. 4 (formulas from memory): a linear rebate
# c (1 - t/W) with c = 8,400 and W = 300, and the combination c (W2 - t)/(W2 - W1) with W1 = 60, W2 = 300.
REBATES = [
    (0, 0, "8400.00"),
    (0, 1, "8372.00"),
    (0, 60, "6720.00"),
    (0, 299, "28.00"),
    (0, 300, "0.00"),
    (60, 24, "8400.00"),
    (60, 60, "8400.00"),
    (60, 180, "4200.00"),
    (60, 299, "35.00"),
    (60, 300, "0.00"),
]


@pytest.mark.parametrize(("full_months", "passed", "rebate"), REBATES)
def test_the_share_is_the_rebate_of_the_literature(full_months: int, passed: int, rebate: str) -> None:
    promise = Promise(part_kind="pit", months=300, full_months=full_months)
    assert to_cents(8400 * exact_share(promise, passed)) == Decimal(rebate)
    lost_on = add_months(day(ISSUED), passed)
    decision = decide_claim(
        terms(care=None, promises=(promise,)), facts(part("pit")), claim("pit", str(lost_on), "8400.00")
    )
    assert (decision.outcome, decision.contractor_pays) == (COVERED, Decimal(rebate))
    assert decision.owner_pays == Decimal("8400.00") - Decimal(rebate)


# kind, day of loss, cost, cause, outcome, company pays, owner pays. The pump: 60 months, full for 36, fee 75.00.
DECIDED: list[tuple[str, str, str, str, Outcome, str, str]] = [
    ("primary_pump", "2026-05-14", "800.00", "worn out", COVERED, "800.00", "75.00"),
    ("primary_pump", "2029-05-13", "800.00", "worn out", COVERED, "800.00", "75.00"),
    ("primary_pump", "2029-05-14", "800.00", "worn out", COVERED, "800.00", "75.00"),  # month 36: 24 of 24 left
    ("primary_pump", "2029-06-14", "800.00", "worn out", COVERED, "766.67", "108.33"),  # 23 of 24
    ("primary_pump", "2030-05-14", "800.00", "worn out", COVERED, "400.00", "475.00"),  # 12 of 24
    ("primary_pump", "2031-05-13", "800.00", "worn out", COVERED, "33.33", "841.67"),  # 1 of 24
    ("primary_pump", "2031-05-14", "800.00", "worn out", COVERED, "0.00", "875.00"),  # the last day: nothing left
    ("primary_pump", "2031-05-15", "800.00", "worn out", NOT_COVERED, "0.00", "800.00"),
    ("primary_pump", "2026-05-13", "800.00", "worn out", NOT_COVERED, "0.00", "800.00"),
    ("primary_pump", "2027-05-14", "800.00", "flood", NOT_COVERED, "0.00", "800.00"),
    ("primary_pump", "2027-05-14", "0.00", "worn out", COVERED, "0.00", "75.00"),
    ("channel", "2066-05-14", "1234.56", "worn out", COVERED, "1234.56", "0.00"),  # a life: all of it
    ("channel", "2066-05-14", "1234.56", "flood", NOT_COVERED, "0.00", "1234.56"),
    ("pit", "2051-05-14", "900.00", "worn out", COVERED, "900.00", "0.00"),  # no falling share
    ("battery", "2027-05-13", "310.00", "worn out", COVERED, "310.00", "0.00"),
    ("battery", "2027-06-14", "310.00", "worn out", COVERED, "297.08", "12.92"),  # 23 of 24
    ("charger", "2027-06-14", "90.00", "worn out", NOT_COVERED, "0.00", "90.00"),  # no promise
    # half a cent goes to the even cent: 0.05 x 1/2 = 0.025 and 0.15 x 1/2 = 0.075
    ("primary_pump", "2030-05-14", "0.05", "worn out", COVERED, "0.02", "75.03"),
    ("primary_pump", "2030-05-14", "0.15", "worn out", COVERED, "0.08", "75.07"),
]


@pytest.mark.parametrize(("kind", "lost_on", "cost", "cause", "outcome", "company", "owner"), DECIDED)
def test_a_claim_is_decided_from_the_record(
    kind: str, lost_on: str, cost: str, cause: str, outcome: Outcome, company: str, owner: str
) -> None:
    decision = decide_claim(NO_CARE, facts(), claim(kind, lost_on, cost, cause))
    assert decision.outcome is outcome
    assert (decision.contractor_pays, decision.owner_pays) == (Decimal(company), Decimal(owner))
    assert decision.question == ""


def test_a_full_warranty_charges_no_call_out_fee() -> None:
    """15 U.S.C. 2304(d): no cost of the remedy may be passed on."""
    decision = decide_claim(terms(care=None, designation="FULL"), facts(), claim("primary_pump", "2027-01-01"))
    assert (decision.callout_fee, decision.owner_pays, decision.contractor_pays) == (ZERO, ZERO, Decimal("800.00"))


# Cover that does not hold on the day of loss
UNCOVERED: list[tuple[Terms, Facts, str, str, str]] = [
    (NO_CARE, facts(voided_on="2028-01-01"), "pit", "2028-01-01", "The warranty was void on that day."),
    (terms(care=SUSPENDING), facts(), "pit", "2027-06-14", "Cover was suspended on that day."),
    (NO_CARE, facts(part("pit", "2027-01-01")), "pit", "2026-12-31", "No pit was in place on that day."),
    (NO_CARE, facts(part("pit")), "battery", "2026-12-31", "No battery was in place on that day."),
    (NO_CARE, facts(part("pit", out_on="2027-01-01")), "pit", "2027-01-02", "No pit was in place on that day."),
    (NO_CARE, facts(part("pit", "2026-05-01")), "pit", "2026-05-10", "Cover had not started on that day."),
    (
        terms(care=None, transfer=None),
        facts(transfers=["2030-01-01"]),
        "liner",
        "2030-01-01",
        "Cover had ended by that day.",
    ),
    (NO_CARE, facts(transfers=["2030-01-01"]), "channel", "2040-01-02", "Cover had ended by that day."),
    (NO_CARE, facts(), "charger", "2027-01-01", "The terms make no promise for the charger."),
]


@pytest.mark.parametrize(("edition", "record", "kind", "lost_on", "line"), UNCOVERED)
def test_without_cover_on_the_day_of_loss_the_owner_pays_the_repair(
    edition: Terms, record: Facts, kind: str, lost_on: str, line: str
) -> None:
    decision = decide_claim(edition, record, claim(kind, lost_on))
    assert decision.outcome is NOT_COVERED
    assert line in decision.lines
    assert (decision.owner_pays, decision.contractor_pays, decision.callout_fee) == (Decimal("800.00"), ZERO, ZERO)


def test_after_a_transfer_a_life_still_bears_all_of_a_repair() -> None:
    decision = decide_claim(NO_CARE, facts(transfers=["2030-01-01"]), claim("channel", "2040-01-01"))
    assert (decision.outcome, decision.contractor_pays) == (COVERED, Decimal("800.00"))


# Care with a gap: edition is the one that judges. The first grace ends on June 13, 2027.
late = facts(checkups=(done("2027-07-01"),))
GAPS: list[tuple[Facts, str, str, Judgement | None, Outcome, str]] = [
    (facts(), "primary_pump", "2027-06-13", None, COVERED, "800.00"),  # still in grace
    (facts(), "primary_pump", "2027-06-14", None, NEEDS_JUDGEMENT, "800.00"),
    (facts(), "primary_pump", "2027-06-14", judged(False), COVERED, "800.00"),
    (facts(), "primary_pump", "2027-06-14", judged(True), NOT_COVERED, "0.00"),
    (facts(), "primary_pump", "2027-06-14", judged(True, evidence=" "), COVERED, "800.00"),  # no proof
    (late, "primary_pump", "2028-01-01", None, NEEDS_JUDGEMENT, "800.00"),  # the record of the gap stays
    (late, "primary_pump", "2028-01-01", judged(True), NOT_COVERED, "0.00"),
    (late, "primary_pump", "2027-06-13", None, COVERED, "800.00"),  # before the gap
    (facts(waivers=(waiver("2027-05-01", "2029-01-01"),)), "primary_pump", "2028-06-01", None, COVERED, "800.00"),
    (facts(checkups=(done("2027-05-01"),)), "primary_pump", "2028-01-01", None, COVERED, "800.00"),
    # a part put in after the gap was not there when care was missing
    (
        facts(part("battery", "2027-07-01"), checkups=(done("2027-07-01"),)),
        "battery",
        "2028-01-01",
        None,
        COVERED,
        "800.00",
    ),
    (
        facts(part("battery", "2027-06-30"), checkups=(done("2027-07-01"),)),
        "battery",
        "2028-01-01",
        None,
        NEEDS_JUDGEMENT,
        "800.00",
    ),
]


@pytest.mark.parametrize(("record", "kind", "lost_on", "judgement", "outcome", "company"), GAPS)
def test_after_a_gap_a_person_says_whether_the_missing_care_caused_the_loss(
    record: Facts, kind: str, lost_on: str, judgement: Judgement | None, outcome: Outcome, company: str
) -> None:
    decision = decide_claim(terms(), record, claim(kind, lost_on), judgement)
    assert (decision.outcome, decision.contractor_pays) == (outcome, Decimal(company))
    assert bool(decision.question) is (outcome is NEEDS_JUDGEMENT)


def test_no_judgement_is_asked_for_where_the_loss_is_excluded_anyway() -> None:
    decision = decide_claim(terms(), facts(), claim("primary_pump", "2028-01-01", cause="flood"))
    assert (decision.outcome, decision.question) == (NOT_COVERED, "")


def test_a_judgement_without_a_gap_changes_nothing() -> None:
    decision = decide_claim(terms(), facts(), claim("primary_pump", "2027-01-01"), judged(True))
    assert decision.outcome is COVERED


def test_the_question_names_the_days_and_the_rule() -> None:
    decision = decide_claim(terms(), facts(), claim("primary_pump", "2027-06-20"))
    assert decision.question == (
        "The check-up was missing for 7 days. Did the missing care cause the failure of the primary pump? "
        "Without evidence that it did, the loss is covered."
    )
    assert "The figures below hold if the question is answered in the owner's favor." in decision.lines


# Several components of a kind: two batteries with terms of their own
swapped = facts(part("battery", out_on="2028-06-14"), part("battery", "2028-06-14"))
pair = facts(part("battery"), part("battery", "2028-01-01"))
SEVERAL: list[tuple[Facts, str, str | None, Outcome, str]] = [
    (pair, "2027-12-31", None, COVERED, "566.67"),  # the second one was not there yet: 17 of 24
    (pair, "2028-06-14", None, NEEDS_JUDGEMENT, "800.00"),  # the figures are the better ones for the owner
    (pair, "2028-06-14", ISSUED, COVERED, "366.67"),  # 11 of 24
    (pair, "2028-06-14", "2028-01-01", COVERED, "800.00"),
    (pair, "2030-01-01", None, NEEDS_JUDGEMENT, "400.00"),  # one ended, one with 12 of 24
    (pair, "2030-01-01", ISSUED, NOT_COVERED, "0.00"),
    (pair, "2032-01-01", None, NOT_COVERED, "0.00"),  # both ended: no question
    (pair, "2028-06-14", "2028-01-02", NOT_COVERED, "0.00"),  # no such component
    # on the day of the swap the old one failed, and it was covered through that day
    (swapped, "2028-06-14", None, COVERED, "366.67"),
    (swapped, "2028-06-15", None, COVERED, "800.00"),
    (facts(part("battery"), part("battery")), "2027-07-14", None, COVERED, "733.33"),  # alike: 22 of 24
    (facts(part("battery")), ISSUED, None, COVERED, "800.00"),  # failed on the day it went in
]


@pytest.mark.parametrize(("record", "lost_on", "in_on", "outcome", "company"), SEVERAL)
def test_the_part_that_failed_decides(
    record: Facts, lost_on: str, in_on: str | None, outcome: Outcome, company: str
) -> None:
    decision = decide_claim(NO_CARE, record, claim("battery", lost_on, in_on=in_on))
    assert (decision.outcome, decision.contractor_pays) == (outcome, Decimal(company))


def test_the_question_which_part_failed_names_both() -> None:
    decision = decide_claim(NO_CARE, pair, claim("battery", "2028-06-14"))
    assert decision.question == "Which battery failed: the one put in on May 14, 2026 or January 1, 2028?"


def test_the_lines_show_the_arithmetic_in_words() -> None:
    decision = decide_claim(NO_CARE, facts(), claim("primary_pump", "2030-05-14", "1250.50"))
    assert decision.lines == (
        "The loss happened on May 14, 2030 and was reported 2 days later.",
        "The promise for the primary pump runs through and including May 14, 2031: 60 months from May 14, 2026.",
        "Cover was in force on that day.",
        "48 full months had passed since May 14, 2026. From month 36 to month 60 the company's share falls evenly to "
        "nothing: 12 of 24 months are left, so the company bears 50.00 %.",
        "Repair $1,250.50: the company pays $625.25, the owner $625.25.",
        "The owner also pays the call-out fee of $75.00.",
    )
    assert decision.contractor_share == Decimal("0.500000")


def test_under_canadian_terms_the_amounts_name_the_currency() -> None:
    canadian = replace(NO_CARE, jurisdiction="CA")
    decision = decide_claim(canadian, facts(), claim("primary_pump", "2030-05-14", "1250.50"))
    assert decision.lines[-2:] == (
        "Repair CA$1,250.50: the company pays CA$625.25, the owner CA$625.25.",
        "The owner also pays the call-out fee of CA$75.00.",
    )


def test_a_judgement_stands_in_the_lines_with_name_day_reason_and_evidence() -> None:
    decision = decide_claim(terms(), facts(), claim("battery", "2027-06-20"), judged(True))
    assert (
        "Ruth Adair on January 15, 2029: the missing care caused the loss. Plates bare. "
        "Evidence: Photo of the dry, corroded battery." in decision.lines
    )


@given(
    cents=st.integers(min_value=0, max_value=10_000_000),
    lost_after=st.integers(min_value=-30, max_value=4000),
    months=st.integers(min_value=2, max_value=120),
    full=st.integers(min_value=0, max_value=119) | st.none(),
    fee=st.integers(min_value=0, max_value=20_000),
)
def test_both_payments_add_up_exactly_and_each_is_the_rounded_exact_share(
    cents: int, lost_after: int, months: int, full: int | None, fee: int
) -> None:
    promise = Promise(
        part_kind="pit", months=months, full_months=None if full is None else full % months,
        callout_fee=Decimal(fee) / 100,
    )  # fmt: skip
    lost_on = day(ISSUED) + timedelta(days=lost_after)
    cost = Decimal(cents) / 100
    decision = decide_claim(
        terms(care=None, promises=(promise,)), facts(part("pit")), claim("pit", str(lost_on), str(cost))
    )
    assert decision.owner_pays + decision.contractor_pays == cost + decision.callout_fee
    assert 0 <= decision.contractor_pays <= cost
    for amount in (decision.owner_pays, decision.contractor_pays):
        assert amount == amount.quantize(Decimal("0.01"))
    assert abs(decision.contractor_pays - cost * decision.contractor_share) <= Decimal("0.06")


@given(months=st.integers(min_value=2, max_value=400), full=st.integers(min_value=0, max_value=399))
def test_the_share_starts_whole_never_rises_and_ends_at_nothing(months: int, full: int) -> None:
    promise = Promise(part_kind="pit", months=months, full_months=full % months)
    shares = [exact_share(promise, passed) for passed in range(months + 3)]
    assert shares[0] == 1
    assert shares[months] == shares[months + 2] == 0
    assert all(before >= after for before, after in pairwise(shares))


@given(numerator=st.integers(min_value=0, max_value=10**9), denominator=st.integers(min_value=1, max_value=10**4))
def test_cents_are_rounded_half_even_like_the_decimal_module_does(numerator: int, denominator: int) -> None:
    exact = Fraction(numerator, denominator)
    # A hundred digits are more than enough to tell any of these fractions from a half.
    scaled = Decimal(numerator * 10**100 // denominator).scaleb(-100)
    if exact * 10**100 == numerator * 10**100 // denominator:
        assert to_cents(exact) == scaled.quantize(Decimal("0.01"), rounding=ROUND_HALF_EVEN)
    else:
        assert abs(to_cents(exact) - scaled) <= Decimal("0.005")


def test_the_examples_printed_in_the_terms_lie_on_the_line() -> None:
    promise = Promise(part_kind="pit", months=300, full_months=60)
    assert share_examples(promise) == ((60, Fraction(1)), (180, Fraction(1, 2)), (299, Fraction(1, 240)))
    assert share_examples(Promise(part_kind="pit", months=300)) == ()
    assert share_examples(Promise(part_kind="pit", months=2, full_months=1)) == ((1, Fraction(1)),)


IMPOSSIBLE: list[tuple[dict[str, Any], str]] = [
    ({"cost": Decimal("-1.00")}, "zero or more"),
    ({"cost": Decimal("1.005")}, "whole cents"),
    ({"reported_on": date(2026, 12, 31)}, "before it happened"),
]


@pytest.mark.parametrize(("changes", "message"), IMPOSSIBLE)
def test_a_claim_refuses_what_cannot_be(changes: dict[str, Any], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        replace(claim("pit", "2027-01-01"), **changes)


@pytest.mark.parametrize("changes", [{"by": " "}, {"because": ""}])
def test_a_judgement_needs_a_name_and_a_reason(changes: dict[str, Any]) -> None:
    with pytest.raises(ValueError, match="needs the name"):
        replace(judged(True), **changes)


def test_the_words_for_outcomes_read_as_people_say_them() -> None:
    assert [outcome.word for outcome in Outcome] == ["covered", "not covered", "needs a judgement"]
