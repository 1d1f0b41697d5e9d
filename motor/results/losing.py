"""The field of magnets that lose remanence in it: Newton's method on the curve beyond the knee.

With the demagnetisation curve as the magnets' law the equations are still those of a convex
energy, since B rises with H on it: full steps, shortened where the energy's slope along them has
turned, settle from anywhere.  Past the knee the curve is so steep that a share of remanence must
move with its neighbours': the step solves for all of them at once, on top of the factorised
tangent of steel and straight recoil lines.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping

import numpy as np
from scipy.sparse.linalg import LinearOperator, gmres

from motor.base.arrays import Floats
from motor.base.errors import SolveError
from motor.field.field import FieldOnMesh

__all__ = ["Shares", "lossy_potential"]

Shares = dict[str, Floats]
"""Share of the remanence left in each triangle of each magnet region."""
NUDGE = 1e-5
"""Flux density in tesla over which the slope of a share is taken."""
TOLERANCE = 1e-9
"""Of the residual over the load."""
MOST_STEPS, MOST_TRIALS = 100, 30
ENOUGH = 0.5
"""Of the energy's slope along a step, left where it is taken."""


def lossy_potential(
    level: FieldOnMesh,
    start: Floats,
    left: Callable[[Shares], Shares],
    warmth: Mapping[str, float],
    coil: Floats | None,
) -> Floats:
    """Return the reduced potential at which every share is what its own field leaves.

    Parameters
    ----------
    level : FieldOnMesh
    start : (n,) array
        Reduced potential.
    left : callable
        From mean flux densities along the remanences to the shares left there; by region.
    warmth : mapping of region name to float
        Remanence over that of the level's system.
    coil : (n,) array or None
        Reduced load of a coil current.

    Raises
    ------
    SolveError
    """
    system, solver = level.system, level.solver
    unlit = system.with_shares(dict.fromkeys(system.magnets, 0.0))
    bare = solver.with_system(unlit)  # steel, straight recoil lines and no remanence
    extra = np.zeros(system.size) if coil is None else coil

    def pull(shares: Mapping[str, Floats]) -> Floats:
        none: dict[str, float | Floats] = dict.fromkeys(system.magnets, 0.0)
        return system.magnet_load(none | {k: part * warmth[k] for k, part in shares.items()})

    def missed(a: Floats) -> Floats:
        return bare.residual(a) - pull(left(system.along_magnets(a))) - extra

    norm = float(np.linalg.norm(pull(dict.fromkeys(warmth, np.ones(1))) + extra))
    a, residual = start, missed(start)
    for _ in range(MOST_STEPS):
        if np.linalg.norm(residual) <= TOLERANCE * norm:
            return a
        solver.set_tangent(a)
        along = system.along_magnets(a)
        here, there = left(along), left({name: b + NUDGE for name, b in along.items()})
        slopes = {name: (there[name] - here[name]) / NUDGE for name in here}
        straight = solver.solve_tangent(-residual)

        def followed(change: Floats, slopes: Shares = slopes) -> Shares:
            """Return how the shares follow a change of the potential."""
            field = system.along_magnets(change)
            return {name: slopes[name] * field[name] for name in slopes}

        def turned(change: Floats, followed: Callable[[Floats], Shares] = followed) -> Floats:
            return change - solver.solve_tangent(pull(followed(change)))

        matrix = LinearOperator((a.size, a.size), matvec=turned, dtype=float)
        step, _ = gmres(matrix, straight, rtol=1e-4, restart=80, maxiter=3)
        a, residual = _searched(missed, a, step, float(residual @ step))
    raise SolveError(
        "the demagnetised state did not settle: relative residual "
        f"{np.linalg.norm(residual) / norm:.1e} after {MOST_STEPS} steps"
    )


def _searched(
    missed: Callable[[Floats], Floats], a: Floats, step: Floats, slope: float
) -> tuple[Floats, Floats]:
    """Return the place along a step where the energy's slope has come down, and its residual."""
    low, high, t = 0.0, math.inf, 1.0
    residual = missed(a + step)
    for _ in range(MOST_TRIALS):
        here = float(residual @ step)
        if slope >= 0 or abs(here) <= ENOUGH * abs(slope):
            break
        low, high = (t, high) if here < 0 else (low, t)
        if math.isinf(high):
            break
        t = 0.5 * (low + high)
        residual = missed(a + t * step)
    return a + t * step, residual
