"""Heat from warm surfaces to still air: published correlations, radiation, properties of air."""

from __future__ import annotations

import math
from dataclasses import dataclass

from motor.base.constants import ZERO_CELSIUS

__all__ = [
    "STEFAN_BOLTZMANN",
    "Air",
    "air_at",
    "horizontal_cylinder",
    "horizontal_plate",
    "radiation",
    "sphere",
    "vertical_plate",
]

STEFAN_BOLTZMANN = 5.670374e-8
"""W/(m^2 K^4) (CODATA)."""
GRAVITY = 9.80665
PRESSURE = 101325.0


@dataclass(frozen=True)
class Air:
    """Dry air at one temperature and 1013 hPa.

    Parameters
    ----------
    conductivity : float
        W/(m K).
    viscosity : float
        Kinematic, m^2/s.
    prandtl : float
    expansion : float
        1/K.
    """

    conductivity: float
    viscosity: float
    prandtl: float
    expansion: float

    def rayleigh(self, rise: float, length: float) -> float:
        """Return the Rayleigh number of a rise in K over a length in m."""
        product = GRAVITY * self.expansion * abs(rise) * length**3
        return product * self.prandtl / self.viscosity**2


def air_at(temperature: float) -> Air:
    """Return dry air at a temperature in K.

    Sutherland's formulas with the constants of F. M. White, Viscous Fluid Flow (from memory);
    within 2 % of tables from 230 to 500 K.
    """
    t = temperature
    conductivity = 0.0241 * (t / ZERO_CELSIUS) ** 1.5 * (ZERO_CELSIUS + 194) / (t + 194)
    dynamic = 1.716e-5 * (t / ZERO_CELSIUS) ** 1.5 * (ZERO_CELSIUS + 111) / (t + 111)
    density = PRESSURE / (287.05 * t)
    return Air(conductivity, dynamic / density, dynamic * 1007.0 / conductivity, 1 / t)


def vertical_plate(prandtl: float, rayleigh: float) -> float:
    """Return the mean Nusselt number of a vertical plate, over its height.

    S. W. Churchill and H. H. S. Chu, Int. J. Heat Mass Transfer 18 (1975) 1323, all Ra.
    """
    shape = (1 + (0.492 / prandtl) ** (9 / 16)) ** (8 / 27)
    return float((0.825 + 0.387 * rayleigh ** (1 / 6) / shape) ** 2)


def horizontal_cylinder(prandtl: float, rayleigh: float) -> float:
    """Return the mean Nusselt number of a horizontal cylinder, over its diameter.

    S. W. Churchill and H. H. S. Chu, Int. J. Heat Mass Transfer 18 (1975) 1049, Ra < 1e12.
    """
    shape = (1 + (0.559 / prandtl) ** (9 / 16)) ** (8 / 27)
    return float((0.60 + 0.387 * rayleigh ** (1 / 6) / shape) ** 2)


def sphere(prandtl: float, rayleigh: float) -> float:
    """Return the mean Nusselt number of a sphere, over its diameter.

    S. W. Churchill (1983), as in handbooks, for Ra < 1e11; 2 where nothing flows.
    """
    shape = (1 + (0.469 / prandtl) ** (9 / 16)) ** (4 / 9)
    return float(2 + 0.589 * rayleigh**0.25 / shape)


def horizontal_plate(rayleigh: float, *, warm_above: bool) -> float:
    """Return the mean Nusselt number of a warm horizontal plate, over area by perimeter.

    W. H. McAdams, Heat Transmission (1954), with the length of J. R. Lloyd and W. R. Moran,
    J. Heat Transfer 96 (1974) 443: 0.54 Ra^(1/4) to 1e7, then 0.15 Ra^(1/3); 0.27 Ra^(1/4)
    where the warm side faces down.
    """
    if not warm_above:
        return float(0.27 * rayleigh**0.25)
    return float(0.54 * rayleigh**0.25) if rayleigh < 1e7 else 0.15 * math.cbrt(rayleigh)


def radiation(emissivity: float, surface: float, surroundings: float) -> float:
    """Return the coefficient in W/(m^2 K) between a grey surface and what surrounds it, K."""
    pair = (surface**2 + surroundings**2) * (surface + surroundings)
    return emissivity * STEFAN_BOLTZMANN * pair
