"""The dimensioned full section as DXF, millimetres, one layer a part."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from geometries import Point, Role
from geometries.dimensions import Dimensions, Span, dimensions
from geometries.drawing import places
from geometries.part_dimensions import number
from geometries.words import one_line
from motor.base.program import stamp
from motor.base.whole_files import whole_file
from motor.report.files.bodies import Body, bodies_of
from motor.report.files.coil_views import coil_notes
from motor.report.files.dxf_details import add_details
from motor.report.files.section import cut_faces, edges_behind
from motor.report.files.sheet import fits_of

if TYPE_CHECKING:
    from motor.design.design import Design

__all__ = ["write_dxf"]

AXIS, BEHIND, DIMENSIONS, HATCHING, NOTES, DETAILS = (
    "axis-line",
    "edges-behind",
    "dimension-lines",
    "section-hatching",
    "title-and-notes",
    "part-details",
)
"""Layers beside those of the bodies; a region's name has no hyphen."""

HATCH = {Role.STEEL: "ANSI31", Role.MAGNET: "ANSI37", Role.CONDUCTOR: "ANSI32", None: "SOLID"}
COLOUR = {Role.STEEL: 250, Role.MAGNET: 154, Role.CONDUCTOR: 34, None: 24}
"""Hatch pattern and index of colour of each kind of body; None is the coil."""
MM = 1e3
LETTERS_ACROSS = 45
"""Size of the section over the height of letters."""
LEAST_WEIGHT, OUTLINE_WEIGHT = 18, 50
"""Line weights in hundredths of a millimetre."""


def write_dxf(design: Design, path: str | Path) -> None:
    """Write the full section with centre line, hatching, dimensions and title.

    Every part is drawn in closed polylines on a layer of its region's name; the coil, at rest,
    on ``coil-winding`` and ``coil-former``.  x is r, y is z, the middle of the gap at y = 0;
    right of the axis x is positive.

    Raises
    ------
    OutputError
        If the file cannot be written.
    """
    import ezdxf
    from ezdxf import units

    bodies = bodies_of(design)
    found = dimensions(design.regions, design.geometry.gap)
    points = [p for body in bodies for p in body.outline]
    width = max(r for r, _ in points) * MM
    low, high = min(z for _, z in points) * MM, max(z for _, z in points) * MM
    letter = max(2 * width, high - low) / LETTERS_ACROSS
    doc = ezdxf.new("R2010", units=units.MM, setup=["linetypes"])
    doc.header["$LTSCALE"] = letter / 3
    doc.header.custom_vars.append("program", stamp())
    _add_layers(doc, bodies)
    _add_dimension_style(doc, letter)
    space = doc.modelspace()
    for k, body in enumerate(bodies):
        _add_body(space, body, letter, 90.0 * (k % 2), body.name)
    for inner, outer, z in edges_behind([body.outline for body in bodies]):
        sides = [(-outer, outer)] if inner == 0 else [(-outer, -inner), (inner, outer)]
        for start, end in sides:
            space.add_line((start * MM, z * MM), (end * MM, z * MM), {"layer": BEHIND})
    ends = (0.0, low - letter), (0.0, high + letter)
    space.add_line(*ends, {"layer": AXIS})
    top = _add_dimensions(space, found, (width, low, high), letter)
    _add_places(space, places(design.regions, design.geometry.gap), (width, low), letter)
    for span in design.geometry.marked:
        _add_mark(space, span)
    _add_text(space, design, (-width, top + 3 * letter), letter)
    columns = 2.4 * letter * (len(places(design.regions, design.geometry.gap)) + 2)

    def draw(body: Body, shift: tuple[float, float]) -> None:
        _add_body(space, body, letter, 0.0, DETAILS, shift)

    corner = (width + columns, low)
    add_details(space, bodies, corner, letter, (DETAILS, DIMENSIONS), draw)
    doc.set_modelspace_vport(1.6 * (high - low), ((0.0, (low + high) / 2)))
    with whole_file(path) as hidden:
        doc.saveas(hidden)


def _add_layers(doc: Any, bodies: Sequence[Body]) -> None:
    for body in bodies:
        layer = doc.layers.add(body.name, color=COLOUR[body.role])
        layer.dxf.lineweight = OUTLINE_WEIGHT if body.role else LEAST_WEIGHT
    for name, colour, line in (
        (BEHIND, 250, "CONTINUOUS"),
        (HATCHING, 252, "CONTINUOUS"),
        (AXIS, 7, "CENTER"),
        (DETAILS, 250, "CONTINUOUS"),
        (DIMENSIONS, 7, "CONTINUOUS"),
        (NOTES, 7, "CONTINUOUS"),
    ):
        doc.layers.add(name, color=colour, linetype=line, lineweight=LEAST_WEIGHT)


def _add_dimension_style(doc: Any, letter: float) -> None:
    doc.dimstyles.new(
        "section",
        dxfattribs={
            "dimtxt": letter,
            "dimasz": 0.9 * letter,
            "dimexo": 0.4 * letter,
            "dimexe": 0.6 * letter,
            "dimgap": 0.4 * letter,
            "dimtad": 1,
            "dimdec": 3,
            "dimzin": 8,
            "dimdsep": ord("."),
            "dimtih": 0,
            "dimtoh": 0,
        },
    )


def _add_body(
    space: Any,
    body: Body,
    letter: float,
    angle: float,
    layer: str,
    shift: tuple[float, float] = (0.0, 0.0),
) -> None:
    """Draw a body's cut faces, shifted by mm, and hatch them, the pattern turned by degrees."""
    pattern = HATCH[body.role]
    for loops in cut_faces(body.outline):
        hatch = space.add_hatch(color=256, dxfattribs={"layer": HATCHING})
        if pattern == "SOLID":
            hatch.dxf.color = COLOUR[body.role]
        else:
            hatch.set_pattern_fill(pattern, scale=letter / 3, angle=angle)
        for k, loop in enumerate(loops):
            path = [(x * MM + shift[0], z * MM + shift[1]) for x, z in loop]
            space.add_lwpolyline(path, close=True, dxfattribs={"layer": layer})
            hatch.paths.add_polyline_path(path, is_closed=True, flags=1 if k == 0 else 16)


def _add_dimensions(
    space: Any, found: Dimensions, frame: tuple[float, float, float], letter: float
) -> float:
    """Draw the dimensions around the section; return the height in mm that they reach up to."""
    width, low, high = frame
    step = 2.4 * letter

    def measure(
        span: Span,
        base: tuple[float, float],
        angle: float,
        text: str = "<>",
        place: tuple[float, float] | None = None,
    ) -> None:
        """Draw one dimension line through ``base``, its text at ``place``; diameters reach across.

        Points and lengths in mm, but for the span.
        """
        mirrored = text != "<>"
        start = (-span.end[0], span.end[1]) if mirrored else span.start
        line = space.add_linear_dim(
            base=base,
            p1=(start[0] * MM, start[1] * MM),
            p2=(span.end[0] * MM, span.end[1] * MM),
            angle=angle,
            dimstyle="section",
            text=text,
            dxfattribs={"layer": DIMENSIONS},
        )
        if place is not None:
            line.set_location(place)
        line.render()

    row = low - 0.6 * letter
    for span in found.diameters:
        row -= step
        measure(span, (0.0, row), 0, "%%c<>")
    top = high + 0.6 * letter + step
    beside = found.gap_width.end[0] * MM + 3.5 * letter
    measure(found.gap_width, (0.0, top), 0, place=(beside, top + 0.9 * letter))
    for span in found.gap_diameters:
        top += step
        measure(span, (0.0, top), 0, "%%c<>")
    for span in found.stack:
        edge = Span(span.what, (width / MM, span.start[1]), (width / MM, span.end[1]))
        measure(edge, (width + step, 0.0), 90)
    depth, height = found.gap_depth, found.height
    left = Span(depth.what, (-depth.start[0], depth.start[1]), (-depth.end[0], depth.end[1]))
    measure(left, (-width - step, 0.0), 90)
    left = Span(height.what, (-height.start[0], height.start[1]), (-height.end[0], height.end[1]))
    measure(left, (-width - 2 * step, 0.0), 90)
    return top


def _add_places(
    space: Any, found: Sequence[Point], corner: tuple[float, float], letter: float
) -> None:
    """Draw heights above the lowest point, one column each, right of a corner in mm."""
    width, low = corner
    for k, (r, z) in enumerate(found[1:]):
        space.add_linear_dim(
            base=(width + 2.4 * letter * (k + 2), low),
            p1=(found[0][0] * MM, found[0][1] * MM),
            p2=(r * MM, z * MM),
            angle=90,
            dimstyle="section",
            dxfattribs={"layer": DIMENSIONS},
        ).render()


def _add_mark(space: Any, span: Span) -> None:
    """Draw a marked dimension in its place, across for a diameter."""
    across = span.start[0] == 0 and span.axial == 0
    start = (-span.end[0], span.end[1]) if across else span.start
    space.add_aligned_dim(
        p1=(start[0] * MM, start[1] * MM),
        p2=(span.end[0] * MM, span.end[1] * MM),
        distance=0.0,
        dimstyle="section",
        text="%%c<>" if across else "<>",
        dxfattribs={"layer": DIMENSIONS},
    ).render()


def _add_text(space: Any, design: Design, corner: tuple[float, float], letter: float) -> None:
    """Write title and notes upwards from their lower left corner in mm."""
    lines = [f"{stamp()}; full section, coil at rest; all dimensions in mm"]
    fits = [f"{one} on {other} \u2300 {number(2 * r)}" for one, other, r in fits_of(design.regions)]
    lines += [f"Fits to be agreed: {'; '.join(fits)}."] if fits else []
    lines += coil_notes(design)[::-1]
    lines += [line for line in design.notes.splitlines() if line.strip()][::-1]
    x, y = corner
    attributes = {"layer": NOTES}
    for line in lines:
        space.add_text(_plain(line), height=letter, dxfattribs=attributes).set_placement((x, y))
        y += 1.7 * letter
    title = _plain(design.name)
    if title:
        text = space.add_text(title, height=1.6 * letter, dxfattribs=attributes)
        text.set_placement((x, y))


def _plain(text: str) -> str:
    """Return text as one line without what the format reads as a code."""
    return one_line(text).replace("%%", "% %").replace("^", "^ ").replace("\u2300", "%%c")
