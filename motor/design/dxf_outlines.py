"""Closed outlines read from a DXF drawing, layer by layer, in mm from the axis.

Lines and arcs stay what they are; ellipses and splines are divided to a tolerance.  A full
section is cut at the axis, and its left half must mirror its right one.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from geometries import Corner, InvalidInput, Point
from geometries.arcs import TOLERANCE, arc_through

__all__ = ["Outline", "read_dxf"]

JOIN = 1e-3
"""Ends of lines and arcs within this meet, mm."""
ON_AXIS = 1e-6
"""Points within this of the axis lie on it, mm."""
DIVIDED = TOLERANCE * 1e3
"""Greatest distance between an ellipse or spline and its sides, mm."""
SAME_AREA = 1e-6
"""Halves of a full section may differ by this share of their area."""
NOTES = {
    "TEXT", "MTEXT", "DIMENSION", "HATCH", "POINT", "LEADER", "MULTILEADER", "MLEADER", "ATTDEF",
    "ATTRIB", "TOLERANCE", "VIEWPORT", "IMAGE", "XLINE", "RAY", "WIPEOUT", "ARC_DIMENSION",
}  # fmt: skip
"""Entities that draw no part."""
BESIDE = (
    "edges-behind", "dimension-lines", "section-hatching", "title-and-notes", "part-details",
    "coil-winding", "coil-former",
)  # fmt: skip
"""Layers of the program's own drawings that hold no part."""
HEADER_UNITS = {1: 25.4, 2: 304.8, 4: 1.0, 5: 10.0, 6: 1e3, 13: 1e-3, 14: 100.0}
"""mm for each code of $INSUNITS that is a sensible length."""
AXIS_LAYERS = ("axis-line", "axis", "centre", "center", "centreline", "centerline")


@dataclass(frozen=True)
class _Side:
    """A line, or an arc through a point, of a drawing."""

    start: Point
    end: Point
    through: Point | None
    entity: str


@dataclass(frozen=True)
class Outline:
    """A closed outline of a layer.

    Parameters
    ----------
    layer : str
    corners : tuple of Corner
        Points in mm from the axis.
    """

    layer: str
    corners: tuple[Corner, ...]


def read_dxf(
    path: str | Path, *, unit: str = "", axis: float | None = None, skip: tuple[str, ...] = ()
) -> list[Outline]:
    """Return the outlines of a drawing.

    Parameters
    ----------
    path : path
    unit : str
        "mm", "cm", "m" or "in"; "" for the drawing's header.
    axis : float or None
        Where the axis stands, in x and the drawing's unit; None for a vertical line on a layer
        called axis, axis-line or centre, else the middle of a symmetrical drawing, else x = 0.
    skip : tuple of str
        Layers to leave out, beside the annotations and the coil of the program's own drawings.

    Raises
    ------
    InvalidInput
        With layer and entity, where a drawing cannot be read.
    """
    import ezdxf

    try:
        doc = ezdxf.readfile(str(path))
    except FileNotFoundError:
        raise InvalidInput("drawing", "exist", str(path)) from None
    except Exception as cause:  # the reader trips over what is no DXF file in many ways
        raise InvalidInput("drawing", "be a DXF file", f"{path}: {cause}") from None
    scale = _scale(unit, int(doc.header.get("$INSUNITS", 0)))
    layers: dict[str, list[_Side]] = {}
    axes: list[float] = []
    for entity in _flat(doc.modelspace()):
        layer = _layer(entity)
        if layer.lower() in AXIS_LAYERS:
            if entity.dxftype() == "LINE" and abs(entity.dxf.start.x - entity.dxf.end.x) < 1e-9:
                axes.append(entity.dxf.start.x * scale)
            continue
        if entity.dxftype() in NOTES or layer in skip or layer in BESIDE:
            continue
        layers.setdefault(layer, []).extend(_sides(entity, layer, scale))
    if not layers:
        raise InvalidInput("drawing", "hold lines or arcs on the layers of its parts", str(path))
    loops = {layer: _loops(layer, sides) for layer, sides in layers.items()}
    place = _axis(loops, axes, None if axis is None else axis * scale)
    found: list[Outline] = []
    for layer, closed in loops.items():
        found += [Outline(layer, corners) for corners in _right_half(layer, closed, place)]
    return found


def _layer(entity: Any) -> str:
    """Return an entity's layer; "0", the drawing's own, for what is no drawn thing."""
    return str(entity.dxf.get("layer", "0")) if entity.dxf.is_supported("layer") else "0"


def _scale(unit: str, header: int) -> float:
    """Return mm per unit of the drawing."""
    named = {"mm": 1.0, "cm": 10.0, "m": 1e3, "in": 25.4}
    if unit:
        if unit not in named:
            raise InvalidInput("unit", f"be one of {', '.join(named)}", repr(unit))
        return named[unit]
    if header == 0:
        raise InvalidInput("unit", "be given, since the drawing's header names none", "nothing")
    if header not in HEADER_UNITS:
        raise InvalidInput("unit", f"be given as one of {', '.join(named)}", f"code {header}")
    return HEADER_UNITS[header]


def _flat(entities: Any, depth: int = 0) -> Iterator[Any]:
    """Yield entities, those inside inserted blocks too."""
    for entity in entities:
        if entity.dxftype() == "INSERT":
            if depth > 8:
                raise InvalidInput(_named(entity), "not hold itself", "a block in a block")
            yield from _flat(entity.virtual_entities(), depth + 1)
        else:
            yield entity


def _named(entity: Any) -> str:
    handle = entity.dxf.get("handle") or "in a block"
    return f"layer {_layer(entity)!r}, {entity.dxftype()} {handle}"


def _sides(entity: Any, layer: str, scale: float) -> Iterator[_Side]:
    """Yield the lines and arcs of an entity in mm."""
    kind, name = entity.dxftype(), _named(entity)

    def at(x: float, y: float) -> Point:
        if not (math.isfinite(x) and math.isfinite(y)):
            raise InvalidInput(name, "consist of finite numbers", (x, y))
        return (float(x) * scale, float(y) * scale)

    if kind == "LINE":
        start, end = entity.dxf.start, entity.dxf.end
        yield _Side(at(start.x, start.y), at(end.x, end.y), None, name)
    elif kind in ("ARC", "CIRCLE"):
        first = entity.dxf.get("start_angle", 0.0) if kind == "ARC" else 0.0
        sweep = (entity.dxf.end_angle - first) % 360 or 360.0 if kind == "ARC" else 360.0
        centre, radius = entity.ocs().to_wcs(entity.dxf.center), entity.dxf.radius
        turn = -1.0 if entity.dxf.extrusion.z < 0 else 1.0
        start = math.radians(180.0 - first if turn < 0 else first)
        angles = [start + turn * math.radians(sweep) * k / 4 for k in range(5)]
        points = [
            at(centre.x + radius * math.cos(t), centre.y + radius * math.sin(t)) for t in angles
        ]
        if kind == "CIRCLE":
            points[4] = points[0]
        yield _Side(points[0], points[2], points[1], name)
        yield _Side(points[2], points[4], points[3], name)
    elif kind == "LWPOLYLINE" or (kind == "POLYLINE" and entity.is_2d_polyline):
        for piece in entity.virtual_entities():
            yield from (_Side(s.start, s.end, s.through, name) for s in _sides(piece, layer, scale))
    elif kind in ("ELLIPSE", "SPLINE"):
        points = [at(p.x, p.y) for p in entity.flattening(DIVIDED / scale)]
        for one, other in itertools.pairwise(points):
            yield _Side(one, other, None, name)
    else:
        raise InvalidInput(name, "be a line, arc, circle, polyline, ellipse or spline", kind)


def _loops(layer: str, sides: list[_Side]) -> list[list[_Side]]:
    """Return the closed loops that sides of a layer form, whichever way each was drawn."""
    waiting = [s for s in sides if math.dist(s.start, s.end) > 1e-9 or s.through is not None]
    found = []
    while waiting:
        chain = [waiting.pop(0)]
        while math.dist(chain[-1].end, chain[0].start) > JOIN:
            here = chain[-1].end
            nearest = min(
                (
                    (min(math.dist(here, s.start), math.dist(here, s.end)), k)
                    for k, s in enumerate(waiting)
                ),
                default=(math.inf, 0),
            )
            if nearest[0] > JOIN:
                raise InvalidInput(
                    chain[-1].entity,
                    "belong to a closed outline",
                    f"an open end at x = {here[0]:.6g} mm, y = {here[1]:.6g} mm",
                )
            side = waiting.pop(nearest[1])
            if math.dist(here, side.end) < math.dist(here, side.start):
                side = _Side(side.end, side.start, side.through, side.entity)
            chain.append(side)
        found.append(chain)
    return found


def _points(loop: list[_Side]) -> list[Point]:
    """Return a loop as straight sides."""
    points: list[Point] = []
    for side in loop:
        if side.through is None:
            points.append(side.end)
        else:
            points += arc_through(side.start, side.through, side.end, DIVIDED)
    return points


def _axis(loops: Mapping[str, list[list[_Side]]], axes: list[float], told: float | None) -> float:
    """Return the axis' x in mm."""
    points = [p for closed in loops.values() for loop in closed for p in _points(loop)]
    low, high = min(x for x, _ in points), max(x for x, _ in points)
    if told is not None:
        return told
    if axes:
        if max(axes) - min(axes) > ON_AXIS:
            raise InvalidInput("axis", "be one line", f"lines at x = {axes[0]:.6g} and others")
        return axes[0]
    if low >= -ON_AXIS:
        return 0.0
    middle = (low + high) / 2
    mirrored = {(round(2 * middle - x, 4), round(y, 4)) for x, y in points}
    if mirrored == {(round(x, 4), round(y, 4)) for x, y in points}:
        return middle
    raise InvalidInput(
        "axis",
        "be told, since the drawing has no axis line, is not symmetrical and has points at x < 0",
        f"x from {low:.6g} to {high:.6g} mm",
    )


def _right_half(layer: str, loops: list[list[_Side]], axis: float) -> list[tuple[Corner, ...]]:
    """Return the outlines right of the axis; the left half must mirror them."""
    import shapely

    shapes = []
    for loop in loops:
        shape = shapely.Polygon([(x - axis, y) for x, y in _points(loop)])
        if not shape.is_valid or not shape.area > 0:
            raise InvalidInput(
                loop[0].entity, "draw an outline that has an area and does not cross itself",
                shapely.is_valid_reason(shape).replace("[", "at [") if shape.area else "no area",
            )  # fmt: skip
        shapes.append(shape)
    left = shapely.box(-1e6, -1e6, 0.0, 1e6)
    right = shapely.box(0.0, -1e6, 1e6, 1e6)
    filled = shapes[0]
    for shape in shapes[1:]:
        filled = filled.symmetric_difference(shape)
    halves = [filled.intersection(side) for side in (left, right)]
    if halves[0].area > SAME_AREA * halves[1].area and halves[1].area > 0:
        mirrored = shapely.transform(halves[0], lambda p: p * [-1.0, 1.0])
        if mirrored.symmetric_difference(halves[1]).area > SAME_AREA * halves[1].area + 1e-6:
            raise InvalidInput(
                f"layer {layer!r}", "be drawn alike on both sides of the axis",
                f"{halves[0].area:.6g} mm2 left and {halves[1].area:.6g} mm2 right of it",
            )  # fmt: skip
    found = []
    for face in shapely.get_parts(halves[1]):
        if face.geom_type != "Polygon" or not face.area > 0:
            continue
        if face.interiors:
            raise InvalidInput(
                f"layer {layer!r}", "have no hole inside its half section: split the part", "a hole"
            )
        drawn = next(
            (
                loop
                for loop, shape in zip(loops, shapes, strict=True)
                if shape.bounds[0] >= -ON_AXIS and shape.equals(face)
            ),
            None,
        )
        if drawn is not None:
            found.append(tuple(_corner(side, axis) for side in drawn))
        else:
            found.append(tuple(Corner((x, y)) for x, y in face.exterior.coords[:-1]))
    if not found:
        raise InvalidInput(f"layer {layer!r}", "have an outline right of the axis", "none")
    return found


def _corner(side: _Side, axis: float) -> Corner:
    def place(point: Point) -> Point:
        x = point[0] - axis
        return (0.0 if abs(x) < ON_AXIS else x, point[1])

    return Corner(place(side.end), None if side.through is None else place(side.through))
