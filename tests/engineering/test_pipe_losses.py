"""Friction and fittings against published tables and a general hydraulics library."""

import math

import fluids
import fluids.friction
import fluids.piping
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from contractor.engineering.errors import BadInput, Caution
from contractor.engineering.pipe_losses import (
    darcy_head_m,
    friction_factor,
    hazen_williams_cautions,
    hazen_williams_head_m,
    minor_head_m,
    velocity_cautions,
    velocity_m_s,
)
from contractor.engineering.water import density_kg_m3, kinematic_viscosity_m2_s

INCH = 0.0254
FOOT = 0.3048
GPM = 231 * INCH**3 / 60
HUNDRED_FEET = 100 * FOOT


@pytest.mark.filterwarnings("ignore::contractor.engineering.errors.Caution")
@pytest.mark.parametrize(
    ("bore_in", "gpm", "printed_ft", "relative"),
    # Illinois Administrative Code 77, Part 906, Appendix A, Exhibit I (read): feet per 100 ft, C = 150. It prints two
    # decimals, so small values are coarser.
    [
        (1.610, 20, 2.46, 5e-3),
        (1.610, 30, 5.22, 5e-3),
        (2.067, 40, 2.62, 5e-3),
        (1.610, 25, 3.75, 1e-2),
        (1.610, 10, 0.70, 4e-2),
        (1.380, 10, 1.46, 2e-2),
        (2.067, 20, 0.74, 2e-2),
    ],
)
def test_hazen_williams_agrees_with_a_state_code_table(
    bore_in: float, gpm: float, printed_ft: float, relative: float
) -> None:
    head = hazen_williams_head_m(gpm * GPM, bore_in * INCH, HUNDRED_FEET, c=150)
    assert head / FOOT == pytest.approx(printed_ft, rel=relative)


@pytest.mark.parametrize(
    ("gpm", "at_20c_ft", "at_10c_ft"),
    # Computed with `fluids` for smooth 1½ in Sch 40 plastic (1.610 in), feet per 100 ft.
    [
        (10, 0.751, 0.802),
        (20, 2.554, 2.713),
        (25, 3.798, 4.028),
        (30, 5.258, 5.568),
        (40, 8.798, 9.300),
        (60, 18.244, 19.232),
    ],
)
def test_darcy_agrees_with_a_table_computed_by_another_library(gpm: float, at_20c_ft: float, at_10c_ft: float) -> None:
    for temperature_c, expected in ((20, at_20c_ft), (10, at_10c_ft)):
        head = darcy_head_m(gpm * GPM, 1.610 * INCH, HUNDRED_FEET, roughness_m=1.5e-6, temperature_c=temperature_c)
        assert head / FOOT == pytest.approx(expected, rel=6e-3)


@pytest.mark.parametrize(
    ("reynolds", "roughness", "factor", "tolerance"),
    [
        (1e5, 1e-4, 0.018513866, 1e-8),  # `fluids` documentation (read)
        (1e4, 0.0, 0.030883, 1e-6),  # computed with `fluids`
        (1e5, 0.0, 0.017990, 1e-6),
        (1e6, 1e-4, 0.013441, 1e-6),
        (1e5, 0.01, 0.038504, 1e-6),
        (
            100_600,
            0.0,
            0.0179,
            2e-4,
        ),  # Crane TP-410 example 7-1, as quoted in `fluids` documentation (read, second hand)
        (1000, 0.01, 0.064, 1e-12),  # laminar, 64/Re
    ],
)
def test_friction_factor_agrees_with_published_values(
    reynolds: float, roughness: float, factor: float, tolerance: float
) -> None:
    assert friction_factor(reynolds, roughness) == pytest.approx(factor, abs=tolerance)


@given(reynolds=st.floats(4000, 1e8), roughness=st.floats(0, 0.05))
@settings(max_examples=80)
def test_friction_factor_solves_colebrook_as_another_library_does(reynolds: float, roughness: float) -> None:
    ours = friction_factor(reynolds, roughness)
    assert ours == pytest.approx(fluids.friction.Colebrook(reynolds, roughness), rel=1e-9)


def test_crane_example_7_1_gives_the_printed_reynolds_number() -> None:
    """200 L/min in 50 mm pipe at 30 °C: 100 600 (Crane TP-410, second hand). Bore 52.5 mm."""
    flow, bore = 0.2 / 60, 0.0525
    reynolds = velocity_m_s(flow, bore) * bore / kinematic_viscosity_m2_s(30.0)
    assert reynolds == pytest.approx(100_600, rel=6e-3)


@pytest.mark.parametrize(
    ("gpm", "velocity_head_ft", "velocity_ft_s"),
    # Computed: v²/2g in a 1.610 in bore; V = 0.4085·Q/d² (read).
    [(20, 0.1544, 3.152), (30, 0.3474, 4.728), (40, 0.6175, 6.304)],
)
def test_velocity_and_its_head_agree_with_the_customary_formula(
    gpm: float, velocity_head_ft: float, velocity_ft_s: float
) -> None:
    assert velocity_m_s(gpm * GPM, 1.610 * INCH) / FOOT == pytest.approx(velocity_ft_s, rel=1e-3)
    assert minor_head_m(gpm * GPM, 1.610 * INCH, 1.0) / FOOT == pytest.approx(velocity_head_ft, rel=1e-3)


def test_fitting_losses_agree_with_cranes_printed_constant() -> None:
    """Crane prints 2.59e-3·K·Q²/d⁴ in ft, gpm and in (read)."""
    ours = minor_head_m(25 * GPM, 1.610 * INCH, 5.62) / FOOT
    assert ours == pytest.approx(2.59e-3 * 5.62 * 25**2 / 1.610**4, rel=2e-3)
    velocity = velocity_m_s(25 * GPM, 1.610 * INCH)
    assert ours * FOOT == pytest.approx(fluids.head_from_K(K=5.62, V=velocity), rel=1e-6)


def test_the_nominal_bore_of_schedule_40_is_that_of_the_pipe_standard() -> None:
    """ASTM D1785: 1½ in is 1.900 in outside and 1.610 in bore at the least wall; the real bore averages 1.590 in."""
    _nps, bore, outside, _wall = fluids.piping.nearest_pipe(NPS=1.5, schedule="40D1785")
    assert (bore / INCH, outside / INCH) == (pytest.approx(1.610), pytest.approx(1.900))
    real, nominal = (darcy_head_m(20 * GPM, inches * INCH, 30.0) for inches in (1.590, 1.610))
    assert real / nominal == pytest.approx(1.06, abs=0.01)


def test_cold_groundwater_takes_a_tenth_more_than_hazen_williams_for_new_plastic_says() -> None:
    """Computed: 2.713 ft (Darcy, 10 °C) against 2.459 ft (C = 150) per 100 ft at 20 gpm."""
    with pytest.warns(Caution, match="50 mm"):
        fitted = hazen_williams_head_m(20 * GPM, 1.610 * INCH, 30.0, c=150)
    assert darcy_head_m(20 * GPM, 1.610 * INCH, 30.0) / fitted == pytest.approx(1.10, abs=0.01)


@pytest.mark.parametrize(
    ("temperature_c", "viscosity", "density"),
    # From memory: kinematic viscosity of the handbooks; density of water tables.
    [
        (4, 1.567e-6, 999.97),
        (10, 1.307e-6, 999.70),
        (20, 1.004e-6, 998.20),
        (25, 0.893e-6, 997.05),
        (50, 0.553e-6, 988.03),
    ],
)
def test_water_properties_agree_with_handbook_values(temperature_c: float, viscosity: float, density: float) -> None:
    assert kinematic_viscosity_m2_s(temperature_c) == pytest.approx(viscosity, rel=2e-3)
    assert density_kg_m3(temperature_c) == pytest.approx(density, abs=0.02)


@given(
    flow=st.floats(0, 0.01),
    more=st.floats(1e-7, 0.01),
    bore=st.floats(0.02, 0.15),
    length=st.floats(0, 100),
    temperature=st.floats(0, 40),
)
@settings(max_examples=80)
def test_more_flow_never_loses_less_head_laminar_to_turbulent(
    flow: float, more: float, bore: float, length: float, temperature: float
) -> None:
    losses = darcy_head_m(np.array([flow, flow + more]), bore, length, temperature_c=temperature)
    assert np.asarray(losses)[1] >= np.asarray(losses)[0] * (1 - 1e-12)


@pytest.mark.filterwarnings("ignore::contractor.engineering.errors.Caution")
@given(flow=st.floats(0, 0.01), length=st.floats(0.1, 100), part=st.floats(0.01, 0.99))
@settings(max_examples=60)
def test_a_pipe_cut_in_two_loses_the_same(flow: float, length: float, part: float) -> None:
    for loss in (darcy_head_m, hazen_williams_head_m):
        whole = loss(flow, 0.0404, length)
        assert loss(flow, 0.0404, part * length) + loss(flow, 0.0404, (1 - part) * length) == pytest.approx(whole)


def test_a_slow_line_a_fast_line_and_a_good_line_are_told_apart() -> None:
    with pytest.warns(Caution, match="silt may settle"):
        velocity_m_s(0.0005, 0.0404)
    with pytest.warns(Caution, match="hammer"):
        velocity_m_s(0.005, 0.0404)
    assert velocity_cautions(0.0015, 0.0404) == ()
    assert velocity_cautions(0.0, 0.0404) == ()


def test_formulas_outside_their_range_are_cautioned() -> None:
    assert hazen_williams_cautions(0.003, 0.06) == ()
    assert "3 m/s" in hazen_williams_cautions(0.01, 0.06)[0]
    assert "turbulent" in hazen_williams_cautions(1e-5, 0.06)[0]
    with pytest.warns(Caution, match="5% of its bore"):
        friction_factor(1e5, 0.06)
    with pytest.warns(Caution, match="5% of its bore"):
        darcy_head_m(0.001, 0.02, 1.0, roughness_m=0.002)


def test_scalars_give_floats_and_arrays_broadcast() -> None:
    assert isinstance(darcy_head_m(0.001, 0.04, 10.0), float)
    table = darcy_head_m(np.array([[0.001], [0.002]]), np.array([0.04, 0.05, 0.06]), 10.0)
    assert np.asarray(table).shape == (2, 3)
    assert np.asarray(table)[1, 2] == darcy_head_m(0.002, 0.06, 10.0)


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (lambda: darcy_head_m(0.001, 0.04, -3.0), "length_m must not be negative, but is -3.0."),
        (lambda: darcy_head_m(0.001, 0.0, 3.0), "diameter_m must be greater than zero, but is 0.0."),
        (
            lambda: darcy_head_m(0.001, 0.04, 3.0, temperature_c=-2),
            "temperature_c must lie from 0 to 100, but is -2.0.",
        ),
        (lambda: hazen_williams_head_m(math.nan, 0.06, 3.0), "flow_m3_s must be an ordinary number, but is nan."),
        (lambda: hazen_williams_head_m(0.003, 0.06, 3.0, c=0), "c must be greater than zero, but is 0.0."),
        (lambda: minor_head_m(0.001, 0.04, -1), "k_sum must not be negative, but is -1.0."),
        (lambda: friction_factor(0, 0), "reynolds must be greater than zero, but is 0.0."),
    ],
)
def test_bad_input_is_refused_in_one_sentence_that_names_it(call, sentence: str) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(BadInput) as refusal:
        call()
    assert str(refusal.value) == sentence
