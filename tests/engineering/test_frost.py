"""Frost depth, freezing time and the discharge line's risk, against manuals, charts and a handbook."""

import inspect
import math
import re

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq
from scipy.special import erf, erfc

from contractor.engineering.errors import BadInput, Caution
from contractor.engineering.frost import (
    Risk,
    RiskLevel,
    berggren_coefficient,
    berggren_depth_m,
    discharge_freeze_risk,
    freezing_index,
    stefan_depth_m,
    time_to_freezing_h,
)

INCH = 0.0254
FOOT = 0.3048
BTU_H_FT_F = 1.730735  # W/(m·K)
BTU_IN_H_FT2_F = 0.1442279  # W/(m·K)
POUND_FT3 = 16.018463
ALPHAS = (0, 0.2, 0.4, 0.6, 0.8, 1.0, 1.5, 2.0, 3.0, 4.0, 5.0)


def celsius(fahrenheit: float) -> float:
    return (fahrenheit - 32) / 1.8


@pytest.mark.parametrize(
    ("alpha", "chart", "solved"),
    # Aldrich and Paynter's chart, μ = 0.2, read by eye (±0.005); Neumann's solution, computed.
    list(
        zip(
            ALPHAS,
            (0.97, 0.925, 0.885, 0.848, 0.813, 0.78, 0.705, 0.64, 0.54, 0.46, 0.405),
            (0.9690, 0.9247, 0.8835, 0.8452, 0.8095, 0.7762, 0.7021, 0.6390, 0.5382, 0.4622, 0.4034),
            strict=True,
        )
    ),
)
def test_the_coefficient_is_that_of_the_published_chart(alpha: float, chart: float, solved: float) -> None:
    ours = berggren_coefficient(alpha, 0.2)
    assert ours == pytest.approx(chart, abs=0.0055)
    assert ours == pytest.approx(solved, abs=6e-5)


@pytest.mark.parametrize(("alpha", "closed_form"), [(1.0, 0.8771), (2.0, 0.8165), (3.0, 0.7670)])
def test_the_coefficient_is_not_the_closed_form_that_overstates_frost(alpha: float, closed_form: float) -> None:
    """1/√(1 + μ(α + ½)) stands in open-source code with its own warning; it is 13 to 43 % high here."""
    assert 1 / math.sqrt(1 + 0.2 * (alpha + 0.5)) == pytest.approx(closed_form, abs=1e-4)
    assert closed_form / berggren_coefficient(alpha, 0.2) > 1.12


@given(alpha=st.floats(0, 8), mu=st.floats(1e-3, 2.0))
@settings(max_examples=60)
def test_the_coefficient_solves_neumanns_equation(alpha: float, mu: float) -> None:
    def equation(x: float) -> float:
        bracket = math.exp(-x * x) / erf(x) - alpha * math.exp(-x * x) / erfc(x)
        return float(bracket - math.sqrt(math.pi) * x / mu)

    reference = brentq(equation, 1e-9, 3.0) * math.sqrt(2 / mu)
    assert berggren_coefficient(alpha, mu) == pytest.approx(reference, rel=1e-7)
    assert 0 < berggren_coefficient(alpha, mu) <= 1


@pytest.mark.parametrize(
    ("index_f", "n", "mean_f", "days", "conductivity", "stefan_ft", "inches"),
    # Silt, 100 lb/ft³ and 15 % water. The first is the manual's example for uniform soil (its inputs from memory; its
    # chart reads 5.78 ft = 69 in, solved 5.82 ft = 70 in); the others are computed.
    [
        (2500, 1.0, 37.2, 160, 0.76, 6.498, 69.8),
        (500, 0.5, 50, 100, 0.76, 2.05, 14),
        (1000, 0.7, 45, 100, 0.76, 3.44, 31),
        (1500, 0.7, 45, 100, 0.76, 4.21, 40),
        (2000, 1.0, 45, 100, 0.76, 5.81, 56),
    ],
)
def test_frost_depths_agree_with_the_engineers_manual(
    index_f: float, n: float, mean_f: float, days: float, conductivity: float, stefan_ft: float, inches: float
) -> None:
    ground = (index_f / 1.8, n, conductivity * BTU_H_FT_F, 100 * POUND_FT3, 0.15)
    assert stefan_depth_m(*ground) / FOOT == pytest.approx(stefan_ft, abs=0.01)
    depth = berggren_depth_m(*ground, mean_annual_c=celsius(mean_f), freezing_days=days)
    assert depth / INCH == pytest.approx(inches, abs=0.55)


def test_frost_is_never_deeper_than_stefans_bound_and_grows_with_the_cold() -> None:
    index = np.linspace(50, 1500, 30)
    bound = np.asarray(stefan_depth_m(index, 0.7, 1.3, 1600, 0.15))
    depth = np.asarray(berggren_depth_m(index, 0.7, 1.3, 1600, 0.15, mean_annual_c=8.0, freezing_days=100))
    assert (depth < bound).all()
    assert (np.diff(depth) > 0).all()
    warmer = np.asarray(berggren_depth_m(index, 0.7, 1.3, 1600, 0.15, mean_annual_c=10.0, freezing_days=100))
    assert (warmer < depth).all()


def test_a_mean_year_below_freezing_is_cautioned() -> None:
    with pytest.warns(Caution, match="permafrost"):
        berggren_depth_m(2000, 0.7, 1.3, 1600, 0.15, mean_annual_c=0.0, freezing_days=200)


def test_the_freezing_index_subtracts_thaws_and_a_plain_sum_does_not() -> None:
    """Spread between the highest and the lowest point of the running sum (UFC 3-130-06, read)."""
    days = [5, 2, -4, -6, 3, -5, -1, 2, 8]
    assert freezing_index(days) == 13.0  # −4 −6 +3 −5 −1
    assert freezing_index(days) < -sum(day for day in days if day < 0)
    assert freezing_index([3, 1, 2]) == 0
    winters = freezing_index(np.array([days, [0] * 9]))
    assert np.asarray(winters).tolist() == [13.0, 0.0]


@pytest.mark.parametrize(
    ("bore_in", "outside_in", "thickness_in", "water_f", "air_f", "hours"),
    [
        (2.067, 2.375, 1.5, 42, -18, 1.378),  # ASHRAE Handbook of Fundamentals ch. 23 (second hand): 1.4 h
        # Computed: 1½ in Sch 40, water at 42 °F, k = 0.30.
        (1.610, 1.900, 0.5, 42, 20, 1.44),
        (1.610, 1.900, 1.0, 42, 20, 2.45),
        (1.610, 1.900, 1.5, 42, 20, 3.23),
        (1.610, 1.900, 2.0, 42, 20, 3.86),
        (1.610, 1.900, 0.5, 42, 0, 0.65),
        (1.610, 1.900, 2.0, 42, 0, 1.73),
    ],
)
def test_the_time_to_freezing_agrees_with_the_handbook(
    bore_in: float, outside_in: float, thickness_in: float, water_f: float, air_f: float, hours: float
) -> None:
    ours = time_to_freezing_h(
        bore_in * INCH,
        outside_in * INCH,
        (outside_in + 2 * thickness_in) * INCH,
        0.30 * BTU_IN_H_FT2_F,
        celsius(water_f),
        celsius(air_f),
    )
    assert ours == pytest.approx(hours, rel=0.01)


def test_water_never_freezes_in_air_above_freezing_and_at_once_when_it_is_at_it() -> None:
    pipe = (0.05, 0.06, 0.12, 0.04)
    assert time_to_freezing_h(*pipe, 8.0, 0.0) == math.inf
    assert time_to_freezing_h(*pipe, 8.0, 3.0) == math.inf
    assert time_to_freezing_h(*pipe, 0.0, -5.0) == 0.0
    assert np.asarray(time_to_freezing_h(*pipe, 8.0, np.array([-5.0, 5.0]))).tolist()[1] == math.inf


def risk(**given_values: object) -> Risk:
    good: dict[str, object] = {
        "frost_depth_m": 0.8,
        "cover_m": 1.0,
        "exposed_length_m": 0.0,
        "falls_to_outlet": True,
        "sags": 0,
        "outlet_above_ground_m": 0.5,
        "snow_depth_m": 0.3,
        "duty": 0.0,
        "relief_fitting": True,
        "relief_tested": True,
    }
    return discharge_freeze_risk(**(good | given_values))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("given_values", "level", "words"),
    # This project's own scoring, no source; a tested freeze-relief fitting is common practice.
    [
        ({}, RiskLevel.LOW, ()),
        ({"relief_tested": False}, RiskLevel.LOW, ("has not been tested",)),
        ({"cover_m": 0.3}, RiskLevel.LOW, ("0.3 m deep; frost goes down to about 0.8 m",)),
        ({"cover_m": 0.3, "relief_fitting": False}, RiskLevel.WATCH, ("deep", "No freeze-relief fitting")),
        ({"falls_to_outlet": None}, RiskLevel.LOW, ("not known whether",)),
        ({"falls_to_outlet": False}, RiskLevel.WATCH, ("does not fall",)),
        ({"sags": 1}, RiskLevel.WATCH, ("1 low point where",)),
        ({"sags": 2, "cover_m": 0.3}, RiskLevel.HIGH, ("2 low points where", "deep")),
        ({"outlet_above_ground_m": 0.2}, RiskLevel.WATCH, ("Snow can bury",)),
        ({"outlet_above_ground_m": 0.3, "relief_tested": False}, RiskLevel.WATCH, ("Snow can bury", "not been tested")),
        ({"outlet_above_ground_m": 0.2, "sags": 1}, RiskLevel.HIGH, ("1 low point", "Snow can bury")),
        ({"outlet_above_ground_m": 0.2, "duty": 0.05}, RiskLevel.LOW, ("Snow can bury",)),
        (
            {"falls_to_outlet": False, "exposed_length_m": 0.6, "duty": 0.1},
            RiskLevel.WATCH,
            ("does not fall", "bare pipe"),
        ),
        ({"falls_to_outlet": False, "exposed_length_m": 0.6, "insulated": True}, RiskLevel.WATCH, ("does not fall",)),
        ({"exposed_length_m": 0.6}, RiskLevel.LOW, ()),
        ({"falls_to_outlet": False, "cover_m": 0.1, "duty": 0.2}, RiskLevel.WATCH, ("does not fall", "deep")),
        ({"falls_to_outlet": False, "cover_m": 0.1, "duty": 0.01}, RiskLevel.HIGH, ("does not fall", "deep")),
    ],
)
def test_the_freeze_risk_names_what_speaks_for_it_worst_first(
    given_values: dict[str, object], level: RiskLevel, words: tuple[str, ...]
) -> None:
    result = risk(**given_values)
    assert result.level is level
    assert len(result.reasons) == len(words)
    for word, reason in zip(words, result.reasons, strict=True):
        assert word in reason
    assert "rule of thumb" in result.cautions[0]


def test_no_slope_of_a_gravity_drain_is_asked_of_a_pumped_line() -> None:
    """Pages quote ¼ in per foot for discharge lines; that is a gravity drain's figure. What counts for a pumped line is
    that it falls all the way to an open end, however gently: the inputs hold no slope, and no reason names one.
    """
    assert not [name for name in inspect.signature(discharge_freeze_risk).parameters if "slope" in name]
    for falls in (True, False, None):
        for sags in (0, 2):
            text = " ".join(risk(falls_to_outlet=falls, sags=sags, cover_m=0.1, exposed_length_m=1.0).reasons)
            assert not re.search(r"per foot|slope|¼|1/4|%", text)


@given(
    cover=st.floats(0, 1.5),
    exposed=st.floats(0, 3),
    falls=st.sampled_from([True, False, None]),
    sags=st.integers(0, 3),
    outlet=st.floats(0, 1),
    tested=st.booleans(),
    duty=st.floats(0, 1),
)
@settings(max_examples=60)
def test_more_cover_a_higher_outlet_or_a_relief_fitting_never_raises_the_risk(
    cover: float, exposed: float, falls: bool | None, sags: int, outlet: float, tested: bool, duty: float
) -> None:
    values: dict[str, object] = {
        "cover_m": cover,
        "exposed_length_m": exposed,
        "falls_to_outlet": falls,
        "sags": sags,
        "outlet_above_ground_m": outlet,
        "relief_tested": tested,
        "duty": duty,
    }
    order = [RiskLevel.LOW, RiskLevel.WATCH, RiskLevel.HIGH]
    base = order.index(risk(**values).level)
    for better in ({"cover_m": cover + 0.5}, {"outlet_above_ground_m": outlet + 0.5}, {"relief_tested": True}):
        assert order.index(risk(**(values | better)).level) <= base
    assert order.index(risk(**(values | {"relief_fitting": False})).level) >= base


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (lambda: freezing_index([]), "daily_mean_c must list the days of a winter along its last axis, but is []."),
        (lambda: freezing_index(-3.0), "daily_mean_c must list the days of a winter along its last axis, but is -3.0."),
        (lambda: freezing_index([1, math.nan]), "daily_mean_c must be an ordinary number, but is nan."),
        (lambda: stefan_depth_m(500, 0, 1.3, 1600, 0.15), "n_factor must be greater than zero, but is 0.0."),
        (lambda: stefan_depth_m(500, 0.7, 1.3, 1600, 0), "water_part must be greater than zero, but is 0.0."),
        (lambda: berggren_coefficient(-1, 0.2), "alpha must not be negative, but is -1.0."),
        (
            lambda: time_to_freezing_h(0.05, 0.06, 0.05, 0.04, 8, -5),
            "insulation_outer_m must be greater than insulation_inner_m, but is 0.05.",
        ),
        (
            lambda: time_to_freezing_h(0.07, 0.06, 0.12, 0.04, 8, -5),
            "insulation_inner_m must not be less than bore_m, but is 0.06.",
        ),
        (lambda: risk(duty=1.2), "duty must lie from 0 to 1, but is 1.2."),
        (lambda: risk(cover_m=-0.1), "cover_m must not be negative, but is -0.1."),
    ],
)
def test_bad_input_is_refused_in_one_sentence_that_names_it(call, sentence: str) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(BadInput) as refusal:
        call()
    assert str(refusal.value) == sentence
