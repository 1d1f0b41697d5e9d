"""Dimensions, points and parts of a drawing, and the outlines they give."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from geometries.arcs import TOLERANCE, arc_through, rounded
from geometries.dimensions import Span
from geometries.errors import InvalidInput, millimetres
from geometries.formulas import FUNCTIONS, Formula, evaluate
from geometries.regions import AXIAL_DOWN, AXIAL_UP, RADIAL_IN, RADIAL_OUT, Point, Role

__all__ = [
    "DIRECTIONS",
    "RESERVED",
    "Corner",
    "Dimension",
    "DrawnPart",
    "Place",
    "check_name",
    "coordinate",
    "direction",
    "outline_of",
    "place_of",
    "span_of",
]

Place = tuple[Formula, Formula]
"""Formulas for r and z in mm."""

DIRECTIONS = {"up": AXIAL_UP, "down": AXIAL_DOWN, "outward": RADIAL_OUT, "inward": RADIAL_IN}
"""Magnetisations by name; any other is an angle in degrees from outward towards up."""
RESERVED = ("kind", "formulas", "gap", "further_gaps", "roles", "parts", "rings", *FUNCTIONS)
SAME = 1e-3
"""Drawn dimensions agree with their values to this, mm."""
FARTHEST = 1e3
"""Coordinates stay within this, mm."""


@dataclass(frozen=True)
class Dimension:
    """A named dimension of a drawing.

    Parameters
    ----------
    name : str
        Lower-case identifier.
    value : float
        Metres, radians, or a plain number.
    quantity : str
        "length", "angle" or "number".
    doc : str
        What it is, in words.
    ends : (place, place) or None
        Between which points drawings show it: a length, or a diameter from the axis.
    """

    name: str
    value: float
    quantity: str = "length"
    doc: str = ""
    ends: tuple[Place, Place] | None = None

    def __post_init__(self) -> None:
        check_name(self.name)
        number = isinstance(self.value, int | float) and not isinstance(self.value, bool)
        if not number or not math.isfinite(self.value):
            raise InvalidInput(self.name, f"be a finite {self.quantity}", repr(self.value))
        if self.quantity == "length" and abs(self.value) > FARTHEST * 1e-3:
            raise InvalidInput(
                self.name, f"be within {FARTHEST:g} mm of 0", millimetres(self.value)
            )
        if self.ends is not None and self.quantity != "length":
            raise InvalidInput(self.name, "be a length to be drawn between points", self.quantity)

    @property
    def number(self) -> float:
        """What formulas see: mm, degrees, or the plain number."""
        if self.quantity == "length":
            return float(f"{self.value * 1e3:.15g}")
        if self.quantity == "angle":
            return float(f"{math.degrees(self.value):.12g}")
        return float(self.value)

    @property
    def text(self) -> str:
        """The value with its unit, for reading."""
        unit = {"length": " mm", "angle": " deg"}.get(self.quantity, "")
        return f"{self.number:.6g}{unit}"


@dataclass(frozen=True)
class Corner:
    """A point of an outline, and how the outline goes through it or gets there.

    Parameters
    ----------
    at : (r, z)
        Formulas, mm.
    through : (r, z) or None
        A point on the arc from the point before to this one.
    round, chamfer : formula
        Radius of a rounding, or length of the legs of a chamfer, mm; 0 for a sharp corner.
    kept : bool
        Whether it stays a point where the outline runs straight through it; not part of files.
    """

    at: Place
    through: Place | None = None
    round: Formula = 0.0
    chamfer: Formula = 0.0
    kept: bool = False


@dataclass(frozen=True)
class DrawnPart:
    """A part as drawn.

    Parameters
    ----------
    name : str
    role : Role
    outline : tuple of Corner
        Closed: the last point joins the first.
    magnetisation : str
        A word of :data:`DIRECTIONS` or a formula for an angle in degrees; "" for no magnet.
    material : str
        Of a conductor; magnets and steel get theirs from the design.
    scale_r : formula
        Factor on all radii; first of the changes of the whole outline.
    offset : formula
        How far every edge moves outwards, mm (negative: inwards).
    move : (r, z)
        Formulas for how far the part moves, mm; last.
    """

    name: str
    role: Role
    outline: tuple[Corner, ...]
    magnetisation: str = ""
    material: str = ""
    scale_r: Formula = 1.0
    offset: Formula = 0.0
    move: Place = (0.0, 0.0)


def check_name(name: str) -> None:
    """Raise InvalidInput unless a name may stand for a dimension or formula."""
    if not re.fullmatch(r"[a-z][a-z0-9_]{0,60}", name) or name in RESERVED:
        raise InvalidInput(
            "the name of a dimension or formula",
            f"be a lower-case identifier other than {', '.join(RESERVED)}",
            repr(name[:80]),
        )


def coordinate(formula: Formula, numbers: Mapping[str, float], field: str) -> float:
    """Return a formula's value in mm; InvalidInput if it lies far outside a drawing."""
    value = evaluate(formula, numbers, field)
    if abs(value) > FARTHEST:
        raise InvalidInput(field, f"be within {FARTHEST:g} mm of 0", f"{value:.6g} mm")
    return value


def span_of(dimension: Dimension, numbers: Mapping[str, float], middle: float) -> Span:
    """Return where a marked dimension is drawn; InvalidInput if the points do not span it.

    ``middle`` is the height of the gap's middle in the drawing, mm.
    """
    assert dimension.ends is not None
    field = f"{dimension.name}, from and to"
    (r0, z0), (r1, z1) = (_place(place, numbers, field) for place in dimension.ends)
    apart = math.hypot(r1 - r0, z1 - z0)
    diameter = r0 == 0 and z0 == z1 and abs(2 * apart - dimension.number) < SAME
    if abs(apart - dimension.number) > SAME and not diameter:
        raise InvalidInput(field, f"span its {dimension.text}", f"points {apart:.6g} mm apart")
    ends = ((r, z - middle) for r, z in ((r0, z0), (r1, z1)))
    start, end = ((r * 1e-3, z * 1e-3) for r, z in ends)
    return Span(dimension.name.replace("_", " "), start, end)


def _place(place: Place, numbers: Mapping[str, float], field: str) -> Point:
    return (
        coordinate(place[0], numbers, f"{field}, r"),
        coordinate(place[1], numbers, f"{field}, z"),
    )


def place_of(corner: Corner, numbers: Mapping[str, float], field: str) -> Point:
    """Return where a corner stands before it is cut, mm."""
    return _place(corner.at, numbers, field)


def direction(part: DrawnPart, numbers: Mapping[str, float]) -> Point | None:
    """Return the direction of a part's magnetisation (r, z), None for no magnet."""
    if not part.magnetisation:
        return None
    if part.magnetisation in DIRECTIONS:
        return DIRECTIONS[part.magnetisation]
    angle = math.radians(evaluate(part.magnetisation, numbers, f"magnetisation of {part.name}"))
    return (math.cos(angle), math.sin(angle))


def outline_of(part: DrawnPart, numbers: Mapping[str, float]) -> list[Point]:
    """Return the points of a part in mm, arcs divided."""
    where = [f"{part.name}, point {k}" for k in range(1, len(part.outline) + 1)]
    corners = [_place(c.at, numbers, w) for c, w in zip(part.outline, where, strict=True)]
    found: list[Point] = []
    taken: list[tuple[float, float]] = []
    for k, corner in enumerate(part.outline):
        before, here, after = corners[k - 1], corners[k], corners[(k + 1) % len(corners)]
        if corner.through is not None:
            middle = _place(corner.through, numbers, f"{where[k]}, through")
            found += arc_through(before, middle, here, TOLERANCE * 1e3)
            taken.append((0.0, 0.0))
            continue
        pieces, leg = _cut(corner, (before, here, after), numbers, where[k])
        if leg and part.outline[(k + 1) % len(corners)].through is not None:
            raise InvalidInput(where[k], "join straight edges to be cut", "an arc after it")
        found += pieces
        taken.append((leg, math.dist(here, after)))
    for k, (leg, room) in enumerate(taken):
        following = taken[(k + 1) % len(taken)][0]
        if leg + following > room * (1 + 1e-12) and leg + following > 0 and room > 0:
            raise InvalidInput(
                where[k],
                f"leave its edge of {room:.6g} mm room for roundings and chamfers",
                f"{leg + following:.6g} mm of them",
            )
    return _changed(part, found, numbers)


def _changed(part: DrawnPart, points: list[Point], numbers: Mapping[str, float]) -> list[Point]:
    """Return an outline in mm scaled in r, offset and moved as a whole."""
    scale = evaluate(part.scale_r, numbers, f"{part.name}, scale_r")
    offset = coordinate(part.offset, numbers, f"{part.name}, offset")
    along_r, along_z = _place(part.move, numbers, f"{part.name}, move")
    if not scale > 0:
        raise InvalidInput(f"{part.name}, scale_r", "be greater than 0", f"{scale:.6g}")
    if scale != 1.0:
        points = [(r * scale, z) for r, z in points]
    if offset:
        points = _offset(part.name, points, offset)
    if along_r or along_z:
        points = [(r + along_r, z + along_z) for r, z in points]
    return points


def _offset(name: str, points: list[Point], offset: float) -> list[Point]:
    """Return an outline with all edges moved outwards but those on the axis; mm."""
    import shapely

    shape = shapely.Polygon(points).buffer(offset, join_style="mitre", mitre_limit=10)
    if min(r for r, _ in points) == 0:
        mirrored = shapely.Polygon([(-r, z) for r, z in points])
        both = shapely.union(shapely.Polygon(points), mirrored)
        both = both.buffer(offset, join_style="mitre", mitre_limit=10)
        shape = both.intersection(shapely.box(0.0, -2 * FARTHEST, 2 * FARTHEST, 2 * FARTHEST))
    if shape.geom_type != "Polygon" or shape.is_empty or shape.interiors:
        raise InvalidInput(f"{name}, offset", "leave one closed outline", f"{offset:.6g} mm")
    return list(shape.exterior.coords[:-1])


def _cut(
    corner: Corner, points: Sequence[Point], numbers: Mapping[str, float], where: str
) -> tuple[Iterable[Point], float]:
    """Return the points of a sharp, rounded or chamfered corner, and its legs' length, mm."""
    before, here, after = points
    radius = evaluate(corner.round, numbers, f"{where}, round")
    legs = evaluate(corner.chamfer, numbers, f"{where}, chamfer")
    if radius == 0 and legs == 0:
        return [here], 0.0
    back, ahead = math.dist(here, before), math.dist(here, after)
    cross = (here[0] - before[0]) * (after[1] - here[1]) - (here[1] - before[1]) * (
        after[0] - here[0]
    )
    if radius < 0 or legs < 0 or (radius and legs) or abs(cross) <= 1e-9 * back * ahead:
        raise InvalidInput(
            where,
            "be a corner between two edges, with a round or a chamfer of 0 or more",
            f"round {radius:.6g} mm, chamfer {legs:.6g} mm",
        )
    if legs:
        ends = [(p, legs / d) for p, d in ((before, back), (after, ahead))]
        cut = [(here[0] + t * (p[0] - here[0]), here[1] + t * (p[1] - here[1])) for p, t in ends]
        leg = legs
    else:
        cut, leg = rounded(before, here, after, radius, TOLERANCE * 1e3)
    if leg > min(back, ahead) * (1 + 1e-12):
        raise InvalidInput(
            where, f"be cut by less than its edges, {min(back, ahead):.6g} mm", f"{leg:.6g} mm"
        )
    return cut, leg
