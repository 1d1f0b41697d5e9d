"""A contour: successive points of a drawn part that may move, and how it stays machinable.

Each free coordinate becomes a dimension of the drawing, 0 where the point stands as drawn, so that
a contour is written, read and changed like the rest of it::

        3 ----- 4            4, 5, 6: points of the contour
        part     5           3, 7: stay where they are
                 |  gap      3-4 ... 6-7: its cuts, straight lines
        7 ------ 6

Walls are measured through the part, at right angles from the quarter points of each cut;
clearances to whatever else there is from the cuts themselves.
"""

from __future__ import annotations

import dataclasses
import itertools
import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geometries.drawn import Outlines
from geometries.drawn_parts import Corner, Dimension, DrawnPart, coordinate, outline_of, place_of
from geometries.errors import InvalidInput, millimetres
from geometries.formulas import Formula

__all__ = [
    "Contour",
    "clearances",
    "contour_ranges",
    "coordinates",
    "freed",
    "radius_room",
    "rounded_contour",
    "walls",
]

MOST = 12
"""Points of a contour."""
SHORTEST = 0.05e-3
"""Length of a cut at least, whatever its radius, metres."""
ALONG = 1e-6
"""Edges whose ends differ by less in r or z are axial or radial, mm."""
TOUCH = 2e-9
"""Points this near to another part touch it, metres."""
QUARTERS = (0.25, 0.5, 0.75)
LENGTHS = ("least_radius", "least_wall", "least_clearance", "coil_clearance", "coil_way")
STEEPEST = math.radians(85)
"""Half of the largest turn of a corner that is told from a fold."""
LEAST_TURN = math.radians(4)
"""Corners that turn by less stay as they are."""
ON_AXIS = 1e-9
NEAREST_AXIS = 0.9
"""Share of its radius that a point may come nearer to the axis."""

Array = NDArray[np.float64]
Outline = Sequence[tuple[float, float]]
Node = tuple[int, str]


@dataclass(frozen=True)
class Contour:
    """Points of a part that may move.

    Parameters
    ----------
    part : str
    points : tuple of int
        Of its outline as drawn, counted from 1, each the next one after the one before.
    reach : float
        How far a coordinate may move to either side, metres.
    square : bool
        Whether cuts stay along the axis or along the radius; any straight line if not.
    least_radius : float
        Of the corners between the cuts, metres; 0 for sharp ones.
    least_wall : float
        Thickness of the part behind the contour, metres; 0 asks for nothing.
    least_clearance : float
        From the contour to every other part, metres; 0 asks for nothing.
    coil_clearance : float
        From the contour to the coil wherever it goes, metres; 0 asks for nothing.
    coil_way : float
        How far the coil goes from rest to either side then, metres.

    Raises
    ------
    InvalidInput
    """

    part: str
    points: tuple[int, ...]
    reach: float
    square: bool = False
    least_radius: float = 0.0
    least_wall: float = 0.0
    least_clearance: float = 0.0
    coil_clearance: float = 0.0
    coil_way: float = 0.0

    def __post_init__(self) -> None:
        if not 1 <= len(self.points) <= MOST:
            raise InvalidInput("points", f"be 1 to {MOST} of an outline", len(self.points))
        if not self.reach > 0:
            raise InvalidInput("reach", "be greater than 0", millimetres(self.reach))
        for name in LENGTHS:
            if not getattr(self, name) >= 0:
                raise InvalidInput(name, "be 0 or more", millimetres(getattr(self, name)))


def _part(geometry: Outlines, contour: Contour) -> DrawnPart:
    for part in geometry.parts:
        if part.name == contour.part:
            return part
    known = ", ".join(part.name for part in geometry.parts)
    raise InvalidInput("part", f"be one of the drawing's ({known})", repr(contour.part))


def _name(contour: Contour, node: Node) -> str:
    plain = re.sub(r"[^a-z0-9_]", "_", contour.part.lower())[:40]
    return f"{plain if plain[:1].isalpha() else f'p_{plain}'}_{node[0]}_{node[1]}"


def coordinates(contour: Contour) -> dict[tuple[int, str], str]:
    """Return the dimension of each point's coordinate, "r" or "z", where it has one of its own."""
    return {(k, axis): _name(contour, (k, axis)) for k in contour.points for axis in "rz"}


def _places(part: DrawnPart, numbers: Mapping[str, float]) -> Array:
    """Return the corners of a part as drawn, before any are cut: (n, 2), mm."""
    return np.array([place_of(corner, numbers, part.name) for corner in part.outline])


def _checked(geometry: Outlines, contour: Contour) -> DrawnPart:
    """Return the part, once all its points can be moved."""
    part = _part(geometry, contour)
    count = len(part.outline)
    for k in contour.points:
        if not 1 <= k <= count:
            raise InvalidInput("points", f"lie among the {count} of {part.name}", k)
    for k, after in itertools.pairwise(contour.points):
        if after != k % count + 1:
            limit = f"follow one another along {part.name}, {k % count + 1} after {k}"
            raise InvalidInput("points", limit, after)
    if len(contour.points) > count - 2:
        limit = f"leave two of the {count} of {part.name} where they are"
        raise InvalidInput("points", limit, len(contour.points))
    for k in (*contour.points, contour.points[-1] % count + 1):
        if part.outline[k - 1].through is not None:
            raise InvalidInput("points", "be joined by straight cuts", f"an arc to point {k}")
    if (part.scale_r, part.offset, part.move) != (1.0, 0.0, (0.0, 0.0)):
        limit = "be drawn where it stands, without scale_r, offset and move"
        raise InvalidInput(part.name, limit, "one of them")
    _check_clear(geometry, part, contour)
    return part


def _check_clear(geometry: Outlines, part: DrawnPart, contour: Contour) -> None:
    """Raise InvalidInput where a point touches another part, which would not follow it."""
    import shapely

    middle = _middle(geometry)
    places = _places(part, geometry.numbers)
    others = [region for region in geometry.regions() if region.name != part.name]
    for k in contour.points:
        here = shapely.Point(places[k - 1] * 1e-3 - [0, middle])
        for region in others:
            if shapely.Polygon(region.outline).distance(here) < TOUCH:
                limit = "move alone; leave out those that another part touches"
                raise InvalidInput("points", limit, f"point {k}, which touches {region.name}")


def _middle(geometry: Outlines) -> float:
    """Return the height of the gap's middle in the drawing, metres."""
    bottom, top = (coordinate(f, geometry.numbers, "gap") for f in geometry.gap_formulas[2:])
    return (bottom + top) * 0.5e-3


def _tied(places: Array, contour: Contour) -> dict[Node, Node | None]:
    """Return for each coordinate the one that it moves with, None for one that stays."""
    found: dict[Node, Node | None] = {(k, axis): (k, axis) for k in contour.points for axis in "rz"}
    if contour.square:
        count = len(places)
        before, after = (contour.points[0] - 2) % count + 1, contour.points[-1] % count + 1
        for a, b in itertools.pairwise((before, *contour.points, after)):
            way = np.abs(places[b - 1] - places[a - 1])
            axis = "r" if way[0] < ALONG else "z"
            if min(way) >= ALONG:
                limit = "lie above or beside one another for square cuts"
                raise InvalidInput("points", limit, f"{a} and {b}")
            ends = [found.get((k, axis)) for k in (a, b)]
            gone = [found[k, axis] for k in (a, b) if (k, axis) in found]
            into = None if None in ends else ends[0]
            found = {node: into if to in gone else to for node, to in found.items()}
    on_axis = [k for k in contour.points if abs(places[k - 1, 0]) < ALONG]
    stays = {found[k, "r"] for k in on_axis}
    return {node: None if to in stays else to for node, to in found.items()}


def _with(formula: Formula, name: str) -> Formula:
    text = formula if isinstance(formula, str) else f"{formula:.12g}"
    return formula if text.endswith(f" + {name}") else f"{text} + {name}"


def freed(geometry: Outlines, contour: Contour) -> Outlines:
    """Return a drawing in which the points of a contour have dimensions of their own.

    Raises
    ------
    InvalidInput
        Where a point cannot move: it touches another part, ends an arc, or is none of the part's.
    """
    part = _checked(geometry, contour)
    tied = _tied(_places(part, geometry.numbers), contour)
    known = {d.name for d in geometry.dimensions}
    new: dict[str, Dimension] = {}
    corners = list(part.outline)
    for k in contour.points:
        at = list(corners[k - 1].at)
        for i, axis in enumerate("rz"):
            to = tied[k, axis]
            if to is None:
                continue
            name = _name(contour, to)
            way = "outwards" if axis == "r" else "upwards"
            if name not in known:
                doc = f"{part.name}, point {to[0]}: moved {way}"
                new[name] = Dimension(name, 0.0, "length", doc)
            at[i] = _with(at[i], name)
        corners[k - 1] = dataclasses.replace(corners[k - 1], at=(at[0], at[1]), kept=True)
    for k in ((contour.points[0] - 2) % len(corners), contour.points[-1] % len(corners)):
        corners[k] = dataclasses.replace(corners[k], kept=True)  # a corner once its neighbour moves
    if not new and not any(to is not None for to in tied.values()):
        raise InvalidInput("points", "leave something to move", "nothing")
    moved = dataclasses.replace(part, outline=tuple(corners))
    return dataclasses.replace(
        geometry,
        dimensions=(*geometry.dimensions, *new.values()),
        parts=tuple(moved if p.name == part.name else p for p in geometry.parts),
    )


def contour_ranges(geometry: Outlines, contour: Contour) -> dict[str, tuple[float, float]]:
    """Return how far each coordinate of a freed contour may move, by dimension, metres.

    What stands inside a gap's inner radius stays there, what stands outside its outer one too, and
    nothing comes onto the axis.
    """
    part = _part(geometry, contour)
    names = {_name(contour, (k, axis)) for k in contour.points for axis in "rz"}
    drawn = {
        d.name: dataclasses.replace(d, value=0.0) if d.name in names else d
        for d in geometry.dimensions
    }
    plain = dataclasses.replace(geometry, dimensions=tuple(drawn.values()))
    places = _places(part, plain.numbers)
    found: dict[str, tuple[float, float]] = {}
    for (k, axis), to in _tied(places, contour).items():
        if to is None:
            continue
        name = _name(contour, to)
        low, high = found.get(name, (-contour.reach, contour.reach))
        if axis == "r":
            r = float(places[k - 1, 0]) * 1e-3
            low = max(low, -NEAREST_AXIS * r)
            for gap in geometry.gap.all:
                if r <= gap.inner_radius + TOUCH:
                    high = min(high, max(gap.inner_radius - r, 0.0))
                elif r >= gap.outer_radius - TOUCH:
                    low = max(low, min(gap.outer_radius - r, 0.0))
        found[name] = (low, high)
    rounded = {name: (round(low, 9), round(high, 9)) for name, (low, high) in found.items()}
    return {name: ends for name, ends in rounded.items() if ends[0] < ends[1]}


def _cuts(geometry: Outlines, contour: Contour) -> tuple[Array, Array, bool]:
    """Return the corners from the fixed one before to the fixed one after, metres; turns between.

    And whether the outline runs round its inside on the left.
    """
    part = _part(geometry, contour)
    places = _places(part, geometry.numbers)
    after = np.roll(places, -1, axis=0)
    area = (places[:, 0] * after[:, 1] - places[:, 1] * after[:, 0]).sum()
    count = len(places)
    chain = [(contour.points[0] - 2) % count, *(k - 1 for k in contour.points)]
    chain.append(contour.points[-1] % count)
    corners = places[chain] * 1e-3
    way = np.diff(corners, axis=0)
    angle = np.arctan2(way[:, 1], way[:, 0])
    turns = (np.diff(angle) + math.pi) % (2 * math.pi) - math.pi
    return corners, turns, bool(area > 0)


def radius_room(geometry: Outlines, contour: Contour) -> Array:
    """Return for each cut its length less what the radius at its ends takes: (n + 1,), metres.

    A corner that turns by t takes radius tan(t / 2) of each of its cuts.
    """
    corners, turns, _ = _cuts(geometry, contour)
    half = np.minimum(np.abs(turns) / 2, STEEPEST)
    legs = np.concatenate([[0.0], contour.least_radius * np.tan(half), [0.0]])
    length = np.hypot(*np.diff(corners, axis=0).T)
    return np.asarray(length - legs[1:] - legs[:-1] - SHORTEST)


def walls(geometry: Outlines, contour: Contour) -> Array:
    """Return how thick the part is behind three places of each cut: (n + 1, 3), metres.

    Infinite towards the axis.
    """
    corners, _, left = _cuts(geometry, contour)
    corners = corners - [0.0, _middle(geometry)]
    part = _part(geometry, contour)
    sharp = [
        dataclasses.replace(c, round=0.0, chamfer=0.0) if k in contour.points else c
        for k, c in enumerate(part.outline, start=1)
    ]
    points = outline_of(dataclasses.replace(part, outline=tuple(sharp)), geometry.numbers)
    outline = np.array(points) * 1e-3 - [0.0, _middle(geometry)]
    start, way = outline, np.roll(outline, -1, axis=0) - outline
    on_axis = (np.abs(start[:, 0]) < ON_AXIS) & (np.abs(start[:, 0] + way[:, 0]) < ON_AXIS)
    start, way = start[~on_axis], way[~on_axis]
    cut = np.diff(corners, axis=0)
    inward = np.stack([-cut[:, 1], cut[:, 0]], axis=1) * (1.0 if left else -1.0)
    inward /= np.maximum(np.hypot(*inward.T), 1e-12)[:, None]
    found = np.full((len(cut), len(QUARTERS)), np.inf)
    for (i, j), _value in np.ndenumerate(found):
        offset = start - (corners[i] + QUARTERS[j] * cut[i])
        across = inward[i, 0] * way[:, 1] - inward[i, 1] * way[:, 0]
        safe = np.where(np.abs(across) < 1e-15, np.nan, across)
        depth = (offset[:, 0] * way[:, 1] - offset[:, 1] * way[:, 0]) / safe
        share = (offset[:, 0] * inward[i, 1] - offset[:, 1] * inward[i, 0]) / safe
        hits = depth[(depth > TOUCH) & (share >= 0) & (share <= 1)]
        found[i, j] = hits.min(initial=np.inf)
    return found


def clearances(geometry: Outlines, contour: Contour, outlines: Sequence[Outline]) -> Array:
    """Return the distance of each cut to the nearest of some outlines: (n + 1,), metres.

    Infinite without outlines.  The quarter of a cut next to a corner that stays is left out, since
    that corner may stand on another part.
    """
    import shapely

    corners, _, _ = _cuts(geometry, contour)
    corners = corners - [0.0, _middle(geometry)]
    starts, ends = corners[:-1].copy(), corners[1:].copy()
    starts[0] += QUARTERS[0] * (ends[0] - starts[0])
    ends[-1] -= QUARTERS[0] * (ends[-1] - starts[-1])
    cuts = shapely.linestrings(np.stack([starts, ends], axis=1))
    others = [shapely.Polygon(outline) for outline in outlines]
    if not others:
        return np.full(len(starts), np.inf)
    return np.asarray(shapely.distance(cuts[:, None], np.array(others)[None, :]).min(axis=1))


def rounded_contour(geometry: Outlines, contour: Contour) -> Outlines:
    """Return a drawing whose contour has its least radius at every corner that turns."""
    if not contour.least_radius:
        return geometry
    part = _part(geometry, contour)
    _, turns, _ = _cuts(geometry, contour)
    corners: list[Corner] = list(part.outline)
    for k, turn in zip(contour.points, turns, strict=True):
        corner = corners[k - 1]
        if abs(turn) >= LEAST_TURN and corner.round == 0.0 and corner.chamfer == 0.0:
            corners[k - 1] = dataclasses.replace(corner, round=contour.least_radius * 1e3)
    moved = dataclasses.replace(part, outline=tuple(corners))
    parts = tuple(moved if p.name == part.name else p for p in geometry.parts)
    return dataclasses.replace(geometry, parts=parts)
