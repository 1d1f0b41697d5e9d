"""The half plane cut into faces: every part, the air around it, and the outer half circle."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely

from geometries import Gap, Point, Region, Role, polygon
from motor.base.arrays import Floats
from motor.base.errors import MeshError

if TYPE_CHECKING:
    from shapely import LinearRing

__all__ = ["AIR", "Face", "Partition", "envelope", "partition"]

AIR = "air"
OUTER_RATIO = 2.5
"""Radius of the outer boundary over the motor's own reach from its centre.

Between 1.5 and 4 no result moves by more than a few millionths; the winding must find room."""
ARC_SEGMENTS = 16
SNAP = 1e-9
"""Grid on which crossing edges are joined, in metres; that of the outlines."""


@dataclass(frozen=True)
class Face:
    """A face of the partition: an outer loop and holes, points in metres, unclosed."""

    region: str
    loops: tuple[tuple[Point, ...], ...]


@dataclass(frozen=True)
class Partition:
    """Faces that cover the half disc without overlap.

    Parameters
    ----------
    faces : tuple of Face
    corners : (n, 2) array
        Points off the axis where steel or magnet outlines bend or meet: the field is singular
        there.  Without steel and magnets, those of the conductors.  Metres.
    gap : Gap
    centre : float
        Height of the outer boundary's centre on the axis, metres.
    radius : float
        Its radius, metres.
    reach : float
        Distance of the motor's farthest point from that centre, metres.
    """

    faces: tuple[Face, ...]
    corners: Floats
    gap: Gap
    centre: float
    radius: float
    reach: float


def _coil_path(gap: Gap, points: Sequence[Point]) -> LinearRing:
    """Return the gap's outline continued by its own depth to either side.

    The coil moves there: with edges along its path the mesh is fine where B is read off.  Ends
    that would pass close to a corner of a part go through that corner's height instead.
    """
    ends = []
    for height in (gap.bottom - gap.depth, gap.top + gap.depth):
        nearest = min((z for _, z in points), key=lambda z: abs(z - height))
        ends.append(nearest if abs(nearest - height) < 0.5 * gap.width else height)
    low, high = min(ends[0], gap.bottom), max(ends[1], gap.top)
    inner, outer = gap.inner_radius, gap.outer_radius
    return shapely.LinearRing([(inner, low), (outer, low), (outer, high), (inner, high)])


def envelope(regions: Sequence[Region]) -> tuple[float, float]:
    """Return the middle height of all parts and how far their farthest point is from there."""
    points = [p for region in regions for p in region.outline]
    z_low, z_high = min(z for _, z in points), max(z for _, z in points)
    centre = round(0.5 * (z_low + z_high), 9)
    return centre, max(math.hypot(r, z - centre) for r, z in points)


def partition(
    regions: Sequence[Region],
    gap: Gap,
    *,
    outer_ratio: float = OUTER_RATIO,
    cuts: Sequence[tuple[Point, Point]] = (),
) -> Partition:
    """Cut the half plane along all outlines.

    Parameters
    ----------
    regions : sequence of Region
        Parts that touch but do not overlap.
    gap : Gap
    outer_ratio : float
        Radius of the outer boundary over the motor's reach.
    cuts : sequence of pairs of (r, z)
        Further lines that edges of the mesh follow, ends in metres.

    Raises
    ------
    MeshError
        If the outlines leave a part without a face.
    """
    points = [p for region in regions for p in region.outline]
    centre, reach = envelope(regions)
    radius = outer_ratio * reach
    arc = [
        (radius * math.cos(t), centre + radius * math.sin(t))
        for t in np.linspace(-math.pi / 2, math.pi / 2, ARC_SEGMENTS + 1)
    ]
    arc[0], arc[-1] = (0.0, centre - radius), (0.0, centre + radius)
    shapes = [polygon(region) for region in regions]
    lines = [shape.exterior for shape in shapes] + [shapely.LinearRing(arc)]
    lines += [_coil_path(one, points) for one in gap.all]
    lines += [shapely.LineString(cut) for cut in cuts]
    network = shapely.unary_union(lines, grid_size=SNAP)
    cells = shapely.get_parts(shapely.polygonize(list(shapely.get_parts(network))))
    singular = [k for k, region in enumerate(regions) if region.role is not Role.CONDUCTOR]
    graded = set(singular or range(len(regions)))
    faces, corners, found = [], set(), set()
    for cell in cells:
        inner = cell.representative_point()
        owner = next((i for i, shape in enumerate(shapes) if shape.contains(inner)), None)
        name = AIR if owner is None else regions[owner].name
        found.add(name)
        loops = tuple(tuple(ring.coords[:-1]) for ring in (cell.exterior, *cell.interiors))
        faces.append(Face(name, loops))
        if owner in graded:
            corners |= {p for loop in loops for p in loop if p[0] > 0}
    missing = {region.name for region in regions} - found
    if missing:
        raise MeshError(
            f"the outline of {', '.join(sorted(missing))} encloses nothing that can be meshed"
        )
    corners -= {_on_grid(p) for cut in cuts for p in cut} - {_on_grid(p) for p in points}
    return Partition(tuple(faces), np.array(sorted(corners)), gap, centre, radius, reach)


def _on_grid(point: Point) -> Point:
    r, z = point
    return (round(r, 9), round(z, 9))
