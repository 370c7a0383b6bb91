"""When somebody works on a day: the table of what wins over what, and holidays by region."""

from datetime import date, time

import pytest

from contractor.visits.routing.problem import seconds_after_midnight
from contractor.visits.working import (
    NO_HOURS,
    NOT_THAT_DAY,
    ON_LEAVE,
    Away,
    CompanyRule,
    Own,
    Span,
    Week,
    closed_because,
    hours_on,
    public_between,
    public_holidays,
    week_in_words,
)

MONDAY, SATURDAY = date(2026, 5, 4), date(2026, 5, 9)
WEEK = Week(valid_from=date(2026, 1, 5), hours=dict.fromkeys(range(5), (time(8), time(16))))
SHORTER = Week(valid_from=MONDAY, hours={0: (time(9), time(13))})


def span(begins: str, ends: str, *, is_half: bool = False) -> Span:
    return Span(
        begins=seconds_after_midnight(time.fromisoformat(begins)),
        ends=seconds_after_midnight(time.fromisoformat(ends)),
        is_half=is_half,
    )


def away(part: str = "whole", day: date = MONDAY) -> Away:
    return Away(first_on=day, last_on=day, part=part)


@pytest.mark.parametrize(
    ("day", "weeks", "leave", "own", "closed", "expected"),
    [
        pytest.param(MONDAY, [WEEK], [], None, "", span("08:00", "16:00"), id="the usual week"),
        pytest.param(SATURDAY, [WEEK], [], None, "", NOT_THAT_DAY, id="not that day of the week"),
        pytest.param(MONDAY, [], [], None, "", NO_HOURS, id="no week at all is named"),
        pytest.param(date(2026, 1, 2), [WEEK], [], None, "", NO_HOURS, id="a week that begins later is none yet"),
        pytest.param(MONDAY, [WEEK, SHORTER], [], None, "", span("09:00", "13:00"), id="the latest week that began"),
        pytest.param(MONDAY, [SHORTER, WEEK], [], None, "", span("09:00", "13:00"), id="in whatever order they come"),
        pytest.param(date(2026, 5, 1), [WEEK, SHORTER], [], None, "", span("08:00", "16:00"), id="the week before"),
        pytest.param(MONDAY, [WEEK], [], None, "Memorial Day", "Memorial Day", id="a holiday by its name"),
        pytest.param(MONDAY, [WEEK], [away()], None, "Memorial Day", ON_LEAVE, id="leave before the holiday"),
        pytest.param(
            MONDAY, [WEEK], [away("morning")], None, "", span("12:00", "16:00", is_half=True), id="morning off"
        ),
        pytest.param(
            MONDAY, [WEEK], [away("afternoon")], None, "", span("08:00", "12:00", is_half=True), id="afternoon off"
        ),
        pytest.param(
            MONDAY, [WEEK], [away("morning"), away("afternoon")], None, "", ON_LEAVE, id="two halves are a day"
        ),
        pytest.param(MONDAY, [WEEK], [away(day=SATURDAY)], None, "", span("08:00", "16:00"), id="leave of another day"),
        pytest.param(
            MONDAY,
            [WEEK],
            [],
            Own(hours=(time(10), time(16)), because="Dentist"),
            "",
            span("10:00", "16:00"),
            id="starts late",
        ),
        pytest.param(MONDAY, [WEEK], [], Own(hours=None, because="Van broken"), "", "Van broken", id="can't go out"),
        pytest.param(
            SATURDAY,
            [WEEK],
            [],
            Own(hours=(time(8), time(12)), because="Storm"),
            "Closed",
            span("08:00", "12:00"),
            id="a day of one's own on a closed Saturday",
        ),
        pytest.param(
            MONDAY, [WEEK], [away()], Own(hours=(time(8), time(12)), because="Storm"), "", ON_LEAVE, id="leave wins"
        ),
    ],
)
def test_hours_of_a_day(
    day: date, weeks: list[Week], leave: list[Away], own: Own | None, closed: str, expected: Span | str
) -> None:
    assert hours_on(day, weeks=weeks, away=leave, own=own, closed_because=closed) == expected


INDEPENDENCE = date(2026, 7, 3)
PUBLIC = {INDEPENDENCE: "Independence Day (observed)"}


@pytest.mark.parametrize(
    ("day", "rule", "expected"),
    [
        (INDEPENDENCE, None, "Independence Day (observed)"),
        (INDEPENDENCE, CompanyRule(is_closed=False, name="We work"), ""),
        (INDEPENDENCE, CompanyRule(is_closed=True, name="Picnic"), "Picnic"),
        (INDEPENDENCE, CompanyRule(is_closed=True, name=""), "Independence Day (observed)"),
        (MONDAY, None, ""),
        (MONDAY, CompanyRule(is_closed=True, name="Stock-taking"), "Stock-taking"),
    ],
)
def test_what_the_company_decides_wins_over_the_calendar(day: date, rule: CompanyRule | None, expected: str) -> None:
    rules = {} if rule is None else {day: rule}
    assert closed_because(day, company_days=rules, public=PUBLIC) == expected


@pytest.mark.parametrize(
    ("country", "state", "day", "is_off"),
    [
        # 5 U.S.C. 6103(a): the last Monday in May; (b): July 4, 2026 is a Saturday, so Friday the 3rd is kept.
        ("US", "PA", "2026-05-25", True),
        ("US", "PA", "2026-07-03", True),
        # The fourth Thursday in November, for a state that is written out.
        ("US", "Pennsylvania", "2026-11-26", True),
        # Ontario's Retail Business Holidays Act: Family Day, the third Monday in February, which no US state keeps so.
        ("CA", "ON", "2026-02-16", True),
        # Quebec keeps June 24 (Act respecting the national holiday, chapter F-1.1); Ontario does not.
        ("CA", "QC", "2026-06-24", True),
        ("CA", "ON", "2026-06-24", False),
        ("US", "Tamarack", "2026-12-25", True),
        ("US", "PA", "2026-05-04", False),
    ],
)
def test_holidays_are_those_of_the_region(country: str, state: str, day: str, is_off: bool) -> None:
    assert (date.fromisoformat(day) in public_holidays(country, state, 2026)) is is_off


def test_a_stretch_over_new_year_knows_the_holidays_of_both_years() -> None:
    found = public_between("US", "PA", date(2026, 12, 20), date(2027, 1, 5))
    assert date(2026, 12, 25) in found
    assert date(2027, 1, 1) in found


LONG, SHORT = (time(7, 30), time(16, 30)), (time(8), time(12))


@pytest.mark.parametrize(
    ("hours", "expected"),
    [
        pytest.param({}, [], id="no day"),
        pytest.param({0: LONG}, ["Monday, 7:30 AM to 4:30 PM"], id="one day"),
        pytest.param({0: LONG, 1: LONG}, ["Monday and Tuesday, 7:30 AM to 4:30 PM"], id="two in a row"),
        pytest.param(dict.fromkeys(range(5), LONG), ["Monday to Friday, 7:30 AM to 4:30 PM"], id="the common week"),
        pytest.param(
            {0: LONG, 1: LONG, 2: LONG, 4: LONG},
            ["Monday to Wednesday, 7:30 AM to 4:30 PM", "Friday, 7:30 AM to 4:30 PM"],
            id="a day between is not passed over",
        ),
        pytest.param(
            {4: SHORT, 3: LONG, 2: LONG},
            ["Wednesday and Thursday, 7:30 AM to 4:30 PM", "Friday, 8 AM to 12 PM"],
            id="other hours stand for themselves, in the order of the week",
        ),
    ],
)
def test_a_usual_week_in_words_puts_equal_days_in_a_row_together(
    hours: dict[int, tuple[time, time]], expected: list[str]
) -> None:
    assert week_in_words(hours) == expected
