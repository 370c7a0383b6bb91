"""Standing: is a promise in force on a day, and was the system cared for? Issue is on May 14, 2026 throughout."""

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest

from contractor.warranties.rules.care import Care
from contractor.warranties.rules.cover import Cover, component_terms
from contractor.warranties.rules.facts import CheckupDone, ComponentSpan, Facts, TransferDone, Waiver
from contractor.warranties.rules.standing import Span, kinds_in_force, standing_on, standing_spans
from contractor.warranties.rules.terms import Promise, Terms, TransferRule
from tests.warranties.rule_builders import (
    OPEN_TRANSFER,
    PROMISES,
    SUSPENDING,
    YEARLY,
    day,
    done,
    facts,
    part,
    terms,
    waiver,
)

NOT_STARTED, IN_FORCE, SUSPENDED, ENDED, VOID = Cover

# part kind, day, cover, last day of cover: nothing happened but the issue
PLAIN = [
    ("pit", "2026-05-13", NOT_STARTED, "2051-05-14"),
    ("pit", "2026-05-14", IN_FORCE, "2051-05-14"),
    ("pit", "2051-05-14", IN_FORCE, "2051-05-14"),  # through and including the anniversary
    ("pit", "2051-05-15", ENDED, "2051-05-14"),
    ("primary_pump", "2031-05-14", IN_FORCE, "2031-05-14"),
    ("primary_pump", "2031-05-15", ENDED, "2031-05-14"),
    ("battery", "2029-05-14", IN_FORCE, "2029-05-14"),
    ("battery", "2029-05-15", ENDED, "2029-05-14"),
    ("channel", "2026-05-13", NOT_STARTED, None),
    ("channel", "2126-05-14", IN_FORCE, None),  # for the life of the structure
    ("liner", "2126-05-14", IN_FORCE, None),  # for as long as the owner owns
    ("containment_ring", "2126-05-14", IN_FORCE, None),  # for the life of the part
]


@pytest.mark.parametrize(("kind", "on", "cover", "through"), PLAIN)
def test_a_promise_holds_from_issue_through_its_anniversary(
    kind: str, on: str, cover: Cover, through: str | None
) -> None:
    standing = standing_on(terms(), facts(), kind, day(on))
    assert (standing.cover, standing.through_on) == (cover, day(through) if through else None)


# components, part kind, day, cover, last day of cover
COMPONENTS: list[tuple[list[ComponentSpan], str, str, Cover, str | None]] = [
    # nothing there yet, or put in later than issue: months still count from issue
    ([part("pit")], "primary_pump", "2027-01-01", NOT_STARTED, None),
    ([part("primary_pump", "2027-06-01")], "primary_pump", "2027-05-31", NOT_STARTED, "2031-05-14"),
    ([part("primary_pump", "2027-06-01")], "primary_pump", "2027-06-01", IN_FORCE, "2031-05-14"),
    ([part("primary_pump", "2032-01-01")], "primary_pump", "2032-01-01", ENDED, None),
    # a term of its own counts from the day the part went in
    ([part("battery", "2027-06-01")], "battery", "2027-05-31", NOT_STARTED, "2030-06-01"),
    ([part("battery", "2027-06-01")], "battery", "2030-06-01", IN_FORCE, "2030-06-01"),
    ([part("battery", "2026-05-02")], "battery", "2026-05-13", NOT_STARTED, "2029-05-02"),
    ([part("battery", "2026-05-02")], "battery", "2029-05-03", ENDED, "2029-05-02"),
    # a replacement serves out the original's term
    (
        [part("primary_pump", out_on="2029-03-01"), part("primary_pump", "2029-03-01")],
        "primary_pump", "2031-05-14", IN_FORCE, "2031-05-14",
    ),
    (
        [part("primary_pump", out_on="2029-03-01"), part("primary_pump", "2029-03-01")],
        "primary_pump", "2031-05-15", ENDED, "2031-05-14",
    ),
    # a replaced battery carries its own term
    (
        [part("battery", out_on="2028-11-03"), part("battery", "2028-11-03")],
        "battery", "2028-11-02", IN_FORCE, "2029-05-14",
    ),
    (
        [part("battery", out_on="2028-11-03"), part("battery", "2028-11-03")],
        "battery", "2028-11-03", IN_FORCE, "2031-11-03",
    ),
    (
        [part("battery", out_on="2030-11-03"), part("battery", "2030-11-03")],
        "battery", "2030-11-02", ENDED, "2029-05-14",
    ),
    (
        [part("battery", out_on="2030-11-03"), part("battery", "2030-11-03")],
        "battery", "2030-11-03", IN_FORCE, "2033-11-03",
    ),
    # two of one kind: in force while one of them is within its term
    ([part("battery"), part("battery", "2028-01-01")], "battery", "2029-05-15", IN_FORCE, "2031-01-01"),
    ([part("battery"), part("battery", "2028-01-01")], "battery", "2031-01-02", ENDED, "2031-01-01"),
    (
        [part("battery"), part("battery", "2028-01-01", out_on="2029-01-01")],
        "battery", "2029-05-14", IN_FORCE, "2029-05-14",
    ),
    ([part("primary_pump"), part("primary_pump")], "primary_pump", "2031-05-14", IN_FORCE, "2031-05-14"),
    ([part("battery"), part("battery", "2028-01-01")], "battery", "2028-06-01", IN_FORCE, "2031-01-01"),
    # gone before the issue day: never covered
    ([part("battery", "2024-01-01", out_on="2026-05-14")], "battery", "2026-06-01", NOT_STARTED, None),
    # taken out and none in its place
    ([part("primary_pump", out_on="2028-01-10")], "primary_pump", "2028-01-09", IN_FORCE, "2031-05-14"),
    ([part("primary_pump", out_on="2028-01-10")], "primary_pump", "2028-01-10", ENDED, "2028-01-09"),
    (
        [part("primary_pump", out_on="2028-01-10"), part("primary_pump", "2028-02-10")],
        "primary_pump", "2028-02-10", IN_FORCE, "2031-05-14",
    ),
    ([part("primary_pump", out_on="2033-01-10")], "primary_pump", "2034-01-10", ENDED, "2031-05-14"),
    # the life of the part ends with the part
    ([part("containment_ring", out_on="2040-01-01")], "containment_ring", "2040-01-01", ENDED, "2039-12-31"),
]  # fmt: skip


@pytest.mark.parametrize(("components", "kind", "on", "cover", "through"), COMPONENTS)
def test_each_component_has_its_own_term(
    components: list[ComponentSpan], kind: str, on: str, cover: Cover, through: str | None
) -> None:
    standing = standing_on(terms(), facts(*components), kind, day(on))
    assert (standing.cover, standing.through_on) == (cover, day(through) if through else None)


NO_MONTHS_AFTER = replace(OPEN_TRANSFER, months_after=None)
NOT_ALLOWED = TransferRule(allowed=False)

# transfer rule, designation, transfers, part kind, day, cover, last day
TRANSFERS: list[tuple[TransferRule | None, str, list[str], str, str, Cover, str | None]] = [
    # a life becomes 120 months from the transfer
    (OPEN_TRANSFER, "LIMITED", ["2030-07-01"], "channel", "2030-06-30", IN_FORCE, None),
    (OPEN_TRANSFER, "LIMITED", ["2030-07-01"], "channel", "2030-07-01", IN_FORCE, "2040-07-01"),
    (OPEN_TRANSFER, "LIMITED", ["2030-07-01"], "channel", "2040-07-02", ENDED, "2040-07-01"),
    (OPEN_TRANSFER, "LIMITED", ["2030-07-01"], "liner", "2030-07-01", IN_FORCE, "2040-07-01"),
    # a second transfer gives no more than what was left
    (OPEN_TRANSFER, "LIMITED", ["2030-07-01", "2035-03-01"], "channel", "2035-03-01", IN_FORCE, "2040-07-01"),
    (OPEN_TRANSFER, "LIMITED", ["2035-03-01", "2030-07-01"], "channel", "2040-07-02", ENDED, "2040-07-01"),
    # a number of months is not touched
    (OPEN_TRANSFER, "LIMITED", ["2030-07-01"], "primary_pump", "2031-05-14", IN_FORCE, "2031-05-14"),
    (OPEN_TRANSFER, "LIMITED", ["2030-07-01"], "pit", "2051-05-14", IN_FORCE, "2051-05-14"),
    # without months_after the structure's life goes on and the ownership's ends
    (NO_MONTHS_AFTER, "LIMITED", ["2030-07-01"], "channel", "2126-01-01", IN_FORCE, None),
    (NO_MONTHS_AFTER, "LIMITED", ["2030-07-01"], "liner", "2030-06-30", IN_FORCE, None),
    (NO_MONTHS_AFTER, "LIMITED", ["2030-07-01"], "liner", "2030-07-01", ENDED, "2030-06-30"),
    (None, "LIMITED", ["2030-07-01"], "liner", "2030-07-01", ENDED, "2030-06-30"),
    (None, "LIMITED", ["2030-07-01"], "channel", "2030-07-01", IN_FORCE, None),
    # terms that do not pass to a later owner end with the first one
    (NOT_ALLOWED, "LIMITED", ["2030-07-01"], "pit", "2030-06-30", IN_FORCE, "2051-05-14"),
    (NOT_ALLOWED, "LIMITED", ["2030-07-01"], "pit", "2030-07-01", ENDED, "2030-06-30"),
    (NOT_ALLOWED, "LIMITED", ["2030-07-01"], "channel", "2030-07-01", ENDED, "2030-06-30"),
    (NOT_ALLOWED, "LIMITED", ["2033-07-01"], "primary_pump", "2033-07-01", ENDED, "2031-05-14"),
    # a full warranty restricts no later owner, but an ownership's life ends all the same (16 CFR 700.6(b))
    (OPEN_TRANSFER, "FULL", ["2030-07-01"], "channel", "2045-07-01", IN_FORCE, None),
    (NOT_ALLOWED, "FULL", ["2030-07-01"], "pit", "2030-07-01", IN_FORCE, "2051-05-14"),
    (OPEN_TRANSFER, "FULL", ["2030-07-01"], "liner", "2030-07-01", ENDED, "2030-06-30"),
]


@pytest.mark.parametrize(("rule", "designation", "transfers", "kind", "on", "cover", "through"), TRANSFERS)
def test_a_transfer_leaves_a_promise_as_the_terms_say(
    rule: TransferRule | None,
    designation: str,
    transfers: list[str],
    kind: str,
    on: str,
    cover: Cover,
    through: str | None,
) -> None:
    edition = terms(transfer=rule, designation=designation)
    standing = standing_on(edition, facts(transfers=transfers), kind, day(on))
    assert (standing.cover, standing.through_on) == (cover, day(through) if through else None)


def test_a_part_put_in_after_the_transfer_gets_no_more_than_the_months_from_the_transfer() -> None:
    record = facts(part("channel", out_on="2035-01-01"), part("channel", "2035-01-01"), transfers=["2030-07-01"])
    assert standing_on(terms(), record, "channel", day("2036-01-01")).through_on == day("2040-07-01")


# Missed care, under each policy. The grace of the first due day ends on June 13, 2027.
# check-ups, waivers, day, cover under judge, cover under suspend, care
MISSED: list[tuple[list[CheckupDone], list[Waiver], str, Cover, Cover, Care]] = [
    ([], [], "2027-06-13", IN_FORCE, IN_FORCE, Care.IN_GRACE),
    ([], [], "2027-06-14", IN_FORCE, SUSPENDED, Care.GAP),
    ([], [], "2030-06-14", IN_FORCE, SUSPENDED, Care.GAP),
    ([], [], "2031-05-15", ENDED, ENDED, Care.GAP),  # the term ends all the same
    # a yearly check-up starts care again; only a reinstatement or transfer check-up restores cover
    ([done("2027-07-01")], [], "2027-07-01", IN_FORCE, SUSPENDED, Care.CURRENT),
    ([done("2027-07-01", kind="reinstatement")], [], "2027-06-30", IN_FORCE, SUSPENDED, Care.GAP),
    ([done("2027-07-01", kind="reinstatement")], [], "2027-07-01", IN_FORCE, IN_FORCE, Care.CURRENT),
    ([done("2027-07-01", kind="transfer")], [], "2027-07-01", IN_FORCE, IN_FORCE, Care.CURRENT),
    ([done("2027-07-01", kind="reinstatement", passed=False)], [], "2027-07-01", IN_FORCE, SUSPENDED, Care.GAP),
    ([done("2027-07-01", kind="reinstatement", by="other")], [], "2027-07-01", IN_FORCE, IN_FORCE, Care.CURRENT),
    (
        [done("2027-07-01"), done("2027-08-01", kind="reinstatement")],
        [],
        "2027-08-01",
        IN_FORCE,
        IN_FORCE,
        Care.CURRENT,
    ),
    # restored once, missed again: from July 1, 2027 the next grace ends on July 31, 2028
    ([done("2027-07-01", kind="reinstatement")], [], "2028-07-31", IN_FORCE, IN_FORCE, Care.IN_GRACE),
    ([done("2027-07-01", kind="reinstatement")], [], "2028-08-01", IN_FORCE, SUSPENDED, Care.GAP),
    # a reinstatement check-up before the gap does not restore what comes after it
    ([done("2026-07-01", kind="reinstatement")], [], "2027-08-01", IN_FORCE, SUSPENDED, Care.GAP),
    # waived days are not suspended, the days after them are
    ([], [waiver("2027-06-10", "2027-09-01")], "2027-08-31", IN_FORCE, IN_FORCE, Care.CURRENT),
    ([], [waiver("2027-06-10", "2027-09-01")], "2027-09-04", IN_FORCE, IN_FORCE, Care.IN_GRACE),
    ([], [waiver("2027-06-10", "2027-09-01")], "2027-09-05", IN_FORCE, SUSPENDED, Care.GAP),
    ([], [waiver("2027-08-01", "2027-09-01")], "2027-07-31", IN_FORCE, SUSPENDED, Care.GAP),
    ([], [waiver("2027-08-01", "2027-09-01")], "2027-08-15", IN_FORCE, IN_FORCE, Care.CURRENT),
    ([], [waiver("2027-08-01", "2027-09-01")], "2027-09-01", IN_FORCE, SUSPENDED, Care.GAP),
]


@pytest.mark.parametrize(("checkups", "waivers", "on", "judged", "suspended", "care"), MISSED)
def test_missed_care_never_ends_cover_and_rests_it_only_where_the_terms_say_so(
    checkups: list[CheckupDone], waivers: list[Waiver], on: str, judged: Cover, suspended: Cover, care: Care
) -> None:
    record = facts(checkups=tuple(checkups), waivers=tuple(waivers))
    for edition, cover in ((terms(), judged), (terms(care=SUSPENDING), suspended)):
        standing = standing_on(edition, record, "primary_pump", day(on))
        assert (standing.cover, standing.care) == (cover, care)


def test_another_providers_reinstatement_restores_nothing_where_only_ours_count() -> None:
    rule = replace(SUSPENDING, any_provider=False)
    record = facts(checkups=(done("2027-07-01", kind="reinstatement", by="other"),))
    assert standing_on(terms(care=rule), record, "pit", day("2027-07-02")).cover is SUSPENDED


VOIDED = [
    ("pit", "2028-02-28", IN_FORCE, "2051-05-14"),
    ("pit", "2028-03-01", VOID, "2028-02-29"),
    ("channel", "2090-01-01", VOID, "2028-02-29"),
    ("battery", "2029-05-15", VOID, "2028-02-29"),
]


@pytest.mark.parametrize(("kind", "on", "cover", "through"), VOIDED)
def test_a_managers_decision_voids_from_its_day(kind: str, on: str, cover: Cover, through: str) -> None:
    standing = standing_on(terms(), facts(voided_on="2028-03-01"), kind, day(on))
    assert (standing.cover, standing.through_on) == (cover, day(through))


def test_voiding_after_the_term_leaves_its_last_day() -> None:
    standing = standing_on(terms(), facts(voided_on="2032-03-01"), "battery", day("2032-03-02"))
    assert (standing.cover, standing.through_on) == (VOID, day("2029-05-14"))


def test_a_kind_without_a_promise_is_refused() -> None:
    with pytest.raises(LookupError, match="no promise for charger"):
        standing_on(terms(), facts(), "charger", day("2027-01-01"))
    with pytest.raises(LookupError, match="no promise for charger"):
        standing_spans(terms(), facts(), "charger", day("2027-01-01"))


def test_spans_tell_the_whole_story_of_a_pump() -> None:
    record = facts(checkups=(done("2027-05-01"), done("2028-08-01", kind="reinstatement")), voided_on="2029-03-01")
    story = standing_spans(terms(care=SUSPENDING), record, "primary_pump", day("2030-01-01"))
    assert [(span.from_on, span.last_on, span.cover, span.care) for span in story] == [
        (date.min, day("2026-05-13"), NOT_STARTED, Care.NOT_ASKED),
        (day("2026-05-14"), day("2027-03-14"), IN_FORCE, Care.CURRENT),
        (day("2027-03-15"), day("2027-04-30"), IN_FORCE, Care.DUE),
        (day("2027-05-01"), day("2028-03-14"), IN_FORCE, Care.CURRENT),
        (day("2028-03-15"), day("2028-05-14"), IN_FORCE, Care.DUE),
        (day("2028-05-15"), day("2028-06-13"), IN_FORCE, Care.IN_GRACE),
        (day("2028-06-14"), day("2028-07-31"), SUSPENDED, Care.GAP),
        (day("2028-08-01"), day("2029-02-28"), IN_FORCE, Care.CURRENT),
        (day("2029-03-01"), day("2029-06-01"), VOID, Care.CURRENT),
        (day("2029-06-02"), day("2029-08-01"), VOID, Care.DUE),
        (day("2029-08-02"), day("2029-08-31"), VOID, Care.IN_GRACE),
        (day("2029-09-01"), day("2029-12-31"), VOID, Care.GAP),
    ]


def test_before_issue_there_is_one_span() -> None:
    until = day("2026-05-14")
    only = Span(from_on=date.min, until_on=until, cover=NOT_STARTED, care=Care.NOT_ASKED)
    assert standing_spans(terms(), facts(), "pit", until) == (only,)


def test_kinds_in_force_are_those_whose_cover_holds() -> None:
    record = facts(part("channel"), part("pit"), part("battery"))
    assert kinds_in_force(terms(), record, day("2029-05-14")) == ("channel", "pit", "battery")
    assert kinds_in_force(terms(), record, day("2029-05-15")) == ("channel", "pit")
    assert kinds_in_force(terms(), record, day("2026-05-13")) == ()


# Sentences: terms, facts, kind, day, reasons, what restores
LETTERS: list[tuple[Terms, Facts, str, str, list[str], str]] = [
    (
        terms(), facts(), "primary_pump", "2026-06-01",
        ["The promise for the primary pump runs through and including May 14, 2031: 60 months from May 14, 2026.",
         "The next check-up is due on May 14, 2027; it counts from March 15, 2027."],
        "",
    ),
    (
        terms(), facts(), "channel", "2027-04-01",
        ["The promise for the channel holds for the life of the structure.", "The check-up is due by May 14, 2027."],
        "Have the check-up done by May 14, 2027. Any qualified provider may do it; send us the record.",
    ),
    (
        terms(), facts(), "liner", "2027-05-20",
        ["The promise for the liner holds for as long as the owner named in it owns the house.",
         "The check-up was due on May 14, 2027; the grace runs through and including June 13, 2027."],
        "Have the check-up done by June 13, 2027, the last day of the grace. "
        "Any qualified provider may do it; send us the record.",
    ),
    (
        terms(), facts(), "containment_ring", "2027-06-20",
        ["The promise for the containment ring holds for the life of the part.",
         "The check-up was due on May 14, 2027 and the grace ended on June 13, 2027: a gap of 7 days so far.",
         "Cover goes on. In a claim, a person decides whether the missing care caused the loss."],
        "Have the check-up done now: the gap ends on that day, and the next due day is counted from it. "
        "Any qualified provider may do it; send us the record.",
    ),
    (  # done in time, and what it found is open: no second check-up is asked for
        terms(), facts(checkups=(done("2027-05-01", passed=False),)), "pit", "2027-07-01",
        ["The promise for the pit runs through and including May 14, 2051: 300 months from May 14, 2026.",
         "The check-up was due on May 14, 2027 and the grace ended on June 13, 2027: a gap of 18 days so far.",
         "Cover goes on. In a claim, a person decides whether the missing care caused the loss."],
        "Have what was found on May 1, 2027 put right, and the check-up of that day counts. "
        "Any qualified provider may do it; send us the record.",
    ),
    (  # of two, the newer
        terms(), facts(checkups=(done("2027-04-01", passed=False), done("2027-05-10", passed=False))),
        "pit", "2027-05-12",
        ["The promise for the pit runs through and including May 14, 2051: 300 months from May 14, 2026.",
         "The check-up is due by May 14, 2027."],
        "Have what was found on May 10, 2027 put right, and the check-up of that day counts. "
        "Any qualified provider may do it; send us the record.",
    ),
    (  # too long ago to count for this year: it is no way out
        terms(), facts(checkups=(done("2026-05-20", passed=False),)), "pit", "2027-06-01",
        ["The promise for the pit runs through and including May 14, 2051: 300 months from May 14, 2026.",
         "The check-up was due on May 14, 2027; the grace runs through and including June 13, 2027."],
        "Have the check-up done by June 13, 2027, the last day of the grace. "
        "Any qualified provider may do it; send us the record.",
    ),
    (  # cover is suspended, and would never have been
        terms(care=SUSPENDING), facts(checkups=(done("2027-05-01", passed=False),)), "pit", "2027-06-14",
        ["The promise for the pit runs through and including May 14, 2051: 300 months from May 14, 2026.",
         "Cover is suspended until a reinstatement or transfer check-up has passed.",
         "The check-up was due on May 14, 2027 and the grace ended on June 13, 2027: a gap of 1 day so far."],
        "Have what was found on May 1, 2027 put right, and the check-up of that day counts. "
        "Any qualified provider may do it; send us the record.",
    ),
    (  # a yearly one that came too late brings suspended cover back in no case
        terms(care=SUSPENDING), facts(checkups=(done("2027-06-20", passed=False),)), "pit", "2027-06-21",
        ["The promise for the pit runs through and including May 14, 2051: 300 months from May 14, 2026.",
         "Cover is suspended until a reinstatement or transfer check-up has passed.",
         "The check-up was due on May 14, 2027 and the grace ended on June 13, 2027: a gap of 8 days so far."],
        "Have a reinstatement check-up done: cover is back in force from the day it passes. "
        "Any qualified provider may do it; send us the record.",
    ),
    (  # by somebody else, whom these terms do not accept
        terms(care=replace(YEARLY, any_provider=False)),
        facts(checkups=(done("2027-05-10", passed=False, by="other"),)), "pit", "2027-05-12",
        ["The promise for the pit runs through and including May 14, 2051: 300 months from May 14, 2026.",
         "The check-up is due by May 14, 2027."],
        "Have the check-up done by May 14, 2027.",
    ),
    (
        terms(care=replace(SUSPENDING, any_provider=False)), facts(), "pit", "2027-06-14",
        ["The promise for the pit runs through and including May 14, 2051: 300 months from May 14, 2026.",
         "Cover is suspended until a reinstatement or transfer check-up has passed.",
         "The check-up was due on May 14, 2027 and the grace ended on June 13, 2027: a gap of 1 day so far."],
        "Have a reinstatement check-up done: cover is back in force from the day it passes.",
    ),
    (
        terms(), facts(checkups=(done("2027-06-20"),)), "pit", "2027-07-01",
        ["The promise for the pit runs through and including May 14, 2051: 300 months from May 14, 2026.",
         "The record has a gap from June 14, 2027 through and including June 19, 2027 (6 days without the check-up).",
         "The next check-up is due on June 20, 2028; it counts from April 21, 2028."],
        "",
    ),
    (
        terms(care=None), facts(part("battery"), part("battery", "2028-01-01")), "battery", "2028-06-01",
        ["The promise for the battery put in on May 14, 2026 runs through and including May 14, 2029: "
         "36 months from May 14, 2026.",
         "The promise for the battery put in on January 1, 2028 runs through and including January 1, 2031: "
         "36 months from January 1, 2028."],
        "",
    ),
    (
        terms(care=None), facts(), "battery", "2029-05-15",
        ["The promise for the battery put in on May 14, 2026 ran through and including May 14, 2029: "
         "36 months from May 14, 2026."],
        "",
    ),
    (
        terms(care=None), facts(part("primary_pump", out_on="2028-01-10")), "primary_pump", "2028-02-01",
        ["No primary pump has been in place since January 10, 2028."],
        "Have a new primary pump put in; it is covered from that day.",
    ),
    (
        terms(care=None), facts(part("primary_pump", out_on="2028-01-10")), "primary_pump", "2031-05-15",
        ["No primary pump has been in place since January 10, 2028."],
        "",
    ),
    (
        terms(care=None), facts(part("pit")), "primary_pump", "2028-02-01",
        ["There is no primary pump on record in this system, so there is nothing to cover."], "",
    ),
    (
        terms(care=None), facts(part("primary_pump", "2029-02-01")), "primary_pump", "2028-02-01",
        ["The first primary pump goes in on February 1, 2029; it is covered from that day."], "",
    ),
    (
        terms(care=None), facts(), "pit", "2026-05-01",
        ["Cover starts on May 14, 2026, the day the warranty is issued."], "",
    ),
    (
        terms(care=None), facts(transfers=["2030-07-01"]), "channel", "2031-01-01",
        ["The promise for the channel runs through and including July 1, 2040, "
         "counted from the transfer on July 1, 2030."],
        "",
    ),
    (
        terms(care=None, transfer=None), facts(transfers=["2030-07-01"]), "liner", "2031-01-01",
        ["The promise for the liner ended on June 30, 2030, "
         "with the ownership of the owner named in it."],
        "",
    ),
    (
        terms(care=None), facts(voided_on="2028-03-01"), "pit", "2028-03-02",
        ["The warranty is void from March 1, 2028: Clause 7: the system was removed."],
        "Call the office if you think that this decision is wrong; the manager can look at it again.",
    ),
    (
        terms(), facts(waivers=(waiver("2027-05-01", "2027-07-01"),)), "pit", "2027-05-20",
        ["The promise for the pit runs through and including May 14, 2051: 300 months from May 14, 2026.",
         "The check-up is waived through and including June 30, 2027: The road was washed out."],
        "",
    ),
]  # fmt: skip


@pytest.mark.parametrize(("edition", "record", "kind", "on", "reasons", "restore"), LETTERS)
def test_a_standing_explains_itself_and_says_what_restores_it(
    edition: Terms, record: Facts, kind: str, on: str, reasons: list[str], restore: str
) -> None:
    standing = standing_on(edition, record, kind, day(on))
    assert list(standing.reasons) == reasons
    assert standing.restore == restore


IMPOSSIBLE: list[tuple[dict[str, Any], str]] = [
    ({"transfers": ["2026-05-13"]}, "before the issue day"),
    ({"voided_on": "2026-05-13"}, "before the issue day"),
]


@pytest.mark.parametrize(("changes", "message"), IMPOSSIBLE)
def test_facts_refuse_what_cannot_be(changes: dict[str, Any], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        facts(**changes)


def test_single_facts_refuse_what_cannot_be() -> None:
    with pytest.raises(ValueError, match="cannot be taken out"):
        part("pit", "2027-01-02", out_on="2027-01-01")
    with pytest.raises(ValueError, match="no part kind"):
        part("bathtub")
    with pytest.raises(ValueError, match="has no day in it"):
        waiver("2027-01-01", "2027-01-01")
    with pytest.raises(ValueError, match="needs its reason"):
        Waiver(from_on=day("2027-01-01"), until_on=day("2027-02-01"), because=" ")
    with pytest.raises(ValueError, match="clause and the reason"):
        Facts(issued_on=day("2026-05-14"), voided_on=day("2027-01-01"))


def test_facts_are_the_same_in_whatever_order_they_came() -> None:
    record = facts(checkups=(done("2028-05-01"), done("2027-05-01")), transfers=["2032-01-01", "2030-01-01"])
    other = facts(checkups=(done("2027-05-01"), done("2028-05-01")), transfers=["2030-01-01", "2032-01-01"])
    assert record == other
    assert record.transfers == (TransferDone(on=day("2030-01-01")), TransferDone(on=day("2032-01-01")))


PROMISES_THAT_CANNOT_BE: list[tuple[dict[str, Any], str]] = [
    ({"part_kind": "bathtub", "months": 12}, "no part kind"),
    ({"part_kind": "pit", "months": 0}, "at least one month"),
    ({"part_kind": "pit", "months": 12, "life_of": "structure"}, "not both"),
    ({"part_kind": "pit", "months": 12, "full_months": 12}, "must end before"),
    ({"part_kind": "pit", "months": 12, "full_months": -1}, "must end before"),
    ({"part_kind": "pit", "months": None, "life_of": "structure", "full_months": 6}, "must end before"),
]


@pytest.mark.parametrize(("values", "message"), PROMISES_THAT_CANNOT_BE)
def test_a_promise_refuses_what_cannot_be(values: dict[str, Any], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        Promise(**values)


@pytest.mark.parametrize(
    "values", [{"most": -1}, {"notice_days": -1}, {"checkup_within_days": -5}, {"months_after": 0}]
)
def test_a_transfer_rule_refuses_what_cannot_be(values: dict[str, Any]) -> None:
    with pytest.raises(ValueError, match="of a transfer rule cannot be"):
        TransferRule(allowed=True, **values)


def test_terms_refuse_two_promises_for_one_kind_and_two_exclusions_with_one_code() -> None:
    with pytest.raises(ValueError, match="More than one promise for pit"):
        terms(promises=(Promise(part_kind="pit", months=12), Promise(part_kind="pit", months=24)))
    with pytest.raises(ValueError, match="same code"):
        terms(exclusions=(*terms().exclusions, *terms().exclusions))


def test_a_replaced_battery_leaves_the_term_of_the_old_one_as_it_was() -> None:
    alone = component_terms(terms(), facts(part("battery", out_on="2028-01-01")), "battery", day("2030-01-01"))
    both = component_terms(
        terms(),
        facts(part("battery", out_on="2028-01-01"), part("battery", "2028-01-01")),
        "battery",
        day("2030-01-01"),
    )
    assert both[0] == alone[0]
    assert both[1].through_on == day("2031-01-01")


def test_every_day_of_a_span_has_its_standing() -> None:
    record = facts(
        part("battery", out_on="2027-06-20"),
        part("battery", "2027-06-25"),
        waivers=(waiver("2027-06-01", "2027-06-22"),),
        transfers=["2028-02-29"],
    )
    for span in standing_spans(terms(care=SUSPENDING), record, "battery", day("2029-01-01"))[1:]:
        on = span.from_on
        while on < span.until_on:
            standing = standing_on(terms(care=SUSPENDING), record, "battery", on)
            assert (standing.cover, standing.care) == (span.cover, span.care)
            on += timedelta(days=1)


def test_the_promises_of_these_tests_are_of_every_sort() -> None:
    """A guard: the tables above mean little if the builder loses a sort of promise."""
    assert {promise.life_of for promise in PROMISES} == {None, "structure", "ownership", "product"}
    assert {promise.starts for promise in PROMISES} == {"issue", "component"}
