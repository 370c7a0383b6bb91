"""Appeals: the last day, and that a second decision takes nothing away. And which clause a decision rests on."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from contractor.warranties.rules.appeals import is_in_time, last_day_to_appeal, leaves_worse_off
from contractor.warranties.rules.claim_clauses import clauses_relied_on
from contractor.warranties.rules.claims import Claim, Ground, Judgement, Outcome, decide_claim
from contractor.warranties.rules.facts import Facts
from contractor.warranties.rules.plain_data import terms_from_data
from contractor.warranties.rules.terms import Terms
from tests.warranties.factories import terms_data
from tests.warranties.rule_builders import ISSUED, day, facts, part

# Sixty days (common practice, no source), the first one excluded; what falls on a Saturday, Sunday or federal holiday
# runs to the next business day (N.Y. General Construction Law 25-a). Weekdays and holidays from the calendar of the
# U.S. Office of Personnel Management, from memory: July 3, 2026 is the day on which Independence Day is observed.
LAST_DAYS = [
    (date(2026, 3, 2), date(2026, 5, 1)),  # a Friday
    (date(2026, 3, 3), date(2026, 5, 4)),  # Saturday, May 2, to Monday
    (date(2026, 5, 4), date(2026, 7, 6)),  # Friday, July 3, is observed; then a weekend
    (date(2026, 9, 27), date(2026, 11, 27)),  # Thursday, November 26, is Thanksgiving
]


@pytest.mark.parametrize(("told_on", "last_on"), LAST_DAYS)
def test_an_appeal_is_in_time_through_its_last_day(told_on: date, last_on: date) -> None:
    assert last_day_to_appeal(told_on) == last_on
    assert is_in_time(told_on=told_on, received_on=last_on)
    assert not is_in_time(told_on=told_on, received_on=last_on + timedelta(days=1))


@given(st.dates(date(2020, 1, 1), date(2060, 1, 1)))
def test_nobody_has_less_than_sixty_days_or_much_more(told_on: date) -> None:
    # The longest run of days that are no business days is four: a weekend and holidays beside it.
    assert 60 <= (last_day_to_appeal(told_on) - told_on).days <= 64


@pytest.mark.parametrize(
    ("first", "second", "is_worse"),
    [("0", "0", False), ("0", "1", False), ("0.5", "0.5", False), ("0.5", "0.499999", True), ("1", "0", True)],
)
def test_a_second_decision_may_not_take_anything_away(first: str, second: str, is_worse: bool) -> None:
    assert leaves_worse_off(first_share=Decimal(first), second_share=Decimal(second)) is is_worse


def shipped(**changes: object) -> Terms:
    return terms_from_data(terms_data(**changes))


def decided(facts_then: Facts, claim: Claim, judgement: Judgement | None = None) -> tuple[Ground, list[str], list[str]]:
    """The ground, and headings and words of the clauses."""
    terms = shipped()
    decision = decide_claim(terms, facts_then, claim, judgement)
    clauses = clauses_relied_on(terms, claim, decision)
    return decision.ground, [one.heading for one in clauses], [one.words for one in clauses]


def claimed(kind: str, lost_on: date, cause: str = "part_failed") -> Claim:
    return Claim(part_kind=kind, lost_on=lost_on, reported_on=lost_on, cost=Decimal(500), cause=cause)


IN_TIME = day(ISSUED) + timedelta(days=200)
MANY_YEARS_ON = day(ISSUED) + timedelta(days=365 * 40)
# What happened -> the ground, and the first clause that the letter names.
GROUNDS = [
    (claimed("pit", IN_TIME), Ground.PROMISE, "The promise for the pit"),
    (claimed("pit", IN_TIME, "flood"), Ground.EXCLUSION, "What is not covered"),
    (claimed("pit", MANY_YEARS_ON), Ground.COVER, "The promise for the pit"),
    (claimed("standby_pump", IN_TIME), Ground.NO_PART, "The promise for the standby pump"),
]


@pytest.mark.parametrize(("claim", "ground", "heading"), GROUNDS)
def test_every_decision_names_the_clause_it_rests_on(claim: Claim, ground: Ground, heading: str) -> None:
    found, headings, words = decided(facts(part("pit")), claim)
    assert (found, headings[0]) == (ground, heading)
    assert all(words)


def test_a_void_warranty_names_the_clause_by_which_it_is_void() -> None:
    terms, claim = shipped(), claimed("pit", IN_TIME)
    decision = decide_claim(terms, facts(part("pit"), voided_on=ISSUED), claim)
    first, _ = clauses_relied_on(terms, claim, decision, voided_clause="Section 3")
    assert (first.heading, first.words) == ("The clause by which it is void", "Section 3")
    assert decision.ground is Ground.COVER


def test_an_exclusion_is_quoted_word_for_word() -> None:
    _, _, words = decided(facts(part("pit")), claimed("pit", IN_TIME, "flood"))
    assert words[0] == "A flood of a river, a lake or the street, and water that backs up from a sewer."


def test_missing_care_is_refused_by_the_clause_on_care_and_the_law_beside_it() -> None:
    late = day(ISSUED) + timedelta(days=900)
    judgement = Judgement(
        caused_by_missing_care=True, evidence="Photo", by="Ruth Adair", on=late, because="Silt up to the float"
    )
    ground, headings, words = decided(facts(part("pit")), claimed("pit", late), judgement)
    assert (ground, headings[0]) == (Ground.MISSING_CARE, "The yearly check-up")
    assert "A missed check-up does not end this warranty." in words[0]
    assert "15 U.S.C. 2304(c), 16 CFR 700.10(c)" in words[0]


def test_a_kind_that_is_not_promised_names_what_is() -> None:
    terms = shipped(promises=[one for one in terms_data()["promises"] if one["part_kind"] in {"pit", "battery"}])
    claim = claimed("liner", IN_TIME)
    decision = decide_claim(terms, facts(part("liner")), claim)
    assert (decision.ground, decision.outcome) == (Ground.NO_PROMISE, Outcome.NOT_COVERED)
    [clause] = clauses_relied_on(terms, claim, decision)
    assert clause.words == "The terms make promises for: pit and battery. No other part is named."


def test_a_share_that_falls_and_the_fee_stand_in_the_promise() -> None:
    _, headings, words = decided(facts(part("primary_pump")), claimed("primary_pump", IN_TIME))
    assert headings == ["The promise for the primary pump", "What we do, and who pays"]
    assert "It holds for 60 months from the day of issue." in words[0]
    assert "We bear all of a repair for the first 36 months" in words[0]
    assert "The call-out fee is $75.00." in words[0]
