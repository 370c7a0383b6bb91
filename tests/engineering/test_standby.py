"""Does the standby pump save the basement: hydraulics, voltage, duty and reserve together."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from contractor.engineering.battery_life import Chemistry, reserve_h
from contractor.engineering.errors import BadInput
from contractor.engineering.pump_curves import DischargeLine, PumpCurve, operating_point
from contractor.engineering.standby import (
    ORDINARY_OUTAGE_H,
    STORM_OUTAGE_H,
    StandbyBattery,
    standby_adequacy,
)

INCH = 0.0254
FOOT = 0.3048
GPM = 231 * INCH**3 / 60
PRIMARY = PumpCurve(
    np.array([0, 10, 20, 30, 40, 50, 60]) * GPM, np.array([25, 23.6, 21.4, 18.3, 14.2, 9.0, 2.5]) * FOOT
)
STANDBY = PumpCurve(np.array([0, 10, 20, 30, 38]) * GPM, np.array([18, 16, 13, 9, 4]) * FOOT)
LINE = DischargeLine(9 * FOOT, 1.590 * INCH, 30 * FOOT, 5.62, c=150)


def battery(**values: object) -> StandbyBattery:
    usual: dict[str, object] = {
        "capacity_ah": 75.0,
        "current_a": 15.0,
        "chemistry": Chemistry.FLOODED,
        "peukert": 1.2,
        "temperature_c": 25.0,
        "loaded_volts": 12.0,
    }
    return StandbyBattery(**(usual | values))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("customer_minutes", "interruptions", "printed_minutes"),
    # EIA Electric Power Annual table 11.1, IEEE method (read): SAIDI, SAIFI and the printed CAIDI = SAIDI/SAIFI.
    [(366.6, 1.348, 271.8), (123.9, 1.022, 121.3), (252.7, 1.108, 228.0)],
)
def test_mean_cut_lengths_are_minutes_over_interruptions(
    customer_minutes: float, interruptions: float, printed_minutes: float
) -> None:
    assert customer_minutes / interruptions == pytest.approx(printed_minutes, abs=0.2)


def test_the_storm_cut_is_the_mean_of_the_major_events_of_ten_years() -> None:
    """Computed from EIA table 11.1 (read): (all − without major events) minutes over interruptions, 2014 to 2023."""
    all_minutes = [236.2, 209.0, 268.4, 505.9, 349.2, 295.5, 456.1, 475.8, 333.0, 366.6]
    all_cuts = [1.257, 1.275, 1.327, 1.420, 1.340, 1.332, 1.385, 1.436, 1.426, 1.348]
    plain_minutes = [114.2, 117.0, 119.8, 117.0, 121.4, 122.2, 116.0, 125.7, 131.1, 123.9]
    plain_cuts = [1.038, 1.073, 1.082, 1.023, 1.051, 1.040, 1.013, 1.039, 1.090, 1.022]
    storm_minutes = (sum(all_minutes) - sum(plain_minutes)) / (sum(all_cuts) - sum(plain_cuts))
    assert storm_minutes / 60 == pytest.approx(STORM_OUTAGE_H, abs=0.05)
    assert sum(plain_minutes) / sum(plain_cuts) / 60 == pytest.approx(ORDINARY_OUTAGE_H, abs=0.1)


def test_reserve_is_computed_at_the_duty_of_the_real_head_and_voltage() -> None:
    standby_flow = operating_point(STANDBY.at_speed(11.0 / 12.0), LINE).flow_m3_s
    inflow = 0.25 * standby_flow
    result = standby_adequacy(inflow, PRIMARY, STANDBY, LINE, battery(loaded_volts=11.0))
    assert result.standby_flow_m3_s == pytest.approx(standby_flow)
    assert result.primary_flow_m3_s == pytest.approx(operating_point(PRIMARY, LINE).flow_m3_s)
    assert result.margin_flow == pytest.approx(4.0)
    assert result.reserve_h == pytest.approx(reserve_h(75, 20, 15, 1.2, 0.25).hours)
    assert result.reserve_h == pytest.approx(15.16, abs=0.01)  # computed by hand
    assert result.covers
    assert result.covers_storm
    assert result.shortfall == ""


def test_a_cut_longer_than_the_battery_is_a_shortfall_in_hours() -> None:
    inflow = 0.5 * operating_point(STANDBY, LINE).flow_m3_s
    result = standby_adequacy(inflow, PRIMARY, STANDBY, LINE, battery())
    assert (result.covers, result.covers_ordinary, result.covers_storm) == (False, True, False)
    assert result.shortfall == "The battery lasts about 7.6 hours; a power cut of 12.4 hours needs more."
    assert standby_adequacy(inflow, PRIMARY, STANDBY, LINE, battery(), outage_h=7.0).covers


def test_more_inflow_than_the_standby_lifts_overflows_at_once_whatever_the_battery() -> None:
    inflow = 1.1 * operating_point(STANDBY, LINE).flow_m3_s
    result = standby_adequacy(inflow, PRIMARY, STANDBY, LINE, battery(capacity_ah=1000.0))
    assert not result.covers_ordinary
    assert "overflows at once" in result.shortfall
    assert result.margin_flow == pytest.approx(1 / 1.1)


def test_a_standby_that_cannot_reach_the_outlet_moves_nothing() -> None:
    high = DischargeLine(20 * FOOT, 1.590 * INCH, 30 * FOOT, 5.62, c=150)
    result = standby_adequacy(0.0, PRIMARY, STANDBY, high, battery())
    assert result.standby_flow_m3_s == 0
    assert not result.covers_ordinary
    assert any(caution.startswith("Standby: The pump cannot lift") for caution in result.cautions)


def test_without_inflow_any_battery_lasts() -> None:
    result = standby_adequacy(0.0, PRIMARY, STANDBY, LINE, battery())
    assert result.covers
    assert result.reserve_h == result.margin_flow == math.inf


def test_narrow_margins_and_a_weak_primary_are_cautioned() -> None:
    standby_flow = operating_point(STANDBY, LINE).flow_m3_s
    narrow = standby_adequacy(0.9 * standby_flow, PRIMARY, STANDBY, LINE, battery())
    assert "The standby pump moves less than a quarter more than comes in." in narrow.cautions
    flood = standby_adequacy(50 * GPM, PRIMARY, STANDBY, LINE, battery())
    assert "Even the primary pump does not keep up with this inflow." in flood.cautions


def test_what_was_assumed_about_the_battery_is_said() -> None:
    assumed = battery(peukert=None, loaded_volts=None, chemistry=Chemistry.LIFEPO4)
    text = " ".join(standby_adequacy(0.0003, PRIMARY, STANDBY, LINE, assumed).cautions)
    assert "Peukert exponent is not known; 1.05 is assumed for LiFePO4" in text
    assert "11.5 V is assumed" in text
    assert "switch itself off" in text
    assert assumed.speed_ratio == pytest.approx(11.5 / 12.0)


@given(
    inflow_gpm=st.floats(0.5, 30),
    more_gpm=st.floats(0, 10),
    volts=st.floats(10.5, 12.6),
    health=st.floats(0.4, 1.0),
)
@settings(max_examples=60)
def test_more_inflow_less_voltage_or_a_worse_battery_never_covers_more(
    inflow_gpm: float, more_gpm: float, volts: float, health: float
) -> None:
    base = standby_adequacy(inflow_gpm * GPM, PRIMARY, STANDBY, LINE, battery(loaded_volts=12.6))
    for inflow, worse in (
        (inflow_gpm + more_gpm, battery(loaded_volts=12.6)),
        (inflow_gpm, battery(loaded_volts=volts)),
        (inflow_gpm, battery(loaded_volts=12.6, health=health)),
    ):
        other = standby_adequacy(inflow * GPM, PRIMARY, STANDBY, LINE, worse)
        assert other.reserve_h <= base.reserve_h * (1 + 1e-9)
        assert other.margin_flow <= base.margin_flow * (1 + 1e-9)
        assert base.covers or not other.covers


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (
            lambda: standby_adequacy(-0.1, PRIMARY, STANDBY, LINE, battery()),
            "inflow_m3_s must not be negative, but is -0.1.",
        ),
        (
            lambda: standby_adequacy(0.1, PRIMARY, STANDBY, LINE, battery(), outage_h=0),
            "outage_h must be greater than zero, but is 0.0.",
        ),
        (
            lambda: standby_adequacy(0.1, PRIMARY, STANDBY, LINE, battery(loaded_volts=0)),
            "loaded_volts must be greater than zero, but is 0.0.",
        ),
    ],
)
def test_bad_input_is_refused_in_one_sentence_that_names_it(call, sentence: str) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(BadInput) as refusal:
        call()
    assert str(refusal.value) == sentence
