"""Frost: how deep it goes, how soon water in a pipe reaches freezing, and how likely the discharge line freezes."""

from dataclasses import dataclass
from enum import StrEnum
from typing import Final, overload

import numpy as np
from numpy.typing import ArrayLike
from scipy.optimize import elementwise
from scipy.special import erf, erfcx

from contractor.engineering.errors import BadInput
from contractor.engineering.inputs import (
    FloatArray,
    Quantity,
    as_given,
    finite,
    not_negative,
    positive,
    refuse_where,
    warn,
    within,
)
from contractor.engineering.water import LATENT_HEAT_J_KG, SPECIFIC_HEAT_J_KG_K, density_kg_m3

_SECONDS_PER_DAY: Final = 86400.0
# A line that runs this part of the time carries warm groundwater and rarely freezes. Common practice, no source.
_BUSY_DUTY: Final = 0.05
# Points from which the risk is called watch and high. This project's own scoring, no source.
_WATCH_POINTS, _HIGH_POINTS = 2, 4
SCORING: Final = "The level is a rule of thumb made of points, not a computed probability."


class RiskLevel(StrEnum):
    """How likely the discharge line is to freeze shut."""

    LOW = "low"
    WATCH = "watch"
    HIGH = "high"


@dataclass(frozen=True, slots=True, kw_only=True)
class Risk:
    """A level of risk and what speaks for it, worst first."""

    level: RiskLevel
    reasons: tuple[str, ...]
    cautions: tuple[str, ...] = ()


def freezing_index(daily_mean_c: ArrayLike) -> Quantity:
    """Air freezing index of a winter.

    The largest fall of the running sum of daily mean temperatures (°C·day), from its highest point to the lowest that
    follows; thaws within the winter are subtracted, unlike in a plain sum of the cold days. Last axis: days, one whole
    winter in order. Source: UFC 3-130-06 (TM 5-852-6).

    >>> freezing_index([2, -5, -5, 3, -4, 6])
    11.0
    """
    days = finite("daily_mean_c", daily_mean_c)
    if days.ndim == 0 or days.shape[-1] == 0:
        raise BadInput("daily_mean_c", days.tolist(), "must list the days of a winter along its last axis")
    start = np.zeros((*days.shape[:-1], 1))
    running = np.concatenate([start, np.cumsum(days, axis=-1)], axis=-1)
    return as_given((np.maximum.accumulate(running, axis=-1) - running).max(axis=-1))


@overload
def stefan_depth_m(
    freezing_index_c_day: float, n_factor: float, conductivity_w_mk: float, dry_density_kg_m3: float, water_part: float
) -> float: ...
@overload
def stefan_depth_m(
    freezing_index_c_day: Quantity,
    n_factor: Quantity,
    conductivity_w_mk: Quantity,
    dry_density_kg_m3: Quantity,
    water_part: Quantity,
) -> Quantity: ...
def stefan_depth_m(
    freezing_index_c_day: Quantity,
    n_factor: Quantity,
    conductivity_w_mk: Quantity,
    dry_density_kg_m3: Quantity,
    water_part: Quantity,
) -> Quantity:
    """Depth of frost when only freezing the ground's water takes heat: an upper bound.

    X = √(2·K·n·F·86400 / L) with L = 334.9 kJ/kg · dry density · water part; m from °C·day, W/(m·K), kg/m³ and kg water
    per kg dry soil. The surface factor n: snow 1.0, bare soil 0.7, turf 0.5, under trees 0.3. Valid for uniform ground;
    overstates where the mean annual temperature is well above freezing (``berggren_depth_m``). Source: UFC 3-130-06.

    >>> round(stefan_depth_m(277.8, 0.5, 1.315, 1602, 0.15), 2)  # 500 °F·day, silt
    0.63
    """
    index, factor = not_negative("freezing_index_c_day", freezing_index_c_day), positive("n_factor", n_factor)
    conductivity, latent = positive("conductivity_w_mk", conductivity_w_mk), _latent(dry_density_kg_m3, water_part)
    return as_given(np.sqrt(2.0 * conductivity * factor * index * _SECONDS_PER_DAY / latent))


def _latent(dry_density_kg_m3: Quantity, water_part: Quantity) -> FloatArray:
    """Heat to freeze the water in a cubic metre of ground."""
    latent: FloatArray = (
        LATENT_HEAT_J_KG * positive("dry_density_kg_m3", dry_density_kg_m3) * positive("water_part", water_part)
    )
    return latent


@overload
def berggren_coefficient(alpha: float, mu: float) -> float: ...
@overload
def berggren_coefficient(alpha: Quantity, mu: Quantity) -> Quantity: ...
def berggren_coefficient(alpha: Quantity, mu: Quantity) -> Quantity:
    """Part λ of the Stefan depth that remains when the ground's own warmth is counted.

    Neumann's solution with equal properties: the root ξ of e^(−ξ²)/erf ξ − α·e^(−ξ²)/erfc ξ = √π·ξ/μ, then
    λ = ξ·√(2/μ). Dimensionless; α is the ground's warmth above freezing ÷ the surface's cold below it, μ sensible ÷
    latent heat. Solved, not the closed form 1/√(1 + μ(α + ½)), which is 13 to 43 % high for α of 1 to 3.
    Source: Aldrich and Paynter's chart in UFC 3-130-06, which this reproduces.

    >>> round(berggren_coefficient(1.0, 0.2), 4)
    0.7762
    """
    ratio, fusion = np.broadcast_arrays(not_negative("alpha", alpha), positive("mu", mu))

    def surplus(x: FloatArray, a: FloatArray, m: FloatArray) -> FloatArray:
        value: FloatArray = m * (np.exp(-(x**2)) / erf(x) - a / erfcx(x)) - np.sqrt(np.pi) * x
        return value

    highest = np.sqrt(fusion / 2.0)  # where λ would be 1
    found = elementwise.find_root(surplus, (1e-9 * highest, highest), args=(ratio, fusion))
    return as_given(np.asarray(found.x) * np.sqrt(2.0 / fusion))


def berggren_depth_m(
    freezing_index_c_day: Quantity,
    n_factor: Quantity,
    conductivity_w_mk: Quantity,
    dry_density_kg_m3: Quantity,
    water_part: Quantity,
    *,
    mean_annual_c: Quantity,
    freezing_days: Quantity,
) -> Quantity:
    """Depth of frost by the modified Berggren formula.

    X = λ · ``stefan_depth_m`` with α = mean annual temperature ÷ (n·F/days), μ = C·(n·F/days)/L and
    C = dry density · (0.17 + 0.75·water part) · 4.187 kJ/(kg·K). Inputs as for Stefan, and °C and days. Valid for
    uniform ground with a mean annual temperature above 0 °C; at or below, a caution. Source: UFC 3-130-06 (TM 5-852-6).

    >>> depth = berggren_depth_m(555.6, 0.7, 1.315, 1602, 0.15, mean_annual_c=7.22, freezing_days=100)
    >>> round(depth, 2)  # 31 in
    0.8
    """
    mean, days = finite("mean_annual_c", mean_annual_c), positive("freezing_days", freezing_days)
    warn(
        ["The mean annual temperature is not above freezing: the frost-depth formula is not meant for permafrost."]
        if bool(np.any(mean <= 0))
        else []
    )
    index, factor = positive("freezing_index_c_day", freezing_index_c_day), positive("n_factor", n_factor)
    surface = factor * index / days
    density, water = positive("dry_density_kg_m3", dry_density_kg_m3), positive("water_part", water_part)
    heat_capacity = density * (0.17 + 0.75 * water) * SPECIFIC_HEAT_J_KG_K
    coefficient = berggren_coefficient(np.abs(mean) / surface, heat_capacity * surface / _latent(density, water))
    return as_given(coefficient * stefan_depth_m(index, factor, conductivity_w_mk, density, water))


@overload
def time_to_freezing_h(
    bore_m: float,
    insulation_inner_m: float,
    insulation_outer_m: float,
    conductivity_w_mk: float,
    water_c: float,
    air_c: float,
) -> float: ...
@overload
def time_to_freezing_h(
    bore_m: Quantity,
    insulation_inner_m: Quantity,
    insulation_outer_m: Quantity,
    conductivity_w_mk: Quantity,
    water_c: Quantity,
    air_c: Quantity,
) -> Quantity: ...
def time_to_freezing_h(
    bore_m: Quantity,
    insulation_inner_m: Quantity,
    insulation_outer_m: Quantity,
    conductivity_w_mk: Quantity,
    water_c: Quantity,
    air_c: Quantity,
) -> Quantity:
    """Time for water that stands in an insulated pipe to cool to 0 °C: the onset of freezing, not a solid plug.

    θ = ρ·c·π·(D1/2)²·R·ln[(Tw − Ta)/(0 − Ta)] with R = ln(D3/D2)/(2π·k), given in h; bore D1 and the insulation's
    diameters D2 and D3 in m, k in W/(m·K), °C. Infinite in air at or above 0 °C. Films, pipe wall and latent heat are
    left out. Valid for a full pipe and steady air. Source: ASHRAE Handbook of Fundamentals, chapter 23, equation 1 (a
    copy).

    >>> round(time_to_freezing_h(0.0525, 0.0603, 0.1365, 0.0433, 5.56, -27.78), 1)  # the handbook's 1.4 h
    1.4
    """
    bore, inner = positive("bore_m", bore_m), positive("insulation_inner_m", insulation_inner_m)
    outer, conductivity = (
        positive("insulation_outer_m", insulation_outer_m),
        positive("conductivity_w_mk", conductivity_w_mk),
    )
    water, air = within("water_c", water_c, 0.0, 100.0), finite("air_c", air_c)
    refuse_where(outer <= inner, "insulation_outer_m", outer, "must be greater than insulation_inner_m")
    refuse_where(inner < bore, "insulation_inner_m", inner, "must not be less than bore_m")
    resistance = np.log(outer / inner) / (2.0 * np.pi * conductivity)
    capacity = np.asarray(density_kg_m3(water)) * SPECIFIC_HEAT_J_KG_K * np.pi / 4.0 * bore**2
    cold = np.minimum(air, -1e-300)
    hours = capacity * resistance * np.log((water - cold) / -cold) / 3600.0
    return as_given(np.where(air < 0, hours, np.inf))


def discharge_freeze_risk(
    *,
    frost_depth_m: float,
    cover_m: float,
    exposed_length_m: float,
    falls_to_outlet: bool | None,
    sags: int,
    outlet_above_ground_m: float,
    snow_depth_m: float,
    duty: float,
    relief_fitting: bool,
    relief_tested: bool,
    insulated: bool = False,
) -> Risk:
    """How likely a discharge line is to freeze shut, and why.

    ``frost_depth_m`` of the place (``berggren_depth_m``) against ``cover_m``, the least cover of the buried run;
    ``exposed_length_m`` of pipe in outside air and whether it is ``insulated``; ``falls_to_outlet`` whether it drains
    by itself to an open end (None: not known); ``sags`` low points that hold water; ``outlet_above_ground_m`` against
    ``snow_depth_m``; ``duty`` part of the time the pump runs in winter; ``relief_fitting`` present, and
    ``relief_tested`` at the last check-up.

    Points: sags 2, no fall to the outlet 2, fall not known 1, cover less than frost 2 (1 if the line drains), bare
    exposed pipe 1 (0 if it drains), outlet within the snow 2, no tested relief fitting 1; less 1 when the pump runs
    5 % of the time or more. From 2 points watch, from 4 high. Source: this project's own scoring, no source.

    >>> risk = discharge_freeze_risk(frost_depth_m=0.8, cover_m=0.3, exposed_length_m=0.5, falls_to_outlet=False,
    ...     sags=1, outlet_above_ground_m=0.1, snow_depth_m=0.3, duty=0.0, relief_fitting=False, relief_tested=False)
    >>> risk.level.value, len(risk.reasons)
    ('high', 6)
    """
    frost, cover = float(not_negative("frost_depth_m", frost_depth_m)), float(not_negative("cover_m", cover_m))
    outlet = float(not_negative("outlet_above_ground_m", outlet_above_ground_m))
    snow = float(not_negative("snow_depth_m", snow_depth_m))
    bare_m = 0.0 if insulated else float(not_negative("exposed_length_m", exposed_length_m))
    low_points = float(not_negative("sags", sags))
    drains = falls_to_outlet is True and low_points == 0
    scored = _standing_water(falls_to_outlet, int(low_points))
    if cover < frost:
        scored.append((1 if drains else 2, f"It lies {cover:.1f} m deep; frost goes down to about {frost:.1f} m."))
    if bare_m > 0 and not drains:
        scored.append((1, f"{bare_m:.1f} m of bare pipe stand in the outside air."))
    if outlet <= snow:
        scored.append((2, "Snow can bury the outlet."))
    if not relief_fitting:
        scored.append((1, "No freeze-relief fitting lets the water out when the line beyond it is frozen."))
    elif not relief_tested:
        scored.append((1, "The freeze-relief fitting has not been tested."))
    busy = float(within("duty", duty, 0.0, 1.0)) >= _BUSY_DUTY
    points = sum(point for point, _ in scored) - busy
    level = RiskLevel.HIGH if points >= _HIGH_POINTS else RiskLevel.WATCH if points >= _WATCH_POINTS else RiskLevel.LOW
    scored.sort(key=lambda pair: -pair[0])
    return Risk(level=level, reasons=tuple(reason for _, reason in scored), cautions=(SCORING,))


def _standing_water(falls_to_outlet: bool | None, sags: int) -> list[tuple[int, str]]:
    scored = []
    if sags > 0:
        scored.append((2, f"It has {sags} low point{'s' if sags > 1 else ''} where water stands."))
    if falls_to_outlet is False:
        scored.append((2, "It does not fall to its outlet, so it stays full."))
    if falls_to_outlet is None:
        scored.append((1, "It is not known whether it falls to its outlet."))
    return scored
