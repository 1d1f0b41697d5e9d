"""The figures of a solved motor as its derivatives make them, over changes of dimensions."""

from __future__ import annotations

import functools
import math
from collections.abc import Mapping, Sequence

import numpy as np

from motor.base.arrays import Floats
from motor.base.errors import InvalidInput
from motor.design.design import Design
from motor.results.motor_result import MotorResult
from motor.study.advice import Moved, Step
from motor.study.derivatives import Derivatives
from motor.study.differencing import sloped
from motor.study.goals import Goal
from motor.study.neighbours import RINGS, TURNS
from motor.study.parameters import TOGETHER, Draft

__all__ = ["GRID", "HELD", "DimensionModel"]

GRID = 0.01
"""Millimetres to which dimensions of a joint change are rounded."""
HELD = ("clearance_inner_mm", "clearance_outer_mm")
"""Figures that a joint change does not lower unless a goal names them."""
SHOWN = (
    "bl_at_rest_Tm",
    "usable_stroke_mm",
    "motor_constant_N2_per_W",
    "bl_asymmetry_at_82_percent",
    "peak_steel_flux_density_T",
    "coil_resistance_ohm",
    "motor_mass_g",
    "total_cost",
    "outer_diameter_mm",
    "height_mm",
    "clearance_inner_mm",
    "clearance_outer_mm",
    "stray_field_at_100_mm_uT",
)
"""Figures whose changes are told beside the goals'."""
SIDES = {
    "stroke_82_mm": ("stroke_82_inward_mm", "stroke_82_outward_mm"),
    "stroke_70_mm": ("stroke_70_inward_mm", "stroke_70_outward_mm"),
}
LIMITS = {
    "bl_82": SIDES["stroke_82_mm"],
    "bl_70": SIDES["stroke_70_mm"],
    "mechanical": ("mechanical_limit_mm",),
}


class DimensionModel:
    """The figures as the derivatives make them, over changes of the dimensions that may move."""

    def __init__(self, result: MotorResult, slopes: Derivatives) -> None:
        self.result = result
        draft, coil = Draft(result.design), result.design.coil
        self.names: list[str] = []
        self.before: list[float] = []
        self.size: list[float] = []
        for name in dict.fromkeys(row.parameter for row in slopes.rows):
            first = name.partition(TOGETHER)[0]
            if RINGS in name:
                continue  # less of a ring lowers mass and cost, and the inductance is not looked at
            if name == TURNS:
                value = size = float(coil.turns_per_layer)
            elif name == "coil.rest_position":
                value, size = 1e3 * coil.rest_position, 1e3 * coil.winding_height
            elif name.startswith("geometry.") or name == "coil.inner_diameter":
                value = size = 1e3 * float(draft.get(first))
            else:
                continue
            self.names.append(name)
            self.before.append(value)
            self.size.append(abs(size))
        rows = {(r.figure, r.parameter): r for r in slopes.rows}
        self.now = {key: read(result) for key, read in sloped().items()}
        self.slope = {
            key: np.array([getattr(rows.get((key, n)), "derivative", math.nan) for n in self.names])
            for key in self.now
        }
        self.doubt = {
            key: np.array([getattr(rows.get((key, n)), "uncertainty", 0.0) for n in self.names])
            for key in self.now
        }

    def sides(self, key: str) -> tuple[str, ...]:
        """Return the figures of whose values another is the least; itself if it is none."""
        found: tuple[str, ...] = SIDES.get(key, (key,))
        if key == "usable_stroke_mm":
            limits = self.result.design.stroke.limits
            if all(name in LIMITS for name in limits):
                found = tuple(dict.fromkeys(side for name in limits for side in LIMITS[name]))
        known = tuple(side for side in found if self._known(side))
        return known or (key,)

    def _known(self, key: str) -> bool:
        now = self.now.get(key)
        return now is not None and math.isfinite(now) and bool(np.isfinite(self.slope[key]).any())

    def conditions(self, one: Goal) -> list[tuple[Floats, float, str]]:
        """Return a goal as linear ones: slopes, change of the value, sense."""
        sides = self.sides(one.figure)
        if len(sides) > 1 and one.sense != "most":
            return [(self._slope(s), one.value - float(self.now[s] or 0), "least") for s in sides]
        return [(self._slope(one.figure), one.value - float(self.now[one.figure] or 0), one.sense)]

    def held(
        self, goals: Sequence[Goal], least: Mapping[str, float | None]
    ) -> list[tuple[Floats, float, str]]:
        """Return what no joint change may lower, as conditions like a goal's."""
        asked = {one.figure for one in goals}
        return [
            (self._slope(k), float(least[k] or 0) - float(self.now[k] or 0), "least")
            for k in HELD
            if k not in asked and self._known(k)
        ]

    def length(self, change: Floats) -> float:
        """Return the sum of the relative changes."""
        return float(np.sum(np.abs(change) / np.array(self.size)))

    def _slope(self, key: str) -> Floats:
        """Return slopes, 0 where there is none."""
        return np.asarray(np.nan_to_num(self.slope[key]))

    def moved(self, change: Floats, goals: Sequence[Goal]) -> tuple[Moved, ...]:
        """Return goals and other figures after a change."""
        keys = dict.fromkeys([*(one.figure for one in goals), *SHOWN])
        found = []
        for key in keys:
            sides = self.sides(key)
            values = [float(self.now[s] or 0) + float(self._slope(s) @ change) for s in sides]
            now = self.now[key]
            if now is None or not math.isfinite(now):
                continue
            side = sides[int(np.argmin(values))]
            lost = np.isnan(self.slope[side]) & (change != 0)
            here = change != 0
            doubt = float(np.abs(change[here]) @ self.doubt[side][here])
            predicted = math.nan if lost.any() else min(values)
            found.append(Moved(key, now, predicted, math.nan if lost.any() else doubt))
        return tuple(found)

    def steps(self, change: Floats) -> tuple[Step, ...]:
        """Return the parameters that change."""
        return tuple(
            Step(n, b, b + c, "turns" if n == TURNS else "mm")
            for n, b, c in zip(self.names, self.before, change, strict=True)
            if c
        )

    def design(self, change: Floats) -> Design:
        """Return the changed design; InvalidInput if there is none."""
        return design_of(self.result.design, self.steps(change))

    @functools.cached_property
    def ways(self) -> Floats:
        """Whether each parameter can fall and rise by a little, as (2, n) of 0 and 1.

        One that a ring is in the way of cannot.
        """
        found = np.ones((2, len(self.names)))
        for k, name in enumerate(self.names):
            for row, sign in enumerate((-1.0, 1.0)):
                little = np.zeros(len(self.names))
                little[k] = sign * (1.0 if name == TURNS else GRID)
                try:
                    self.design(little)
                except InvalidInput:
                    found[row, k] = 0.0
        return found

    def rounded(self, change: Floats, *, up: bool = False) -> Floats:
        """Return changes that end on the grid, and whole turns; ``up`` away from no change."""
        after, ends = np.array(self.before) + change, []
        for name, before, value, way in zip(self.names, self.before, after, change, strict=True):
            grid = 1.0 if name == TURNS else GRID
            count = value / grid
            if up:
                count = math.floor(count + 1e-6) if way < 0 else math.ceil(count - 1e-6)
            ends.append(before if abs(way) < 1e-9 else grid * round(count))
        return np.asarray(np.array(ends, float) - np.array(self.before, float))


def design_of(design: Design, steps: Sequence[Step]) -> Design:
    """Return a design with steps taken; InvalidInput if there is none."""
    changes: dict[str, float] = {}
    for step in steps:
        if step.parameter == TURNS:
            pitch, coil = design.coil.wire.pitch, design.coil
            more = (step.after - step.before) * pitch
            changes["coil.winding_height"] = coil.winding_height + more
        else:
            for name in step.parameter.split(TOGETHER):
                changes[name] = round(1e-3 * step.after, 9)
    return Draft(design, changes).design()
