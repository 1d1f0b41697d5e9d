"""What a drawing or a solid model shows: the motor's parts and the coil at rest."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from geometries import Point, Role

if TYPE_CHECKING:
    from motor.design.design import Design

__all__ = ["Body", "bodies_of"]


@dataclass(frozen=True)
class Body:
    """One part in the r-z half plane.

    Parameters
    ----------
    name : str
        Of the region; the coil's own bear a hyphen, which no region's name can.
    outline : tuple of (r, z)
        Metres.
    role : Role or None
        None for the coil.
    """

    name: str
    outline: tuple[Point, ...]
    role: Role | None


def bodies_of(design: Design) -> tuple[Body, ...]:
    """Return the parts of a design, then ``coil-winding`` and ``coil-former`` at rest.

    The former is as long as the design says: where it gives no length above the winding, the
    former ends with the winding.
    """
    parts = [Body(region.name, region.outline, region.role) for region in design.regions]
    coil = [Body(f"coil-{name}", tuple(points), None) for name, points in design.coil.outlines()]
    return (*parts, *coil)
