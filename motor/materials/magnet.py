"""Permanent magnets with linear recoil: B = mu0 mu_rec H + Br along the magnetisation."""

from __future__ import annotations

import functools
from dataclasses import dataclass

from geometries.errors import InvalidInput
from motor.materials.tables import pick, read_table

__all__ = ["REFERENCE_TEMPERATURE", "Magnet", "magnet_named"]

REFERENCE_TEMPERATURE = 293.15
"""Temperature at which the tables hold, in kelvin (20 degC)."""


@dataclass(frozen=True)
class Magnet:
    """A magnet grade.

    Parameters
    ----------
    name : str
    remanence : float
        Br at 20 degC, tesla.
    recoil_permeability : float
        Relative permeability of the recoil line.
    temperature_coefficient : float
        Relative change of Br per kelvin.
    density : float
        kg/m^3.
    source : str
        Where the values come from.
    """

    name: str
    remanence: float
    recoil_permeability: float
    temperature_coefficient: float = 0.0
    density: float = 0.0
    source: str = ""

    def __post_init__(self) -> None:
        if not 0 < self.remanence < 3:
            raise InvalidInput(
                f"remanence of {self.name}", "lie between 0 and 3 T", f"{self.remanence} T"
            )
        if not 1 <= self.recoil_permeability < 20:
            raise InvalidInput(
                f"recoil_permeability of {self.name}",
                "lie between 1 and 20",
                self.recoil_permeability,
            )

        if not abs(self.temperature_coefficient) < 0.02:
            raise InvalidInput(
                f"temperature_coefficient of {self.name}",
                "lie within 0.02 per kelvin",
                self.temperature_coefficient,
            )

    def remanence_at(self, temperature: float) -> float:
        """Return Br in tesla at a temperature in kelvin (reversible part only)."""
        change = self.temperature_coefficient * (temperature - REFERENCE_TEMPERATURE)
        if change <= -1:
            raise InvalidInput(
                "temperature",
                f"leave magnet {self.name} some remanence",
                f"{temperature - 273.15:.0f} degC",
            )
        return self.remanence * (1 + change)


@functools.cache
def _magnets() -> dict[str, Magnet]:
    return {
        row["grade"]: Magnet(
            name=row["grade"],
            remanence=float(row["remanence_T"]),
            recoil_permeability=float(row["recoil_permeability"]),
            temperature_coefficient=float(row["temperature_coefficient"]),
            density=float(row["density_kg_m3"]),
            source=row["source"],
        )
        for row in read_table("magnets.csv")
    }


def magnet_named(name: str) -> Magnet:
    """Return a grade of the built-in table; InvalidInput with near names if unknown."""
    return pick(_magnets(), name, "magnet")
