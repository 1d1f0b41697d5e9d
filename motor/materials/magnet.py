"""Permanent magnets: remanence, recoil, coercivity and knee, at any temperature."""

from __future__ import annotations

import dataclasses
import functools
import math
from dataclasses import dataclass

import numpy as np

from geometries.errors import InvalidInput
from motor.base.arrays import Floats
from motor.base.constants import MU0, ZERO_CELSIUS
from motor.base.drawable import Drawable
from motor.base.names import pick
from motor.materials.tables import read_table

__all__ = [
    "REFERENCE_TEMPERATURE",
    "DemagnetisationCurve",
    "Magnet",
    "magnet_named",
    "magnet_names",
]

REFERENCE_TEMPERATURE = 293.15
"""Temperature at which the tables hold, in kelvin (20 degC)."""
KNEE_LOSS = 0.01
"""At the knee a magnet loses this share of its remanence for good."""


@dataclass(frozen=True)
class DemagnetisationCurve:
    """Second quadrant of a magnet at one temperature, as polarisation over field strength.

        J(H) = (Br + chi mu0 H) (1 - (|H| / HcJ)^n),      chi = mu_rec - 1,   -HcJ <= H <= 0

    Straight with the recoil slope at first, falling to 0 at the intrinsic coercivity HcJ; n is
    such that J is 0.9 Br at Hk = squareness HcJ.  The form is this project's choice; its three
    parameters are those that data sheets give.

    Parameters
    ----------
    remanence : float
        Br, tesla.
    intrinsic_coercivity : float
        HcJ, A/m, positive.
    recoil_permeability : float
    squareness : float
        Hk / HcJ, between 0 and 1.
    """

    remanence: float
    intrinsic_coercivity: float
    recoil_permeability: float
    squareness: float

    @functools.cached_property
    def exponent(self) -> float:
        """The exponent n, between 1.5 and 100."""
        slope = (self.recoil_permeability - 1) * MU0
        straight = 1 - slope * self.squareness * self.intrinsic_coercivity / self.remanence
        share = 1 - 0.9 / straight if straight > 0.9 else 0.01
        n = math.log(max(share, 1e-6)) / math.log(min(self.squareness, 0.999))
        return min(max(n, 1.5), 100.0)

    def loss(self, field: Floats) -> Floats:
        """Return the share of remanence lost for good after field strengths (A/m, negative).

        What is left is where the recoil line through (H, J(H)) meets H = 0.
        """
        h = np.clip(-np.asarray(field, float), 0.0, self.intrinsic_coercivity)
        straight = 1 - (self.recoil_permeability - 1) * MU0 * h / self.remanence
        return np.asarray(straight * (h / self.intrinsic_coercivity) ** self.exponent)

    def polarisation(self, field: Floats) -> Floats:
        """Return J in tesla at field strengths (A/m); straight for positive ones."""
        field = np.asarray(field, float)
        straight = self.remanence + (self.recoil_permeability - 1) * MU0 * field
        return np.asarray(straight - self.remanence * self.loss(field))

    def flux_density(self, field: Floats) -> Floats:
        """Return B in tesla at field strengths (A/m)."""
        return np.asarray(self.polarisation(field) + MU0 * np.asarray(field, float))

    @functools.cached_property
    def knee(self) -> float:
        """Field strength (A/m, negative) that costs KNEE_LOSS of the remanence."""
        h = np.linspace(0.0, -self.intrinsic_coercivity, 4001)
        return float(np.interp(KNEE_LOSS, self.loss(h), h))

    @functools.cached_property
    def energy_product(self) -> float:
        """Largest -B H in J/m^3."""
        h = np.linspace(0.0, -self.intrinsic_coercivity, 4001)
        return float((-h * self.flux_density(h)).max())

    @functools.cached_property
    def coercivity(self) -> float:
        """HcB, where B is 0, in A/m (positive)."""
        h = np.linspace(-self.intrinsic_coercivity, 0.0, 8001)
        return float(-np.interp(0.0, self.flux_density(h), h))

    def field_at(self, flux_density: Floats) -> Floats:
        """Return H in A/m at flux densities in tesla (B rises with H)."""
        return np.interp(flux_density, *self._points)

    @functools.cached_property
    def _points(self) -> tuple[Floats, Floats]:
        """B in tesla and H in A/m along the curve, close where it bends, straight beyond H = 0."""
        bend = np.linspace(-1.2 * self.intrinsic_coercivity, 0.0, 12001)
        h = np.append(bend, self.remanence / MU0)
        return self.flux_density(h), h

    def left_at(self, flux_density: Floats) -> Floats:
        """Return the share of remanence left where the curve has been taken to B in tesla.

        That of the recoil line through the point; it rises with B by less than B over the
        remanence, however steep the curve.
        """
        line = self.recoil_permeability * MU0 * self.field_at(flux_density)
        return np.clip((flux_density - line) / self.remanence, 0.0, 1.0)


@dataclass(frozen=True)
class Magnet(Drawable):
    """A magnet grade.  Coefficients are relative changes per kelvin from 20 degC.

    Parameters
    ----------
    name : str
    remanence : float
        Br at 20 degC, tesla.
    recoil_permeability : float
        Relative permeability of the recoil line.
    temperature_coefficient, temperature_coefficient_2 : float
        First and second order, of Br.
    intrinsic_coercivity : float or None
        HcJ at 20 degC, A/m; None if unknown: no statement on demagnetisation is then made.
    coercivity_coefficient, coercivity_coefficient_2 : float
        First and second order, of HcJ.
    squareness : float
        Hk / HcJ.
    coldest, hottest : float
        Range of the published coefficients or of use, kelvin.
    curie : float
        Curie temperature, kelvin.
    density : float
        kg/m^3.
    conductivity : float
        S/m at 20 degC; 0 for an insulator.
    price : float
        Per kilogram, in whatever currency the table uses.
    remanence_min, intrinsic_coercivity_min : float or None
        Least values of the grade, tesla and A/m.
    energy_product_band : (low, high)
        Published largest energy product, J/m^3; (0, 0) if not given.
    family : str
    source : str
        Where the values come from.
    """

    name: str
    remanence: float
    recoil_permeability: float
    temperature_coefficient: float = 0.0
    density: float = 0.0
    source: str = ""
    temperature_coefficient_2: float = 0.0
    intrinsic_coercivity: float | None = None
    coercivity_coefficient: float = 0.0
    coercivity_coefficient_2: float = 0.0
    squareness: float = 0.9
    coldest: float = 0.0
    hottest: float = math.inf
    curie: float = math.inf
    conductivity: float = 0.0
    price: float = 0.0
    remanence_min: float | None = None
    intrinsic_coercivity_min: float | None = None
    energy_product_band: tuple[float, float] = (0.0, 0.0)
    family: str = "own"

    def __post_init__(self) -> None:
        limits = {
            "remanence": (0.01, 3.0, "T"),
            "recoil_permeability": (1.0, 20.0, ""),
            "temperature_coefficient": (-0.02, 0.02, "1/K"),
            "coercivity_coefficient": (-0.02, 0.02, "1/K"),
            "temperature_coefficient_2": (-1e-4, 1e-4, "1/K^2"),
            "coercivity_coefficient_2": (-1e-4, 1e-4, "1/K^2"),
            "squareness": (0.05, 0.999, ""),
            "intrinsic_coercivity": (1e3, 1e7, "A/m"),
            "conductivity": (0.0, 1e8, "S/m"),
            "remanence_min": (0.01, 3.0, "T"),
            "intrinsic_coercivity_min": (1e3, 1e7, "A/m"),
        }
        for field, (low, high, unit) in limits.items():
            value = getattr(self, field)
            if value is not None and not low <= value <= high:
                raise InvalidInput(
                    f"{field} of {self.name}",
                    f"lie between {low:g} and {high:g} {unit}".rstrip(),
                    f"{value} {unit}".rstrip(),
                )
        for field in ("density", "price"):
            value = getattr(self, field)
            if not (math.isfinite(value) and value >= 0) or (self.family != "own" and value == 0):
                raise InvalidInput(f"{field} of {self.name}", "be greater than 0", value)

    def _check_temperature(self, temperature: float) -> None:
        if temperature >= self.curie:
            raise InvalidInput(
                "temperature",
                f"stay below {self.curie - ZERO_CELSIUS:.0f} degC, the Curie temperature "
                f"of magnet {self.name}",
                f"{temperature - ZERO_CELSIUS:.4g} degC",
            )

    def remanence_at(self, temperature: float) -> float:
        """Return Br in tesla at a temperature in kelvin (reversible part only)."""
        self._check_temperature(temperature)
        rise = temperature - REFERENCE_TEMPERATURE
        share = 1 + self.temperature_coefficient * rise + self.temperature_coefficient_2 * rise**2
        if share <= 0.01:
            raise InvalidInput(
                "temperature",
                f"leave magnet {self.name} some remanence",
                f"{temperature - ZERO_CELSIUS:.0f} degC",
            )
        return self.remanence * share

    def curve_at(self, temperature: float) -> DemagnetisationCurve | None:
        """Return the second quadrant at a temperature in kelvin; None if HcJ is unknown."""
        if self.intrinsic_coercivity is None:
            return None
        remanence = self.remanence_at(temperature)
        rise = temperature - REFERENCE_TEMPERATURE
        share = 1 + self.coercivity_coefficient * rise + self.coercivity_coefficient_2 * rise**2
        coercivity = self.intrinsic_coercivity * max(share, 0.01)
        return DemagnetisationCurve(
            remanence, coercivity, self.recoil_permeability, self.squareness
        )

    def range_note(self, temperature: float) -> str:
        """Return a warning if a temperature in kelvin is outside the published range, else ''."""
        if self.coldest <= temperature <= self.hottest:
            return ""
        return (
            f"magnet {self.name} at {temperature - ZERO_CELSIUS:.0f} degC is outside its "
            f"published range, {self.coldest - ZERO_CELSIUS:.0f} to "
            f"{self.hottest - ZERO_CELSIUS:.0f} degC"
        )

    def least(self) -> Magnet:
        """Return the grade with its least remanence and coercivity."""
        return dataclasses.replace(
            self,
            remanence=self.remanence_min or self.remanence,
            intrinsic_coercivity=self.intrinsic_coercivity_min or self.intrinsic_coercivity,
        )

    def worst(self) -> Magnet:
        """Return the grade with the pair that loses remanence first: most Br, least HcJ.

        The greatest remanence is taken as far above the typical one as the least is below: the
        tables print no greatest values.
        """
        above = self.remanence - (self.remanence_min or self.remanence)
        return dataclasses.replace(
            self,
            remanence=self.remanence + above,
            intrinsic_coercivity=self.intrinsic_coercivity_min or self.intrinsic_coercivity,
        )


@functools.cache
def _magnets() -> dict[str, Magnet]:
    families = {row["family"]: row for row in read_table("magnet_families.csv")}
    return {
        row["grade"]: _from_row({**families[row["family"]], **row})
        for row in read_table("magnet_grades.csv")
    }


def _from_row(row: dict[str, str]) -> Magnet:
    def number(column: str, scale: float = 1.0) -> float:
        return float(row[column]) * scale

    def kelvin(column: str) -> float:
        return round(number(column) + ZERO_CELSIUS, 6)  # what the file says, read back

    return Magnet(
        name=row["grade"],
        family=row["family"],
        remanence=number("remanence_T"),
        remanence_min=number("remanence_min_T"),
        recoil_permeability=number("recoil_permeability"),
        temperature_coefficient=number("remanence_per_K"),
        temperature_coefficient_2=number("remanence_per_K2"),
        intrinsic_coercivity=number("intrinsic_coercivity_kA_m", 1e3),
        intrinsic_coercivity_min=number("intrinsic_coercivity_min_kA_m", 1e3),
        coercivity_coefficient=number("coercivity_per_K"),
        coercivity_coefficient_2=number("coercivity_per_K2"),
        squareness=number("squareness"),
        coldest=kelvin("coldest_degC"),
        hottest=kelvin("hottest_degC"),
        curie=kelvin("curie_degC"),
        density=number("density_kg_m3"),
        conductivity=number("conductivity_S_m"),
        price=number("price_per_kg"),
        energy_product_band=(
            number("energy_product_min_kJ_m3", 1e3),
            number("energy_product_max_kJ_m3", 1e3),
        ),
        source=row["source"],
    )


def magnet_named(name: str) -> Magnet:
    """Return a grade of the built-in table; InvalidInput with near names if unknown."""
    return pick(_magnets(), name, "magnet")


def magnet_names() -> list[str]:
    """Return all grades of the built-in table."""
    return list(_magnets())
