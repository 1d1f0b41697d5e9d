"""The solved field: potential on one mesh, and the pair of nested meshes that carries its error."""

from __future__ import annotations

import functools
import math
from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass
from typing import Any, TypeVar

import numpy as np
from numpy.typing import ArrayLike

from geometries import Region
from motor.base.arrays import Bools, Floats, Ints
from motor.base.drawable import Drawable
from motor.field.exterior import Multipoles
from motor.field.newton import Solution, Solver
from motor.field.weak_form import Discretisation

__all__ = [
    "BOUNDARY_ERROR",
    "ErrorModel",
    "Estimate",
    "Field",
    "FieldOnMesh",
    "Goal",
    "lost_spread",
    "prolong",
    "shape_functions",
]

CHANGE, SCATTER, BEYOND, LOST = 0.35, 0.175, 0.175, 0.35
"""Factors of the error model; see :class:`ErrorModel`."""
BOUNDARY_ERROR = 3e-6
"""Relative error of the outer boundary: the largest of three motors was 0.5e-6, 3e-6 if the outer
circle is as near as it may be."""

Made = TypeVar("Made")

LOST_CHANGE, LOST_EDGE = 0.5, 2e-3
"""Uncertainty of the goal's share that magnets have lost for good: its change between the meshes
times the first, and its square root times the second, since what is lost ends within a triangle
along an edge whose length goes with the root of the area."""


@dataclass(frozen=True)
class Estimate:
    """A number and its numerical uncertainty (absolute, same unit)."""

    value: float
    uncertainty: float

    def widened(self, factor: float) -> Estimate:
        """Return the value with its uncertainty multiplied."""
        return Estimate(self.value, factor * self.uncertainty)


@dataclass(frozen=True)
class FieldOnMesh:
    """The field on one mesh.

    Parameters
    ----------
    system : Discretisation
    solver : Solver
        Holds the factors of a tangent near the solution, for further right-hand sides.
    solution : Solution
    """

    system: Discretisation
    solver: Solver
    solution: Solution

    @functools.cached_property
    def potential(self) -> Floats:
        """Vector potential A at all nodes, Wb/m."""
        return self.system.expand(self.solution.reduced)

    @functools.cached_property
    def flux_densities(self) -> Floats:
        """(B_r, B_z) in tesla at the quadrature points: array (element, point, 2)."""
        return self.system.flux_density(self.potential)

    def flux_densities_of(self, region: str) -> Floats:
        """Return those of one part alone, in the order of its triangles."""
        return self.system.flux_density(self.potential, self.system.mesh.triangles_of(region))

    @functools.cached_property
    def field_strengths(self) -> Floats:
        """(H_r, H_z) in A/m at the quadrature points: array (element, point, 2)."""
        return self.system.field_strength(self.solution.reduced, self.flux_densities)

    @functools.cached_property
    def _made(self) -> dict[tuple[Any, ...], Any]:
        return {}

    def once(self, make: Callable[..., Made], *arguments: Hashable) -> Made:
        """Return ``make(self, *arguments)``, made once however many coils look at the field."""
        if (make, *arguments) not in self._made:
            self._made[make, *arguments] = make(self, *arguments)
        found: Made = self._made[make, *arguments]
        return found

    def locate(self, r: Floats, z: Floats) -> tuple[Ints, Floats]:
        """Return triangle and barycentric coordinates of points; see :meth:`MotorMesh.locate`."""
        return self.system.mesh.locate(r, z)

    def flux_function(self, r: ArrayLike, z: ArrayLike) -> Floats:
        """Return psi = r A in Wb at points (arrays that broadcast, metres).

        2 pi psi is the flux through the disc below the point's circle.
        """
        r = np.asarray(r, float)
        return np.asarray(self.potential_at(r, z) * r)

    @functools.cached_property
    def outside(self) -> Multipoles:
        """The field beyond the mesh."""
        exterior = self.system.exterior
        return exterior.multipoles(self.solution.reduced[exterior.unknowns])

    def potential_at(self, r: ArrayLike, z: ArrayLike) -> Floats:
        """Return the vector potential A in Wb/m at points (arrays that broadcast, metres)."""
        r, z = np.broadcast_arrays(np.asarray(r, float), np.asarray(z, float))
        shape, r, z = r.shape, r.ravel(), z.ravel()
        triangle, bary = self.locate(r, z)
        local = self.potential[self.system.nodes[triangle]].T
        value = (shape_functions(bary) * local).sum(axis=0)
        beyond = _beyond(bary)
        if beyond.any():
            value[beyond] = self.outside.potential(r[beyond], z[beyond])
        return np.asarray(value.reshape(shape))

    def flux_functional(self, r: ArrayLike, z: ArrayLike, weights: ArrayLike) -> Floats:
        """Return the reduced vector g with g . potential = sum of weights psi(r, z)."""
        r, z, weights = (np.asarray(a, float).ravel() for a in np.broadcast_arrays(r, z, weights))
        triangle, bary = self.locate(r, z)
        beyond = _beyond(bary)
        values = shape_functions(bary) * np.where(beyond, 0.0, r * weights)
        result = self.system.gather(self.system.nodes[triangle], values.T)
        if beyond.any():
            exterior = self.system.exterior
            of_modes = self.outside.modes(r[beyond], z[beyond]) @ (r * weights)[beyond]
            result[exterior.unknowns] += of_modes @ exterior.amplitudes
        return result

    def flux_density(self, r: ArrayLike, z: ArrayLike) -> Floats:
        """Return (B_r, B_z) in tesla at points (metres); the last axis is the component."""
        r, z = np.broadcast_arrays(np.asarray(r, float), np.asarray(z, float))
        triangle, bary = self.locate(r.ravel(), z.ravel())
        radius = r.ravel()
        b = self.flux_density_in(triangle, bary, radius)
        beyond = _beyond(bary)
        if beyond.any():
            b[beyond] = self.outside.flux_density(radius[beyond], z.ravel()[beyond])
        return np.asarray(b.reshape(*r.shape, 2))

    def flux_density_in(self, triangle: Ints, bary: Floats, radius: Floats) -> Floats:
        """Return (B_r, B_z) in tesla, array (n, 2), in given triangles (n,).

        ``bary`` are the points' barycentric coordinates there (3, n), ``radius`` their radii in
        metres: on a side, each of its two triangles has an answer of its own.
        """
        d_bary = self.system.mesh.barycentric_slopes(triangle)
        local = self.potential[self.system.nodes[triangle]].T
        grad = np.einsum("kn,kjn->jn", _shape_slope(bary, local), d_bary)
        value = (shape_functions(bary) * local).sum(axis=0)
        on_axis = radius < 1e-9
        share = np.where(on_axis, grad[0], value / np.where(on_axis, 1.0, radius))
        return np.stack([-grad[1], grad[0] + share], axis=-1)


def _beyond(bary: Floats) -> Bools:
    """Return which points, by barycentric coordinates (3, n), lie outside the mesh."""
    return np.asarray(bary.min(axis=0, initial=1.0) < -1e-6)


def shape_functions(bary: Floats) -> Floats:
    """Return the six second-order shape functions (6, n) at barycentric coordinates (3, n)."""
    x, y, w = bary
    return np.stack(
        [x * (2 * x - 1), y * (2 * y - 1), w * (2 * w - 1), 4 * x * y, 4 * y * w, 4 * x * w]
    )


def _shape_slope(bary: Floats, local: Floats) -> Floats:
    """Return d/d(barycentric) (3, n) of the interpolant with nodal values (6, n)."""
    x, y, w = bary
    a, b, c, ab, bc, ac = local
    return np.stack(
        [
            (4 * x - 1) * a + 4 * (y * ab + w * ac),
            (4 * y - 1) * b + 4 * (x * ab + w * bc),
            (4 * w - 1) * c + 4 * (y * bc + x * ac),
        ]
    )


def prolong(coarse: FieldOnMesh, fine: Discretisation, *potentials: Floats) -> tuple[Floats, ...]:
    """Return potentials on the coarse mesh at the fine mesh's free nodes (reduced).

    The fine mesh must have been cut from the coarse one.
    """
    shape = shape_functions(fine.mesh.nodes_in_parent)
    above = coarse.system.nodes[fine.mesh.parent]
    carried = []
    for potential in potentials:
        full = np.empty(fine.basis.N)
        full[fine.nodes] = np.einsum("inj,ni->nj", shape, potential[above])
        carried.append(full[fine.free])
    return tuple(carried)


def lost_spread(fine: float, coarse: float) -> float:
    """Return the uncertainty of a share that magnets have lost for good; see LOST_CHANGE."""
    return LOST_CHANGE * abs(fine - coarse) + LOST_EDGE * math.sqrt(abs(fine))


@dataclass(frozen=True)
class ErrorModel:
    """Numerical uncertainty of a value from its change under one refinement.

        uncertainty^2 = (CHANGE (fine - coarse))^2
                        + ((SCATTER s)^2 + (BEYOND b)^2 + (LOST lost)^2 + boundary^2) scale^2

    The first part is what a converging value still has to go.  The second covers changes that
    happen to cancel: s is the sum of the sizes of all triangles' contributions to the goal's
    change, over the goal.  The third is for steel near saturation: b is what the sum of those
    contributions leaves of the change, which is 0 where the steel is linear.  Then what the outer
    boundary may be wrong by, and what magnets' losses for good may be, which depend on the mesh
    more than the field does.  The parts add as squares, since they come from different triangles.
    The factors were set on random motors against a much finer reference, to hold for 95 % of them;
    tests/verification/coverage.py repeats that.

    Parameters
    ----------
    scatter : float
        s, relative.
    beyond : float
        b, relative.
    boundary : float
        Relative error of the outer boundary.
    lost : float
        Relative error by what magnets have lost for good; 0 where they have lost nothing.
    """

    scatter: float = 0.0
    beyond: float = 0.0
    boundary: float = BOUNDARY_ERROR
    lost: float = 0.0

    @property
    def tail(self) -> float:
        """What does not depend on a value's own change, relative."""
        parts = SCATTER * self.scatter, BEYOND * self.beyond, LOST * self.lost, self.boundary
        return math.hypot(*parts)

    def bound(self, fine: float, coarse: float, scale: float | None = None) -> float:
        """Return the uncertainty of the value ``fine``; ``scale`` defaults to the value."""
        return float(self.bounds(np.array(fine), np.array(coarse), scale))

    def bounds(self, fine: Floats, coarse: Floats, scale: float | None = None) -> Floats:
        """Return the uncertainties of an array of values."""
        size = np.abs(fine) if scale is None else abs(scale)
        return np.asarray(np.hypot(CHANGE * (fine - coarse), self.tail * size))

    def estimate(self, fine: float, coarse: float) -> Estimate:
        """Return the value with its uncertainty."""
        return Estimate(fine, self.bound(fine, coarse))


Goal = Callable[[FieldOnMesh], Floats]
"""Reduced vector of a quantity linear in the potential, on any level."""


@dataclass(frozen=True)
class Field(Drawable):
    """The field of one motor on two nested meshes.

    Every result is computed on both; the finer one gives the value, the change its uncertainty.

    Parameters
    ----------
    regions : tuple of Region
    fine, coarse : FieldOnMesh
        The same one twice if the uncertainty is switched off.
    goal : Goal
        The quantity for which the meshes are judged and refined.
    before_loss : Field or None
        The same with all remanence kept, where magnets have lost some for good.
    """

    regions: tuple[Region, ...]
    fine: FieldOnMesh
    coarse: FieldOnMesh
    goal: Goal
    before_loss: Field | None = None

    @property
    def unknowns(self) -> int:
        """Number of free unknowns of the finer mesh."""
        return self.fine.system.size

    @property
    def triangles(self) -> int:
        """Number of triangles of the finer mesh."""
        return int(self.fine.system.mesh.mesh.nelements)

    @property
    def iterations(self) -> int:
        """Newton steps on both meshes together."""
        if self.fine is self.coarse:
            return self.fine.solution.iterations
        return self.coarse.solution.iterations + self.fine.solution.iterations

    @property
    def residual(self) -> float:
        """Relative residual on the finer mesh."""
        return self.fine.solution.residual

    @functools.cached_property
    def error_shares(self) -> Floats:
        """Each coarse triangle's share of the goal's change between the two meshes.

        With a_f, a_c the solutions, z_f, z_c those of the adjoint problem (tangent) z = goal,
        and P the prolongation, the change is

            (a_f - P a_c) . tangent . (z_f - P z_c)

        (Galerkin orthogonality; R. Becker and R. Rannacher, Acta Numerica 10, 2001, 1-102),
        a sum over triangles, exact for linear steel and of the right size only where steel
        saturates.  Their sizes say where to refine and what may have cancelled.
        """
        fine, coarse = self.fine, self.coarse
        system = fine.system
        adjoint = fine.solver.solve_tangent(self.goal(fine))
        below = coarse.system.expand(coarse.solver.solve_tangent(self.goal(coarse)))
        first, first_adjoint = prolong(coarse, system, coarse.potential, below)
        change = fine.potential - system.expand(first)
        weight = system.expand(adjoint - first_adjoint)
        shares = system.tangent_shares(fine.potential, change, weight)
        parent = system.mesh.parent
        assert parent is not None
        return np.bincount(parent, shares, len(coarse.system.nodes)).astype(float)

    @functools.cached_property
    def errors(self) -> ErrorModel:
        """How the change between the meshes turns into uncertainty; nan with one mesh only."""
        if self.fine is self.coarse:
            return ErrorModel(np.nan)
        value, before = (float(self.goal(x) @ x.solution.reduced) for x in (self.fine, self.coarse))
        shares, lost = self.error_shares, self.goal_lost.uncertainty
        if not value:
            return ErrorModel(lost=lost)
        beyond = abs(value - before - float(shares.sum())) / abs(value)
        return ErrorModel(float(np.abs(shares).sum()) / abs(value), beyond, lost=lost)

    @functools.cached_property
    def goal_lost(self) -> Estimate:
        """Share of the goal that magnets have lost for good; nan uncertain with one mesh only."""
        if self.before_loss is None:
            return Estimate(0.0, math.nan if self.fine is self.coarse else 0.0)
        fine, coarse = (
            1 - float(self.goal(after) @ after.solution.reduced) / before
            for after, whole in (
                (self.fine, self.before_loss.fine),
                (self.coarse, self.before_loss.coarse),
            )
            for before in [float(self.goal(whole) @ whole.solution.reduced)]
        )
        if self.fine is self.coarse:
            return Estimate(fine, math.nan)
        return Estimate(fine, lost_spread(fine, coarse))

    def estimate(self, quantity: Callable[[FieldOnMesh], float]) -> Estimate:
        """Return a quantity of the field with its numerical uncertainty."""
        fine = quantity(self.fine)
        coarse = fine if self.coarse is self.fine else quantity(self.coarse)
        return self.errors.estimate(fine, coarse)

    def flux_function(self, r: ArrayLike, z: ArrayLike) -> Floats:
        """Return psi = r A in Wb at points (metres)."""
        return self.fine.flux_function(r, z)

    def flux_density(self, r: ArrayLike, z: ArrayLike) -> Floats:
        """Return (B_r, B_z) in tesla at points (metres), component last."""
        return self.fine.flux_density(r, z)

    def region(self, name: str) -> Region:
        """Return the region of that name."""
        found: Sequence[Region] = [r for r in self.regions if r.name == name]
        if not found:
            raise KeyError(name)
        return found[0]
