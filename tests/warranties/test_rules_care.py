"""The care clock: issue on May 14, 2026, a check-up every 12 months, 60 days early, 30 days of grace."""

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest

from contractor.warranties.rules.care import Care, care_changes, care_on
from contractor.warranties.rules.facts import CheckupDone, Waiver
from contractor.warranties.rules.terms import CareRule
from tests.warranties.rule_builders import YEARLY, day, done, facts, waiver

# First due day May 14, 2027: the window opens on March 15 and the grace ends on June 13.
STATES = [
    ("2026-05-13", Care.NOT_ASKED),  # the day before issue
    ("2026-05-14", Care.CURRENT),
    ("2027-03-14", Care.CURRENT),
    ("2027-03-15", Care.DUE),  # due day less 60
    ("2027-05-14", Care.DUE),
    ("2027-05-15", Care.IN_GRACE),
    ("2027-06-13", Care.IN_GRACE),  # due day plus 30
    ("2027-06-14", Care.GAP),
    ("2030-01-01", Care.GAP),
]


@pytest.mark.parametrize(("on", "care"), STATES)
def test_without_a_check_up_care_falls_due_then_into_grace_then_into_a_gap(on: str, care: Care) -> None:
    assert care_on(YEARLY, facts(), day(on)).care is care


# check-ups done, then the due day that follows the last of them
NEXT_DUE: list[tuple[list[CheckupDone], str]] = [
    ([], "2027-05-14"),
    # inside the window: the next day of the anchor's series, no drift
    ([done("2027-05-14")], "2028-05-14"),
    ([done("2027-03-15")], "2028-05-14"),
    ([done("2027-06-13")], "2028-05-14"),
    ([done("2027-03-15"), done("2028-06-13")], "2029-05-14"),
    ([done("2027-06-13"), done("2028-06-13"), done("2029-06-13")], "2030-05-14"),
    # before the window: the later of the due day and a year after the check-up, the series counted from there
    ([done("2026-06-01")], "2027-06-01"),
    ([done("2027-03-14")], "2028-03-14"),
    ([done("2027-03-14"), done("2028-03-20")], "2029-03-14"),
    ([done("2026-05-14")], "2027-05-14"),  # on the issue day
    ([done("2027-03-15"), done("2027-03-20"), done("2028-03-14")], "2029-03-14"),
    ([done("2026-09-01"), done("2027-10-01")], "2028-09-01"),  # in the grace of the moved series
    # after the grace: again from the check-up
    ([done("2027-06-14")], "2028-06-14"),
    ([done("2029-02-03")], "2030-02-03"),
    ([done("2029-02-03"), done("2030-01-10")], "2031-02-03"),
    ([done("2027-06-14"), done("2028-07-14")], "2029-06-14"),
    # two on one day, or a second soon after
    ([done("2027-05-14"), done("2027-05-14", by="other")], "2028-05-14"),
    ([done("2027-06-10"), done("2027-06-20")], "2028-06-20"),
    # an early one more must not take away what the regular one gives
    ([done("2026-10-01"), done("2027-03-20")], "2028-05-14"),
    # what does not count
    ([done("2027-05-14", passed=False)], "2027-05-14"),
    ([done("2026-05-01")], "2027-05-14"),  # before issue
    ([done("2027-05-14", kind="transfer")], "2028-05-14"),
    ([done("2027-05-14", by="other")], "2028-05-14"),
]


@pytest.mark.parametrize(("checkups", "due"), NEXT_DUE)
def test_the_next_due_day_follows_the_check_ups(checkups: list[CheckupDone], due: str) -> None:
    last = max((one.on for one in checkups), default=day("2026-05-14"))
    answer = care_on(YEARLY, facts(checkups=tuple(checkups)), max(last, day("2026-05-14")))
    assert answer.due_on == day(due)


# anchor, months, check-ups, due day: a series is counted from its anchor
SERIES: list[tuple[str, int, list[str], str]] = [
    ("2026-01-31", 1, [], "2026-02-28"),
    ("2026-01-31", 1, ["2026-02-28"], "2026-03-31"),
    ("2026-01-31", 1, ["2026-02-28", "2026-03-31"], "2026-04-30"),
    ("2024-02-29", 12, [], "2025-02-28"),
    ("2024-02-29", 12, ["2025-02-28", "2026-02-28", "2027-02-28"], "2028-02-29"),
    ("2026-08-31", 6, ["2027-02-28"], "2027-08-31"),
    # moved by an early check-up: counted from the moved due day, here the last of February
    ("2027-05-14", 12, ["2028-02-29", "2029-02-28", "2030-02-28", "2031-02-28"], "2032-02-28"),
    ("2026-08-31", 6, ["2026-08-31", "2027-02-28"], "2027-08-31"),  # early and no later: the series stays
]


@pytest.mark.parametrize(("issued", "months", "checkups", "due"), SERIES)
def test_due_days_are_counted_from_the_anchor(issued: str, months: int, checkups: list[str], due: str) -> None:
    rule = CareRule(every_months=months, early_days=5, grace_days=5, charge=Decimal(0), any_provider=True)
    record = facts(issued_on=issued, checkups=tuple(done(one) for one in checkups))
    assert care_on(rule, record, day(checkups[-1] if checkups else issued)).due_on == day(due)


def test_without_a_care_rule_nothing_is_asked() -> None:
    answer = care_on(None, facts(), day("2030-01-01"))
    assert (answer.care, answer.due_on, answer.gaps) == (Care.NOT_ASKED, None, ())
    assert care_changes(None, facts(), day("2030-01-01")) == ()


def test_another_providers_check_up_counts_only_where_the_terms_accept_it() -> None:
    record = facts(checkups=(done("2027-05-14", by="other"),))
    ours_alone = replace(YEARLY, any_provider=False, charge=Decimal(0))
    assert care_on(YEARLY, record, day("2027-06-20")).care is Care.CURRENT
    assert care_on(ours_alone, record, day("2027-06-20")).care is Care.GAP


def test_a_check_up_counts_from_its_own_day_and_not_before() -> None:
    record = facts(checkups=(done("2027-06-20"),))
    assert care_on(YEARLY, record, day("2027-06-19")).care is Care.GAP
    assert care_on(YEARLY, record, day("2027-06-20")).care is Care.CURRENT


# what the record says of gaps, as (first day, last day, days)
GAPS: list[tuple[list[CheckupDone], list[Waiver], str, list[tuple[str, str, int]]]] = [
    ([], [], "2027-06-13", []),
    ([], [], "2027-06-14", [("2027-06-14", "2027-06-14", 1)]),
    ([], [], "2027-07-13", [("2027-06-14", "2027-07-13", 30)]),
    ([done("2027-08-01")], [], "2027-09-01", [("2027-06-14", "2027-07-31", 48)]),
    # a series of gaps: each one stays in the record
    (
        [done("2027-08-01"), done("2028-10-01")],
        [],
        "2029-11-02",
        [("2027-06-14", "2027-07-31", 48), ("2028-09-01", "2028-09-30", 30), ("2029-11-01", "2029-11-02", 2)],
    ),
    # waived days inside the gap are not counted
    ([done("2027-08-01")], [waiver("2027-07-01", "2027-07-11")], "2027-09-01", [("2027-06-14", "2027-07-31", 38)]),
]


@pytest.mark.parametrize(("checkups", "waivers", "on", "gaps"), GAPS)
def test_the_record_of_missed_care_stays(
    checkups: list[CheckupDone], waivers: list[Waiver], on: str, gaps: list[tuple[str, str, int]]
) -> None:
    answer = care_on(YEARLY, facts(checkups=tuple(checkups), waivers=tuple(waivers)), day(on))
    found = [(gap.from_on, gap.until_on - timedelta(days=1), gap.days) for gap in answer.gaps]
    assert found == [(day(first), day(last), days) for first, last, days in gaps]


def test_an_open_gap_is_counted_in_days_and_a_closed_one_is_not_open() -> None:
    record = facts(checkups=(done("2027-08-01"),))
    assert care_on(YEARLY, record, day("2027-07-31")).gap_days == 48
    assert care_on(YEARLY, record, day("2027-08-01")).gap_days == 0


# waivers (first day, first day that counts again), day, state, last day of grace
WAIVED: list[tuple[list[tuple[str, str]], str, Care, str]] = [
    # over the due day and into the grace: the grace that was not used up follows the waiver
    ([("2027-05-01", "2027-07-01")], "2027-05-20", Care.CURRENT, "2027-07-30"),
    ([("2027-05-01", "2027-07-01")], "2027-06-30", Care.CURRENT, "2027-07-30"),
    ([("2027-05-01", "2027-07-01")], "2027-07-01", Care.IN_GRACE, "2027-07-30"),
    ([("2027-05-01", "2027-07-01")], "2027-07-30", Care.IN_GRACE, "2027-07-30"),
    ([("2027-05-01", "2027-07-01")], "2027-07-31", Care.GAP, "2027-07-30"),
    # part of the grace is used before the waiver: May 15 to May 24 are ten days of it
    ([("2027-05-25", "2027-06-25")], "2027-05-24", Care.IN_GRACE, "2027-07-14"),
    ([("2027-05-25", "2027-06-25")], "2027-06-24", Care.CURRENT, "2027-07-14"),
    ([("2027-05-25", "2027-06-25")], "2027-07-15", Care.GAP, "2027-07-14"),
    # overlapping and touching waivers count once
    ([("2027-05-25", "2027-06-10"), ("2027-06-01", "2027-06-25")], "2027-07-14", Care.IN_GRACE, "2027-07-14"),
    ([("2027-05-25", "2027-06-10"), ("2027-06-10", "2027-06-25")], "2027-07-15", Care.GAP, "2027-07-14"),
    # before the due day a waiver changes nothing after it
    ([("2027-03-20", "2027-04-20")], "2027-04-19", Care.CURRENT, "2027-06-13"),
    ([("2027-03-20", "2027-04-20")], "2027-04-20", Care.DUE, "2027-06-13"),
    # the day after the last day of grace is waived, and the days from there on
    ([("2027-06-14", "2027-07-01")], "2027-06-14", Care.CURRENT, "2027-06-30"),
    ([("2027-06-14", "2027-07-01")], "2027-07-01", Care.GAP, "2027-06-30"),
    # a waiver that begins inside a gap stops it only while it lasts
    ([("2027-07-01", "2027-07-11")], "2027-06-30", Care.GAP, "2027-06-13"),
    ([("2027-07-01", "2027-07-11")], "2027-07-05", Care.CURRENT, "2027-06-13"),
    ([("2027-07-01", "2027-07-11")], "2027-07-11", Care.GAP, "2027-06-13"),
]


@pytest.mark.parametrize(("waivers", "on", "care", "grace_through"), WAIVED)
def test_waived_days_count_as_cared_for(
    waivers: list[tuple[str, str]], on: str, care: Care, grace_through: str
) -> None:
    record = facts(waivers=tuple(waiver(*one) for one in waivers))
    answer = care_on(YEARLY, record, day(on))
    assert (answer.care, answer.grace_through_on) == (care, day(grace_through))


def test_a_check_up_in_the_grace_after_a_waiver_keeps_the_series() -> None:
    record = facts(waivers=(waiver("2027-05-01", "2027-07-01"),), checkups=(done("2027-07-20"),))
    assert care_on(YEARLY, record, day("2027-07-20")).due_on == day("2028-05-14")


def test_a_check_up_at_the_end_of_a_long_waiver_counts_for_the_due_day_that_is_near() -> None:
    record = facts(waivers=(waiver("2027-05-01", "2028-05-01"),), checkups=(done("2028-04-20"),))
    assert care_on(YEARLY, record, day("2028-05-02")).due_on == day("2029-05-14")


def test_a_waived_day_has_no_open_gap() -> None:
    answer = care_on(YEARLY, facts(waivers=(waiver("2027-07-01", "2027-07-11"),)), day("2027-07-05"))
    assert (answer.gap_days, answer.waived_through_on) == (0, day("2027-07-10"))
    assert answer.waived_because == "The road was washed out"


IMPOSSIBLE: list[tuple[dict[str, Any], str]] = [
    ({"every_months": 0}, "every month or more"),
    ({"early_days": -1}, "fewer than zero"),
    ({"grace_days": -1}, "fewer than zero"),
    ({"early_days": 300, "grace_days": 36}, "must not reach"),
    ({"charge": Decimal("-1")}, "zero or more"),
    ({"charge": Decimal("0.001")}, "whole cents"),
    ({"charge": Decimal("NaN")}, "zero or more"),
]


@pytest.mark.parametrize(("changes", "message"), IMPOSSIBLE)
def test_a_care_rule_refuses_what_cannot_be(changes: dict[str, Any], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        replace(YEARLY, **changes)


def test_the_words_for_care_read_as_people_say_them() -> None:
    assert [care.word for care in Care] == ["not asked", "current", "check-up due", "in grace", "gap"]
