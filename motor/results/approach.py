"""Parts that are moved apart along the axis: which way is free, and the slits that open."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import shapely

from geometries import InvalidInput, Point, Region, Role, polygon
from motor.base.arrays import Floats
from motor.base.names import near_names
from motor.field.partition import envelope

__all__ = ["Cut", "lifted", "slit_cuts", "split", "spoken", "way_out"]

Cut = tuple[Point, Point]
TOUCHING = 1e-10
"""Area in m^2 below which two outlines touch at most."""


def split(
    regions: Sequence[Region], parts: Collection[str], without: Collection[str]
) -> tuple[list[Region], list[Region]]:
    """Return the parts that move and those that stand."""
    known = [region.name for region in regions]
    for word, names in (("part", parts), ("without", without)):
        for name in names:
            if name not in known:
                raise InvalidInput(word, f"be a part ({near_names(name, known)})", repr(name))
    moving = [r for r in regions if r.name in parts and r.name not in without]
    standing = [r for r in regions if r.name not in parts and r.name not in without]
    for word, group in (("part", moving), ("without", standing)):
        if not any(r.role is not Role.CONDUCTOR for r in group):
            what = "leave steel or a magnet that moves, and one that stands"
            raise InvalidInput(word, what, f"{spoken(r.name for r in group) or 'none'} alone")
    if not any(r.role is Role.MAGNET for r in (*moving, *standing)):
        raise InvalidInput("without", "leave a magnet", "none")
    return moving, standing


def way_out(moving: Sequence[Region], standing: Sequence[Region]) -> bool:
    """Return whether parts can be moved apart outwards; InvalidInput if neither way is free."""
    rest = shapely.union_all([polygon(r) for r in standing])
    height = 2.0 * envelope([*moving, *standing])[1]
    blocking: list[str] = []
    for outwards in (True, False):
        swept = shapely.union_all([_swept(r, height if outwards else -height) for r in moving])
        if swept.intersection(rest).area < TOUCHING:
            return outwards
        hit = [r.name for r in standing if polygon(r).intersection(swept).area > TOUCHING]
        blocking.append(f"{spoken(hit)} {'out' if outwards else 'in'}wards")
    what = "be free to move one way along the axis, with what moves along or without what is there"
    raise InvalidInput("part", what, f"{', and '.join(blocking)}")


def slit_cuts(moving: Sequence[Region], standing: Sequence[Region], lift: float) -> list[Cut]:
    """Return lines across the slits that open where parts have been lifted off each other.

    Triangles flatter than wide then have right angles, and are small at the slits' edges.
    """
    found = []
    for one in moving:
        seam = polygon(one).exterior.intersection(
            shapely.union_all([polygon(r).exterior for r in standing])
        )
        for line in shapely.get_parts(shapely.line_merge(seam)):
            if line.length > 4 * abs(lift) > 0 and np.ptp([r for r, _ in line.coords]) > 0:
                for share in _graded(abs(lift) / line.length):
                    place = line.interpolate(share, normalized=True)
                    found.append(((place.x, place.y), (place.x, place.y + lift)))
    return found


def _graded(first: float) -> Floats:
    """Return shares of a length, the first step from each end given, each next twice as long."""
    steps = first * 2.0 ** np.arange(40)
    places = np.cumsum(steps[steps < 0.2])
    places = places[places < 0.4]
    return np.unique([0.0, 1.0, 0.5, *places, *(1 - places)])


def _swept(region: Region, height: float) -> Any:
    """Return what an outline passes over as it moves by a height."""
    points = region.outline
    sides = zip(points, (*points[1:], points[0]), strict=True)
    passed = [
        shapely.Polygon([(r, z), (s, y), (s, y + height), (r, z + height)])
        for (r, z), (s, y) in sides
        if abs(s - r) > 1e-12
    ]
    return shapely.union_all([polygon(region), *passed])


def lifted(region: Region, height: float) -> Region:
    """Return a part that stands higher by so many metres."""
    return replace(region, outline=tuple((r, z + height) for r, z in region.outline))


def spoken(names: Iterable[str]) -> str:
    """Return names of parts as words."""
    return " and ".join(name.replace("_", " ") for name in names)
