"""How long the estimates of a whole fleet take without a database: the array core, the numbers, and the sentences.

Run by themselves: ``pytest tests/benchmarks -n0 -s``. They measure and never fail for being slow.
"""

import gc
import resource
from typing import Any

import numpy as np
import pytest

from contractor.engineering.battery_reserve import reserve_h
from contractor.engineering.pit import pump_cycle
from contractor.engineering.pump_curves import DischargeLine, PumpCurve, fleet_operating_points
from contractor.engineering.pump_life import failure_probability, wear
from contractor.estimates.rules.fleet import estimates_from, work_out
from contractor.estimates.rules.wording import Wording
from tests.estimates.made import LARGE_POINTS, ON, PRIMARY_POINTS, STANDBY_POINTS, many

FLEET = 100_000
SAMPLE = 5_000


def peak_mb() -> float:
    """The most memory that this process has held so far."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0


@pytest.fixture(autouse=True)
def no_collector_in_between() -> Any:
    """The collector would walk over a hundred thousand systems again and again; a night works in small batches."""
    gc.collect()
    gc.disable()
    yield
    gc.enable()


def test_the_array_core_for_a_hundred_thousand_systems(benchmark: Any) -> None:
    """Operating points of 200,000 pumps new and worn, cycles of 15 inflows each, wear, reserves, probabilities."""
    source = np.random.default_rng(1)
    curves = [PumpCurve(*zip(*points, strict=True)) for points in (PRIMARY_POINTS, LARGE_POINTS, STANDBY_POINTS)]
    primaries = [curves[kind] for kind in source.integers(0, 2, FLEET)]
    pumps = [*primaries, *[curves[2]] * FLEET]
    lift, length = source.uniform(1.8, 5.5, FLEET), source.uniform(4.0, 30.0, FLEET)
    line = DischargeLine(np.tile(lift, 2), 0.040386, np.tile(length, 2), 5.52, c=140.0)
    speed = np.repeat([1.0, 11.5 / 12.0], FLEET)
    worn = source.uniform(0.6, 1.0, 2 * FLEET)
    months = source.uniform(1e-6, 8e-5, (FLEET, 15))
    age = source.uniform(0.0, 12.0, 3 * FLEET)

    def night() -> float:
        fleet_operating_points(pumps, line, speed_ratio=speed)
        now = fleet_operating_points(pumps, line, speed_ratio=speed, flow_ratio=worn)
        first, second = np.maximum(now.flow_m3_s[:FLEET], 1e-6), np.maximum(now.flow_m3_s[FLEET:], 1e-6)
        cycle = pump_cycle(months, first[:, None], 0.0334)
        hours = np.asarray(cycle.duty).sum(axis=1) * 730.5
        used = wear(hours, hours * 200.0, 5000.0, 250_000.0)
        reserve = reserve_h(75.0, 20.0, 18.0, 1.15, np.minimum(months[:, 14] / second, 1.0), temperature_c=14.0)
        chance = failure_probability(age, 1.0, 2.0, 12.0)
        return float(np.sum(used.fraction) + np.sum(reserve.hours) + np.sum(chance))

    assert np.isfinite(benchmark.pedantic(night, rounds=3, warmup_rounds=0))
    print(f"\npeak memory so far {peak_mb():.0f} MB")


def test_the_numbers_of_a_hundred_thousand_systems_from_their_facts(benchmark: Any) -> None:
    facts = many(FLEET)
    before = peak_mb()
    worked = benchmark.pedantic(lambda: work_out(facts, on=ON), rounds=1, warmup_rounds=0)
    assert len(worked) == FLEET
    print(f"\npeak memory {peak_mb():.0f} MB, of which the facts and what was before {before:.0f} MB")


def test_dates_and_sentences_of_five_thousand_systems(benchmark: Any) -> None:
    worked = work_out(many(SAMPLE), on=ON)
    say = Wording("US")
    made = benchmark.pedantic(lambda: [estimates_from(one, say) for one in worked], rounds=1, warmup_rounds=0)
    assert len(made) == SAMPLE
    print(f"\npeak memory so far {peak_mb():.0f} MB")
