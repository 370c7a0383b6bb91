"""The lists by standing answer from the stored copy, in the same few queries for two houses as for sixty."""

from datetime import date
from itertools import count, islice

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from contractor.accounts.models import Company
from contractor.office.forms import STANDINGS
from contractor.office.queries import PAGE, houses_page, todays_desk
from contractor.warranties.actions import standing as standing_actions
from tests.factories import OwnershipFactory, PropertyFactory, SystemFactory
from tests.office import factories as made

ON = date(2026, 5, 4)
FILTERS = [code for code, _ in STANDINGS]
numbers = count(1)


def houses(how_many: int, standing: str) -> None:
    """Houses that the filter shows."""
    kind, _, word = standing.partition(":")
    stands = {"cover": "in_force", "care": "current"} | ({kind: word} if word else {})
    for number in islice(numbers, how_many):
        owner = OwnershipFactory(property=PropertyFactory(street=f"{number} Foundry Row"))
        system = SystemFactory(property=owner.property)
        if standing != "none":
            warranty = made.issued_warranty(system, owner, number=f"W{number:09d}")
            made.stored_standing(warranty, **stands)


@pytest.mark.parametrize("standing", FILTERS)
def test_a_list_takes_the_same_few_queries_however_many_houses_stand_so(
    company: Company, standing: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    def derive(*_: object) -> None:
        raise AssertionError("A list must not derive a standing.")

    houses(2, standing)
    # Houses that stand otherwise, which the list must leave out.
    houses(3, "care:gap" if standing != "care:gap" else "cover:ended")
    monkeypatch.setattr(standing_actions, "derived_standings", derive)
    with CaptureQueriesContext(connection) as few:
        page = houses_page(standing=standing)
    assert page.total == (5 if standing in {"", "cover:in_force"} else 2)
    houses(PAGE + 5, standing)
    with CaptureQueriesContext(connection) as many:
        page = houses_page(standing=standing)
    assert len(page.rows) == PAGE
    # The count, the key of the page, its rows, owners, systems, warranties, and their standings where there are any.
    assert len(few) == len(many) == (6 if standing == "none" else 7)


def test_the_desk_counts_the_standings_in_one_query(company: Company) -> None:
    houses(2, "care:due")
    with CaptureQueriesContext(connection) as few:
        todays_desk(on=ON)
    for standing in ("care:due", "care:in_grace", "care:gap"):
        houses(20, standing)
    with CaptureQueriesContext(connection) as many:
        desk = todays_desk(on=ON)
    assert (desk.due, desk.in_grace, desk.gap) == (22, 20, 20)
    assert len(few) == len(many)
    assert sum("standing" in query["sql"] for query in many) == 1


@pytest.mark.parametrize(("standing", "index"), [("cover:ended", "standing_cover"), ("care:gap", "standing_care")])
def test_a_list_by_standing_begins_with_an_index_of_the_standings(company: Company, standing: str, index: str) -> None:
    houses(30, "")
    houses(2, standing)
    with CaptureQueriesContext(connection) as queries:
        houses_page(standing=standing)
    counting = queries[0]["sql"]
    assert counting.startswith("SELECT COUNT")
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            # Without it the planner reckons with what autovacuum last saw: at times a table with nothing in it,
            # whose indexes all cost the same.
            cursor.execute("ANALYZE")
            # So few rows fit on a page that it would rather read them all; what it may use is what is asked.
            cursor.execute("SET LOCAL enable_seqscan = off")
            cursor.execute("SET LOCAL enable_nestloop = off")
            cursor.execute(f"EXPLAIN {counting}")
        else:
            cursor.execute(f"EXPLAIN QUERY PLAN {counting}")
        plan = " ".join(str(row) for row in cursor.fetchall())
    assert index in plan
