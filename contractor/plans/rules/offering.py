"""When a plan may be offered by message: once a season, and by e-mail only where the law lets an offer go unasked.

A lawyer should read this for the country in which the company works.
"""

from datetime import date, timedelta

CANADA = "CA"
SEASONS = ("winter", "spring", "summer", "fall")
# An existing business relationship is two years from a purchase: S.C. 2010, c. 23 (CASL), s. 10(10)(a), from memory.
RELATIONSHIP = timedelta(days=2 * 365)


def season_of(on: date) -> tuple[int, str]:
    """The meteorological season of a day and its year: December belongs to the winter of the next year."""
    number = on.month % 12 // 3
    return on.year + (on.month == 12), SEASONS[number]


def season_after(on: date) -> str:
    """What the next season is called."""
    return SEASONS[(SEASONS.index(season_of(on)[1]) + 1) % len(SEASONS)]


def may_go_by_email(*, country: str, last_bought_on: date | None, on: date) -> bool:
    """Whether an offer may go by e-mail without having been asked for.

    In the United States it may until its reader says no (15 U.S.C. 7704); in Canada only within two years of a
    purchase. A letter is held to neither.
    """
    if country != CANADA:
        return True
    return last_bought_on is not None and on - last_bought_on <= RELATIONSHIP
