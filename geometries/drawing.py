"""The half section of a motor as an SVG drawing, from nothing but its regions."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from html import escape

from geometries.dimensions import Span, dimensions
from geometries.regions import Gap, Point, Region, Role
from geometries.words import markup_line, one_line

__all__ = ["COIL_COLOUR", "PART_COLOURS", "section_svg"]

PART_COLOURS = {
    Role.STEEL: "#c9d1d6",
    Role.MAGNET: "#7a8fb3",
    Role.CONDUCTOR: "#e0a458",
}
"""Fill colours; neighbours differ in lightness, so that they survive a black-and-white print."""

COIL_COLOUR = "#9c3d22"
WIDTH = 680
LEFT, RIGHT, MARGIN = 74, 236, 40
"""Room in pixels for heights, for thicknesses and names, and above and below the dimensions."""
ROW = 21
"""Distance of dimension lines from one another in pixels."""
TEXT = 12
LINE, THIN = 'stroke="#333" stroke-width="0.8"', 'stroke="#888" stroke-width="0.5"'


def section_svg(
    regions: Sequence[Region],
    *,
    gap: Gap,
    coil: Sequence[tuple[str, Sequence[Point]]] = (),
    title: str = "",
    origin: str = "",
    marks: Sequence[Span] = (),
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
    origin : str
        What wrote the drawing, for its metadata.
    marks : sequence of Span
        Further dimensions, drawn where they are.
    """
    found = dimensions(regions, gap)
    points = [p for r in regions for p in r.outline] + [p for _, outline in coil for p in outline]
    r_max = max(r for r, _ in points)
    z_min, z_max = min(z for _, z in points), max(z for _, z in points)
    scale = (WIDTH - LEFT - RIGHT) / r_max
    head = one_line(title)
    top = (MARGIN + 18 if head else 16) + 3 * ROW
    bottom = top + (z_max - z_min) * scale
    height = bottom + len(found.diameters) * ROW + MARGIN + 12

    def at(point: Point) -> tuple[float, float]:
        return LEFT + point[0] * scale, top + (z_max - point[1]) * scale

    def path(outline: Sequence[Point]) -> str:
        return " ".join(f"{x:.2f},{y:.2f}" for x, y in map(at, outline))

    lines = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{WIDTH}" height="{height:.0f}" '
        f'viewBox="0 0 {WIDTH} {height:.0f}" font-family="sans-serif" font-size="12">',
        '<rect width="100%" height="100%" fill="white"/>',
        f"<metadata>{markup_line(origin)}</metadata>" if origin else "",
        f'<text x="{LEFT}" y="24" font-size="15">{escape(head)}</text>' if head else "",
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
            f"<title>{markup_line(name)}</title></polygon>"
        )
    lines.append(
        f'<line x1="{LEFT}" y1="{top - 10:.1f}" x2="{LEFT}" y2="{bottom + 10:.1f}" stroke="#333" '
        'stroke-dasharray="12 3 3 3"/>'
    )
    lines += _labels(regions, coil, at)
    lines += _radial_dimensions(found, at, top, bottom)
    lines += _axial_dimensions(found, at, at((r_max, 0.0))[0])
    for span in marks:
        lines += _marked(span, at)
    lines.append(
        f'<text x="{LEFT}" y="{height - 14:.1f}" fill="#555">dimensions in mm; gap '
        f"{_number(gap.width)} wide, {_number(gap.depth)} deep</text>"
    )
    return "\n".join([*filter(None, lines), "</svg>"])


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
    column = WIDTH - RIGHT + 86
    lines = []
    for y_text, x, y, name in anchors:
        lines.append(
            f'<path d="M{x:.1f},{y:.1f} L{column - 16},{y_text:.1f} L{column - 5},{y_text:.1f}" '
            f'{THIN} fill="none"/><circle cx="{x:.1f}" cy="{y:.1f}" '
            f'r="2.2" fill="#333"/><text x="{column}" y="{y_text + 4:.1f}">'
            f"{markup_line(name)}</text>"
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


def _number(value: float) -> str:
    """Return a length in mm as drawings write it, to the micrometre."""
    return f"{round(value * 1e3, 3):.7g}"


def _line(
    start: tuple[float, float], end: tuple[float, float], what: str, feet: str = ""
) -> list[str]:
    """Return a dimension line with a tick at each end, and its extension lines."""
    (x0, y0), (x1, y1) = start, end
    ticks = "".join(f"M{x - 4:.1f},{y + 4:.1f} L{x + 4:.1f},{y - 4:.1f} " for x, y in (start, end))
    return [
        f'<path d="{feet}" {THIN} fill="none"/>' if feet else "",
        f'<path d="{ticks}M{x0:.1f},{y0:.1f} L{x1:.1f},{y1:.1f}" {LINE} fill="none">'
        f"<title>{markup_line(what)}</title></path>",
    ]


def _words(x: float, y: float, text: str, *, anchor: str = "middle", upright: bool = True) -> str:
    """Return text on a white ground, so that no line runs through it."""
    width = 6.6 * len(text) + 4
    turn = "" if upright else f' transform="rotate(-90 {x:.1f} {y:.1f})"'
    left = {"middle": x - width / 2, "start": x - 2}[anchor]
    return (
        f'<g{turn}><rect x="{left:.1f}" y="{y - TEXT + 1:.1f}" width="{width:.1f}" '
        f'height="{TEXT + 2}" fill="white"/><text x="{x:.1f}" y="{y:.1f}" '
        f'text-anchor="{anchor}">{text}</text></g>'
    )


def _radial_dimensions(found, at, top, bottom) -> list[str]:  # type: ignore[no-untyped-def]
    """Return diameters below, and those and the width of the gap above.

    Half a diameter's line is drawn, from the axis outwards.
    """
    lines = []
    rows = [(span, bottom + 4 + (k + 1) * ROW) for k, span in enumerate(found.diameters)]
    rows += [(span, top - 10 - (k + 1) * ROW) for k, span in enumerate(found.gap_diameters)]
    for span, y in rows:
        x, foot = at(span.end)
        lines += _line((LEFT, y), (x, y), span.what, f"M{x:.1f},{foot:.1f} V{y:.1f}")
        lines.append(_words((LEFT + x) / 2, y + 4, f"\u2300 {_number(2 * span.radial)}"))
    width, y = found.gap_width, top - 10.0
    (x0, foot), (x1, _) = at(width.start), at(width.end)
    feet = f"M{x0:.1f},{foot:.1f} V{y - 4:.1f} M{x1:.1f},{foot:.1f} V{y - 4:.1f}"
    lines += _line((x0, y), (x1, y), width.what, f"{feet} M{x1:.1f},{y:.1f} h14")
    lines.append(_words(x1 + 16, y + 4, _number(width.radial), anchor="start"))
    return lines


def _marked(span: Span, at) -> list[str]:  # type: ignore[no-untyped-def]
    """Return a dimension in its place, with its name; a diameter where it starts on the axis."""
    start, end = at(span.start), at(span.end)
    across = span.start[0] == 0 and span.axial == 0
    size = (
        f"\u2300 {_number(2 * span.radial)}"
        if across
        else _number(math.hypot(span.radial, span.axial))
    )
    x, y = (start[0] + end[0]) / 2, (start[1] + end[1]) / 2
    return [*_line(start, end, span.what), _words(x, y + 4, f"{markup_line(span.what)} {size}")]


def _axial_dimensions(found, at, right) -> list[str]:  # type: ignore[no-untyped-def]
    """Return gap depth and height on the left, the stack of thicknesses on the right."""
    lines = []
    for span, x in ((found.gap_depth, LEFT - 20), (found.height, LEFT - 20 - ROW)):
        (x0, y0), (x1, y1) = at(span.start), at(span.end)
        feet = f"M{x0:.1f},{y0:.1f} H{x:.1f} M{x1:.1f},{y1:.1f} H{x:.1f}"
        lines += _line((x, y0), (x, y1), span.what, feet)
        lines.append(_words(x + 4, (y0 + y1) / 2, _number(span.axial), upright=False))
    x, lowest = right + 16, float("inf")
    for span in found.stack:
        (_, y0), (_, y1) = at(span.start), at(span.end)
        feet = f"M{right + 3:.1f},{y0:.1f} H{x:.1f} M{right + 3:.1f},{y1:.1f} H{x:.1f}"
        lines += _line((x, y0), (x, y1), span.what, feet)
        lowest = min((y0 + y1) / 2 + 4, lowest - TEXT - 2)
        lines.append(_words(x + 9, lowest, _number(span.axial), anchor="start"))
    return lines
