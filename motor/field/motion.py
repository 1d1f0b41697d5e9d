"""How the nodes of a mesh follow the corners of the parts when a dimension changes.

Corners move as the outlines say, nodes on a side in proportion between the side's ends, the outer
circle with the motor's middle and reach, the rest as a membrane would (Laplace's equation).  The
smooth motion of a mesh with its boundary is the textbook way to the derivative of a field by shape
(J. Sokolowski and J.-P. Zolesio, Introduction to Shape Optimization, 1992; from memory).
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from typing import Any

import numpy as np
from scipy import sparse
from skfem import Basis, BilinearForm, ElementTriP1
from skfem.helpers import dot, grad

from geometries import Point, Region, Role
from motor.base.arrays import Floats, Ints
from motor.base.errors import MotorError
from motor.field.factor import Factor
from motor.field.meshing import MotorMesh
from motor.field.partition import envelope

__all__ = ["Mover", "NoSmoothMotionError", "turned"]

NEAR = 3e-9
"""Distance in metres within which points are one; outlines are held to 1e-9."""
PARTING = 2e-3
"""Share of the largest shift by which corners or faces that touch may seem to part."""


class NoSmoothMotionError(MotorError):
    """Parts would come apart, or outlines gain corners: nothing that a mesh can follow."""


def _membrane(u: Any, v: Any, _: Any) -> Any:
    return dot(grad(u), grad(v))


class Mover:
    """Shifts of a mesh's vertices, for any change of the parts that it was made for.

    Parameters
    ----------
    mesh : MotorMesh
    regions : sequence of Region
        The parts as meshed.
    rings : bool
        Whether vertices follow rings too, which carry none of a steady field.
    """

    def __init__(self, mesh: MotorMesh, regions: Sequence[Region], *, rings: bool = False) -> None:
        self._parts = [r for r in regions if rings or r.role is not Role.CONDUCTOR]
        self._points, self._mesh = mesh.mesh.p, mesh
        self._corners, self._own = _merged(self._parts)
        self._find_sides()
        self._find_nodes(mesh)

    def _find_sides(self) -> None:
        """Cut every side at the corners that lie on it: pairs of corners, and who lies where."""
        pairs: list[tuple[int, int]] = []
        self._touching: list[tuple[str, int, float, int, int, Floats]] = []
        for part, own in zip(self._parts, self._own, strict=True):
            for a, b in zip(own, [*own[1:], own[0]], strict=True):
                start, way = self._corners[a], self._corners[b] - self._corners[a]
                length = math.hypot(*way)
                offset = self._corners - start
                share = offset @ way / length**2
                beside = np.abs(offset[:, 0] * way[1] - offset[:, 1] * way[0]) / length
                on = (beside < NEAR) & (share * length > -NEAR) & ((share - 1) * length < NEAR)
                inner = np.flatnonzero(on & (np.arange(len(on)) != a) & (np.arange(len(on)) != b))
                normal = np.array([way[1], -way[0]]) / length
                chain = [a, *inner[np.argsort(share[inner])].tolist(), b]
                self._touching += [
                    (part.name, k, float(share[k]), a, b, normal) for k in chain[1:-1]
                ]
                pairs += list(itertools.pairwise(chain))
        self._pieces: Ints = np.array(sorted({(min(p), max(p)) for p in pairs}))

    def _find_nodes(self, mesh: MotorMesh) -> None:
        """Say of every vertex between which corners it is held, and factorise the membrane."""
        p = self._points
        start = self._corners[self._pieces[:, 0]]
        way = self._corners[self._pieces[:, 1]] - start
        length = np.hypot(*way.T)
        offset = p.T[:, None] - start
        share = (offset * way).sum(axis=-1) / length**2
        beside = np.abs(offset[..., 0] * way[:, 1] - offset[..., 1] * way[:, 0]) / length
        on = (beside < NEAR) & (share * length > -NEAR) & ((share - 1) * length < NEAR)
        self._held = np.flatnonzero(on.any(axis=1))
        piece = on[self._held].argmax(axis=1)
        self._ends = self._pieces[piece]
        self._share = share[self._held, piece].clip(0, 1)
        part = mesh.partition
        outermost = np.unique(mesh.mesh.facets[:, mesh.mesh.boundary_facets()])
        axis = np.abs(p[0]) < 1e-12
        self._axis = np.setdiff1d(np.flatnonzero(axis), self._held)
        self._outermost = np.setdiff1d(outermost, np.union1d(self._held, np.flatnonzero(axis)))
        self._part = part
        fixed = np.zeros(p.shape[1], bool)
        fixed[self._held] = fixed[self._axis] = fixed[self._outermost] = True
        self._free = np.flatnonzero(~fixed)
        matrix = BilinearForm(_membrane).assemble(Basis(mesh.mesh, ElementTriP1())).tocsc()
        self._coupling = matrix[self._free][:, np.flatnonzero(fixed)]
        self._fixed = np.flatnonzero(fixed)
        inner = matrix[self._free][:, self._free]
        lower = sparse.tril(inner, format="csc")
        lower.sort_indices()
        self._membrane = Factor(lower.indptr, lower.indices)
        self._membrane.update(lower.data)

    def shifts(self, before: Sequence[Region], after: Sequence[Region]) -> Floats:
        """Return how far all vertices go from one design to the other: array (2, n), metres.

        Parameters
        ----------
        before, after : sequence of Region
            The parts at either end of a small change, around those that were meshed.

        Raises
        ------
        NoSmoothMotionError
        """
        corner = self._corner_shifts(before, after)
        shift = np.zeros_like(self._points)
        ends = corner[self._ends]
        shift[:, self._held] = (ends[:, 0] + self._share[:, None] * (ends[:, 1] - ends[:, 0])).T
        part = self._part
        ends_of = [np.array(envelope(regions)) for regions in (before, after)]
        middle, reach = ends_of[1] - ends_of[0]
        growth, up = reach / part.reach, np.array([[0.0], [middle]])
        centre = np.array([[0.0], [part.centre]])
        shift[:, self._outermost] = growth * (self._points[:, self._outermost] - centre) + up
        poles = middle + growth * part.radius * np.array([-1.0, 1.0])
        shift[:, self._axis] = self._along_axis(shift, poles)
        load = -(self._coupling @ shift[:, self._fixed].T)
        shift[:, self._free] = self._membrane.solve(load).T
        return np.asarray(shift)

    def stretch(self, shift: Floats) -> float:
        """Return the largest root mean square strain of any part by shifts as of :meth:`shifts`."""
        grid = self._mesh.mesh
        corner, way = (values[:, grid.t] for values in (grid.p, shift))
        a, b = corner[:, 0] - corner[:, 2], corner[:, 1] - corner[:, 2]
        u, v = way[:, 0] - way[:, 2], way[:, 1] - way[:, 2]
        area = np.abs(a[0] * b[1] - a[1] * b[0])
        slopes = [u * b[1] - v * a[1], v * a[0] - u * b[0]]
        square = sum((slope**2).sum(axis=0) for slope in slopes) / area**2
        largest = 0.0
        for part in self._parts:
            here = self._mesh.triangles_of(part.name)
            mean = float(np.average(square[here], weights=area[here]))
            largest = max(largest, math.sqrt(mean))
        return largest

    def _along_axis(self, shift: Floats, poles: Floats) -> Floats:
        """Return the shifts of the axis' other vertices, in proportion to height."""
        z = self._points[1]
        known = self._held[np.abs(self._points[0, self._held]) < 1e-12]
        ends = self._part.centre + self._part.radius * np.array([-1.0, 1.0])
        heights = np.concatenate([z[known], ends])
        ways = np.concatenate([shift[1, known], poles])
        order = np.argsort(heights)
        along = np.interp(z[self._axis], heights[order], ways[order])
        return np.array([np.zeros_like(along), along])

    def _corner_shifts(self, before: Sequence[Region], after: Sequence[Region]) -> Floats:
        low, high = ({r.name: r.outline for r in regions} for regions in (before, after))
        corner = np.full_like(self._corners, np.nan)
        largest, moved = 0.0, []
        for part, own in zip(self._parts, self._own, strict=True):
            ends = [np.array(turned(o.get(part.name, ()), part.outline)) for o in (low, high)]
            if not ends[0].shape == ends[1].shape == (len(own), 2):
                raise NoSmoothMotionError(f"{part.name} would gain or lose a corner")
            moved.append(ends[1] - ends[0])
            largest = max(largest, float(np.abs(moved[-1]).max()))
        for part, own, ways in zip(self._parts, self._own, moved, strict=True):
            for k, way in zip(own, ways, strict=True):
                if np.isnan(corner[k, 0]):
                    corner[k] = way
                elif np.abs(corner[k] - way).max() > PARTING * largest:
                    raise _parting(part.name, self._corners[k])
        for name, k, share, a, b, normal in self._touching:
            along = corner[a] + share * (corner[b] - corner[a])
            if abs((corner[k] - along) @ normal) > PARTING * largest:
                raise _parting(name, self._corners[k])
        return corner


def _parting(name: str, point: Floats) -> NoSmoothMotionError:
    where = f"r = {1e3 * point[0]:.4g} mm, z = {1e3 * point[1]:.4g} mm"
    return NoSmoothMotionError(f"{name} would part from what it touches at {where}")


def turned(outline: Sequence[Point], like: Sequence[Point]) -> Sequence[Point]:
    """Return an outline started at the point nearest to another's start."""
    if len(outline) != len(like):
        return outline
    first = min(range(len(outline)), key=lambda k: math.dist(outline[k], like[0]))
    return [*outline[first:], *outline[:first]]


def _merged(parts: Sequence[Region]) -> tuple[Floats, list[list[int]]]:
    """Return all corners once, and for each part the indices of its own in order."""
    corners: list[Point] = []
    own = []
    for part in parts:
        mine = []
        for point in part.outline:
            k = next((k for k, c in enumerate(corners) if math.dist(c, point) < NEAR), None)
            if k is None:
                k = len(corners)
                corners.append(point)
            mine.append(k)
        own.append(mine)
    return np.array(corners), own
