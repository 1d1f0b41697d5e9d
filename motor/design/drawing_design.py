"""A design around the outlines of a drawing: roles by layer, a gap, a coil that fits it."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

from geometries import Dimension, DrawnPart, InvalidInput, Outlines, Role, chords
from geometries.drawn_parts import outline_of
from geometries.regions import Region
from motor.design.design import Design, Materials
from motor.design.dxf_outlines import Outline
from motor.design.starters import fitting_coil

__all__ = ["design_of_outlines", "find_gap"]

CONDUCTOR_WORDS = ("copper", "aluminium", "sleeve", "shorting", "ring", "cap", "conductor")
MAGNET_WORDS = ("magnet", "ferrite", "neodymium")
Bounds = tuple[float, float, float, float]


def design_of_outlines(
    outlines: Sequence[Outline],
    *,
    magnets: Mapping[str, str] | None = None,
    conductors: Sequence[str] = (),
    steels: Sequence[str] = (),
    gap: Bounds | None = None,
    magnet: str = "Y30",
    name: str = "",
) -> Design:
    """Return a design of outlines in mm, every part movable by dimensions of its own.

    Parameters
    ----------
    outlines : sequence of Outline
        Several on one layer become parts with numbers.
    magnets : mapping of layer to magnetisation
    conductors, steels : sequence of layer
        Layers in none of the three: magnets and conductors by words in their names, else steel.
    gap : (inner radius, outer radius, bottom, top) or None
        mm; None for the narrowest radial gap between steel and steel.
    magnet : str
        Grade of all magnets.
    name : str
    """
    told = dict(magnets or {})
    layers = {outline.layer for outline in outlines}
    for layer in (*told, *conductors, *steels):
        if layer not in layers:
            raise InvalidInput("layer", f"be one of {', '.join(sorted(layers))}", repr(layer))
    parts: list[DrawnPart] = []
    dimensions: list[Dimension] = []
    taken: set[str] = set()
    for outline in outlines:
        part = _part(outline, _free_name(outline.layer, taken), told, conductors, steels)
        changes = {
            "scale_r": ("number", 1.0, "factor on radii"),
            "offset": ("length", 0.0, "edges outwards by"),
            "move_r": ("length", 0.0, "moved outwards by"),
            "move_z": ("length", 0.0, "moved up by"),
        }
        for key, (quantity, value, doc) in changes.items():
            words = f"{part.name.replace('_', ' ')}: {doc}"
            dimensions.append(Dimension(f"{part.name}_{key}", value, quantity, words))
        parts.append(part)
    bounds = find_gap(parts) if gap is None else gap
    geometry = Outlines(dimensions=tuple(dimensions), gap_formulas=bounds, parts=tuple(parts))
    return Design(
        geometry=geometry,
        materials=Materials(magnet=magnet, steel="low-carbon-a"),
        coil=fitting_coil(geometry),
        name=name or "motor from a drawing",
        notes="Outlines from a drawing; coil and materials are a start to be edited.",
    )


def _free_name(layer: str, taken: set[str]) -> str:
    """Return a part's name for a layer, with a number where it is taken."""
    base = re.sub(r"[^a-z0-9_]+", "_", layer.lower()).strip("_")
    base = base if re.match(r"[a-z]", base) and base != "air" else f"part_{base}"
    name, k = base[:40], 1
    while name in taken:
        k += 1
        name = f"{base[:40]}_{k}"
    taken.add(name)
    return name


def _part(
    outline: Outline,
    name: str,
    magnets: Mapping[str, str],
    conductors: Sequence[str],
    steels: Sequence[str],
) -> DrawnPart:
    layer, low = outline.layer, outline.layer.lower()
    extra: dict[str, Any] = {}
    told = layer in magnets or layer in conductors or layer in steels
    if layer in magnets or (not told and any(w in low for w in MAGNET_WORDS)):
        role, extra = Role.MAGNET, {"magnetisation": magnets.get(layer, "up")}
    elif layer in conductors or (not told and any(w in low for w in CONDUCTOR_WORDS)):
        role, extra = Role.CONDUCTOR, {"material": "copper"}
    else:
        role = Role.STEEL
    return DrawnPart(
        name,
        role,
        outline.corners,
        scale_r=f"{name}_scale_r",
        offset=f"{name}_offset",
        move=(f"{name}_move_r", f"{name}_move_z"),
        **extra,
    )


def find_gap(parts: Sequence[DrawnPart]) -> Bounds:
    """Return inner radius, outer radius, bottom and top of the narrowest gap in steel, mm.

    It lies between two edges parallel to the axis that face each other with nothing but
    conductors between; InvalidInput if there are none.
    """
    shapes = [(part, _unchanged(part)) for part in parts if part.role is not Role.CONDUCTOR]
    faces: dict[float, list[tuple[float, float, float, bool]]] = {1.0: [], -1.0: []}
    for part, points in shapes:
        turn = sum(
            a[0] * b[1] - b[0] * a[1] for a, b in zip(points, points[1:] + points[:1], strict=True)
        )
        for a, b in zip(points, points[1:] + points[:1], strict=True):
            if abs(a[0] - b[0]) < 1e-6 and abs(a[1] - b[1]) > 0.2:
                outwards = 1.0 if (b[1] - a[1]) * turn > 0 else -1.0
                steel = part.role is Role.STEEL
                faces[outwards].append((a[0], min(a[1], b[1]), max(a[1], b[1]), steel))
    regions = [
        Region(part.name, Role.STEEL, tuple((r * 1e-3, z * 1e-3) for r, z in points))
        for part, points in shapes
    ]
    found = []
    for r0, low0, high0, steel0 in faces[1.0]:
        for r1, low1, high1, steel1 in faces[-1.0]:
            low, high = max(low0, low1), min(high0, high1)
            if steel0 and steel1 and r1 - r0 > 0.05 and high - low > 0.2 and r0 > 0:
                middle, height = (r0 + r1) / 2, (low + high) / 2
                if not any(_covers(region, r0, r1, height) for region in regions):
                    found.append((r1 - r0, low - high, (r0, r1, low, high), middle))
    if not found:
        raise InvalidInput(
            "gap",
            "be told, since no two steel faces parallel to the axis look at each other",
            "none",
        )
    return min(found)[2]


def _covers(region: Region, inner: float, outer: float, height: float) -> bool:
    """Tell whether a part stands between two radii at a height, mm."""
    return any(
        low * 1e3 < outer - 1e-3 and high * 1e3 > inner + 1e-3
        for low, high in chords(region, height=height * 1e-3)
    )


def _unchanged(part: DrawnPart) -> list[tuple[float, float]]:
    """Return a part's points as drawn, mm."""
    plain = DrawnPart(part.name, part.role, part.outline)
    return outline_of(plain, {})
