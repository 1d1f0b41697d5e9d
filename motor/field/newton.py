"""Newton's method on the convex energy, with a line search on the energy's slope."""

from __future__ import annotations

import copy
import math
from dataclasses import dataclass

import numpy as np
from scipy import sparse

from motor.base.arrays import Floats
from motor.base.errors import SolveError
from motor.field.factor import Factor
from motor.field.steel_part import SteelState
from motor.field.weak_form import Discretisation

__all__ = ["TOLERANCE", "Solution", "Solver"]

TOLERANCE = 1e-8
"""Norm of the residual over the norm of the sources at which the equations count as solved."""
FAR = 1e-3
"""Relative residual above which the tangent has H/B where that exceeds dH/dB, but for the first
step.

Steel is hardest to magnetise at first: where B is small H(B) bends the other way, and steps with
its slope overshoot there and back.  On 60 random motors this took the steps on the finer mesh
from 5.1 and at most 11 to 4.5 and at most 6; cold ones on large meshes from 9 to 19 to 9.
"""
MOST_STEPS = 60
MOST_TRIALS = 20
ENOUGH = 0.6
"""A step length is taken once the energy's slope is down to this share of that at its start."""
START_FLUX_DENSITY = 1.7
"""The first step from nothing treats steel as linear, as permeable as at this many tesla."""


def _dot(a: Floats, b: Floats) -> float:
    """Return the inner product without the linear-algebra library's threads.

    Those start at ten thousand entries and stall whenever another process has the other core.
    """
    return float(np.einsum("i,i", a, b))


@dataclass(frozen=True)
class Solution:
    """Converged unknowns and how they were reached.

    Parameters
    ----------
    reduced : (n,) array
        Vector potential at the free nodes, Wb/m.
    residuals : tuple of float
        Relative residual before each step and after the last.
    """

    reduced: Floats
    residuals: tuple[float, ...]

    @property
    def iterations(self) -> int:
        """Number of Newton steps."""
        return len(self.residuals) - 1

    @property
    def residual(self) -> float:
        """Relative residual reached."""
        return self.residuals[-1]


class Solver:
    """Newton solver for one system; keeps the symbolic factorisation between solves."""

    def __init__(self, system: Discretisation) -> None:
        self.system = system
        n = system.size
        self._lower = sparse.csc_matrix(
            (system.linear, system.indices, system.indptr), shape=(n, n)
        )
        self._upper, self._diagonal = self._lower.T, self._lower.diagonal()
        self._factor: Factor | None = None

    def with_system(self, system: Discretisation) -> Solver:
        """Return the solver of the same matrices with other loads; both share the factors."""
        twin = copy.copy(self)
        twin.system = system
        return twin

    def _linear(self, x: Floats) -> Floats:
        """Return the linear part of the matrix, of which the lower triangle is held, times x."""
        product: Floats = self._upper @ x + self._lower @ x - self._diagonal * x
        return product

    def _factorise(self, steel: Floats) -> Factor:
        if self._factor is None:
            self._factor = Factor(self.system.indptr, self.system.indices)
        self._factor.update(self.system.linear + steel)
        return self._factor

    def residual(self, reduced: Floats) -> Floats:
        """Return by how much a potential misses the equations, without coil current (reduced)."""
        s = self.system
        return self._linear(reduced) + s.steel_force(s.steel_at(reduced)) - s.load

    def set_tangent(self, reduced: Floats) -> None:
        """Factorise the tangent at a potential (reduced)."""
        self._factorise(self.system.steel_tangent(self.system.steel_at(reduced)))

    def solve_tangent(self, right: Floats) -> Floats:
        """Return the solution of the last tangent for another right-hand side (reduced)."""
        if self._factor is None:
            raise SolveError("no tangent has been factorised yet")
        return self._factor.solve(right)

    def solve(
        self,
        start: Floats | None = None,
        extra_load: Floats | None = None,
        tolerance: float = TOLERANCE,
    ) -> Solution:
        """Solve the non-linear equations.

        Parameters
        ----------
        start : (n,) array or None
            Reduced vector to start from; None for a cold start.
        extra_load : (n,) array or None
            Reduced load of coil currents, added to the magnets' load.
        tolerance : float
            Relative residual to reach.

        Raises
        ------
        SolveError
            If the residual does not reach the tolerance.
        """
        s = self.system
        load = s.load if extra_load is None else s.load + extra_load
        norm = math.sqrt(_dot(load, load))
        if norm == 0:
            return Solution(np.zeros(s.size), (0.0,))
        residuals: list[float] = []
        if start is None:
            residuals.append(1.0)
            a = self._factorise(s.chord_tangent(START_FLUX_DENSITY)).solve(load)
        else:
            a = start
        linear, steel = self._linear(a), s.steel_at(a)
        force = s.steel_force(steel)
        for count in range(MOST_STEPS):
            residual = linear + force - load
            residuals.append(math.sqrt(_dot(residual, residual)) / norm)
            if not np.isfinite(residuals[-1]):
                break
            if residuals[-1] <= tolerance:
                if self._factor is None:
                    self._factorise(s.steel_tangent(steel))
                return Solution(a, tuple(residuals))
            tangent = s.steel_tangent(steel, secant=count > 0 and residuals[-1] > FAR)
            step = self._factorise(tangent).solve(-residual)
            along = self._linear(step)
            length, steel, force = self._search(a, step, linear - load, along, _dot(residual, step))
            a, linear = a + length * step, linear + length * along
        raise SolveError(
            f"the field did not converge: relative residual {residuals[-1]:.2e} after "
            f"{len(residuals) - 1} steps, {tolerance:.0e} wanted"
        )

    def _search(
        self, a: Floats, step: Floats, at_rest: Floats, along: Floats, slope: float
    ) -> tuple[float, SteelState, Floats]:
        """Return a step length at which the energy's slope has come down, and the steel there.

        The energy is convex, so its slope rises monotonically along the step; any length at
        which the slope's size is well below that at the start is taken, full steps first.
        ``at_rest`` and ``along`` are the linear part of the residual at ``a`` and its change
        over a full step; the steel's state and force at the new place are returned.
        """
        low, high, t = 0.0, np.inf, 1.0
        slope_low, slope_high = slope, np.inf
        for trial in range(1, MOST_TRIALS + 1):
            steel = self.system.steel_at(a + t * step)
            force = self.system.steel_force(steel)
            here = _dot(at_rest + t * along + force, step)
            if slope >= 0 or abs(here) <= ENOUGH * abs(slope) or trial == MOST_TRIALS:
                break
            if here < 0:
                low, slope_low = t, here
            else:
                high, slope_high = t, here
            if not np.isfinite(high):
                break
            share = -slope_low / (slope_high - slope_low)
            t = low + min(max(share, 0.1), 0.9) * (high - low)
        return t, steel, force
