"""What every instance of every geometry keeps, and its mesh."""

from __future__ import annotations

import math

import numpy as np
import pytest

from geometries import Geometry, Role, free_gap, polygon
from motor.field.meshing import MotorMesh, generate
from motor.field.partition import ARC_SEGMENTS, partition

GRID = 1e-9
AREA_GRAIN = 1e-12


def check_contract(geometry: Geometry) -> None:
    """Assert what every instance promises."""
    regions, gap = geometry.regions(), geometry.gap
    names = [region.name for region in regions]
    assert len(set(names)) == len(names)
    assert any(region.role is Role.MAGNET for region in regions)
    shapes = [polygon(region) for region in regions]
    for region, shape in zip(regions, shapes, strict=True):
        assert shape.is_valid, region.name
        assert shape.area > 0, region.name
        assert shape.bounds[0] >= 0, region.name
        assert (region.magnetisation is not None) == (region.role is Role.MAGNET)
        if region.magnetisation is not None:
            assert math.hypot(*region.magnetisation) == pytest.approx(1.0)
    for i, shape in enumerate(shapes):
        for other in shapes[:i]:
            assert shape.intersection(other).area <= AREA_GRAIN
    joined = {0}
    for _ in shapes:
        joined |= {
            j
            for j, shape in enumerate(shapes)
            for i in joined
            if shape.intersection(shapes[i]).length > GRID
        }
    assert joined == set(range(len(shapes))) or not geometry.joined
    assert gap.width > 0
    assert gap.depth > 0
    assert gap.bottom == pytest.approx(-gap.top, abs=1e-12)
    inner, outer = free_gap(regions, gap)
    assert gap.inner_radius <= inner < outer <= gap.outer_radius


def check_mesh(geometry: Geometry) -> MotorMesh:
    """Assert that the mesh covers the half disc once, part by part, without loose edges."""
    mesh = generate(partition(geometry.regions(), geometry.gap))
    grid, part = mesh.mesh, mesh.partition
    a, b, c = (grid.p[:, grid.t[k]] for k in range(3))
    area = 0.5 * np.abs((b - a)[0] * (c - a)[1] - (b - a)[1] * (c - a)[0])
    assert area.min() > 0
    half_disc = 0.5 * part.radius**2 * ARC_SEGMENTS * math.sin(math.pi / ARC_SEGMENTS)
    assert area.sum() == pytest.approx(half_disc, abs=2 * GRID * math.pi * part.radius)
    assert len(mesh.label) == grid.nelements
    assert set(mesh.names) == {region.name for region in geometry.regions()} | {"air"}
    assert np.bincount(mesh.label, minlength=len(mesh.names)).min() > 0
    for region in geometry.regions():
        covered = area[mesh.triangles_of(region.name)].sum()
        perimeter = polygon(region).length
        assert covered == pytest.approx(polygon(region).area, abs=2 * GRID * perimeter)
    ends = grid.p[:, grid.facets[:, grid.boundary_facets()]]
    on_axis = ends[0] < 1e-12
    inside_arc = part.radius * math.cos(math.pi / ARC_SEGMENTS / 2) * (1 - 1e-6)
    on_arc = np.hypot(ends[0], ends[1] - part.centre) > inside_arc
    assert (on_axis.all(axis=0) | on_arc.all(axis=0)).all(), "an edge inside has one side only"
    return mesh
