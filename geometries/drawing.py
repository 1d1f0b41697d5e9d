"""The half section of a motor as an SVG drawing, from nothing but its regions."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from html import escape

from geometries.contract import Gap, Point, Region, Role
from geometries.errors import millimetres

__all__ = ["PART_COLOURS", "section_svg"]

PART_COLOURS = {
    Role.STEEL: "#c9d1d6",
    Role.MAGNET: "#7a8fb3",
    Role.CONDUCTOR: "#e0a458",
}
"""Fill colours; neighbours differ in lightness, so that they survive a black-and-white print."""

COIL_COLOUR = "#9c3d22"
WIDTH = 640
LABEL_ROOM = 190
MARGIN = 56


def section_svg(
    regions: Sequence[Region],
    *,
    gap: Gap,
    coil: Sequence[tuple[str, Sequence[Point]]] = (),
    title: str = "",
) -> str:
    """Return the right half section as SVG text.

    Parameters
    ----------
    regions : sequence of Region
        Parts to draw, outlines in metres.
    gap : Gap
        Gap to dimension.
    coil : sequence of (name, outline)
        Winding and former, drawn over the parts; outlines in metres.
    title : str
        Heading.
    """
    own = [p for region in regions for p in region.outline]
    points = own + [p for _, outline in coil for p in outline]
    r_max = max(r for r, _ in points)
    z_min, z_max = min(z for _, z in points), max(z for _, z in points)
    head = 24 if title else 0
    scale = (WIDTH - LABEL_ROOM - 2 * MARGIN) / r_max
    height = (z_max - z_min) * scale + 2 * MARGIN + head

    def at(point: Point) -> tuple[float, float]:
        return MARGIN + point[0] * scale, MARGIN + head + (z_max - point[1]) * scale

    def path(outline: Sequence[Point]) -> str:
        return " ".join(f"{x:.2f},{y:.2f}" for x, y in map(at, outline))

    lines = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{WIDTH}" height="{height:.0f}" '
        f'viewBox="0 0 {WIDTH} {height:.0f}" font-family="sans-serif" font-size="12">',
        '<rect width="100%" height="100%" fill="white"/>',
        f'<text x="{MARGIN}" y="24" font-size="15">{escape(title)}</text>',
    ]
    for region in regions:
        lines.append(
            f'<polygon points="{path(region.outline)}" fill="{PART_COLOURS[region.role]}" '
            f'stroke="#333" stroke-width="1"><title>{region.name}</title></polygon>'
        )
        if region.magnetisation is not None:
            lines.append(_arrow(at, region))
    for name, outline in coil:
        lines.append(
            f'<polygon points="{path(outline)}" fill="{COIL_COLOUR}" stroke="none">'
            f"<title>{escape(name)}</title></polygon>"
        )
    x0, y0 = at((0.0, z_max))
    _, y1 = at((0.0, z_min))
    lines.append(
        f'<line x1="{x0}" y1="{y0 - 14:.1f}" x2="{x0}" y2="{y1 + 14:.1f}" stroke="#333" '
        'stroke-dasharray="12 3 3 3"/>'
    )
    lines += _labels(regions, coil, at)
    lines += _dimensions(gap, own, z_min, at)
    return "\n".join([*lines, "</svg>"])


def _middle(outline: Sequence[Point]) -> Point:
    r = [p[0] for p in outline]
    z = [p[1] for p in outline]
    return (min(r) + max(r)) / 2, (min(z) + max(z)) / 2


def _arrow(at, region: Region) -> str:  # type: ignore[no-untyped-def]
    """Return an arrow along the magnetisation, in the middle of the magnet."""
    assert region.magnetisation is not None
    (r, z), (mr, mz) = _middle(region.outline), region.magnetisation
    spans = [max(p[k] for p in region.outline) - min(p[k] for p in region.outline) for k in (0, 1)]
    half = 0.3 * min(spans)
    (x0, y0), (x1, y1) = at((r - mr * half, z - mz * half)), at((r + mr * half, z + mz * half))
    dx, dy = (x1 - x0) * 0.3, (y1 - y0) * 0.3
    return (
        f'<path d="M{x0:.1f},{y0:.1f} L{x1:.1f},{y1:.1f} '
        f"M{x1 - dx - dy / 2:.1f},{y1 - dy + dx / 2:.1f} L{x1:.1f},{y1:.1f} "
        f'L{x1 - dx + dy / 2:.1f},{y1 - dy - dx / 2:.1f}" '
        'stroke="white" stroke-width="2.5" fill="none"/>'
    )


def _labels(regions, coil, at) -> list[str]:  # type: ignore[no-untyped-def]
    """Return part names in a column on the right, each with a leader line."""
    named = [(region.name.replace("_", " "), region.outline) for region in regions]
    named += list(coil)
    anchors = []
    for name, outline in named:
        r, z = _leader_foot(outline)
        x, y = at((r, z))
        anchors.append([y, x, y, name])
    anchors.sort()
    for above, below in itertools.pairwise(anchors):
        below[0] = max(below[0], above[0] + 17)
    column = WIDTH - LABEL_ROOM + 16
    lines = []
    for y_text, x, y, name in anchors:
        lines.append(
            f'<path d="M{x:.1f},{y:.1f} L{column - 16},{y_text:.1f} L{column - 5},{y_text:.1f}" '
            f'stroke="#333" stroke-width="0.8" fill="none"/><circle cx="{x:.1f}" cy="{y:.1f}" '
            f'r="2.2" fill="#333"/><text x="{column}" y="{y_text + 4:.1f}">{escape(name)}</text>'
        )
    return lines


def _leader_foot(outline: Sequence[Point]) -> Point:
    """Return a point inside the outline, towards its outer end."""
    from shapely import LineString, Polygon

    shape = Polygon(outline)
    _, z0, r1, z1 = shape.bounds
    for share in (0.5, 0.75, 0.25, 0.9, 0.1):
        z = z0 + share * (z1 - z0)
        cut = shape.intersection(LineString([(-1.0, z), (r1 + 1.0, z)]))
        if cut.length > 0:
            pieces = list(getattr(cut, "geoms", [cut]))
            last = max(pieces, key=lambda piece: piece.bounds[2])
            a, _, b, _ = last.bounds
            return b - 0.25 * min(b - a, z1 - z0), z
    point = shape.representative_point()
    return point.x, point.y


def _dimensions(gap, points, z_lowest, at) -> list[str]:  # type: ignore[no-untyped-def]
    """Return outer diameter and height as dimension lines, and the gap in words."""
    r_max = max(r for r, _ in points)
    z_min, z_max = min(z for _, z in points), max(z for _, z in points)
    x0, y = at((0.0, z_lowest))
    x1, _ = at((r_max, z_lowest))
    y += 22
    _, y_top = at((0.0, z_max))
    _, y_bottom = at((0.0, z_min))
    x = x0 - 26
    return [
        f'<path d="M{x0},{y - 5} V{y + 5} M{x1:.1f},{y - 5} V{y + 5} M{x0},{y} H{x1:.1f}" '
        'stroke="#333" stroke-width="0.8" fill="none"/>',
        f'<text x="{(x0 + x1) / 2:.1f}" y="{y + 16:.1f}" text-anchor="middle">'
        f"diameter {millimetres(2 * r_max)}</text>",
        f'<text x="{x0:.1f}" y="{y + 32:.1f}">gap from diameter '
        f"{millimetres(2 * gap.inner_radius)} to {millimetres(2 * gap.outer_radius)}: "
        f"{millimetres(gap.width)} wide, {millimetres(gap.depth)} deep</text>",
        f'<path d="M{x - 5},{y_top:.1f} H{x + 5} M{x - 5},{y_bottom:.1f} H{x + 5} '
        f'M{x},{y_top:.1f} V{y_bottom:.1f}" stroke="#333" stroke-width="0.8" fill="none"/>',
        f'<text transform="translate({x - 8},{(y_top + y_bottom) / 2:.1f}) rotate(-90)" '
        f'text-anchor="middle">height {millimetres(z_max - z_min)}</text>',
    ]
