"""Every dimension of one part: what a workshop needs to make it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from geometries.dimensions import SAME, Span
from geometries.regions import Point

__all__ = ["Cut", "PartDimensions", "combined", "levels", "number", "part_dimensions"]

LARGEST_CHAMFER = 0.5
"""Share of the part's smaller extent up to which a cut at 45 degrees is called a chamfer."""
SAME_TURN = 0.02
"""Sides of an arc are equally long and turn equally, within this share."""
ARC_TURN = math.radians(40.0)
"""Sides that turn by more than this are edges of their own, not an arc."""


@dataclass(frozen=True)
class Cut:
    """A chamfer or a rounding.

    Parameters
    ----------
    text : str
        As drawings write it, e.g. ``2 x 45°`` or ``R 3``.
    size : float
        Leg of the chamfer or radius in metres.
    at : (r, z)
        Its middle, metres.
    """

    text: str
    size: float
    at: Point


@dataclass(frozen=True)
class PartDimensions:
    """The dimensions that define an outline, none twice.

    Parameters
    ----------
    diameters : tuple of Span
        From the axis, the least first; each ends at a corner of the outline.
    heights : tuple of (r, z)
        A corner of each height, the outermost, the lowest first: running dimensions from there.
    cuts : tuple of Cut
        Corners cut at equal legs, and arcs.
    """

    diameters: tuple[Span, ...]
    heights: tuple[Point, ...]
    cuts: tuple[Cut, ...]


def part_dimensions(outline: Sequence[Point], name: str) -> PartDimensions:
    """Return every dimension of an outline in metres, closed by itself."""
    cuts, corners = _cuts(outline)
    radii: dict[float, Point] = {}
    for r, z in corners:
        known = next((k for k in radii if abs(k - r) < SAME), r)
        if known > SAME and (known not in radii or z < radii[known][1]):
            radii[known] = (r, z)
    what = name.replace("_", " ")
    return PartDimensions(
        diameters=tuple(Span(what, (0.0, radii[k][1]), radii[k]) for k in sorted(radii)),
        heights=levels(corners),
        cuts=tuple(cuts),
    )


def combined(parts: Sequence[PartDimensions]) -> PartDimensions:
    """Return the dimensions of parts drawn as one, none twice."""
    diameters: dict[float, Span] = {}
    for span in sorted((s for part in parts for s in part.diameters), key=lambda s: s.radial):
        if all(abs(span.radial - known) > SAME for known in diameters):
            diameters[span.radial] = span
    return PartDimensions(
        diameters=tuple(diameters.values()),
        heights=levels([p for part in parts for p in part.heights]),
        cuts=tuple(cut for part in parts for cut in part.cuts),
    )


def levels(points: Sequence[Point]) -> tuple[Point, ...]:
    """Return the outermost point of each height, the lowest first; metres."""
    found: dict[float, Point] = {}
    for r, z in points:
        known = next((k for k in found if abs(k - z) < SAME), z)
        if known not in found or r > found[known][0]:
            found[known] = (r, z)
    return tuple(found[k] for k in sorted(found))


def _cuts(outline: Sequence[Point]) -> tuple[list[Cut], list[Point]]:
    """Return chamfers and arcs, and the corners that remain to be dimensioned."""
    inside = _inside_arcs(outline)
    count = len(outline)
    extent = min(max(p[k] for p in outline) - min(p[k] for p in outline) for k in (0, 1))
    cuts: list[Cut] = []
    said = set(inside)
    for first in range(count):
        if first in inside:
            continue
        last = (first + 1) % count
        while last in inside:
            last = (last + 1) % count
        start, end = outline[first], outline[last]
        legs = abs(end[0] - start[0]), abs(end[1] - start[1])
        even = abs(legs[0] - legs[1]) < SAME < legs[0]
        square = even and _square(outline[first - 1], start, end, outline[(last + 1) % count])
        if (first + 1) % count in inside:
            middle = outline[(first + ((last - first) % count) // 2) % count]
            radius = _radius(start, middle, end)
            cuts.append(Cut(f"R {number(radius)}", radius, middle))
            square = square and abs(radius - legs[0]) < SAME
        elif square and legs[0] < LARGEST_CHAMFER * extent:
            at = ((start[0] + end[0]) / 2, (start[1] + end[1]) / 2)
            cuts.append(Cut(f"{number(legs[0])} \u00d7 45\u00b0", legs[0], at))
        else:
            continue
        if square:
            said |= _said(outline, first, last, said)
    return cuts, [p for k, p in enumerate(outline) if k not in said]


def _said(outline: Sequence[Point], first: int, last: int, left_out: set[int]) -> set[int]:
    """Return which ends of a cut corner say nothing that its leg and other corners do not say.

    Corners that are left out say nothing: of a side between two cuts one end stays.
    """
    start, end = outline[first], outline[last]
    upright = abs(outline[first - 1][0] - start[0]) < SAME
    r, z = (start[0], end[1]) if upright else (end[0], start[1])  # the corner before it was cut
    rest = [p for i, p in enumerate(outline) if i not in {first, last, *left_out}]
    known_r = any(abs(p[0] - r) < SAME for p in rest)
    known_z = any(abs(p[1] - z) < SAME for p in rest)
    tells_r, tells_z = (first, last) if upright else (last, first)
    return {k for k, known in ((tells_r, known_r), (tells_z, known_z)) if known}


def _square(before: Point, start: Point, end: Point, after: Point) -> bool:
    """Tell whether one neighbour of a side is upright and the other level."""
    first = abs(start[0] - before[0]) < SAME, abs(start[1] - before[1]) < SAME
    last = abs(after[0] - end[0]) < SAME, abs(after[1] - end[1]) < SAME
    return (first[0] and last[1]) or (first[1] and last[0])


def _inside_arcs(outline: Sequence[Point]) -> set[int]:
    """Return the numbers of the points between the sides of arcs."""
    count = len(outline)
    sides = [math.dist(outline[k], outline[(k + 1) % count]) for k in range(count)]
    turns = []
    for k in range(count):
        (r0, z0), (r, z), (r1, z1) = outline[k - 1], outline[k], outline[(k + 1) % count]
        turn = math.atan2(z1 - z, r1 - r) - math.atan2(z - z0, r - r0)
        turns.append(math.remainder(turn, 2 * math.pi))

    def bend(k: int) -> bool:
        even = abs(sides[k - 1] - sides[k]) < SAME_TURN * sides[k]
        return even and 1e-4 < abs(turns[k]) < ARC_TURN

    def alike(k: int, other: int) -> bool:
        return bend(other) and abs(turns[k] - turns[other]) < SAME_TURN * abs(turns[k])

    return {k for k in range(count) if bend(k) and (alike(k, k - 1) or alike(k, (k + 1) % count))}


def _radius(start: Point, middle: Point, end: Point) -> float:
    """Return the radius of the circle through three points, metres."""
    a, b, c = math.dist(start, middle), math.dist(middle, end), math.dist(end, start)
    double = abs(
        (middle[0] - start[0]) * (end[1] - start[1]) - (end[0] - start[0]) * (middle[1] - start[1])
    )
    return a * b * c / (2 * double)


def number(value: float) -> str:
    """Return a length in mm as drawings write it, to the micrometre."""
    return f"{round(value * 1e3, 3):.7g}"
