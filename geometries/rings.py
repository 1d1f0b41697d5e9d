"""Conducting sleeves, caps and rings: they carry no current at rest, but they take up space."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Sequence
from dataclasses import dataclass

from geometries.contract import LARGEST, length, needs
from geometries.errors import InvalidInput, millimetres
from geometries.outlines import rectangle
from geometries.regions import Point, Region, Role

__all__ = ["Ring", "ring_regions"]


@dataclass(frozen=True, kw_only=True)
class Ring:
    """A conducting sleeve or ring, optionally closed over the top to a cap.

    ::

        |   cover            |
        |  +-----------+     |     z
        |  +--------+  |     |     ^
        |           |  | sleeve    |
        |           |  |     |     +--> r
        |           +--+ bottom

    Parameters
    ----------
    name : str
        Region name, e.g. "copper_cap".
    inner_diameter, outer_diameter : float
        Diameters of the sleeve in metres.
    bottom : float
        Height of its lower end above the middle of the gap, in metres (negative below).
    height : float
        Axial length of the sleeve, in metres.
    cover : float
        Thickness of a disc on top that closes the sleeve inwards; 0 for an open sleeve.
    cover_inner_diameter : float
        Bore of that disc in metres.
    material : str
        Name of a conductor.
    """

    name: str
    inner_diameter: float = length("inner diameter of the sleeve")
    outer_diameter: float = length("outer diameter of the sleeve")
    bottom: float = length("its lower end above the middle of the gap (negative: below)")
    height: float = length("axial length of the sleeve")
    cover: float = length("thickness of a disc that closes it on top", default=0.0, zero=True)
    cover_inner_diameter: float = length("bore of that disc", default=0.0, zero=True)
    material: str = "copper"

    def __post_init__(self) -> None:
        for field in dataclasses.fields(self):
            value = getattr(self, field.name)
            if field.metadata.get("quantity") != "length":
                continue
            if isinstance(value, bool) or not isinstance(value, int | float):
                raise InvalidInput(
                    f"{self.name}.{field.name}", "be a length in metres", repr(value)
                )
            if not math.isfinite(value) or abs(value) > LARGEST:
                raise InvalidInput(
                    f"{self.name}.{field.name}", f"be within {millimetres(LARGEST)}", value
                )
            if field.name != "bottom" and value < 0:
                raise InvalidInput(f"{self.name}.{field.name}", "be 0 or more", millimetres(value))
        if not self.outer_diameter > self.inner_diameter:
            raise InvalidInput(
                f"{self.name}.outer_diameter",
                f"be greater than inner_diameter, {millimetres(self.inner_diameter)}",
                millimetres(self.outer_diameter),
            )
        if not self.height > 0:
            raise InvalidInput(
                f"{self.name}.height", "be greater than 0 mm", millimetres(self.height)
            )
        needs(self, "cover_inner_diameter", "cover")
        if self.cover > 0 and not self.cover_inner_diameter < self.inner_diameter:
            raise InvalidInput(
                f"{self.name}.cover_inner_diameter",
                f"be smaller than inner_diameter, {millimetres(self.inner_diameter)}",
                millimetres(self.cover_inner_diameter),
            )

    def outline(self) -> list[Point]:
        """Return the outline in metres."""
        inner, outer = self.inner_diameter / 2, self.outer_diameter / 2
        top = self.bottom + self.height
        if self.cover == 0:
            return rectangle(inner, outer, self.bottom, top)
        bore = self.cover_inner_diameter / 2
        return [
            (inner, self.bottom),
            (outer, self.bottom),
            (outer, top + self.cover),
            (bore, top + self.cover),
            (bore, top),
            (inner, top),
        ]


def ring_regions(rings: Sequence[Ring]) -> list[Region]:
    """Return the rings as regions."""
    return [
        Region(ring.name, Role.CONDUCTOR, tuple(ring.outline()), material=ring.material)
        for ring in rings
    ]
