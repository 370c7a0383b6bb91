"""What may be booked on a claim and what is still to come of it: tables of cases, no database."""

from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from contractor.core.errors import Refusal
from contractor.warranties import cost_errors as no
from contractor.warranties.errors import DayAhead, ReasonNeeded
from contractor.warranties.rules.claim_costs import (
    GOODWILL_WORDS,
    ClaimMoney,
    Entry,
    cautions,
    refuse_booking,
    refuse_goodwill,
    refuse_taking_back,
    refuse_undoing,
)

REPORTED, TODAY, CLOSED = date(2026, 1, 5), date(2026, 5, 4), date(2025, 12, 31)
COVERED = ClaimMoney(is_decided=True, reported_on=REPORTED, decided=Decimal("500.00"))
REFUSED = ClaimMoney(is_decided=True, reported_on=REPORTED)
GIVEN = replace(REFUSED, goodwill=Decimal("120.00"))
OPEN = ClaimMoney(is_decided=False, reported_on=REPORTED)
HOURS = Entry(on=TODAY, amount=Decimal("144.00"), note="3 h")

# Which claim, what is booked on it, and the sentence's class, or None where it is booked.
BOOKINGS: list[tuple[str, ClaimMoney, Entry, type[Refusal] | None]] = [
    ("a covered claim", COVERED, HOURS, None),
    ("more than was decided", COVERED, replace(HOURS, amount=Decimal("900.00")), None),
    ("on the day of the report", COVERED, replace(HOURS, on=REPORTED), None),
    ("nothing, as the last", COVERED, replace(HOURS, amount=Decimal("0.00"), is_last=True), None),
    ("goodwill on a refused claim", GIVEN, replace(HOURS, is_goodwill=True), None),
    ("before the decision", OPEN, HOURS, no.CostBeforeDecision),
    ("a refused claim", REFUSED, HOURS, no.NothingToBook),
    ("a refused claim with goodwill, as if covered", GIVEN, HOURS, no.NothingToBook),
    ("goodwill that nobody gave", COVERED, replace(HOURS, is_goodwill=True), no.NoGoodwillGiven),
    ("a tenth of a cent", COVERED, replace(HOURS, amount=Decimal("1.001")), no.AmountNotExact),
    ("less than nothing", COVERED, replace(HOURS, amount=Decimal("-1.00")), no.AmountNeeded),
    ("nothing, and more to come", COVERED, replace(HOURS, amount=Decimal("0.00")), no.NothingIsLastOnly),
    ("without a word", COVERED, replace(HOURS, note="  "), no.NoteNeeded),
    ("the day before the report", COVERED, replace(HOURS, on=date(2026, 1, 4)), no.BookedBeforeReport),
    ("tomorrow", COVERED, replace(HOURS, on=date(2026, 5, 5)), DayAhead),
    (
        "in a closed year",
        replace(COVERED, reported_on=date(2025, 12, 1)),
        replace(HOURS, on=CLOSED),
        no.BookedInClosedYear,
    ),
]


@pytest.mark.parametrize(("claim", "entry", "refusal"), [case[1:] for case in BOOKINGS], ids=[c[0] for c in BOOKINGS])
def test_what_may_be_booked(claim: ClaimMoney, entry: Entry, refusal: type[Refusal] | None) -> None:
    if refusal is None:
        refuse_booking(claim, entry, closed_through_on=CLOSED, today=TODAY)
        return
    with pytest.raises(refusal):
        refuse_booking(claim, entry, closed_through_on=CLOSED, today=TODAY)


def test_a_closed_year_says_from_when_on_it_can_be_booked() -> None:
    early = replace(COVERED, reported_on=date(2025, 1, 1))
    with pytest.raises(no.BookedInClosedYear, match="Book it on January 1, 2026 or later"):
        refuse_booking(early, replace(HOURS, on=date(2025, 6, 1)), closed_through_on=CLOSED, today=TODAY)
    refuse_booking(early, replace(HOURS, on=date(2026, 1, 1)), closed_through_on=CLOSED, today=TODAY)
    refuse_booking(early, replace(HOURS, on=date(2025, 6, 1)), closed_through_on=None, today=TODAY)


BOOKED = replace(HOURS, on=date(2026, 2, 1))
UNDOINGS: list[tuple[str, Entry, date, str, type[Refusal] | None]] = [
    ("later", BOOKED, TODAY, "Wrong claim", None),
    ("the same day", BOOKED, date(2026, 2, 1), "Wrong claim", None),
    ("a cost of a closed year, today", replace(BOOKED, on=CLOSED), TODAY, "Wrong claim", None),
    ("a counter-entry", replace(BOOKED, is_counter=True), TODAY, "Wrong claim", no.CounterEntryStays),
    ("twice", replace(BOOKED, is_undone=True), TODAY, "Wrong claim", no.UndoneAlready),
    ("without a reason", BOOKED, TODAY, " ", ReasonNeeded),
    ("the day before", BOOKED, date(2026, 1, 31), "Wrong claim", no.UndoneBeforeBooked),
    ("tomorrow", BOOKED, date(2026, 5, 5), "Wrong claim", DayAhead),
    ("in a closed year", replace(BOOKED, on=CLOSED), CLOSED, "Wrong claim", no.BookedInClosedYear),
]


@pytest.mark.parametrize(
    ("entry", "on", "because", "refusal"), [case[1:] for case in UNDOINGS], ids=[case[0] for case in UNDOINGS]
)
def test_what_a_counter_entry_may_undo(entry: Entry, on: date, because: str, refusal: type[Refusal] | None) -> None:
    if refusal is None:
        refuse_undoing(entry, on=on, because=because, closed_through_on=CLOSED, today=TODAY)
        return
    with pytest.raises(refusal):
        refuse_undoing(entry, on=on, because=because, closed_through_on=CLOSED, today=TODAY)


@pytest.mark.parametrize(
    ("claim", "amount", "because", "refusal"),
    [
        (REFUSED, "80.00", "A customer for 20 years", None),
        (COVERED, "80.00", "The carpet, which the terms leave out", None),
        (OPEN, "80.00", "A customer for 20 years", no.GoodwillBeforeDecision),
        (REFUSED, "0.00", "A customer for 20 years", no.AmountNeeded),
        (REFUSED, "-5.00", "A customer for 20 years", no.AmountNeeded),
        (REFUSED, "80.005", "A customer for 20 years", no.AmountNotExact),
        (REFUSED, "80.00", "", ReasonNeeded),
    ],
)
def test_what_may_be_given_as_goodwill(
    claim: ClaimMoney, amount: str, because: str, refusal: type[Refusal] | None
) -> None:
    if refusal is None:
        refuse_goodwill(claim, amount=Decimal(amount), because=because)
        return
    with pytest.raises(refusal):
        refuse_goodwill(claim, amount=Decimal(amount), because=because)


@pytest.mark.parametrize(
    ("booked", "because", "is_counter", "is_undone", "refusal"),
    [
        ("0.00", "Given twice", False, False, None),
        ("20.00", "Given twice", False, False, no.GoodwillSpent),
        ("0.00", "Given twice", True, False, no.CounterEntryStays),
        ("0.00", "Given twice", False, True, no.UndoneAlready),
        ("0.00", "", False, False, ReasonNeeded),
    ],
)
def test_goodwill_is_taken_back_only_while_none_of_it_is_spent(
    booked: str, because: str, is_counter: bool, is_undone: bool, refusal: type[Refusal] | None
) -> None:
    claim = replace(GIVEN, booked_goodwill=Decimal(booked))
    entry = {"because": because, "is_counter": is_counter, "is_undone": is_undone}
    if refusal is None:
        refuse_taking_back(claim, amount=Decimal("120.00"), **entry)  # type: ignore[arg-type]
        return
    with pytest.raises(refusal):
        refuse_taking_back(claim, amount=Decimal("120.00"), **entry)  # type: ignore[arg-type]


def test_goodwill_says_that_it_admits_nothing_and_changes_no_warranty() -> None:
    assert "no admission" in GOODWILL_WORDS
    assert "changes nothing in the written warranty" in GOODWILL_WORDS
    assert "rights under the law stay" in GOODWILL_WORDS


def test_what_is_booked_above_the_decision_is_a_caution() -> None:
    assert cautions(replace(COVERED, booked_decided=Decimal("500.00"))) == ()
    [sentence] = cautions(replace(COVERED, booked_decided=Decimal("612.50")))
    assert "$612.50 is booked, $112.50 more than the $500.00 that the decision says" in sentence
    [sentence] = cautions(replace(GIVEN, booked_goodwill=Decimal("121.00")))
    assert "$1.00 more than the $120.00 that was given as goodwill" in sentence


cents = st.decimals(min_value=0, max_value=10**6, places=2)


@given(cents, cents, cents, cents)
def test_what_is_to_come_is_never_less_than_nothing_and_never_more_than_was_said(
    decided: Decimal, goodwill: Decimal, booked: Decimal, booked_goodwill: Decimal
) -> None:
    claim = replace(
        COVERED, decided=decided, goodwill=goodwill, booked_decided=booked, booked_goodwill=booked_goodwill
    )
    assert 0 <= claim.to_come <= decided + goodwill
    assert claim.to_come + claim.booked >= decided + goodwill
    assert replace(claim, is_finished=True).to_come == 0
    over = max(booked - decided, Decimal(0)) + max(booked_goodwill - goodwill, Decimal(0))
    assert claim.to_come + claim.booked == decided + goodwill + over
