"""Meshes that are cut finer stay whole: conforming, nested, of the same area."""

from __future__ import annotations

import numpy as np
import pytest
from skfem import MeshTri

from motor.base.arrays import Bools, Floats, Ints
from motor.design.design import Design
from motor.field.meshing import MotorMesh, Sizing, generate
from motor.field.partition import partition
from motor.field.refinement import LAYER_RATIO, layered, longest_edges, quartered
from tests.random_motors import random_designs
from tests.unit.design.drawn import drawn_design

MM = 1e-3


def areas(grid: MeshTri) -> Floats:
    (r_0, z_0), (r_1, z_1), (r_2, z_2) = grid.p[:, grid.t].swapaxes(0, 1)
    return np.asarray(np.abs((r_1 - r_0) * (z_2 - z_0) - (r_2 - r_0) * (z_1 - z_0)) / 2)


def outline_length(grid: MeshTri) -> float:
    ends = grid.p[:, grid.facets[:, grid.boundary_facets()]]
    return float(np.hypot(*(ends[:, 1] - ends[:, 0])).sum())


def assert_nested(coarse: MeshTri, fine: MeshTri, parent: Ints) -> None:
    """Assert that the children fill their parents and that no edge hangs."""
    filled = np.bincount(parent, areas(fine), minlength=coarse.nelements)
    np.testing.assert_allclose(filled, areas(coarse), rtol=1e-12)
    assert outline_length(fine) == pytest.approx(outline_length(coarse), rel=1e-12)
    assert fine.nvertices - fine.nfacets + fine.nelements == 1


@pytest.fixture(scope="module")
def square() -> MeshTri:
    return MeshTri().refined(3)


def test_layers_narrow_towards_the_corner(square: MeshTri) -> None:
    corner = int(np.argmin(np.hypot(*(square.p - 0.5))))
    fine, parent, layer = layered(square, np.array([corner]), 3)
    assert_nested(square, fine, parent)
    reach = [np.hypot(*(fine.p[:, fine.t[:, layer >= k].ravel()] - 0.5)).max() for k in (1, 2, 3)]
    np.testing.assert_allclose(np.divide(reach[1:], reach[:-1]), LAYER_RATIO)
    assert fine.nelements == square.nelements + 3 * 2 * np.sum(square.t == corner)


def test_layers_around_corners_that_share_triangles(square: MeshTri) -> None:
    corners = np.arange(square.nvertices)
    fine, parent, layer = layered(square, corners, 2)
    assert_nested(square, fine, parent)
    assert layer.min() >= 1
    whole, parent, layer = layered(square, corners, 0)
    assert whole.nelements == square.nelements
    assert not layer.any()


@pytest.mark.parametrize("share", [0.0, 0.1, 0.5, 0.9, 1.0])
def test_quartering_some(square: MeshTri, share: float) -> None:
    rng = np.random.default_rng(7)
    chosen: Bools = rng.random(square.nelements) < share
    fine, parent = quartered(square, chosen)
    assert_nested(square, fine, parent)
    children = np.bincount(parent, minlength=square.nelements)
    assert (children[chosen] == 4).all()
    assert set(children[~chosen]) <= {1, 2, 4}
    if share in (0.0, 1.0):
        assert fine.nelements == (1 + 3 * share) * square.nelements


@pytest.mark.parametrize("design", list(random_designs(5, 6)), ids=lambda d: d.geometry.kind)
def test_motors(design: Design) -> None:
    mesh = generate(partition(design.regions, design.geometry.gap))
    fine = mesh.finer()
    assert mesh.large is not None
    assert fine.parent is not None
    assert fine.coarser is mesh
    assert_nested(mesh.mesh, fine.mesh, fine.parent)
    np.testing.assert_array_equal(fine.label, mesh.label[fine.parent])
    corners = {tuple(p) for p in mesh.partition.corners.tolist()}
    at_corner = np.array([tuple(p) in corners for p in mesh.mesh.p.T.tolist()])
    innermost = at_corner[mesh.mesh.t].any(axis=0)
    assert innermost.any()
    assert not mesh.large[innermost].any()
    assert longest_edges(mesh.mesh)[innermost].max() < 0.1 * design.geometry.gap.outer_radius
    assert fine.halved().mesh.nelements == 4 * fine.mesh.nelements


def test_nodes_in_the_parent_are_where_they_should_be() -> None:
    (design,) = random_designs(6, 1)
    mesh: MotorMesh = generate(partition(design.regions, design.geometry.gap), Sizing(layers=1))
    fine = mesh.finer()
    corners = mesh.mesh.p[:, mesh.mesh.t[:, fine.parent]]
    nodes = np.einsum("kni,ckn->cni", fine.nodes_in_parent, corners)
    vertices = fine.mesh.p[:, fine.mesh.t]
    np.testing.assert_allclose(nodes[:, :, :3], vertices.swapaxes(1, 2), atol=1e-12)
    middle = (vertices[:, [0, 1, 0]] + vertices[:, [1, 2, 2]]) / 2
    np.testing.assert_allclose(nodes[:, :, 3:], middle.swapaxes(1, 2), atol=1e-12)


def test_copper_is_not_a_place_to_grade_the_mesh_at() -> None:
    """Only corners of steel and magnets are singular."""
    design = drawn_design()
    part = partition(design.regions, design.geometry.gap)
    corners = {(round(r / MM, 6), round(z / MM, 6)) for r, z in part.corners}
    assert (17.1, 3.0) in corners
    assert not {(22.0, 16.0), (16.2, 16.0), (16.2, 15.0), (20.0, 15.0)} & corners
