"""The mesh: gmsh triangles graded towards the gap, then cut in layers at every steel corner.

gmsh keeps global state, so each mesh opens and closes it.
"""

from __future__ import annotations

import copy
import functools
import itertools
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
from scipy import sparse
from scipy.spatial import cKDTree
from skfem import MeshTri

from geometries import Gap, Point, Region
from motor.base.arrays import Bools, Floats, Ints
from motor.base.errors import MeshError
from motor.base.gmsh_session import gmsh_session
from motor.field.lining import lined
from motor.field.partition import Partition, envelope
from motor.field.refinement import layered, longest_edges, quartered

if TYPE_CHECKING:
    from skfem import MeshTri

__all__ = ["MotorMesh", "Sizing", "generate"]

_FACET_OPPOSITE = np.array([1, 2, 0])
"""Local facet across from each local vertex; facets join vertices (0,1), (1,2), (0,2)."""

_SEGMENT = 1
"""gmsh's number for a segment between two nodes."""

DIVISION_SAMPLES = 33
"""Points along a side at which the wanted size is taken."""
SMALL = 0.8
"""Triangles whose longest edge is below this share of the size asked for stay whole."""


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
    layers : int
        How many layers are cut towards each corner after meshing, each a quarter of the last.
    """

    at_gap: float = 0.4
    away: float = 0.12
    growth: float = 0.7
    largest: float = 0.2
    layers: int = 2


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
    large : (n,) array of bool or None
        Triangles that :meth:`finer` cuts in four; None for all.
    coarser : MotorMesh or None
        The mesh that this one was cut from, if any.
    parent : (n,) array of int or None
        For each triangle the one of the coarser mesh that it was cut from.
    """

    mesh: MeshTri
    names: tuple[str, ...]
    label: Ints
    partition: Partition
    large: Bools | None = None
    coarser: MotorMesh | None = None
    parent: Ints | None = None

    def triangles_of(self, name: str) -> Ints:
        """Return the indices of the triangles of one region."""
        return np.flatnonzero(self.label == self.names.index(name))

    def halved(self) -> MotorMesh:
        """Return the mesh with every triangle cut in four."""
        return replace(self, large=None).finer()

    def finer(self) -> MotorMesh:
        """Return the nested mesh with the large triangles cut in four.

        Whole stay those that short edges have made much smaller than asked for, and the inner
        layers at corners.
        """
        large = np.ones(self.mesh.nelements, bool) if self.large is None else self.large
        mesh, parent = quartered(self.mesh, large)
        return MotorMesh(
            mesh, self.names, self.label[parent], self.partition, coarser=self, parent=parent
        )

    def moved(self, shift: Floats, regions: Sequence[Region], gap: Gap) -> MotorMesh:
        """Return the mesh with its vertices shifted, array (2, n) in metres.

        Edges and neighbours stay; ``regions`` and ``gap`` are the parts as moved.  Faces and
        corners of the partition stay behind: nothing is meshed from it again.
        """
        grid = copy.copy(self.mesh)
        grid.__dict__.pop("_cached_mapping", None)
        grid.doflocs = self.mesh.p + shift
        centre, reach = envelope(regions)
        ratio = self.partition.radius / self.partition.reach
        part = replace(self.partition, gap=gap, centre=centre, reach=reach, radius=ratio * reach)
        moved = MotorMesh(grid, self.names, self.label, part)
        moved.__dict__["_search"] = self._search  # near enough to start a search from
        moved.__dict__["_found"] = self.__dict__.setdefault("_found_moved", {})
        return moved

    def carried(self, values: Floats) -> Floats:
        """Return values (k, n) at the coarser mesh's vertices at this one's, linear between."""
        return np.ascontiguousarray((self._from_coarser @ values.T).T)

    @functools.cached_property
    def _from_coarser(self) -> sparse.csr_matrix:
        """Matrix from the coarser mesh's vertices to this one's, linear in each triangle."""
        assert self.coarser is not None
        used, first = np.unique(self.mesh.t.T, return_index=True)
        triangle, corner = np.divmod(first, 3)
        assert self.parent is not None
        above = self.coarser.mesh.t[:, self.parent[triangle]]
        shares = self.nodes_in_parent[:, triangle, corner]
        rows = np.tile(used, 3)
        size = (self.mesh.nvertices, self.coarser.mesh.nvertices)
        return sparse.csr_matrix((shares.ravel(), (rows, above.ravel())), size)

    def refined(self, triangles: Ints) -> MotorMesh:
        """Return the mesh with the given triangles (and what conformity asks for) refined."""
        tagged = self.mesh.with_subdomains(
            {str(k): np.flatnonzero(self.label == k) for k in range(len(self.names))}
        ).refined(triangles)
        label = np.empty(tagged.nelements, np.intp)
        for k, members in (tagged.subdomains or {}).items():
            label[members] = int(k)
        return MotorMesh(tagged, self.names, label, self.partition)

    def lined(self, body: Ints, thickness: Floats) -> MotorMesh:
        """Return the mesh with layers along the surfaces of bodies; see :func:`lined`."""
        mesh, parent = lined(self.mesh, body, thickness)
        return MotorMesh(mesh, self.names, self.label[parent], self.partition)

    @functools.cached_property
    def nodes_in_parent(self) -> Floats:
        """Barycentric coordinates in the parent of each triangle's six nodes: (3, n, 6).

        The nodes are the vertices and the middles of the edges (0, 1), (1, 2), (0, 2).
        """
        assert self.coarser is not None
        assert self.parent is not None
        vertices = self.mesh.p[:, self.mesh.t]
        nodes = np.concatenate([vertices, (vertices + np.roll(vertices, -1, axis=1)) / 2], axis=1)
        above = self.coarser.mesh
        offset = nodes - above.p[:, None, above.t[2, self.parent]]
        slopes = self.coarser.barycentric_slopes(self.parent)
        bary: Floats = np.einsum("kcn,cjn->knj", slopes, offset)
        bary[2] += 1.0
        return bary

    @functools.cached_property
    def _search(self) -> tuple[Any, Ints]:
        """A tree of the triangles' centres, and across which edge lies which triangle."""
        grid = self.mesh
        neighbours = grid.f2t[0][grid.t2f] + grid.f2t[1][grid.t2f] - np.arange(grid.t.shape[1])
        neighbours = np.where(grid.f2t[1][grid.t2f] < 0, -1, neighbours)
        return cKDTree(grid.p[:, grid.t].mean(axis=1).T), neighbours[_FACET_OPPOSITE]

    @functools.cached_property
    def _inverse(self) -> Floats:
        """First two barycentric coordinates by (r, z) from the third vertex: (2, 2, n)."""
        grid = self.mesh
        corner = grid.p[:, grid.t[2]]
        a, b = grid.p[:, grid.t[0]] - corner, grid.p[:, grid.t[1]] - corner
        det = a[0] * b[1] - a[1] * b[0]
        return np.asarray(np.array([[b[1], -b[0]], [-a[1], a[0]]]) / det)

    def locate(self, r: Floats, z: Floats) -> tuple[Ints, Floats]:
        """Return for each point its triangle and barycentric coordinates (3, n).

        Walks from the triangle with the nearest centre across the edge that the point lies
        beyond.  Points outside the mesh get the coordinates of their triangle continued.
        """
        (tree, neighbours), inverse = self._search, self._inverse
        grid = self.mesh
        points = np.array([r, z])
        found: dict[Any, Ints] | None = self.__dict__.get("_found")
        about = (points.shape[1], *np.round(points[:, [0, -1]].ravel(), 4)) if r.size else ()
        if found is not None and about in found:
            triangle = found[about].copy()  # of another mesh moved a little: a step away at most
        else:
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
        if found is not None:
            found[about] = triangle
        return triangle, bary

    def barycentric_slopes(self, triangle: Ints) -> Floats:
        """Return d(barycentric k)/d(r, z) in triangles: array (3, 2, n) in 1/m."""
        inverse = self._inverse
        return np.concatenate([inverse, -inverse.sum(axis=0, keepdims=True)])[:, :, triangle]


def _at_corners(corners: Floats, gap: Gap, sizing: Sizing) -> Floats:
    """Return the triangle size wanted at corners (n, 2) for one gap's sake, in metres."""
    dr = np.maximum(
        0, np.maximum(gap.inner_radius - corners[:, 0], corners[:, 0] - gap.outer_radius)
    )
    dz = np.maximum(0, np.maximum(gap.bottom - corners[:, 1], corners[:, 1] - gap.top))
    return np.asarray(sizing.at_gap * gap.width + sizing.away * np.hypot(dr, dz))


def _size_at(points: Floats, part: Partition, sizing: Sizing) -> Floats:
    """Return the triangle size wanted at points (n, 2), in metres."""
    corners = part.corners
    at_corner = np.min([_at_corners(corners, gap, sizing) for gap in part.gap.all], axis=0)
    distance = np.hypot(points[:, 0, None] - corners[:, 0], points[:, 1, None] - corners[:, 1])
    size: Floats = (at_corner + sizing.growth * distance).min(axis=1)
    beyond = np.hypot(points[:, 0], points[:, 1] - part.centre) - part.reach
    return np.minimum(size, sizing.largest * part.reach + np.maximum(beyond, 0.0))


def _cuts(sides: Sequence[tuple[Point, Point]], part: Partition, sizing: Sizing) -> list[Floats]:
    """Return where each side is divided: shares of its length, rising between 0 and 1."""
    ends = np.array(sides)
    start, way = ends[:, None, 0], ends[:, None, 1] - ends[:, None, 0]
    t = np.linspace(0.0, 1.0, DIVISION_SAMPLES)
    along = start + t[:, None] * way
    size = _size_at(along.reshape(-1, 2), part, sizing).reshape(along.shape[:2])
    density = np.hypot(*way.T).T / size
    steps = (density[:, 1:] + density[:, :-1]) / 2 * np.diff(t)
    totals = np.concatenate([np.zeros((len(sides), 1)), np.cumsum(steps, axis=1)], axis=1)
    pieces = np.maximum(1, np.round(totals[:, -1]).astype(int))
    return [
        np.interp(np.arange(1, n) / n * total[-1], total, t)
        for n, total in zip(pieces, totals, strict=True)
    ]


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
        gmsh.option.setNumber("Mesh.Smoothing", 0)
        try:
            mesh = _triangulate(gmsh, part, sizing)
        except MeshError:
            raise
        except Exception as cause:  # gmsh raises bare Exception
            raise MeshError(f"gmsh could not mesh the section: {cause}") from cause
    grid = mesh.mesh
    wanted = _size_at(grid.p[:, grid.t].mean(axis=1).T, part, sizing)
    large = longest_edges(grid) > SMALL * wanted
    finest, parent, layer = layered(grid, _nearest(grid.p, part.corners), sizing.layers)
    large = np.where(layer == 0, large[parent], layer == 1)
    return replace(mesh, mesh=finest, label=mesh.label[parent], large=large)


def _sides(loop: Sequence[Point]) -> list[tuple[Point, Point]]:
    return list(zip(loop, (*loop[1:], loop[0]), strict=True))


def _either(side: tuple[Point, Point]) -> tuple[Point, Point]:
    """Return a side in the one of its two directions that names it."""
    return min(side, side[::-1])


def _nearest(points: Floats, targets: Floats) -> Ints:
    """Return the index of the point (2, n) nearest to each target (m, 2)."""
    square = (points[0] - targets[:, 0, None]) ** 2 + (points[1] - targets[:, 1, None]) ** 2
    nearest: Ints = square.argmin(axis=1)
    return nearest


def _triangulate(gmsh: Any, part: Partition, sizing: Sizing) -> MotorMesh:
    geo, grid = gmsh.model.geo, gmsh.model.mesh
    loops = [(face.region, [_sides(loop) for loop in face.loops]) for face in part.faces]
    sides = list(dict.fromkeys(_either(s) for _, face in loops for loop in face for s in loop))
    points = {p: geo.addPoint(*p, 0.0) for p in dict.fromkeys(itertools.chain(*sides))}
    lines = {side: geo.addLine(points[side[0]], points[side[1]]) for side in sides}

    def loop_of(chain: list[tuple[Point, Point]]) -> int:
        tag: int = geo.addCurveLoop([lines[s] if s in lines else -lines[s[::-1]] for s in chain])
        return tag

    surfaces = [(geo.addPlaneSurface([loop_of(x) for x in face]), name) for name, face in loops]
    geo.synchronize()
    for point, tag in points.items():
        grid.addNodes(0, tag, [tag], [*point, 0.0])
    last = max(points.values())
    for side, cuts in zip(sides, _cuts(sides, part, sizing), strict=True):
        within = range(last + 1, last + 1 + len(cuts))
        last += len(cuts)
        if len(cuts):
            places = np.zeros((len(cuts), 3))
            places[:, :2] = side[0] + cuts[:, None] * np.subtract(side[1], side[0])
            grid.addNodes(1, lines[side], within, places.ravel(), cuts)
        segments = itertools.pairwise([points[side[0]], *within, points[side[1]]])
        grid.addElementsByType(lines[side], _SEGMENT, [], [*itertools.chain(*segments)])
    gmsh.option.setNumber("Mesh.MeshOnlyEmpty", 1)  # the sides are divided already
    grid.generate(2)
    node_tags, coordinates, _ = grid.getNodes()
    position = np.zeros(int(node_tags.max()) + 1, np.intp)
    position[node_tags.astype(np.intp)] = np.arange(len(node_tags))
    names = tuple(dict.fromkeys(name for _, name in surfaces))
    triangles, label = [], []
    for surface, name in surfaces:
        _, _, nodes = grid.getElements(2, surface)
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
