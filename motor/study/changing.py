"""What to change in a solved motor for a goal: single dimensions, and the smallest joint change.

Figures follow the derivatives; strokes are the least of their sides and limits, each of which
follows its own.  The joint change has the least sum of relative changes, a linear programme
(scipy's HiGHS), whose answer touches as few dimensions as the goals allow.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping, Sequence

import numpy as np
from scipy.optimize import linprog

from motor.base.arrays import Floats
from motor.base.blas_threads import one_blas_thread
from motor.base.errors import InvalidInput, MotorError
from motor.results.motor_result import MotorResult, solve
from motor.results.quantities import motor_quantities
from motor.study.advice import Advice, Moved, Proposal
from motor.study.derivatives import derivatives
from motor.study.differencing import sloped
from motor.study.dimension_model import HELD, DimensionModel
from motor.study.goals import Goal, goal
from motor.study.neighbours import TURNS

__all__ = ["advise"]

REACH, FARTHEST = 0.15, 0.3
"""Largest change of a dimension over its value that derivatives are trusted for, and that a joint
change makes, solved and differentiated again on its way."""
ROUNDS, CLOSE, LEAN = 4, 1.5e-3, 5e-4
"""Solves of a joint change at most; how near a goal is reached, over its value, or an asymmetry."""
PENALTY, LEFT = 1e3, 1e-4
"""Weight of a goal's relative miss beside relative changes of dimensions; a miss that counts."""
COIL_ONLY = (TURNS, "coil.rest_position")
"""Parameters that leave the field as it is."""


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
    model = DimensionModel(result, slopes)
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


def _singles(model: DimensionModel, goals: Sequence[Goal]) -> list[Proposal]:
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


def _against(model: DimensionModel, change: Floats) -> str:
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


def _joint(
    model: DimensionModel, goals: Sequence[Goal]
) -> tuple[Floats, MotorResult | None, int, str]:
    """Return the smallest joint change, solved, and what it misses or why there is none.

    Each round linearises where the last one ended, and looks for the least change from the start.
    """
    here, total = model, np.zeros(len(model.size))
    tried: list[tuple[float, Floats, MotorResult]] = []
    reason = "no dimension brings the goals nearer"
    while len(tried) < ROUNDS:
        change = _whole(model, here, goals, total)
        if len(here.names) < len(model.names) and _misses(model, here, goals, total, change) > LEFT:
            here = DimensionModel(tried[-1][2], derivatives(tried[-1][2], model.names))
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
        here = DimensionModel(solved, derivatives(solved, moved))
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


def _whole(
    model: DimensionModel, here: DimensionModel, goals: Sequence[Goal], total: Floats
) -> Floats:
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
    model: DimensionModel,
    here: DimensionModel,
    goals: Sequence[Goal],
    total: Floats,
    change: Floats,
) -> float:
    """Return the sum of what a change misses, each over what the strongest dimension does."""
    missed = 0.0
    for slopes, wanted, sense in _conditions(model, here, goals):
        less = wanted - float(slopes @ (change - total))
        less = abs(less) if sense == "equal" else less if sense == "least" else -less
        missed += max(less, 0.0) / (float(np.abs(slopes * model.size).max()) or 1.0)
    return missed


def _conditions(
    model: DimensionModel, here: DimensionModel, goals: Sequence[Goal]
) -> list[tuple[Floats, float, str]]:
    """Return all linear conditions where the last round ended, over the start's parameters."""
    found = [c for one in goals for c in here.conditions(one)]
    found += here.held(goals, model.now)
    place = {name: k for k, name in enumerate(here.names)}
    pick = [place.get(name, -1) for name in model.names]
    return [(np.append(slopes, 0.0)[pick], wanted, sense) for slopes, wanted, sense in found]


def _programme(
    model: DimensionModel,
    here: DimensionModel,
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
