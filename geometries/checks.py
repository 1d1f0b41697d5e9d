"""Checks on regions that every geometry must pass: nothing overlaps, nothing floats."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import TYPE_CHECKING

from geometries.errors import InvalidInput, millimetres
from geometries.regions import Gap, Region, Role
from geometries.shapes import polygon, solid_bounds, within

if TYPE_CHECKING:
    from shapely import Polygon

__all__ = ["check_regions", "check_smaller", "free_gap"]

AREA_GRAIN = 1e-12
"""Overlaps below 1e-12 m^2 (one square micrometre) are rounding, not collisions."""
GRAIN = 1e-9
"""Overlaps that come from rounding outlines to the grid are thinner than twice this, metres."""
SHOWN = 20
"""Points of a crossing outline that an error shows at most."""
THINNEST = 10e-6
"""Least width and depth of a gap, metres."""


def check_smaller(geometry: object, field: str, limit: float, limit_name: str) -> None:
    """Raise InvalidInput unless a length of a geometry is below a limit in metres."""
    value: float = getattr(geometry, field)
    if not value < limit:
        raise InvalidInput(
            field, f"be smaller than {limit_name}, {millimetres(limit)}", millimetres(value)
        )


def check_regions(regions: Sequence[Region], gap: Gap, *, joined: bool = True) -> None:
    """Raise InvalidInput if regions overlap, cross themselves, float free or block the gap.

    Parameters
    ----------
    regions : sequence of Region
        All parts of the motor.
    gap : Gap
        The gap between steel and steel.
    joined : bool
        False if parts may float in air.
    """
    names = [region.name for region in regions]
    for name in names:
        if names.count(name) > 1:
            raise InvalidInput("region name", "be used once only", repr(name))
    if not any(region.role is Role.MAGNET for region in regions):
        raise InvalidInput("a motor", "have at least one magnet", f"the parts {names}")
    shapes = [polygon(region) for region in regions]
    for region, shape in zip(regions, shapes, strict=True):
        if not shape.is_valid:
            raise InvalidInput(
                region.name,
                "have an outline that does not cross itself (a chamfer, step or bore is too large)",
                _crossing(region, shape),
            )
    _check_overlaps(regions, shapes)
    if joined:
        _check_joined(regions, shapes)
    for one in gap.all:
        if not (one.width >= THINNEST and one.depth >= THINNEST):
            raise InvalidInput(
                "the gap" if one is gap else "a further gap",
                f"be at least {millimetres(THINNEST)} wide and deep",
                f"width {millimetres(one.width)}, depth {millimetres(one.depth)}",
            )
        free_gap(regions, one)


def _crossing(region: Region, shape: Polygon) -> str:
    from shapely import is_valid_reason

    points = ", ".join(f"({millimetres(r)}, {millimetres(z)})" for r, z in region.outline[:SHOWN])
    more = len(region.outline) - SHOWN
    place = re.search(r"\[(\S+) (\S+)\]", is_valid_reason(shape))
    at = (
        ""
        if place is None
        else ", at ({}, {})".format(*(millimetres(float(c)) for c in place.groups()))
    )
    return points + (f" and {more} more" if more > 0 else "") + at


def _check_overlaps(regions: Sequence[Region], shapes: Sequence[Polygon]) -> None:
    for i, first in enumerate(shapes):
        for j in range(i):
            if not first.intersects(shapes[j]):
                continue
            common = first.intersection(shapes[j])
            if common.area > AREA_GRAIN and not common.buffer(-GRAIN).is_empty:
                r0, z0, r1, z1 = solid_bounds(common)
                raise InvalidInput(
                    f"{regions[j].name} and {regions[i].name}",
                    "not overlap",
                    f"an overlap of {millimetres(r1 - r0)} x {millimetres(z1 - z0)} at "
                    f"r = {millimetres(r0)}, z = {millimetres(z0)}",
                )


def _check_joined(regions: Sequence[Region], shapes: Sequence[Polygon]) -> None:
    reached = {0}
    waiting = [0]
    while waiting:
        i = waiting.pop()
        for j in range(len(regions)):
            if j not in reached and shapes[i].intersection(shapes[j]).length > 1e-9:
                reached.add(j)
                waiting.append(j)
    for j, region in enumerate(regions):
        if j not in reached:
            i = min(reached, key=lambda k: shapes[k].distance(shapes[j]))
            raise InvalidInput(
                region.name,
                "touch the rest of the motor along a face",
                f"a distance of {millimetres(shapes[i].distance(shapes[j]))} "
                f"to {regions[i].name}, the nearest part",
            )


def free_gap(regions: Sequence[Region], gap: Gap) -> tuple[float, float]:
    """Return the radii between which the gap is free over its whole depth, in metres.

    Sleeves inside the gap narrow it.  Steel or magnet inside it is an error.
    """
    inner, outer = gap.inner_radius, gap.outer_radius
    for region in regions:
        common = within(region, gap.inner_radius, gap.bottom, gap.outer_radius, gap.top)
        if common is None or common.area <= AREA_GRAIN:
            continue
        r0, _, r1, _ = solid_bounds(common)
        if region.role is not Role.CONDUCTOR:
            raise InvalidInput(
                region.name, "stay out of the gap", f"{millimetres(r1 - r0)} of it inside"
            )
        if r0 - gap.inner_radius < gap.outer_radius - r1:
            inner = max(inner, r1)
        else:
            outer = min(outer, r0)
    if not outer - inner > 0:
        raise InvalidInput(
            "sleeves in the gap",
            f"leave some of its width of {millimetres(gap.width)} free",
            f"a free width of {millimetres(max(outer - inner, 0.0))}",
        )
    return inner, outer
