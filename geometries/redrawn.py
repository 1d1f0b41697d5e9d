"""Any motor as a drawing of outlines, and edges of drawings divided by new points."""

from __future__ import annotations

import dataclasses
import math

from geometries.contract import Geometry
from geometries.drawn import GapFormulas, Outlines
from geometries.drawn_parts import DIRECTIONS, Corner, DrawnPart
from geometries.errors import InvalidInput
from geometries.formulas import Formula
from geometries.regions import Gap, Region, Role

__all__ = ["divided", "redrawn"]

MOST = 12
"""New points on an edge."""


def redrawn(geometry: Geometry) -> Outlines:
    """Return the same motor as outlines of plain numbers; one that is drawn stays as it is."""
    if isinstance(geometry, Outlines):
        return geometry
    rings = getattr(geometry, "rings", ())
    names = {ring.name for ring in rings}
    parts = [_part(region) for region in geometry.regions() if region.name not in names]
    first, *further = (_gap(gap) for gap in geometry.gap.all)
    return Outlines(
        gap_formulas=first, further_gaps=tuple(further), parts=tuple(parts), rings=rings
    )


def _number(metres: float) -> float:
    return float(f"{metres * 1e3:.12g}")


def _gap(gap: Gap) -> GapFormulas:
    inner, outer = _number(gap.inner_radius), _number(gap.outer_radius)
    return inner, outer, _number(gap.bottom), _number(gap.top)


def _part(region: Region) -> DrawnPart:
    way = ""
    if region.magnetisation is not None:
        r, z = region.magnetisation
        words = {direction: word for word, direction in DIRECTIONS.items()}
        way = words.get((r, z), f"{math.degrees(math.atan2(z, r)):.12g}")
    corners = tuple(Corner((_number(r), _number(z))) for r, z in region.outline)
    material = (region.material or "") if region.role is Role.CONDUCTOR else ""
    return DrawnPart(region.name, region.role, corners, way, material)


def divided(geometry: Outlines, name: str, first: int, count: int) -> Outlines:
    """Return a drawing with new points at even distances on one edge of a part.

    Parameters
    ----------
    geometry : Outlines
    name : str
        Of the part.
    first : int
        Point from which the edge leads to the next, counted from 1.
    count : int
        New points.

    Raises
    ------
    InvalidInput
    """
    part = next((p for p in geometry.parts if p.name == name), None)
    if part is None:
        known = ", ".join(p.name for p in geometry.parts)
        raise InvalidInput("part", f"be one of the drawing's ({known})", repr(name))
    if not 1 <= count <= MOST:
        raise InvalidInput("count", f"be 1 to {MOST} new points", count)
    corners = part.outline
    if not 1 <= first <= len(corners):
        raise InvalidInput("along", f"name points among the {len(corners)} of {name}", first)
    here, after = corners[first - 1], corners[first % len(corners)]
    if after.through is not None:
        raise InvalidInput("along", "name the ends of a straight edge", f"an arc after {first}")
    new = [
        Corner((_between(here.at[0], after.at[0], share), _between(here.at[1], after.at[1], share)))
        for share in (k / (count + 1) for k in range(1, count + 1))
    ]
    outline = (*corners[:first], *new, *corners[first:])
    more = dataclasses.replace(part, outline=outline)
    parts = tuple(more if p.name == name else p for p in geometry.parts)
    return dataclasses.replace(geometry, parts=parts)


def _between(start: Formula, end: Formula, share: float) -> Formula:
    """Return a formula for a place between two, a plain number where both are."""
    if not isinstance(start, str) and not isinstance(end, str):
        return float(f"{start + share * (end - start):.9g}")
    if start == end:
        return start
    return f"({start}) * {1 - share:.6g} + ({end}) * {share:.6g}"
