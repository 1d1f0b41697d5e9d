"""How materials conduct, store and radiate heat."""

from __future__ import annotations

import functools
from dataclasses import dataclass

from motor.base.names import pick
from motor.materials.conductor import Conductor
from motor.materials.former import Former
from motor.materials.magnet import Magnet
from motor.materials.tables import read_table

__all__ = ["Thermal", "thermal_named", "thermal_of"]


@dataclass(frozen=True)
class Thermal:
    """A material's thermal values.

    Parameters
    ----------
    name : str
    conductivity : float
        W/(m K) at 20 degC.
    capacity : float
        J/(kg K) at 20 degC.
    conductivity_slope, capacity_slope : float
        By what share they change per kelvin, 1/K.
    spread : float
        Factor by which conductivities of makes and grades may differ either way.
    emissivity : float
        Of its usual surface.
    source : str
    """

    name: str
    conductivity: float
    capacity: float
    conductivity_slope: float
    capacity_slope: float
    spread: float
    emissivity: float
    source: str


@functools.cache
def _table() -> dict[str, Thermal]:
    return {
        row["name"]: Thermal(
            name=row["name"],
            conductivity=float(row["conductivity_W_mK"]),
            capacity=float(row["capacity_J_kgK"]),
            conductivity_slope=float(row["conductivity_per_K"]),
            capacity_slope=float(row["capacity_per_K"]),
            spread=float(row["spread"]),
            emissivity=float(row["emissivity"]),
            source=row["source"],
        )
        for row in read_table("thermal.csv")
    }


def thermal_named(name: str) -> Thermal:
    """Return a row of the table; InvalidInput with near names if unknown."""
    return pick(_table(), name, "material")


def thermal_of(material: object) -> Thermal:
    """Return the thermal values of a magnet (by family), conductor, former, or any steel."""
    if isinstance(material, Magnet):
        return _table().get(material.family) or thermal_named("own")
    if isinstance(material, Conductor | Former):
        return thermal_named(material.name)
    return thermal_named("steel")
