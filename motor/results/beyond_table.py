"""Steel whose flux density passes the last row of its table, and what that leaves open."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass

from motor.design.design import Design, Materials
from motor.materials import TabulatedSteel
from motor.results.budget import SteelLoad

__all__ = ["BeyondTable", "beyond_tables", "material_uncertainty", "other_ends"]

FLOOR = 1e-4
"""Share of a figure for the curve's bend before its last row, which hangs on what follows it."""


@dataclass(frozen=True)
class BeyondTable:
    """A steel part that works beyond the rows its steel was measured at.

    Parameters
    ----------
    region, steel : str
    peak, last_row : float
        Peak flux density of the part and the greatest of the table, tesla.
    """

    region: str
    steel: str
    peak: float
    last_row: float

    def words(self) -> str:
        """Return it as a sentence without an end."""
        return (
            f"{self.region.replace('_', ' ')} at {self.peak:.3g} T passes the last row of "
            f"{self.steel}, {self.last_row:.3g} T"
        )


def beyond_tables(materials: Materials, loads: Sequence[SteelLoad]) -> list[BeyondTable]:
    """Return the parts whose peak flux density passes the last row of their steel's table."""
    found = []
    for load in loads:
        steel = materials.steel_of(load.region)
        if isinstance(steel, TabulatedSteel) and load.peak.value > steel.flux_density[-1]:
            last = float(steel.flux_density[-1])
            found.append(BeyondTable(load.region, steel.name, load.peak.value, last))
    return found


def other_ends(design: Design, beyond: Sequence[BeyondTable]) -> tuple[Design, Design]:
    """Return the design with less and with more saturation in all parts beyond their tables."""
    ways: tuple[dict[str, TabulatedSteel], dict[str, TabulatedSteel]] = ({}, {})
    for part in beyond:
        steel = design.materials.steel_of(part.region)
        assert isinstance(steel, TabulatedSteel)
        for way, other in zip(ways, steel.tails(), strict=True):
            way[part.region] = other
    less, more = (
        design.replace(
            materials=dataclasses.replace(design.materials, parts={**design.materials.parts, **way})
        )
        for way in ways
    )
    return less, more


def material_uncertainty(middle: float, ends: Sequence[float]) -> float:
    """Return how far a figure goes, in its unit, when steel beyond its table saturates elsewhere.

    Parameters
    ----------
    middle : float
        The figure of the design, on one mesh.
    ends : sequence of float
        Of its other ends, each on one mesh.
    """
    return max(abs(end - middle) for end in ends) + FLOOR * abs(middle)
