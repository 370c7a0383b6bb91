"""The same sums done by general libraries that share no code with ours, over ranges of values.

EPANET is the pipe-network program of the United States Environmental Protection Agency; `fluids` a library of fluid
mechanics; `iapws` the water properties of the International Association for the Properties of Water and Steam. Each
chooses its own formulas (EPANET the explicit friction factor of Swamee and Jain), so tolerances say how far apart two
accepted formulas lie. Survival and trends are checked against SciPy and statsmodels beside their other tests.
"""

import os

import fluids
import iapws
import numpy as np
import pytest
from epanet import toolkit as epanet
from hypothesis import given, settings
from hypothesis import strategies as st

from contractor.engineering.pipe_losses import (
    darcy_head_m,
    friction_factor,
    hazen_williams_head_m,
    minor_head_m,
    velocity_m_s,
)
from contractor.engineering.pit import pit_volume_m3
from contractor.engineering.pump_curves import DischargeLine, PumpCurve, fleet_operating_points, operating_point
from contractor.engineering.pump_life import flow_trend
from contractor.engineering.water import GRAVITY_M_S2, density_kg_m3, kinematic_viscosity_m2_s

pytestmark = pytest.mark.filterwarnings("ignore::contractor.engineering.errors.Caution")

# EPANET's own reference viscosity, 1.1e-5 ft²/s (its manual; from memory).
EPANET_VISCOSITY_M2_S = 1.1e-5 * 0.3048**2
# H = 7 − 0.8·Q² in m and L/s. EPANET lays such a law through three points; ours is drawn through thirty.
SHUTOFF_M, FALL = 7.0, 0.8
LITRES = np.linspace(0.0, 2.9, 30)
CURVE = PumpCurve(LITRES / 1000, SHUTOFF_M - FALL * LITRES**2)


def epanet_point(line: DischargeLine, *, speed: float = 1.0) -> tuple[float, float, float]:
    """Flow in m³/s, head lost in the line and head of the pump in m, of a pit, a pump, a line and an outlet."""
    project = epanet.createproject()
    epanet.init(project, os.devnull, "", epanet.LPS, epanet.DW if line.c is None else epanet.HW)
    for name, kind, level in (
        ("pit", epanet.RESERVOIR, 0.0),
        ("outlet", epanet.RESERVOIR, float(line.static_lift_m)),
        ("tapping", epanet.JUNCTION, 0.0),
    ):
        epanet.setnodevalue(project, epanet.addnode(project, name, kind), epanet.ELEVATION, level)
    pipe = epanet.addlink(project, "line", epanet.PIPE, "tapping", "outlet")
    roughness = 0.0015 if line.c is None else float(line.c)  # mm for Darcy, C for Hazen and Williams
    epanet.setpipedata(project, pipe, float(line.length_m), float(line.diameter_m) * 1000, roughness, float(line.k_sum))
    pump = epanet.addlink(project, "pump", epanet.PUMP, "pit", "tapping")
    epanet.addcurve(project, "curve")
    flows, heads = epanet.doubleArray(3), epanet.doubleArray(3)
    for position, flow in enumerate((0.0, 1.0, 2.0)):
        flows[position], heads[position] = flow, SHUTOFF_M - FALL * flow**2
    epanet.setcurve(project, 1, flows, heads, 3)
    epanet.setheadcurveindex(project, pump, 1)
    epanet.setlinkvalue(project, pump, epanet.INITSETTING, speed)
    viscosity = kinematic_viscosity_m2_s(float(line.temperature_c)) / EPANET_VISCOSITY_M2_S
    epanet.setoption(project, epanet.SP_VISCOS, viscosity)
    epanet.setoption(project, epanet.ACCURACY, 1e-5)
    epanet.openH(project)
    epanet.initH(project, epanet.NOSAVE)
    epanet.runH(project)
    found = (
        epanet.getlinkvalue(project, pipe, epanet.FLOW) / 1000,
        epanet.getlinkvalue(project, pipe, epanet.HEADLOSS),
        -epanet.getlinkvalue(project, pump, epanet.HEADLOSS),
    )
    epanet.closeH(project)
    epanet.close(project)
    epanet.deleteproject(project)
    return found


lines = st.builds(
    DischargeLine,
    st.floats(0.0, 5.0),
    st.floats(0.030, 0.065),
    st.floats(1.0, 60.0),
    st.floats(0.0, 15.0),
    c=st.sampled_from([None, 130.0, 140.0, 150.0]),
    temperature_c=st.floats(2.0, 25.0),
)


@given(line=lines, speed=st.floats(0.9, 1.0))
@settings(max_examples=60)
def test_a_pump_works_on_its_line_where_epanet_finds_it(line: DischargeLine, speed: float) -> None:
    """Lift, friction, fittings, curve and affinity together; friction factors differ by up to 1.5 %."""
    flow, _lost, head = epanet_point(line, speed=speed)
    ours = operating_point(CURVE.at_speed(speed), line)
    if ours.flow_m3_s >= CURVE.flows_m3_s[-1] * speed:
        assert flow >= ours.flow_m3_s * 0.99  # past the end of the curve, where ours stops and EPANET goes on
        return
    assert ours.flow_m3_s == pytest.approx(flow, rel=1e-2 if line.c is None else 2e-3)
    assert ours.head_m == pytest.approx(head, abs=0.05 if line.c is None else 0.02)


@given(line=lines)
@settings(max_examples=60)
def test_the_head_of_a_line_is_the_one_that_epanet_loses_at_the_same_flow(line: DischargeLine) -> None:
    flow, lost, _head = epanet_point(line)
    ours = line.head_m(flow) - float(line.static_lift_m)
    assert ours == pytest.approx(lost, rel=1.5e-2 if line.c is None else 3e-3, abs=1e-4)


def test_a_slow_laminar_line_loses_what_epanet_says() -> None:
    """Hagen and Poiseuille: no choice of formula, so they agree closely."""
    line = DischargeLine(SHUTOFF_M - 0.05, 0.020, 60.0, 0.0, temperature_c=10.0)
    flow, lost, _head = epanet_point(line)
    assert 4 * flow / (np.pi * 0.020 * kinematic_viscosity_m2_s(10.0)) < 2000
    assert darcy_head_m(flow, 0.020, 60.0) == pytest.approx(lost, rel=2e-3)


def test_a_fleet_of_pumps_agrees_with_epanet_pump_by_pump() -> None:
    lift, length = np.linspace(0.5, 6.0, 12), np.linspace(5.0, 50.0, 12)
    fleet = fleet_operating_points([CURVE], DischargeLine(lift, 0.041, length, 5.6, c=140.0))
    for position in range(12):
        alone = DischargeLine(float(lift[position]), 0.041, float(length[position]), 5.6, c=140.0)
        assert fleet.flow_m3_s[position] == pytest.approx(epanet_point(alone)[0], rel=2e-3)


@given(
    flow=st.floats(1e-4, 0.006),
    diameter=st.floats(0.025, 0.10),
    length=st.floats(0.5, 80.0),
    temperature=st.floats(1.0, 35.0),
)
@settings(max_examples=60)
def test_darcy_friction_is_the_pressure_drop_that_fluids_computes(
    flow: float, diameter: float, length: float, temperature: float
) -> None:
    density, viscosity = density_kg_m3(temperature), kinematic_viscosity_m2_s(temperature)
    if 2000 <= 4 * flow / (np.pi * diameter * viscosity) <= 4000:
        return  # between laminar and turbulent nobody knows, and each draws its own line
    drop_pa = fluids.one_phase_dP(
        m=flow * density,
        rho=density,
        mu=viscosity * density,
        D=diameter,
        roughness=1.5e-6,
        L=length,
        Method="Colebrook",
    )
    ours = darcy_head_m(flow, diameter, length, temperature_c=temperature)
    assert ours == pytest.approx(drop_pa / (density * GRAVITY_M_S2), rel=1e-6)


@given(flow=st.floats(1e-4, 0.006), diameter=st.floats(0.025, 0.10), k_sum=st.floats(0, 30))
@settings(max_examples=40)
def test_fitting_losses_are_those_of_fluids(flow: float, diameter: float, k_sum: float) -> None:
    velocity = velocity_m_s(flow, diameter)
    assert minor_head_m(flow, diameter, k_sum) == pytest.approx(fluids.head_from_K(K=k_sum, V=velocity, g=GRAVITY_M_S2))


@pytest.mark.parametrize("reynolds", [4000.0, 1e4, 1e5, 1e6])
@pytest.mark.parametrize("roughness", [0.0, 1e-5, 1e-3, 1e-2])
def test_the_friction_factor_lies_near_a_second_published_formula(reynolds: float, roughness: float) -> None:
    """Haaland (1983), in `fluids`: within 2 % of Colebrook over this range."""
    assert friction_factor(reynolds, roughness) == pytest.approx(fluids.friction.Haaland(reynolds, roughness), rel=2e-2)


def test_hazen_williams_lies_near_darcy_where_both_are_meant_to_hold() -> None:
    """2 in pipe at 1 to 3 m/s and 15 °C, C = 150: two laws, one pipe, within a tenth."""
    flow = np.linspace(1.0, 3.0, 9) * np.pi / 4 * 0.0525**2
    ratio = np.asarray(hazen_williams_head_m(flow, 0.0525, 10.0, c=150.0)) / np.asarray(
        darcy_head_m(flow, 0.0525, 10.0, temperature_c=15.0)
    )
    assert (np.abs(ratio - 1) < 0.1).all()


@given(diameter=st.floats(0.3, 1.0), depth=st.floats(0.01, 0.9))
@settings(max_examples=40)
def test_a_pit_holds_what_a_tank_of_fluids_holds(diameter: float, depth: float) -> None:
    tank = fluids.TANK(D=diameter, L=1.0, horizontal=False)
    assert pit_volume_m3(diameter, depth) == pytest.approx(tank.V_from_h(depth))


@pytest.mark.parametrize("temperature_c", [0.5, 4, 10, 15, 20, 30, 50, 80, 99])
def test_water_is_that_of_the_international_formulation(temperature_c: float) -> None:
    """IAPWS-IF97 at one atmosphere."""
    water = iapws.IAPWS97(T=temperature_c + 273.15, P=0.101325)
    assert density_kg_m3(temperature_c) == pytest.approx(water.rho, rel=2e-5)
    assert kinematic_viscosity_m2_s(temperature_c) == pytest.approx(
        water.nu, rel=1.5e-3 if temperature_c < 60 else 4e-3
    )


@given(data=st.data())
@settings(max_examples=40)
def test_a_flow_trend_is_the_median_of_the_slopes_of_all_pairs(data: st.DataObject) -> None:
    """The definition of Theil and Sen, done with two loops."""
    days = data.draw(st.lists(st.integers(0, 4000), min_size=3, max_size=9, unique=True))
    ratio = data.draw(st.lists(st.floats(0.3, 1.1), min_size=len(days), max_size=len(days)))
    pairs = [(ratio[j] - ratio[i]) / (days[j] - days[i]) for i in range(len(days)) for j in range(i + 1, len(days))]
    assert flow_trend(days, ratio).slope_per_year == pytest.approx(np.median(pairs) * 365.25, abs=1e-9)


def test_the_textbook_line_that_one_wild_point_does_not_turn() -> None:
    """Seven points 1, 2, 3, 4, 5, 16, 7 have slope 1 (Helsel and Hirsch, chapter 10; from memory)."""
    assert flow_trend(range(7), [1, 2, 3, 4, 5, 16, 7]).slope_per_year == pytest.approx(365.25)
