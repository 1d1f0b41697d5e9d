"""Layers of thin triangles along the surfaces of bodies, where eddy currents crowd.

The skin of permeable steel is tens of micrometres deep where triangles are millimetres long.
Cutting such triangles in four until they follow it would take a million of them; cut along the
surface only, as here, a few layers do, each half as thick as the next one inside.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from motor.arrays import Bools, Floats, Ints

if TYPE_CHECKING:
    from skfem import MeshTri

__all__ = ["lined"]

SHARE = 0.5
"""Where an edge that leaves a surface is cut, as a share of its length."""
MOST_ROUNDS = 40
"""Rounds of cutting; each halves the layer at the surfaces that still want a thinner one."""
_ENDS = np.array([[0, 1, 0], [1, 2, 2]])
"""Local vertices that each local edge joins, in the order of ``MeshTri.t2f``."""
_ACROSS = np.array([2, 0, 1])
"""Local vertex across from each local edge."""


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
    from skfem import MeshTri

    parent = np.arange(grid.nelements)
    for _ in range(MOST_ROUNDS):
        cut, at = _cuts(grid, body[parent], thickness[parent])
        if not cut.any():
            break
        p, t, origin = _divided(grid, cut, at)
        grid = MeshTri(np.ascontiguousarray(p), np.ascontiguousarray(t))
        parent = parent[origin]
    return grid, parent


def _cuts(grid: MeshTri, body: Ints, thickness: Floats) -> tuple[Bools, Floats]:
    """Return which edges to cut, and where: shares of their length from the first vertex.

    An edge within a body that joins two vertices of its surface is halved first, the longest of
    a triangle before the others: then every edge that is cut leaves the surface at one end.
    """
    inner, outer = grid.f2t
    shared = outer >= 0
    wall = shared & (body[inner] != body[outer])
    ends = grid.facets
    length = np.hypot(*(grid.p[:, ends[0]] - grid.p[:, ends[1]]))
    on_wall = np.zeros((body.max() + 1, grid.p.shape[1]), bool)
    wanted = np.zeros_like(on_wall)
    for side in (inner, outer):
        facets = np.flatnonzero(wall)
        triangles = side[facets]
        on_wall[body[triangles], ends[:, facets]] = True
        thick = 2 * _areas(grid, triangles) > thickness[triangles] * length[facets]
        wanted[body[triangles[thick]], ends[:, facets[thick]]] = True
    at_wall, asked = on_wall[body[inner], ends], wanted[body[inner], ends]
    at_wall[:, wall] = asked[:, wall] = False
    chord = at_wall.all(axis=0) & asked.any(axis=0)
    if chord.any():
        return _longest(grid, chord, length), np.full(len(chord), 0.5)
    cut = asked & ~at_wall[::-1]
    return cut.any(axis=0), np.where(cut[0], SHARE, 1 - SHARE)


def _areas(grid: MeshTri, triangles: Ints) -> Floats:
    a, b, c = (grid.p[:, grid.t[k, triangles]] for k in range(3))
    (u, v), (w, x) = b - a, c - a
    return np.asarray(np.abs(u * x - v * w) / 2)


def _longest(grid: MeshTri, chosen: Bools, length: Floats) -> Bools:
    """Return those of some edges that are the longest of them in all their triangles."""
    order = np.where(chosen, length.argsort().argsort() + 1, 0)
    most = order[grid.t2f].max(axis=0)
    return np.asarray(
        chosen & (most[grid.f2t[0]] == order) & ((grid.f2t[1] < 0) | (most[grid.f2t[1]] == order))
    )


def _divided(grid: MeshTri, cut: Bools, at: Floats) -> tuple[Floats, Ints, Ints]:
    """Return points, triangles and their parents with one or two edges of a triangle cut."""
    chosen = np.flatnonzero(cut)
    start, end = grid.p[:, grid.facets[:, chosen]].swapaxes(0, 1)
    p = np.concatenate([grid.p, start + at[chosen] * (end - start)], axis=1)
    new = np.full(len(cut), -1)
    new[chosen] = grid.p.shape[1] + np.arange(len(chosen))
    cuts = cut[grid.t2f].sum(axis=0)

    one = np.flatnonzero(cuts == 1)
    edge = cut[grid.t2f[:, one]].argmax(axis=0)
    v, w, u = (grid.t[k[edge], one] for k in (*_ENDS, _ACROSS))
    n = new[grid.t2f[edge, one]]

    two = np.flatnonzero(cuts == 2)
    whole = (~cut[grid.t2f[:, two]]).argmax(axis=0)
    tip = grid.t[_ACROSS[whole], two]
    x, y = (grid.t[k[whole], two] for k in _ENDS)
    facets = grid.t2f[:, two]
    near_x, near_y = (_new_between(grid, facets, new, tip, k) for k in (x, y))
    straight = np.hypot(*(p[:, near_x] - p[:, y])) <= np.hypot(*(p[:, near_y] - p[:, x]))

    rest = np.flatnonzero(cuts == 0)
    t = np.concatenate(
        [
            [v, u, n],
            [n, u, w],
            [tip, near_x, near_y],
            [near_x, x, np.where(straight, y, near_y)],
            [np.where(straight, near_x, x), y, near_y],
            grid.t[:, rest],
        ],
        axis=1,
    )
    return p, t, np.concatenate([one, one, two, two, two, rest])


def _new_between(grid: MeshTri, facets: Ints, new: Ints, a: Ints, b: Ints) -> Ints:
    """Return the new point on the edge of each triangle that joins two of its vertices."""
    ends = np.sort(grid.facets[:, facets], axis=0)
    wanted = np.sort([a, b], axis=0)
    edge = (ends == wanted[:, None]).all(axis=0).argmax(axis=0)
    return np.asarray(new[facets[edge, np.arange(len(a))]])
