"""The derivatives by which a solved motor is followed along its dimensions."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence

import numpy as np

from geometries import Point, Role
from motor.base.arrays import Floats
from motor.base.blas_threads import one_blas_thread
from motor.base.errors import InvalidInput
from motor.design.design import Design
from motor.field.motion import NoSmoothMotionError, turned
from motor.results.motor_result import MotorResult
from motor.results.quantities import motor_quantities
from motor.study.derivatives import together
from motor.study.differencing import differentiated, middles_of, sloped
from motor.study.neighbours import Change, asked, prepared
from motor.study.parameters import TOGETHER, Draft, known_parameters
from motor.study.second_order import LINEAR, STROKES, Lever, PartShape, SecondOrder, kinked
from motor.study.slope_records import Slope

__all__ = ["second_order"]

Outline = Sequence[Point]
COIL = "coil.inner_diameter"
"""The coil's dimension; windings in this field are known without derivatives."""
KINKED = 0.75
"""Share of the difference of the slopes to either side of a kink that is a doubt of the slope."""
REACH, WIDEST, STRAIN, TRIES = 0.25, 0.08, 0.2, 4
"""Largest change over the dimension; how much Bl may bend within it, over its value; the strain of
a part; how often an end at which there is no motor is brought half way nearer."""


@one_blas_thread()
def second_order(result: MotorResult) -> SecondOrder:
    """Return a solved motor with its derivatives by every dimension that can move by a little."""
    design = result.design
    levels, mover = prepared(result)
    middles = middles_of(result, levels)
    refused: dict[str, str] = {}
    levers, slopes, changes = [], [], []
    for name in itertools.chain(_dimensions(design), together(design, refused)):
        try:
            change, shift = asked(result, name, mover)
            slope = differentiated(result, levels, middles, name, change, shift, second=True)
        except (InvalidInput, NoSmoothMotionError) as reason:
            refused[name] = str(reason)
            continue
        bends = slope.bends
        bent = abs(bends.get("bl_at_rest_Tm", 0.0)) / result.bl_curve.at_rest.value
        strain = 0.0 if shift is None else mover.stretch(shift) / change.step
        lever = _lever(design, name, bent, strain)
        if lever is not None:
            levers.append(lever)
            slopes.append(slope)
            changes.append(change)
    curve = result.bl_curve
    bl = np.array(
        [
            curve.bl,
            np.nan_to_num(curve.uncertainty),
            *(slope.bl[0] for slope in slopes),
            *(np.nan_to_num(slope.bl[1]) for slope in slopes),
            *(slope.bl_bend for slope in slopes),
        ]
    )
    limits = result.stroke_limits
    return SecondOrder(
        tuple(levers),
        refused,
        _figures(result, slopes, changes),
        curve.x,
        bl,
        _travel(design, changes),
        (*_shapes(design, changes), *_coil_shapes(design, changes)),
        tuple(design.stroke.limits),
        1e3 * design.coil.rest_position,
        {name: 1e3 * limits[name].value for name in ("compliance", "inductance") if name in limits},
    )


def _figures(
    result: MotorResult, slopes: Sequence[Slope], changes: Sequence[Change]
) -> dict[str, Floats]:
    """Return values, uncertainties, slopes, their uncertainties and second derivatives."""
    rows = [{row.figure: row for row in slope.rows} for slope in slopes]
    figures, wide = {}, 1e3 * result.design.geometry.gap.width
    for quantity in motor_quantities():
        key = quantity.key
        if key not in (*LINEAR, *STROKES):
            continue
        value = sloped()[key](result)
        if value is None or not math.isfinite(value):
            continue
        doubt = quantity.reading(result)[1] if quantity.uncertain else 0.0
        own = [row.get(key) for row in rows]
        bends = np.array([slope.bends.get(key, 0.0) for slope in slopes])
        jumps = np.array([abs(b) * c.step / 2 for b, c in zip(bends, changes, strict=True)])
        first = np.array([0.0 if o is None else o.derivative for o in own])
        sharp = kinked(jumps, first, value, wide)
        doubts = np.nan_to_num([0.0 if o is None else o.uncertainty for o in own])
        parts = [first, doubts + KINKED * sharp * jumps, np.where(sharp, 0.0, bends)]
        figures[key] = np.nan_to_num(np.array([value, doubt, *parts[0], *parts[1], *parts[2]]))
    return figures


def _dimensions(design: Design) -> list[str]:
    draft = Draft(design)
    return [
        name
        for name, parameter in known_parameters(design).items()
        if parameter.kind == "length"
        and (name == COIL or (name.startswith("geometry.") and ".rings." not in name))
        and ((value := draft.get(name)) is not None)
        and value != 0
    ]


def _lever(design: Design, name: str, bend: float, strain: float) -> Lever | None:
    """Return a dimension and its range; None where a motor exists to neither side.

    ``bend`` is the second derivative of Bl or the gap's flux over its value, per mm squared.
    """
    names = name.split(TOGETHER)
    value = 1e3 * float(Draft(design).get(names[0]))
    farthest = REACH * abs(value)
    if strain > 0:
        farthest = min(farthest, STRAIN / strain)
    if bend > 0:
        farthest = min(farthest, math.sqrt(2 * WIDEST / bend))
    step = grid(farthest)
    ends = []
    for sign in (-1, 1):
        way = step * max(1, round(farthest / step))
        for _ in range(TRIES):
            at = round(1e-3 * (value + sign * way), 9)
            try:
                Draft(design, dict.fromkeys(names, at)).design()
                break
            except InvalidInput:
                way = step * round(way / 2 / step)
        else:
            way = 0.0
        ends.append(round(value + sign * way, 9))
    if ends[0] == ends[1]:
        return None
    words = [
        design.geometry.changeable()[n.removeprefix("geometry.")].doc
        if n.startswith("geometry.")
        else ""
        for n in names
    ]
    return Lever(name, "; ".join(filter(None, words)), value, ends[0], ends[1], strain)


def grid(farthest: float) -> float:
    """Return the step in mm by which a dimension that may go so far (mm) is moved."""
    return 0.1 if farthest >= 2 else 0.02 if farthest >= 0.4 else 0.005


def _travel(design: Design, changes: Sequence[Change]) -> Floats:
    rows = []
    for side in ("inward", "outward"):
        now = getattr(design.travel, side)
        slopes = [
            (getattr(c.high.travel, side) - getattr(c.low.travel, side)) * 1e3 / c.step
            for c in changes
        ]
        rows.append(
            [1e3 * now, *(s if math.isfinite(now) and math.isfinite(s) else 0.0 for s in slopes)]
        )
    return np.array(rows)


def _ways(outline: Outline, ends: Sequence[tuple[Outline, Outline, float]]) -> Floats:
    """Return how corners go per mm, exact to 1e-4, 0 where an end has other corners."""
    found = []
    for low, high, step in ends:
        a, b = (np.array(turned(end, outline), float) for end in (low, high))
        same = a.shape == b.shape == (len(outline), 2)
        found.append(np.round((b - a) * 1e3 / step, 4) if same else np.zeros((len(outline), 2)))
    return np.array(found).reshape(len(ends), len(outline), 2)


def _shapes(design: Design, changes: Sequence[Change]) -> list[PartShape]:
    sides = [
        ({r.name: r.outline for r in c.low.regions}, {r.name: r.outline for r in c.high.regions})
        for c in changes
    ]
    found = []
    for region in design.regions:
        outline = 1e3 * np.array(region.outline, float)
        ends = [
            (low.get(region.name, ()), high.get(region.name, ()), c.step)
            for (low, high), c in zip(sides, changes, strict=True)
        ]
        material = design.materials.material_of(region)
        role = {Role.MAGNET: "magnet", Role.STEEL: "steel"}.get(region.role, "conductor")
        price = design.materials.price_of(material)
        found.append(
            PartShape(
                region.name, role, outline, _ways(region.outline, ends), material.density, price
            )
        )
    return found


def _coil_shapes(design: Design, changes: Sequence[Change]) -> list[PartShape]:
    sides = [[dict(d.coil.outlines(drawn=True)) for d in (c.low, c.high)] for c in changes]
    found = []
    for name, corners in design.coil.outlines(drawn=True):
        outline = 1e3 * np.array(corners, float)
        ends = [
            (low.get(name, ()), high.get(name, ()), c.step)
            for (low, high), c in zip(sides, changes, strict=True)
        ]
        found.append(PartShape(name, "coil", outline, _ways(corners, ends), 0.0, 0.0))
    return found
