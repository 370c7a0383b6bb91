"""The liability's arithmetic: the five lines add up to the cent, and every expected cost has a check from outside."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from itertools import pairwise
from math import exp
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate, stats

from contractor.engineering.survival import WeibullFit, expected_failures
from contractor.warranties.rules.liability import Issued, Payment, liability_roll, payments_apart
from contractor.warranties.rules.liability_reserve import (
    LIFE_YEARS,
    Assumption,
    CostSource,
    CoveredParts,
    LifeSource,
    expected_cents,
    reckon,
    scale_from_median,
)
from contractor.warranties.rules.liability_reserve import expected_shares as expected_shares_of_arrays
from tests.warranties.rule_builders import expected_amount

FROM, UNTIL = date(2025, 1, 1), date(2025, 12, 31)


def money(text: str) -> Decimal:
    return Decimal(text)


def issued(pk: int, on: date) -> Issued:
    return Issued(warranty_id=pk, number=f"W{pk}", issued_on=on)


def payment(warranty_id: int, amount: str, on: date = date(2025, 6, 1), claim_id: int = 1) -> Payment:
    return Payment(claim_id=claim_id, warranty_id=warranty_id, part_kind="battery", paid_on=on, amount=Decimal(amount))


OLD, NEW = issued(1, date(2023, 5, 14)), issued(2, date(2025, 3, 1))


# The table of ASC 460-10-50-8(c) (own figures: the paragraph prints none).
def test_the_five_lines_stand_as_the_standard_lists_them() -> None:
    roll = liability_roll(
        FROM,
        UNTIL,
        warranties=[NEW, OLD],
        opening={1: money("48200.00")},
        closing={1: money("27050.00"), 2: money("25400.00")},
        payments=[payment(1, "19350.00"), payment(2, "2000.00", claim_id=2)],
    )
    table = roll.table
    assert table.opening == money("48200.00")
    assert table.payments == money("21350.00")
    assert table.issued == money("27400.00")
    assert table.changes == money("-1800.00")
    assert table.closing == money("52450.00")
    assert [one.warranty_id for one in roll.movements] == [1, 2]


# IFRS Foundation, IFRS for SMEs training module 21: sales of 1,000,000; 6 % minor defects at 30 % of the price, 4 %
# major ones at 70 %: 46,000 expected, spent 27,600, 13,800 and 4,600 in three years. All comes as expected, so no
# estimate of earlier warranties changes.
def test_a_published_provision_runs_off_without_a_change_when_all_comes_as_expected() -> None:
    sales = money("1000000.00")
    minor = expected_amount(sales * money("0.30"), money("0.06"))
    major = expected_amount(sales * money("0.70"), money("0.04"))
    assert (minor, major) == (money("18000.00"), money("28000.00"))
    balances = [minor + major, money("18400.00"), money("4600.00"), money("0.00")]
    for year, spent in enumerate(["27600.00", "13800.00", "4600.00"]):
        first = date(2026 + year, 1, 1)
        roll = liability_roll(
            first,
            date(2026 + year, 12, 31),
            warranties=[issued(1, date(2025, 12, 31))],
            opening={1: balances[year]},
            closing={1: balances[year + 1]},
            payments=[payment(1, spent, on=first)],
        )
        assert roll.table.changes == 0
        assert roll.table.issued == 0


# IAS 37.39 (from memory): 75 % without defects, 20 % minor that would cost 1 million, 5 % major that would cost 4.
def test_the_expected_value_of_ias_37_is_four_hundred_thousand() -> None:
    minor = expected_amount(money("1000000"), money("0.20"))
    major = expected_amount(money("4000000"), money("0.05"))
    assert minor + major == money("400000.00")


@pytest.mark.parametrize(
    ("issued_on", "line"),
    [
        (FROM - timedelta(days=1), "changes"),
        (FROM, "issued"),
        (UNTIL, "issued"),
    ],
)
def test_a_warranty_is_new_from_the_first_day_through_the_last(issued_on: date, line: str) -> None:
    roll = liability_roll(
        FROM, UNTIL, warranties=[issued(1, issued_on)], opening={}, closing={1: money("10.00")}, payments=[]
    )
    assert getattr(roll.table, line) == money("10.00")
    assert roll.table.issued + roll.table.changes == money("10.00")


@pytest.mark.parametrize("on", [FROM - timedelta(days=1), UNTIL + timedelta(days=1)])
def test_a_payment_outside_the_period_is_refused(on: date) -> None:
    with pytest.raises(ValueError, match="outside the period"):
        liability_roll(FROM, UNTIL, warranties=[OLD], opening={}, closing={}, payments=[payment(1, "5.00", on=on)])


def test_an_amount_without_its_warranty_is_refused() -> None:
    with pytest.raises(ValueError, match="not named"):
        liability_roll(FROM, UNTIL, warranties=[OLD], opening={9: money("1.00")}, closing={}, payments=[])


def test_a_period_that_ends_before_it_begins_is_refused() -> None:
    with pytest.raises(ValueError, match="before it begins"):
        liability_roll(UNTIL, FROM, warranties=[], opening={}, closing={}, payments=[])


cents = st.decimals(min_value=0, max_value=10**7, places=2)


@given(
    st.lists(
        st.tuples(cents, cents, cents, st.dates(min_value=date(2020, 1, 1), max_value=UNTIL)), min_size=1, max_size=30
    )
)
def test_every_line_is_the_sum_of_its_rows_to_the_cent(rows: list[tuple[Decimal, Decimal, Decimal, date]]) -> None:
    roll = liability_roll(
        FROM,
        UNTIL,
        warranties=[issued(pk, on) for pk, (_, _, _, on) in enumerate(rows)],
        opening={pk: opening for pk, (opening, _, _, on) in enumerate(rows) if on < FROM},
        closing={pk: closing for pk, (_, closing, _, _) in enumerate(rows)},
        payments=[
            Payment(claim_id=pk, warranty_id=pk, part_kind="pit", paid_on=UNTIL, amount=paid)
            for pk, (_, _, paid, _) in enumerate(rows)
        ],
    )
    for line in ("opening", "payments", "issued", "changes", "closing"):
        assert sum((getattr(one, line) for one in roll.movements), Decimal(0)) == getattr(roll.table, line), line
    table = roll.table
    assert table.opening - table.payments + table.issued + table.changes == table.closing


@dataclass(frozen=True, kw_only=True)
class Part:
    """A part under cover, in years."""

    age: float = 0.0
    counted: float = 0.0
    left: float | None = 10.0
    months: int | None = 120
    full: int | None = None


part = Part


def expected_shares(parts: Sequence[Part], assumption: Assumption) -> tuple[Any, Any]:
    return expected_shares_of_arrays(
        np.array([one.age for one in parts]),
        np.array([one.counted for one in parts]),
        np.array([LIFE_YEARS if one.left is None else one.left for one in parts]),
        assumption,
        months=parts[0].months,
        full_months=parts[0].full,
    )


def covered(
    *days: tuple[int, int, float], months: int | None = 120, full: int | None = None, kind: str = "primary_pump"
) -> CoveredParts:
    """Parts by age, days counted and days left, numbered from 1."""
    age, counted, left = zip(*days, strict=True)
    numbers = np.arange(1, len(days) + 1)
    return CoveredParts(
        part_kind=kind,
        months=months,
        full_months=full,
        warranty_id=numbers + 100,
        component_id=numbers,
        issue_year=numbers * 0 + 2020,
        age_days=np.array(age),
        counted_days=np.array(counted),
        left_days=np.array(left, dtype=float),
    )


def assumed(
    shape: float | None, scale: float | None, cost: str | None = "8000.00", kind: str = "primary_pump"
) -> Assumption:
    return Assumption(
        part_kind=kind,
        cost=Decimal(cost) if cost is not None else None,
        cost_source=CostSource.TYPED,
        claims=0,
        shape=shape,
        scale_years=scale,
        life_source=LifeSource.TYPED,
        failures=0,
        units=0,
    )


# Blischke and Murthy, "Warranty Cost Analysis", 1994, chapters 4 to 6 (formulas from memory; the expectations agree
# with closed forms and a Monte Carlo run). Weibull with shape 2 and scale 25 years: F(10) = 0.147856211.
def test_free_replacement_costs_the_chance_of_failing_in_the_term() -> None:
    chance, share = expected_shares([part()], assumed(2.0, 25.0))
    assert chance[0] == pytest.approx(0.147856211, abs=1e-9)
    assert share[0] == pytest.approx(0.147856211, abs=1e-9)


# The published rebates fall continuously; ours by completed months, as the terms count. Ours lies between the
# published figure and the same with each share a month later, whose difference is F / months falling.
@pytest.mark.parametrize(
    ("shape", "scale", "years", "full", "cost", "published"),
    [
        (2.0, 25.0, 10, 24, 8000.0, 504.42),  # full for two years, then falling to year ten
        (1.0, 25.0, 5, 0, 1200.0, 112.38),  # falling from the start, exponential with 0.04 a year
    ],
)
def test_a_falling_share_agrees_with_the_published_rebates(
    shape: float, scale: float, years: int, full: int, cost: float, published: float
) -> None:
    months = years * 12
    _, share = expected_shares([part(left=float(years), months=months, full=full)], assumed(shape, scale))
    life = stats.weibull_min(shape, scale=scale)
    a_month = float(life.cdf(years) - life.cdf(full / 12)) / (months - full)
    assert published - 0.005 <= cost * share[0] <= published + cost * a_month + 0.005
    # Midway between the two is the continuous figure, but for a second-order rest.
    assert cost * (share[0] - a_month / 2) == pytest.approx(published, rel=2e-3)


# Numerical integration by SciPy of the step function itself, for parts of any age.
@pytest.mark.parametrize(
    ("age", "counted", "left", "months", "full"),
    [
        (0.0, 0.0, 5.0, 60, 36),
        (4.2, 4.2, 0.8, 60, 36),
        (1.0, 3.0, 2.0, 60, 36),  # put in later, serves out the first one's term
        (9.0, 2.0, 8.0, 120, 60),  # was old when the warranty was issued
        (2.0, 2.0, 1.5, 120, 12),  # cut short by a transfer
        (30.0, 6.0, 19.0, 300, 120),
    ],
)
def test_any_age_and_rest_of_the_term_agrees_with_numerical_integration(
    age: float, counted: float, left: float, months: int, full: int
) -> None:
    shape, scale = 2.3, 8.0
    chance, share = expected_shares(
        [part(age=age, counted=counted, left=left, months=months, full=full)], assumed(shape, scale)
    )

    def hazard(at: float) -> float:
        return (at / scale) ** shape

    def density(after: float) -> float:
        at = age + after
        return shape / scale * (at / scale) ** (shape - 1) * exp(hazard(age) - hazard(at))

    def company_share(after: float) -> float:
        passed = int((counted + after) * 12 + 1e-9)
        return 1.0 if passed < full else max(months - passed, 0) / (months - full)

    edges = [0.0, *(m / 12 - counted for m in range(months + 1) if 0 < m / 12 - counted < left), left]
    wanted = sum(company_share((a + b) / 2) * integrate.quad(density, a, b)[0] for a, b in pairwise(edges))
    assert share[0] == pytest.approx(wanted, abs=1e-8)
    assert chance[0] == pytest.approx(integrate.quad(density, 0.0, left)[0], abs=1e-6)


# contractor.engineering.survival counts the failures of a fleet in its own way.
def test_the_chances_add_up_to_the_expected_failures_of_the_fleet() -> None:
    fit = WeibullFit(
        shape=1.7,
        scale=9.0,
        shape_interval=None,
        scale_interval=(8.0, 10.0),
        failures=9,
        units=50,
        log_likelihood=0.0,
    )
    ages = [0.0, 1.5, 3.0, 7.25, 12.0]
    chances, _ = expected_shares([part(age=age, left=4.0, months=60) for age in ages], assumed(1.7, 9.0))
    assert chances.sum() == pytest.approx(expected_failures(ages, fit, 4.0), rel=1e-9)


def test_a_promise_for_a_life_is_reckoned_twenty_five_years_ahead() -> None:
    chance, share = expected_shares([part(left=None, months=None)], assumed(1.5, 40.0))
    assert chance[0] == pytest.approx(float(stats.weibull_min(1.5, scale=40.0).cdf(LIFE_YEARS)))
    assert share[0] == chance[0]


def test_a_very_old_part_fails_for_sure_and_makes_no_nonsense() -> None:
    chance, share = expected_shares([part(age=300.0, left=5.0, months=60, full=36)], assumed(3.0, 8.0))
    assert chance[0] == pytest.approx(1.0)
    assert share[0] == pytest.approx(1.0)
    assert np.isfinite(share).all()


def test_half_of_the_parts_reach_the_age_that_was_typed() -> None:
    scale = scale_from_median(7.0)
    assert stats.weibull_min(1.5, scale=scale).median() == pytest.approx(7.0)
    assert assumed(1.5, scale).median_years == pytest.approx(7.0)


def test_the_cents_of_a_row_follow_from_the_figures_it_shows() -> None:
    rows = reckon(covered((0, 0, 3652.0), (1205, 0, 3652.0), full=24), assumed(2.0, 25.0)).rows()
    assert [row.component_id for row in rows] == [1, 2]
    for row in rows:
        assert row.amount == expected_amount(Decimal("8000.00"), row.share)
        assert row.share.as_tuple().exponent == row.chance.as_tuple().exponent == -6
        assert row.amount.as_tuple().exponent == -2


@pytest.mark.parametrize(
    ("cost", "share", "amount"),
    [
        ("1.00", "0.125000", "0.12"),  # half a cent goes to the even one
        ("1.00", "0.135000", "0.14"),
        ("850.00", "0.063053", "53.60"),
        ("0.00", "0.500000", "0.00"),
    ],
)
def test_half_a_cent_is_rounded_to_the_even_one(cost: str, share: str, amount: str) -> None:
    assert expected_amount(Decimal(cost), Decimal(share)) == Decimal(amount)
    found = expected_cents(int(Decimal(cost) * 100), np.array([int(Decimal(share) * 10**6)]))
    assert Decimal(int(found[0])) / 100 == Decimal(amount)


@given(st.integers(0, 10**9), st.integers(0, 10**6))
def test_whole_cents_are_those_of_exact_fractions(cost_cents: int, share_millionths: int) -> None:
    found = Decimal(int(expected_cents(cost_cents, np.array([share_millionths]))[0])).scaleb(-2)
    assert found == expected_amount(Decimal(cost_cents).scaleb(-2), Decimal(share_millionths).scaleb(-6))


@pytest.mark.parametrize("unknown", [assumed(None, None), assumed(2.0, 25.0, cost=None)])
def test_a_kind_of_which_too_little_is_known_is_not_reckoned(unknown: Assumption) -> None:
    assert not unknown.is_complete
    with pytest.raises(ValueError, match="is known for the part kind"):
        reckon(covered((0, 0, 100.0)), unknown)


@given(
    st.lists(
        st.tuples(st.integers(0, 9000), st.integers(0, 9000), st.one_of(st.just(float("nan")), st.floats(0, 9000))),
        min_size=1,
        max_size=12,
    )
)
def test_parts_that_are_alike_are_reckoned_once_and_each_as_if_it_were_alone(
    days: list[tuple[int, int, float]],
) -> None:
    days = [(age, counted, float(np.floor(left))) for age, counted, left in [*days, *days[:3]]]
    together = reckon(covered(*days, months=300, full=120), assumed(1.6, 12.0)).rows()
    for row, one in zip(together, days, strict=True):
        [alone] = reckon(covered(one, months=300, full=120), assumed(1.6, 12.0)).rows()
        assert (row.chance, row.share, row.amount) == (alone.chance, alone.share, alone.amount)


def test_a_promise_for_a_life_is_reckoned_as_far_ahead_in_rows_too() -> None:
    [row] = reckon(covered((0, 0, float("nan")), months=None), assumed(1.5, 40.0)).rows()
    assert float(row.chance) == pytest.approx(float(stats.weibull_min(1.5, scale=40.0).cdf(LIFE_YEARS)), abs=1e-6)


# ASC 460-10-50-8(c): payments made "in cash or in kind".
@given(
    st.lists(
        st.tuples(
            st.decimals(min_value=-(10**6), max_value=10**6, places=2),
            st.sampled_from(["cash", "kind", ""]),
            st.booleans(),
            st.integers(1, 5),
        ),
        max_size=40,
    )
)
def test_payments_in_cash_and_in_kind_add_up_to_the_cent(rows: list[tuple[Decimal, str, bool, int]]) -> None:
    payments = [
        Payment(
            claim_id=place,
            warranty_id=pk,
            part_kind="pit",
            paid_on=UNTIL,
            amount=amount,
            paid_in=paid_in,
            is_goodwill=is_goodwill,
        )
        for place, (amount, paid_in, is_goodwill, pk) in enumerate(rows)
    ]
    apart = payments_apart(payments)
    named = [issued(pk, date(2024, 1, 1)) for pk in range(1, 6)]
    roll = liability_roll(FROM, UNTIL, warranties=named, opening={}, closing={}, payments=payments)
    assert apart.in_cash + apart.in_kind + apart.untold == roll.table.payments == sum(row[0] for row in rows)
    assert apart.goodwill == sum((row[0] for row in rows if row[2]), Decimal(0))
    # An entry and its counter-entry leave nothing, but both stay in sight with their warranty.
    assert {one.warranty_id for one in roll.movements} == {row[3] for row in rows}
