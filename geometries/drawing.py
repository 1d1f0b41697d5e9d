"""The half section of a motor as an SVG drawing, from nothing but its regions."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from geometries.dimensions import SAME, Span, dimensions
from geometries.part_dimensions import levels
from geometries.regions import Gap, Point, Region
from geometries.views import LOOKS, View
from geometries.words import markup_line, one_line

__all__ = ["assembly", "places", "section_svg"]

LETTER, ACROSS = 12.0, 380.0
"""Height of letters and width of the section in pixels."""
TITLE, MARGIN = 15.0, 14.0


def section_svg(
    regions: Sequence[Region],
    *,
    gap: Gap,
    coil: Sequence[tuple[str, Sequence[Point]]] = (),
    title: str = "",
    origin: str = "",
    marks: Sequence[Span] = (),
    look: str = "light",
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
    look : str
        One of :data:`geometries.views.LOOKS`.
    """
    scale = ACROSS / max(r for region in regions for r, _ in region.outline)
    view = assembly(regions, gap, coil, marks, View(scale, LETTER, LOOKS[look]))
    head, box = one_line(title), view.box
    left, top = box.left - MARGIN, box.top - MARGIN - (2 * TITLE if head else 0)
    width = max(box.right + MARGIN, left + 0.6 * TITLE * len(head)) - left
    foot = box.bottom + 2 * LETTER
    height = foot + MARGIN - top
    return "\n".join(
        filter(
            None,
            [
                f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:.0f}" '
                f'height="{height:.0f}" viewBox="{left:.1f} {top:.1f} {width:.1f} {height:.1f}" '
                'font-family="sans-serif">',
                f'<rect x="{left:.1f}" y="{top:.1f}" width="100%" height="100%" fill="white"/>',
                f"<metadata>{markup_line(origin)}</metadata>" if origin else "",
                view.define(),
                f'<text x="{box.left:.1f}" y="{top + MARGIN + TITLE:.1f}" '
                f'font-size="{TITLE:g}">{escape(head)}</text>'
                if head
                else "",
                *view.drawing,
                f'<text x="{box.left:.1f}" y="{foot:.1f}" font-size="{LETTER:g}" fill="#555">'
                "dimensions in mm; heights in the outer column from the lowest face</text>",
                "</svg>",
            ],
        )
    )


def assembly(
    regions: Sequence[Region],
    gap: Gap,
    coil: Sequence[tuple[str, Sequence[Point]]],
    marks: Sequence[Span],
    view: View,
) -> View:
    """Draw all parts and the coil with outer sizes, gap, and where each part stands."""
    found = dimensions(regions, gap)
    for region in regions:
        view.part(region)
    for name, outline in coil:
        view.coil(name, outline)
    view.axis()
    named = [(region.name.replace("_", " "), region.outline) for region in regions]
    named += [(name.replace("_", " "), tuple(outline)) for name, outline in coil]
    view.notes([(name, _foot(outline)) for name, outline in named])
    view.diameters(found.diameters, "below")
    view.width(found.gap_width)
    view.diameters(found.gap_diameters, "above")
    view.chain(found.stack)
    depth = found.gap_depth
    if all(
        abs(span.end[1] - depth.end[1]) + abs(span.axial - depth.axial) > SAME
        for span in found.stack
    ):
        view.chain([Span(depth.what, (gap.outer_radius, gap.bottom), (gap.outer_radius, gap.top))])
    view.running(places(regions, gap))
    for span in marks:
        view.marked(span)
    return view


def places(regions: Sequence[Region], gap: Gap) -> tuple[Point, ...]:
    """Return where the parts end, below and above, and the gap; the lowest height first."""
    ends = [f(region.outline, key=lambda p: p[1]) for region in regions for f in (min, max)]
    edges = [(one.outer_radius, z) for one in (gap, *gap.further) for z in (one.bottom, one.top)]
    return levels([*ends, *edges])


def _foot(outline: Sequence[Point]) -> Point:
    """Return a point inside an outline, near its end on the axis' side."""
    from shapely import LineString, Polygon

    shape = Polygon(outline)
    _, z0, r1, z1 = shape.bounds
    for share in (0.5, 0.75, 0.25, 0.9, 0.1):
        z = z0 + share * (z1 - z0)
        cut = shape.intersection(LineString([(-1.0, z), (r1 + 1.0, z)]))
        if cut.length > 0:
            pieces = list(getattr(cut, "geoms", [cut]))
            first = min(pieces, key=lambda piece: piece.bounds[0])
            a, _, b, _ = first.bounds
            return a + 0.25 * min(b - a, z1 - z0), z
    point = shape.representative_point()
    return point.x, point.y
