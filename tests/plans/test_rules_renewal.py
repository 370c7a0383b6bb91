"""When a renewal notice counts, and when a year may begin without a fresh yes."""

from datetime import date

import pytest

from contractor.plans.rules.renewal import (
    NOTICE_RULES,
    USUAL_RULE,
    NoticeRule,
    may_send_notice,
    notice_rule,
    renews_by_itself,
)

RENEWS_ON = date(2027, 3, 1)


@pytest.mark.parametrize(
    ("state", "first_on", "last_on"),
    [
        ("CA", date(2027, 1, 15), date(2027, 2, 14)),  # 45 and 15 days before (from memory)
        ("CT", date(2026, 12, 31), date(2027, 2, 14)),  # 60 and 15 (as retold by a law firm)
        ("FL", date(2026, 12, 31), date(2027, 1, 30)),  # 60 and 30 (from memory)
        ("pa", date(2027, 1, 15), date(2027, 1, 30)),  # no rule in the table: 45 and 30, common practice
    ],
)
def test_the_window_of_a_state(state: str, first_on: date, last_on: date) -> None:
    assert notice_rule(state, {}).window(RENEWS_ON) == (first_on, last_on)


@pytest.mark.parametrize(
    ("on", "counts"),
    [
        (date(2027, 1, 14), False),
        (date(2027, 1, 15), True),
        (date(2027, 2, 14), True),
        (date(2027, 2, 15), False),
    ],
)
def test_a_notice_counts_only_inside_the_window(on: date, counts: bool) -> None:
    assert may_send_notice(notice_rule("CA", {}), renews_on=RENEWS_ON, on=on) is counts


def test_what_a_manager_put_down_goes_before_the_table() -> None:
    own = NoticeRule(state="CA", first_days=40, last_days=20, source="our lawyer")
    usual = NoticeRule(state="", first_days=60, last_days=45, source="our lawyer")
    assert notice_rule("CA", {"CA": own}) is own
    assert notice_rule("PA", {"": usual}) is usual
    assert notice_rule("CT", {"": usual}).state == "CT"


def test_every_row_of_the_table_names_its_source_and_says_when_it_was_not_read() -> None:
    for rule in (*NOTICE_RULES, USUAL_RULE):
        assert rule.first_days > rule.last_days > 0
        assert rule.source
        assert rule.is_read or "from memory" in rule.source or "common practice" in rule.source


@pytest.mark.parametrize(
    ("is_automatic", "has_consent", "is_same_edition", "was_in_time", "renews"),
    [
        (True, True, True, True, True),
        (False, True, True, True, False),
        (True, False, True, True, False),  # 15 U.S.C. 8403(2): express informed consent
        (True, True, False, True, False),  # another price or other words are another bargain
        (True, True, True, False, False),  # told too late, or not at all
    ],
)
def test_a_year_begins_by_itself_only_with_consent_the_same_words_and_a_notice_in_time(
    is_automatic: bool, has_consent: bool, is_same_edition: bool, was_in_time: bool, renews: bool
) -> None:
    answer = renews_by_itself(
        is_automatic=is_automatic,
        has_consent=has_consent,
        is_same_edition=is_same_edition,
        was_notice_in_time=was_in_time,
    )
    assert answer is renews
