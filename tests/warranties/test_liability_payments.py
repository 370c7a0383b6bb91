"""Payments of the liability are what was booked; what is decided and not booked waits in the balance."""

from datetime import date, datetime, timedelta
from decimal import Decimal
from importlib import import_module
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from django.apps import apps
from django.urls import reverse
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from contractor.accounts.models import User
from contractor.systems.models import Component
from contractor.warranties import migrations
from contractor.warranties.actions import claim_costs as actions
from contractor.warranties.claim_money import ClaimCost, Goodwill
from contractor.warranties.liability_assumed import assumptions
from contractor.warranties.liability_cover import balance
from contractor.warranties.liability_facts import kept_liability, year_hash
from contractor.warranties.liability_papers import liability_csv, table_lines
from contractor.warranties.liability_register import read_register
from contractor.warranties.models import Claim, LiabilityYear, Warranty
from contractor.warranties.rules.liability import payments_apart
from contractor.warranties.rules.liability_data import Liability, rows_to_data, table_to_data
from tests.warranties.test_liability import FROM, TYPED, UNTIL, another, booked, close, decided, noon, path, reckoned

pytestmark = pytest.mark.django_db
DECIDED = date(2025, 3, 3)
LOCAL = ZoneInfo("America/New_York")


def waiting(found: Liability) -> list[Decimal]:
    """What stands in the balance of decided claims."""
    return [row.amount for row in found.reserve if row.is_decided]


def test_what_is_booked_is_paid_on_its_own_day_in_cash_or_in_kind(warranty: Warranty) -> None:
    claim = decided(warranty, date(2024, 12, 20), company="900.00", is_booked=False)
    booked(claim, date(2024, 12, 31), "100.00")
    booked(claim, date(2025, 1, 1), "96.00", kind="labor")
    booked(claim, date(2025, 2, 1), "250.50", kind="parts")
    booked(claim, date(2025, 12, 31), "118.25", kind="invoice")
    booked(claim, date(2026, 1, 1), "70.00", kind="owner")
    found = reckoned()
    apart = payments_apart(found.payments)
    assert (apart.in_kind, apart.in_cash, apart.untold) == (Decimal("346.50"), Decimal("118.25"), 0)
    assert found.roll.table.payments == Decimal("464.75")
    # $900.00 decided, less $564.75 booked through the last day.
    assert waiting(found) == [Decimal("335.25")]


def test_what_is_decided_and_not_booked_stays_in_the_balance_until_it_is(warranty: Warranty) -> None:
    claim = decided(warranty, DECIDED, company="812.35", is_booked=False)
    found = reckoned()
    assert found.payments == ()
    assert waiting(found) == [Decimal("812.35")]
    assert "$812.35 are decided and not booked yet" in " ".join(found.notes)
    before = found.roll.table
    booked(claim, date(2025, 6, 1), "300.00")
    found = reckoned()
    assert waiting(found) == [Decimal("512.35")]
    # What moved from the balance to the payments moved to the cent, and nothing was accrued for it.
    assert found.roll.table.closing == before.closing - Decimal("300.00")
    assert found.roll.table.payments == Decimal("300.00")
    assert found.roll.table.changes == before.changes
    booked(claim, date(2025, 7, 1), "512.35")
    assert waiting(reckoned()) == []


def test_the_last_entry_lets_go_of_what_is_left_and_its_undoing_takes_it_up_again(
    warranty: Warranty, nora: User
) -> None:
    claim = decided(warranty, DECIDED, company="500.00", is_booked=False)
    last = booked(claim, date(2025, 5, 1), "440.00", is_last=True)
    found = reckoned()
    assert waiting(found) == []
    actions.undo_cost(cost_id=last.pk, on=date(2025, 6, 1), because="Wrong", by_user=nora, at=noon(UNTIL))
    found = reckoned()
    assert waiting(found) == [Decimal("500.00")]
    assert [one.amount for one in found.payments] == [Decimal("440.00"), Decimal("-440.00")]
    # On a day between the two it was still let go.
    between = reckoned(until_on=date(2025, 5, 20))
    assert (waiting(between), between.roll.table.payments) == ([], Decimal("440.00"))


def test_nothing_at_all_as_the_last_entry_lets_go_without_a_payment(warranty: Warranty) -> None:
    claim = decided(warranty, DECIDED, company="500.00", is_booked=False)
    booked(claim, date(2025, 5, 1), "0.00", is_last=True)
    found = reckoned()
    assert (waiting(found), found.payments) == ([], ())


def test_a_counter_entry_in_the_next_year_leaves_the_closed_one_as_it_was(
    warranty: Warranty, ruth: User, nora: User
) -> None:
    claim = decided(warranty, DECIDED, company="500.00", is_booked=False)
    cost = booked(claim, date(2025, 5, 1), "500.00")
    year = close(ruth)
    table = kept_liability(year).roll.table
    on = date(2026, 1, 5)
    actions.undo_cost(cost_id=cost.pk, on=on, because="Another house", by_user=nora, at=noon(on))
    assert kept_liability(LiabilityYear.objects.get()).roll.table == table
    found = reckoned(from_on=date(2026, 1, 1), until_on=date(2026, 1, 31))
    assert found.roll.table.opening == table.closing
    assert found.roll.table.payments == Decimal("-500.00")
    assert waiting(found) == [Decimal("500.00")]


def test_an_entry_and_its_counter_entry_stay_in_sight_though_they_come_to_nothing(
    warranty: Warranty, nora: User
) -> None:
    # The house is out of every promise: nothing but the two entries speaks of it.
    Warranty.objects.update(voided_on=date(2021, 1, 1), voided_clause="4", voided_because="Removed.")
    claim = decided(warranty, date(2020, 9, 1), company="500.00", is_booked=False)
    cost = booked(claim, date(2025, 5, 1), "500.00", is_last=True)
    booked(claim, date(2020, 9, 2), "0.00", is_last=True)
    actions.undo_cost(cost_id=cost.pk, on=date(2025, 6, 1), because="Wrong", by_user=nora, at=noon(UNTIL))
    found = reckoned()
    assert [one.warranty_id for one in found.roll.movements] == [warranty.pk]
    assert liability_csv(found).count("payments,") == 2


def test_a_part_whose_claim_is_not_all_booked_is_not_counted_twice(warranty: Warranty) -> None:
    pit = Component.objects.get(system=warranty.system, part_kind="pit")
    claim = decided(warranty, DECIDED, company="800.00", is_booked=False)
    Claim.objects.update(component=pit)
    kinds = [(row.claim_id, row.component_id) for row in reckoned().reserve if row.part_kind == "pit"]
    assert kinds == [(claim.pk, None)]
    booked(claim, date(2025, 5, 1), "800.00")
    kinds = [(row.claim_id, row.component_id) for row in reckoned().reserve if row.part_kind == "pit"]
    assert kinds == [(None, pit.pk)]


@pytest.mark.parametrize(
    ("local", "is_decided"),
    [
        (datetime(2025, 12, 31, 23, 30, tzinfo=LOCAL), True),  # January 1 in UTC already
        (datetime(2026, 1, 1, 0, 30, tzinfo=LOCAL), False),
    ],
)
def test_a_claim_counts_by_the_day_where_the_company_is(warranty: Warranty, local: datetime, is_decided: bool) -> None:
    decided(warranty, UNTIL, company="500.00", cost="900.00", is_booked=False)
    Claim.objects.update(decided_at=local, cost=Decimal("900.00"))
    [row] = [row for row in reckoned().reserve if row.claim_id]
    assert row.is_decided is is_decided
    assert row.amount == (Decimal("500.00") if is_decided else Decimal("900.00"))


def test_goodwill_is_owed_once_it_is_given_and_is_told_apart(warranty: Warranty, ruth: User) -> None:
    claim = decided(warranty, DECIDED, company="0.00")
    Goodwill.objects.create(
        claim=claim, amount=Decimal("120.00"), because="A gift", given_by=ruth, given_at=noon(date(2025, 4, 1))
    )
    assert waiting(reckoned(until_on=date(2025, 3, 31))) == []
    assert waiting(reckoned()) == [Decimal("120.00")]
    booked(claim, date(2025, 5, 1), "100.00", kind="owner", is_goodwill=True)
    found = reckoned()
    assert waiting(found) == [Decimal("20.00")]
    assert payments_apart(found.payments).goodwill == Decimal("100.00")
    assert "$100.00 are goodwill beyond the terms" in " ".join(found.notes)


def test_the_table_shows_cash_and_kind_apart(warranty: Warranty) -> None:
    claim = decided(warranty, DECIDED, company="500.00", is_booked=False)
    booked(claim, date(2025, 5, 1), "96.00", kind="labor")
    booked(claim, date(2025, 5, 1), "150.00")
    shown = {line.word: line.shown for line in table_lines(reckoned())}
    assert shown["in cash"] == Decimal("-150.00")
    assert shown["in kind"] == Decimal("-96.00")
    assert shown["Payments made, in cash or in kind"] == Decimal("-246.00")
    assert not [word for word in shown if "not told" in word]


def test_the_pages_show_the_entries_behind_the_payments(warranty: Warranty, ruth: User, signed_in_as: Any) -> None:
    claim = decided(warranty, DECIDED, company="500.00", is_booked=False)
    booked(claim, date(2025, 5, 1), "96.00", kind="labor")
    client = signed_in_as(ruth)
    page = client.get(path("liability")).content.decode()
    assert "in kind" in page
    assert "−$96.00" in page
    rows = client.get(path("liability_rows", line="payments")).content.decode()
    assert reverse("warranties:claim", args=[claim.pk]) in rows
    assert "in kind" in rows
    rows = client.get(path("liability_rows", kind="pit")).content.decode()
    assert "decided and not all booked" in rows


# ---- years closed before costs were booked ----


def test_a_year_closed_before_costs_were_booked_reads_as_it_was_closed(warranty: Warranty, ruth: User) -> None:
    decided(warranty, DECIDED, company="812.35")
    year = close(ruth)
    rows = {**year.rows}
    for name, late in (("payments", 2), ("reserve", 1)):
        old = year.rows[name]
        rows[name] = {"columns": old["columns"][:-late], "rows": [row[:-late] for row in old["rows"]]}
    LiabilityYear.objects.update(rows=rows, sha256=year_hash(year.from_on, year.until_on, year.table, rows))
    kept = kept_liability(LiabilityYear.objects.get())
    assert kept.roll == kept_liability(year).roll
    assert [(one.amount, one.paid_in, one.is_goodwill) for one in kept.payments] == [(Decimal("812.35"), "", False)]
    assert not waiting(kept)
    assert "in cash" not in {line.word for line in table_lines(kept)}
    again = rows_to_data(kept), table_to_data(kept)
    assert again[1] == year.table


def test_what_was_counted_by_its_decision_is_carried_over_once(warranty: Warranty, ruth: User, nora: User) -> None:
    late = datetime(2025, 12, 31, 23, 30, tzinfo=LOCAL)
    claim = decided(warranty, DECIDED, company="812.35", is_booked=False)
    Claim.objects.update(decided_at=late, decided_by=nora)
    decided(warranty, DECIDED, company="0.00")
    [file] = Path(migrations.__path__[0]).glob("*_claim_costs.py")
    import_module(f"contractor.warranties.migrations.{file.stem}").carry_over(apps, None)
    cost = ClaimCost.objects.get()
    assert (cost.claim, cost.amount, cost.on, cost.booked_by) == (claim, Decimal("812.35"), UNTIL, nora)
    found = reckoned()
    assert waiting(found) == []
    assert payments_apart(found.payments).untold == Decimal("812.35")
    words = {line.word: line.shown for line in table_lines(found)}
    assert words["by decision, before costs were booked"] == Decimal("-812.35")


# ---- nothing falls between ----


@pytest.mark.usefixtures("db")
@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    amounts=st.lists(
        st.tuples(st.decimals(min_value="0.01", max_value=400, places=2), st.integers(0, 300)), max_size=5
    ),
    day=st.integers(0, 300),
)
def test_balance_and_payments_of_a_claim_are_what_was_decided_on_every_day(
    warranty: Warranty, amounts: list[tuple[Decimal, int]], day: int
) -> None:
    ClaimCost.objects.all().delete()
    Claim.objects.all().delete()
    claim = decided(warranty, FROM, company="2000.00", is_booked=False)
    for amount, after in amounts:
        booked(claim, FROM + timedelta(days=after), str(amount))
    on = FROM + timedelta(days=day)
    found = reckoned(until_on=on)
    assert sum(waiting(found), Decimal(0)) + found.roll.table.payments == Decimal("2000.00")
    assert found.roll.table.payments == sum((amount for amount, after in amounts if after <= day), Decimal(0))


def test_the_register_reads_both_days_in_as_many_queries_however_many_houses(
    warranty: Warranty, django_assert_num_queries: Any
) -> None:
    for count in (0, 8):
        for place in range(count):
            another(warranty, date(2015 + place, 4, 1))
        with django_assert_num_queries(4):
            register = read_register(before_on=FROM, until_on=UNTIL)
    assumed = assumptions(on=UNTIL, typed=TYPED)
    pits = [row for row in balance(on=UNTIL, assumed=assumed, register=register).rows if row.part_kind == "pit"]
    assert len(pits) == 9
