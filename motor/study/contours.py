"""Contours of a target search: their free coordinates, and machining as requirements."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from geometries import Contour, Outlines, millimetres
from geometries.contour import (
    LENGTHS,
    clearances,
    contour_ranges,
    freed,
    radius_room,
    rounded_contour,
    walls,
)
from geometries.redrawn import divided, redrawn
from motor.base.arrays import Floats
from motor.base.errors import InvalidInput
from motor.base.toml_records import check_keys, quantity, string, table_of, whole
from motor.design.design import Design
from motor.study.target import Requirement

__all__ = ["as_cut", "free_contours", "machining", "machining_pieces", "read_contours"]

Ranges = dict[str, tuple[float, float]]
CUTS = ("straight", "square")
"""Any straight line, or only along the axis and along the radius."""
KEYS = ("part", "points", "along", "count", "reach", "cuts", *LENGTHS)
MOST_POINTS, DIVIDED = 2000, 6
"""Number of a point at most; new points on an edge unless it says how many."""
THICK = 1e3
"""A wall or clearance of so many times its least, where there is nothing behind or beside it."""


def free_contours(design: Design, contours: Sequence[Contour]) -> tuple[Design, Ranges]:
    """Return a design whose contours have dimensions, and how far each may move, by dotted name.

    Raises
    ------
    InvalidInput
        Where a contour cannot move, or breaks its own rules as drawn.
    """
    geometry = _drawn(design)
    ranges: Ranges = {}
    for contour in contours:
        geometry = freed(geometry, contour)
    for contour in contours:
        found = contour_ranges(geometry, contour)
        twice = next((n for n in found if f"geometry.{n}" in ranges), None)
        if twice is not None:
            raise InvalidInput("points", "belong to one contour only", twice, "contour")
        ranges |= {f"geometry.{name}": ends for name, ends in found.items()}
    ready = design.replace(geometry=geometry)
    for contour in contours:
        _check_start(ready, contour)
    return ready, ranges


def _drawn(design: Design) -> Outlines:
    assert isinstance(design.geometry, Outlines)
    return design.geometry


def _check_start(design: Design, contour: Contour) -> None:
    """Raise InvalidInput where machining is impossible wherever the points go within reach."""
    geometry = _drawn(design)
    shortest = float(radius_room(geometry, contour).min())
    if shortest + 4 * contour.reach < 0:
        raise InvalidInput(
            "least_radius",
            f"fit the cuts of {contour.part} somewhere within reach",
            f"{millimetres(contour.least_radius)}, {millimetres(-shortest)} too much",
            "contour",
        )
    for key, _, limit, values in _distances(design, contour):
        least = float(values.min())
        if least + 4 * contour.reach < limit:
            raise InvalidInput(
                key,
                f"be met by {contour.part} somewhere within reach",
                f"{millimetres(limit)}, drawn with {millimetres(least)}",
                "contour",
            )


def _distances(design: Design, contour: Contour) -> Iterator[tuple[str, str, float, Floats]]:
    """Yield key, words, limit and values in metres of each distance that is asked for."""
    geometry, part = _drawn(design), contour.part
    if contour.least_wall:
        words = f"wall behind the contour of {part}"
        yield "least_wall", words, contour.least_wall, walls(geometry, contour).ravel()
    if contour.least_clearance:
        others = [region.outline for region in design.regions if region.name != part]
        found = clearances(geometry, contour, others)
        words = f"clearance of the contour of {part} to other parts"
        yield "least_clearance", words, contour.least_clearance, found
    if contour.coil_clearance:
        way = contour.coil_way
        found = clearances(geometry, contour, _on_its_way(design, way))
        words = f"clearance of the contour of {part} to the coil on its way"
        words += f" of {millimetres(way)}" * bool(way)
        yield "coil_clearance", words, contour.coil_clearance, found


def _on_its_way(design: Design, way: float) -> list[list[tuple[float, float]]]:
    """Return winding and former, each from its lowest to its highest place."""
    found = []
    for _, outline in design.coil.outlines():
        (a, low), _, (b, high), _ = outline
        found.append([(a, low - way), (b, low - way), (b, high + way), (a, high + way)])
    return found


def machining_pieces(design: Design, contours: Sequence[Contour]) -> list[Requirement]:
    """Return what machining asks of every cut, one by one."""
    found = []
    for contour in contours:
        radius = contour.least_radius or 1e-3
        words = f"room on the cuts of {contour.part}"
        words += f" for its radius of {millimetres(contour.least_radius)}" * bool(radius)
        for k, room in enumerate(radius_room(_drawn(design), contour)):
            found.append(_least(words, 0.0, float(room), radius, f"room.{contour.part}.{k}"))
        for key, words, limit, values in _distances(design, contour):
            short = key.rpartition("_")[2] if key != "coil_clearance" else "coil"
            for k, value in enumerate(values):
                most, name = min(float(value), THICK * limit), f"{short}.{contour.part}.{k}"
                found.append(_least(words, limit, most, limit, name))
    return found


def _least(words: str, limit: float, value: float, scale: float, key: str) -> Requirement:
    return Requirement(words, 1e3 * limit, 1e3 * value, "mm", True, 1e3 * scale, key)


def machining(design: Design, contours: Sequence[Contour]) -> list[Requirement]:
    """Return what machining asks of the contours, each rule where it is tightest."""
    tightest: dict[str, Requirement] = {}
    for one in machining_pieces(design, contours):
        before = tightest.get(one.name)
        tightest[one.name] = one if before is None or one.value < before.value else before
    return list(tightest.values())


def as_cut(design: Design, contours: Sequence[Contour]) -> Design:
    """Return a design with the least radius at the corners of its contours."""
    if not contours:
        return design
    geometry = _drawn(design)
    for contour in contours:
        geometry = rounded_contour(geometry, contour)
    return design.replace(geometry=geometry)


def read_contours(design: Design, blocks: object) -> tuple[Design, tuple[Contour, ...]]:
    """Read [[contour]], the points of parts that a search moves.

    Returns
    -------
    Design
        Drawn as outlines, with the new points of edges that are to be divided.
    tuple of Contour

    Raises
    ------
    InvalidInput
    """
    if not isinstance(blocks, list):
        raise InvalidInput("contour", "be a list [[contour]]", repr(blocks)[:80])
    tables = [table_of(block, "contour") for block in blocks]
    geometry = redrawn(design.geometry) if tables else design.geometry
    found: list[Contour] = []
    for table in tables:
        check_keys("contour", table, KEYS)
        for key in ("part", "reach"):
            if key not in table:
                raise InvalidInput(key, "be given", "nothing", "contour")
        part = string(table["part"], "part", "contour")
        if "along" in table and any(other.part == part for other in found):
            limit = "stand in the first contour of a part: new points change the numbers"
            raise InvalidInput("along", limit, f"another one of {part}", "contour")
        cuts = string(table.get("cuts", CUTS[0]), "cuts", "contour")
        if cuts not in CUTS:
            raise InvalidInput("cuts", f"be one of {', '.join(CUTS)}", repr(cuts), "contour")
        lengths = {k: quantity(table[k], "length", k, "contour") for k in LENGTHS if k in table}
        if "coil_way" in table and "coil_clearance" not in table:
            raise InvalidInput("coil_way", "come with coil_clearance", "alone", "contour")
        if "coil_clearance" in table:
            lengths.setdefault("coil_way", design.stroke.band or 0.0)
        reach = quantity(table["reach"], "length", "reach", "contour")
        assert isinstance(geometry, Outlines)
        try:
            geometry, points = _points(geometry, part, table)
            found.append(Contour(part, points, reach, cuts == "square", **lengths))
        except InvalidInput as error:
            raise error.within("contour") from None
    return (design.replace(geometry=geometry) if tables else design), tuple(found)


def _points(
    geometry: Outlines, part: str, table: Mapping[str, Any]
) -> tuple[Outlines, tuple[int, ...]]:
    """Return the drawing and the points of a contour: those named, or new ones on an edge."""
    if ("points" in table) == ("along" in table):
        both = "both" if "points" in table else "neither"
        raise InvalidInput("points", "be given, or along with count for new ones", both)
    if "points" in table:
        return geometry, _numbers(table["points"], "points")
    ends = _numbers(table["along"], "along")
    if len(ends) != 2:
        raise InvalidInput("along", "be two successive points, as in [4, 5]", list(ends))
    first, last = ends
    drawn = next((p for p in geometry.parts if p.name == part), None)
    if drawn is not None and last != first % len(drawn.outline) + 1:
        limit = f"be two successive points of {part}"
        raise InvalidInput("along", limit, f"{first} and {last} of {len(drawn.outline)}")
    count = whole(table.get("count", DIVIDED), "count", 1, MOST_POINTS, "contour")
    more = divided(geometry, part, first, count)
    return more, tuple(range(first + 1, first + count + 1))


def _numbers(value: object, key: str) -> tuple[int, ...]:
    if not isinstance(value, list):
        raise InvalidInput(key, "be a list of numbers of points", repr(value)[:80])
    return tuple(whole(k, key, 1, MOST_POINTS, "contour") for k in value)
