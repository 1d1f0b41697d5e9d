"""Measures of regions: polygons, volumes, and the free space around a ring."""

from __future__ import annotations

import functools
import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from geometries.regions import Region

if TYPE_CHECKING:
    from shapely import Geometry, Polygon

__all__ = [
    "chords",
    "outer_size",
    "polygon",
    "radial_room",
    "solid_bounds",
    "vertical_stops",
    "volume",
    "within",
]


@functools.lru_cache(maxsize=256)
def polygon(region: Region) -> Polygon:
    """Return the region's outline as a shapely polygon (coordinates in metres)."""
    from shapely import Polygon

    return Polygon(region.outline)


def within(region: Region, r0: float, z0: float, r1: float, z1: float) -> Polygon | None:
    """Return what of a region lies in a rectangle (metres); None where their bounds are apart."""
    from shapely import box

    shape = polygon(region)
    inner, low, outer, high = shape.bounds
    if inner >= r1 or outer <= r0 or low >= z1 or high <= z0:
        return None
    return shape.intersection(box(r0, z0, r1, z1))


def solid_bounds(shape: Geometry) -> tuple[float, float, float, float]:
    """Return (r0, z0, r1, z1) of a shape's areas, leaving out faces that only touch.

    The shape must have an area.
    """
    import shapely

    solid = [piece.bounds for piece in shapely.get_parts(shape) if piece.area > 0]
    r0, z0, r1, z1 = zip(*solid, strict=True)
    return min(r0), min(z0), max(r1), max(z1)


def outer_size(regions: Sequence[Region]) -> tuple[float, float]:
    """Return outer diameter and height of a motor in metres."""
    points = [p for region in regions for p in region.outline]
    heights = [z for _, z in points]
    return 2 * max(r for r, _ in points), max(heights) - min(heights)


def volume(region: Region) -> float:
    """Return the volume of the body of revolution in m^3 (Pappus)."""
    shape = polygon(region)
    return float(2 * math.pi * shape.centroid.x * shape.area)


def chords(
    region: Region, *, height: float | None = None, radius: float | None = None
) -> list[tuple[float, float]]:
    """Return the stretches in which a horizontal or a vertical line crosses the region.

    Parameters
    ----------
    region : Region
    height : float or None
        Height of a horizontal line in metres; the stretches are then radii.
    radius : float or None
        Radius of a vertical line in metres; the stretches are then heights.
    """
    from shapely import LineString

    if height is not None:
        line, low, high = LineString([(-1.0, height), (3.0, height)]), 0, 2
    else:
        line, low, high = LineString([(radius, -3.0), (radius, 3.0)]), 1, 3
    cut = polygon(region).intersection(line)
    pieces = getattr(cut, "geoms", [cut])
    return [(p.bounds[low], p.bounds[high]) for p in pieces if p.length > 0]


def radial_room(
    regions: Sequence[Region], radius: float, bottom: float, top: float
) -> tuple[float, float]:
    """Return the free radii around a cylinder between two heights.

    Parameters
    ----------
    regions : sequence of Region
    radius : float
        A radius in the free space, in metres.
    bottom, top : float
        Height range to look at, in metres.

    Returns
    -------
    inner, outer : float
        The largest radius of a part inside ``radius`` (0 if none) and the smallest outside it
        (infinite if none).  If a part covers ``radius``, both equal ``radius``.
    """
    inner, outer = 0.0, float("inf")
    for region in regions:
        left = within(region, -1.0, bottom, radius, top)
        right = within(region, radius, bottom, 2.0, top)
        if left is not None and left.area > 0:
            inner = max(inner, solid_bounds(left)[2])
        if right is not None and right.area > 0:
            outer = min(outer, solid_bounds(right)[0])
    return inner, outer


def vertical_stops(
    regions: Sequence[Region], inner: float, outer: float, bottom: float, top: float
) -> tuple[float, float]:
    """Return how far a ring can move down and up before it meets a part, in metres.

    Parameters
    ----------
    regions : sequence of Region
    inner, outer : float
        Radii of the ring.
    bottom, top : float
        Heights of its lower and upper end.

    Returns
    -------
    down, up : float
        Free travel, infinite where nothing is in the way.
    """
    down, up = float("inf"), float("inf")
    for region in regions:
        under = within(region, inner, bottom - 10.0, outer, bottom)
        over = within(region, inner, top, outer, top + 10.0)
        if under is not None and under.area > 0:
            down = min(down, bottom - solid_bounds(under)[3])
        if over is not None and over.area > 0:
            up = min(up, solid_bounds(over)[1] - top)
    return down, up
