"""The mesh as two plain tables, which every program reads: nodes and triangles."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from motor.base.csv_table import CsvTable
from motor.base.whole_files import whole_file
from motor.report.files.msh import counter_clockwise, mesh_of

if TYPE_CHECKING:
    from motor.design.design import Design
    from motor.field.meshing import MotorMesh

__all__ = ["write_mesh_tables"]

NODES, TRIANGLES = "mesh_nodes.csv", "mesh_triangles.csv"


def write_mesh_tables(
    design: Design, folder: str | Path, *, mesh: MotorMesh | None = None
) -> list[Path]:
    """Write ``mesh_nodes.csv`` and ``mesh_triangles.csv`` of a design's mesh into a folder.

    Nodes: ``node``, ``r_m``, ``z_m``, ``boundary``: 1 on the axis or the outer circle.  Triangles:
    ``a``, ``b``, ``c``, numbers of nodes, counter-clockwise, and ``region``, its name.

    Parameters
    ----------
    design : Design
    folder : path
    mesh : MotorMesh or None
        That of a solved field; None for the one that the design would be solved on.

    Raises
    ------
    MeshError
        If gmsh cannot be loaded or fails.
    OutputError
        If a file cannot be written.
    """
    mesh = mesh or mesh_of(design)
    grid, folder = mesh.mesh, Path(folder)
    edge = np.zeros(grid.p.shape[1], dtype=int)
    edge[np.unique(grid.facets[:, grid.boundary_facets()])] = 1
    r, z = grid.p
    names = np.array(mesh.names)[mesh.label]
    nodes = ((k, x, y, e) for k, (x, y, e) in enumerate(zip(r, z, edge, strict=True)))
    triangles = zip(*counter_clockwise(grid.p, grid.t), names, strict=True)
    _write(folder / NODES, ("node", "r_m", "z_m", "boundary"), nodes)
    _write(folder / TRIANGLES, ("a", "b", "c", "region"), triangles)
    return [folder / NODES, folder / TRIANGLES]


def _write(path: Path, header: Sequence[str], rows: Iterable[Sequence[object]]) -> None:
    with whole_file(path) as hidden:
        CsvTable(header, rows, digits=12).write(hidden)
