"""When somebody may ask for a transfer with a certificate, and what asking again adds: the cases first."""

from datetime import date

import pytest

from contractor.warranties.rules.inquiries import Held, added_words, closed_because, closing_slip

HELD = {"is_revoked": False, "is_void": False, "holder_changed": False}

# What is true of the certificate, and why it is closed. Common practice, no source: the terms are silent about asking.
CLOSED = [
    ({}, ""),
    ({"holder_changed": True}, "passed_on"),
    ({"is_void": True}, "void"),
    ({"is_revoked": True}, "revoked"),
    # The graver word first: whoever holds a revoked paper must hear that before all else.
    ({"is_revoked": True, "is_void": True, "holder_changed": True}, "revoked"),
    ({"is_void": True, "holder_changed": True}, "void"),
]


@pytest.mark.parametrize(("true", "because"), CLOSED)
def test_a_certificate_is_closed_to_asking_when(true: dict[str, bool], because: str) -> None:
    assert closed_because(Held(**(HELD | true))) == because


BEGAN, TODAY = date(2020, 5, 14), date(2026, 5, 4)
SLIPS = [
    (None, ""),
    (date(2026, 6, 1), ""),
    (date(2026, 4, 1), ""),  # the house was sold a month ago: many hear of the warranty late
    (date(2020, 5, 14), ""),
    (date(2020, 5, 13), "long_ago"),
    (date(2027, 5, 5), ""),  # 366 days ahead
    (date(2027, 5, 6), "years_ahead"),
]


@pytest.mark.parametrize(("closing_on", "slip"), SLIPS)
def test_a_closing_day_is_a_slip_when(closing_on: date | None, slip: str) -> None:
    assert closing_slip(closing_on, began_on=BEGAN, today=TODAY) == slip


# On record, what is said now, another closing day in words, and what is on record then.
ADDED = [
    ("We close soon.", "We close soon.", "", "We close soon."),
    ("We close soon.", "", "", "We close soon."),
    ("", "", "", ""),
    ("", "Hello.", "", "On May 4, 2026: Hello."),
    ("We close soon.", "By noon, please.", "", "We close soon.\n\nOn May 4, 2026: By noon, please."),
    ("Hello.", "", "June 1, 2026", "Hello.\n\nOn May 4, 2026: Closing day June 1, 2026."),
    ("Hello.", "Sorry!", "June 1, 2026", "Hello.\n\nOn May 4, 2026: Closing day June 1, 2026. Sorry!"),
]


@pytest.mark.parametrize(("known", "more", "closing", "then"), ADDED)
def test_asking_again_adds_what_is_new_and_nothing_twice(known: str, more: str, closing: str, then: str) -> None:
    words = added_words(known, more, closing=closing, day="May 4, 2026")
    assert words == then
    assert added_words(words, more, closing=closing, day="May 5, 2026") == then
