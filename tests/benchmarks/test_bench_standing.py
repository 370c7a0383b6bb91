"""How long the nightly renewal of standings, its proof, and the lists by standing take for many warranties.

Run by themselves: ``pytest tests/benchmarks -n0 -s``. They measure and never fail for being slow.
For 100,000 warranties on SQLite: 162 s for the first night, 76 s for the next, 66 s for the proof, 0.3 s for a list.
"""

import resource
from collections.abc import Callable
from datetime import timedelta
from time import perf_counter
from typing import Any

import pytest
from django.db import connection

from contractor.accounts.models import User
from contractor.office.queries import houses_page, todays_desk
from contractor.warranties.actions.standing import refresh_all_standings
from contractor.warranties.models import StoredStanding, Warranty
from contractor.warranties.standing_rows import wrong_standings
from tests.benchmarks.standing_houses import ON, many_warranties
from tests.warranties.factories import published_terms

LISTS: dict[str, Callable[[], Any]] = {
    "houses, the first page": houses_page,
    "houses in force": lambda: houses_page(standing="cover:in_force"),
    "houses with a gap": lambda: houses_page(standing="care:gap"),
    "houses with a gap in one town": lambda: houses_page(standing="care:gap", town="Larkmere"),
    "houses void": lambda: houses_page(standing="cover:void"),
    "houses without a warranty": lambda: houses_page(standing="none"),
    "the desk today": lambda: todays_desk(on=ON),
}


def prove() -> int:
    """How many stored standings are not the derived ones."""
    after: int | None = 0
    wrong = 0
    while after is not None:
        problems, after = wrong_standings(after=after)
        wrong += len(problems)
    return wrong


@pytest.mark.django_db
@pytest.mark.parametrize("count", [10_000, 100_000])
def test_a_night_of_standings_its_proof_and_the_lists(count: int, company: object, theo: User, benchmark: Any) -> None:
    many_warranties(published_terms(), theo, count)
    took: dict[str, str] = {}

    def timed(name: str, work: Callable[[], Any]) -> Any:
        queries = 0

        def count_it(execute: Callable[..., Any], *asked: Any) -> Any:
            nonlocal queries
            queries += 1
            return execute(*asked)

        with connection.execute_wrapper(count_it):
            begun = perf_counter()
            done = work()
            seconds = perf_counter() - begun
        took[name] = f"{seconds:.3f} s, {queries:,} queries"
        return done

    assert timed("the first night, all written", lambda: refresh_all_standings(on=ON)) == count
    benchmark.pedantic(lambda: refresh_all_standings(on=ON + timedelta(days=1)), rounds=1, warmup_rounds=0)
    assert timed("the proof", prove) == 0
    for name, work in LISTS.items():
        timed(name, work)
    print(f"\n{Warranty.objects.count()} warranties, {StoredStanding.objects.count()} stored standings")
    mean = benchmark.stats.stats.mean
    print(f"  the night after: {mean:.1f} s, {1000 * mean / count:.2f} ms each")
    for name, figures in took.items():
        print(f"  {name}: {figures}")
    print(f"  peak memory {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB")
