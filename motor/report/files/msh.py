"""The mesh in the open MSH format 4.1, which gmsh, meshio and many solvers read."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from motor.base.arrays import Floats, Ints
from motor.base.gmsh_session import gmsh_session
from motor.base.program import stamp
from motor.base.whole_files import whole_file
from motor.field.meshing import generate
from motor.field.partition import partition

if TYPE_CHECKING:
    from motor.design.design import Design
    from motor.field.meshing import MotorMesh

__all__ = ["AXIS", "OUTER", "counter_clockwise", "mesh_of", "write_msh"]

AXIS = "axis-of-symmetry"
OUTER = "outer-boundary"
"""Groups of edges; no region's name can have a hyphen."""

LINE, TRIANGLE = 1, 2
"""Numbers of the element types in the format."""


def mesh_of(design: Design) -> MotorMesh:
    """Return the mesh that a design is solved on, without solving it."""
    return generate(partition(design.regions, design.geometry.gap)).finer()


def write_msh(design: Design, path: str | Path, *, mesh: MotorMesh | None = None) -> None:
    """Write the mesh of a design with a physical group for each region, named after it.

    Three-node triangles, counter-clockwise, coordinates (r, z, 0) in metres; air is a region
    too.  Edges on the axis and on the outer boundary are physical groups of lines,
    ``axis-of-symmetry`` and ``outer-boundary``.  A ``$Comments`` section tells program and unit.

    Parameters
    ----------
    design : Design
    path : path
    mesh : MotorMesh or None
        That of a solved field; None for the one that the design would be solved on.

    Raises
    ------
    MeshError
        If gmsh cannot be loaded or fails.
    OutputError
        If the file cannot be written.
    """
    mesh = mesh or mesh_of(design)
    grid = mesh.mesh
    with whole_file(path) as hidden:
        plain = hidden.with_name("mesh.msh")
        with gmsh_session() as gmsh:
            triangles = counter_clockwise(grid.p, grid.t)
            groups = [(name, triangles[:, mesh.triangles_of(name)]) for name in mesh.names]
            _add_groups(gmsh, grid.p, groups, _boundary(mesh))
            gmsh.option.setNumber("Mesh.MshFileVersion", 4.1)
            gmsh.write(str(plain))
        head, found, rest = plain.read_text(encoding="utf-8").partition("$EndMeshFormat\n")
        assert found
        note = f"{stamp()}; coordinates r, z, 0 in metres; axis of symmetry r = 0"
        plain.unlink()
        hidden.write_text(f"{head}{found}$Comments\n{note}\n$EndComments\n{rest}", encoding="utf-8")


def counter_clockwise(points: Floats, triangles: Ints) -> Ints:
    """Return the triangles (3, n) with their points counter-clockwise."""
    a, b, c = (points[:, corner] for corner in triangles)
    right = (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]) < 0
    return np.where(right, triangles[[0, 2, 1]], triangles)


def _boundary(mesh: MotorMesh) -> list[tuple[str, Ints]]:
    """Return the edges on the axis and those on the outer boundary, as (2, n) points."""
    grid = mesh.mesh
    edges = grid.facets[:, grid.boundary_facets()]
    on_axis = (grid.p[0, edges] == 0).all(axis=0)
    return [(AXIS, edges[:, on_axis]), (OUTER, edges[:, ~on_axis])]


def _add_groups(
    gmsh: Any, points: Floats, faces: list[tuple[str, Ints]], lines: list[tuple[str, Ints]]
) -> None:
    """Make a discrete entity with its elements and a named group of each set of elements.

    Every entity owns the points that no earlier one has, lines first, as the format asks.
    """
    model = gmsh.model
    owned = np.zeros(points.shape[1], bool)
    first = 1
    for dim, kind, groups in ((1, LINE, lines), (2, TRIANGLE, faces)):
        for name, elements in groups:
            entity = model.addDiscreteEntity(dim)
            used = np.unique(elements)
            own = used[~owned[used]]
            owned[own] = True
            flat = np.column_stack([points[:, own].T, np.zeros(len(own))]).ravel()
            model.mesh.addNodes(dim, entity, (own + 1).tolist(), flat.tolist())
            count = elements.shape[1]
            tags = range(first, first + count)
            nodes = (elements.T.ravel() + 1).tolist()
            model.mesh.addElementsByType(entity, kind, list(tags), nodes)
            model.setPhysicalName(dim, model.addPhysicalGroup(dim, [entity]), name)
            first += count
