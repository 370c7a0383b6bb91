"""Head that a discharge line takes: friction in the pipe, losses in fittings, and speeds that are too slow or too fast.

Heads are metres of water. Groundwater is cold and so more viscous than in the tables, which are for about 20 °C.
"""

from typing import Final, overload

import numpy as np

from contractor.engineering.inputs import FloatArray, Quantity, as_given, not_negative, positive, warn
from contractor.engineering.water import GRAVITY_M_S2, kinematic_viscosity_m2_s

LAMINAR_REYNOLDS: Final = 2000.0
TURBULENT_REYNOLDS: Final = 4000.0
# Sand and silt settle below about 2 ft/s (design guides for pressure sewers, from memory).
SLOW_M_S: Final = 0.6
# Water hammer and noise above about 8 to 10 ft/s (handbooks, from memory).
FAST_M_S: Final = 3.0
SMALL_BORE_M: Final = 0.050
ROUGHEST: Final = 0.05
_NEWTON_STEPS: Final = 8


@overload
def velocity_m_s(flow_m3_s: float, diameter_m: float) -> float: ...
@overload
def velocity_m_s(flow_m3_s: Quantity, diameter_m: Quantity) -> Quantity: ...
def velocity_m_s(flow_m3_s: Quantity, diameter_m: Quantity) -> Quantity:
    """Mean speed of the water in a full pipe.

    v = Q / (π/4 · D²), in m/s from m³/s and m. Issues a caution below 0.6 m/s, where silt settles, and above 3 m/s,
    where a closing check valve hammers; ``velocity_cautions`` gives the same sentences. Source: geometry; the limits
    are those of design handbooks (from memory).

    20 gpm in a 1.61 in bore run at 3.15 ft/s (0.96 m/s):

    >>> round(velocity_m_s(0.0012618, 0.040894), 2)
    0.96
    """
    velocity = _velocity(not_negative("flow_m3_s", flow_m3_s), positive("diameter_m", diameter_m))
    warn(_speed_cautions(velocity))
    return as_given(velocity)


def velocity_cautions(flow_m3_s: Quantity, diameter_m: Quantity) -> tuple[str, ...]:
    """Sentences on lines that are too slow to carry silt or so fast that they hammer; see ``velocity_m_s``.

    >>> velocity_cautions(0.0012618, 0.040894)
    ()
    """
    return _speed_cautions(_velocity(not_negative("flow_m3_s", flow_m3_s), positive("diameter_m", diameter_m)))


def _velocity(flow: FloatArray, diameter: FloatArray) -> FloatArray:
    velocity: FloatArray = flow / (np.pi / 4.0 * diameter**2)
    return velocity


def _speed_cautions(velocity: FloatArray) -> tuple[str, ...]:
    cautions = []
    if bool(np.any((velocity > 0) & (velocity < SLOW_M_S))):
        cautions.append("The water moves slower than 0.6 m/s (2 ft/s): silt may settle in the line.")
    if bool(np.any(velocity > FAST_M_S)):
        cautions.append("The water moves faster than 3 m/s (10 ft/s): the line is noisy and may hammer.")
    return tuple(cautions)


@overload
def hazen_williams_head_m(flow_m3_s: float, diameter_m: float, length_m: float, c: float = ...) -> float: ...
@overload
def hazen_williams_head_m(
    flow_m3_s: Quantity, diameter_m: Quantity, length_m: Quantity, c: Quantity = ...
) -> Quantity: ...
def hazen_williams_head_m(
    flow_m3_s: Quantity, diameter_m: Quantity, length_m: Quantity, c: Quantity = 140.0
) -> Quantity:
    """Friction head of a full pipe by Hazen and Williams.

    h = 10.67 · L · Q^1.852 / (C^1.852 · D^4.8704), in m from m³/s and m. C 150 for new plastic, 140 for design, 130
    for aged or dirty plastic (130 is common practice, no source). Valid for turbulent water near 15 °C in pipes of
    50 mm and more at up to 3 m/s; outside, a caution (``hazen_williams_cautions``). Source: state plumbing codes and
    design tables; range from memory.

    >>> round(hazen_williams_head_m(0.0012618, 0.0525, 30.48, c=150), 3)
    0.222
    """
    flow, diameter = not_negative("flow_m3_s", flow_m3_s), positive("diameter_m", diameter_m)
    warn(_hazen_williams_cautions(flow, diameter))
    length, coefficient = not_negative("length_m", length_m), positive("c", c)
    return as_given(unchecked_hazen_williams_head_m(flow, diameter, length, coefficient))


def unchecked_hazen_williams_head_m(
    flow: FloatArray, diameter: FloatArray, length: FloatArray, c: FloatArray
) -> FloatArray:
    """``hazen_williams_head_m`` without checks or cautions, for the inside of a loop over checked values."""
    head: FloatArray = 10.67 * length * (flow / c) ** 1.852 / diameter**4.8704
    return head


def hazen_williams_cautions(flow_m3_s: Quantity, diameter_m: Quantity) -> tuple[str, ...]:
    """Sentences on flows outside the range of the Hazen–Williams formula; see ``hazen_williams_head_m``.

    >>> len(hazen_williams_cautions(0.0012618, 0.040894))
    1
    """
    return _hazen_williams_cautions(not_negative("flow_m3_s", flow_m3_s), positive("diameter_m", diameter_m))


def _hazen_williams_cautions(flow: FloatArray, diameter: FloatArray) -> tuple[str, ...]:
    cautions = []
    if bool(np.any(diameter < SMALL_BORE_M)):
        cautions.append(
            "The Hazen–Williams formula is meant for bores of 50 mm (2 in) and more: "
            "cold water may take 10% more friction head."
        )
    velocity = _velocity(flow, diameter)
    if bool(np.any(velocity > FAST_M_S)):
        cautions.append("The Hazen–Williams formula is meant for speeds up to 3 m/s (10 ft/s).")
    if bool(np.any((flow > 0) & (velocity * diameter < TURBULENT_REYNOLDS * 1.1e-6))):
        cautions.append("The Hazen–Williams formula is meant for turbulent flow; this flow is too slow for it.")
    return tuple(cautions)


@overload
def friction_factor(reynolds: float, relative_roughness: float) -> float: ...
@overload
def friction_factor(reynolds: Quantity, relative_roughness: Quantity) -> Quantity: ...
def friction_factor(reynolds: Quantity, relative_roughness: Quantity) -> Quantity:
    """Darcy friction factor of a full round pipe.

    Laminar (Re ≤ 2000): f = 64/Re. Turbulent (Re ≥ 4000): Colebrook, 1/√f = −2·log10(ε/(3.7·D) + 2.51/(Re·√f)), solved
    to rounding. Between them, straight from one to the other, because nobody knows. Dimensionless. Valid for
    ε/D up to 0.05; above, a caution. Source: Colebrook (1939); Crane TP-410.

    >>> round(friction_factor(1e5, 1e-4), 9)
    0.018513866
    """
    number, roughness = positive("reynolds", reynolds), not_negative("relative_roughness", relative_roughness)
    warn(_roughness_cautions(roughness))
    return as_given(_friction_factor(number, roughness))


def _roughness_cautions(relative_roughness: FloatArray) -> tuple[str, ...]:
    if bool(np.any(relative_roughness > ROUGHEST)):
        return ("The pipe's wall is rougher than 5% of its bore, beyond the range of the Colebrook formula.",)
    return ()


def _friction_factor(reynolds: FloatArray, roughness: FloatArray) -> FloatArray:
    laminar = 64.0 / np.minimum(reynolds, LAMINAR_REYNOLDS)
    turbulent = _colebrook(np.maximum(reynolds, TURBULENT_REYNOLDS), roughness)
    part = np.clip((reynolds - LAMINAR_REYNOLDS) / (TURBULENT_REYNOLDS - LAMINAR_REYNOLDS), 0.0, 1.0)
    factor: FloatArray = laminar + part * (turbulent - laminar)
    return factor


def _colebrook(reynolds: FloatArray, roughness: FloatArray) -> FloatArray:
    """Newton's method on x = 1/√f, started from Swamee and Jain's formula; it converges from there in a few steps."""
    wall, slope = roughness / 3.7, 2.51 / reynolds
    x = -2.0 * np.log10(wall + 5.74 / reynolds**0.9)
    for _ in range(_NEWTON_STEPS):
        argument = wall + slope * x
        x = x - (x + 2.0 * np.log10(argument)) / (1.0 + 2.0 / np.log(10.0) * slope / argument)
    factor: FloatArray = x**-2.0
    return factor


@overload
def darcy_head_m(
    flow_m3_s: float, diameter_m: float, length_m: float, roughness_m: float = ..., temperature_c: float = ...
) -> float: ...
@overload
def darcy_head_m(
    flow_m3_s: Quantity,
    diameter_m: Quantity,
    length_m: Quantity,
    roughness_m: Quantity = ...,
    temperature_c: Quantity = ...,
) -> Quantity: ...
def darcy_head_m(
    flow_m3_s: Quantity,
    diameter_m: Quantity,
    length_m: Quantity,
    roughness_m: Quantity = 1.5e-6,
    temperature_c: Quantity = 10.0,
) -> Quantity:
    """Friction head of a full pipe by Darcy and Weisbach.

    h = f · (L/D) · v²/(2g) with ``friction_factor``, in m from m³/s, m and °C. The default roughness is that of drawn
    plastic, the default temperature that of groundwater. Valid for clean water from 0 to 100 °C, laminar to turbulent.
    Source: Crane TP-410; roughness from a table of drawn tubing.

    30 gpm through 100 ft of 1.61 in pipe at 20 °C take 5.26 ft (1.60 m):

    >>> round(darcy_head_m(0.0018927, 0.040894, 30.48, temperature_c=20), 2)
    1.6
    """
    flow, diameter = not_negative("flow_m3_s", flow_m3_s), positive("diameter_m", diameter_m)
    length, roughness = not_negative("length_m", length_m), not_negative("roughness_m", roughness_m)
    warn(_roughness_cautions(roughness / diameter))
    viscosity = np.asarray(kinematic_viscosity_m2_s(temperature_c))
    return as_given(unchecked_darcy_head_m(flow, diameter, length, roughness, viscosity))


def unchecked_darcy_head_m(
    flow: FloatArray, diameter: FloatArray, length: FloatArray, roughness: FloatArray, viscosity_m2_s: FloatArray
) -> FloatArray:
    """``darcy_head_m`` without checks or cautions, for the inside of a loop over checked values."""
    velocity = _velocity(flow, diameter)
    reynolds = np.maximum(velocity * diameter / viscosity_m2_s, 1e-12)
    factor = _friction_factor(reynolds, roughness / diameter)
    head: FloatArray = factor * length / diameter * velocity**2 / (2.0 * GRAVITY_M_S2)
    return head


@overload
def minor_head_m(flow_m3_s: float, diameter_m: float, k_sum: float) -> float: ...
@overload
def minor_head_m(flow_m3_s: Quantity, diameter_m: Quantity, k_sum: Quantity) -> Quantity: ...
def minor_head_m(flow_m3_s: Quantity, diameter_m: Quantity, k_sum: Quantity) -> Quantity:
    """Head lost in fittings.

    h = ΣK · v²/(2g), in m from m³/s and m. ΣK adds every fitting and, for an open end, 1.0 for the exit. Tables differ
    by a factor of three for an elbow (0.6 Crane, 1.2 screwed), and a lift check may need 26: note which was used.
    Valid for turbulent flow. Source: Crane TP-410.

    >>> round(minor_head_m(0.0012618, 0.040894, 5.62), 3)
    0.264
    """
    flow, diameter = not_negative("flow_m3_s", flow_m3_s), positive("diameter_m", diameter_m)
    return as_given(unchecked_minor_head_m(flow, diameter, not_negative("k_sum", k_sum)))


def unchecked_minor_head_m(flow: FloatArray, diameter: FloatArray, k_sum: FloatArray) -> FloatArray:
    """``minor_head_m`` without checks, for the inside of a loop over checked values."""
    head: FloatArray = k_sum * _velocity(flow, diameter) ** 2 / (2.0 * GRAVITY_M_S2)
    return head
