"""Triangles cut into smaller ones: in layers towards corners, or in four where they are too large.

Each function takes a mesh and returns the finer one, which is nested in it, with the number of
the triangle that each of its triangles was cut from.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from skfem import MeshTri

from motor.base.arrays import Floats, Ints

if TYPE_CHECKING:
    from skfem import MeshTri

__all__ = ["layered", "longest_edges", "quartered"]

LAYER_RATIO = 0.25
"""Edges at a corner are cut at this share of their length, once a layer."""
_EDGES = np.array([[0, 1, 0], [1, 2, 2]])
"""Local vertices that each local edge joins, in the order of ``MeshTri.t2f``."""


def longest_edges(grid: MeshTri) -> Floats:
    """Return the length of each triangle's longest edge."""
    corners = grid.p[:, grid.t]
    return np.asarray(np.hypot(*(corners - np.roll(corners, 1, axis=1))).max(axis=0))


def layered(grid: MeshTri, corners: Ints, layers: int) -> tuple[MeshTri, Ints, Ints]:
    """Cut the triangles around corners along layers that narrow towards them.

    At a corner of steel the field behaves as a power of the distance, which triangles whose
    size falls in proportion to it follow at the least cost.  Only the triangles that touch a
    corner are cut, along a line across, and no neighbour has to follow.

    Parameters
    ----------
    grid : MeshTri
    corners : (m,) array of int
        Vertices.
    layers : int
        How many layers; each is LAYER_RATIO of the one before.

    Returns
    -------
    mesh : MeshTri
    parent : (n,) array of int
    layer : (n,) array of int
        The layer each triangle lies in: 1 the outermost, ``layers`` the innermost and what it
        encloses, 0 for triangles that are no part of any.
    """
    p, t = grid.p, grid.t
    parent = np.arange(t.shape[1])
    layer = np.zeros(t.shape[1], np.intp)
    for number in range(1, layers + 1):
        waiting = np.unique(corners)
        while len(waiting):
            rank = np.full(p.shape[1], len(waiting))
            rank[waiting] = np.arange(len(waiting))
            ranks = np.sort(rank[t], axis=0)
            later = np.zeros(len(waiting) + 1, bool)
            later[ranks[1:]] = True
            later[-1] = True
            p, t, origin = _cut_across(p, t, waiting[~later[:-1]])
            changed = np.bincount(origin, minlength=len(parent))[origin] > 1
            parent, layer = parent[origin], np.where(changed, number, layer[origin])
            waiting = waiting[later[:-1]]
    return _mesh(p, t), parent, layer


def _cut_across(p: Floats, t: Ints, corners: Ints) -> tuple[Floats, Ints, Ints]:
    """Cut each triangle with one of the corners into the tip at it and two behind the cut."""
    touches = np.zeros(p.shape[1], bool)
    touches[corners] = True
    at = touches[t]
    star = np.flatnonzero(at.any(axis=0))
    first = at[:, star].argmax(axis=0)
    tip, a, b = (t[(first + k) % 3, star] for k in range(3))
    key = np.concatenate([tip, tip]) * p.shape[1] + np.concatenate([a, b])
    edges, slot = np.unique(key, return_inverse=True)
    start, end = p[:, edges // p.shape[1]], p[:, edges % p.shape[1]]
    near = p.shape[1] + slot
    near_a, near_b = near[: len(star)], near[len(star) :]
    p = np.concatenate([p, start + LAYER_RATIO * (end - start)], axis=1)
    by_b = np.hypot(*(p[:, near_a] - p[:, b])) <= np.hypot(*(p[:, near_b] - p[:, a]))
    t = t.copy()
    t[:, star] = [tip, near_a, near_b]
    behind = [
        [near_a, a, np.where(by_b, b, near_b)],
        [np.where(by_b, near_a, a), b, near_b],
    ]
    t = np.concatenate([t, *(np.array(triangles) for triangles in behind)], axis=1)
    return p, t, np.concatenate([np.arange(at.shape[1]), star, star])


def quartered(grid: MeshTri, chosen: np.ndarray) -> tuple[MeshTri, Ints]:
    """Cut the chosen triangles in four, and their neighbours as that requires.

    A neighbour with one edge cut is cut in two, one with more edges cut in four.

    Parameters
    ----------
    grid : MeshTri
    chosen : (n,) array of bool
    """
    chosen = chosen.copy()
    while True:
        is_cut = np.zeros(grid.facets.shape[1], bool)
        is_cut[grid.t2f[:, chosen]] = True
        cuts = is_cut[grid.t2f].sum(axis=0)
        more = (cuts > 1) & ~chosen
        if not more.any():
            break
        chosen |= more
    cut = np.flatnonzero(is_cut)
    middle = np.full(len(is_cut), -1)
    middle[cut] = grid.p.shape[1] + np.arange(len(cut))
    p = np.concatenate([grid.p, grid.p[:, grid.facets[:, cut]].mean(axis=1)], axis=1)

    four = np.flatnonzero(chosen)
    a, b, c = grid.t[:, four]
    ab, bc, ac = middle[grid.t2f[:, four]]
    two = np.flatnonzero(~chosen & (cuts == 1))
    edge = is_cut[grid.t2f[:, two]].argmax(axis=0)
    u, v = grid.t[_EDGES[:, edge], two]
    across = grid.t[:, two].sum(axis=0) - u - v
    m = middle[grid.t2f[edge, two]]
    whole = np.flatnonzero(~chosen & (cuts == 0))
    t = np.concatenate(
        [
            [a, ab, ac],
            [ab, b, bc],
            [ac, bc, c],
            [ab, bc, ac],
            [u, m, across],
            [m, v, across],
            grid.t[:, whole],
        ],
        axis=1,
    )
    return _mesh(p, t), np.concatenate([four, four, four, four, two, two, whole])


def _mesh(p: Floats, t: Ints) -> MeshTri:
    return MeshTri(np.ascontiguousarray(p), np.ascontiguousarray(t))
