"""The mesh: gmsh triangles graded towards the gap, then halved at every steel corner.

gmsh keeps global state, so each mesh opens and closes it.
"""

from __future__ import annotations

import functools
import itertools
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from geometries import Point
from motor.arrays import Floats, Ints
from motor.errors import MeshError
from motor.field.partition import Partition
from motor.gmsh_session import gmsh_session

if TYPE_CHECKING:
    from skfem import MeshTri

__all__ = ["MotorMesh", "Sizing", "generate"]

_FACET_OPPOSITE = np.array([1, 2, 0])
"""Local facet across from each local vertex; facets join vertices (0,1), (1,2), (0,2)."""


@dataclass(frozen=True)
class Sizing:
    """How fine the mesh is.

    Parameters
    ----------
    at_gap : float
        Triangle size at the gap's corners over the gap's width.
    away : float
        How the size at a corner grows with the corner's distance from the gap (1 per 1).
    growth : float
        How the size grows with the distance from the nearest corner (1 per 1).
    largest : float
        Largest size within the motor over the motor's reach.
    halvings : int
        How often the triangles at each corner are halved after meshing.
    """

    at_gap: float = 0.5
    away: float = 0.4
    growth: float = 1.0
    largest: float = 0.15
    halvings: int = 2


@dataclass(frozen=True)
class MotorMesh:
    """Triangles with the region each belongs to.

    Parameters
    ----------
    mesh : MeshTri
        Points in metres: r first, z second.
    names : tuple of str
        Region names.
    label : (n,) array of int
        For each triangle the index of its region in ``names``.
    partition : Partition
        What was meshed.
    """

    mesh: MeshTri
    names: tuple[str, ...]
    label: Ints
    partition: Partition

    def triangles_of(self, name: str) -> Ints:
        """Return the indices of the triangles of one region."""
        return np.flatnonzero(self.label == self.names.index(name))

    def halved(self) -> MotorMesh:
        """Return the mesh with every triangle cut in four.

        Triangle ``i`` of n becomes triangles i, n + i, 2n + i and 3n + i.
        """
        return replace(self, mesh=self.mesh.refined(), label=np.tile(self.label, 4))

    def refined(self, triangles: Ints) -> MotorMesh:
        """Return the mesh with the given triangles (and what conformity asks for) halved."""
        tagged = self.mesh.with_subdomains(
            {str(k): np.flatnonzero(self.label == k) for k in range(len(self.names))}
        ).refined(triangles)
        label = np.empty(tagged.nelements, np.intp)
        for k, members in (tagged.subdomains or {}).items():
            label[members] = int(k)
        return replace(self, mesh=tagged, label=label)

    @functools.cached_property
    def _locator(self) -> tuple[Any, Floats, Ints]:
        from scipy.spatial import cKDTree

        grid = self.mesh
        corner = grid.p[:, grid.t[2]]
        a, b = grid.p[:, grid.t[0]] - corner, grid.p[:, grid.t[1]] - corner
        det = a[0] * b[1] - a[1] * b[0]
        inverse = np.array([[b[1], -b[0]], [-a[1], a[0]]]) / det
        neighbours = grid.f2t[0][grid.t2f] + grid.f2t[1][grid.t2f] - np.arange(grid.t.shape[1])
        neighbours = np.where(grid.f2t[1][grid.t2f] < 0, -1, neighbours)
        tree = cKDTree(grid.p[:, grid.t].mean(axis=1).T)
        return tree, inverse, neighbours[_FACET_OPPOSITE]

    def locate(self, r: Floats, z: Floats) -> tuple[Ints, Floats]:
        """Return for each point its triangle and barycentric coordinates (3, n).

        Walks from the triangle with the nearest centre across the edge that the point lies
        beyond.  Points outside the mesh get the coordinates of their triangle continued.
        """
        tree, inverse, neighbours = self._locator
        grid = self.mesh
        points = np.array([r, z])
        triangle = tree.query(points.T)[1].astype(np.intp)
        bary = np.empty((3, len(triangle)))
        moving = np.arange(len(triangle))
        for _ in range(500):
            here = triangle[moving]
            offset = points[:, moving] - grid.p[:, grid.t[2, here]]
            first_two = np.einsum("ijn,jn->in", inverse[:, :, here], offset)
            bary[:2, moving] = first_two
            bary[2, moving] = 1.0 - first_two.sum(axis=0)
            worst = bary[:, moving].argmin(axis=0)
            lowest = bary[worst, moving]
            target = neighbours[worst, here]
            go = (lowest < -1e-10) & (target >= 0)
            if not go.any():
                break
            triangle[moving[go]] = target[go]
            moving = moving[go]
        return triangle, bary

    def barycentric_slopes(self, triangle: Ints) -> Floats:
        """Return d(barycentric k)/d(r, z) in triangles: array (3, 2, n) in 1/m."""
        _, inverse, _ = self._locator
        return np.concatenate([inverse, -inverse.sum(axis=0, keepdims=True)])[:, :, triangle]


def _size_at(points: Floats, part: Partition, sizing: Sizing) -> Floats:
    """Return the triangle size wanted at points (n, 2), in metres."""
    gap, corners = part.gap, part.corners
    dr = np.maximum(
        0, np.maximum(gap.inner_radius - corners[:, 0], corners[:, 0] - gap.outer_radius)
    )
    dz = np.maximum(0, np.maximum(gap.bottom - corners[:, 1], corners[:, 1] - gap.top))
    at_corner = sizing.at_gap * gap.width + sizing.away * np.hypot(dr, dz)
    distance = np.hypot(points[:, 0, None] - corners[:, 0], points[:, 1, None] - corners[:, 1])
    size: Floats = (at_corner + sizing.growth * distance).min(axis=1)
    beyond = np.hypot(points[:, 0], points[:, 1] - part.centre) - part.reach
    return np.minimum(size, sizing.largest * part.reach + np.maximum(beyond, 0.0))


def _divide(start: Point, end: Point, part: Partition, sizing: Sizing) -> list[Point]:
    """Return start and the points between start and end at which an edge is divided."""
    a, b = np.array(start), np.array(end)
    t = np.linspace(0.0, 1.0, 33)
    density = 1.0 / _size_at(a + t[:, None] * (b - a), part, sizing)
    steps = (density[1:] + density[:-1]) / 2 * np.diff(t) * np.hypot(*(b - a))
    total = np.concatenate([[0.0], np.cumsum(steps)])
    pieces = max(1, round(total[-1]))
    cuts = np.interp(np.arange(pieces) / pieces * total[-1], total, t)
    return [(float(r), float(z)) for r, z in a + cuts[:, None] * (b - a)]


def generate(part: Partition, sizing: Sizing | None = None) -> MotorMesh:
    """Mesh a partition.

    Parameters
    ----------
    part : Partition
    sizing : Sizing or None
        None for the default.

    Raises
    ------
    MeshError
        If gmsh cannot be loaded or fails.
    """
    sizing = sizing or Sizing()
    with gmsh_session() as gmsh:
        try:
            mesh = _triangulate(gmsh, part, sizing)
        except MeshError:
            raise
        except Exception as cause:  # gmsh raises bare Exception
            raise MeshError(f"gmsh could not mesh the section: {cause}") from cause
    for _ in range(sizing.halvings):
        p, t = mesh.mesh.p, mesh.mesh.t
        is_corner = np.zeros(p.shape[1], bool)
        is_corner[_nearest(p, part.corners)] = True
        mesh = mesh.refined(np.flatnonzero(is_corner[t].any(axis=0)))
    return mesh


def _nearest(points: Floats, targets: Floats) -> Ints:
    """Return the index of the point (2, n) nearest to each target (m, 2)."""
    square = (points[0] - targets[:, 0, None]) ** 2 + (points[1] - targets[:, 1, None]) ** 2
    nearest: Ints = square.argmin(axis=1)
    return nearest


def _triangulate(gmsh: Any, part: Partition, sizing: Sizing) -> MotorMesh:
    from skfem import MeshTri

    gmsh.model.add("section")
    geo = gmsh.model.geo
    tags: dict[Point, int] = {}
    sides: dict[tuple[Point, Point], list[int]] = {}

    def point(p: Point) -> int:
        if p not in tags:
            size = float(_size_at(np.array([p]), part, sizing)[0])
            tags[p] = geo.addPoint(p[0], p[1], 0.0, size)
        return tags[p]

    def side(start: Point, end: Point) -> list[int]:
        if (end, start) in sides:
            return [-line for line in reversed(sides[end, start])]
        if (start, end) not in sides:
            chain = [*_divide(start, end, part, sizing), end]
            sides[start, end] = [
                geo.addLine(point(p), point(q)) for p, q in itertools.pairwise(chain)
            ]
        return sides[start, end]

    surfaces = []
    for face in part.faces:
        loops = []
        for loop in face.loops:
            lines = [k for p, q in zip(loop, (*loop[1:], loop[0]), strict=True) for k in side(p, q)]
            loops.append(geo.addCurveLoop(lines))
        surfaces.append((geo.addPlaneSurface(loops), face.region))
    geo.synchronize()
    for lines in sides.values():
        for line in lines:
            gmsh.model.mesh.setTransfiniteCurve(line, 2)
    gmsh.model.mesh.generate(2)
    node_tags, coordinates, _ = gmsh.model.mesh.getNodes()
    position = np.zeros(int(node_tags.max()) + 1, np.intp)
    position[node_tags.astype(np.intp)] = np.arange(len(node_tags))
    names = tuple(dict.fromkeys(name for _, name in surfaces))
    triangles, label = [], []
    for surface, name in surfaces:
        _, _, nodes = gmsh.model.mesh.getElements(2, surface)
        if not nodes:
            raise MeshError(f"gmsh left a face of {name} without triangles")
        found = position[nodes[0].astype(np.intp)].reshape(-1, 3)
        triangles.append(found)
        label.append(np.full(len(found), names.index(name), np.intp))
    t = np.vstack(triangles)
    used, t = np.unique(t, return_inverse=True)
    p = coordinates.reshape(-1, 3)[used, :2].T
    p[0, np.abs(p[0]) < 1e-12] = 0.0
    return MotorMesh(
        MeshTri(np.ascontiguousarray(p), np.ascontiguousarray(t.reshape(-1, 3).T)),
        names,
        np.concatenate(label),
        part,
    )
