"""Layers along surfaces: thin enough, nested, and nothing changed beyond the surface."""

from __future__ import annotations

import numpy as np
import pytest
from skfem import MeshTri

from motor.base.arrays import Floats
from motor.field.lining import SHARE, lined

SIZE = 1.0


def square(refinements: int = 3) -> MeshTri:
    return MeshTri().refined(refinements)


def areas(mesh: MeshTri) -> Floats:
    a, b, c = (mesh.p[:, mesh.t[k]] for k in range(3))
    (u, v), (w, x) = b - a, c - a
    return np.asarray(np.abs(u * x - v * w) / 2)


def heights_at_wall(mesh: MeshTri, body: np.ndarray, own: int) -> Floats:
    """Return the heights of a body's triangles above its surface."""
    inner, outer = mesh.f2t
    wall = np.flatnonzero((outer >= 0) & (body[inner] != body[outer]))
    length = np.hypot(*(mesh.p[:, mesh.facets[0, wall]] - mesh.p[:, mesh.facets[1, wall]]))
    side = np.where(body[inner[wall]] == own, inner[wall], outer[wall])
    return np.asarray(2 * areas(mesh)[side] / length)


@pytest.mark.parametrize("thickness", [0.1, 1e-2, 1e-4])
@pytest.mark.parametrize("corner", [0.5, 0.26])
def test_triangles_at_the_surface_become_thin(thickness: float, corner: float) -> None:
    mesh = square()
    middle = mesh.p[:, mesh.t].mean(axis=1)
    body = (middle < corner).all(axis=0).astype(int)
    wanted = np.where(body == 1, thickness, np.inf)
    finer, parent = lined(mesh, body, wanted)
    assert heights_at_wall(finer, body[parent], 1).max() <= thickness
    assert areas(finer).sum() == pytest.approx(SIZE, rel=1e-12)
    shares = np.bincount(parent, areas(finer), minlength=mesh.nelements)
    np.testing.assert_allclose(shares, areas(mesh), rtol=1e-9)
    kept = np.bincount(parent, minlength=mesh.nelements)
    assert (kept[body == 0] == 1).all()
    outside = finer.boundary_facets()
    assert len(outside) >= len(mesh.boundary_facets())
    ends = finer.p[:, finer.facets[:, outside]]
    assert (np.isclose(ends, 0) | np.isclose(ends, 1)).all(axis=1).any(axis=0).all()


def test_four_layers_more_cost_the_same_each_time() -> None:
    mesh = square(4)
    middle = mesh.p[:, mesh.t].mean(axis=1)
    body = (middle[0] < 0.5).astype(int)
    counts = [
        lined(mesh, body, np.where(body == 1, thickness, np.inf))[0].nelements
        for thickness in (1e-2, 1e-2 * SHARE**4, 1e-2 * SHARE**8)
    ]
    first, second = np.diff(counts)
    assert first == second
    assert second < mesh.nelements


def test_both_sides_of_a_surface_can_be_lined() -> None:
    mesh = square()
    middle = mesh.p[:, mesh.t].mean(axis=1)
    body = (middle[1] < 0.5).astype(int)
    finer, parent = lined(mesh, body, np.where(body == 1, 1e-3, 2e-2))
    assert heights_at_wall(finer, body[parent], 1).max() <= 1e-3
    assert 1e-3 < heights_at_wall(finer, body[parent], 0).max() <= 2e-2


def test_nothing_is_cut_where_any_thickness_will_do() -> None:
    mesh = square()
    body = (mesh.p[:, mesh.t].mean(axis=1)[0] < 0.5).astype(int)
    finer, parent = lined(mesh, body, np.full(mesh.nelements, np.inf))
    assert finer.nelements == mesh.nelements
    assert (parent == np.arange(mesh.nelements)).all()
