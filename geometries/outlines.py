"""Small pieces from which outlines are drawn."""

from __future__ import annotations

import math
from collections.abc import Sequence

from geometries.errors import InvalidInput, millimetres
from geometries.regions import Point

__all__ = ["chamfer", "rectangle"]


def rectangle(inner: float, outer: float, bottom: float, top: float) -> list[Point]:
    """Return the outline of a ring of rectangular section (radii and heights in metres)."""
    return [(inner, bottom), (outer, bottom), (outer, top), (inner, top)]


def chamfer(outline: Sequence[Point], corner: Point, size: float, field: str) -> list[Point]:
    """Return the outline with one corner cut at equal legs.

    Parameters
    ----------
    outline : sequence of (r, z)
    corner : (r, z)
        The corner to cut, one of the outline's points.
    size : float
        Length of each leg in metres; 0 leaves the outline as it is.
    field : str
        Name of the dimension, for the error message.

    Raises
    ------
    InvalidInput
        If the legs are longer than the edges they lie on.
    """
    points = list(outline)
    if size == 0:
        return points
    i = min(range(len(points)), key=lambda k: math.dist(points[k], corner))
    here, before, after = points[i], points[i - 1], points[(i + 1) % len(points)]
    room = min(math.dist(here, before), math.dist(here, after))
    if size >= room:
        raise InvalidInput(
            field, f"be smaller than the edge it cuts, {millimetres(room)}", millimetres(size)
        )

    def along(end: Point) -> Point:
        t = size / math.dist(here, end)
        return (here[0] + t * (end[0] - here[0]), here[1] + t * (end[1] - here[1]))

    return [*points[:i], along(before), along(after), *points[i + 1 :]]
