"""Layers of thin triangles along the surfaces of bodies, where eddy currents crowd.

The skin of permeable steel is tens of micrometres deep where triangles are millimetres long.
Cutting such triangles in four until they follow it would take a million of them; cut along the
surface only, as here, some layers do, each a bit thinner than the next one inside.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from skfem import MeshTri

from motor.base.arrays import Bools, Floats, Ints

if TYPE_CHECKING:
    from skfem import MeshTri

__all__ = ["lined"]

SHARE = 0.7
"""Thickness of a layer over that of the next one inside."""
MOST_LAYERS = 40
_ENDS = np.array([[0, 1, 0], [1, 2, 2]])
"""Local vertices that each local edge joins, in the order of ``MeshTri.t2f``."""
_ACROSS = np.array([2, 0, 1])
"""Local vertex across from each local edge."""
_EDGE = np.array([[-1, 0, 2], [0, -1, 1], [2, 1, -1]])
"""Local edge that joins two local vertices."""


def lined(grid: MeshTri, body: Ints, thickness: Floats) -> tuple[MeshTri, Ints]:
    """Cut triangles along the surfaces of bodies until those at a surface are thin enough.

    Edges within a surface are never cut, so nothing changes on its other side.  The mesh is
    nested in the one given.

    Parameters
    ----------
    grid : MeshTri
    body : (n,) array of int
        What each triangle belongs to; surfaces are the edges between different bodies.
    thickness : (n,) array
        Largest height above the surface of a triangle that has an edge in it, metres; inf where
        any will do.

    Returns
    -------
    mesh : MeshTri
    parent : (n,) array of int
        The triangle of the given mesh that each was cut from.
    """
    parent, halving = np.arange(grid.nelements), True
    while halving:
        layers, at_end, halving = _layers(grid, body[parent], thickness[parent])
        p, t, origin = _divided(grid, layers, at_end)
        grid = MeshTri(np.ascontiguousarray(p), np.ascontiguousarray(t))
        parent = parent[origin]
    return grid, parent


def _layers(grid: MeshTri, body: Ints, thickness: Floats) -> tuple[Ints, Bools, bool]:
    """Return how often to cut each edge, whether towards its second end, and if that is not all.

    An edge within a body that joins two vertices of its surface is halved first, the longest of
    a triangle before the others: then every edge that leaves a surface does so at one end.
    """
    inner, outer = grid.f2t
    wall = (outer >= 0) & (body[inner] != body[outer])
    ends, facets = grid.facets, np.flatnonzero(wall)
    length = np.hypot(*(grid.p[:, ends[0]] - grid.p[:, ends[1]]))
    on_wall = np.zeros((body.max() + 1, grid.p.shape[1]), bool)
    wanted = np.zeros(on_wall.shape, np.intp)
    for triangles in (inner[facets], outer[facets]):
        height = 2 * _areas(grid, triangles) / length[facets]
        excess = np.log(np.maximum(1.0, height / thickness[triangles]))
        count = np.ceil(excess / -np.log(SHARE)).astype(np.intp)
        for vertices in ends[:, facets]:
            on_wall[body[triangles], vertices] = True
            np.maximum.at(wanted, (body[triangles], vertices), count)
    at_wall, asked = on_wall[body[inner], ends], wanted[body[inner], ends]
    at_wall[:, wall], asked[:, wall] = False, 0
    chord = at_wall.all(axis=0) & (asked > 0).any(axis=0)
    if chord.any():
        return _longest(grid, chord, length).astype(np.intp), np.zeros(len(wall), bool), True
    asked[at_wall[::-1]] = 0
    return np.minimum(asked.max(axis=0), MOST_LAYERS), asked[1] > 0, False


def _areas(grid: MeshTri, triangles: Ints) -> Floats:
    a, b, c = (grid.p[:, grid.t[k, triangles]] for k in range(3))
    (u, v), (w, x) = b - a, c - a
    return np.asarray(np.abs(u * x - v * w) / 2)


def _longest(grid: MeshTri, chosen: Bools, length: Floats) -> Bools:
    """Return those of some edges that are the longest of them in all their triangles."""
    order = np.where(chosen, length.argsort().argsort() + 1, 0)
    most = order[grid.t2f].max(axis=0)
    inner, outer = grid.f2t
    return np.asarray(chosen & (most[inner] == order) & ((outer < 0) | (most[outer] == order)))


def _divided(grid: MeshTri, layers: Ints, at_end: Bools) -> tuple[Floats, Ints, Ints]:
    """Return points, triangles and their parents with edges cut towards one end.

    At most two edges of a triangle may be cut.  They meet in a vertex, the tip; the strip
    between them is filled from there, each time across the shorter diagonal.

    Parameters
    ----------
    grid : MeshTri
    layers : (m,) array of int
        Times that each edge is cut.
    at_end : (m,) array of bool
        Whether the cuts crowd at an edge's second vertex.
    """
    edge = np.repeat(np.arange(len(layers)), layers)
    first = np.cumsum(layers) - layers
    depth = np.arange(len(edge)) - first[edge] + 1
    near, far = np.where(at_end, grid.facets[::-1], grid.facets)
    start, end = grid.p[:, near[edge]], grid.p[:, far[edge]]
    p = np.concatenate([grid.p, start + SHARE**depth * (end - start)], axis=1)
    first += grid.p.shape[1]

    cut = layers[grid.t2f] > 0
    here = np.flatnonzero(cut.any(axis=0))
    whole = (~cut[:, here]).argmax(axis=0)
    tip = _ACROSS[whole]
    sides = [(grid.t2f[_EDGE[tip, k[whole]], here], grid.t[k[whole], here]) for k in _ENDS]
    tip = grid.t[tip, here]

    def point(side: int, step: Ints, rows: Ints) -> Ints:
        """Return the point some steps from the tip along a side; past the cuts its other end."""
        edge, last = (values[rows] for values in sides[side])
        count = layers[edge]
        behind = np.where(near[edge] == tip[rows], count - 1 - step, step)
        return np.asarray(np.where(step >= count, last, first[edge] + behind))

    rows, step = np.arange(len(here)), np.zeros((2, len(here)), np.intp)
    a, b = (point(k, step[k], rows) for k in (0, 1))
    t, parent = [grid.t[:, ~cut.any(axis=0)], np.stack([tip, a, b])], [here]
    while True:
        left = np.stack([step[k] < layers[sides[k][0][rows]] for k in (0, 1)])
        more = left.any(axis=0)
        if not more.any():
            break
        rows, step, left, a, b = rows[more], step[:, more], left[:, more], a[more], b[more]
        next_a, next_b = (point(k, step[k] + 1, rows) for k in (0, 1))
        shorter = np.hypot(*(p[:, next_a] - p[:, b])) <= np.hypot(*(p[:, next_b] - p[:, a]))
        go_a = left[0] & (shorter | ~left[1])
        t.append(np.stack([a, b, np.where(go_a, next_a, next_b)]))
        parent.append(here[rows])
        a, b = np.where(go_a, next_a, a), np.where(go_a, b, next_b)
        step = step + np.stack([go_a, ~go_a])
    parent.insert(0, np.flatnonzero(~cut.any(axis=0)))
    return p, np.concatenate(t, axis=1), np.concatenate(parent)
