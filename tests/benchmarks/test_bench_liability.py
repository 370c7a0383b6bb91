"""How long the liability of a year takes for many warranties, and how much of it is only reading the rows.

Run by themselves: ``pytest tests/benchmarks -n0 -s``. They measure and never fail for being slow. On a busy machine
look at the time at work: for 100,000 warranties on SQLite 8.2 s for the whole year, of which the rows' floor is 0.9 s.
"""

import resource
from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal
from time import perf_counter, process_time
from typing import Any

import pytest
from django.db import connection

from contractor.accounts.models import User
from contractor.warranties.claim_money import ClaimCost
from contractor.warranties.liability_assumed import Typed, assumptions
from contractor.warranties.liability_cover import balance
from contractor.warranties.liability_facts import reckoned_liability
from contractor.warranties.liability_papers import liability_context, liability_csv
from contractor.warranties.liability_register import read_register
from contractor.warranties.models import Claim, Warranty
from tests.benchmarks.standing_houses import KINDS, ON, many_warranties
from tests.factories import LONG_AGO
from tests.warranties.factories import published_terms

FROM = ON - timedelta(days=365)
TYPED = Typed(costs={kind: Decimal(500) for kind in KINDS}, years={"pit": Decimal(40)})
# The floor: the rows of the parts and the warranties as the driver gives them, for one of the two days.
FLOOR = (
    "SELECT id, system_id, part_kind, in_on, out_on FROM systems_component ORDER BY system_id, id",
    "SELECT id, system_id, terms_id, issued_on, voided_on FROM warranties_warranty ORDER BY id",
)


def claims_with_costs(by_user: User) -> None:
    """A claim on every fiftieth warranty, decided over the last two years; of every fourth, half is not booked."""
    warranties = list(Warranty.objects.order_by("pk").values_list("pk", flat=True)[::50])
    claims = Claim.objects.bulk_create(
        Claim(
            warranty_id=pk,
            part_kind="primary_pump",
            lost_on=ON - timedelta(days=place % 700 + 3),
            reported_on=ON - timedelta(days=place % 700 + 3),
            what="It failed.",
            cause="part_failed",
            cost=Decimal(650),
            state="decided",
            outcome="covered",
            owner_pays=Decimal(150),
            contractor_pays=Decimal(500),
            decided_at=LONG_AGO.replace(year=ON.year) - timedelta(days=place % 700),
        )
        for place, pk in enumerate(warranties)
    )
    ClaimCost.objects.bulk_create(
        ClaimCost(
            claim=claim,
            kind=kind,
            amount=Decimal(250),
            on=claim.reported_on,
            note="For the benchmark.",
            booked_by=by_user,
            booked_at=LONG_AGO,
        )
        for place, claim in enumerate(claims)
        for kind in (("labor", "parts") if place % 4 else ("labor",))
    )


@pytest.mark.django_db
@pytest.mark.parametrize("count", [10_000, 100_000])
def test_the_liability_of_a_year(count: int, company: object, theo: User, benchmark: Any) -> None:
    many_warranties(published_terms(), theo, count, checked_years_ago=())
    claims_with_costs(theo)
    took: dict[str, str] = {}

    def timed(name: str, work: Callable[[], Any]) -> Any:
        begun, worked = perf_counter(), process_time()
        done = work()
        took[name] = f"{perf_counter() - begun:.2f} s, of which {process_time() - worked:.2f} s at work"
        return done

    def floor() -> None:
        with connection.cursor() as cursor:
            for sql in FLOOR:
                cursor.execute(sql)
                cursor.fetchall()

    timed("the floor: reading the rows with bare SQL", floor)
    register = timed("reading the register", lambda: read_register(before_on=FROM, until_on=ON))
    assumed = timed("costs and lives of one day", lambda: assumptions(on=ON, typed=TYPED))
    closing = timed("one balance", lambda: balance(on=ON, assumed=assumed, register=register))
    timed("its sums", lambda: closing.by_warranty)
    rows = timed("its rows", lambda: closing.rows)

    def whole() -> Any:
        return timed("the whole year", lambda: reckoned_liability(from_on=FROM, until_on=ON, typed=TYPED))

    found = benchmark.pedantic(whole, rounds=1, warmup_rounds=0)
    timed("what the page shows", lambda: liability_context(found, None))
    timed("the rows as CSV", lambda: liability_csv(found))
    print(f"\n{count:,} warranties, {register.in_on.size:,} parts, {len(rows):,} rows in the balance")
    for name, figure in took.items():
        print(f"  {name}: {figure}")
    print(f"  peak memory {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB")
