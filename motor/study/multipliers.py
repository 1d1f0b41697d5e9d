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
from motor.base.errors import InvalidInput
from motor.base.quantity import COLUMN_UNITS, Quantity
from motor.design.design import Design
from motor.study.bench import keys_of, local_of, needs_of
from motor.study.descent import Local
from motor.study.evaluate import Around, around_job_of, solve_jobs
from motor.study.problem import Problem, Trial
from motor.study.relaxed import NoDescentError, relaxed
from motor.study.slopes import has_derivative, sides_of

__all__ = ["Multiplier", "Multipliers", "multipliers"]

BINDS = 0.01
"""Slack, or distance from an end over the range, below which something binds."""
HELD = 1e3
"""Weight with which shares add to 1."""
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
        Of what is minimised, if its limit were 1 % easier; of the largest miss (a share), where
        the target is out of reach.
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
    extreme : (Quantity, sign) or None
        As in the target.
    missed : bool
        True where the target is out of reach: the largest miss is what is saved.
    """

    rows: tuple[Multiplier, ...]
    unexplained: float
    minimise: Mapping[str, float]
    extreme: tuple[Quantity[Any], float] | None = None
    missed: bool = False

    def sentences(self) -> list[str]:
        """Return what each costs in words."""
        said = []
        for row in self.rows:
            way = "less" if row.least else "more"
            if self.missed:
                words = f"take {100 * row.saved:.2g} points of per cent off the largest miss"
            elif self.extreme is not None:
                figure, sign = self.extreme
                unit, verb = COLUMN_UNITS[figure.unit].words, "add" if sign < 0 else "save"
                words = f"{verb} {row.saved:.3g} {unit} of {figure.words}"
            else:
                words = f"save {self._amount(row.saved)}"
            said.append(f"1 % {way} {row.name} would {words}")
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
    """Return what each requirement costs at the answer of a search; None if not known.

    Turns follow winding height and wire without jumps, where they can.

    Parameters
    ----------
    problem : Problem
    trial : Trial
        The answer, solved once more for its derivatives.
    """
    if trial.results is None or trial.design is None:
        return None
    low, high = np.array(list(problem.free.values())).T
    unit = np.array([trial.values[name] for name in problem.free])
    unit = (unit - low) / (high - low)
    try:
        plan = relaxed(problem).plan
    except NoDescentError:
        plan = problem.plan

    def build(point: Floats) -> Design:
        where = low + point * (high - low)
        free = {n: float(v) for n, v in zip(problem.free, where, strict=True)}
        return plan.build({**trial.values, **free})

    local = _local(problem, build, unit)
    if local is None or not local.gradients.any():
        return None
    needs = needs_of(problem, trial.design, trial.results)
    missed = trial.worst < 0
    bind = [k for k, need in enumerate(needs) if need.slack < min(0.0, trial.worst) + BINDS]
    binding = local.jacobian[bind].T[local.known]
    ends = [
        np.eye(len(unit))[k] * (1.0 if place <= BINDS else -1.0)
        for k, place in enumerate(unit)
        if not BINDS < place < 1 - BINDS
    ]
    ended = np.array(ends).reshape(-1, len(unit)).T[local.known]
    if missed:
        costs, _, left = _balanced(-binding, ended)
    else:
        near = local.objectives > local.objective - BINDS * abs(local.objective)
        _, costs, left = _balanced(
            local.gradients[near].T[local.known], np.hstack([binding, ended])
        )
    saved: dict[tuple[str, bool], float] = {}
    for k, cost in zip(bind, costs, strict=False):
        need = needs[k]
        one = 0.01 * float(cost) * abs(need.limit) / need.scale
        saved[need.name, need.least] = saved.get((need.name, need.least), 0.0) + one
    rows = [
        Multiplier(name, least, amount) for (name, least), amount in saved.items() if amount > 0
    ]
    ordered = tuple(sorted(rows, key=lambda row: -row.saved))
    return Multipliers(ordered, left, problem.target.minimise, problem.target.extreme, missed)


def _balanced(tops: Floats, rest: Floats) -> tuple[Floats, Floats, float]:
    """Return shares of the slopes of what is made small, and multipliers that balance them.

    Parameters
    ----------
    tops : (n, p) array
        Their shares add to 1.
    rest : (n, q) array

    Returns
    -------
    (p,) array, (q,) array, float
        The last is what stays unbalanced, over the largest of the first.
    """
    size = float(np.linalg.norm(tops, axis=0).max(initial=0.0)) or 1.0
    hold = np.concatenate([np.full(tops.shape[1], HELD), np.zeros(rest.shape[1])])
    found, _ = nnls(
        np.vstack([np.hstack([tops, -rest]) / size, hold]), np.append(np.zeros(len(tops)), HELD)
    )
    shares, costs = found[: tops.shape[1]], found[tops.shape[1] :]
    whole = float(shares.sum()) or 1.0
    left = float(np.linalg.norm(tops @ shares - rest @ costs)) / (size * whole)
    return shares / whole, costs / whole, left


def _local(problem: Problem, build: Callable[[Floats], Design], unit: Floats) -> Local | None:
    """Return the derivatives at a point; None if the design there cannot be solved."""
    if not all(has_derivative(key) for key in keys_of(problem)):
        return None
    try:
        design = build(unit)
    except InvalidInput:
        return None
    around = Around(sides_of(build, unit, design), keys_of(problem), rough=True)
    job = around_job_of(design, problem.target.measure, around)
    (outcome,) = solve_jobs([job])
    if outcome.results is None:
        return None
    return local_of(problem, job, outcome.results)
