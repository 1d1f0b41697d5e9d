"""Conductors for windings and rings."""

from __future__ import annotations

import functools
from dataclasses import dataclass

from motor.base.names import pick
from motor.materials.magnet import REFERENCE_TEMPERATURE
from motor.materials.tables import read_table

__all__ = ["Conductor", "conductor_named", "conductor_names"]


@dataclass(frozen=True)
class Conductor:
    """A conductor material.

    Parameters
    ----------
    name : str
    resistivity : float
        At 20 degC, ohm m.
    temperature_coefficient : float
        Relative change of the resistivity per kelvin, referred to 20 degC.
    density : float
        kg/m^3.
    source : str
    price : float
        Per kilogram.
    """

    name: str
    resistivity: float
    temperature_coefficient: float
    density: float
    source: str = ""
    price: float = 0.0

    def resistivity_at(self, temperature: float) -> float:
        """Return the resistivity in ohm m at a temperature in kelvin."""
        rise = temperature - REFERENCE_TEMPERATURE
        return self.resistivity * (1 + self.temperature_coefficient * rise)


@functools.cache
def _conductors() -> dict[str, Conductor]:
    return {
        row["name"]: Conductor(
            name=row["name"],
            resistivity=float(row["resistivity_ohm_m"]),
            temperature_coefficient=float(row["temperature_coefficient"]),
            density=float(row["density_kg_m3"]),
            source=row["source"],
            price=float(row["price_per_kg"]),
        )
        for row in read_table("conductor_grades.csv")
    }


def conductor_names() -> list[str]:
    """Return all conductors of the built-in table."""
    return list(_conductors())


def conductor_named(name: str) -> Conductor:
    """Return a conductor of the built-in table; InvalidInput with near names if unknown."""
    return pick(_conductors(), name, "conductor")
