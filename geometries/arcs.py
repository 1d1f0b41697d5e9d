"""Arcs of outlines, divided into straight sides to a stated tolerance."""

from __future__ import annotations

import math

from geometries.regions import Point

__all__ = ["TOLERANCE", "arc_through", "rounded"]

TOLERANCE = 1e-5
"""Greatest distance between an arc and its sides, metres."""


def _sides(radius: float, angle: float, tolerance: float) -> int:
    """Return how many sides keep within a tolerance of an arc (radians)."""
    share = min(tolerance / radius, 0.3)
    return max(1, math.ceil(abs(angle) / (2 * math.acos(1 - share)) - 1e-9))


def arc_through(
    start: Point, middle: Point, end: Point, tolerance: float = TOLERANCE
) -> list[Point]:
    """Return the points of the arc after its start, through a middle point, up to its end.

    All points lie on the arc, none of the sides is farther from it than ``tolerance`` (metres).
    Three points on a line give the end alone.
    """
    (r0, z0), (r1, z1), (r2, z2) = start, middle, end
    a, b, c, d = r1 - r0, z1 - z0, r2 - r0, z2 - z0
    cross = 2 * (a * d - b * c)
    if abs(cross) <= 1e-9 * (math.hypot(a, b) * math.hypot(c, d)):
        return [end]
    p, q = a * a + b * b, c * c + d * d
    centre = (r0 + (d * p - b * q) / cross, z0 + (a * q - c * p) / cross)
    first = math.atan2(z0 - centre[1], r0 - centre[0])
    last = math.atan2(z2 - centre[1], r2 - centre[0])
    sweep = (last - first) % (2 * math.pi)
    if cross < 0:
        sweep -= 2 * math.pi
    return [*_along(centre, math.dist(start, centre), first, sweep, tolerance)[:-1], end]


def _along(
    centre: Point, radius: float, first: float, sweep: float, tolerance: float
) -> list[Point]:
    count = _sides(radius, sweep, tolerance)
    angles = [first + sweep * k / count for k in range(1, count + 1)]
    return [(centre[0] + radius * math.cos(t), centre[1] + radius * math.sin(t)) for t in angles]


def rounded(
    before: Point, corner: Point, after: Point, radius: float, tolerance: float = TOLERANCE
) -> tuple[list[Point], float]:
    """Return the points that round a corner, and how much of either edge they take, metres.

    The edges must not lie on one line; with a radius of 0 the corner stays.
    """
    back, ahead = math.dist(corner, before), math.dist(corner, after)
    u = ((before[0] - corner[0]) / back, (before[1] - corner[1]) / back)
    v = ((after[0] - corner[0]) / ahead, (after[1] - corner[1]) / ahead)
    half = 0.5 * math.acos(max(-1.0, min(1.0, u[0] * v[0] + u[1] * v[1])))
    leg = radius / math.tan(half)
    start = (corner[0] + leg * u[0], corner[1] + leg * u[1])
    end = (corner[0] + leg * v[0], corner[1] + leg * v[1])
    middle = ((u[0] + v[0]), (u[1] + v[1]))
    size = math.hypot(*middle)
    reach = radius / math.sin(half) - radius
    top = (corner[0] + reach * middle[0] / size, corner[1] + reach * middle[1] / size)
    return [start, *arc_through(start, top, end, tolerance)], leg
