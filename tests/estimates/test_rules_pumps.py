"""By when a pump should be replaced: wear, flow, age and what was found compete."""

from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import settings as chances
from hypothesis import strategies as st

from contractor.estimates.rules.facts import Found, LineFacts, OwnLife, PumpFacts, Reading, SystemFacts
from contractor.estimates.rules.fleet import estimate_system
from contractor.estimates.rules.pumps import ASSUMED_INFLOW, COMPUTED, RESET
from contractor.estimates.rules.results import PartEstimate
from tests.estimates.made import (
    IN_ON,
    LINE,
    ON,
    PIT,
    bare,
    by_hand,
    leading,
    measured,
    primary,
    readings,
    standby,
    system,
)

# Half of sump and well pumps have failed at 10 years: median of ASHRAE's table (HVAC Applications, owning and operating
# costs, 1978 data), and of a home builders' list; from secondary copies.
ASHRAE_MEDIAN_YEARS = 10.0
COUNTED_ON = date(2025, 5, 14)
UNTIMED = replace(PIT, inflows=())


def estimate(pump: PumpFacts, units: str = "US", **changes: object) -> PartEstimate:
    facts = system(pumps=(pump,), **{"pit": UNTIMED, **changes})
    return next(part for part in estimate_system(facts, on=ON, units=units).parts if part.component_id == 1)


def years_after(day: date, years: float) -> date:
    return day + timedelta(days=round(years * 365.25))


def test_a_pump_of_which_nothing_is_known_lasts_the_ashrae_median() -> None:
    part = estimate_system(bare(), on=ON, units="US").parts[0]
    assert part.replace_by == years_after(IN_ON, ASHRAE_MEDIAN_YEARS)
    # Weibull with β = 2 and a median of 10 years: a quarter has failed at 10·√(ln(4/3)/ln 2), three quarters at 10·√2.
    assert part.earliest == years_after(IN_ON, 6.4423)
    assert part.latest == years_after(IN_ON, 14.1421)
    assert part.governing == "age"
    assert part.reason.startswith("Nothing has been measured, so the age rule decides")
    assert "assumed" in {one.origin for one in part.inputs if one.name == "Expected life (median)"}


# run hours, starts on COUNTED_ON (five years after IN_ON), rated hours 5,000 and starts 250,000, no climate.
# Palmgren–Miner: 5 years ÷ (hours/5,000 + starts/250,000). Textbook, from memory.
WEAR: tuple[tuple[float | None, float | None, float, str], ...] = (
    (None, 200_000.0, 6.25, "starts"),
    (4_000.0, None, 6.25, "run hours"),
    (1_000.0, 150_000.0, 6.25, "starts"),
    (2_500.0, 50_000.0, 7.142857, "run hours"),
)


@pytest.mark.parametrize(("hours", "starts", "years", "governing"), WEAR)
def test_counters_use_up_the_rated_life(
    hours: float | None, starts: float | None, years: float, governing: str
) -> None:
    pump = primary(
        run_hours=() if hours is None else (Reading(on=COUNTED_ON, value=hours),),
        starts=() if starts is None else (Reading(on=COUNTED_ON, value=starts),),
    )
    part = estimate(pump, climate=None)
    assert abs(part.replace_by - years_after(IN_ON, years)) <= timedelta(days=20)
    assert part.governing == governing
    assert part.earliest < part.replace_by < part.latest


def test_counters_of_different_days_are_not_mixed() -> None:
    pump = primary(
        run_hours=(Reading(on=date(2023, 5, 14), value=2_400.0),), starts=(Reading(on=COUNTED_ON, value=100_000.0),)
    )
    part = estimate(pump, climate=None)
    assert part.replace_by == years_after(IN_ON, 10.0)  # 100,000 of 250,000 in five years: 12.5 years; age comes first
    assert part.governing == "age"


def test_without_a_counter_wear_is_reckoned_from_the_inflow_that_was_timed_and_says_so() -> None:
    wet = replace(PIT, inflows=readings(0.00012, 0.00012))
    part = estimate(primary(), pit=wet)
    assert part.governing == "starts"
    assert part.reason.startswith("Reckoned from the inflow that was measured: it has used")
    assert COMPUTED in part.cautions
    counted = estimate(primary(starts=(Reading(on=COUNTED_ON, value=100.0),)), pit=wet)
    assert (counted.governing, COMPUTED in counted.cautions) == ("age", False)


def test_an_assumed_inflow_never_sets_the_date() -> None:
    part = estimate(primary(rated_starts=replace(primary().rated_starts, value=1_000.0)))  # type: ignore[type-var]
    assert part.governing == "age"
    assert ASSUMED_INFLOW in part.cautions


def test_a_counter_that_was_reset_is_not_used_and_says_so() -> None:
    part = estimate(primary(starts=readings(50_000.0, 100_000.0, 9_000.0)))
    assert RESET in part.cautions
    assert part.governing == "age"


def test_a_falling_flow_is_replaced_when_it_reaches_seventy_percent() -> None:
    # Theil–Sen of 1.00, 0.95, 0.90, 0.85 a year apart falls by 0.05 a year: 0.70 six years after the first, 2021.
    # The line isn't measured, so that the ratios are to the pump's own first flow.
    pump = primary(flows=readings(0.0024, 0.00228, 0.00216, 0.00204))
    part = estimate(pump, line=LineFacts(), climate=None)
    assert abs(part.replace_by - date(2027, 5, 10)) <= timedelta(days=2)
    assert part.governing == "flow"
    assert "falls by 5% of the new flow a year" in part.reason


def test_a_pump_below_its_least_flow_is_replaced_from_the_day_that_was_measured() -> None:
    part = estimate(primary(flows=readings(0.0024, 0.0015)))
    assert (part.replace_by, part.governing) == (date(2022, 5, 10), "flow")
    assert part.probability == 0.95


def test_a_house_that_needs_more_of_the_flow_asks_for_more() -> None:
    # A storm brings 1.85 L/s of the 2.2 L/s that the new pump moves: 84 % is the least, and 80 % is too little.
    rises = (*readings(0.00003, 0.00003), Reading(on=date(2023, 5, 10), value=0.00185))
    weak = primary(flows=readings(0.0024, 0.0019))
    enough, needed = estimate(weak, pit=PIT), estimate(weak, pit=replace(PIT, inflows=rises))
    assert enough.governing != "flow"
    assert (needed.governing, needed.replace_by) == ("flow", date(2022, 5, 10))


def test_the_companys_own_records_of_a_model_go_before_the_makers_word_and_those_of_a_kind_do_not() -> None:
    own = OwnLife(of="model", shape=3.0, scale_years=8.0, failures=9, units=40, known_on=date(2026, 5, 1))
    kind = replace(own, of="kind")
    median = 8.0 * 0.6931471805599453 ** (1 / 3)
    of_model, of_kind = (estimate(primary(own_life=life), climate=None) for life in (own, kind))
    assert of_model.replace_by == years_after(IN_ON, round(median, 3))
    assert of_kind.replace_by == years_after(IN_ON, 10.0)
    unknown = estimate(primary(own_life=kind, expected_years=None), climate=None)
    assert unknown.replace_by == years_after(IN_ON, round(median, 3))
    source = next(one for one in of_model.inputs if one.name == "Expected life (median)")
    assert (source.origin, source.note) == ("measured", "own records of this model: 9 failed of 40")


def test_a_date_in_the_wettest_months_moves_to_before_them() -> None:
    part = estimate(primary(installed_on=date(2020, 4, 10)), installed_on=date(2020, 4, 10))
    assert part.replace_by == date(2030, 2, 28)
    assert part.reason.endswith("Replace it before the wettest months, March to May.")


def test_what_cannot_be_used_is_left_out_and_said_and_age_decides() -> None:
    future = primary(starts=(Reading(on=date(2019, 1, 1), value=10.0),))
    part = estimate(future, climate=None)
    assert part.governing == "age"
    assert any("What was measured can't be used, so only its age counts" in one for one in part.cautions)


def test_a_standby_pump_is_not_asked_for_counters() -> None:
    facts = system(pumps=(standby(flows=readings(0.0016)),))
    part = estimate_system(facts, on=ON, units="US").parts[0]
    assert not any("counter" in caution for caution in part.cautions)
    assert part.governing == "age"


FOUND_ON = date(2026, 4, 20)
FOUND: tuple[tuple[str, float, str, date], ...] = (
    # found, expected years (in on May 14, 2020), what governs, replace by
    ("watch", 10.0, "found weak", date(2027, 4, 20)),
    ("watch", 6.5, "age", years_after(IN_ON, 6.5)),
    ("bad", 10.0, "found bad", FOUND_ON),
    ("bad", 2.0, "found bad", FOUND_ON),
)


@pytest.mark.parametrize(("condition", "years", "governing", "replace_by"), FOUND)
def test_what_was_found_moves_the_date_forward_and_never_back(
    condition: str, years: float, governing: str, replace_by: date
) -> None:
    found = Found(condition=condition, sentence="It hums", on=FOUND_ON)
    pump = primary(found=found, expected_years=replace(primary().expected_years, value=years))  # type: ignore[type-var]
    part = estimate(pump, climate=None)
    assert (part.governing, part.replace_by) == (governing, replace_by)
    assert part.earliest <= part.replace_by <= part.latest
    assert part.inputs[-1].name == "Found at the last check-up"


def test_a_bad_part_is_replaced_now_and_nothing_else_has_a_say_in_it() -> None:
    part = estimate(primary(found=Found(condition="bad", sentence="It hums", on=FOUND_ON)))
    assert part.reason == "The primary pump was found bad on April 20, 2026: It hums. Replace it now."
    assert (part.earliest, part.latest, part.cautions) == (FOUND_ON, FOUND_ON, ())


def test_a_weak_part_is_replaced_within_a_year_and_the_year_is_named_as_practice() -> None:
    part = estimate(primary(found=Found(condition="watch", sentence="It hums.", on=FOUND_ON)))
    assert part.reason == (
        "The primary pump was found weak on April 20, 2026: It hums. "
        "Replace it by April 20, 2027, at the next yearly check-up at the latest."
    )
    assert "One year for a part found weak is common practice; no source gives a figure." in part.cautions


def test_a_finding_without_words_still_makes_a_sentence() -> None:
    part = estimate(primary(found=Found(condition="bad", sentence=" ", on=FOUND_ON)))
    assert part.reason == "The primary pump was found bad on April 20, 2026. Replace it now."


def test_sentences_and_inputs_speak_the_companys_units() -> None:
    pump = primary(flows=readings(0.0024))
    us, metric = estimate(pump), estimate(pump, "metric")
    assert {"38 gal/min", "9 ft", "1.59 in"} <= {one.value for one in us.inputs}
    assert {"144 L/min", "2.74 m", "40.4 mm"} <= {one.value for one in metric.inputs}
    assert us.replace_by == metric.replace_by


BY_HAND = (
    "Mean inflow of the year",
    "Loss factors of all fittings",
    "Water between the levels",
    "Run hours a year",
    "Starts a year",
    "Share of the rated life used",
    "Scale of the life (Weibull)",
)


@pytest.mark.parametrize("name", BY_HAND)
def test_every_step_can_be_done_by_hand_with_the_figures_that_stand_there(name: str) -> None:
    pump = primary(flows=readings(0.0024, 0.0023), run_hours=readings(100.0, 210.0), starts=readings(9e3, 2e4))
    part = estimate(pump, pit=PIT)
    (step,) = [one for one in part.steps if one.name == name]
    assert by_hand(step.with_numbers) == pytest.approx(leading(step.result), rel=2e-3)


def test_the_mean_inflow_from_starts_can_be_done_by_hand() -> None:
    part = estimate(primary(starts=readings(9e3, 2e4)))
    (step,) = [one for one in part.steps if one.name == "Mean inflow of the year"]
    assert by_hand(step.with_numbers) == pytest.approx(leading(step.result), rel=2e-3)


def test_the_probability_can_be_done_by_hand() -> None:
    (step,) = [one for one in estimate(primary()).steps if one.name.startswith("Probability")]
    figures, scale = step.with_numbers.replace("e^", "e**").split(", η = ")
    assert by_hand(figures) == pytest.approx(leading(step.result), abs=6e-4)
    assert f"÷ {by_hand(scale):.2f}" in figures


def test_the_head_of_the_line_can_be_done_by_hand_and_is_the_curves() -> None:
    part = estimate(primary())
    (step,) = [one for one in part.steps if one.name.startswith("Flow when new")]
    assert by_hand(step.with_numbers) == pytest.approx(leading(step.result), rel=1e-3)


def test_the_trend_can_be_done_by_hand() -> None:
    pump = primary(flows=readings(0.0024, 0.00228, 0.00216, 0.00204))
    part = estimate(pump, line=LineFacts(), climate=None)
    (reaches,) = [one for one in part.steps if one.name == "When the flow reaches 70%"]
    years = by_hand(reaches.with_numbers)
    assert years == pytest.approx(leading(reaches.result), rel=2e-3)
    assert abs(years_after(date(2021, 5, 10), years) - part.replace_by) <= timedelta(days=5)


@given(
    age_days=st.integers(0, 5000),
    flows=st.lists(st.floats(0.0, 0.004), max_size=5),
    starts=st.none() | st.floats(0.0, 3e6, allow_subnormal=False),
    inflow=st.none() | st.just(0.0) | st.floats(1e-9, 0.003),
    lift=st.floats(0.0, 9.0),
)
@chances(max_examples=60, deadline=None)
def test_whatever_was_measured_the_date_lies_in_its_range_and_the_probability_in_its_bounds(
    age_days: int, flows: list[float], starts: float | None, inflow: float | None, lift: float
) -> None:
    into = ON - timedelta(days=age_days)
    tests = tuple(Reading(on=into + timedelta(days=min(at, age_days)), value=flow) for at, flow in enumerate(flows))
    pump = primary(
        installed_on=into, flows=tests[: age_days + 1], starts=() if starts is None else (Reading(on=ON, value=starts),)
    )
    facts: SystemFacts = system(
        installed_on=into,
        pumps=(pump,),
        line=replace(LINE, static_lift_m=measured(lift)),
        pit=replace(PIT, inflows=() if inflow is None else (Reading(on=ON, value=inflow),)),
        checked_on=None,
        temperatures=(),
        batteries=(),
    )
    (part,) = estimate_system(facts, on=ON, units="US").parts
    assert into <= part.replace_by
    assert part.earliest <= part.replace_by <= part.latest
    assert 0.0 <= part.probability <= 1.0
    assert part.reason.endswith(".")
