"""A motor before and after its contours were moved, beside what its derivatives predicted."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from geometries import Contour
from motor.base.arrays import Floats
from motor.base.blas_threads import one_blas_thread
from motor.base.drawable import DrawablePage
from motor.base.json_numbers import finite
from motor.base.quantity import COLUMN_UNITS
from motor.design.design import Design
from motor.results.motor_result import MotorResult, solve
from motor.results.quantities import motor_quantities
from motor.results.quantities.band import PIECES_OF
from motor.study.parameters import Draft
from motor.study.problem import Problem
from motor.study.relaxed import NoDescentError, relaxed
from motor.study.slopes import differences, pieces, readings, sides_of

__all__ = ["Reshaped", "foretold"]

TOLD = (
    "bl_deviation_in_band_percent",
    "bl_asymmetry_in_band_percent",
    "bl_at_rest_Tm",
    "usable_stroke_mm",
    "steel_mass_g",
    "motor_mass_g",
)


@dataclass(frozen=True)
class Reshaped(DrawablePage):
    """What moving contours did.

    Parameters
    ----------
    contours : tuple of Contour
    drawn, moved : MotorResult
        As in the study's design, and at the answer.
    predicted : mapping of key to float
        What the derivatives of the drawn motor say of the answer, in the key's unit.
    """

    contours: tuple[Contour, ...]
    drawn: MotorResult
    moved: MotorResult
    predicted: Mapping[str, float] = field(default_factory=dict)

    def rows(self) -> list[dict[str, Any]]:
        """Return the figures that are told, as drawn and moved, in their key's unit."""
        found = []
        for quantity in motor_quantities():
            (drawn, _), (moved, doubt) = (quantity.reading(r) for r in (self.drawn, self.moved))
            if quantity.key in TOLD and drawn is not None and moved is not None:
                row = {"drawn": finite(drawn), "moved": finite(moved), "uncertainty": finite(doubt)}
                before = finite(self.predicted.get(quantity.key, math.nan))
                found.append({"figure": quantity.key, **row, "predicted": before})
        return found

    def sentences(self) -> list[str]:
        """Return in words what it did and what it costs."""
        words = {q.key: (q.words, COLUMN_UNITS[q.unit].words) for q in motor_quantities()}
        said = []
        for row in self.rows():
            name, unit = words[row["figure"]]
            doubt = f" ± {row['uncertainty']:.1g}" if row["uncertainty"] else ""
            text = f"{name}: {row['moved']:.4g}{doubt} {unit}, as drawn {row['drawn']:.4g}"
            before = row["predicted"]
            said.append(text if before is None else f"{text}, predicted from there {before:.4g}")
        return said


@one_blas_thread()
def foretold(problem: Problem, values: Mapping[str, Any]) -> dict[str, float]:
    """Return what the derivatives of a problem's base say of the motor at some values.

    A figure that is the largest or least of several is that of all of them predicted.  Nothing
    where turns, or a parameter, have no derivatives.

    Parameters
    ----------
    problem : Problem
    values : mapping of dotted name to SI value

    Returns
    -------
    mapping of key to float
        In the key's unit.
    """
    names, low, high = list(problem.free), *np.array(list(problem.free.values())).T
    draft = Draft(problem.base)
    ends = [np.array([source(n) for n in names]) for source in (draft.get, values.__getitem__)]
    start, end = (np.clip((where - low) / (high - low), 0.0, 1.0) for where in ends)
    try:
        real = relaxed(problem)
    except NoDescentError:
        return {}

    def build(unit: Floats) -> Design:
        return real.build({**values, **dict(zip(names, low + unit * (high - low), strict=True))})

    design = build(start)
    parts = {key: pieces(key, design) for key in TOLD}
    keys = list(dict.fromkeys(key for some in parts.values() for key in some))
    drawn = solve(design)
    now = readings(drawn, keys)
    slopes, refused = differences(drawn, sides_of(build, start, design), keys, {})
    way = end - start
    if any(reason and step for reason, step in zip(refused, way, strict=True)):
        return {}
    found = {}
    for key, some in parts.items():
        ends_at = [
            at + float(np.array([s or 0.0 for s in slopes[piece]]) @ way)
            for piece in some
            if (at := now[piece]) is not None
        ]
        if ends_at:
            found[key] = max(ends_at) if key in PIECES_OF else min(ends_at)
    return found
