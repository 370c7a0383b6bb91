"""Properties of fresh water at the pressures of a basement."""

from typing import Final, overload

import numpy as np

from contractor.engineering.inputs import FloatArray, Quantity, as_given, within

GRAVITY_M_S2: Final = 9.80665
SPECIFIC_HEAT_J_KG_K: Final = 4186.8  # 1 Btu/(lb·°F), as the frost formulas take it
LATENT_HEAT_J_KG: Final = 334_944.0  # 144 Btu/lb, as the frost formulas take it

# Kell (1975), equation 16: density at one atmosphere, kg/m³ from °C; highest power first.
_DENSITY_NUMERATOR: Final = (-280.54253e-12, 105.56302e-9, -46.170461e-6, -7.9870401e-3, 16.945176, 999.83952)
_DENSITY_DENOMINATOR: Final = (16.879850e-3, 1.0)


def _density(temperature: FloatArray) -> FloatArray:
    density: FloatArray = np.polyval(_DENSITY_NUMERATOR, temperature) / np.polyval(_DENSITY_DENOMINATOR, temperature)
    return density


@overload
def density_kg_m3(temperature_c: float) -> float: ...
@overload
def density_kg_m3(temperature_c: Quantity) -> Quantity: ...
def density_kg_m3(temperature_c: Quantity) -> Quantity:
    """Density of liquid water at one atmosphere.

    Rational polynomial of Kell; kg/m³ from °C. Valid from 0 to 100 °C; BadInput outside, where it is not liquid.
    Source: Kell (1975), equation 16.

    >>> round(density_kg_m3(20.0), 1)
    998.2
    """
    return as_given(_density(within("temperature_c", temperature_c, 0.0, 100.0)))


@overload
def kinematic_viscosity_m2_s(temperature_c: float) -> float: ...
@overload
def kinematic_viscosity_m2_s(temperature_c: Quantity) -> Quantity: ...
def kinematic_viscosity_m2_s(temperature_c: Quantity) -> Quantity:
    """Kinematic viscosity of liquid water.

    ν = μ/ρ with μ = 0.001 · (T + 246) / ((0.05594·T + 5.2842)·T + 137.37) Pa·s; m²/s from °C. Valid from 0 to 100 °C;
    BadInput outside. Source: viscosity, Laliberté (2007), equation 11; density, Kell (1975).

    >>> round(kinematic_viscosity_m2_s(10.0) * 1e6, 3)
    1.308
    """
    temperature = within("temperature_c", temperature_c, 0.0, 100.0)
    dynamic = 0.001 * (temperature + 246.0) / ((0.05594 * temperature + 5.2842) * temperature + 137.37)
    return as_given(dynamic / _density(temperature))
