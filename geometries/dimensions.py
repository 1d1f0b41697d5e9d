"""The main dimensions of a motor, read off its regions: what a drawing of it shows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from geometries.regions import Gap, Point, Region, Role
from geometries.shapes import chords, polygon

__all__ = ["Dimensions", "Span", "dimensions"]

SAME = 1e-6
"""Lengths and places within this count as the same, metres."""


@dataclass(frozen=True)
class Span:
    """A length between two points of the half section, along r or along z.

    Parameters
    ----------
    what : str
        What is measured, in words.
    start, end : (r, z)
        Metres; a diameter starts on the axis.
    """

    what: str
    start: Point
    end: Point

    @property
    def radial(self) -> float:
        """Extent along r in metres: half of what a diameter states."""
        return self.end[0] - self.start[0]

    @property
    def axial(self) -> float:
        """Extent along z in metres."""
        return self.end[1] - self.start[1]


@dataclass(frozen=True)
class Dimensions:
    """The main dimensions; no diameter or thickness twice.

    Parameters
    ----------
    diameters : tuple of Span
        The motor's and its magnets' outer diameters and bores, the least first.
    gap_diameters : tuple of Span
        The gap's inner and outer diameter, at its upper end.
    gap_width, gap_depth : Span
    height : Span
        From the lowest to the highest point, each the outermost of its height.
    stack : tuple of Span
        Thicknesses of plates and magnets, where a line parallel to the axis through the middle of
        each magnet meets them between two corners' heights; upwards.
    """

    diameters: tuple[Span, ...]
    gap_diameters: tuple[Span, Span]
    gap_width: Span
    gap_depth: Span
    height: Span
    stack: tuple[Span, ...]


def dimensions(regions: Sequence[Region], gap: Gap) -> Dimensions:
    """Return the main dimensions of a motor."""
    points = [p for region in regions for p in region.outline]
    widest = max(points, key=lambda p: (p[0], -p[1]))
    lowest = min(points, key=lambda p: (p[1], -p[0]))
    highest = max(points, key=lambda p: (p[1], p[0]))
    inner, outer = (gap.inner_radius, gap.top), (gap.outer_radius, gap.top)
    return Dimensions(
        diameters=_diameters(regions, widest),
        gap_diameters=(_diameter("gap inner", inner), _diameter("gap outer", outer)),
        gap_width=Span("gap width", inner, outer),
        gap_depth=Span("gap depth", (gap.inner_radius, gap.bottom), inner),
        height=Span("height", lowest, highest),
        stack=_stack(regions),
    )


def _diameter(what: str, at: Point) -> Span:
    return Span(what, (0.0, at[1]), at)


def _diameters(regions: Sequence[Region], widest: Point) -> tuple[Span, ...]:
    found = [_diameter("outside", widest)]
    for region in regions:
        if region.role is not Role.MAGNET:
            continue
        low = min(z for _, z in region.outline)
        radii = [r for r, _ in region.outline]
        name = region.name.replace("_", " ")
        for what, radius in ((name, max(radii)), (f"{name} bore", min(radii))):
            if radius > SAME and all(abs(radius - s.radial) > SAME for s in found):
                found.append(_diameter(what, (radius, low)))
    return tuple(sorted(found, key=lambda s: s.radial))


def _stack(regions: Sequence[Region]) -> tuple[Span, ...]:
    found: list[Span] = []
    for magnet in regions:
        if magnet.role is not Role.MAGNET:
            continue
        r0, _, r1, _ = polygon(magnet).bounds
        radius = (r0 + r1) / 2
        for region in regions:
            if region.role is Role.CONDUCTOR:
                continue
            corners = [z for _, z in region.outline]
            for low, high in chords(region, radius=radius):
                if any(all(abs(end - z) > SAME for z in corners) for end in (low, high)):
                    continue  # a slope
                name = region.name.replace("_", " ")
                span = Span(name, (radius, low), (radius, high))
                if not any(_overlap(span, other) for other in found):
                    found.append(span)
    return tuple(sorted(found, key=lambda s: s.start[1]))


def _overlap(one: Span, other: Span) -> bool:
    """Tell whether two stretches share heights, so that they do not fit into one chain."""
    return min(one.end[1], other.end[1]) - max(one.start[1], other.start[1]) > SAME
