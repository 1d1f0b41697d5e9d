"""What each requirement costs at the answer of a target search: multipliers from derivatives.

At an optimum the slope of what is minimised is a sum of the slopes of what binds, each with a
multiplier of 0 or more (H. W. Kuhn and A. W. Tucker, Second Berkeley Symposium, 1951; from
memory).  Here the sum that comes nearest is taken, and what it leaves says how far from an
optimum the answer is.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.optimize import nnls

from motor.base.arrays import Floats
from motor.base.blas_threads import one_blas_thread
from motor.base.errors import InvalidInput, MotorError
from motor.design.design import Design
from motor.field.motion import NoSmoothMotionError
from motor.results.motor_result import MotorResult, solve
from motor.study.derivatives import sloped
from motor.study.neighbours import Change, ends, prepared
from motor.study.problem import Problem, Trial
from motor.study.target import Target

__all__ = ["Multiplier", "Multipliers", "multipliers"]

SHARE = 2e-4
"""Change of a free parameter over its range to either side."""
BINDS = 0.01
"""Slack, or distance from an end over the range, below which something binds."""
ROUGH = 0.25
"""Share of the slope left unexplained above which an answer is no optimum."""


@dataclass(frozen=True)
class Multiplier:
    """What one requirement costs.

    Parameters
    ----------
    name : str
        The requirement in words.
    least : bool
        Whether it asks for at least a value.
    saved : float
        Of what is minimised, if its limit were 1 % easier.
    """

    name: str
    least: bool
    saved: float


@dataclass(frozen=True)
class Multipliers:
    """What the requirements that bind cost, dearest first.

    Parameters
    ----------
    rows : tuple of Multiplier
    unexplained : float
        Length of the slope that no binding requirement or end of a range explains, over the
        whole; 0 at an optimum.
    minimise : mapping of goal to weight
        As in the target.
    """

    rows: tuple[Multiplier, ...]
    unexplained: float
    minimise: Mapping[str, float]

    def sentences(self) -> list[str]:
        """Return what each costs in words."""
        said = []
        for row in self.rows:
            way = "less" if row.least else "more"
            said.append(f"1 % {way} {row.name} would save {self._amount(row.saved)}")
        if said and self.unexplained > ROUGH:
            said.append(
                f"these are rough: {100 * self.unexplained:.0f} % of the slope is explained by "
                "nothing that binds; steps of whole turns hold the search there, or it ended early"
            )
        return said

    def _amount(self, saved: float) -> str:
        asked = {goal: weight for goal, weight in self.minimise.items() if weight}
        if len(asked) > 1:
            return f"{saved:.3g} of the weighted sum that is minimised"
        ((goal, weight),) = asked.items()
        scale, unit = {"mass": (1e3, "g"), "cost": (1.0, "of the cost"), "volume": (1e3, "cm³")}[
            goal
        ]
        return f"{scale * saved / weight:.3g} {unit}"


@one_blas_thread()
def multipliers(problem: Problem, trial: Trial) -> Multipliers | None:
    """Return what each requirement costs at a trial that meets the target; None if not known.

    Parameters
    ----------
    problem : Problem
    trial : Trial
        The answer of a search, solved once more for its derivatives.
    """
    if trial.results is None or trial.worst < 0:
        return None
    low, high = np.array(list(problem.free.values())).T
    unit = np.array([trial.values[name] for name in problem.free])
    unit = (unit - low) / (high - low)

    def build(point: Floats) -> Design:
        where = low + point * (high - low)
        free = {n: float(v) for n, v in zip(problem.free, where, strict=True)}
        return problem.plan.build({**trial.values, **free})

    slopes = _slopes_of(problem.target, trial.results, build, unit)
    if slopes is None or not slopes.objective.any():
        return None
    columns, names = [], []
    for one, slack in zip(trial.requirements, slopes.slacks, strict=True):
        if one.slack < BINDS:
            columns.append(slack)
            names.append(one)
    for k, place in enumerate(unit):
        if not BINDS < place < 1 - BINDS:
            columns.append(np.eye(len(unit))[k] * (1.0 if place <= BINDS else -1.0))
    if not columns:
        return Multipliers((), 1.0, problem.target.minimise)
    found, left = nnls(np.array(columns).T[slopes.known], slopes.objective[slopes.known])
    rows = [
        Multiplier(one.name, one.least, 0.01 * float(cost))
        for one, cost in zip(names, found, strict=False)
        if cost > 0
    ]
    unexplained = float(left / np.linalg.norm(slopes.objective[slopes.known]))
    ordered = tuple(sorted(rows, key=lambda row: -row.saved))
    return Multipliers(ordered, unexplained, problem.target.minimise)


@dataclass(frozen=True)
class _Slopes:
    """Derivatives where a design stands, over the unit cube of the free parameters.

    Parameters
    ----------
    objective : (n,) array
        Of what is minimised.
    slacks : (m, n) array
        Of every requirement's slack.
    known : (n,) array of bool
        Whether a parameter has derivatives there.
    """

    objective: Floats
    slacks: Floats
    known: Floats


def _slopes_of(
    target: Target,
    results: Mapping[str, Any],
    build: Callable[[Floats], Design],
    unit: Floats,
) -> _Slopes | None:
    """Return the derivatives at a point; None if the design there cannot be solved.

    Parameters
    ----------
    target : Target
    results : mapping
        Flat ones of the point's design; margins at temperatures move as the one of the design.
    build : callable
        The design at a point of the unit cube, all rules applied.
    unit : (n,) array
    """
    try:
        result = solve(build(unit), uncertainty=False)
        levels, mover = prepared(result, fine_only=True)
    except (InvalidInput, MotorError):
        return None
    figures = sloped()
    middle = _slacks(target, results, {})
    objective, slacks = np.zeros(len(unit)), np.zeros((len(middle), len(unit)))
    known = np.zeros(len(unit), bool)
    for k in range(len(unit)):
        sides = _sides(build, unit, k, result.design)
        if sides is None:
            continue
        low, high, step = sides
        change = Change(low, high, step, "1", step, moves=True, magnetic=True, read=True)
        try:
            shift = mover.shifts(low.regions, high.regions)
            found = ends(result, levels[0], change, shift)
        except (InvalidInput, NoSmoothMotionError):
            continue
        moved = [_moved(figures, result, side, results) for side in found]
        values = [target.objective({**results, **m}) for m in moved]
        objective[k] = (values[1] - values[0]) / step
        both = [_slacks(target, results, m) for m in moved]
        slacks[:, k] = (both[1] - both[0]) / step
        known[k] = True
    return _Slopes(objective, slacks, known)


def _sides(
    build: Callable[[Floats], Design], unit: Floats, k: int, design: Design
) -> tuple[Design, Design, float] | None:
    """Return designs to either side with the same turns, and the step between them."""
    sides, places = [], []
    for sign in (-1, 1):
        point = unit.copy()
        point[k] += sign * SHARE
        try:
            side = build(point)
        except InvalidInput:
            side = design
        same = side.coil.turns == design.coil.turns
        sides.append(side if same else design)
        places.append(sign * SHARE if same and side is not design else 0.0)
    step = places[1] - places[0]
    return (sides[0], sides[1], step) if step else None


def _moved(
    figures: Mapping[str, Callable[[MotorResult], float | None]],
    middle: MotorResult,
    side: MotorResult,
    results: Mapping[str, Any],
) -> dict[str, Any]:
    """Return the flat results of a side: those of the point, changed as the figures change."""
    found: dict[str, Any] = {}
    for key, read in figures.items():
        here, there, base = read(middle), read(side), results.get(key)
        if here is not None and there is not None and isinstance(base, float | int):
            found[key] = base + there - here
            if key == "demagnetisation_margin_kA_per_m":
                for end in ("cold", "hot"):
                    margin = results.get(f"demag_margin_{end}_kA_per_m")
                    if margin is not None:
                        found[f"demag_margin_{end}_kA_per_m"] = margin + there - here
    return found


def _slacks(target: Target, results: Mapping[str, Any], moved: Mapping[str, Any]) -> Floats:
    return np.array([r.slack for r in target.requirements({**results, **moved})])
