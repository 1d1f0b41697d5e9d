"""The parts of a motor in the half plane: named outlines with a role, and the gap between them.

Cylindrical half plane, r to the right, z up and out of the box towards the listener, z = 0 in the
middle of the gap.  All lengths in metres, all outlines in (r, z).
"""

from __future__ import annotations

import enum
import math
import re
from collections.abc import Sequence
from dataclasses import dataclass

from geometries.errors import InvalidInput, millimetres

__all__ = [
    "AXIAL_DOWN",
    "AXIAL_UP",
    "RADIAL_IN",
    "RADIAL_OUT",
    "Gap",
    "Point",
    "Region",
    "Role",
]

Point = tuple[float, float]

AXIAL_UP: Point = (0.0, 1.0)
AXIAL_DOWN: Point = (0.0, -1.0)
RADIAL_OUT: Point = (1.0, 0.0)
RADIAL_IN: Point = (-1.0, 0.0)

GRID_DIGITS = 9
"""Outlines are rounded to 1e-9 m, so that faces drawn to touch really coincide."""


class Role(enum.StrEnum):
    """What a region does in the magnetic circuit."""

    MAGNET = "magnet"
    STEEL = "steel"
    CONDUCTOR = "conductor"


def _on_grid(points: Sequence[Point]) -> list[Point]:
    return [(round(float(r), GRID_DIGITS), round(float(z), GRID_DIGITS)) for r, z in points]


def _clean_outline(outline: Sequence[Point], kept: Sequence[Point]) -> tuple[Point, ...]:
    """Return the outline on the grid, without repeated points, and collinear ones but the kept."""
    grid, stay = _on_grid(outline), set(_on_grid(kept))
    points = [p for i, p in enumerate(grid) if p != grid[i - 1]]
    changed = True
    while changed and len(points) >= 3:
        changed = False
        for i, (r, z) in enumerate(points):
            (r0, z0), (r1, z1) = points[i - 1], points[(i + 1) % len(points)]
            cross = (r - r0) * (z1 - z) - (z - z0) * (r1 - r)
            size = math.hypot(r - r0, z - z0) * math.hypot(r1 - r, z1 - z)
            if abs(cross) <= 1e-9 * size and (r, z) not in stay:
                del points[i]
                changed = True
                break
    return tuple(points)


@dataclass(frozen=True)
class Region:
    """One part of the motor in the r-z half plane.

    Parameters
    ----------
    name : str
        Lower-case identifier, the one key that ties outline, role, material and mesh size.
    role : Role
        Magnet, steel or conductor.  Air is whatever no region covers.
    outline : sequence of (r, z)
        Closed polygon in metres; the last point joins the first.  Repeated and collinear
        points are dropped.
    magnetisation : (r, z) or None
        Direction of the magnetisation, needed for a magnet, none otherwise; scaled to length 1.
    material : str or None
        Material of a conductor, e.g. "copper".  Magnets and steel get theirs from the design.
    kept : sequence of (r, z)
        Points of the outline that stay in it although it runs straight through them, so that
        they can be moved.
    """

    name: str
    role: Role
    outline: tuple[Point, ...]
    magnetisation: Point | None = None
    material: str | None = None
    kept: tuple[Point, ...] = ()

    def __post_init__(self) -> None:
        if not re.fullmatch(r"[a-z][a-z0-9_]*", self.name) or self.name == "air":
            raise InvalidInput(
                "region name", "be a lower-case identifier other than 'air'", repr(self.name)
            )
        if not all(math.isfinite(c) for p in self.outline for c in p):
            raise InvalidInput(f"{self.name} outline", "consist of finite numbers", self.outline)
        points = _clean_outline(self.outline, self.kept)
        if len(points) < 3:
            raise InvalidInput(
                self.name, "have a thickness in both directions", f"the outline {list(points)}"
            )
        if min(r for r, _ in points) < 0:
            raise InvalidInput(
                self.name, "stay at radii of 0 or more", millimetres(min(r for r, _ in points))
            )
        object.__setattr__(self, "outline", points)
        if (self.role is Role.MAGNET) != (self.magnetisation is not None):
            raise InvalidInput(
                f"magnetisation of {self.name}",
                "be given for a magnet and only for a magnet",
                f"{self.magnetisation} for the role {self.role}",
            )
        if self.magnetisation is not None:
            size = math.hypot(*self.magnetisation)
            if not size > 0:
                raise InvalidInput(
                    f"magnetisation of {self.name}", "have a direction", self.magnetisation
                )
            mr, mz = self.magnetisation
            object.__setattr__(self, "magnetisation", (mr / size, mz / size))


@dataclass(frozen=True)
class Gap:
    """The air gap between steel and steel, before any sleeve narrows it.  Metres.

    Rounded to the same grid as the outlines.  A motor with several gaps has one in whose middle
    z = 0 lies, and ``further`` ones.
    """

    inner_radius: float
    outer_radius: float
    bottom: float
    top: float
    further: tuple[Gap, ...] = ()

    def __post_init__(self) -> None:
        for name in ("inner_radius", "outer_radius", "bottom", "top"):
            object.__setattr__(self, name, round(float(getattr(self, name)), GRID_DIGITS))

    @property
    def all(self) -> tuple[Gap, ...]:
        """The gap itself and the further ones."""
        return (self, *self.further)

    @property
    def middle(self) -> float:
        """Height of the gap's middle in metres."""
        return 0.5 * (self.bottom + self.top)

    @property
    def width(self) -> float:
        """Radial width of the gap in metres."""
        return self.outer_radius - self.inner_radius

    @property
    def depth(self) -> float:
        """Axial depth of the gap in metres."""
        return self.top - self.bottom

    @property
    def mean_radius(self) -> float:
        """Radius of the middle of the gap in metres."""
        return 0.5 * (self.inner_radius + self.outer_radius)
