"""Booking a cost while its year is being closed: it stands in the closed figures or is refused, never neither.

On PostgreSQL with two connections, because SQLite lets one writer in at a time by itself. Who comes first is set by
hand: the first one stays in its transaction until the database says that the second one waits for it.
"""

import threading
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import date, datetime
from decimal import Decimal
from functools import partial
from typing import Any

import pytest
from django.db import connection, transaction

from contractor.accounts.models import User
from contractor.warranties.actions.claim_costs import book_cost, undo_cost
from contractor.warranties.actions.liability import close_liability_year
from contractor.warranties.claim_money import ClaimCost
from contractor.warranties.cost_errors import BookedInClosedYear, BooksHeld
from contractor.warranties.errors import LiabilityYearClosed
from contractor.warranties.liability_facts import kept_liability, payments_between, year_hash
from contractor.warranties.models import Claim, LiabilityYear, Warranty
from tests.warranties.test_liability import ALL_COSTS, booked, decided

pytestmark = [
    pytest.mark.django_db(transaction=True),
    pytest.mark.skipif(connection.vendor != "postgresql", reason="SQLite lets one writer in at a time by itself"),
]
FIRST, LAST, NEXT = date(2025, 1, 1), date(2025, 12, 31), date(2026, 1, 1)
SPENT = date(2025, 12, 30)


@pytest.fixture
def claim(warranty: Warranty) -> Claim:
    """Decided in 2025; the company bears $1,000.00 of it, and nothing is booked yet."""
    return decided(warranty, date(2025, 6, 2), is_booked=False)


@pytest.fixture
def book(claim: Claim, nora: User, at: datetime) -> Callable[..., ClaimCost]:
    return partial(
        book_cost, claim_id=claim.pk, kind="invoice", amount=Decimal("321.09"), on=SPENT, note="Invoice 7",
        by_user=nora, at=at,
    )  # fmt: skip


@pytest.fixture
def close(ruth: User, at: datetime) -> Callable[[], LiabilityYear]:
    return partial(
        close_liability_year, from_on=FIRST, until_on=LAST, typed=ALL_COSTS, is_read=True, by_user=ruth, at=at
    )


def test_a_cost_that_came_first_stands_in_the_closed_year(
    book: Callable[..., ClaimCost], close: Callable[[], LiabilityYear]
) -> None:
    cost, year = first_then(book, close)
    assert isinstance(cost, ClaimCost)
    assert closed_payments() == [(SPENT, cost.amount)]
    assert kept_liability(year).roll.table.payments == Decimal("321.09")
    assert_books_hold()


def test_a_cost_that_came_second_is_refused_with_the_day_on_which_it_can_be_booked(
    book: Callable[..., ClaimCost], close: Callable[[], LiabilityYear]
) -> None:
    year, refusal = first_then(close, book)
    assert isinstance(year, LiabilityYear)
    assert isinstance(refusal, BookedInClosedYear)
    assert "Book it on January 1, 2026 or later" in refusal.sentence
    assert not ClaimCost.objects.exists()
    # What was spent is not lost: it goes into the year that is open.
    book(on=NEXT)
    assert closed_payments() == []
    assert [one.amount for one in payments_between(NEXT, date(2026, 5, 4))] == [Decimal("321.09")]
    assert_books_hold()


def test_a_counter_entry_that_came_second_is_refused_and_the_closed_cost_stays(
    claim: Claim, nora: User, at: datetime, close: Callable[[], LiabilityYear]
) -> None:
    cost = booked(claim, SPENT, "321.09")
    undo = partial(undo_cost, cost_id=cost.pk, because="Typed twice", by_user=nora, at=at)
    _, refusal = first_then(close, partial(undo, on=LAST))
    assert isinstance(refusal, BookedInClosedYear)
    assert closed_payments() == [(SPENT, cost.amount)]
    undo(on=NEXT)
    assert [one.amount for one in payments_between(NEXT, date(2026, 5, 4))] == [Decimal("-321.09")]
    assert_books_hold()


def test_a_counter_entry_that_came_first_stands_in_the_closed_year(
    claim: Claim, nora: User, at: datetime, close: Callable[[], LiabilityYear]
) -> None:
    cost = booked(claim, SPENT, "321.09")
    first_then(partial(undo_cost, cost_id=cost.pk, on=LAST, because="Typed twice", by_user=nora, at=at), close)
    assert closed_payments() == [(SPENT, Decimal("321.09")), (LAST, Decimal("-321.09"))]
    assert kept_liability(LiabilityYear.objects.get()).roll.table.payments == 0
    assert_books_hold()


def test_two_who_close_a_year_at_once_close_it_once(close: Callable[[], LiabilityYear]) -> None:
    year, refusal = first_then(close, close)
    assert isinstance(refusal, LiabilityYearClosed)
    assert LiabilityYear.objects.get() == year


def test_whoever_waits_too_long_is_told_to_try_again(
    book: Callable[..., ClaimCost], close: Callable[[], LiabilityYear]
) -> None:
    """Closing a large year takes longer than the database lets anybody wait."""

    def in_haste() -> ClaimCost:
        with connection.cursor() as cursor:
            cursor.execute("SET lock_timeout = '300ms'")
        return book()

    year, refusal = first_then(close, in_haste, stays_seconds=1.5)
    assert isinstance(refusal, BooksHeld)
    assert "Nothing was booked" in refusal.sentence
    assert isinstance(year, LiabilityYear)
    assert not ClaimCost.objects.exists()
    assert_books_hold()


@pytest.mark.parametrize("bookings", [1, 2, 5])
def test_however_many_press_at_the_same_moment_nothing_is_lost(
    book: Callable[..., ClaimCost], close: Callable[[], LiabilityYear], bookings: int
) -> None:
    """Left to chance: each cost is either in the closed figures or was refused."""
    start = threading.Barrier(bookings + 1)

    def press(verb: Callable[[], Any]) -> Any:
        start.wait()
        return outcome_of(verb)

    verbs = [partial(book, amount=Decimal(number)) for number in range(1, bookings + 1)]
    with ThreadPoolExecutor(bookings + 1) as pool:
        *told, year = [future.result() for future in [pool.submit(press, verb) for verb in (*verbs, close)]]
    assert isinstance(year, LiabilityYear)
    kept = [(one.on, one.amount) for one in told if isinstance(one, ClaimCost)]
    assert all(isinstance(one, ClaimCost | BookedInClosedYear) for one in told)
    assert closed_payments() == sorted(kept)
    assert_books_hold()


def first_then(
    first: Callable[[], Any], second: Callable[[], Any], *, stays_seconds: float = 0.0
) -> tuple[Any, Any]:
    """Both at once: the first has written and not committed when the second begins, and commits once that waits."""
    has_written = threading.Event()

    def leads() -> Any:
        with transaction.atomic():
            told = first()
            has_written.set()
            wait_until_somebody_waits()
            time.sleep(stays_seconds)
        return told

    def follows() -> Any:
        has_written.wait(timeout=60)
        return second()

    with ThreadPoolExecutor(2) as pool:
        futures = [pool.submit(outcome_of, verb) for verb in (leads, follows)]
        one, other = (future.result() for future in futures)
    return one, other


def wait_until_somebody_waits() -> None:
    """Until another connection of this database waits for a lock (pg_stat_activity of PostgreSQL)."""
    for _ in range(6000):
        with connection.cursor() as cursor:
            # Within one transaction the database would answer the same for ever.
            cursor.execute("SELECT pg_stat_clear_snapshot()")
            cursor.execute(
                "SELECT count(*) FROM pg_stat_activity"
                " WHERE datname = current_database() AND wait_event_type = 'Lock' AND pid <> pg_backend_pid()"
            )
            if cursor.fetchone()[0]:
                return
        time.sleep(0.01)
    raise AssertionError("Nobody waited: the two did not meet.")


def outcome_of(verb: Callable[[], Any]) -> Any:
    """What it gave, or how it was refused."""
    try:
        return verb()
    except (BookedInClosedYear, BooksHeld, LiabilityYearClosed) as refusal:
        return refusal
    finally:
        connection.close()


def closed_payments() -> list[tuple[date, Decimal]]:
    """The costs in the figures of the closed year."""
    return sorted((one.paid_on, one.amount) for one in kept_liability(LiabilityYear.objects.get()).payments)


def assert_books_hold() -> None:
    """Every cost of the closed year's days is in its figures, and its figures are those that were closed."""
    year = LiabilityYear.objects.get()
    assert closed_payments() == sorted(ClaimCost.objects.filter(on__range=(FIRST, LAST)).values_list("on", "amount"))
    assert year_hash(year.from_on, year.until_on, year.table, year.rows) == year.sha256
