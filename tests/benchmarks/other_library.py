"""The same problem in NGSolve, on our own mesh or on its own, in the fastest form found.

The steel's law is a compiled formula; matrices of air, magnets and boundary are assembled once,
only steel anew in each step; the factors' symbolic part is kept; Newton's method starts, damps
and ends as ours does.  Tried and slower: the energy as one form, all regions in each step, the
tangent written out by hand, matrices with both triangles, UMFPACK, new factors for each step.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import numpy as np

from geometries import Point
from motor.base.arrays import Floats, Ints
from motor.base.constants import NU0
from motor.field.meshing import MotorMesh
from motor.field.newton import ENOUGH, MOST_STEPS, MOST_TRIALS, START_FLUX_DENSITY, TOLERANCE
from motor.field.partition import Partition
from motor.field.weak_form import MagnetState
from tests.benchmarks.smooth_steel import reluctivity

__all__ = ["Problem", "at_vertices", "import_mesh", "own_mesh"]


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
    turn = np.arctan2(grid.p[1] - mesh.partition.centre, grid.p[0])  # the mesh on the left
    sides = {name: out.AddRegion(name, dim=1) for name in ("axis", "outer")}
    for facet in grid.boundary_facets():
        a, b = sorted(grid.facets[:, facet], key=lambda k: turn[k])
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
    """The non-linear problem on a mesh, assembled and solved by NGSolve.

    Parameters
    ----------
    mesh : ngsolve.Mesh
        Half plane in metres with the boundaries "axis" and "outer"; the field strength along the
        outer one is 0.
    steels : iterable of str
        Regions of the smooth steel.
    magnets : dict
        State by the name of the region; all else is air.
    order : int
        Order of the elements.
    """

    def __init__(
        self,
        mesh: Any,
        steels: Iterable[str],
        magnets: dict[str, MagnetState],
        order: int = 2,
    ) -> None:
        import ngsolve

        self.space = ngsolve.H1(mesh, order=order, dirichlet="axis")
        u, v = self.space.TnT()
        r = ngsolve.x
        b_u, b_v = (ngsolve.CF((ngsolve.grad(w)[0] + w / r, ngsolve.grad(w)[1])) for w in (u, v))
        product = ngsolve.InnerProduct(b_u, b_v)
        steel = ngsolve.dx("|".join(steels))
        nu = dict.fromkeys(mesh.GetMaterials(), NU0) | dict.fromkeys(steels, 0.0)
        nu |= {name: NU0 / magnet.recoil_permeability for name, magnet in magnets.items()}
        self.linear = ngsolve.BilinearForm(self.space, symmetric=True)
        self.linear += (mesh.MaterialCF(nu) * r * product).Compile() * ngsolve.dx
        self.load = ngsolve.LinearForm(self.space)
        for name, magnet in magnets.items():
            m_r, m_z = magnet.remanence
            self.load += nu[name] * r * (m_z * b_v[0] - m_r * b_v[1]) * ngsolve.dx(name)
        self.chord = ngsolve.BilinearForm(self.space, symmetric=True)
        self.chord += reluctivity(START_FLUX_DENSITY**2) * r * product * steel
        self.steel = ngsolve.BilinearForm(self.space, symmetric=True)
        law = reluctivity(ngsolve.InnerProduct(b_u, b_u), ngsolve.sqrt)
        self.steel += (r * law * product).Compile() * steel

    @property
    def unknowns(self) -> int:
        """Number of free unknowns."""
        return int(sum(self.space.FreeDofs()))

    def solve(self, tolerance: float = TOLERANCE) -> tuple[Any, int]:
        """Solve from zero; return the potential and the number of factorisations."""
        import ngsolve

        a, free = ngsolve.GridFunction(self.space), self.space.FreeDofs()
        project = ngsolve.Projector(free, True)
        for form in (self.linear, self.load, self.chord):
            form.Assemble()
        load = self.load.vec
        project.Project(load)
        matrix = self.linear.mat.CreateMatrix()
        places = np.searchsorted(_keys(self.linear.mat), _keys(self.chord.mat))
        constant, values = (m.AsVector().FV().NumPy() for m in (self.linear.mat, matrix))

        def put(steel: Any) -> None:
            values[:] = constant
            values[places] += steel.AsVector().FV().NumPy()

        put(self.chord.mat)
        inverse = matrix.Inverse(free, inverse="sparsecholesky")
        a.vec.data = inverse * load
        residual, step, old, force = (load.CreateVector() for _ in range(4))

        def update_residual() -> None:
            self.steel.Apply(a.vec, force)
            residual.data = self.linear.mat * a.vec + force - load
            project.Project(residual)

        update_residual()
        for steps in range(1, MOST_STEPS):
            if residual.Norm() <= tolerance * load.Norm():
                return a, steps
            self.steel.AssembleLinearization(a.vec)
            put(self.steel.mat)
            inverse.Update()
            step.data = inverse * residual
            old.data, length = a.vec, 1.0
            slope = ngsolve.InnerProduct(residual, step)
            for _ in range(MOST_TRIALS):
                a.vec.data = old - length * step
                update_residual()
                if abs(ngsolve.InnerProduct(residual, step)) <= ENOUGH * abs(slope):
                    break
                length /= 2
        raise RuntimeError("the other library did not converge")


def _keys(matrix: Any) -> Ints:
    """Return the place of each entry of a sparse matrix as one rising number."""
    _, columns, starts = (np.asarray(part).astype(np.intp) for part in matrix.CSR())
    rows = np.repeat(np.arange(len(starts) - 1), np.diff(starts))
    return np.asarray(rows * (len(starts) - 1) + columns)


def at_vertices(potential: Any) -> Floats:
    """Return a potential at the mesh's nodes, in their order."""
    return np.array(potential.vec.FV().NumPy()[: potential.space.mesh.nv])
