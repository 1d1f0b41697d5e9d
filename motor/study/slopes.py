"""Figures of a design and their derivatives over a search's free parameters, by one field solve.

A parameter's derivative is the difference of two designs to either side, all rules applied, with
the same whole turns: the mesh moves along with their corners.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from motor.base.arrays import Floats
from motor.base.errors import InvalidInput
from motor.design.design import Design
from motor.field.motion import NoSmoothMotionError
from motor.results.motor_result import MotorResult
from motor.results.quantities import motor_quantities
from motor.results.quantities.band import BAND_PIECES, PIECES_OF
from motor.study.neighbours import Change, ends, prepared

__all__ = ["Sides", "differences", "has_derivative", "pieces", "readings", "sides_of"]

SHARE = 2e-4
"""Change of a free parameter over its range to either side."""
MARGIN = "demagnetisation_margin_kA_per_m"
MARGINS = {f"demag_margin_{side}_kA_per_m": side for side in ("cold", "hot")}
"""Margins at a study's temperatures: they move as that of the design, by their remanence more."""
LIMITS = {
    "bl_82": ("stroke_82_inward_mm", "stroke_82_outward_mm"),
    "bl_70": ("stroke_70_inward_mm", "stroke_70_outward_mm"),
    "overhang": ("overhang_stroke_mm",),
    "mechanical": ("mechanical_limit_mm",),
    "compliance": ("compliance_stroke_mm",),
    "inductance": ("inductance_stroke_mm",),
}
"""What each limit of the stroke is the least of, smooth one by one."""
PIECES = {
    "stroke_82_mm": LIMITS["bl_82"],
    "stroke_70_mm": LIMITS["bl_70"],
    **PIECES_OF,
}


@dataclass(frozen=True)
class Sides:
    """Designs to either side of one by a parameter, and the step between them."""

    low: Design
    high: Design
    step: float


def pieces(key: str, design: Design) -> tuple[str, ...]:
    """Return the figures that one is the least or the largest of; itself if it is smooth."""
    if key == "usable_stroke_mm":
        return tuple(piece for limit in design.stroke.limits for piece in LIMITS[limit])
    return PIECES.get(key, (key,))


def has_derivative(key: str) -> bool:
    """Return whether a figure can be differentiated, in pieces or at a study's temperatures."""
    known = (*motor_quantities(), *BAND_PIECES)
    return key in MARGINS or any(q.key == key and q.slope for q in known)


def sides_of(
    build: Callable[[Floats], Design], unit: Floats, design: Design
) -> tuple[Sides | None, ...]:
    """Return the designs around one at a point of the unit cube; None where there are none.

    At an end of a range both lie on the side that is left.
    """
    return tuple(_sides(build, unit, k, design) for k in range(len(unit)))


def _sides(build: Callable[[Floats], Design], unit: Floats, k: int, design: Design) -> Sides | None:
    found, places = [], []
    for sign in (-1, 1):
        point = unit.copy()
        point[k] = min(max(point[k] + sign * SHARE, 0.0), 1.0)
        try:
            side = design if point[k] == unit[k] else build(point)
        except InvalidInput:
            side = design
        counted = isinstance(design.coil.turns, int)
        same = side.coil.turns == design.coil.turns or not counted
        found.append(side if same else design)
        places.append(point[k] - unit[k] if same and side is not design else 0.0)
    step = places[1] - places[0]
    return Sides(found[0], found[1], step) if step else None


def readings(result: MotorResult, keys: Iterable[str]) -> dict[str, float | None]:
    """Return figures of a result by key; None for those that are not finite."""
    read = {q.key: q for q in (*motor_quantities(), *BAND_PIECES)}
    found = {key: read[key].reading(result)[0] for key in keys if key not in MARGINS}
    return {k: None if v is None or not np.isfinite(v) else float(v) for k, v in found.items()}


def differences(
    result: MotorResult,
    sides: Iterable[Sides | None],
    keys: Iterable[str],
    warmth: Mapping[str, float],
) -> tuple[dict[str, list[float | None]], list[str]]:
    """Return the derivatives of figures by every parameter, and why there are none by some.

    Parameters
    ----------
    result : MotorResult
    sides : iterable of Sides or None
    keys : iterable of str
    warmth : mapping of "cold" and "hot" to float
        Remanence there over that of the design.

    Returns
    -------
    derivatives : mapping of key to list
        In the key's unit per unit of the step; None where there is none.
    refused : list of str
        By parameter; "" where there are derivatives.
    """
    levels, mover = prepared(result, fine_only=True)
    wanted = set(keys)
    read = {q.key: q.differentiable for q in (*motor_quantities(), *BAND_PIECES)}
    readers = {k: read[MARGIN if k in MARGINS else k] for k in wanted}
    slopes: dict[str, list[float | None]] = {key: [] for key in readers}
    refused = []
    for side in sides:
        found: Mapping[str, float | None] = dict.fromkeys(readers)
        reason = "the designs to either side differ by a jump, or there are none"
        if side is not None:
            change = Change(
                side.low, side.high, side.step, "1", side.step, moves=True, magnetic=True, read=True
            )
            try:
                shift = mover.shifts(side.low.regions, side.high.regions)
                low, high = ends(result, levels[0], change, shift)
            except (InvalidInput, NoSmoothMotionError) as error:
                reason = str(error)
            else:
                reason = ""
                found = {k: _slope(f(low), f(high), side.step) for k, f in readers.items()}
        for key, value in found.items():
            scale = warmth.get(MARGINS.get(key, ""), 1.0)
            slopes[key].append(None if value is None else scale * value)
        refused.append(reason)
    return slopes, refused


def _slope(low: Any, high: Any, step: float) -> float | None:
    """Return a figure's derivative; 0 where it is out of reach on both sides."""
    if low is None or high is None or not np.isfinite([low, high]).all():
        return 0.0
    return float(high - low) / step
