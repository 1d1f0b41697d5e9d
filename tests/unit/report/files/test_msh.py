"""The mesh, read again with meshio and with gmsh."""

from __future__ import annotations

import csv
from collections.abc import Callable
from pathlib import Path

import meshio
import numpy as np
import pytest

from geometries import polygon
from motor.base.arrays import Floats
from motor.base.gmsh_session import gmsh_session
from motor.base.program import stamp
from motor.report.files.mesh_tables import write_mesh_tables
from motor.report.files.msh import AXIS, OUTER, mesh_of, write_msh
from motor.results.motor_result import MotorResult
from tests.unit.report.files.designs import DESIGNS, KINDS


def signed_areas(points: Floats, triangles: Floats) -> Floats:
    """Return the areas of triangles (n, 3); positive counter-clockwise."""
    a, b, c = (points[triangles[:, k]] for k in range(3))
    area: Floats = (
        (b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (c[:, 0] - a[:, 0])
    ) / 2
    return area


@pytest.mark.parametrize("name", DESIGNS)
def test_regions_read_back_by_name_with_their_areas(name: str, tmp_path: Path) -> None:
    design = DESIGNS[name]
    write_msh(design, tmp_path / "x.msh")
    grid = meshio.read(tmp_path / "x.msh")
    regions = {region.name: polygon(region).area for region in design.regions}
    assert set(grid.field_data) == {*regions, "air", AXIS, OUTER}
    whole = 0.0
    for group in (*regions, "air"):
        tag, dim = grid.field_data[group]
        assert dim == 2
        area = 0.0
        for block, physical in zip(grid.cells, grid.cell_data["gmsh:physical"], strict=True):
            if block.type == "triangle":
                signed = signed_areas(grid.points, block.data[physical == tag])
                assert (signed > 0).all()
                area += float(signed.sum())
        whole += area
        if group != "air":
            assert area == pytest.approx(regions[group], rel=1e-6)
    edges = {
        group: np.concatenate(
            [
                block.data[physical == grid.field_data[group][0]]
                for block, physical in zip(grid.cells, grid.cell_data["gmsh:physical"], strict=True)
                if block.type == "line"
            ]
        )
        for group in (AXIS, OUTER)
    }
    assert (grid.points[edges[AXIS]][..., 0] == 0).all()
    r, z = grid.points[edges[OUTER]][..., :2].T
    assert (r > 0).any()
    around = np.concatenate([edges[AXIS], edges[OUTER]])
    _, uses = np.unique(around, return_counts=True)
    assert (uses == 2).all()
    centre = (z.min() + z.max()) / 2
    fan = 0.5 * np.abs(r[0] * (z[1] - centre) - r[1] * (z[0] - centre)).sum()
    assert fan == pytest.approx(whole, rel=1e-9)


@pytest.mark.parametrize("kind", KINDS)
def test_gmsh_opens_it_with_the_same_groups(kind: str, tmp_path: Path) -> None:
    design = DESIGNS[kind]
    write_msh(design, tmp_path / "x.msh")
    points = mesh_of(design).mesh.nvertices
    with gmsh_session() as gmsh:
        gmsh.open(str(tmp_path / "x.msh"))
        groups = {
            gmsh.model.getPhysicalName(dim, tag): (dim, tag)
            for dim, tag in gmsh.model.getPhysicalGroups()
        }
        assert set(groups) == {"air", AXIS, OUTER, *(r.name for r in design.regions)}
        for region in design.regions:
            area = 0.0
            for entity in gmsh.model.getEntitiesForPhysicalGroup(*groups[region.name]):
                types, tags, _ = gmsh.model.mesh.getElements(2, entity)
                assert list(types) == [2]
                area += float(gmsh.model.mesh.getElementQualities(tags[0], "volume").sum())
            assert area == pytest.approx(polygon(region).area, rel=1e-6)
        nodes, _, _ = gmsh.model.mesh.getNodes()
        assert len(nodes) == len(set(nodes)) == points


def test_program_and_unit_stand_in_the_file(tmp_path: Path) -> None:
    write_msh(DESIGNS["inside-magnet"], tmp_path / "x.msh")
    lines = (tmp_path / "x.msh").read_text(encoding="utf-8").splitlines()
    assert lines[lines.index("$Comments") + 1].startswith(f"{stamp()}; coordinates r, z, 0 in m")


@pytest.mark.parametrize("kind", KINDS)
def test_without_a_solve_it_is_the_mesh_that_would_be_solved_on(
    kind: str, solved: Callable[[str], MotorResult]
) -> None:
    result = solved(kind)
    ours, theirs = mesh_of(result.design), result.field.fine.system.mesh
    assert ours.names == theirs.names
    np.testing.assert_array_equal(ours.mesh.p, theirs.mesh.p)
    np.testing.assert_array_equal(ours.mesh.t, theirs.mesh.t)
    np.testing.assert_array_equal(ours.label, theirs.label)


def test_tables_of_the_mesh_hold_every_part_with_its_area(tmp_path: Path) -> None:
    design = DESIGNS["door_woofer_ferrite"]
    nodes, triangles = write_mesh_tables(design, tmp_path)
    node = np.loadtxt(nodes, delimiter=",", skiprows=1)
    np.testing.assert_array_equal(node[:, 0], np.arange(len(node)))
    with triangles.open(encoding="utf-8") as stream:
        rows = list(csv.DictReader(stream))
    corners = np.array([[int(row[k]) for k in "abc"] for row in rows])
    a, b, c = (node[corners[:, k], 1:3] for k in range(3))
    area = ((b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0]) / 2
    assert area.min() > 0
    names = np.array([row["region"] for row in rows])
    assert set(names) == {"air", *(region.name for region in design.regions)}
    for region in design.regions:
        assert area[names == region.name].sum() == pytest.approx(polygon(region).area, rel=1e-6)
    outer = node[node[:, 3] == 1]
    low, high = outer[:, 2].min(), outer[:, 2].max()
    away = np.hypot(outer[:, 1], outer[:, 2] - (low + high) / 2)
    assert np.all((outer[:, 1] == 0) | (np.abs(away - (high - low) / 2) < 1e-3 * (high - low)))
