"""The same problem in NGSolve: on our own mesh, or on its own, with the same H(B).

Potential of order 2 on our triangles, the same continuation of a dipole on the outer boundary,
Newton with a line search on the energy, relative residual as ours.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from geometries import Point
from motor.field.meshing import MotorMesh
from motor.field.partition import Partition
from motor.field.weak_form import MagnetState
from motor.materials import BHCurve
from tests.ngsolve_motor import energy_form

__all__ = ["Problem", "import_mesh", "own_mesh"]

SAMPLES = np.concatenate([[0.0, 0.005, 0.02], np.arange(0.05, 2.45, 0.05), [3.0, 4.0, 8.0]])
"""Flux densities between which H is straight: few, since the library searches them in turn."""
TOLERANCE = 1e-8
MOST_STEPS = 60


def import_mesh(mesh: MotorMesh) -> Any:
    """Return our triangulation as an NGSolve mesh (metres)."""
    import netgen.meshing as nm
    import ngsolve

    grid = mesh.mesh
    out = nm.Mesh(dim=2)
    points = [out.Add(nm.MeshPoint(nm.Pnt(r, z, 0))) for r, z in grid.p.T]
    faces = [out.AddRegion(name, dim=2) for name in mesh.names]
    for triangle, label in zip(grid.t.T, mesh.label, strict=True):
        out.Add(nm.Element2D(faces[label], [points[k] for k in triangle]))
    sides = {name: out.AddRegion(name, dim=1) for name in ("axis", "outer")}
    for facet in grid.boundary_facets():
        a, b = grid.facets[:, facet]
        name = "axis" if max(grid.p[0, a], grid.p[0, b]) < 1e-12 else "outer"
        out.Add(nm.Element1D([points[a], points[b]], index=sides[name]))
    return ngsolve.Mesh(out)


def own_mesh(part: Partition, corner: float) -> Any:
    """Return NGSolve's own mesh of the same faces, graded to a size (m) at every corner."""
    import ngsolve
    from netgen import occ

    faces = []
    for face in part.faces:
        shapes = []
        for loop in face.loops:
            turning = loop if _counter_clockwise(loop) else loop[::-1]
            path = occ.WorkPlane().MoveTo(*turning[0])
            for point in turning[1:]:
                path = path.LineTo(*point)
            shapes.append(path.Close().Face())
        body = shapes[0]
        for hole in shapes[1:]:
            body = body - hole
        body.faces.name = face.region
        body.faces.maxh = part.reach / 6 if face.region != "air" else part.radius / 4
        faces.append(body)
    shape = occ.Glue(faces)
    for edge in shape.edges:
        if abs(edge.center.x) < 1e-9:
            edge.name = "axis"
        elif np.hypot(edge.center.x, edge.center.y - part.centre) > 0.95 * part.radius:
            edge.name = "outer"
    for vertex in shape.vertices:
        near = np.hypot(part.corners[:, 0] - vertex.p.x, part.corners[:, 1] - vertex.p.y)
        if near.min() < 1e-8:
            vertex.maxh = corner
    return ngsolve.Mesh(occ.OCCGeometry(shape, dim=2).GenerateMesh(grading=0.4))


def _counter_clockwise(loop: tuple[Point, ...]) -> bool:
    pairs = zip(loop, (*loop[1:], loop[0]), strict=True)
    return sum(a[0] * b[1] - b[0] * a[1] for a, b in pairs) > 0


class Problem:
    """The non-linear problem on a mesh, assembled and solved by NGSolve."""

    def __init__(
        self,
        mesh: Any,
        steels: dict[str, BHCurve],
        magnets: dict[str, MagnetState],
        centre: float,
        order: int = 2,
    ) -> None:
        self.form = energy_form(mesh, steels, magnets, SAMPLES, order=order, open_around=centre)
        self.space = self.form.space

    @property
    def unknowns(self) -> int:
        """Number of free unknowns."""
        return int(sum(self.space.FreeDofs()))

    def solve(self) -> tuple[Any, int]:
        """Solve from zero; return the potential and the number of Newton steps."""
        import ngsolve

        a = ngsolve.GridFunction(self.space)
        residual, step = a.vec.CreateVector(), a.vec.CreateVector()
        trial = a.vec.CreateVector()
        free = self.space.FreeDofs()
        project = ngsolve.Projector(free, True)
        self.form.Apply(a.vec, residual)
        project.Project(residual)
        first = residual.Norm()
        for steps in range(MOST_STEPS):
            if steps and residual.Norm() <= TOLERANCE * first:
                return a, steps
            self.form.AssembleLinearization(a.vec)
            inverse = self.form.mat.Inverse(free, inverse="sparsecholesky")
            step.data = inverse * residual
            energy, length = self.form.Energy(a.vec), 1.0
            while length > 1e-4:
                trial.data = a.vec - length * step
                if self.form.Energy(trial) <= energy + 1e-14 * abs(energy):
                    break
                length /= 2
            a.vec.data = trial
            self.form.Apply(a.vec, residual)
            project.Project(residual)
        raise RuntimeError("the other library did not converge")
