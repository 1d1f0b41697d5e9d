"""The mesh for heat: solids of the magnetic mesh, torn apart at joints, and the coil beside them.

Nothing is meshed anew: steel, magnets and rings keep the triangles of the magnetic field.  Each
part has nodes of its own, so that a joint may have a resistance; winding and former are a grid of
their own, in the frame that moves with them.
"""

from __future__ import annotations

import functools
import itertools
from dataclasses import dataclass

import numpy as np
from scipy import sparse
from scipy.sparse import csgraph
from skfem import Basis, ElementTriP2, MeshTri

from motor.base.arrays import Bools, Floats, Ints
from motor.design.coil import Coil
from motor.field.meshing import MotorMesh
from motor.field.partition import AIR

__all__ = ["COIL", "FORMER", "WINDING", "Edges", "HeatMesh", "edges_of", "heat_mesh"]

COIL = "coil-"
"""What the names of bodies that move begin with."""
WINDING, FORMER = f"{COIL}winding", f"{COIL}former"
_LOCAL = np.array([[0, 1], [1, 2], [0, 2]])
POINTS = np.array([-np.sqrt(0.6), 0.0, np.sqrt(0.6)]) / 2 + 0.5
WEIGHTS = np.array([5.0, 8.0, 5.0]) / 18
"""Gauss points along an edge and their weights."""


@dataclass(frozen=True)
class Edges:
    """Edges of triangles.

    Parameters
    ----------
    triangle : (n,) array
        The triangle that each belongs to.
    ends : (2, 2, n) array
        (r, z) of both ends, m: first index the coordinate, second the end.
    normal : (2, n) array
        Unit vector out of the triangle.
    """

    triangle: Ints
    ends: Floats
    normal: Floats

    def __getitem__(self, chosen: Bools) -> Edges:
        return Edges(self.triangle[chosen], self.ends[..., chosen], self.normal[:, chosen])

    @property
    def points(self) -> Floats:
        """Gauss points, array (2, n, 3), m."""
        a, b = self.ends[:, 0, :, None], self.ends[:, 1, :, None]
        return np.asarray(a + (b - a) * POINTS)

    @property
    def areas(self) -> Floats:
        """Area that each Gauss point stands for, once around the axis: array (n, 3), m^2."""
        length = np.hypot(*(self.ends[:, 1] - self.ends[:, 0]))
        return np.asarray(2 * np.pi * self.points[0] * length[:, None] * WEIGHTS)


@dataclass(frozen=True)
class HeatMesh:
    """Triangles of all bodies, side by side.

    Parameters
    ----------
    mesh : MeshTri
    names : tuple of str
        Parts of the motor, winding, former.
    label : (n,) array
        Index into ``names`` for each triangle.
    outside : Edges
        Towards the air around the motor.
    faces : Edges
        All edges of the motor's parts towards air, outside and inside.
    joints : tuple of (Edges, Edges)
        The two sides of the edges that parts share.
    inward, outward : Edges
        Faces of winding and former towards the axis and away from it.
    top : Edges
        The former's upper end; empty without a former.
    windings : tuple of str
        Bodies that the winding consists of, as ``Coil.each``: WINDING alone, or one a part.
    """

    mesh: MeshTri
    names: tuple[str, ...]
    label: Ints
    outside: Edges
    faces: Edges
    joints: tuple[Edges, Edges]
    inward: Edges
    outward: Edges
    top: Edges
    windings: tuple[str, ...] = (WINDING,)

    @functools.cached_property
    def basis(self) -> Basis:
        """Second-order elements."""
        return Basis(self.mesh, ElementTriP2(), intorder=4)

    def triangles_of(self, name: str) -> Ints:
        """Return the indices of a body's triangles."""
        return np.flatnonzero(self.label == self.names.index(name))

    def at(self, triangle: Ints, points: Floats) -> sparse.csr_matrix:
        """Return the matrix (k, unknowns) that reads values at points (2, k) in triangles (k,)."""
        grid = self.mesh
        a, b, c = (grid.p[:, grid.t[i, triangle]] for i in range(3))
        u, v, w = a - c, b - c, points - c
        det = u[0] * v[1] - u[1] * v[0]
        l0, l1 = (w[0] * v[1] - w[1] * v[0]) / det, (u[0] * w[1] - u[1] * w[0]) / det
        lam = np.stack([l0, l1, 1 - l0 - l1])
        corner = lam * (2 * lam - 1)
        middle = 4 * lam[_LOCAL[:, 0]] * lam[_LOCAL[:, 1]]
        values = np.concatenate([corner, middle])
        columns = self.basis.element_dofs[:, triangle]
        rows = np.broadcast_to(np.arange(len(triangle)), columns.shape)
        shape = (len(triangle), self.basis.N)
        return sparse.csr_matrix((values.ravel(), (rows.ravel(), columns.ravel())), shape)


def edges_of(mesh: MeshTri, facets: Ints, side: int) -> Edges:
    """Return facets as edges of the triangle on one of their sides."""
    triangle = mesh.f2t[side, facets]
    ends = mesh.p[:, mesh.facets[:, facets]]
    along = ends[:, 1] - ends[:, 0]
    normal = np.array([along[1], -along[0]]) / np.hypot(*along)
    inside = mesh.p[:, mesh.t[:, triangle]].mean(axis=1)
    sign = np.where(((ends.mean(axis=1) - inside) * normal).sum(axis=0) < 0, -1.0, 1.0)
    return Edges(triangle.astype(np.intp), ends, normal * sign)


def _coil_grid(coil: Coil, divisions: int) -> tuple[Floats, Ints, Ints, Edges, Edges, Edges]:
    """Return points, triangles, labels (each winding's number, then the former's) and faces.

    Windings that lie on one another, or on the former, share the nodes between them.
    """
    outlines = {name: np.array(points) for name, points in coil.outlines()}
    spacing = coil.winding_height / divisions
    radii = [r for one in coil.each for r in (one.inner_radius, one.mean_radius, one.outer_radius)]
    ends = sorted({round(float(z), 12) for outline in outlines.values() for _, z in outline})
    heights = [
        np.linspace(a, b, max(int(np.ceil((b - a) / spacing - 1e-6)), 1) + 1)
        for a, b in itertools.pairwise(ends)
        if b - a > 1e-9
    ]
    if "former" in outlines:
        radii.append(coil.inner_diameter / 2)
    z = np.unique(np.round(np.concatenate(heights), 12))
    r = np.unique(np.round(radii, 9))
    whole = MeshTri.init_tensor(r, z)
    middle = whole.p[:, whole.t].mean(axis=1)
    body = np.full(whole.nelements, -1)
    if "former" in outlines:
        body[_within(outlines["former"], *middle)] = len(coil.each)
    windings = (shape for name, shape in outlines.items() if name != "former")
    for k, shape in enumerate(windings):
        body[_within(shape, *middle)] = k
    mesh = whole.restrict(np.flatnonzero(body >= 0))
    label = body[body >= 0]
    facets = np.flatnonzero(mesh.f2t[1] < 0)
    edges = edges_of(mesh, facets, 0)
    inward, outward = edges[edges.normal[0] < -0.5], edges[edges.normal[0] > 0.5]
    high_end = edges.ends[1].max() - 1e-9
    is_top = (edges.normal[1] > 0.5) & (edges.ends[1].min(axis=0) > high_end)
    if "former" in outlines:
        is_top &= edges.ends[0].max(axis=0) < coil.inner_radius + 1e-9
    return mesh.p, mesh.t, label, inward, outward, edges[is_top]


def _within(box: Floats, r: Floats, z: Floats) -> Bools:
    """Return which points lie within an outline whose sides are upright and level."""
    (left, low), (right, high) = box.min(axis=0), box.max(axis=0)
    return np.asarray((r > left) & (r < right) & (z > low) & (z < high))


def _outside_air(motor: MotorMesh) -> np.ndarray:
    """Return for each triangle whether it is air that reaches the outside past no gap."""
    grid, gap = motor.mesh, motor.partition.gap
    centre = grid.p[:, grid.t].mean(axis=1)
    air = motor.label == motor.names.index(AIR)
    between = np.zeros(grid.nelements, bool)
    for one in (gap, *gap.further):
        between |= (np.abs(centre[0] - one.mean_radius) < one.width / 2) & (
            np.abs(centre[1] - (one.bottom + one.top) / 2) < one.depth / 2
        )
    free = air & ~between
    a, b = grid.f2t[:, grid.f2t[1] >= 0]
    open_ = free[a] & free[b]
    count = grid.nelements
    graph = sparse.coo_matrix((np.ones(open_.sum()), (a[open_], b[open_])), (count, count))
    _, part = csgraph.connected_components(graph, directed=False)
    farthest = int(np.hypot(centre[0], centre[1] - motor.partition.centre).argmax())
    return np.asarray(free & (part == part[farthest]))


def heat_mesh(motor: MotorMesh, coil: Coil, divisions: int) -> HeatMesh:
    """Return the mesh for heat of a motor and its coil.

    Parameters
    ----------
    motor : MotorMesh
        The magnetic mesh.
    coil : Coil
    divisions : int
        Rows of the winding's grid.
    """
    grid, air = motor.mesh, motor.names.index(AIR)
    solid = np.flatnonzero(motor.label != air)
    new = np.full(grid.nelements, -1, np.intp)
    new[solid] = np.arange(len(solid))
    keys = motor.label[solid] * grid.nvertices + grid.t[:, solid]
    known, t = np.unique(keys, return_inverse=True)
    p, t = grid.p[:, known % grid.nvertices], t.reshape(3, -1)
    first, second = grid.f2t
    inner = np.flatnonzero(second >= 0)
    a, b = first[inner], second[inner]
    solid_a, solid_b = motor.label[a] != air, motor.label[b] != air
    shared = inner[solid_a & solid_b & (motor.label[a] != motor.label[b])]
    halves = [edges_of(grid, shared, side) for side in (0, 1)]
    free = [
        edges_of(grid, inner[chosen], side)
        for side, chosen in ((0, solid_a & ~solid_b), (1, ~solid_a & solid_b))
    ]
    outer_air = _outside_air(motor)
    is_outside = np.concatenate(
        [outer_air[b[solid_a & ~solid_b]], outer_air[a[~solid_a & solid_b]]]
    )
    faces = _renumbered(_joined(*free), new, 0)
    points, triangles, kinds, inward, outward, top = _coil_grid(coil, divisions)
    shift, names = len(solid), [n for n in motor.names if n != AIR]
    position = np.array([names.index(n) if n != AIR else -1 for n in motor.names])
    label = np.concatenate([position[motor.label[solid]], len(names) + kinds])
    mesh = MeshTri(
        np.ascontiguousarray(np.hstack([p, points])),
        np.ascontiguousarray(np.hstack([t, triangles + p.shape[1]])),
    )
    own = np.arange(len(kinds))
    windings: tuple[str, ...] = (WINDING,)
    if coil.parts:
        windings = tuple(f"{WINDING} {n}" for n in ("main", *(part.name for part in coil.parts)))
    has_former = bool((kinds == len(windings)).any())
    return HeatMesh(
        mesh=mesh,
        names=(*names, *windings, *((FORMER,) if has_former else ())),
        label=label,
        outside=faces[is_outside],
        faces=faces,
        joints=(_renumbered(halves[0], new, 0), _renumbered(halves[1], new, 0)),
        inward=_renumbered(inward, own, shift),
        outward=_renumbered(outward, own, shift),
        top=_renumbered(top, own, shift),
        windings=windings,
    )


def _joined(a: Edges, b: Edges) -> Edges:
    return Edges(
        np.concatenate([a.triangle, b.triangle]),
        np.concatenate([a.ends, b.ends], axis=-1),
        np.concatenate([a.normal, b.normal], axis=-1),
    )


def _renumbered(edges: Edges, new: Ints, shift: int) -> Edges:
    return Edges(new[edges.triangle] + shift, edges.ends, edges.normal)
