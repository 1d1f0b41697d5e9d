"""Materials of voice-coil formers."""

from __future__ import annotations

import functools
from dataclasses import dataclass

from motor.base.constants import ZERO_CELSIUS
from motor.base.names import pick
from motor.materials.tables import read_table

__all__ = ["Former", "former_named", "former_names"]


@dataclass(frozen=True)
class Former:
    """A former material.

    Parameters
    ----------
    name : str
    density : float
        kg/m^3.
    conductivity : float
        S/m; 0 for an insulator.
    hottest : float
        Kelvin.
    price : float
        Per kilogram.
    source : str
    """

    name: str
    density: float
    conductivity: float
    hottest: float
    price: float
    source: str


@functools.cache
def _formers() -> dict[str, Former]:
    return {
        row["name"]: Former(
            name=row["name"],
            density=float(row["density_kg_m3"]),
            conductivity=float(row["conductivity_S_m"]),
            hottest=float(row["hottest_degC"]) + ZERO_CELSIUS,
            price=float(row["price_per_kg"]),
            source=row["source"],
        )
        for row in read_table("formers.csv")
    }


def former_named(name: str) -> Former:
    """Return a former of the built-in table; InvalidInput with near names if unknown."""
    return pick(_formers(), name, "former_material")


def former_names() -> list[str]:
    """Return all former materials of the built-in table."""
    return list(_formers())
