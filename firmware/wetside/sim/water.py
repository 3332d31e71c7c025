"""Properties of liquid water at atmospheric pressure, as short correlations.

All take a temperature in degrees Celsius, meant for 0 to 70, and return SI units. The tests
compare them with IAPWS-95 and with CoolProp.
"""

from __future__ import annotations

import math

#: Heat held by one litre of water for each degree, J/(L K): 998.2 kg/m3 x 4184 J/(kg K), 20 C.
HEAT_PER_LITRE = 4176.5
#: Heat that melts one kilogram of ice, J/kg (OpenStax, College Physics, Phase Change).
MELTING_HEAT = 334_000.0


def density(celsius: float) -> float:
    """Density in kg/m3 (Kell, J. Chem. Eng. Data 20 (1975) 97)."""
    return _mass(celsius) / (1.0 + 16.879850e-3 * celsius)


def _mass(celsius: float) -> float:
    return 999.83952 + celsius * (
        16.945176
        + celsius
        * (
            -7.9870401e-3
            + celsius * (-46.170461e-6 + celsius * (105.56302e-9 - 280.54253e-12 * celsius))
        )
    )


def expansion(celsius: float) -> float:
    """Thermal expansion coefficient in 1/K, below zero under 4 C (derivative of Kell's density)."""
    slope = 16.945176 + celsius * (
        -15.9740802e-3
        + celsius * (-138.511383e-6 + celsius * (422.25208e-9 - 1402.71265e-12 * celsius))
    )
    return 16.879850e-3 / (1.0 + 16.879850e-3 * celsius) - slope / _mass(celsius)


def heat_capacity(celsius: float) -> float:
    """Specific heat in J/(kg K) (own polynomial through tabulated values, within 0.05 %)."""
    return 4218.71 + celsius * (
        -3.11751 + celsius * (8.87655e-2 + celsius * (-1.107333e-3 + celsius * 5.61401e-6))
    )


def conductivity(celsius: float) -> float:
    """Thermal conductivity in W/(m K) (own polynomial through tabulated values, within 0.1 %)."""
    return 0.55606 + celsius * (2.43168e-3 + celsius * (-1.808365e-5 + celsius * 6.50335e-8))


def viscosity(celsius: float) -> float:
    """Dynamic viscosity in Pa s (CRC Handbook's formula for 20 to 100 C; 1 % low at 0 C)."""
    below = 20.0 - celsius
    return 1.002e-3 * math.pow(10.0, (1.3272 * below - 1.053e-3 * below**2) / (celsius + 105.0))


def vapour_pressure(celsius: float) -> float:
    """Saturation pressure over water in Pa (Magnus formula, WMO coefficients)."""
    return 611.2 * math.exp(17.62 * celsius / (243.12 + celsius))
