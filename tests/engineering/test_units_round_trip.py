"""What is typed in inches and gallons, computed in metres, and read in gallons again, is what paper and pencil give."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from contractor.core.units import UNITS, from_si, to_si
from contractor.engineering.battery_life import life_factor
from contractor.engineering.pit import inflow_from_rise_m3_s, pit_volume_m3
from contractor.engineering.pump_curves import DischargeLine, PumpCurve, operating_point

COMPUTED_WITH = sorted(
    code
    for code, unit in UNITS.items()
    if unit.quantity in {"length", "flow", "voltage", "current", "temperature", "time", "capacity", "volume"}
)


@pytest.mark.parametrize("unit", COMPUTED_WITH)
@given(value=st.floats(-1e4, 1e4))
@settings(max_examples=25)
def test_a_value_goes_to_si_and_back(unit: str, value: float) -> None:
    assert from_si(to_si(value, unit), unit) == pytest.approx(value, rel=1e-12, abs=1e-9)


@given(diameter_in=st.floats(14, 36), rise_in=st.floats(0.5, 12), minutes=st.floats(0.5, 30))
@settings(max_examples=40)
def test_inflow_in_gallons_a_minute_is_that_of_the_customary_formula(
    diameter_in: float, rise_in: float, minutes: float
) -> None:
    """gal = π·d²·h/(4·231), with d and h in inches: 231 cubic inches are a gallon by definition."""
    inflow = inflow_from_rise_m3_s(to_si(diameter_in, "in"), to_si(rise_in, "in"), to_si(minutes, "min"))
    by_hand = 3.141592653589793 * diameter_in**2 / 4 * rise_in / 231 / minutes
    assert from_si(inflow, "gal/min") == pytest.approx(by_hand, rel=1e-9)
    assert from_si(inflow, "L/min") == pytest.approx(by_hand * 3.785411784, rel=1e-9)


def test_a_pit_in_litres_is_the_same_pit_in_gallons() -> None:
    volume = pit_volume_m3(to_si(18, "in"), to_si(1, "in"))
    assert from_si(volume, "gal") == pytest.approx(1.1016, abs=1e-4)  # computed
    assert from_si(volume, "L") == pytest.approx(1.6417 * 2.54, abs=5e-4)  # L per cm, computed


def test_a_hot_basement_in_fahrenheit_is_the_same_in_celsius() -> None:
    """Halving per 15 °F above 77 °F (read, second hand)."""
    assert life_factor(to_si(92, "degF")) == pytest.approx(0.5)
    assert life_factor(to_si(33.333333333, "degC")) == pytest.approx(0.5)


@given(feet=st.floats(2, 20), gallons=st.floats(20, 60))
@settings(max_examples=30)
def test_a_pump_works_at_the_same_point_whatever_units_it_was_typed_in(feet: float, gallons: float) -> None:
    typed = ((0.0, 24.0), (0.5, 16.0), (1.0, 2.0))  # part of the flow, feet
    customary = PumpCurve(
        [to_si(part * gallons, "gal/min") for part, _ in typed], [to_si(head, "ft") for _, head in typed]
    )
    metric = PumpCurve(
        [to_si(part * gallons * 3.785411784, "L/min") for part, _ in typed],
        [to_si(head * 0.3048, "m") for _, head in typed],
    )
    line = DischargeLine(to_si(feet, "ft"), to_si(1.61, "in"), to_si(30, "ft"), 5.6)
    same = DischargeLine(feet * 0.3048, 0.0254 * 1.61, 9.144, 5.6)
    assert operating_point(customary, line).flow_m3_s == pytest.approx(operating_point(metric, same).flow_m3_s)
