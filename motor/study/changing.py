"""What to change in a solved motor for a goal: single dimensions, and the smallest joint change.

Figures follow the derivatives; strokes are the least of their sides and limits, each of which
follows its own.  The joint change has the least sum of relative changes, a linear programme
(scipy's HiGHS), whose answer touches as few dimensions as the goals allow.
"""

from __future__ import annotations

import dataclasses
import functools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.optimize import linprog

from motor.base.arrays import Floats
from motor.base.blas_threads import one_blas_thread
from motor.base.drawable import DrawablePage
from motor.base.errors import InvalidInput, MotorError
from motor.base.json_numbers import finite
from motor.base.program import origin
from motor.design.design import Design
from motor.results.motor_result import MotorResult, solve
from motor.results.quantities import motor_quantities
from motor.study.derivatives import Derivatives, derivatives, sloped
from motor.study.goals import Goal, goal
from motor.study.neighbours import TOGETHER, TURNS
from motor.study.parameters import Draft

__all__ = ["Advice", "Proposal", "advise"]

REACH, FARTHEST = 0.15, 0.3
"""Largest change of a dimension over its value that derivatives are trusted for, and that a joint
change makes, solved and differentiated again on its way."""
ROUNDS, CLOSE, LEAN = 4, 1.5e-3, 5e-4
"""Solves of a joint change at most; how near a goal is reached, over its value, or an asymmetry."""
PENALTY, LEFT = 1e3, 1e-4
"""Weight of a goal's relative miss beside relative changes of dimensions; a miss that counts."""
COIL_ONLY = (TURNS, "coil.rest_position")
"""Parameters that leave the field as it is."""
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


@dataclass(frozen=True)
class Step:
    """A parameter's value before and after, in its unit (mm; turns of a layer)."""

    parameter: str
    before: float
    after: float
    unit: str


@dataclass(frozen=True)
class Moved:
    """A figure now, as predicted with its numerical uncertainty, and as solved (nan if not)."""

    figure: str
    now: float
    predicted: float
    uncertainty: float
    solved: float = math.nan
    solved_uncertainty: float = math.nan


@dataclass(frozen=True)
class Proposal:
    """A change and what it does.

    Parameters
    ----------
    steps : tuple of Step
    moved : tuple of Moved
        Goals first.
    size : float
        Sum of the relative changes.
    remark : str
        What speaks against it; "" for nothing.
    """

    steps: tuple[Step, ...]
    moved: tuple[Moved, ...]
    size: float
    remark: str = ""


@dataclass(frozen=True)
class Advice(DrawablePage):
    """What to change for some goals.

    Parameters
    ----------
    name : str
        The design's.
    goals : tuple of Goal
    singles : tuple of Proposal
        Single dimensions that reach the first goal, the smallest change first.
    joint : Proposal or None
        The smallest joint change that reaches all goals and holds the coil's clearance, or comes
        as near as the largest changes allow.
    reason : str
        Why there is none, or what it misses.
    solves : int
        How often the joint change was solved on its way.
    design : Design or None
        The joint change as a design.
    slopes : Derivatives
    """

    name: str
    goals: tuple[Goal, ...]
    singles: tuple[Proposal, ...]
    joint: Proposal | None
    reason: str
    design: Design | None
    slopes: Derivatives
    now: Mapping[str, float | None]
    solves: int = 0

    def leaning(self) -> list[tuple[str, float, float]]:
        """Return what makes Bl(x) lean: parameter, change of the asymmetry per mm, uncertainty.

        Positive where a larger dimension makes Bl higher outwards; strongest first.
        """
        rows = [
            (row.parameter, row.derivative, row.uncertainty)
            for row in self.slopes.rows
            if row.figure == "bl_asymmetry_at_82_percent"
            and row.unit == "1/mm"
            and abs(row.derivative) > row.uncertainty
        ]
        return sorted(rows, key=lambda row: -abs(row[1]))

    def rows(self) -> list[dict[str, Any]]:
        """Return one record per figure of every proposal."""
        proposals = [*self.singles, *([self.joint] if self.joint else [])]
        return [
            {
                "proposal": "joint" if one is self.joint else one.steps[0].parameter,
                "steps": "; ".join(
                    f"{s.parameter} {s.before:.6g} to {s.after:.6g} {s.unit}" for s in one.steps
                ),
                "remark": one.remark,
                "figure": m.figure,
                "now": m.now,
                "predicted": finite(m.predicted),
                "uncertainty": finite(m.uncertainty),
                "solved": finite(m.solved),
                "solved_uncertainty": finite(m.solved_uncertainty),
            }
            for one in proposals
            for m in one.moved
        ]

    def summary(self) -> dict[str, Any]:
        """Return the record that ``motor change --json`` prints."""
        return {
            **origin(),
            "name": self.name,
            "goals": [g.sentence for g in self.goals],
            "joint_change": None
            if self.joint is None
            else [
                {"parameter": s.parameter, "before": s.before, "after": s.after, "unit": s.unit}
                for s in self.joint.steps
            ],
            "reason": self.reason,
            "solves": self.solves,
            "leaning": [
                {"parameter": p, "asymmetry_per_mm": slope, "uncertainty": doubt}
                for p, slope, doubt in self.leaning()
            ],
            "rows": self.rows(),
        }


class _Model:
    """The figures as the derivatives make them, over changes of the dimensions that may move."""

    def __init__(self, result: MotorResult, slopes: Derivatives) -> None:
        self.result = result
        draft, coil = Draft(result.design), result.design.coil
        self.names: list[str] = []
        self.before: list[float] = []
        self.size: list[float] = []
        for name in dict.fromkeys(row.parameter for row in slopes.rows):
            first = name.partition(TOGETHER)[0]
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


@one_blas_thread()
def advise(result: MotorResult, goals: Sequence[str]) -> Advice:
    """Return what to change for some goals, the joint change solved.

    Parameters
    ----------
    result : MotorResult
    goals : sequence of str
        See :func:`motor.study.goals.goal`.

    Raises
    ------
    InvalidInput
        If there is no goal or one cannot be read.
    """
    if not goals:
        raise InvalidInput("goal", "be given at least once", "none")
    read = tuple(goal(text, result) for text in goals)
    slopes = derivatives(result)
    model = _Model(result, slopes)
    singles = sorted(_singles(model, read), key=lambda p: (p.remark != "", p.size))
    change, solved, solves, reason = _joint(model, read)
    joint = None
    if solved is not None:
        moved = tuple(_beside(one, solved) for one in model.moved(change, read))
        joint = Proposal(model.steps(change), moved, model.length(change))
    return Advice(
        result.design.name,
        read,
        tuple(singles),
        joint,
        reason,
        None if solved is None else solved.design,
        slopes,
        model.now,
        solves,
    )


def _singles(model: _Model, goals: Sequence[Goal]) -> list[Proposal]:
    """Return for each parameter the smallest change of it that reaches the first goal."""
    found = []
    for k, size in enumerate(model.size):
        low, high = -math.inf, math.inf
        for slopes, wanted, sense in model.conditions(goals[0]):
            slope = float(slopes[k])
            if not slope:
                met = {"least": wanted <= 0, "most": wanted >= 0, "equal": wanted == 0}[sense]
                low = low if met else math.inf
                continue
            end, rising = wanted / slope, (slope > 0) == (sense == "least")
            low = max(low, end if rising or sense == "equal" else -math.inf)
            high = min(high, end if not rising or sense == "equal" else math.inf)
        smallest = min(max(0.0, low), high)
        if low > high or not smallest or not abs(smallest) <= FARTHEST * size:
            continue
        change = np.zeros(len(model.size))
        change[k] = smallest
        change = model.rounded(change, up=True)
        found.append(
            Proposal(
                model.steps(change),
                model.moved(change, goals),
                model.length(change),
                _against(model, change),
            )
        )
    return found


def _against(model: _Model, change: Floats) -> str:
    """Return what speaks against a single change."""
    said = []
    if model.length(change) > REACH:
        said.append("far for a derivative")
    for key in HELD:
        less = float(np.nan_to_num(model.slope[key]) @ change)
        if less < -1e-6:
            side = "inside" if "inner" in key else "outside"
            said.append(f"{float(model.now[key] or 0) + less:.2f} mm of clearance left {side}")
    try:
        model.design(change)
    except InvalidInput:
        said.append("cannot be built alone")
    return "; ".join(said)


def _joint(model: _Model, goals: Sequence[Goal]) -> tuple[Floats, MotorResult | None, int, str]:
    """Return the smallest joint change, solved, and what it misses or why there is none.

    Each round linearises where the last one ended, and looks for the least change from the start.
    """
    here, total = model, np.zeros(len(model.size))
    tried: list[tuple[float, Floats, MotorResult]] = []
    reason = "no dimension brings the goals nearer"
    while len(tried) < ROUNDS:
        change = _whole(model, here, goals, total)
        if len(here.names) < len(model.names) and _misses(model, here, goals, total, change) > LEFT:
            here = _Model(tried[-1][2], derivatives(tried[-1][2], model.names))
            change = _whole(model, here, goals, total)
        change = model.rounded(change)
        if not change.any() or (change == total).all():
            break
        try:
            solved = solve(model.design(change))
        except (InvalidInput, MotorError) as error:
            reason = f"the smallest change cannot be made: {error}"
            break
        total = change
        tried.append((sum(_miss(one, solved) for one in goals), total, solved))
        if not tried[-1][0]:
            break
        moved = [n for n, c in zip(model.names, total, strict=True) if c]
        here = _Model(solved, derivatives(solved, moved))
    if not tried:
        return total, None, 0, reason
    _, total, solved = min(tried, key=lambda entry: entry[0])
    missed = [
        f"{one.sentence} is missed: {sloped()[one.figure](solved) or 0:.4g}"
        for one in goals
        if _miss(one, solved)
    ]
    return total, solved, len(tried), "; ".join(missed)


def _miss(one: Goal, solved: MotorResult) -> float:
    """Return by how much of itself a goal is missed; 0 where it is reached closely enough."""
    value = sloped()[one.figure](solved)
    if value is None:
        return 1.0
    short = value - one.value if one.sense == "most" else one.value - value
    short = abs(short) if one.sense == "equal" else max(short, 0.0)
    if "asymmetry" in one.figure:
        return short if short > LEAN else 0.0
    return short / abs(one.value) if short > CLOSE * abs(one.value) else 0.0


def _whole(model: _Model, here: _Model, goals: Sequence[Goal], total: Floats) -> Floats:
    """Return the least change from the start that reaches the goals, of whole turns."""
    change = _programme(model, here, goals, total, {})
    if TURNS not in model.names:
        return change
    k = model.names.index(TURNS)
    ends = {math.floor(change[k] + 1e-9), math.ceil(change[k] - 1e-9)}
    if len(ends) == 1:
        return change
    tried = [_programme(model, here, goals, total, {k: float(end)}) for end in ends]
    return min(
        tried,
        key=lambda c: model.length(c) + PENALTY * _misses(model, here, goals, total, c),
    )


def _misses(
    model: _Model, here: _Model, goals: Sequence[Goal], total: Floats, change: Floats
) -> float:
    """Return the sum of what a change misses, each over what the strongest dimension does."""
    missed = 0.0
    for slopes, wanted, sense in _conditions(model, here, goals):
        less = wanted - float(slopes @ (change - total))
        less = abs(less) if sense == "equal" else less if sense == "least" else -less
        missed += max(less, 0.0) / (float(np.abs(slopes * model.size).max()) or 1.0)
    return missed


def _conditions(
    model: _Model, here: _Model, goals: Sequence[Goal]
) -> list[tuple[Floats, float, str]]:
    """Return all linear conditions where the last round ended, over the start's parameters."""
    found = [c for one in goals for c in here.conditions(one)]
    found += here.held(goals, model.now)
    place = {name: k for k, name in enumerate(here.names)}
    pick = [place.get(name, -1) for name in model.names]
    return [(np.append(slopes, 0.0)[pick], wanted, sense) for slopes, wanted, sense in found]


def _programme(
    model: _Model,
    here: _Model,
    goals: Sequence[Goal],
    total: Floats,
    fixed: Mapping[int, float],
) -> Floats:
    """Return the change from the start with the least sum of relative changes and of misses.

    Unknowns are rises and falls of each parameter over its size, and a miss for each condition.
    """
    size, n = np.array(model.size), len(model.size)
    conditions = _conditions(model, here, goals)
    rows, ends = [], []
    for k, (slopes, wanted, sense) in enumerate(conditions):
        scaled = slopes * size
        weight = float(np.abs(scaled).max()) or 1.0
        miss = np.zeros(len(conditions))
        miss[k] = 1.0
        row = np.concatenate([scaled, -scaled]) / weight
        end = (wanted + float(slopes @ total)) / weight
        if sense != "most":
            rows.append(np.concatenate([-row, -miss]))
            ends.append(-end)
        if sense != "least":
            rows.append(np.concatenate([row, -miss]))
            ends.append(end)
    reach = np.array([FARTHEST if n in COIL_ONLY else REACH for n in model.names])
    low = np.maximum(total / size - reach, -FARTHEST) * model.ways[0]
    high = np.minimum(total / size + reach, FARTHEST) * model.ways[1]
    stuck = [k for k, name in enumerate(model.names) if name not in here.names]
    for k, value in {**{k: total[k] for k in stuck}, **fixed}.items():
        low[k] = high[k] = value / size[k]
    bounds = [
        *((max(a, 0.0), max(b, 0.0)) for a, b in zip(low, high, strict=True)),
        *((max(-b, 0.0), max(-a, 0.0)) for a, b in zip(low, high, strict=True)),
        *(((0.0, None),) * len(conditions)),
    ]
    found = linprog(
        np.concatenate([np.ones(2 * n), np.full(len(conditions), PENALTY)]),
        A_ub=np.array(rows),
        b_ub=np.array(ends),
        bounds=bounds,
        method="highs",
    )
    change = (found.x[:n] - found.x[n : 2 * n]) * size
    return np.asarray(np.where(np.abs(change) > 1e-9, change, 0.0))


def _beside(one: Moved, solved: MotorResult) -> Moved:
    """Return a figure with its solved value beside the predicted one."""
    quantity = next(q for q in motor_quantities() if q.key == one.figure)
    value, doubt = quantity.reading(solved)
    return dataclasses.replace(
        one, solved=math.nan if value is None else value, solved_uncertainty=doubt
    )
