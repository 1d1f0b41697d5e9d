"""The field as a VTU file, which meshio and viewers of unstructured grids read."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from geometries import Point
from motor.base.arrays import Floats
from motor.base.program import stamp
from motor.base.whole_files import whole_file

if TYPE_CHECKING:
    from motor.results.motor_result import MotorResult

__all__ = ["write_vtu"]


def write_vtu(result: MotorResult, path: str | Path) -> None:
    """Write the field as a VTU file of second-order triangles.

    Point data: ``flux_function_Wb`` (psi = r A).  Cell data: ``flux_density_T`` (B_r, B_z, 0;
    mean over the triangle), ``field_strength_A_per_m`` likewise, ``region`` (a
    number) and, for each region, ``in_<name>``: 1 within, 0 elsewhere; for winding and former
    at rest, which lie in the air and are not meshed, ``share_of_<name>``: how much of a triangle
    each covers.  Field data: ``region_<name>``, the number of each region, and ``program``, name
    and version as the bytes of UTF-8 text; a comment at the file's head tells them as text.
    Coordinates (r, z, 0) in metres.

    Raises
    ------
    OutputError
        If the file cannot be written.
    """
    import meshio

    level = result.field.fine
    system = level.system
    mesh = system.mesh
    r, z = system.basis.doflocs
    weight = system.weight[..., None]

    def mean(values: Floats) -> Floats:
        """Return the mean over each triangle, with a zero third component."""
        flat = (values * weight).sum(axis=1) / weight.sum(axis=1)
        return np.column_stack([flat, np.zeros(len(flat))])

    inside = {
        f"in_{name}": [(mesh.label == index).astype(np.uint8)]
        for index, name in enumerate(mesh.names)
    }
    corners = system.nodes[:, :3]
    grid = meshio.Mesh(
        np.stack([r, z, np.zeros_like(r)], axis=1),
        [("triangle6", system.nodes)],
        point_data={"flux_function_Wb": r * level.potential},
        cell_data={
            "flux_density_T": [mean(level.flux_densities)],
            "field_strength_A_per_m": [mean(level.field_strengths)],
            "region": [mesh.label.astype(np.int32)],
            **inside,
            **{
                f"share_of_{name}": [_covered(r[corners], z[corners], outline)]
                for name, outline in result.design.coil.outlines()
            },
        },
    )
    with whole_file(path) as hidden:
        grid.write(hidden, file_format="vtu")
        _add_field_data(hidden, mesh.names)


def _covered(r: Floats, z: Floats, outline: Sequence[Point]) -> Floats:
    """Return how much of each triangle (n, 3 corners) an outline covers, 0 to 1."""
    import shapely

    shape = shapely.Polygon(outline)
    found = np.zeros(len(r))
    r0, z0, r1, z1 = shape.bounds
    near = (r.max(axis=1) > r0) & (r.min(axis=1) < r1)
    near &= (z.max(axis=1) > z0) & (z.min(axis=1) < z1)
    triangles = shapely.polygons(np.stack([r[near], z[near]], axis=2))
    found[near] = shapely.area(shapely.intersection(triangles, shape)) / shapely.area(triangles)
    return found


def _add_field_data(path: Path, names: Sequence[str]) -> None:
    """Put region numbers and program into the file: meshio reads field data, but writes none."""
    arrays = {f"region_{name}": ("Int32", [index]) for index, name in enumerate(names)}
    arrays["program"] = ("UInt8", list(stamp().encode("utf-8")))
    lines = [
        f'<DataArray type="{kind}" Name="{name}" NumberOfTuples="{len(values)}" format="ascii">'
        f"{' '.join(map(str, values))}</DataArray>"
        for name, (kind, values) in arrays.items()
    ]
    head = b"<UnstructuredGrid>"
    note = f"<!-- {stamp()}; r, z, 0 in metres -->".encode()
    before, found, after = path.read_bytes().partition(head)
    assert found
    field_data = f"<FieldData>{''.join(lines)}</FieldData>".encode()
    path.write_bytes(before + note + head + field_data + after)
