"""The liability of a year: reckoned from the records, traceable to its rows, and the same for ever once closed."""

import csv
from collections import defaultdict
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from io import BytesIO, StringIO
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader
from scipy import stats

from contractor.accounts.models import User
from contractor.core import audit, clock
from contractor.core.errors import Refusal
from contractor.core.models import AuditEntry
from contractor.systems.models import Component
from contractor.warranties import errors
from contractor.warranties.actions.liability import close_liability_year
from contractor.warranties.claim_money import ClaimCost
from contractor.warranties.liability_assumed import Typed, assumptions
from contractor.warranties.liability_facts import closed_year, kept_liability, reckoned_liability, year_hash
from contractor.warranties.liability_papers import cohort_rows, liability_csv, liability_pdf, movements_of
from contractor.warranties.models import Claim, LiabilityYear, Warranty
from contractor.warranties.rules.liability_cohorts import cohorts
from contractor.warranties.rules.liability_data import Liability, liability_from_data
from contractor.warranties.rules.liability_reserve import CostSource, LifeSource
from tests.factories import ComponentFactory, OwnershipFactory, SystemFactory
from tests.warranties.rule_builders import expected_amount

pytestmark = pytest.mark.django_db
SignIn = Callable[[User], Client]

FROM, UNTIL = date(2025, 1, 1), date(2025, 12, 31)
TYPED = Typed(costs={"pit": Decimal("2400.00")}, years={"pit": Decimal("40")})
ALL_COSTS = Typed(
    costs={kind: Decimal("500.00") for kind in ("primary_pump", "standby_pump", "battery", "float_switch", "pit")},
    years={"pit": Decimal("40")},
)


def noon(on: date) -> datetime:
    return datetime.combine(on, datetime.min.time(), tzinfo=UTC) + timedelta(hours=17)


def decided(
    warranty: Warranty,
    on: date,
    *,
    kind: str = "pit",
    cost: str = "1000.00",
    company: str = "1000.00",
    is_booked: bool = True,
) -> Claim:
    """A claim decided on a day; what the company bears of it was booked on the same day, unless said otherwise."""
    claim = Claim.objects.create(
        warranty=warranty,
        part_kind=kind,
        lost_on=on,
        reported_on=on,
        what="It failed.",
        cause="part_failed",
        cost=Decimal(cost),
        state="decided",
        outcome="covered" if Decimal(company) else "not_covered",
        owner_pays=Decimal(cost) - Decimal(company),
        contractor_pays=Decimal(company),
        decided_at=noon(on),
    )
    if is_booked and Decimal(company):
        booked(claim, on, company)
    return claim


def booked(claim: Claim, on: date, amount: str, kind: str = "invoice", **changes: Any) -> ClaimCost:
    by, _ = User.objects.get_or_create(email="books@example.com", defaults={"name": "Books"})
    row = {"claim": claim, "kind": kind, "on": on, "amount": Decimal(amount), "note": "For the test."}
    return ClaimCost.objects.create(**(row | changes), booked_by=by, booked_at=noon(on))


def another(warranty: Warranty, issued_on: date) -> Warranty:
    """A warranty of another house with a pit, on the same terms."""
    system = SystemFactory(property=OwnershipFactory().property, installed_on=issued_on)
    ComponentFactory(system=system, part_kind="pit", in_on=issued_on)
    return Warranty.objects.create(
        number=f"W{system.pk}",
        system=system,
        terms=warranty.terms,
        issued_on=issued_on,
        issued_to=system.property.ownerships.get(),
        issued_at=noon(issued_on),
    )


def reckoned(typed: Typed = TYPED, from_on: date = FROM, until_on: date = UNTIL) -> Liability:
    return reckoned_liability(from_on=from_on, until_on=until_on, typed=typed)


def test_a_pit_is_reckoned_by_its_age_and_the_share_of_each_month(warranty: Warranty) -> None:
    row = next(row for row in reckoned().reserve if row.part_kind == "pit")
    # SciPy: a pit of May 14, 2020, of which half last 40 years (shape 1.5, assumed), covered through May 14, 2045.
    life = stats.weibull_min(1.5, scale=40 / 0.6931471805599453 ** (1 / 1.5))
    age = (UNTIL - date(2020, 5, 14)).days / 365.25
    end = age + (date(2045, 5, 14) - UNTIL).days / 365.25
    chance = (life.sf(age) - life.sf(end)) / life.sf(age)
    assert float(row.chance) == pytest.approx(chance, abs=1e-6)
    # All of it until month 120, then 180 equal steps down.
    edges = [age, *(max(age, month / 12) for month in range(120, 301))]
    shares = [1.0, *((300 - month) / 180 for month in range(120, 300))]
    weighted = sum(
        share * (life.sf(a) - life.sf(b)) for share, a, b in zip(shares, edges, edges[1:], strict=False)
    ) / life.sf(age)
    assert float(row.share) == pytest.approx(weighted, abs=1e-5)
    assert row.amount == expected_amount(Decimal("2400.00"), row.share)


def test_every_figure_is_the_sum_of_its_rows(warranty: Warranty) -> None:
    another(warranty, date(2025, 4, 1))
    decided(warranty, date(2025, 7, 1), company="812.35")
    found = reckoned(ALL_COSTS)
    table = found.roll.table
    assert table.opening > 0
    assert table.issued > 0
    assert table.payments == Decimal("812.35") == sum(one.amount for one in found.payments)
    assert table.closing == sum((row.amount for row in found.reserve), Decimal(0))
    assert table.opening - table.payments + table.issued + table.changes == table.closing
    for line in ("opening", "issued", "changes", "closing"):
        assert sum((getattr(one, line) for one in movements_of(found, line)), Decimal(0)) == getattr(table, line)
    matrix = cohorts(found.reserve)
    assert matrix.columns == ("2020", "2025")
    assert matrix.total.amount == table.closing == sum(cell.amount for cell in matrix.totals)
    for line in matrix.lines:
        rows = cohort_rows(found, line.part_kind, None)
        assert sum(row.amount for row in rows) == line.total.amount == sum(cell.amount for cell in line.cells)


def test_early_years_share_a_column_on_paper(warranty: Warranty) -> None:
    for year in range(2021, 2026):
        another(warranty, date(year, 4, 1))
    rows = reckoned().reserve
    assert cohorts(rows, most=3).columns == ("2020 to 2023", "2024", "2025")
    assert cohorts(rows, most=3).total == cohorts(rows).total
    assert cohorts(rows, most=6).columns == ("2020", "2021", "2022", "2023", "2024", "2025")


def test_nothing_is_promised_after_the_term_or_for_a_void_warranty(warranty: Warranty) -> None:
    # A float switch is promised 36 months: over on May 14, 2023.
    kinds = {row.part_kind for row in reckoned(ALL_COSTS).reserve}
    assert "float_switch" not in kinds
    assert "pit" in kinds
    Warranty.objects.filter(pk=warranty.pk).update(
        voided_on=date(2025, 6, 1), voided_clause="4", voided_because="Removed."
    )
    found = reckoned(ALL_COSTS)
    assert found.reserve == ()
    assert found.roll.table.changes == -found.roll.table.opening < 0


def test_a_part_that_came_out_later_was_still_at_risk_at_the_beginning(warranty: Warranty) -> None:
    before = reckoned().roll.table.opening
    Component.objects.filter(system=warranty.system, part_kind="pit").update(out_on=date(2025, 6, 1))
    found = reckoned()
    assert found.roll.table.opening == before > 0
    assert found.roll.table.closing == 0


def test_an_open_claim_stands_in_the_place_of_its_part(warranty: Warranty) -> None:
    pit = Component.objects.get(system=warranty.system, part_kind="pit")
    claim = Claim.objects.create(
        warranty=warranty,
        component=pit,
        part_kind="pit",
        lost_on=date(2025, 12, 1),
        reported_on=date(2025, 12, 2),
        what="Cracked.",
        cause="part_failed",
    )
    rows = [row for row in reckoned().reserve if row.part_kind == "pit"]
    assert [(row.claim_id, row.component_id) for row in rows] == [(claim.pk, None)]
    # Within the first 120 months all of the assumed cost; once a cost is known, that one.
    assert rows[0].amount == Decimal("2400.00")
    Claim.objects.update(cost=Decimal("1999.99"))
    assert next(row for row in reckoned().reserve if row.part_kind == "pit").amount == Decimal("1999.99")
    Claim.objects.update(state="withdrawn")
    rows = [row for row in reckoned().reserve if row.part_kind == "pit"]
    assert [row.component_id for row in rows] == [pit.pk]


def test_a_claim_decided_on_the_last_day_is_paid_and_no_longer_open(warranty: Warranty) -> None:
    decided(warranty, UNTIL, company="300.00")
    decided(warranty, UNTIL + timedelta(days=1), company="70.00")
    found = reckoned()
    assert [one.amount for one in found.payments] == [Decimal("300.00")]
    assert not [row for row in found.reserve if row.claim_id]


def test_what_nobody_knows_is_said_and_not_guessed(warranty: Warranty) -> None:
    found = reckoned(Typed())
    assert found.roll.table.closing == 0
    text = " ".join(found.notes)
    assert "1 pit under cover is not in these figures" in text
    assert "what a repair costs or how long they last" in text
    with_cost = reckoned(Typed(costs={"pit": Decimal(100)}))
    assert "nobody knows how long they last" in " ".join(with_cost.notes)
    assert "pit" not in " ".join(reckoned().notes).split("channel")[0]


@pytest.mark.parametrize(
    ("claims", "source", "cost"), [(4, CostSource.TYPED, "2400.00"), (5, CostSource.CLAIMS, "300.10")]
)
def test_from_five_covered_claims_on_their_mean_is_the_cost(
    warranty: Warranty, claims: int, source: CostSource, cost: str
) -> None:
    for place in range(claims):
        decided(warranty, date(2024, 3, 1 + place), cost=f"{100 * (place + 1)}.10", company="50.00")
    decided(warranty, date(2024, 4, 1), cost="9000.00", company="0.00")  # not covered: no cost of ours
    decided(warranty, UNTIL + timedelta(days=1), cost="7000.00")  # decided later
    found = assumptions(on=UNTIL, typed=TYPED)["pit"]
    assert found.cost_source is source
    # (100.10 + 200.10 + 300.10 + 400.10 + 500.10) / 5 = 300.10
    assert found.cost == Decimal(cost)
    assert found.claims == claims


def test_a_life_comes_from_our_records_once_five_have_failed(warranty: Warranty) -> None:
    assert assumptions(on=UNTIL, typed=Typed())["battery"].life_source is LifeSource.AGE_RULE
    assert assumptions(on=UNTIL, typed=Typed())["battery"].median_years == pytest.approx(5.0)
    assert assumptions(on=UNTIL, typed=Typed(years={"battery": Decimal(4)}))["battery"].median_years == pytest.approx(4)
    assert assumptions(on=UNTIL, typed=Typed())["channel"].life_source is LifeSource.UNKNOWN
    system = warranty.system
    type(system).objects.filter(pk=system.pk).update(created_at=noon(date(2020, 5, 14)))
    for years in (2, 3, 3, 4, 5):
        Component.objects.create(
            system=system,
            part_kind="battery",
            in_on=date(2020, 6, 1),
            out_on=date(2020 + years, 6, 1),
            out_because="Dead.",
            failed=True,
        )
    found = assumptions(on=UNTIL, typed=Typed(years={"battery": Decimal(4)}))["battery"]
    assert found.life_source is LifeSource.RECORDS
    assert (found.failures, found.units) == (5, 6)
    assert assumptions(on=date(2024, 1, 1), typed=Typed())["battery"].life_source is LifeSource.AGE_RULE


def close(by_user: User, typed: Typed = ALL_COSTS, at: datetime | None = None, **changes: Any) -> LiabilityYear:
    days = {"from_on": FROM, "until_on": UNTIL, "is_read": True}
    return close_liability_year(**(days | changes), typed=typed, by_user=by_user, at=at or noon(date(2026, 2, 1)))


def test_a_closed_year_gives_the_same_table_for_ever(warranty: Warranty, ruth: User) -> None:
    decided(warranty, date(2025, 7, 1), company="812.35")
    before = reckoned(ALL_COSTS)
    year = close(ruth)
    assert kept_liability(LiabilityYear.objects.get()) == before
    Component.objects.filter(system=warranty.system).update(out_on=date(2025, 2, 1))
    decided(warranty, date(2025, 8, 1), company="5000.00")
    kept = LiabilityYear.objects.get(pk=year.pk)
    assert kept_liability(kept) == before != reckoned(ALL_COSTS)
    assert year_hash(kept.from_on, kept.until_on, kept.table, kept.rows) == year.sha256
    entry = AuditEntry.objects.get(verb="liability year closed")
    assert entry.body["after"]["sha256"] == year.sha256
    assert audit.breaks(entry.stream) == []


def test_the_next_year_opens_with_the_closed_balance(warranty: Warranty, ruth: User) -> None:
    year = close(ruth)
    closing = kept_liability(year).roll.table.closing
    # Costs have doubled since: that is a change of the year, and not of the balance at its beginning.
    doubled = Typed(costs={kind: 2 * cost for kind, cost in ALL_COSTS.costs.items()}, years=ALL_COSTS.years)
    found = reckoned(doubled, from_on=date(2026, 1, 1), until_on=date(2026, 1, 31))
    assert found.roll.table.opening == closing
    assert found.roll.table.changes == found.roll.table.closing - closing > 0
    assert "year closed on December 31, 2025" in found.notes[-1]


@pytest.mark.parametrize(
    ("changes", "refusal"),
    [
        ({"is_read": False}, errors.NotRead),
        ({"until_on": date(2024, 12, 31)}, errors.PeriodBackwards),
        ({"until_on": date(2026, 1, 1)}, errors.PeriodTooLong),
        ({"at": noon(UNTIL)}, errors.PeriodNotOver),
        ({"at": noon(date(2025, 3, 1))}, errors.PeriodNotOver),
    ],
)
def test_a_year_is_not_closed_before_its_time_or_unread(
    warranty: Warranty, ruth: User, changes: dict[str, Any], refusal: type[Refusal]
) -> None:
    with pytest.raises(refusal):
        close(ruth, **changes)
    assert not LiabilityYear.objects.exists()


def test_only_a_manager_closes_a_year(warranty: Warranty, nora: User) -> None:
    with pytest.raises(errors.ManagersOnly):
        close(nora)


@pytest.mark.parametrize(
    ("from_on", "until_on", "refusal"),
    [
        (FROM, UNTIL, errors.LiabilityYearClosed),
        (date(2025, 7, 1), date(2026, 1, 31), errors.LiabilityYearClosed),
        (date(2024, 1, 1), date(2024, 12, 31), errors.LiabilityYearClosed),
        (date(2026, 1, 2), date(2026, 1, 31), errors.LiabilityYearSkipped),
    ],
)
def test_years_follow_each_other_and_none_is_closed_twice(
    warranty: Warranty, ruth: User, from_on: date, until_on: date, refusal: type[Refusal]
) -> None:
    close(ruth)
    with pytest.raises(refusal, match="January 1, 2026"):
        close(ruth, from_on=from_on, until_on=until_on)
    assert LiabilityYear.objects.count() == 1
    close(ruth, from_on=date(2026, 1, 1), until_on=date(2026, 1, 31))


def test_of_two_who_close_at_once_one_is_told(warranty: Warranty, ruth: User, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("contractor.warranties.actions.liability._refuse_out_of_order", lambda from_on: None)
    close(ruth)
    with pytest.raises(errors.LiabilityYearClosed):
        close(ruth)
    assert LiabilityYear.objects.count() == 1


@pytest.mark.parametrize("what", ["table", "rows", "days"])
def test_a_closed_year_that_somebody_changed_is_not_shown(warranty: Warranty, ruth: User, what: str) -> None:
    year = close(ruth)
    if what == "table":
        year.table["lines"]["closing"] = "1.00"
    elif what == "rows":
        year.rows["reserve"]["rows"][0][-1] = "1.00"
    else:
        year.from_on = date(2024, 12, 31)
    with pytest.raises(ValueError, match="hash differs"):
        kept_liability(year)


def test_a_kept_table_is_the_sum_of_its_rows(warranty: Warranty, ruth: User) -> None:
    year = close(ruth)
    lines = {**year.table["lines"], "closing": "1.00"}
    with pytest.raises(ValueError, match="do not add up"):
        liability_from_data(year.from_on, year.until_on, {**year.table, "lines": lines}, year.rows)
    lines = dict.fromkeys(year.table["lines"], "0.00")
    with pytest.raises(ValueError, match="not the sum of its rows"):
        liability_from_data(year.from_on, year.until_on, {**year.table, "lines": lines}, year.rows)


def test_the_amounts_of_the_spreadsheet_add_up_to_the_table(warranty: Warranty) -> None:
    another(warranty, date(2025, 4, 1))
    decided(warranty, date(2025, 7, 1), company="812.35")
    found = reckoned(ALL_COSTS)
    sums: dict[str, Decimal] = defaultdict(Decimal)
    for row in csv.DictReader(StringIO(liability_csv(found))):
        sums[row["line"]] += Decimal(row["amount"])
    table = found.roll.table
    assert sums == {name: getattr(table, name) for name in ("opening", "issued", "changes", "payments", "closing")}


def test_the_paper_has_at_most_two_pages_and_says_what_it_is(warranty: Warranty, ruth: User) -> None:
    for year in range(2012, 2026):
        another(warranty, date(year, 4, 1))
    kinds = ("channel", "liner", "charger", "high_water_alarm", "check_valve", "discharge_line", "freeze_relief")
    for kind in kinds:
        ComponentFactory(system=warranty.system, part_kind=kind)
    costs = {kind: Decimal("12500.00") for kind in (*kinds, *ALL_COSTS.costs)}
    years = {kind: Decimal(40) for kind in (*kinds, "pit")}
    found = reckoned(Typed(costs=costs, years=years))
    pages = PdfReader(BytesIO(liability_pdf(found, None))).pages
    text = " ".join(" ".join(page.extract_text() for page in pages).split())
    assert len(pages) <= 2
    assert "These figures are an estimate" in text
    assert "not closed, may still change" in text
    assert f"{found.roll.table.closing:,.2f}" in text


def path(name: str, **query: str) -> str:
    days = {"from_on": FROM.isoformat(), "until_on": UNTIL.isoformat()}
    costs = {"cost_pit": "2400.00", "years_pit": "40"}
    return reverse(f"warranties:{name}", query={**days, **costs, **query})


def test_the_manager_reads_the_table_and_goes_down_to_its_rows(
    warranty: Warranty, ruth: User, nora: User, signed_in_as: SignIn
) -> None:
    claim = decided(warranty, date(2025, 7, 1), company="812.35")
    client = signed_in_as(ruth)
    page = client.get(path("liability")).content.decode()
    assert "−$812.35" in page
    assert "These figures are an estimate" in page
    assert 'value="2400.00"' in page
    rows = client.get(path("liability_rows", line="payments")).content.decode()
    assert reverse("warranties:claim", args=[claim.pk]) in rows
    for line in ("opening", "changes", "closing"):
        rows = client.get(path("liability_rows", line=line)).content.decode()
        assert reverse("warranties:warranty", args=[warranty.pk]) in rows, line
    assert "No row behind this figure" in client.get(path("liability_rows", line="issued")).content.decode()
    pit = Component.objects.get(system=warranty.system, part_kind="pit")
    rows = client.get(path("liability_rows", kind="pit", year="2020")).content.decode()
    assert reverse("systems:component", args=[pit.pk]) in rows
    assert client.get(path("liability_table")).headers["Content-Type"].startswith("text/csv")
    assert client.get(path("liability_paper")).content.startswith(b"%PDF")
    for name in ("liability", "liability_rows", "liability_table", "liability_paper"):
        assert signed_in_as(nora).get(path(name)).status_code == 403


@pytest.mark.parametrize(
    ("query", "sentence"),
    [
        ({"from_on": "2026-01-01", "until_on": "2025-01-01"}, "must not lie before the first"),
        ({"until_on": "2026-06-30"}, "twelve months at most: choose December 31, 2025"),
        ({"from_on": "2026-04-01", "until_on": "2026-06-30"}, "is not known yet"),
        ({"from_on": "soon"}, "Enter a valid date"),
        ({"cost_pit": "-1"}, "greater than or equal to 0"),
        ({"years_pit": "0"}, "greater than or equal to 0.5"),
    ],
)
def test_what_can_t_be_reckoned_gets_a_sentence(
    warranty: Warranty,
    ruth: User,
    signed_in_as: SignIn,
    on: date,
    monkeypatch: pytest.MonkeyPatch,
    query: dict[str, str],
    sentence: str,
) -> None:
    monkeypatch.setattr(clock, "today", lambda: on)
    client = signed_in_as(ruth)
    answer = client.get(path("liability", **query))
    assert answer.status_code == 200
    assert sentence in answer.content.decode()
    for name in ("liability_rows", "liability_table", "liability_paper"):
        assert client.get(path(name, **query)).status_code == 302


def test_the_manager_closes_the_year_from_the_page(
    warranty: Warranty, ruth: User, signed_in_as: SignIn, on: date, at: datetime, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(clock, "today", lambda: on)
    monkeypatch.setattr(clock, "now", lambda: at)
    client = signed_in_as(ruth)
    typed = {"from_on": "2025-01-01", "until_on": "2025-12-31", "cost_pit": "2400.00", "years_pit": "40"}
    answer = client.post(reverse("warranties:close_liability"), typed)
    assert "Say that the figures were looked at" in answer.content.decode()
    assert not LiabilityYear.objects.exists()
    answer = client.post(reverse("warranties:close_liability"), {**typed, "is_read": "on"}, follow=True)
    page = answer.content.decode()
    assert "The year is closed." in page
    assert "Fingerprint" in page
    assert "Close this year" not in page
    year = closed_year(from_on=FROM, until_on=UNTIL)
    assert year is not None
    assert year.closed_by == ruth
    # The year after it is offered next, with what was typed.
    page = client.get(reverse("warranties:liability")).content.decode()
    assert 'value="2026-01-01"' in page
    assert 'value="2026-05-04"' in page
    assert 'value="2400.00"' in page
    assert 'value="40.0"' in page
    answer = client.post(reverse("warranties:close_liability"), {**typed, "is_read": "on"})
    assert "closed figures stay as they are" in answer.content.decode()


def test_the_page_takes_the_same_number_of_queries_however_many_warranties_there_are(
    warranty: Warranty, django_assert_num_queries: Any
) -> None:
    with django_assert_num_queries(19) as few:
        reckoned(ALL_COSTS)
    for year in range(2015, 2025):
        another(warranty, date(year, 4, 1))
    with django_assert_num_queries(len(few)):
        reckoned(ALL_COSTS)
