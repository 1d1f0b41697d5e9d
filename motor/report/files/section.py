"""The full section through the axis: cut faces on both sides, and the edges seen behind them."""

from __future__ import annotations

import math
from collections.abc import Sequence

from geometries import Point

__all__ = ["cut_faces", "edges_behind"]

Loop = tuple[Point, ...]

GRID = 1e-9
"""Grid of the outlines, metres."""
EDGE_ANGLE = math.radians(15.0)
"""An outline that bends by less is a curve there, and shows no edge."""


def cut_faces(outline: Sequence[Point]) -> list[tuple[Loop, ...]]:
    """Return the faces that a body shows in the full section: each an outer loop and holes.

    A body away from the axis shows two, mirrored; one that reaches the axis shows one, without
    a line along the axis.  Unclosed loops of (x, z), metres.
    """
    import shapely

    right = shapely.Polygon(outline)
    left = shapely.Polygon([(-r, z) for r, z in outline])
    both = shapely.union(left, right).simplify(0.0)
    return [
        tuple(tuple(ring.coords[:-1]) for ring in (face.exterior, *face.interiors))
        for face in shapely.get_parts(both)
    ]


def edges_behind(outlines: Sequence[Sequence[Point]]) -> list[tuple[float, float, float]]:
    """Return the edges visible behind the section as (inner radius, outer radius, height).

    An edge is a circle; seen from the cut it is a straight line across.  Looking through the
    space that the cut leaves free, one sees it from its own radius inwards to the next body.
    """
    import shapely

    solid = shapely.union_all([shapely.Polygon(o) for o in outlines], grid_size=GRID)
    solid = solid.buffer(10 * GRID, join_style="mitre")
    found = set()
    for outline in outlines:
        for i, (r, z) in enumerate(outline):
            if r == 0 or not _bends(outline[i - 1], (r, z), outline[(i + 1) % len(outline)]):
                continue
            free = shapely.LineString([(0.0, z), (r, z)]).difference(solid)
            for piece in shapely.get_parts(free):
                low, _, high, _ = piece.bounds
                if r - high < 100 * GRID and high > low:
                    found.add((round(max(low - 10 * GRID, 0.0), 9), r, z))
    return sorted(found)


def _bends(before: Point, here: Point, after: Point) -> bool:
    first = math.atan2(here[1] - before[1], here[0] - before[0])
    second = math.atan2(after[1] - here[1], after[0] - here[0])
    turn = abs(math.remainder(second - first, 2 * math.pi))
    return turn > EDGE_ANGLE
