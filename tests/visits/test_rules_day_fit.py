"""How a day lies to the window of a visit, as whoever gives it out reads it."""

from datetime import date

import pytest

from contractor.visits.rules import Fit, day_fit

EARLIEST, TARGET, LATEST = date(2026, 3, 15), date(2026, 5, 14), date(2026, 7, 13)
EARLY = (
    "This is before the window opens on March 15, 2026: the next one will be due a year from the visit at the latest."
)
GRACE = "This is in the days of grace, which end on July 13, 2026."
GAP = "This is after the last day, July 13, 2026: the record will show a gap in care."

CHECKUPS: tuple[tuple[date, Fit, str], ...] = (
    (date(2026, 1, 1), Fit.EARLY, EARLY),
    (date(2026, 3, 14), Fit.EARLY, EARLY),
    (date(2026, 3, 15), Fit.INSIDE, ""),
    (date(2026, 5, 13), Fit.INSIDE, ""),
    (date(2026, 5, 14), Fit.INSIDE, ""),
    (date(2026, 5, 15), Fit.GRACE, GRACE),
    (date(2026, 7, 13), Fit.GRACE, GRACE),
    (date(2026, 7, 14), Fit.LATE, GAP),
    (date(2027, 5, 14), Fit.LATE, GAP),
)
OTHERS: tuple[tuple[date, Fit, str], ...] = (
    (date(2026, 3, 14), Fit.EARLY, "This is before the first day that was asked for, March 15, 2026."),
    (date(2026, 3, 15), Fit.INSIDE, ""),
    (date(2026, 5, 15), Fit.INSIDE, ""),
    (date(2026, 7, 13), Fit.INSIDE, ""),
    (date(2026, 7, 14), Fit.LATE, "This is after the last day that was asked for, July 13, 2026."),
)


@pytest.mark.parametrize(("on", "fit", "sentence"), CHECKUPS, ids=lambda value: str(value)[:10])
def test_a_check_up_is_early_inside_in_grace_or_late(on: date, fit: Fit, sentence: str) -> None:
    found = day_fit(on=on, earliest_on=EARLIEST, target_on=TARGET, latest_on=LATEST, is_checkup=True)
    assert (found.fit, found.sentence) == (fit, sentence)


@pytest.mark.parametrize(("on", "fit", "sentence"), OTHERS, ids=lambda value: str(value)[:10])
def test_any_other_visit_has_no_grace_and_leaves_no_gap(on: date, fit: Fit, sentence: str) -> None:
    found = day_fit(on=on, earliest_on=EARLIEST, target_on=TARGET, latest_on=LATEST, is_checkup=False)
    assert (found.fit, found.sentence) == (fit, sentence)


def test_a_window_of_one_day_has_one_day_inside() -> None:
    fits = [
        day_fit(on=date(2026, 5, day), earliest_on=TARGET, target_on=TARGET, latest_on=TARGET, is_checkup=True).fit
        for day in (13, 14, 15)
    ]
    assert fits == [Fit.EARLY, Fit.INSIDE, Fit.LATE]
