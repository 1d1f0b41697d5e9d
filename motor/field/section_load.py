"""The load of a uniform current in a rectangle that the mesh's edges need not follow.

Triangles are cut by the rectangle's sides and the integral over what lies inside is exact:
points in the rectangle instead would act as so many thin wires or sheets, whose own field a fine
mesh resolves.
"""

from __future__ import annotations

import numpy as np
from skfem.quadrature import get_quadrature
from skfem.refdom import RefTri

from motor.base.arrays import Floats, Ints
from motor.field.field import FieldOnMesh, shape_functions

__all__ = ["section_load"]

ORDER = 3
"""Of the quadrature: second-order functions times r."""


def section_load(level: FieldOnMesh, low: Floats, high: Floats) -> Floats:
    """Return the reduced load of 1 A spread evenly over a rectangle.

    Parameters
    ----------
    level : FieldOnMesh
    low, high : (2,) array
        Corners (r, z) in metres; all of the rectangle must lie in the mesh.
    """
    mesh, system = level.system.mesh, level.system
    triangle, corners = _inside(mesh.mesh.p[:, mesh.mesh.t], low, high)
    sides = corners[:, 1:] - corners[:, :1]
    area = np.abs(sides[0, 0] * sides[1, 1] - sides[0, 1] * sides[1, 0]) / 2
    points, weights = get_quadrature(RefTri, ORDER)
    slopes = mesh.barycentric_slopes(triangle)
    third = mesh.mesh.p[:, mesh.mesh.t[2, triangle]]
    total = np.zeros((6, len(triangle)))
    for (u, v), weight in zip(points.T, weights, strict=True):
        at = corners[:, 0] + u * sides[:, 0] + v * sides[:, 1]
        bary = np.einsum("kcn,cn->kn", slopes, at - third)
        bary[2] += 1.0
        total += shape_functions(bary) * (2 * weight * area * at[0])
    density = 1 / np.prod(np.subtract(high, low))
    return system.gather(system.nodes[triangle], density * total.T)


def _inside(corners: Floats, low: Floats, high: Floats) -> tuple[Ints, Floats]:
    """Return the pieces (2, 3, m) of triangles (2, 3, n) within a rectangle, and whose they are."""
    least, most = corners.min(axis=1), corners.max(axis=1)
    triangle = np.flatnonzero(((low < most.T) & (high > least.T)).all(axis=1))
    corners = corners[:, :, triangle]
    for axis in (0, 1):
        for limit, sign in ((low[axis], 1.0), (high[axis], -1.0)):
            kept, corners = _cut(corners, sign * (corners[axis] - limit))
            triangle = triangle[kept]
    return triangle, corners


def _cut(corners: Floats, depth: Floats) -> tuple[Ints, Floats]:
    """Return the pieces of triangles where a linear function (3, n) of the corners is positive."""
    above = (depth > 0).sum(axis=0)
    whole, one, two = (np.flatnonzero(above == count) for count in (3, 1, 2))
    some = np.concatenate([one, two])
    lone = np.concatenate([depth[:, one].argmax(axis=0), depth[:, two].argmin(axis=0)])
    order = (lone + np.arange(3)[:, None]) % 3
    (a, b, c), (da, db, dc) = corners[:, order, some].swapaxes(0, 1), depth[order, some]
    ab, ac = (a + da / (da - d) * (other - a) for d, other in ((db, b), (dc, c)))
    n = len(one)
    tips = np.stack([a, ab, ac], axis=1)[:, :, :n]
    rest = [np.stack([ab, b, c], axis=1)[:, :, n:], np.stack([ab, c, ac], axis=1)[:, :, n:]]
    kept = np.concatenate([whole, one, two, two])
    return kept, np.concatenate([corners[:, :, whole], tips, *rest], axis=2)
