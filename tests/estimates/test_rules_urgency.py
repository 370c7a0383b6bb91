"""How pressing a replacement is: probability of a failure before the next check-up times what would be lost."""

from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from contractor.estimates.rules.facts import Found, SystemFacts
from contractor.estimates.rules.fleet import estimate_system
from contractor.estimates.rules.results import Dated, PartEstimate
from contractor.estimates.rules.urgency import chance
from tests.estimates.made import CLIMATE, IN_ON, ON, PIT, battery, primary, readings, standby, system

YEAR = timedelta(days=365.25)


def dated(*, life_years: float, shape: float = 2.0, **changes: object) -> Dated:
    by = IN_ON + timedelta(days=round(life_years * 365.25))
    plain = Dated(
        component_id=1,
        installed_on=IN_ON,
        replace_by=by,
        earliest=by,
        latest=by,
        governing="age",
        reason="",
        inputs=(),
        steps=(),
        cautions=(),
        shape=shape,
    )
    return replace(plain, **changes)  # type: ignore[arg-type]


# Conditional Weibull with η = 10 years: β = 2, age 5, next half year 0.0511, next year 0.1042; β = 1.2, age 5, next
# half year 0.0514, age 0 0.0271. Computed with another program. The life to the date is the median, η·(ln 2)^(1/β).
TABLE = ((2.0, 5.0, 0.5, 0.0511), (2.0, 5.0, 1.0, 0.1042), (1.2, 5.0, 0.5, 0.0514), (1.2, 0.0, 0.5, 0.0271))


@pytest.mark.parametrize(("shape", "age", "horizon", "probability"), TABLE)
def test_the_probability_is_that_of_a_weibull_life_given_that_it_still_works(
    shape: float, age: float, horizon: float, probability: float
) -> None:
    part = dated(life_years=10 * 0.6931471805599453 ** (1 / shape), shape=shape)
    on = IN_ON + timedelta(days=round(age * 365.25))
    found = chance(part, on=on, until=on + timedelta(days=round(horizon * 365.25)))
    assert found.probability == pytest.approx(probability, abs=4e-4)


@given(
    life=st.floats(0.0, 40.0),
    shape=st.floats(1.0, 5.0),
    age=st.integers(0, 9000),
    near=st.integers(1, 365),
    far=st.integers(365, 730),
)
def test_the_probability_stays_in_its_bounds_and_grows_with_the_time_to_come(
    life: float, shape: float, age: int, near: int, far: int
) -> None:
    on = IN_ON + timedelta(days=age)
    part = dated(life_years=life, shape=shape)
    soon, later = (chance(part, on=on, until=on + timedelta(days=days)).probability for days in (near, far))
    assert 0.0 <= soon <= later <= 1.0


def test_what_a_test_has_found_at_its_end_is_near_certain_and_what_is_weak_at_least_even() -> None:
    until = ON + timedelta(days=30)
    failed = chance(dated(life_years=20.0, has_failed=True), on=ON, until=until)
    weak = chance(dated(life_years=20.0, governing="found weak"), on=ON, until=until)
    assert (failed.probability, weak.probability) == (0.95, 0.5)
    assert "a test has found it at its end" in failed.step.formula
    assert "common practice" in weak.step.formula
    worn = chance(dated(life_years=1.0, governing="found weak"), on=ON, until=ON + 3 * YEAR)
    assert worn.probability > 0.5


def parts(facts: SystemFacts) -> dict[int, PartEstimate]:
    return {part.component_id: part for part in estimate_system(facts, on=ON, units="US").parts}


def small(**changes: object) -> SystemFacts:
    """A house with little water, whose standby covers a storm; nothing in it is due."""
    calm = {
        "pit": replace(PIT, inflows=readings(0.000004, 0.000004)),
        "batteries": (battery(capacities=readings(75.0, first=date(2025, 5, 10))),),
    }
    return system(**{**calm, **changes})


DUE = Found(condition="bad", sentence="It hums.", on=date(2026, 4, 20))
CONSEQUENCES: tuple[tuple[str, SystemFacts, dict[int, int]], ...] = (
    # the house, and the consequence by component: 1 primary, 2 standby, 3 battery
    ("the standby covers a storm", small(), {1: 2, 2: 4, 3: 4}),
    ("no standby at all", small(pumps=(primary(),)), {1: 5, 3: 1}),
    (
        "the battery does not last",
        system(
            pit=replace(PIT, inflows=readings(0.00008)),
            pumps=(primary(rated_hours=None, rated_starts=None), standby()),
        ),
        {1: 3, 2: 4, 3: 4},
    ),
    ("the standby is too small", system(pit=replace(PIT, inflows=readings(0.0004))), {1: 5}),
    ("nobody knows", small(batteries=()), {1: 4, 2: 4}),
    ("the primary is due itself", small(pumps=(primary(found=DUE), standby())), {1: 2, 2: 5, 3: 5}),
    (
        "two of each",
        small(
            pumps=(primary(), primary(component_id=4), standby(), standby(component_id=5)),
            batteries=(battery(), battery(component_id=6)),
        ),
        {1: 2, 4: 2, 2: 2, 5: 2, 3: 2, 6: 2},
    ),
)


@pytest.mark.parametrize(("facts", "weights"), [row[1:] for row in CONSEQUENCES], ids=[row[0] for row in CONSEQUENCES])
def test_what_would_be_lost_follows_from_what_else_stands_in_the_house(
    facts: SystemFacts, weights: dict[int, int]
) -> None:
    found = parts(facts)
    assert {key: found[key].consequence for key in weights} == weights
    assert all(part.consequence_reason.endswith("is not on record.") for part in found.values())


def test_urgency_is_the_product() -> None:
    for part in parts(system(climate=CLIMATE)).values():
        assert part.urgency == pytest.approx(part.probability * part.consequence, abs=1e-4)


def test_the_probability_is_up_to_the_next_check_up() -> None:
    soon = parts(system(checked_on=ON - timedelta(days=300)))[1].probability
    long = parts(system(checked_on=ON - timedelta(days=30)))[1].probability
    assert soon < long
